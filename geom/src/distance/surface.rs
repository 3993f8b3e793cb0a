//! The triangles that distances are taken to.

use nalgebra::Point3;

use super::V3;
use crate::mesh::Mesh;

/// A mesh as the tree sees it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Surface<'a> {
    pub(crate) positions: &'a [Point3<f64>],
    pub(crate) triangles: &'a [[u32; 3]],
}

impl<'a> Surface<'a> {
    pub(crate) fn of(mesh: &'a Mesh) -> Self {
        Self { positions: mesh.positions(), triangles: mesh.triangles() }
    }
    pub(crate) fn corners(&self, triangle: u32) -> [V3; 3] {
        self.triangles[triangle as usize].map(|v| self.positions[v as usize].coords)
    }
}
