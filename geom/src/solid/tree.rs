//! Boxes over triangles: an implicit tree over a space-filling curve. No winding, no cutting is known here.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// An axis-aligned box; empty when a low side is above its high side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Aabb {
    pub(crate) lo: [f64; 3],
    pub(crate) hi: [f64; 3],
}

impl Aabb {
    pub(crate) const EMPTY: Self = Self { lo: [f64::INFINITY; 3], hi: [f64::NEG_INFINITY; 3] };

    pub(crate) fn around(points: &[Point3<f64>]) -> Self {
        points.iter().fold(Self::EMPTY, |b, p| b.join(&Self { lo: [p.x, p.y, p.z], hi: [p.x, p.y, p.z] }))
    }

    pub(crate) fn join(&self, other: &Self) -> Self {
        let (mut lo, mut hi) = (self.lo, self.hi);
        for k in 0..3 {
            lo[k] = lo[k].min(other.lo[k]);
            hi[k] = hi[k].max(other.hi[k]);
        }
        Self { lo, hi }
    }

    pub(crate) fn grown(mut self, by: f64) -> Self {
        for k in 0..3 {
            self.lo[k] -= by;
            self.hi[k] += by;
        }
        self
    }

    pub(crate) fn meets(&self, other: &Self) -> bool {
        (0..3).all(|k| self.lo[k] <= other.hi[k] && other.lo[k] <= self.hi[k])
    }

    /// A straight path from a point passes through it, or touches it: the shares of the path between its faces, axis by axis.
    pub(crate) fn is_crossed(&self, from: &Point3<f64>, path: &Vector3<f64>) -> bool {
        let (mut start, mut end) = (0.0_f64, 1.0_f64);
        for k in 0..3 {
            let (near, far) = if path[k] > 0.0 { (self.lo[k], self.hi[k]) } else { (self.hi[k], self.lo[k]) };
            if path[k] != 0.0 {
                (start, end) = (start.max((near - from[k]) / path[k]), end.min((far - from[k]) / path[k]));
            } else if from[k] < self.lo[k] || from[k] > self.hi[k] {
                return false;
            }
        }
        start <= end
    }

    pub(crate) fn diagonal(&self) -> f64 {
        (0..3).map(|k| (self.hi[k] - self.lo[k]).max(0.0).powi(2)).sum::<f64>().sqrt()
    }
}

/// Items in a leaf, and children of a node.
pub(crate) const FAN: usize = 4;

/// A static tree of boxes. Node `i` of level `l + 1` has the children `FAN * i ..` of level `l`; level 0 are leaves.
pub(crate) struct Tree {
    /// Item numbers in tree order; leaf `i` holds `FAN * i ..`.
    pub(crate) items: Vec<u32>,
    /// Boxes of each level, leaves first, the single root last.
    pub(crate) levels: Vec<Vec<Aabb>>,
}

impl Tree {
    /// Sorts the items along a Morton curve and joins their boxes. O(n log n); the same tree for any thread count.
    pub(crate) fn over(items: &[u32], bounds: impl Fn(u32) -> Aabb + Sync) -> Self {
        let all = items.par_iter().map(|&i| bounds(i)).reduce(|| Aabb::EMPTY, |a, b| a.join(&b));
        let scale: [f64; 3] = std::array::from_fn(|k| {
            let width = all.hi[k] - all.lo[k];
            if width > 0.0 { f64::from((1u32 << 21) - 1) / width } else { 0.0 }
        });
        let mut keyed: Vec<(u64, u32)> = items
            .par_iter()
            .map(|&i| {
                let b = bounds(i);
                let cell = |k: usize| ((0.5 * (b.lo[k] + b.hi[k]) - all.lo[k]) * scale[k]) as u64;
                (spread(cell(0)) | spread(cell(1)) << 1 | spread(cell(2)) << 2, i)
            })
            .collect();
        keyed.par_sort_unstable();
        let items: Vec<u32> = keyed.into_iter().map(|(_, i)| i).collect();
        let join = |boxes: &[Aabb]| boxes.iter().fold(Aabb::EMPTY, |a, b| a.join(b));
        let mut levels: Vec<Vec<Aabb>> =
            vec![items.par_chunks(FAN).map(|c| c.iter().fold(Aabb::EMPTY, |a, &i| a.join(&bounds(i)))).collect()];
        while levels[levels.len() - 1].len() > 1 {
            levels.push(levels[levels.len() - 1].par_chunks(FAN).map(join).collect());
        }
        Self { items, levels }
    }

    /// Calls `found` for every item in a leaf that `wanted` lets through, in tree order.
    pub(crate) fn visit(&self, wanted: impl Fn(&Aabb) -> bool, mut found: impl FnMut(u32)) {
        self.any(wanted, |item| {
            found(item);
            false
        });
    }

    /// Whether `is` holds for an item in a leaf that `wanted` lets through; those after the first such are not asked.
    pub(crate) fn any(&self, wanted: impl Fn(&Aabb) -> bool, mut is: impl FnMut(u32) -> bool) -> bool {
        let mut stack = Vec::with_capacity(FAN * self.levels.len());
        stack.push((self.levels.len() - 1, 0));
        while let Some((level, node)) = stack.pop() {
            if !self.levels[level].get(node).is_some_and(&wanted) {
                continue;
            }
            if level == 0 {
                if self.items[node * FAN..self.items.len().min((node + 1) * FAN)].iter().any(|&i| is(i)) {
                    return true;
                }
            } else {
                let end = self.levels[level - 1].len().min((node + 1) * FAN);
                stack.extend((node * FAN..end).rev().map(|child| (level - 1, child)));
            }
        }
        false
    }
}

/// Puts two zero bits between the lowest 21 bits.
fn spread(x: u64) -> u64 {
    let x = x & 0x1f_ffff;
    let x = (x | x << 32) & 0x001f_0000_0000_ffff;
    let x = (x | x << 16) & 0x001f_0000_ff00_00ff;
    let x = (x | x << 8) & 0x100f_00f0_0f00_f00f;
    let x = (x | x << 4) & 0x10c3_0c30_c30c_30c3;
    (x | x << 2) & 0x1249_2492_4924_9249
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{point, vector};

    /// Each by hand, on a box of 2 x 3 x 0 (a flat one) from the origin.
    #[test]
    fn a_path_crosses_a_box_or_not() {
        let flat = Aabb::around(&[point![0.0, 0.0, 0.0], point![2.0, 3.0, 0.0]]);
        let crossed = |from: [f64; 3], path: [f64; 3]| flat.is_crossed(&from.into(), &path.into());
        assert!(crossed([1.0, 1.0, 1.0], [0.0, 0.0, -2.0]), "down through it");
        assert!(crossed([1.0, 1.0, 1.0], [0.0, 0.0, -1.0]), "ends on it");
        assert!(!crossed([1.0, 1.0, 1.0], [0.0, 0.0, -0.9]), "ends before it");
        assert!(!crossed([1.0, 1.0, 1.0], [0.0, 0.0, 2.0]), "looks away");
        assert!(!crossed([2.1, 1.0, 1.0], [0.0, 0.0, -2.0]), "passes by");
        assert!(crossed([-1.0, 1.0, 0.0], [5.0, 0.0, 0.0]), "along it");
        assert!(!crossed([-1.0, 1.0, 0.1], [5.0, 0.0, 0.0]), "along over it");
        // At x = 2 it is at z = 0.5, and at z = 0 at x = 3: the box of the path meets the flat one, the path does not.
        assert!(!crossed([1.0, 1.0, 1.0], [4.0, 0.0, -2.0]), "across beside it");
        assert!(crossed([-1.0, -1.0, 1.0], [4.0, 4.0, -2.0]), "across through it");
        assert!(!Aabb::EMPTY.is_crossed(&point![0.0, 0.0, 0.0], &vector![1.0, 1.0, 1.0]));
    }
}
