//! The part of the triangles that bounds the solid: what is left when walls buried in another body are taken away.

use rayon::prelude::*;

use super::{Node, Surface, Tree, V3};
use crate::mesh::Mesh;

/// A triangle is shrunk by this share before it is asked what it meets, so that its neighbours do not count.
const SHRINK: f64 = 1e-3;

/// The pieces of the mesh that have the solid on one side and nothing on the other, turned to face outwards. Triangles that
/// meet others are cut to `size`, and each piece is kept or dropped as a whole. Faces closer than `gap` touch.
///
/// Cost: one line and one box query a triangle, and `4^k` lines for those that meet others; near linear.
pub(crate) fn boundary<'a>(mesh: &'a Mesh, tree: &Tree, size: f64, gap: f64) -> Surface<'a> {
    let whole = Surface::of(mesh);
    let sorter = Sorter { whole: &whole, tree, size, gap };
    let parts: Vec<Vec<(u32, Option<[V3; 3]>)>> = (0..whole.triangles.len() as u32)
        .into_par_iter()
        .with_min_len(256)
        .map(|face| {
            let mut out = Vec::new();
            let corners = whole.corners(face);
            let [a, b, c] = corners;
            if (b - a).cross(&(c - a)).norm_squared() > 0.0 {
                let others = if longest(&corners) > size { sorter.meets(face, &corners, None) } else { Vec::new() };
                sorter.sort(face, corners, others, false, &mut out);
            }
            out
        })
        .collect();
    let mut positions = whole.positions.to_vec();
    let (mut triangles, mut face_of) = (Vec::new(), Vec::new());
    for (face, piece) in parts.into_iter().flatten() {
        let flip = face & FLIP != 0;
        let face = face & !FLIP;
        let [a, b, c] = piece.map_or(whole.triangles[face as usize], |corners| {
            let first = positions.len() as u32;
            positions.extend(corners.map(nalgebra::Point3::from));
            [first, first + 1, first + 2]
        });
        triangles.push(if flip { [a, c, b] } else { [a, b, c] });
        face_of.push(face);
    }
    Surface { positions: positions.into(), triangles: triangles.into(), face_of }
}

/// Mark on a face number: the piece faces the solid.
const FLIP: u32 = 1 << 31;

fn longest([a, b, c]: &[V3; 3]) -> f64 {
    (b - a).norm().max((c - b).norm()).max((a - c).norm())
}

struct Sorter<'s, 'a> {
    whole: &'s Surface<'a>,
    tree: &'s Tree,
    size: f64,
    gap: f64,
}

impl Sorter<'_, '_> {
    /// Keeps, drops or cuts a piece of a face.
    fn sort(&self, face: u32, piece: [V3; 3], others: Vec<u32>, cut: bool, out: &mut Vec<(u32, Option<[V3; 3]>)>) {
        if others.is_empty() || longest(&piece) <= self.size {
            let middle = piece.iter().sum::<V3>() / 3.0;
            let [front, back] = self.sides(face, &middle);
            if front != back {
                out.push((if front { face | FLIP } else { face }, cut.then_some(piece)));
            }
            return;
        }
        let [a, b, c] = piece;
        let [ab, bc, ca] = [(a + b) / 2.0, (b + c) / 2.0, (c + a) / 2.0];
        for part in [[a, ab, ca], [b, bc, ab], [c, ca, bc], [ab, bc, ca]] {
            let met = self.meets(face, &part, Some(&others));
            self.sort(face, part, met, true, out);
        }
    }

    /// The triangles that a piece of a face meets, all or of a list.
    fn meets(&self, face: u32, piece: &[V3; 3], of: Option<&[u32]>) -> Vec<u32> {
        let middle = piece.iter().sum::<V3>() / 3.0;
        let shrunk = piece.map(|p| p + (middle - p) * SHRINK);
        let mut corners = self.whole.triangles[face as usize];
        corners.sort_unstable();
        let met = |&other: &u32| {
            let mut theirs = self.whole.triangles[other as usize];
            theirs.sort_unstable();
            theirs != corners && meet(&shrunk, &self.whole.corners(other), self.gap)
        };
        if let Some(list) = of {
            return list.iter().copied().filter(met).collect();
        }
        let (low, high) = (shrunk[0].inf(&shrunk[1]).inf(&shrunk[2]), shrunk[0].sup(&shrunk[1]).sup(&shrunk[2]));
        let mut found = Vec::new();
        self.tree.overlapping(&low.add_scalar(-self.gap), &high.add_scalar(self.gap), |other| found.push(other));
        found.retain(met);
        found
    }

    /// Whether it is solid in front of and behind a point of a face, counted along the axis that the face looks along most.
    fn sides(&self, face: u32, at: &V3) -> [bool; 2] {
        let [a, b, c] = self.whole.corners(face);
        let normal = (b - a).cross(&(c - a));
        let axis = normal.iamax();
        let (mut low, mut high) = (*at, *at);
        low[axis] = at[axis] - 2.0 * self.gap / normal[axis].abs() * normal.norm();
        high[axis] = f64::INFINITY;
        let (mut above, mut below) = (0, 0);
        self.tree.overlapping(&low, &high, |t| {
            if let Some((height, turn)) = crossing(self.whole, t, axis, at) {
                above += if height > at[axis] + self.gap { turn } else { 0 };
                below += if height > at[axis] - self.gap { turn } else { 0 };
            }
        });
        let (above, below) = (above >= 1, below >= 1);
        if normal[axis] > 0.0 { [above, below] } else { [below, above] }
    }
}

/// Where a line along an axis through `at` meets a triangle, and whether it leaves (+1) or enters.
fn crossing(surface: &Surface, t: u32, axis: usize, at: &V3) -> Option<(f64, i32)> {
    let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
    let ids = surface.triangles[t as usize];
    let side = |i: u32, j: u32| {
        let (lo, hi) = (i.min(j), i.max(j));
        let (p, q) = (surface.positions[lo as usize], surface.positions[hi as usize]);
        let left = (q[u] - p[u]) * (at[v] - p[v]) - (q[v] - p[v]) * (at[u] - p[u]) >= 0.0;
        left == (i < j)
    };
    let s = side(ids[0], ids[1]);
    if s != side(ids[1], ids[2]) || s != side(ids[2], ids[0]) {
        return None;
    }
    let [a, b, c] = surface.corners(t);
    let n = (b - a).cross(&(c - a));
    if n[axis] == 0.0 {
        return None;
    }
    let height = a[axis] - (n[u] * (at[u] - a[u]) + n[v] * (at[v] - a[v])) / n[axis];
    Some((height, if s { 1 } else { -1 }))
}

/// Whether two triangles come within `gap` of each other's planes and edges: no axis parts them.
fn meet(p: &[V3; 3], q: &[V3; 3], gap: f64) -> bool {
    let edges = |t: &[V3; 3]| [t[1] - t[0], t[2] - t[1], t[0] - t[2]];
    let (ep, eq) = (edges(p), edges(q));
    let (np, nq) = (ep[0].cross(&ep[1]), eq[0].cross(&eq[1]));
    let parted = |axis: V3| {
        let length = axis.norm();
        if length <= 1e-12 * (np.norm() + nq.norm()) {
            return false;
        }
        let span = |t: &[V3; 3]| {
            let d = t.each_ref().map(|x| x.dot(&axis));
            (d[0].min(d[1]).min(d[2]), d[0].max(d[1]).max(d[2]))
        };
        let ((p0, p1), (q0, q1)) = (span(p), span(q));
        p0 > q1 + gap * length || q0 > p1 + gap * length
    };
    // The axes in the planes of the triangles are needed when they lie in one plane, and part flat neighbours in any case.
    if parted(np) || parted(nq) || ep.iter().any(|e| parted(np.cross(e))) || eq.iter().any(|e| parted(nq.cross(e))) {
        return false;
    }
    if np.cross(&nq).norm_squared() <= 1e-12 * np.norm_squared() * nq.norm_squared() {
        // In one plane: a piece wholly within the other has one lot in all its parts.
        let within = |x: &V3| (0..3).all(|k| eq[k].cross(&(x - q[k])).dot(&nq) > 0.0);
        return !p.iter().all(within);
    }
    !ep.iter().any(|e| eq.iter().any(|f| parted(e.cross(f))))
}

impl Tree {
    /// Every triangle whose leaf's box overlaps a box.
    fn overlapping(&self, low: &V3, high: &V3, mut each: impl FnMut(u32)) {
        let mut stack: Vec<Node> = self.root().into_iter().collect();
        while let Some(node) = stack.pop() {
            if self.misses(node, low, high) {
                continue;
            }
            match self.children(node) {
                Ok(children) => stack.extend(children),
                Err(triangles) => triangles.iter().for_each(|&t| each(t)),
            }
        }
    }
}
