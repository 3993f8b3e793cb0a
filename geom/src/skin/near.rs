//! The triangles that can be nearest to points of a block, narrowed as the block is halved.

use super::BLOCK;
use crate::distance::{Disc, Discs, Node, Surface, Tree, V3, closest, single};
use crate::effort::Effort;
use std::ops::Range;

/// Half the diagonal of a cube over its side, rounded up.
pub(super) const HALF_DIAGONAL: f64 = 0.866_025_5;

/// Level of a cell of `side` steps in its block.
pub(super) fn level_of(side: usize) -> usize {
    (BLOCK / side).trailing_zeros() as usize
}

/// The level of a step. Its candidates, as kept from a cell of two, are those of the corners of that too.
pub(super) const FINEST: usize = 3;

/// A surface that blocks take their triangles from, up to a distance.
#[derive(Clone, Copy)]
pub(super) struct Source<'s> {
    pub(super) tree: &'s Tree,
    pub(super) surface: Surface<'s>,
    /// The discs about the leaves of the tree.
    pub(super) discs: &'s [Disc],
    pub(super) reach: f64,
    pub(super) effort: &'s Effort,
}

/// The nearest point of a surface.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hit {
    /// Number of the triangle.
    pub(super) triangle: u32,
    pub(super) at: V3,
    pub(super) distance: f64,
}

impl Hit {
    /// Of triangles equally near the first by number: the answer is the same whoever asks.
    fn before(&self, other: &Self) -> bool {
        self.distance < other.distance || (self.distance == other.distance && self.triangle < other.triangle)
    }
}

/// The nearest so far, and the square of what may still be nearer.
struct Best {
    hit: Hit,
    limit: f32,
}

/// Marks the items of a list that are leaves; the others are triangles of the patch.
const LEAF: u32 = 1 << 31;

/// All triangles within a reach of a block, and shorter lists for the cells on the way down. Leaves of the tree stand for
/// their triangles until one must be looked at. Answers are those that the tree would give: the same to the last bit in
/// every block that knows the triangle.
pub(super) struct Patch<'s> {
    source: Source<'s>,
    /// Leaves, and the first of its triangles here once it has been opened.
    leaves: Vec<(u32, Option<u32>)>,
    corners: Vec<[V3; 3]>,
    numbers: Vec<u32>,
    discs: Vec<Disc>,
    /// Candidates of the block and of cells of a half, a quarter, an eighth of its side.
    lists: [Discs; 4],
    /// Squares of the distances from the point last asked about.
    gaps: Vec<f32>,
    centre: V3,
    half: f64,
    slack: f32,
    /// Steps of work.
    work: u64,
}

/// Steps for a question, for a triangle whose disc is looked at and for one whose nearest point is found, by trial.
const ASK_WORK: u64 = 50;
const DISC_WORK: u64 = 4;
const LOOK_WORK: u64 = 40;
/// So many steps are counted together.
const COUNTED: u64 = 10_000_000;

impl Drop for Patch<'_> {
    fn drop(&mut self) {
        self.source.effort.spend(self.work);
    }
}

impl<'s> Patch<'s> {
    /// Of the triangles under `nodes` those in reach of the cube about `centre`.
    pub(super) fn new(source: &Source<'s>, nodes: &[Node], (centre, half): (V3, f64)) -> Self {
        let mut it = Self {
            source: *source,
            leaves: Vec::new(),
            corners: Vec::new(),
            numbers: Vec::new(),
            discs: Vec::new(),
            lists: Default::default(),
            gaps: Vec::new(),
            centre,
            half,
            slack: (2e-6 * half) as f32,
            work: 0,
        };
        // The box of long slanting triangles says little; their disc says more.
        let limit = it.squared(source.reach + 2.0 * HALF_DIAGONAL * half);
        source.tree.leaves(nodes, &centre, half, source.reach, |leaf| {
            let disc = source.discs[leaf as usize].seen_from(&centre, half);
            if disc.gap_squared([0.0; 3]) <= limit {
                it.lists[0].push(&disc, LEAF | it.leaves.len() as u32);
                it.leaves.push((leaf, None));
            }
        });
        it
    }

    /// Counts steps. Once too many are spent there are no candidates any more, and the block is soon done.
    pub(super) fn spend(&mut self, steps: u64) {
        self.work += steps;
        if self.work > COUNTED {
            self.source.effort.spend(std::mem::take(&mut self.work));
            if self.source.effort.is_spent() {
                self.lists.iter_mut().for_each(Discs::clear);
                self.gaps.clear();
            }
        }
    }

    /// Triangles in reach, and some that are not.
    pub(super) fn triangles(&self) -> impl Iterator<Item = u32> {
        self.leaves.iter().flat_map(|&(leaf, _)| self.source.tree.leaf(leaf)).copied()
    }

    /// The triangles of an item, ready to be looked at.
    fn open(&mut self, item: u32) -> Range<u32> {
        if item & LEAF == 0 {
            return item..item + 1;
        }
        let (leaf, first) = &mut self.leaves[(item ^ LEAF) as usize];
        let triangles = self.source.tree.leaf(*leaf);
        let start = *first.get_or_insert(self.numbers.len() as u32);
        if start as usize == self.numbers.len() {
            for &t in triangles {
                let corners = self.source.surface.corners(t);
                let [a, b, c] = corners.map(|p| p - self.centre);
                let normal = (b - a).cross(&(c - a)).try_normalize(0.0).unwrap_or_else(V3::zeros);
                self.discs.push(Disc::of(&[a, b, c], &normal, self.half));
                self.corners.push(corners);
                self.numbers.push(t);
            }
        }
        start..start + triangles.len() as u32
    }

    /// The nearest of the candidates of a level.
    pub(super) fn nearest(&mut self, level: usize, p: &V3) -> Option<Hit> {
        self.spend(ASK_WORK + self.lists[level].item.len() as u64);
        self.lists[level].gaps_squared(single(&(p - self.centre)), &mut self.gaps);
        let first = least(&self.gaps)?;
        let mut best = Best { hit: Hit { triangle: u32::MAX, at: *p, distance: f64::INFINITY }, limit: f32::INFINITY };
        self.look(self.lists[level].item[first], p, &mut best);
        for start in (0..self.gaps.len()).step_by(8) {
            let end = (start + 8).min(self.gaps.len());
            if !self.gaps[start..end].iter().fold(false, |any, gap| any | (*gap <= best.limit)) {
                continue;
            }
            for i in start..end {
                if self.gaps[i] <= best.limit && i != first {
                    self.look(self.lists[level].item[i], p, &mut best);
                }
            }
        }
        best.hit.distance.is_finite().then_some(best.hit)
    }

    /// Takes the triangles of an item into account.
    #[inline]
    fn look(&mut self, item: u32, p: &V3, best: &mut Best) {
        if item & LEAF == 0 {
            return self.try_one(item as usize, p, best);
        }
        let from = single(&(p - self.centre));
        for k in self.open(item) {
            if self.discs[k as usize].gap_squared(from) <= best.limit {
                self.try_one(k as usize, p, best);
            }
        }
    }

    #[inline]
    fn try_one(&mut self, k: usize, p: &V3, best: &mut Best) {
        self.work += LOOK_WORK;
        let at = closest(p, &self.corners[k]);
        let hit = Hit { triangle: self.numbers[k], at, distance: (p - at).norm() };
        if hit.before(&best.hit) {
            *best = Best { hit, limit: self.squared(hit.distance) };
        }
    }

    /// Candidates of a level within `limit` of a point, in no order; `each` gives the limit that holds from then on, less than nothing
    /// to end.
    pub(super) fn visit(
        &mut self,
        level: usize,
        p: &V3,
        limit: f64,
        mut each: impl FnMut(&mut Self, u32, &[V3; 3]) -> f64,
    ) {
        self.spend(ASK_WORK + self.lists[level].item.len() as u64);
        let mut gaps = Vec::new();
        let from = single(&(p - self.centre));
        self.lists[level].gaps_squared(from, &mut gaps);
        let mut limit = self.squared(limit.max(0.0));
        for (i, gap) in gaps.into_iter().enumerate() {
            if gap > limit {
                continue;
            }
            let Some(&item) = self.lists[level].item.get(i) else { return };
            for k in self.open(item) {
                let k = k as usize;
                self.work += DISC_WORK;
                if self.discs[k].gap_squared(from) <= limit {
                    self.work += LOOK_WORK;
                    let corners = self.corners[k];
                    let next = each(self, self.numbers[k], &corners);
                    if next < 0.0 {
                        return;
                    }
                    limit = self.squared(next);
                }
            }
        }
    }

    /// Keeps for the next level what lies within `limit` of the point last asked about.
    pub(super) fn keep(&mut self, level: usize, limit: f64) {
        let limit = self.squared(limit);
        let (from, to) = self.lists.split_at_mut(level + 1);
        let (from, to) = (&from[level], &mut to[0]);
        to.clear();
        for (i, &gap) in self.gaps.iter().enumerate() {
            if gap <= limit {
                to.push(&from.get(i), from.item[i]);
            }
        }
    }

    /// Keeps for the next level what can be the nearest anywhere within `spread` of `p`, the point last asked about. Leaves
    /// larger than `spread` are opened.
    pub(super) fn keep_nearest(&mut self, level: usize, p: &V3, hit: &Hit, spread: f64) {
        let limit = self.squared(hit.distance + 2.0 * spread);
        let rival = Rival {
            foot: single(&(hit.at - self.centre)),
            to: single(&(hit.at - p)),
            distance: hit.distance as f32,
            spread: spread as f32,
        };
        let from = single(&(p - self.centre));
        let mut next = std::mem::take(&mut self.lists[level + 1]);
        next.clear();
        for i in 0..self.gaps.len() {
            if self.gaps[i] > limit {
                continue;
            }
            let (disc, item) = (self.lists[level].get(i), self.lists[level].item[i]);
            if rival.beats(&disc) {
                continue;
            }
            if item & LEAF == 0 || disc.radius <= rival.spread {
                next.push(&disc, item);
                continue;
            }
            for k in self.open(item) {
                let disc = &self.discs[k as usize];
                if disc.gap_squared(from) <= limit && !rival.beats(disc) {
                    next.push(disc, k);
                }
            }
        }
        self.lists[level + 1] = next;
    }

    /// Square of a distance with the room that single precision needs.
    fn squared(&self, distance: f64) -> f32 {
        (distance as f32 * 1.000_01 + self.slack).powi(2)
    }
}

/// A known nearest point to the middle of a cell.
struct Rival {
    foot: [f32; 3],
    /// From the middle to it.
    to: [f32; 3],
    distance: f32,
    /// Farthest point of the cell from its middle.
    spread: f32,
}

impl Rival {
    /// Whether it is nearer than a disc to all points of the cell.
    ///
    /// A point `m` is farther than the foot from all of them when `u^2 + 2 to.(m - foot) > 2 u spread`, `u` its distance from
    /// the foot.
    fn beats(&self, disc: &Disc) -> bool {
        let dot = |a: [f32; 3], b: [f32; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        let from: [f32; 3] = std::array::from_fn(|k| disc.centre[k] - self.foot[k]);
        let square = dot(from, from);
        if square <= (self.spread + disc.radius + disc.half).powi(2) {
            return false;
        }
        let u = square.sqrt() - disc.radius - disc.half;
        let across = dot(self.to, disc.normal);
        let tilt =
            disc.radius * (self.distance * self.distance - across * across).max(0.0).sqrt() + disc.half * across.abs();
        u * (u - 2.0 * self.spread) + 2.0 * (dot(self.to, from) - tilt) > 1e-3 * self.spread * self.spread
    }
}

/// Where the least of some numbers is, none of them negative: such are in order as their bits are, which are compared
/// several at once.
fn least(numbers: &[f32]) -> Option<usize> {
    let mut lanes = [i32::MAX; 8];
    let (eights, rest) = numbers.as_chunks::<8>();
    for eight in eights {
        for (lane, number) in lanes.iter_mut().zip(eight) {
            *lane = (*lane).min(number.to_bits() as i32);
        }
    }
    let least = lanes.into_iter().chain(rest.iter().map(|number| number.to_bits() as i32)).min()?;
    numbers.iter().position(|number| number.to_bits() as i32 == least)
}
