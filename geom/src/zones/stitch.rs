//! The exposed surface of several bodies made one: where a face of one goes on as a face of another, within the contact
//! gap, they share vertices afterwards.
//!
//! Two passes over the open edges. The first closes what cutting left open, to within rounding. The second joins what is
//! then still apart, to within the gap, and only from one body to another, so that an open rim keeps its shape.

use crate::bodies::Forest;
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

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
    whole = whole.without_slivers(rounding).joined(rounding, None);
    if gap <= rounding {
        return whole;
    }
    let mut forest = Forest::new(whole.mesh.positions().len());
    for t in whole.mesh.triangles() {
        forest.join(t[0], t[1]);
        forest.join(t[1], t[2]);
    }
    let (body, _) = forest.numbered();
    whole.joined(gap, Some(&body))
}

impl Stitched {
    /// Without what cutting left that is thinner than `reach`: its sides lie on one another, and joined with them it would tie
    /// knots of edges with three and more faces.
    fn without_slivers(self, reach: f64) -> Self {
        let Self { mesh, from } = self;
        let topology = Topology::of(&mesh);
        let is_sliver = |f: usize| {
            let [a, b, c] = mesh.corners(f);
            let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
            2.0 * mesh.area_vector(f).norm() <= reach * longest
                && (0..3).any(|side| topology.across(f, side) == Across::Open)
        };
        let keep: Vec<bool> = (0..mesh.triangles().len()).map(|f| !is_sliver(f)).collect();
        let from = from.iter().zip(&keep).filter(|(_, keep)| **keep).map(|(f, _)| *f).collect();
        Self { mesh: mesh.keeping(&keep), from }
    }

    /// Moves open corners within `reach` of one another together, and puts those within reach of an open edge into it; with
    /// `body` only those of another one.
    fn joined(self, reach: f64, body: Option<&[u32]>) -> Self {
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
        let mut rim: Vec<u32> = open.iter().flat_map(ends).collect();
        rim.par_sort_unstable();
        rim.dedup();
        let points = Points::new(rim.iter().map(|&v| (v, at(v))));
        // The nearest within reach stands for a corner, if it stands for itself and for no other corner of the same body: a chain
        // of corners, each within reach of the next, would draw a whole rim together into one.
        const NONE: u32 = u32::MAX;
        let mut stands = vec![NONE; mesh.positions().len()];
        let mut taken: BTreeSet<(u32, u32)> = BTreeSet::new();
        for &v in &rim {
            let here = at(v);
            let own = body.map(|of| of[v as usize]);
            let mut best: Option<(f64, u32)> = None;
            points.near(&here, &here, reach, &mut |w| {
                let away = (at(w) - here).norm();
                let is_free = w < v && stands[w as usize] == w && other(v, w);
                if is_free
                    && away <= reach
                    && own.is_none_or(|own| !taken.contains(&(w, own)))
                    && best.is_none_or(|(d, u)| away < d || (away == d && w < u))
                {
                    best = Some((away, w));
                }
            });
            let name = best.map_or(v, |(_, w)| w);
            taken.extend(own.map(|own| (name, own)));
            stands[v as usize] = name;
        }
        let stand = |v: u32| if stands[v as usize] == NONE { v } else { stands[v as usize] };
        let inner_of = |edge: &(usize, usize)| {
            let [a, b] = ends(edge);
            let (start, way) = (at(a), at(b) - at(a));
            let mut found: BTreeMap<u32, f64> = BTreeMap::new();
            points.near(&start, &at(b), reach, &mut |v| {
                let t = (at(v) - start).dot(&way) / way.norm_squared();
                let off = (at(v) - start - way * t).norm();
                if t > 0.0 && t < 1.0 && off <= reach && other(v, a) {
                    let name = stand(v);
                    if !mesh.triangles()[edge.0].iter().any(|&c| stand(c) == name) {
                        found.insert(name, t);
                    }
                }
            });
            let mut inner: Vec<(u32, f64)> = found.into_iter().collect();
            inner.sort_by(|x, y| x.1.total_cmp(&y.1).then(x.0.cmp(&y.0)));
            (*edge, inner.into_iter().map(|x| x.0).collect::<Vec<u32>>())
        };
        let put: Vec<((usize, usize), Vec<u32>)> =
            open.par_iter().with_min_len(1 << 10).map(inner_of).filter(|(_, inner)| !inner.is_empty()).collect();
        let mut put: BTreeMap<(usize, usize), Vec<u32>> = put.into_iter().collect();
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

/// Points in halves of halves, each with its box.
struct Points {
    /// Node `k` has the children `2 k + 1` and `2 k + 2`.
    boxes: Vec<[Point3<f64>; 2]>,
    points: Vec<(u32, Point3<f64>)>,
}

/// Points that are not halved further.
const FEW: usize = 8;

impl Points {
    fn new(points: impl Iterator<Item = (u32, Point3<f64>)>) -> Self {
        let mut points: Vec<_> = points.collect();
        let levels = points.len().div_ceil(FEW).next_power_of_two().trailing_zeros();
        let mut boxes = vec![[Point3::origin(); 2]; (2 << levels) - 1];
        halve(&mut points, &mut boxes, 0, levels);
        Self { boxes, points }
    }

    /// Calls `each` with every point within `reach` of the line from `from` to `to`, and with some beyond it.
    fn near(&self, from: &Point3<f64>, to: &Point3<f64>, reach: f64, each: &mut impl FnMut(u32)) {
        let levels = (self.boxes.len() + 1).trailing_zeros() - 1;
        self.descend(0, levels, 0..self.points.len(), &(*from, to - from, reach), each);
    }

    fn descend(
        &self,
        node: usize,
        levels: u32,
        range: Range<usize>,
        line: &(Point3<f64>, Vector3<f64>, f64),
        each: &mut impl FnMut(u32),
    ) {
        if range.is_empty() || !meets(&self.boxes[node], line) {
            return;
        }
        if levels == 0 {
            return self.points[range].iter().for_each(|point| each(point.0));
        }
        let middle = range.start + range.len() / 2;
        self.descend(2 * node + 1, levels - 1, range.start..middle, line, each);
        self.descend(2 * node + 2, levels - 1, middle..range.end, line, each);
    }
}

fn halve(points: &mut [(u32, Point3<f64>)], boxes: &mut [[Point3<f64>; 2]], node: usize, levels: u32) {
    let none = [Point3::from([f64::INFINITY; 3]), Point3::from([f64::NEG_INFINITY; 3])];
    let own = points.iter().fold(none, |[low, high], (_, p)| [low.inf(p), high.sup(p)]);
    boxes[node] = own;
    if levels == 0 {
        return;
    }
    let axis = (own[1] - own[0]).imax();
    let middle = points.len() / 2;
    if middle > 0 {
        points.select_nth_unstable_by(middle, |a, b| a.1[axis].total_cmp(&b.1[axis]).then(a.0.cmp(&b.0)));
    }
    let (left, right) = points.split_at_mut(middle);
    halve(left, boxes, 2 * node + 1, levels - 1);
    halve(right, boxes, 2 * node + 2, levels - 1);
}

/// The line comes within `reach` of the box in every direction of the axes at once.
fn meets([low, high]: &[Point3<f64>; 2], (from, way, reach): &(Point3<f64>, Vector3<f64>, f64)) -> bool {
    let (mut first, mut last) = (0.0_f64, 1.0_f64);
    for k in 0..3 {
        let [a, b] = [low[k] - reach - from[k], high[k] + reach - from[k]];
        if way[k] == 0.0 {
            if a > 0.0 || b < 0.0 {
                return false;
            }
        } else {
            let [a, b] = [a / way[k], b / way[k]];
            (first, last) = (first.max(a.min(b)), last.min(a.max(b)));
        }
    }
    // A line that grazes the box is not lost to rounding.
    first <= last + 1e-9
}
