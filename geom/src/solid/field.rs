//! Signed crossings of a ray with closed pieces: whole numbers, exact on the sides of edges.

use super::tree::{Aabb, Tree};
use crate::mesh::Mesh;
use nalgebra::{Point3, Vector3};
use robust::{Coord, orient2d};

/// A place on a triangle, just above and just below which the winding is asked for.
#[derive(Clone, Copy)]
pub(super) struct Spot {
    pub(super) face: u32,
    pub(super) at: Point3<f64>,
    /// Unit normal of the triangle.
    pub(super) normal: Vector3<f64>,
}

/// A triangle that lies in the spot's plane, at the spot.
#[derive(Clone, Copy)]
pub(super) struct Coincident {
    pub(super) face: u32,
    pub(super) same_way: bool,
}

/// Which side of the projected edge `a b` the point lies on, by an exact sign. A point exactly on the line counts as moved by
/// an infinitesimal (e, e^2), the same for every edge, so that neighbours never both claim it nor both refuse it.
fn edge_side(a: [f64; 2], b: [f64; 2], p: [f64; 2]) -> f64 {
    let c = |q: [f64; 2]| Coord { x: q[0], y: q[1] };
    let exact = orient2d(c(a), c(b), c(p));
    if exact != 0.0 {
        exact
    } else if a[1] != b[1] {
        a[1] - b[1]
    } else {
        b[0] - a[0]
    }
}

/// Rounding of the determinant of three points over the sum of its terms' sizes: J. R. Shewchuk, Adaptive Precision
/// Floating-Point Arithmetic and Fast Robust Geometric Predicates, 1997, bound A of `orient2d`.
const ROUNDED: f64 = 3.330_669_073_875_472e-16;

/// Where the line through `p` along axis `k` meets a triangle: the coordinate, and +1 where the triangle faces up the
/// axis, -1 where it faces down.
pub(super) fn crossing(corners: &[Point3<f64>; 3], k: usize, p: [f64; 2]) -> Option<(f64, i32)> {
    let (i, j) = ((k + 1) % 3, (k + 2) % 3);
    let flat = corners.map(|c| [c[i], c[j]]);
    let from = flat.map(|c| [c[0] - p[0], c[1] - p[1]]);
    let out = |axis: usize| {
        let v = from.map(|c| c[axis]);
        (v[0] < 0.0 && v[1] < 0.0 && v[2] < 0.0) || (v[0] > 0.0 && v[1] > 0.0 && v[2] > 0.0)
    };
    if out(0) || out(1) {
        return None;
    }
    // Twice the area of the triangle of an edge and the point, and the side of the edge that the point is on.
    let (mut w, mut s) = ([0.0; 3], [0.0; 3]);
    for m in 0..3 {
        let (e, f) = ((m + 1) % 3, (m + 2) % 3);
        let (left, right) = (from[e][0] * from[f][1], from[e][1] * from[f][0]);
        w[m] = left - right;
        let known = w[m].abs() > ROUNDED * (left.abs() + right.abs());
        s[m] = if known { w[m] } else { edge_side(flat[e], flat[f], p) };
        if m > 0 && (s[m] > 0.0) != (s[0] > 0.0) {
            return None;
        }
    }
    if s.contains(&0.0) {
        return None;
    }
    // Barycentric: stays within the triangle however thin it is. The sides of a point on an edge are not lengths, but
    // their share is then wrong by no more than the triangle's own extent along the axis, and only on that edge.
    let w = w.map(f64::abs);
    let sum = w[0] + w[1] + w[2];
    let z = if sum > 0.0 { (0..3).map(|m| w[m] * corners[m][k]).sum::<f64>() / sum } else { corners[0][k] };
    Some((z, if s[0] > 0.0 { 1 } else { -1 }))
}

/// The axis along which a ray leaves a face most squarely, and the direction along it.
pub(super) fn axis_of(normal: &Vector3<f64>) -> (usize, f64) {
    let k = normal.iamax();
    (k, if normal[k] < 0.0 { -1.0 } else { 1.0 })
}

/// Steps of work for a triangle that a tree is asked for, by trial.
const VISIT_WORK: u64 = 30;

/// How often one piece wraps around the point just above the spot. Triangles within `eps` of the spot are told apart as coincident.
pub(super) fn winding_above(
    mesh: &Mesh,
    tree: &Tree,
    spot: &Spot,
    eps: f64,
    coincident: &mut Vec<Coincident>,
    work: &mut u64,
) -> i32 {
    let (k, way) = axis_of(&spot.normal);
    let (i, j) = ((k + 1) % 3, (k + 2) % 3);
    let (p, height) = ([spot.at[i], spot.at[j]], spot.at[k]);
    let ahead = |b: &Aabb| {
        b.lo[i] <= p[0]
            && p[0] <= b.hi[i]
            && b.lo[j] <= p[1]
            && p[1] <= b.hi[j]
            && if way > 0.0 { b.hi[k] >= height - 2.0 * eps } else { b.lo[k] <= height + 2.0 * eps }
    };
    let mut winding = 0;
    tree.visit(ahead, |face| {
        *work += VISIT_WORK;
        winding += counted(face, &mesh.corners(face as usize), spot, eps, coincident);
    });
    winding
}

/// What one triangle adds to the winding just above a spot.
pub(super) fn counted(
    face: u32,
    corners: &[Point3<f64>; 3],
    spot: &Spot,
    eps: f64,
    coincident: &mut Vec<Coincident>,
) -> i32 {
    let (k, way) = axis_of(&spot.normal);
    let p = [spot.at[(k + 1) % 3], spot.at[(k + 2) % 3]];
    if face == spot.face {
        return 0;
    }
    let Some((z, up)) = crossing(corners, k, p) else { return 0 };
    let gap = (z - spot.at[k]) * way * spot.normal[k].abs();
    let leaving = if way > 0.0 { up } else { -up };
    if gap.abs() <= eps {
        coincident.push(Coincident { face, same_way: leaving > 0 });
        0
    } else if gap > 0.0 {
        leaving
    } else {
        0
    }
}
