//! The triangles that can be nearest to points of a block, narrowed as the block is halved.

use super::BLOCK;
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

/// Candidates in single precision: a disc about the centroid that holds the triangle.
#[derive(Default)]
struct Discs {
    centre: [Vec<f32>; 3],
    normal: [Vec<f32>; 3],
    radius: Vec<f32>,
    /// Which triangle of the block.
    item: Vec<u32>,
}

impl Discs {
    fn push(&mut self, centre: [f32; 3], normal: [f32; 3], radius: f32, item: u32) {
        for k in 0..3 {
            self.centre[k].push(centre[k]);
            self.normal[k].push(normal[k]);
        }
        self.radius.push(radius);
        self.item.push(item);
    }

    /// Becomes what is kept of another list. Every item is written and what is not kept is written over: it is a toss-up
    /// which are, and a branch that goes either way costs more.
    fn take(&mut self, from: &Self, keep: impl Iterator<Item = bool>) {
        let count = from.item.len();
        self.resize(count);
        let mut n = 0;
        for (i, keep) in (0..count).zip(keep) {
            for k in 0..3 {
                self.centre[k][n] = from.centre[k][i];
                self.normal[k][n] = from.normal[k][i];
            }
            self.radius[n] = from.radius[i];
            self.item[n] = from.item[i];
            n += usize::from(keep);
        }
        self.resize(n);
    }

    fn resize(&mut self, count: usize) {
        self.centre.iter_mut().chain(&mut self.normal).chain([&mut self.radius]).for_each(|v| v.resize(count, 0.0));
        self.item.resize(count, 0);
    }

    /// Square of the distance from `p` to each disc: no triangle is nearer than its disc.
    fn gaps_squared(&self, p: [f32; 3], out: &mut Vec<f32>) {
        let count = self.item.len();
        let [x, y, z] = self.centre.each_ref().map(|c| &c[..count]);
        let [u, v, w] = self.normal.each_ref().map(|c| &c[..count]);
        let radius = &self.radius[..count];
        out.resize(count, 0.0);
        for (i, gap) in out.iter_mut().enumerate() {
            let (dx, dy, dz) = (p[0] - x[i], p[1] - y[i], p[2] - z[i]);
            let off = dx * u[i] + dy * v[i] + dz * w[i];
            let along = (dx * dx + dy * dy + dz * dz - off * off).max(0.0).sqrt();
            let beyond = (along - radius[i]).max(0.0);
            *gap = off * off + beyond * beyond;
        }
    }
}

/// All triangles within a reach of a block, and shorter lists for the cells on the way down. Answers are those that the
/// tree would give: the same to the last bit in every block that knows the triangle.
pub(super) struct Patch {
    corners: Vec<[V3; 3]>,
    numbers: Vec<u32>,
    /// Candidates of the block and of cells of a half, a quarter, an eighth of its side.
    lists: [Discs; 4],
    gaps: Vec<f32>,
    gains: Vec<f32>,
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
        Self {
            corners: corners_of,
            numbers,
            lists,
            gaps: Vec::new(),
            gains: Vec::new(),
            centre,
            slack: (2e-6 * half) as f32,
        }
    }

    /// Triangles of the block.
    pub(super) fn numbers(&self) -> &[u32] {
        &self.numbers
    }

    /// The nearest of the candidates of a level; of triangles equally near the first by number.
    pub(super) fn nearest(&mut self, level: usize, p: &V3) -> Option<Hit> {
        let list = &self.lists[level];
        list.gaps_squared(single(&(p - self.centre)), &mut self.gaps);
        let first = least(&self.gaps)?;
        let mut best = self.hit(list.item[first], p);
        let mut limit = self.rounded_up(best.distance).powi(2);
        for (gaps, items) in self.gaps.chunks(8).zip(list.item.chunks(8)) {
            if !gaps.iter().fold(false, |any, g| any | (*g <= limit)) {
                continue;
            }
            for (gap, &item) in gaps.iter().zip(items) {
                if *gap <= limit && item != list.item[first] {
                    let hit = self.hit(item, p);
                    if hit.distance < best.distance || (hit.distance == best.distance && hit.triangle < best.triangle) {
                        best = hit;
                        limit = self.rounded_up(best.distance).powi(2);
                    }
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
        self.lists[level].gaps_squared(single(&(p - self.centre)), &mut gaps);
        let squared = |it: &Self, limit: f64| it.rounded_up(limit.max(0.0)).powi(2);
        let mut limit = squared(self, limit);
        for (i, gap) in gaps.into_iter().enumerate() {
            if gap <= limit {
                let k = self.lists[level].item[i] as usize;
                let corners = self.corners[k];
                let next = each(self, self.numbers[k], &corners);
                limit = squared(self, next);
            }
        }
    }

    /// Keeps for the next level what lies within `limit` of the point last asked about.
    pub(super) fn keep(&mut self, level: usize, limit: f64) {
        let limit = self.rounded_up(limit).powi(2);
        let (from, to) = self.lists.split_at_mut(level + 1);
        to[0].take(&from[level], self.gaps.iter().map(|gap| *gap <= limit));
    }

    /// Keeps for the next level what can be the nearest anywhere within `spread` of `p`, the point last asked about.
    ///
    /// With `h` the nearest point to `p`, a point `m` of a triangle is farther than `h` from all of them when
    /// `u^2 + 2 (m - h)(h - p) > 2 u spread`, `u` its distance from `h`.
    pub(super) fn keep_nearest(&mut self, level: usize, p: &V3, hit: &Hit, spread: f64) {
        let (foot, to) = (single(&(hit.at - self.centre)), single(&(hit.at - p)));
        let (distance, spread) = (hit.distance as f32, spread as f32);
        let limit = self.rounded_up(hit.distance + 2.0 * f64::from(spread)).powi(2);
        let (from, rest) = self.lists.split_at_mut(level + 1);
        let (list, next) = (&from[level], &mut rest[0]);
        let count = list.item.len();
        let [x, y, z] = list.centre.each_ref().map(|c| &c[..count]);
        let [u, v, w] = list.normal.each_ref().map(|c| &c[..count]);
        let radius = &list.radius[..count];
        self.gains.resize(count, 0.0);
        for (i, gain) in self.gains[..count].iter_mut().enumerate() {
            let (dx, dy, dz) = (x[i] - foot[0], y[i] - foot[1], z[i] - foot[2]);
            let away = ((dx * dx + dy * dy + dz * dz).sqrt() - radius[i]).max(spread);
            let square = to[0] * u[i] + to[1] * v[i] + to[2] * w[i];
            let tilt = radius[i] * (distance * distance - square * square).max(0.0).sqrt();
            *gain = away * (away - 2.0 * spread) + 2.0 * (to[0] * dx + to[1] * dy + to[2] * dz - tilt);
        }
        let most = 1e-3 * spread * spread;
        next.take(list, (0..count).map(|i| (self.gaps[i] <= limit) & (self.gains[i] <= most)));
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

fn single(v: &V3) -> [f32; 3] {
    [v.x as f32, v.y as f32, v.z as f32]
}

/// Level of a cell of `side` steps in its block.
pub(super) fn level_of(side: usize) -> usize {
    (BLOCK / side).trailing_zeros() as usize
}

/// The level of a step. Its candidates, as kept from a cell of two, are those of the corners of that too.
pub(super) const FINEST: usize = 3;
