//! What a spot on a face is: outside, inside, or lying against something.

use super::super::contact::Plate;
use super::super::fate::{Kind, Verdict};
use super::super::field::{Coincident, Spot, axis_of, counted, winding_above};
use super::super::tree::{Aabb, Tree};
use super::Job;
use crate::units::Volume;
use nalgebra::Point3;
use std::ops::Range;

/// All that a ray from anywhere on a face can meet, close together: what every cell of the face would ask the trees for again.
pub(super) struct Column {
    /// Ascending, and the triangles of each.
    pieces: Vec<u32>,
    ranges: Vec<Range<usize>>,
    triangles: Vec<(u32, [Point3<f64>; 3])>,
    /// Their boxes as the ray sees them: from and to, twice.
    seen: Vec<[f64; 4]>,
}

impl Column {
    /// Cells of a face from which on it is worth it.
    pub(super) const WORTH: usize = 4;
    /// Triangles beyond which a tree is faster.
    const MOST: usize = 1 << 12;

    /// Over a face; `None` where there is too much.
    pub(super) fn over(
        job: &Job<'_>,
        plate: &Plate,
        pieces: impl Iterator<Item = u32>,
        trees: &[Option<Tree>],
    ) -> Option<Self> {
        let Job { mesh, ref boxes, tol, .. } = *job;
        let eps = tol.plane;
        let spot = plate.middle();
        let (k, way) = axis_of(&spot.normal);
        let mut reach = Aabb::around(&mesh.corners(spot.face as usize)).grown(3.0 * eps);
        if way > 0.0 {
            reach.hi[k] = f64::INFINITY;
        } else {
            reach.lo[k] = f64::NEG_INFINITY;
        }
        let mut it = Self { pieces: Vec::new(), ranges: Vec::new(), triangles: Vec::new(), seen: Vec::new() };
        let (i, j) = ((k + 1) % 3, (k + 2) % 3);
        let mut pieces: Vec<u32> = pieces.filter(|&q| boxes[q as usize].meets(&reach)).collect();
        pieces.sort_unstable();
        for q in pieces {
            let start = it.triangles.len();
            if let Some(tree) = &trees[q as usize] {
                tree.visit(
                    |b| b.meets(&reach),
                    |face| {
                        let corners = mesh.corners(face as usize);
                        let own = Aabb::around(&corners);
                        if own.meets(&reach) && it.triangles.len() <= Self::MOST {
                            it.triangles.push((face, corners));
                            it.seen.push([own.lo[i], own.hi[i], own.lo[j], own.hi[j]]);
                        }
                    },
                );
            }
            job.effort.spend(CROSSING_WORK * (it.triangles.len() - start) as u64);
            if it.triangles.len() > Self::MOST {
                return None;
            }
            it.pieces.push(q);
            it.ranges.push(start..it.triangles.len());
        }
        Some(it)
    }

    fn pieces(&self) -> &[u32] {
        &self.pieces
    }

    /// As [`winding_above`] of the whole piece.
    fn winding_above(
        &self,
        piece: u32,
        spot: &Spot,
        eps: f64,
        coincident: &mut Vec<Coincident>,
        work: &mut u64,
    ) -> i32 {
        let Ok(k) = self.pieces.binary_search(&piece) else { return 0 };
        let range = self.ranges[k].clone();
        *work += SEEN_WORK * range.len() as u64;
        let axis = axis_of(&spot.normal).0;
        let [p, q] = [spot.at[(axis + 1) % 3], spot.at[(axis + 2) % 3]];
        let mut winding = 0;
        for (seen, (face, corners)) in self.seen[range.clone()].iter().zip(&self.triangles[range]) {
            if seen[0] <= p && p <= seen[1] && seen[2] <= q && q <= seen[3] {
                *work += CROSSING_WORK;
                winding += counted(*face, corners, spot, eps, coincident);
            }
        }
        winding
    }
}

/// Steps of work for a triangle in a column, and for one that the ray may cross, by trial.
const SEEN_WORK: u64 = 2;
const CROSSING_WORK: u64 = 12;

impl Job<'_> {
    /// The winding on both sides of a spot, and what follows.
    pub(super) fn judge(
        &self,
        spot: &Spot,
        own: bool,
        near: &[Vec<u32>],
        trees: &[Option<Tree>],
        column: Option<&Column>,
    ) -> Verdict {
        let home = self.solid.piece[spot.face as usize];
        let closed = self.closed(home);
        let mut coincident: Vec<Coincident> = Vec::new();
        // Pieces with the winding above and below.
        let mut counts: Vec<(u32, i32, i32)> = Vec::new();
        let here = Aabb::around(&[spot.at]).grown(2.0 * self.tol.plane);
        let mut work = 0;
        let mut winding = |q: u32| match (column, &trees[q as usize]) {
            (Some(column), _) => Some(column.winding_above(q, spot, self.tol.plane, &mut coincident, &mut work)),
            (None, Some(tree)) => {
                Some(winding_above(self.mesh, tree, spot, self.tol.plane, &mut coincident, &mut work))
            }
            (None, None) => None,
        };
        let others = column.map_or(&near[home as usize][..], Column::pieces);
        for &q in others.iter().filter(|&&q| q != home && self.boxes[q as usize].meets(&here)) {
            counts.extend(winding(q).map(|above| (q, above, above)));
        }
        if closed {
            let above = match if own { winding(home) } else { None } {
                Some(above) => above,
                None => -i32::from(self.pieces[home as usize].volume < Volume::ZERO),
            };
            counts.push((home, above, above + 1));
        }
        // Pairs of pieces are looked at below.
        self.effort.spend(work + others.len() as u64 + (counts.len() as u64).pow(2));
        for c in &coincident {
            let q = self.solid.piece[c.face as usize];
            if let Some(count) = counts.iter_mut().find(|x| x.0 == q) {
                count.2 += if c.same_way { 1 } else { -1 };
            }
        }
        let above: i32 = counts.iter().map(|c| c.1).sum();
        let below: i32 = counts.iter().map(|c| c.2).sum();
        let first = coincident.iter().all(|c| spot.face < c.face);
        let bounding = i32::from(below >= 1) - i32::from(above >= 1);
        let mut verdict = Verdict { kind: Kind::Buried, bounding: 0, common: Vec::new(), against: None };
        if !closed {
            let free = above < 1 && coincident.is_empty() && !self.drawn_twice(spot.face);
            let drawn_on = above < 1 || below < 1;
            verdict.kind = if free {
                Kind::Exposed
            } else if drawn_on {
                Kind::Doubled
            } else {
                Kind::Buried
            };
            return verdict;
        }
        let beside = counts.iter().filter(|count| count.0 != home).all(|count| count.1 < 1);
        verdict.kind = match (bounding, coincident.is_empty(), first) {
            (0, true, _) if beside && self.solid.drawn_back[home as usize] => Kind::Hidden,
            (0, true, _) if above < 1 => Kind::Exposed,
            (0, true, _) => Kind::Buried,
            // Deep inside it makes no difference what lies against what.
            (0, false, _) if above >= 1 && below >= 1 && above != below => Kind::Buried,
            (0, false, _) => Kind::Contact,
            (_, _, true) => Kind::Exposed,
            (_, _, false) => Kind::Doubled,
        };
        if verdict.kind == Kind::Contact {
            verdict.against = coincident.iter().map(|c| self.solid.piece[c.face as usize]).find(|&q| q != home);
        }
        if first {
            verdict.bounding = bounding;
            for (k, a) in counts.iter().enumerate() {
                for b in &counts[k + 1..] {
                    let sign = i32::from(a.2 >= 1 && b.2 >= 1) - i32::from(a.1 >= 1 && b.1 >= 1);
                    if sign != 0 {
                        verdict.common.push(([a.0.min(b.0), a.0.max(b.0)], sign));
                    }
                }
            }
        }
        verdict
    }
}
