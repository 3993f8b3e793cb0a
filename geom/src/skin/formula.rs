//! The skin bounded by formula, face by face and edge by edge, without asking for a single distance: a first answer for a
//! model of any size.

use super::{Coat, Face, Skin};
use crate::distance::V3;
use crate::mesh::Mesh;
use crate::numeric::{Filed, FixedSum};
use crate::topology::{Across, Topology};
use crate::units::{Area, Length, Volume};
use rayon::prelude::*;
use std::f64::consts::PI;

/// The most that the skin of a model can be, and (as `volume - bound`) the least.
///
/// **Most**: every point of a skin lies straight above a coated face, or fans round an edge that is convex on the skin's
/// side, or round a corner. So `S t + W t^2 + C t^3 / 3` is never passed, where `S` is the coated area, `W` half the sum of
/// length times turn over those edges, and `C` the solid angles round the corners. For a convex body outwards that is
/// Steiner's formula (P. M. Gruber, *Convex and Discrete Geometry*, ch. 6) and exact; where hollows overlap it counts twice.
///
/// **Least**, for a wholly coated body of volume `solid`: what a ball of the same volume would take, by the inequality of
/// Brunn and Minkowski (same book, ch. 8). Otherwise nothing is known from below, and the bound is the volume itself.
///
/// `mesh` must be the exposed surface of the solid: no walls buried in other bodies. One thickness; `thickness_of` is not
/// looked at. Cost: linear, about 0.1 s a core for a million triangles. The same bits for any number of threads.
///
/// A cube with sides of 1 m under 19 mm is convex: `6 t + 3 pi t^2 + 4/3 pi t^3` = 0.117431 m3, and the bound is nothing.
/// ```
/// use cragskin_geom::{mesh::Mesh, skin::*, topology::Topology, units::{Length, Volume}};
/// use nalgebra::Point3;
/// let corner = |i: u32| Point3::new(f64::from(i & 1), f64::from(i >> 1 & 1), f64::from(i >> 2));
/// let faces = [[0, 2, 3], [0, 3, 1], [4, 5, 7], [4, 7, 6], [0, 1, 5], [0, 5, 4]];
/// let others = [[2, 6, 7], [2, 7, 3], [0, 4, 6], [0, 6, 2], [1, 3, 7], [1, 7, 5]];
/// let cube = Mesh::new((0..8).map(corner).collect(), [faces, others].concat(), vec![]);
/// let coat = Coat::everywhere(Face::Core, Length::from_millimetres(19.0));
/// let skin = skin_by_formula(&cube, &Topology::of(&cube), &coat, Some(Volume::from_cubic_metres(1.0)));
/// assert!((skin.volume.cubic_metres() - 0.117431).abs() < 1e-6 && skin.bound == Volume::ZERO);
/// ```
#[must_use]
pub fn skin_by_formula(mesh: &Mesh, topology: &Topology, coat: &Coat, solid: Option<Volume>) -> Skin {
    let t = coat.thickness.metres();
    let is_coated = |face: usize| coat.coated.get(face).copied().unwrap_or(true);
    let Terms { area, wedge, corner, plain } = Terms::of(mesh, topology, coat.face, &is_coated);
    let naive = area * t;
    let all = (0..mesh.triangles().len()).into_par_iter().all(is_coated);
    let whole = solid.map(Volume::cubic_metres).filter(|volume| all && *volume > 0.0);
    let mut most = naive + wedge * t * t + corner * t.powi(3) / 3.0;
    // A skin inside a body is no more than the body.
    if let (Face::Finished, Some(volume)) = (coat.face, solid) {
        most = most.min(volume.cubic_metres());
    }
    // (4/3 pi)^(1/3) t is the side of a cube as large as a ball of radius t.
    let ball = (4.0 / 3.0 * PI).cbrt() * t;
    let least = match (whole, coat.face) {
        (Some(_), Face::Core) if plain && (corner - 4.0 * PI).abs() < 1e-6 => most,
        (Some(volume), Face::Core) => (volume.cbrt() + ball).powi(3) - volume,
        (Some(volume), Face::Finished) => volume - (volume.cbrt() - ball).max(0.0).powi(3),
        (None, _) => 0.0,
    };
    // The far side of each piece of the bound: a face moved, a piece of a cylinder, a piece of a ball.
    let side = |t: f64| Area::from_square_metres(area + 2.0 * wedge * t + corner * t * t);
    Skin {
        volume: Volume::from_cubic_metres(most),
        bound: Volume::from_cubic_metres((most - least).max(0.0)),
        area_times_skin: Volume::from_cubic_metres(naive),
        far_area: side(t),
        middle_area: side(t / 2.0),
        grid: Length::ZERO,
        is_stand_in: false,
    }
}

struct Terms {
    /// Coated area.
    area: f64,
    /// Half the sum of length times turn over convex edges.
    wedge: f64,
    /// Solid angles round corners.
    corner: f64,
    /// Every edge is flat or convex and joins two faces that face the same way.
    plain: bool,
}

/// An edge that turns less than this is flat: rounding of the corners of a plate tells no more.
const FLAT: f64 = 1e-9;

impl Terms {
    fn of(mesh: &Mesh, topology: &Topology, side: Face, is_coated: &(dyn Fn(usize) -> bool + Sync)) -> Self {
        let outward = if side == Face::Core { 1.0 } else { -1.0 };
        let positions = mesh.positions();
        let diagonal = {
            let far = V3::repeat(f64::INFINITY);
            let (low, high) =
                positions.iter().fold((far, -far), |(low, high), p| (low.inf(&p.coords), high.sup(&p.coords)));
            if positions.is_empty() { 0.0 } else { (high - low).norm() }
        };
        let empty =
            || (FixedSum::with_terms_up_to(diagonal * diagonal), FixedSum::with_terms_up_to(4.0 * diagonal), true);
        let (area, wedge, plain) = (0..mesh.triangles().len())
            .into_par_iter()
            .with_min_len(1 << 12)
            .fold(empty, |(mut area, mut wedge, mut plain), face| {
                if is_coated(face) {
                    area.add(mesh.area_vector(face).norm());
                }
                for k in 0..3 {
                    let (angle, other) = match topology.across(face, k) {
                        // Each edge once, by the higher of its faces.
                        Across::Face { face: other, .. } if other as usize > face => continue,
                        Across::Face { face: other, consistent: true, .. } => {
                            (outward * turn(mesh, face, k, other as usize), other as usize)
                        }
                        Across::Face { face: other, .. } => (PI, other as usize),
                        // Who meets whom is not known; each of the faces comes by.
                        Across::Many => (PI, face),
                        Across::Open | Across::Collapsed => continue,
                    };
                    plain &= (-FLAT..PI).contains(&angle);
                    // An edge at a bare face is cut square, which may leave any share of the fan.
                    if angle > 0.0 && (is_coated(face) || is_coated(other)) {
                        wedge.add(along(mesh, face, k).norm() * angle / 2.0);
                    }
                }
                (area, wedge, plain)
            })
            .reduce(empty, |mut a, b| {
                a.0 += b.0;
                a.1 += b.1;
                (a.0, a.1, a.2 && b.2)
            });
        let corners = Filed::new(positions.len(), |file| {
            mesh.triangles().par_iter().enumerate().with_min_len(1 << 12).for_each(|(face, t)| {
                (0..3).for_each(|k| file(t[k], (face * 3 + k) as u32));
            });
        });
        let empty = || FixedSum::with_terms_up_to(4.0 * PI);
        let corner = (0..positions.len())
            .into_par_iter()
            .with_min_len(1 << 12)
            .fold(empty, |mut sum, vertex| {
                let mut halves = [0; MOST];
                let mut count = 0;
                for half in corners.under(vertex) {
                    halves[count.min(MOST - 1)] = half;
                    count += 1;
                }
                sum.add(match halves.get_mut(..count) {
                    Some(halves) => {
                        // Filed in any order; the sum of angles wants one.
                        halves.sort_unstable();
                        round_corner(mesh, topology, outward, halves, is_coated)
                    }
                    None => 2.0 * PI,
                });
                sum
            })
            .reduce(empty, |mut a, b| {
                a += b;
                a
            });
        Self { area: area.value(), wedge: wedge.value(), corner: corner.value(), plain }
    }
}

/// Edge `k` of a face.
fn along(mesh: &Mesh, face: usize, k: usize) -> V3 {
    let corners = mesh.corners(face);
    corners[(k + 1) % 3] - corners[k]
}

/// How far the surface turns at edge `k` of a face to its neighbour, positive where the model is convex.
fn turn(mesh: &Mesh, face: usize, k: usize, other: usize) -> f64 {
    let (m, n) = (mesh.area_vector(face), mesh.area_vector(other));
    let across = m.cross(&n);
    across.norm().atan2(m.dot(&n)).copysign(across.dot(&along(mesh, face, k)))
}

/// How far the neighbour at edge `k` dips below the plane of a face, as a sine: above nothing where the model is convex.
/// `None` where there is not one neighbour that faces the same way.
fn dip(mesh: &Mesh, topology: &Topology, face: usize, k: usize) -> Option<f64> {
    let Across::Face { face: other, side, consistent: true } = topology.across(face, k) else { return None };
    let normal = mesh.area_vector(face);
    let toward = mesh.corners(other as usize)[(side as usize + 2) % 3] - mesh.corners(face)[k];
    let size = normal.norm() * toward.norm();
    Some(if size > 0.0 { -normal.dot(&toward) / size } else { 0.0 })
}

/// Faces at a corner looked at; a corner with more counts as a half space.
const MOST: usize = 64;

/// At most this solid angle has a corner as its nearest point.
///
/// Those directions point away from every edge at the corner. Where all edges are convex that is the full turn less the
/// angles of the faces; where all are concave it is nothing; otherwise two edges at an angle `a` leave `2 pi - 2 a`.
fn round_corner(
    mesh: &Mesh,
    topology: &Topology,
    outward: f64,
    halves: &[u32],
    is_coated: &dyn Fn(usize) -> bool,
) -> f64 {
    if !halves.iter().any(|half| is_coated(*half as usize / 3)) {
        return 0.0;
    }
    let (mut angles, mut edges) = (0.0, [V3::zeros(); 2 * MOST]);
    let (mut convex, mut concave) = (true, true);
    for (n, half) in halves.iter().enumerate() {
        let (face, k) = (*half as usize / 3, *half as usize % 3);
        let corners = mesh.corners(face);
        let [ahead, behind] = [(k + 1) % 3, (k + 2) % 3].map(|j| corners[j] - corners[k]);
        angles += ahead.cross(&behind).norm().atan2(ahead.dot(&behind));
        edges[2 * n] = ahead.try_normalize(0.0).unwrap_or_default();
        edges[2 * n + 1] = behind.try_normalize(0.0).unwrap_or_default();
        // Every edge at the corner is the one ahead in one of its faces; a rim leaves one without a neighbour.
        let dip = dip(mesh, topology, face, k).map(|dip| dip * outward);
        convex &= dip.is_some_and(|dip| dip >= -FLAT);
        concave &= dip.is_some_and(|dip| dip <= FLAT);
    }
    if concave {
        return 0.0;
    }
    if convex {
        return (2.0 * PI - angles).max(0.0);
    }
    let edges = &edges[..2 * halves.len()];
    let pairs = (0..edges.len()).flat_map(|i| (0..i).map(move |j| (i, j)));
    let widest = pairs.map(|(i, j)| edges[i].dot(&edges[j])).fold(1.0, f64::min);
    (2.0 * PI - 2.0 * widest.clamp(-1.0, 1.0).acos()).max(0.0)
}
