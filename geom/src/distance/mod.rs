//! Distances to a surface of triangles and what is inside it, for many points in a small place at once.

mod columns;
mod cube;
mod disc;
mod surface;
mod tree;
mod triangle;

pub(crate) use columns::Columns;
pub(crate) use cube::{Polytope, below, section};
pub(crate) use disc::{Disc, Discs, single};
pub(crate) use surface::Surface;
pub(crate) use tree::{Node, Tree};
pub(crate) use triangle::closest;

pub(crate) type V3 = nalgebra::Vector3<f64>;

/// A grid of cubes: cube `(i, j, k)` has its centre at `low + spacing (i + 1/2, j + 1/2, k + 1/2)`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Grid {
    pub(crate) low: V3,
    pub(crate) spacing: f64,
    pub(crate) count: [usize; 3],
}

impl Grid {
    /// The same room in cubes of twice the side. Counts are even.
    pub(crate) fn coarser(&self) -> Self {
        Self { low: self.low, spacing: 2.0 * self.spacing, count: self.count.map(|n| n / 2) }
    }
    pub(crate) fn centre(&self, [i, j, k]: [usize; 3]) -> V3 {
        self.low + V3::new(i as f64 + 0.5, j as f64 + 0.5, k as f64 + 0.5) * self.spacing
    }
}
