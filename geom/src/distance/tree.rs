//! A tree of boxes over triangles in the order of a space-filling curve: eight to a node, no pointers, 8 bytes a triangle.

use rayon::prelude::*;

use super::{Disc, Surface, V3, closest};
use crate::effort::Effort;

const FAN: usize = 8;
/// Steps of work for a leaf whose triangles are looked at.
const OPEN_WORK: u64 = 200;

/// A box, rounded outwards.
#[derive(Clone, Copy, Debug)]
struct Bounds {
    low: [f32; 3],
    high: [f32; 3],
}

impl Bounds {
    const NONE: Self = Self { low: [f32::INFINITY; 3], high: [f32::NEG_INFINITY; 3] };
    fn join(self, o: &Self) -> Self {
        Self {
            low: std::array::from_fn(|k| self.low[k].min(o.low[k])),
            high: std::array::from_fn(|k| self.high[k].max(o.high[k])),
        }
    }
    fn of(corners: &[V3; 3]) -> Self {
        Self {
            low: std::array::from_fn(|k| {
                let v = corners[0][k].min(corners[1][k]).min(corners[2][k]);
                let f = v as f32;
                if f64::from(f) > v { f.next_down() } else { f }
            }),
            high: std::array::from_fn(|k| {
                let v = corners[0][k].max(corners[1][k]).max(corners[2][k]);
                let f = v as f32;
                if f64::from(f) < v { f.next_up() } else { f }
            }),
        }
    }
    /// Square of the distance to the box about `centre` with half sides `half`.
    fn gap_squared(&self, centre: &V3, half: f64) -> f64 {
        (0..3)
            .map(|k| {
                let (lo, hi) = (f64::from(self.low[k]), f64::from(self.high[k]));
                let gap = (lo - centre[k]).max(centre[k] - hi) - half;
                if gap > 0.0 { gap * gap } else { 0.0 }
            })
            .sum()
    }
}

/// A node of the tree: nodes of level 0 hold triangles.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Node {
    level: u32,
    index: u32,
}

/// The tree.
#[derive(Debug)]
pub(crate) struct Tree {
    /// Triangles of the surface in the order of the curve; those without area left out.
    order: Vec<u32>,
    levels: Vec<Vec<Bounds>>,
}

/// Place of a cell on Hilbert's curve through `2^bits` cells a side: neighbours on it are neighbours in space.
///
/// By J. Skilling, *Programming the Hilbert curve*, AIP Conf. Proc. 707, 2004.
fn on_curve(mut x: [u32; 3], bits: u32) -> u64 {
    let mut bit = 1 << (bits - 1);
    while bit > 1 {
        let below = bit - 1;
        for k in 0..3 {
            if x[k] & bit != 0 {
                x[0] ^= below;
            } else {
                let swap = (x[0] ^ x[k]) & below;
                x[0] ^= swap;
                x[k] ^= swap;
            }
        }
        bit >>= 1;
    }
    x[1] ^= x[0];
    x[2] ^= x[1];
    let mut turn = 0;
    let mut bit = 1 << (bits - 1);
    while bit > 1 {
        if x[2] & bit != 0 {
            turn ^= bit - 1;
        }
        bit >>= 1;
    }
    let [x, y, z] = x.map(|c| spread(u64::from(c ^ turn)));
    x << 2 | y << 1 | z
}

/// Puts two zero bits before every bit of a 21-bit number.
fn spread(x: u64) -> u64 {
    let mut x = x & 0x1f_ffff;
    for (shift, mask) in [
        (32, 0x1f_0000_0000_ffff_u64),
        (16, 0x1f_0000_ff00_00ff),
        (8, 0x100f_00f0_0f00_f00f),
        (4, 0x10c3_0c30_c30c_30c3),
        (2, 0x1249_2492_4924_9249),
    ] {
        x = (x | x << shift) & mask;
    }
    x
}

/// Sorts numbers of so many bits: by their highest bits into buckets first, which then fit the cache.
fn sorted(mut all: Vec<u64>, bits: u32) -> Vec<u64> {
    const BITS: u32 = 15;
    const PIECES: usize = 16;
    if all.len() < 1 << 17 {
        all.par_sort_unstable();
        return all;
    }
    let bucket = |key: u64| (key >> (bits - BITS)) as usize;
    let pieces: Vec<(Vec<u64>, Vec<u32>)> = all
        .par_chunks(all.len().div_ceil(PIECES))
        .map(|piece| {
            let mut starts = vec![0u32; (1 << BITS) + 1];
            piece.iter().for_each(|&key| starts[bucket(key) + 1] += 1);
            (0..1 << BITS).for_each(|b| starts[b + 1] += starts[b]);
            let (mut next, mut out) = (starts.clone(), vec![0; piece.len()]);
            for &key in piece {
                let slot = &mut next[bucket(key)];
                out[*slot as usize] = key;
                *slot += 1;
            }
            (out, starts)
        })
        .collect();
    drop(all);
    (0..1usize << BITS)
        .into_par_iter()
        .with_min_len(64)
        .flat_map_iter(|b| {
            let own =
                |(keys, starts): &'_ (Vec<u64>, Vec<u32>)| keys[starts[b] as usize..starts[b + 1] as usize].to_vec();
            let mut keys: Vec<u64> = pieces.iter().flat_map(own).collect();
            if keys.len() < 1 << 17 {
                keys.sort_unstable()
            } else {
                keys.par_sort_unstable()
            }
            keys
        })
        .collect()
}

impl Tree {
    pub(crate) fn of(surface: &Surface) -> Self {
        let count = surface.triangles.len() as u32;
        let (mut low, mut high) = (V3::repeat(f64::INFINITY), V3::repeat(f64::NEG_INFINITY));
        for p in surface.positions.iter() {
            low = low.inf(&p.coords);
            high = high.sup(&p.coords);
        }
        // Place on the curve and number in one word: of 2^n triangles the numbers take n bits, the places all that is left.
        let number_bits = count.max(1).ilog2() + 1;
        let bits = (64 - number_bits) / 3;
        let scale = ((1u64 << bits) - 1) as f64 / (high - low).max().max(f64::MIN_POSITIVE);
        let keyed: Vec<u64> = (0..count)
            .into_par_iter()
            .filter_map(|t| {
                let [a, b, c] = surface.corners(t);
                if (b - a).cross(&(c - a)).norm_squared() == 0.0 {
                    return None;
                }
                let at = ((a + b + c) / 3.0 - low) * scale;
                let place = on_curve([at.x as u32, at.y as u32, at.z as u32], bits);
                Some(place << number_bits | u64::from(t))
            })
            .collect();
        let number = (1 << number_bits) - 1;
        let order: Vec<u32> =
            sorted(keyed, 3 * bits + number_bits).into_par_iter().map(|key| (key & number) as u32).collect();
        let mut levels: Vec<Vec<Bounds>> = vec![
            order
                .par_chunks(FAN)
                .map(|some| some.iter().fold(Bounds::NONE, |b, &t| b.join(&Bounds::of(&surface.corners(t)))))
                .collect(),
        ];
        while levels[levels.len() - 1].len() > 1 {
            let last = &levels[levels.len() - 1];
            levels.push(last.par_chunks(FAN).map(|some| some.iter().fold(Bounds::NONE, Bounds::join)).collect());
        }
        Self { order, levels }
    }

    /// Triangles with an area, neighbours together.
    pub(crate) fn in_order(&self) -> &[u32] {
        &self.order
    }

    pub(crate) fn root(&self) -> Option<Node> {
        let level = self.levels.len() - 1;
        (!self.order.is_empty()).then_some(Node { level: level as u32, index: 0 })
    }

    /// Of the nodes (or their descendants) in `from`, those within `reach` of a cube, none larger than it needs to be.
    pub(crate) fn near(
        &self,
        surface: &Surface,
        from: &[Node],
        centre: &V3,
        half: f64,
        reach: f64,
        effort: &Effort,
    ) -> Vec<Node> {
        let mut out = Vec::with_capacity(from.len());
        for &node in from {
            self.descend(node, centre, half, reach, &mut out);
        }
        // The box of a leaf whose triangles lie far apart covers the empty space between them.
        let round = reach + 3f64.sqrt() * half;
        let mut opened = 0;
        out.retain(|node| {
            let large = |b: &Bounds| (0..3).any(|k| f64::from(b.high[k] - b.low[k]) > 2.0 * (half + reach));
            node.level > 0 || !large(&self.levels[0][node.index as usize]) || {
                let within = |&t: &u32| (centre - closest(centre, &surface.corners(t))).norm() <= round;
                opened += 1;
                self.leaf(node.index).iter().any(within)
            }
        });
        if opened > 0 {
            effort.spend(OPEN_WORK * opened);
        }
        out
    }

    fn descend(&self, node: Node, centre: &V3, half: f64, reach: f64, out: &mut Vec<Node>) {
        let b = &self.levels[node.level as usize][node.index as usize];
        if b.gap_squared(centre, half) > reach * reach {
            return;
        }
        let size = (0..3).map(|k| b.high[k] - b.low[k]).fold(0.0, f32::max);
        if node.level == 0 || f64::from(size) < half {
            out.push(node);
            return;
        }
        for child in self.children(node).into_iter().flatten() {
            self.descend(child, centre, half, reach, out);
        }
    }

    /// The nodes below a node, or the triangles of a leaf.
    pub(super) fn children(&self, node: Node) -> Result<impl Iterator<Item = Node> + use<>, &[u32]> {
        let Some(level) = node.level.checked_sub(1) else {
            let start = node.index as usize * FAN;
            return Err(&self.order[start..(start + FAN).min(self.order.len())]);
        };
        let first = node.index * FAN as u32;
        let end = (first + FAN as u32).min(self.levels[level as usize].len() as u32);
        Ok((first..end).map(move |index| Node { level, index }))
    }

    /// The triangles of the nodes where they are leaves, `most` at the utmost.
    pub(crate) fn few_leaves(&self, nodes: &[Node], most: usize) -> Option<impl Iterator<Item = &[u32]>> {
        let few = nodes.len() <= most && nodes.iter().all(|node| node.level == 0);
        few.then(|| nodes.iter().map(|node| self.leaf(node.index)))
    }

    /// The triangles of a leaf.
    pub(crate) fn leaf(&self, leaf: u32) -> &[u32] {
        let start = leaf as usize * FAN;
        &self.order[start..(start + FAN).min(self.order.len())]
    }

    /// The disc about each leaf. 32 bytes a leaf.
    pub(crate) fn discs(&self, surface: &Surface) -> Vec<Disc> {
        self.of_leaves(|some| {
            let mut corners = [[V3::zeros(); 3]; FAN];
            some.iter().zip(&mut corners).for_each(|(&t, c)| *c = surface.corners(t));
            Disc::around(&corners[..some.len()])
        })
    }

    /// A value for each leaf from its triangles.
    pub(crate) fn of_leaves<T: Send>(&self, value: impl Fn(&[u32]) -> T + Send + Sync) -> Vec<T> {
        self.order.par_chunks(FAN).map(value).collect()
    }

    /// Every leaf below the nodes whose box is within `reach` of a cube.
    pub(crate) fn leaves(&self, from: &[Node], centre: &V3, half: f64, reach: f64, mut each: impl FnMut(u32)) {
        for node in from {
            let span = 1 << (3 * node.level);
            let start = node.index as usize * span;
            let end = (start + span).min(self.levels[0].len());
            for (leaf, bounds) in (start..end).zip(&self.levels[0][start..end]) {
                if bounds.gap_squared(centre, half) <= reach * reach {
                    each(leaf as u32);
                }
            }
        }
    }

    /// Triangles within `limit` of a point, near boxes first; `each` gives the limit that holds from then on, less than nothing to end.
    pub(crate) fn visit(&self, surface: &Surface, p: &V3, limit: f64, each: &mut impl FnMut(u32, [V3; 3]) -> f64) {
        let Some(root) = self.root() else { return };
        self.visit_from(&[root], surface, p, limit, each);
    }

    /// The same among the triangles below some nodes.
    pub(crate) fn visit_from(
        &self,
        from: &[Node],
        surface: &Surface,
        p: &V3,
        mut limit: f64,
        each: &mut impl FnMut(u32, [V3; 3]) -> f64,
    ) {
        let gap = |node: Node| self.levels[node.level as usize][node.index as usize].gap_squared(p, 0.0);
        let mut stack: Vec<(f64, Node)> =
            from.iter().map(|&node| (gap(node), node)).filter(|(gap, _)| *gap <= limit * limit).collect();
        stack.sort_unstable_by(|a, b| b.0.total_cmp(&a.0));
        while let Some((gap, node)) = stack.pop() {
            if gap > limit * limit {
                continue;
            }
            match self.children(node) {
                Err(triangles) => {
                    for &t in triangles {
                        limit = each(t, surface.corners(t));
                        if limit < 0.0 {
                            return;
                        }
                    }
                }
                Ok(children) => {
                    let start = stack.len();
                    for child in children {
                        let gap = self.levels[child.level as usize][child.index as usize].gap_squared(p, 0.0);
                        if gap <= limit * limit {
                            stack.push((gap, child));
                        }
                    }
                    stack[start..].sort_unstable_by(|a, b| b.0.total_cmp(&a.0));
                }
            }
        }
    }

    /// The triangle nearest to a point, its nearest point and the distance; `None` beyond `limit`. Of triangles equally
    /// near, the first by number.
    pub(crate) fn nearest(&self, surface: &Surface, p: &V3, limit: f64) -> Option<(u32, V3, f64)> {
        let root = self.root()?;
        self.nearest_from(&[root], surface, p, limit)
    }

    /// The same among the triangles below some nodes.
    pub(crate) fn nearest_from(&self, from: &[Node], surface: &Surface, p: &V3, limit: f64) -> Option<(u32, V3, f64)> {
        let mut best: Option<(u32, V3, f64)> = None;
        self.visit_from(from, surface, p, limit, &mut |t, corners| {
            let at = closest(p, &corners);
            let d = (p - at).norm();
            let better = best.is_none_or(|(u, _, e)| d < e || (d == e && t < u));
            if d <= limit && better {
                best = Some((t, at, d));
            }
            // A box is rounded and a distance too: equals are not to be lost.
            best.map_or(limit, |b| b.2 * (1.0 + 1e-12))
        });
        best
    }

    /// How far a ray (of unit direction) goes from a point to the first triangle that it leaves through.
    pub(crate) fn way_out(&self, surface: &Surface, from: &V3, along: &V3) -> Option<f64> {
        let mut best = f64::INFINITY;
        let mut stack: Vec<Node> = self.root().into_iter().collect();
        let inverse = along.map(|c| 1.0 / c);
        while let Some(node) = stack.pop() {
            match self.children(node) {
                Err(triangles) => {
                    for &t in triangles {
                        let [a, b, c] = surface.corners(t);
                        let (u, v) = (b - a, c - a);
                        let cross = along.cross(&v);
                        let det = u.dot(&cross);
                        // Seen from behind: the determinant is negative.
                        if det >= 0.0 {
                            continue;
                        }
                        let w = from - a;
                        let x = w.dot(&cross) / det;
                        let q = w.cross(&u);
                        let y = along.dot(&q) / det;
                        let far = v.dot(&q) / det;
                        if x >= -1e-9 && y >= -1e-9 && x + y <= 1.0 + 1e-9 && far > 0.0 && far < best {
                            best = far;
                        }
                    }
                }
                Ok(children) => {
                    let start = stack.len();
                    let mut entry = [0.0; FAN];
                    for child in children {
                        let b = &self.levels[child.level as usize][child.index as usize];
                        let (mut enter, mut leave) = (0.0f64, best);
                        for k in 0..3 {
                            let p = (f64::from(b.low[k]) - from[k]) * inverse[k];
                            let q = (f64::from(b.high[k]) - from[k]) * inverse[k];
                            enter = enter.max(p.min(q));
                            leave = leave.min(p.max(q));
                        }
                        if enter <= leave {
                            // By insertion, the nearest box last.
                            let mut i = stack.len() - start;
                            stack.push(child);
                            while i > 0 && entry[i - 1] < enter {
                                entry[i] = entry[i - 1];
                                stack.swap(start + i, start + i - 1);
                                i -= 1;
                            }
                            entry[i] = enter;
                        }
                    }
                }
            }
        }
        best.is_finite().then_some(best)
    }
}
