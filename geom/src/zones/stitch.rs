//! The exposed surface of several bodies made one: where a face of one goes on as a face of another, within the contact
//! gap, they share vertices afterwards.
//!
//! Two passes over the open edges. The first closes what cutting left open, to within rounding. The second joins what is
//! then still apart, to within the gap, and only from one body to another, so that an open rim keeps its shape.

use crate::bodies::Forest;
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};
use nalgebra::Point3;
use std::collections::{BTreeMap, BTreeSet};

/// Cells of cut faces are known to half of a millionth of the model.
const ROUNDING: f64 = 2e-6;

/// Triangles, and where each came from: an index into those given.
pub(super) struct Stitched {
    pub(super) mesh: Mesh,
    pub(super) from: Vec<u32>,
}

/// Joins the open edges of a mesh within `gap`. Near linear in the open edges.
pub(super) fn stitched(mesh: Mesh, gap: f64) -> Stitched {
    let [low, high] = mesh
        .positions()
        .iter()
        .fold([Point3::from([f64::INFINITY; 3]), Point3::from([f64::NEG_INFINITY; 3])], |[l, h], p| {
            [l.inf(p), h.sup(p)]
        });
    let from = (0..mesh.triangles().len() as u32).collect();
    let mut whole = Stitched { mesh, from };
    let diagonal = (high - low).norm();
    if !diagonal.is_finite() || diagonal <= 0.0 {
        return whole;
    }
    let rounding = ROUNDING * diagonal;
    whole = whole.joined(rounding, None, diagonal);
    if gap <= rounding {
        return whole;
    }
    let mut forest = Forest::new(whole.mesh.positions().len());
    for t in whole.mesh.triangles() {
        forest.join(t[0], t[1]);
        forest.join(t[1], t[2]);
    }
    let (body, _) = forest.numbered();
    whole.joined(gap, Some(&body), diagonal)
}

impl Stitched {
    /// Moves open corners within `reach` of one another together, and puts those within reach of an open edge into it; with
    /// `body` only those of another one.
    fn joined(self, reach: f64, body: Option<&[u32]>, diagonal: f64) -> Self {
        let Self { mesh, from } = self;
        let topology = Topology::of(&mesh);
        let open: Vec<(usize, usize)> = (0..mesh.triangles().len())
            .flat_map(|f| (0..3).map(move |side| (f, side)))
            .filter(|&(f, side)| topology.across(f, side) == Across::Open)
            .collect();
        if open.is_empty() {
            return Self { mesh, from };
        }
        let ends = |&(f, side): &(usize, usize)| [mesh.triangles()[f][side], mesh.triangles()[f][(side + 1) % 3]];
        let at = |v: u32| mesh.positions()[v as usize];
        let other = |a: u32, b: u32| body.is_none_or(|of| of[a as usize] != of[b as usize]);
        let rim: BTreeSet<u32> = open.iter().flat_map(ends).collect();
        let length: f64 = open.iter().map(ends).map(|[a, b]| (at(b) - at(a)).norm()).sum();
        let grid = Grid::new(
            (length / open.len() as f64).max(4.0 * reach).max(diagonal / 2048.0),
            rim.iter().map(|&v| (v, at(v))),
        );
        // The lowest of those within reach stands for them.
        let mut stands: BTreeMap<u32, u32> = BTreeMap::new();
        for &v in &rim {
            let here = at(v);
            let near = grid.near(&here, reach).filter(|&w| w < v && other(v, w) && (at(w) - here).norm() <= reach);
            let first = near.map(|w| stands.get(&w).copied().unwrap_or(w)).min();
            stands.insert(v, first.unwrap_or(v));
        }
        let stand = |v: u32| stands.get(&v).copied().unwrap_or(v);
        let mut put: BTreeMap<(usize, usize), Vec<u32>> = BTreeMap::new();
        for edge in &open {
            let [a, b] = ends(edge);
            let (start, way) = (at(a), at(b) - at(a));
            let steps = (way.norm() / grid.cell).ceil().max(1.0) as usize;
            let mut found: BTreeMap<u32, f64> = BTreeMap::new();
            for step in 0..=steps {
                let here = start + way * (step as f64 / steps as f64);
                for v in grid.near(&here, grid.cell) {
                    let name = stand(v);
                    let t = (at(v) - start).dot(&way) / way.norm_squared();
                    let off = (at(v) - start - way * t).norm();
                    let inside = t > 0.0 && t < 1.0 && off <= reach;
                    let of_edge = name == stand(a)
                        || name == stand(b)
                        || mesh.triangles()[edge.0].iter().any(|&c| stand(c) == name);
                    if inside && !of_edge && other(v, a) {
                        found.insert(name, t);
                    }
                }
            }
            if !found.is_empty() {
                let mut inner: Vec<(u32, f64)> = found.into_iter().collect();
                inner.sort_by(|x, y| x.1.total_cmp(&y.1).then(x.0.cmp(&y.0)));
                put.insert(*edge, inner.into_iter().map(|x| x.0).collect());
            }
        }
        let (mut triangles, mut source) = (Vec::new(), Vec::new());
        for (f, t) in mesh.triangles().iter().enumerate() {
            let inner = [0, 1, 2].map(|side| put.remove(&(f, side)).unwrap_or_default());
            split(t.map(stand), inner, &mut |piece| {
                if piece[0] != piece[1] && piece[1] != piece[2] && piece[2] != piece[0] {
                    triangles.push(piece);
                    source.push(from[f]);
                }
            });
        }
        let origin = mesh.origin;
        Self { mesh: Mesh::new(mesh.positions().to_vec(), triangles, Vec::new()).with_origin(origin), from: source }
    }
}

/// A triangle with more corners on its sides, in triangles.
fn split(t: [u32; 3], mut inner: [Vec<u32>; 3], out: &mut impl FnMut([u32; 3])) {
    let Some(side) = (0..3).find(|&side| !inner[side].is_empty()) else { return out(t) };
    let [a, b, c] = [0, 1, 2].map(|k| t[(side + k) % 3]);
    let [on, last, first] = [0, 1, 2].map(|k| std::mem::take(&mut inner[(side + k) % 3]));
    let line: Vec<u32> = std::iter::once(a).chain(on).chain([b]).collect();
    let end = line.len() - 2;
    for (k, pair) in line.windows(2).enumerate() {
        let of = |sides: &Vec<u32>, here: bool| if here { sides.clone() } else { Vec::new() };
        split([pair[0], pair[1], c], [Vec::new(), of(&last, k == end), of(&first, k == 0)], out);
    }
}

/// Points by cell.
struct Grid {
    cell: f64,
    cells: BTreeMap<[i64; 3], Vec<u32>>,
}

impl Grid {
    fn new(cell: f64, points: impl Iterator<Item = (u32, Point3<f64>)>) -> Self {
        let mut grid = Self { cell, cells: BTreeMap::new() };
        for (name, p) in points {
            grid.cells.entry(grid.key(&p, 0.0)).or_default().push(name);
        }
        grid
    }

    fn key(&self, p: &Point3<f64>, by: f64) -> [i64; 3] {
        [0, 1, 2].map(|k| ((p[k] + by) / self.cell).floor() as i64)
    }

    /// Points in the cells that a box of `reach` about a place meets.
    fn near(&self, p: &Point3<f64>, reach: f64) -> impl Iterator<Item = u32> + use<'_> {
        let (low, high) = (self.key(p, -reach), self.key(p, reach));
        (low[0]..=high[0])
            .flat_map(move |x| (low[1]..=high[1]).flat_map(move |y| (low[2]..=high[2]).map(move |z| [x, y, z])))
            .filter_map(|key| self.cells.get(&key))
            .flatten()
            .copied()
    }
}
