//! A tree of boxes over triangles in the order of a space-filling curve: eight to a node, no pointers, 8 bytes a triangle.

use rayon::prelude::*;

use super::{Surface, V3};

const FAN: usize = 8;

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

impl Tree {
    pub(crate) fn of(surface: &Surface) -> Self {
        let count = surface.triangles.len() as u32;
        let (mut low, mut high) = (V3::repeat(f64::INFINITY), V3::repeat(f64::NEG_INFINITY));
        for p in surface.positions.iter() {
            low = low.inf(&p.coords);
            high = high.sup(&p.coords);
        }
        let scale = 2_097_151.0 / (high - low).max().max(f64::MIN_POSITIVE);
        let mut keyed: Vec<(u64, u32)> = (0..count)
            .into_par_iter()
            .filter_map(|t| {
                let [a, b, c] = surface.corners(t);
                if (b - a).cross(&(c - a)).norm_squared() == 0.0 {
                    return None;
                }
                let at = ((a + b + c) / 3.0 - low) * scale;
                Some((spread(at.x as u64) | spread(at.y as u64) << 1 | spread(at.z as u64) << 2, t))
            })
            .collect();
        keyed.par_sort_unstable();
        let order: Vec<u32> = keyed.into_iter().map(|(_, t)| t).collect();
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

    pub(crate) fn root(&self) -> Option<Node> {
        let level = self.levels.len() - 1;
        (!self.order.is_empty()).then_some(Node { level: level as u32, index: 0 })
    }

    /// Of the nodes (or their descendants) in `from`, those within `reach` of a cube, none larger than it needs to be.
    pub(crate) fn near(&self, from: &[Node], centre: &V3, half: f64, reach: f64) -> Vec<Node> {
        let mut out = Vec::with_capacity(from.len());
        for &node in from {
            self.descend(node, centre, half, reach, &mut out);
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

    /// Every triangle below the nodes whose box is within `reach` of a cube.
    pub(crate) fn triangles(
        &self,
        surface: &Surface,
        from: &[Node],
        centre: &V3,
        half: f64,
        reach: f64,
        mut each: impl FnMut(u32, [V3; 3]),
    ) {
        for node in from {
            let span = FAN << (3 * node.level);
            let start = node.index as usize * span;
            for &t in &self.order[start..(start + span).min(self.order.len())] {
                let corners = surface.corners(t);
                let [a, b, c] = corners.map(|p| p - centre);
                let room = half + reach;
                if (0..3).all(|k| a[k].min(b[k]).min(c[k]) <= room && a[k].max(b[k]).max(c[k]) >= -room) {
                    each(t, corners);
                }
            }
        }
    }
}
