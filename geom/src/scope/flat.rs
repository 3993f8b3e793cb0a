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
/// A flat holds at least this share of the area, or it is not looked at.
const A_FLAT: f64 = 0.005;
/// A turned plane is taken in place of the straight one when it holds this many times the area.
const CLEARLY_MORE: f64 = 1.05;
/// The same where the straight one is drawn straight: facets beside a level base may add some tenths to it.
const TWICE: f64 = 2.0;
/// A turned flat of less than this share of the straight one is the facets beside a base, which nobody would stand it on.
/// Common practice, no source.
pub(super) const LEAST_BESIDE: f64 = 0.5;
/// Drawn straight: cos 0.01 degrees. Corners written with seven digits turn faces by less.
const STRAIGHT_COSINE: f64 = 0.999_999_984_769;

/// A plane and how far off it the corners of a face may lie.
#[derive(Clone, Copy, Debug)]
pub(super) struct Flat {
    normal: Vector3<f64>,
    at: f64,
    within: f64,
}

/// The outermost flat in a direction, and where what lies straight is drawn so the others that touch there.
#[derive(Clone, Debug)]
pub(super) struct Outermost {
    flat: Flat,
    /// The straight one, where the outermost is turned; it counts too.
    straight: Option<Flat>,
    /// Turned ones, which do not count; largest first.
    turned: Vec<Flat>,
}

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
        mesh.corners(face).iter().all(|p| (p.coords.dot(&self.normal) - self.at).abs() <= self.within)
            && looks_along(mesh, face, &self.normal, FLAT_COSINE)
    }

    /// The angle between the plane's direction and the one asked for; none below a hundredth of a degree.
    pub(super) fn turned(&self, direction: &Vector3<f64>) -> Option<Angle> {
        let angle = Angle::from_radians(self.normal.angle(direction));
        (angle.degrees() > 0.01).then_some(angle)
    }
}

impl Outermost {
    pub(super) fn holds(&self, mesh: &Mesh, face: usize) -> bool {
        self.flat.holds(mesh, face) || self.straight.is_some_and(|flat| flat.holds(mesh, face))
    }

    /// The straight flat, and turned ones beside it, each with whether it counts.
    pub(super) fn straight_and_turned(&self) -> (Flat, Vec<(Flat, bool)>) {
        let counts = self.straight.map(|_| (self.flat, true));
        let others = self.turned.iter().map(|flat| (*flat, false));
        (self.straight.unwrap_or(self.flat), counts.into_iter().chain(others).collect())
    }

    /// As [`Flat::turned`] of the larger flat.
    pub(super) fn turned(&self, direction: &Vector3<f64>) -> Option<Angle> {
        self.flat.turned(direction)
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
    /// Where most of what lies in the plane across is drawn straight, a turned one must hold twice as much, and then both count:
    /// a level foot that is drawn so stands on the floor whatever lies beside it.
    /// O(n) a plane that is tried; a model with nothing flat that is turned has only the first.
    pub(super) fn outermost(&self, direction: &Vector3<f64>) -> Outermost {
        let mesh = self.model.mesh();
        let area = |flat: &Flat| self.area(|face| flat.holds(mesh, face));
        let straight = self.touching(*direction);
        let held = area(&straight);
        let drawn_straight =
            self.area(|face| straight.holds(mesh, face) && looks_along(mesh, face, direction, STRAIGHT_COSINE));
        let is_drawn = drawn_straight > held / 2.0;
        let flats = self.flat_normals(direction, held).into_iter().map(|normal| self.touching(normal));
        let mut flats: Vec<(Flat, f64)> = flats.map(|flat| (flat, area(&flat))).collect();
        // Stable: of flats of one size the first stays first.
        flats.sort_by(|a, b| b.1.total_cmp(&a.1));
        let most = flats.first().map_or(0.0, |largest| largest.1);
        let is_large = |flat: &&(Flat, f64)| flat.1 >= held * LEAST_BESIDE;
        let turned = |flats: &[(Flat, f64)]| flats.iter().take_while(is_large).map(|flat| flat.0).collect();
        match &flats[..] {
            [largest, ..] if !is_drawn && most > held * CLEARLY_MORE => {
                Outermost { flat: largest.0, straight: None, turned: Vec::new() }
            }
            [largest, others @ ..] if is_drawn && most > held * TWICE => {
                Outermost { flat: largest.0, straight: Some(straight), turned: turned(others) }
            }
            others => {
                Outermost { flat: straight, straight: None, turned: if is_drawn { turned(others) } else { Vec::new() } }
            }
        }
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
