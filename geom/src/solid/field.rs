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

/// Which side of the projected edge `a b` the point lies on. A point exactly on the line counts as moved by an
/// infinitesimal (e, e^2), the same for every edge, so that neighbours never both claim it nor both refuse it.
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

/// Where the line through `p` along axis `k` meets a triangle: the coordinate, and +1 where the triangle faces up the
/// axis, -1 where it faces down.
pub(super) fn crossing(corners: &[Point3<f64>; 3], k: usize, p: [f64; 2]) -> Option<(f64, i32)> {
    let (i, j) = ((k + 1) % 3, (k + 2) % 3);
    let flat = corners.map(|c| [c[i], c[j]]);
    let out = |axis: usize| {
        let v = flat.map(|c| c[axis]);
        (v[0] < p[axis] && v[1] < p[axis] && v[2] < p[axis]) || (v[0] > p[axis] && v[1] > p[axis] && v[2] > p[axis])
    };
    if out(0) || out(1) {
        return None;
    }
    let s = [edge_side(flat[1], flat[2], p), edge_side(flat[2], flat[0], p), edge_side(flat[0], flat[1], p)];
    let up = s.iter().all(|&x| x > 0.0);
    if !up && !s.iter().all(|&x| x < 0.0) {
        return None;
    }
    // Barycentric: stays within the triangle however thin it is. The sides of a point on an edge are not lengths, but
    // their share is then wrong by no more than the triangle's own extent along the axis, and only on that edge.
    let w = [
        orient2d_plain(flat[1], flat[2], p).abs(),
        orient2d_plain(flat[2], flat[0], p).abs(),
        orient2d_plain(flat[0], flat[1], p).abs(),
    ];
    let sum = w[0] + w[1] + w[2];
    let z = if sum > 0.0 { (0..3).map(|m| w[m] * corners[m][k]).sum::<f64>() / sum } else { corners[0][k] };
    Some((z, if up { 1 } else { -1 }))
}

fn orient2d_plain(a: [f64; 2], b: [f64; 2], p: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
}

/// The axis along which a ray leaves a face most squarely, and the direction along it.
pub(super) fn axis_of(normal: &Vector3<f64>) -> (usize, f64) {
    let k = normal.iamax();
    (k, if normal[k] < 0.0 { -1.0 } else { 1.0 })
}

/// How often one piece wraps around the point just above the spot. Triangles within `eps` of the spot are told apart as coincident.
pub(super) fn winding_above(mesh: &Mesh, tree: &Tree, spot: &Spot, eps: f64, coincident: &mut Vec<Coincident>) -> i32 {
    let (k, way) = axis_of(&spot.normal);
    let (i, j) = ((k + 1) % 3, (k + 2) % 3);
    let (p, height) = ([spot.at[i], spot.at[j]], spot.at[k]);
    let slope = spot.normal[k].abs();
    let ahead = |b: &Aabb| {
        b.lo[i] <= p[0]
            && p[0] <= b.hi[i]
            && b.lo[j] <= p[1]
            && p[1] <= b.hi[j]
            && if way > 0.0 { b.hi[k] >= height - 2.0 * eps } else { b.lo[k] <= height + 2.0 * eps }
    };
    let mut winding = 0;
    tree.visit(ahead, |face| {
        if face == spot.face {
            return;
        }
        let Some((z, up)) = crossing(&mesh.corners(face as usize), k, p) else { return };
        let gap = (z - height) * way * slope;
        let leaving = if way > 0.0 { up } else { -up };
        if gap.abs() <= eps {
            coincident.push(Coincident { face, same_way: leaving > 0 });
        } else if gap > 0.0 {
            winding += leaving;
        }
    });
    winding
}
