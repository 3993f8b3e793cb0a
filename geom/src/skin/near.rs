//! The triangles that can be nearest to points of a block, narrowed as the block is halved.

use super::BLOCK;
use super::block::Discs;
use crate::distance::{Node, Surface, Tree, V3, closest};

/// Half the diagonal of a cube over its side, rounded up.
pub(super) const HALF_DIAGONAL: f64 = 0.866_025_5;

/// The nearest point of a surface.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hit {
    /// Number of the triangle.
    pub(super) triangle: u32,
    pub(super) at: V3,
    pub(super) distance: f64,
}

/// All triangles within a reach of a block, and shorter lists for the cells on the way down. Answers are those that the
/// tree would give: the same to the last bit in every block that knows the triangle.
pub(super) struct Patch {
    corners: Vec<[V3; 3]>,
    numbers: Vec<u32>,
    /// Candidates of the block and of cells of a half, a quarter, an eighth of its side.
    lists: [Discs; 4],
    gaps: Vec<f32>,
    centre: V3,
    slack: f32,
}

impl Patch {
    /// Of the triangles under `nodes` those within `reach` of the cube about `centre`.
    pub(super) fn gather(tree: &Tree, surface: &Surface, nodes: &[Node], centre: V3, half: f64, reach: f64) -> Self {
        let (mut corners_of, mut numbers, mut discs) = (Vec::new(), Vec::new(), Discs::default());
        tree.triangles(surface, nodes, &centre, half, reach, |t, corners| {
            let [a, b, c] = corners.map(|p| p - centre);
            let normal = (b - a).cross(&(c - a)).normalize();
            // The box of a long slanting triangle says little; its plane says more.
            if normal.dot(&a).abs() > reach + 2.0 * HALF_DIAGONAL * half {
                return;
            }
            let middle = (a + b + c) / 3.0;
            let radius = [a, b, c].iter().map(|p| (p - middle).norm()).fold(0.0, f64::max) as f32;
            // Distances are compared in single precision: a little more room than rounding needs.
            let slack = 2e-6 * (radius + (middle.norm() + half) as f32);
            discs.push(single(&middle), single(&normal), radius + slack, numbers.len() as u32);
            corners_of.push(corners);
            numbers.push(t);
        });
        let lists = [discs, Discs::default(), Discs::default(), Discs::default()];
        Self { corners: corners_of, numbers, lists, gaps: Vec::new(), centre, slack: (2e-6 * half) as f32 }
    }

    /// Triangles of the block.
    pub(super) fn numbers(&self) -> &[u32] {
        &self.numbers
    }

    /// The nearest of the candidates of a level; of triangles equally near the first by number.
    pub(super) fn nearest(&mut self, level: usize, p: &V3) -> Option<Hit> {
        let list = &self.lists[level];
        list.gaps(single(&(p - self.centre)), &mut self.gaps);
        let mut first = 0;
        for (i, g) in self.gaps.iter().enumerate() {
            if *g < self.gaps[first] {
                first = i;
            }
        }
        let mut best = self.hit(*list.tri.get(first)?, p);
        let mut limit = self.rounded_up(best.distance);
        for (i, &k) in list.tri.iter().enumerate() {
            if i != first && self.gaps[i] <= limit {
                let hit = self.hit(k, p);
                if hit.distance < best.distance || (hit.distance == best.distance && hit.triangle < best.triangle) {
                    best = hit;
                    limit = self.rounded_up(best.distance);
                }
            }
        }
        Some(best)
    }

    /// Candidates of a level within `limit` of a point, in no order; `each` gives the limit that holds from then on.
    pub(super) fn visit(
        &mut self,
        level: usize,
        p: &V3,
        limit: f64,
        mut each: impl FnMut(&mut Self, u32, &[V3; 3]) -> f64,
    ) {
        let mut gaps = Vec::new();
        self.lists[level].gaps(single(&(p - self.centre)), &mut gaps);
        let mut limit = self.rounded_up(limit);
        for (i, gap) in gaps.into_iter().enumerate() {
            if gap <= limit {
                let k = self.lists[level].tri[i] as usize;
                let corners = self.corners[k];
                let next = each(self, self.numbers[k], &corners);
                limit = self.rounded_up(next);
            }
        }
    }

    /// Keeps for the next level what lies within `limit` of the point last asked about.
    pub(super) fn keep(&mut self, level: usize, limit: f64) {
        let limit = self.rounded_up(limit);
        let (from, to) = self.lists.split_at_mut(level + 1);
        to[0].clear();
        for (i, &gap) in self.gaps.iter().enumerate() {
            if gap <= limit {
                to[0].copy(&from[level], i);
            }
        }
    }

    fn hit(&self, k: u32, p: &V3) -> Hit {
        let at = closest(p, &self.corners[k as usize]);
        Hit { triangle: self.numbers[k as usize], at, distance: (p - at).norm() }
    }

    /// A distance with the room that single precision needs.
    fn rounded_up(&self, distance: f64) -> f32 {
        distance as f32 * 1.000_01 + self.slack
    }
}

fn single(v: &V3) -> [f32; 3] {
    [v.x as f32, v.y as f32, v.z as f32]
}

/// Level of a cell of `side` steps in its block.
pub(super) fn level_of(side: usize) -> usize {
    (BLOCK / side).trailing_zeros() as usize
}

/// The level of a step. Its candidates, as kept from a cell of two, are those of the corners of that too.
pub(super) const FINEST: usize = 3;
