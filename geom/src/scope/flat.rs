//! Flat faces: the floor, the back and the planes that a rule names, found also when the model stands turned by some degrees.

use super::FLAT_WITHIN;
use crate::drawing::Model;
use crate::measure;
use crate::mesh::Mesh;
use crate::units::Angle;
use nalgebra::Vector3;
use std::collections::BTreeMap;

/// How far a face may turn from the plane that it lies in: cos 5 degrees.
const FLAT_COSINE: f64 = 0.996_194_698;
/// Faces are gathered by where they look, in steps of the sine of half a degree.
const STEP: f64 = 0.008_726_535;
/// Drawn in one plane: cos half a degree.
const DRAWN_COSINE: f64 = 0.999_961_923;
/// A flat holds at least this share of the area, or it is not looked at.
const A_FLAT: f64 = 0.005;
/// A turned plane is taken in place of the straight one when it holds this many times the area.
const CLEARLY_MORE: f64 = 1.05;
/// The same where the straight one is drawn straight: facets beside a level base may add some tenths to it.
const TWICE: f64 = 2.0;
/// A turned flat of less than this share of the straight one is the facets beside a base, which nobody would stand it on.
/// Common practice, no source.
pub(super) const LEAST_BESIDE: f64 = 0.5;
/// A side of more flats of one size than these is rough, and none of them is more the side than another.
const FEW: f64 = 3.0;
/// Drawn straight: cos 0.01 degrees. Corners written with seven digits turn faces by less.
const STRAIGHT_COSINE: f64 = 0.999_999_984_769;

/// A plane and how far off it the corners of a face may lie.
#[derive(Clone, Copy, Debug)]
pub(super) struct Flat {
    normal: Vector3<f64>,
    at: f64,
    within: f64,
}

/// The outermost flats in a direction, each with whether it counts: the straight one, or a turned one in its place; then those beside it
/// that are turned otherwise and touch there too, largest first.
#[derive(Clone, Debug)]
pub(super) struct Outermost(Vec<(Flat, bool)>);

/// What a search looks at.
pub(super) struct Search<'a> {
    pub(super) model: &'a Model,
    /// How far a face may turn from the direction asked for.
    pub(super) angle: Angle,
}

/// The face looks within an angle of a direction, given by the cosine.
pub(super) fn looks_along(mesh: &Mesh, face: usize, direction: &Vector3<f64>, cosine: f64) -> bool {
    let vector = mesh.area_vector(face);
    let size = vector.norm();
    size > 0.0 && vector.dot(direction) >= size * cosine
}

impl Flat {
    pub(super) fn holds(&self, mesh: &Mesh, face: usize) -> bool {
        self.is_near(mesh, face) && looks_along(mesh, face, &self.normal, FLAT_COSINE)
    }

    fn is_near(&self, mesh: &Mesh, face: usize) -> bool {
        mesh.corners(face).iter().all(|p| (p.coords.dot(&self.normal) - self.at).abs() <= self.within)
    }

    /// The angle between the plane's direction and the one asked for; none below a hundredth of a degree.
    pub(super) fn turned(&self, direction: &Vector3<f64>) -> Option<Angle> {
        let angle = Angle::from_radians(self.normal.angle(direction));
        (angle.degrees() > 0.01).then_some(angle)
    }
}

impl Outermost {
    fn alone(flat: Flat) -> Self {
        Self(vec![(flat, true)])
    }

    /// The face is of a flat that counts.
    pub(super) fn holds(&self, mesh: &Mesh, face: usize) -> bool {
        self.owner(mesh, face).is_some_and(|k| self.0[k].1)
    }

    /// Of the flats that hold a face the one that it is turned from least. Near a fold both may: were it the outermost, a flat cut into
    /// small triangles would lose a strip to the other.
    pub(super) fn owner(&self, mesh: &Mesh, face: usize) -> Option<usize> {
        let holds = self.0.iter().enumerate().filter(|(_, (flat, _))| flat.holds(mesh, face));
        let along = |k: &usize| mesh.area_vector(face).dot(&self.0[*k].0.normal);
        holds.map(|(k, _)| k).reduce(|a, b| if along(&b) > along(&a) { b } else { a })
    }

    /// The first: straight, or turned in its place.
    pub(super) fn first(&self) -> &Flat {
        &self.0[0].0
    }

    /// The turned flats beside the first, each with whether it counts.
    pub(super) fn beside(&self) -> &[(Flat, bool)] {
        &self.0[1..]
    }

    /// As [`Flat::turned`] of the larger flat.
    pub(super) fn turned(&self, direction: &Vector3<f64>) -> Option<Angle> {
        let larger = self.beside().iter().find(|(_, counts)| *counts).unwrap_or(&self.0[0]);
        larger.0.turned(direction)
    }
}

impl Search<'_> {
    fn faces(&self) -> std::ops::Range<usize> {
        0..self.model.mesh().triangles().len()
    }

    /// How far the faces reach in a direction. O(n).
    pub(super) fn reach(&self, direction: &Vector3<f64>) -> f64 {
        let mesh = self.model.mesh();
        let corners = self.faces().flat_map(|face| mesh.corners(face));
        corners.map(|p| p.coords.dot(direction)).fold(f64::NEG_INFINITY, f64::max)
    }

    fn touching(&self, normal: Vector3<f64>) -> Flat {
        Flat { normal, at: self.reach(&normal), within: FLAT_WITHIN.metres() }
    }

    fn area(&self, holds: impl Fn(usize) -> bool + Sync) -> f64 {
        measure::area(self.model.mesh(), self.model.diagonal(), holds).square_metres()
    }

    /// The outermost flat in a direction: the plane across it, or a plane turned within the angle that clearly holds more.
    /// O(n) a plane that is tried; a model with nothing flat that is turned has only the first.
    pub(super) fn outermost(&self, direction: &Vector3<f64>) -> Outermost {
        let mesh = self.model.mesh();
        let area = |flat: &Flat| self.area(|face| flat.holds(mesh, face));
        let straight = self.touching(*direction);
        let held = area(&straight);
        let drawn = self.area(|face| straight.holds(mesh, face) && looks_along(mesh, face, direction, STRAIGHT_COSINE));
        let is_drawn = drawn > A_FLAT * self.area(|_| true);
        let normals = self.flat_normals(direction, if is_drawn { drawn } else { held });
        let flats: Vec<Flat> = normals.into_iter().map(|normal| self.touching(normal)).collect();
        let beside =
            if is_drawn { self.beside(straight, drawn, &flats) } else { self.leaning(direction, &flats, held) };
        beside.unwrap_or_else(|| {
            let areas = flats.iter().map(|flat| (*flat, area(flat)));
            let largest = areas.reduce(|a, b| if b.1 > a.1 { b } else { a });
            let more = largest.filter(|(_, most)| *most > held * CLEARLY_MORE);
            Outermost::alone(more.map_or(straight, |(flat, _)| flat))
        })
    }

    /// Flats beside one another of a piece that stands turned as a whole, so that none is straight: the largest in the place of the
    /// straight one, of flats of about one size the one that is turned least. None where all is one flat, or rough.
    fn leaning(&self, direction: &Vector3<f64>, flats: &[Flat], held: f64) -> Option<Outermost> {
        let mesh = self.model.mesh();
        let drawn = |flat: &Flat| {
            self.area(|face| flat.holds(mesh, face) && looks_along(mesh, face, &flat.normal, DRAWN_COSINE))
        };
        let drawn: Vec<(Flat, f64)> = flats.iter().map(|flat| (*flat, drawn(flat))).collect();
        let most = drawn.iter().fold(0.0, |most: f64, flat| most.max(flat.1));
        let cosine = self.angle.radians().cos();
        let side = self.area(|face| looks_along(mesh, face, direction, cosine));
        if 2.0 * most <= held || FEW * most < side {
            return None;
        }
        let large = drawn.into_iter().filter(|(_, area)| area * CLEARLY_MORE >= most);
        let straighter = |a: &Flat, b: &Flat| a.normal.dot(direction) >= b.normal.dot(direction);
        let (first, area) = large.reduce(|a, b| if straighter(&a.0, &b.0) { a } else { b })?;
        let others: Vec<Flat> =
            flats.iter().filter(|flat| flat.normal.dot(&first.normal) < DRAWN_COSINE).copied().collect();
        self.beside(first, area, &others).filter(|all| !all.beside().is_empty())
    }

    /// Turned flats beside the straight one, or what stands in its place, if that is drawn so for the most part, in faces of so much area.
    /// A turned one must hold twice as much to count, and then both do: a level foot that is drawn so stands on the floor whatever lies
    /// beside it.
    ///
    /// A turned one is drawn in its own plane and leads away from the straight one. Otherwise it is the roughness of a base, and its faces
    /// stay with the straight one as far as that holds them.
    fn beside(&self, straight: Flat, drawn: f64, flats: &[Flat]) -> Option<Outermost> {
        let mesh = self.model.mesh();
        let own = |flat: &Flat| {
            let pair = Outermost(vec![(straight, true), (*flat, false)]);
            let is_own = |face: &usize| {
                pair.owner(mesh, *face) == Some(1) && looks_along(mesh, *face, &flat.normal, DRAWN_COSINE)
            };
            let leads_away = self.faces().filter(is_own).any(|face| !straight.is_near(mesh, face));
            if leads_away { self.area(|face| is_own(&face)) } else { 0.0 }
        };
        let areas = flats.iter().map(|flat| (*flat, own(flat)));
        let mut large: Vec<(Flat, f64)> = areas.filter(|(_, area)| *area >= drawn * LEAST_BESIDE).collect();
        // Stable: of flats of one size the first stays first.
        large.sort_by(|a, b| b.1.total_cmp(&a.1));
        let most = large.first().map_or(0.0, |largest| largest.1);
        let turned = large.iter().map(|(flat, _)| (*flat, false));
        let mut all = Outermost(std::iter::once((straight, true)).chain(turned).collect());
        let held = self.area(|face| all.owner(mesh, face) == Some(0));
        if most > held * TWICE {
            all.0[1].1 = true;
        }
        (drawn > held / 2.0).then_some(all)
    }

    /// The largest flat turned within the angle that crosses a place on an axis, `within` of it.
    pub(super) fn crossing(&self, direction: &Vector3<f64>, at: f64, within: f64) -> Option<Flat> {
        let mesh = self.model.mesh();
        let axis = direction.iamax();
        let mut best: Option<(Flat, f64)> = None;
        for normal in self.flat_normals(direction, 0.0) {
            let mut lying: Vec<(f64, usize)> = self
                .faces()
                .filter(|face| looks_along(mesh, *face, &normal, FLAT_COSINE))
                .map(|face| (mesh.corners(face).map(|p| p.coords.dot(&normal)).iter().sum::<f64>() / 3.0, face))
                .collect();
            lying.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            for layer in lying.chunk_by(|a, b| b.0 - a.0 <= within) {
                let flat = Flat { normal, at: (layer[0].0 + layer[layer.len() - 1].0) / 2.0, within };
                let held: Vec<usize> = layer.iter().map(|l| l.1).filter(|face| flat.holds(mesh, *face)).collect();
                let places = held.iter().flat_map(|face| mesh.corners(*face)).map(|p| p[axis]);
                let [low, high] =
                    places.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], x| [f64::min(a, x), f64::max(b, x)]);
                let area: f64 = held.iter().map(|face| mesh.area_vector(*face).norm()).sum();
                if low - within <= at && at <= high + within && best.is_none_or(|b| area > b.1) {
                    best = Some((flat, area));
                }
            }
        }
        best.map(|b| b.0)
    }

    /// Where the large flats look that look within the angle of a direction; none when all that does is not clearly more than
    /// `beside`. Faces are taken in canonical order, so the same shape gives the same bits.
    fn flat_normals(&self, direction: &Vector3<f64>, beside: f64) -> Vec<Vector3<f64>> {
        let mesh = self.model.mesh();
        let cosine = self.angle.radians().cos();
        let across = [1, 2].map(|k| (direction.iamax() + k) % 3);
        let mut bins: BTreeMap<[i32; 2], Vector3<f64>> = BTreeMap::new();
        let (mut all, mut near) = (0.0, 0.0);
        for face in self.faces() {
            let vector = mesh.area_vector(face);
            let size = vector.norm();
            all += size;
            if size > 0.0 && vector.dot(direction) >= size * cosine {
                near += size;
                let key = across.map(|k| (vector[k] / size / STEP).round() as i32);
                *bins.entry(key).or_default() += vector;
            }
        }
        if near <= beside * CLEARLY_MORE {
            return Vec::new();
        }
        let large = bins.into_values().filter(|vector| vector.norm() > A_FLAT * all);
        large.map(|vector| vector.normalize()).collect()
    }
}
