//! The size of a piece once its skin is on.

use crate::mesh::Mesh;
use crate::units::Length;
use nalgebra::{Unit, Vector3};
use std::collections::BTreeMap;

/// Width, depth and height once a skin is on the coated faces.
///
/// The skin is what lies within the thickness of a coated face, on its outward side. It reaches farthest above a face along the
/// face's own outward direction, above a convex edge of two coated faces along the directions between theirs, and at a corner that
/// is coated all round and lies farthest out by the whole thickness (an offset body reaches as far as the body and the offset
/// together: Schneider, *Convex Bodies*, on support functions; from memory). At a rim only the face moves. At a sharp edge
/// to a bare face the coat goes on to the plane of that face, as if a board stood there.
/// Where a bare face looks along the axis and reaches farthest, the coat ends square with it: only coat that looks the same way
/// (within 8 degrees), or a corner that is coated all round, goes farther.
///
/// A box of 8 x 4 x 6 ft with its floor bare under 3/4 in: 8 ft 1-1/2 in, 4 ft 1-1/2 in, 6 ft 3/4 in. O(n), one thread.
#[must_use]
pub fn finished_size(mesh: &Mesh, coated: &[bool], thickness: Length) -> [Length; 3] {
    let far = Vector3::repeat(f64::INFINITY);
    let corners = mesh.triangles().iter().flatten().map(|v| mesh.positions()[*v as usize].coords);
    let (low, high) = corners.fold((far, -far), |(low, high), p| (low.inf(&p), high.sup(&p)));
    let outer = Outer::of(mesh, coated, thickness.metres(), (low, high));
    let axes = [Vector3::x_axis(), Vector3::y_axis(), Vector3::z_axis()];
    [0, 1, 2].map(|k| {
        let span = outer.reach(axes[k], high[k]) + outer.reach(-axes[k], -low[k]);
        Length::from_metres(span.max(0.0))
    })
}

/// Where a bare face that looks along `bare` meets a coat at a sharp edge, the coat goes on round the edge down to the plane of the bare
/// face, as if a board stood there: the way along that plane out from the edge.
fn board(coat: &Vector3<f64>, bare: &Vector3<f64>) -> Option<Vector3<f64>> {
    let lean = coat.dot(bare);
    (lean < -1e-9).then(|| (coat - bare * lean).normalize())
}

/// In thicknesses: a bare face this near the far end reaches as far.
const LEVEL: f64 = 1e-3;
/// The cosine of 45 degrees: a bare face that looks so much along an axis ends the piece there.
const ENDS: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// The cosine of 8 degrees.
const SAME_WAY: f64 = 0.990_268;

/// The faces with a corner within the thickness of a side of the box: no other one grows out of it.
struct Outer<'a> {
    mesh: &'a Mesh,
    coated: &'a [bool],
    thickness: f64,
    faces: Vec<u32>,
    /// Edges and the faces at each.
    edges: BTreeMap<[u32; 2], Vec<u32>>,
    /// Corners that are coated all round.
    whole: Vec<u32>,
}

impl<'a> Outer<'a> {
    fn of(mesh: &'a Mesh, coated: &'a [bool], thickness: f64, (low, high): (Vector3<f64>, Vector3<f64>)) -> Self {
        let is_outer = |v: u32| {
            let p = mesh.positions()[v as usize].coords;
            (0..3).any(|k| p[k] <= low[k] + thickness || p[k] >= high[k] - thickness)
        };
        let mut it = Self { mesh, coated, thickness, faces: Vec::new(), edges: BTreeMap::new(), whole: Vec::new() };
        for (face, t) in mesh.triangles().iter().enumerate().filter(|(_, t)| t.iter().any(|v| is_outer(*v))) {
            it.faces.push(face as u32);
            for (a, b) in [(t[0], t[1]), (t[1], t[2]), (t[2], t[0])] {
                it.edges.entry([a.min(b), a.max(b)]).or_default().push(face as u32);
            }
        }
        let mut whole: BTreeMap<u32, bool> = BTreeMap::new();
        for (ends, faces) in &it.edges {
            let coated = faces.len() == 2 && faces.iter().all(|face| coated[*face as usize]);
            ends.iter().for_each(|v| *whole.entry(*v).or_insert(true) &= coated);
        }
        it.whole = whole.into_iter().filter(|(v, whole)| *whole && is_outer(*v)).map(|(v, _)| v).collect();
        it
    }

    fn at(&self, v: u32) -> Vector3<f64> {
        self.mesh.positions()[v as usize].coords
    }

    fn corners(&self, face: u32) -> [u32; 3] {
        self.mesh.triangles()[face as usize]
    }

    fn outward(&self, face: u32) -> Vector3<f64> {
        self.mesh.area_vector(face as usize).try_normalize(0.0).unwrap_or_default()
    }

    /// How far the finished piece reaches along `way`, where the drawn one reaches `end`.
    fn reach(&self, way: Unit<Vector3<f64>>, end: f64) -> f64 {
        let along = |v: u32| self.at(v).dot(&way);
        let ends_bare = self.faces.iter().any(|&face| {
            !self.coated[face as usize]
                && self.outward(face).dot(&way) >= ENDS
                && self.corners(face).iter().any(|v| along(*v) >= end - LEVEL * self.thickness)
        });
        let mut reach = end;
        let mut moved = |v: u32, cosine: f64| {
            let at = along(v) + self.thickness * cosine;
            if at > reach && !(ends_bare && cosine < SAME_WAY) {
                reach = at;
            }
        };
        for &face in self.faces.iter().filter(|face| self.coated[**face as usize]) {
            let cosine = self.outward(face).dot(&way);
            self.corners(face).into_iter().for_each(|v| moved(v, cosine));
        }
        for (ends, faces) in &self.edges {
            if let Some(cosine) = self.over_edge(*ends, faces, &way) {
                ends.iter().for_each(|v| moved(*v, cosine));
            }
        }
        // Of the corners that are coated all round the farthest out, where nothing about it is farther.
        let farthest = self.whole.iter().copied().max_by(|a, b| along(*a).total_cmp(&along(*b)));
        if let Some(v) = farthest.filter(|v| self.is_tip(*v, &way)) {
            moved(v, 1.0);
        }
        reach
    }

    /// The farthest that a skin over a convex edge of two coated faces leans along `way`, if that is along neither of their own.
    fn over_edge(&self, [a, b]: [u32; 2], faces: &[u32], way: &Unit<Vector3<f64>>) -> Option<f64> {
        let &[f, g] = faces else { return None };
        let (n, m) = (self.outward(f), self.outward(g));
        let opposite = self.corners(g).into_iter().find(|v| *v != a && *v != b)?;
        if (self.at(opposite) - self.at(a)).dot(&n) >= 0.0 {
            return None;
        }
        let (n, m) = match [f, g].map(|face| self.coated[face as usize]) {
            [true, true] => (n, m),
            [true, false] => (n, board(&n, &m)?),
            [false, true] => (board(&m, &n)?, m),
            [false, false] => return None,
        };
        let edge = (self.at(b) - self.at(a)).try_normalize(0.0)?;
        let square = way.into_inner() - edge * edge.dot(way);
        let between = square.try_normalize(1e-12)?;
        let opening = n.dot(&m);
        let is_between = between.dot(&n).min(between.dot(&m)) >= opening - 1e-12;
        is_between.then(|| square.norm())
    }

    /// Nothing that meets this corner reaches farther along `way`.
    fn is_tip(&self, v: u32, way: &Unit<Vector3<f64>>) -> bool {
        let at = self.at(v).dot(way);
        let about = self.faces.iter().map(|face| self.corners(*face)).filter(|t| t.contains(&v));
        about.flatten().all(|w| self.at(w).dot(way) <= at)
    }
}
