use std::borrow::Cow;

use nalgebra::Point3;

use super::V3;
use crate::mesh::Mesh;

/// The triangles that distances are taken to: those of a mesh, or the pieces of them that bound the solid.
#[derive(Clone, Debug)]
pub(crate) struct Surface<'a> {
    pub(crate) positions: Cow<'a, [Point3<f64>]>,
    pub(crate) triangles: Cow<'a, [[u32; 3]]>,
    /// The triangle of the mesh that a triangle is (a piece of); empty when they are the same.
    pub(crate) face_of: Vec<u32>,
}

impl<'a> Surface<'a> {
    pub(crate) fn of(mesh: &'a Mesh) -> Self {
        Self { positions: mesh.positions().into(), triangles: mesh.triangles().into(), face_of: Vec::new() }
    }
    pub(crate) fn corners(&self, triangle: u32) -> [V3; 3] {
        self.triangles[triangle as usize].map(|v| self.positions[v as usize].coords)
    }
    pub(crate) fn face(&self, triangle: u32) -> usize {
        self.face_of.get(triangle as usize).copied().unwrap_or(triangle) as usize
    }
}
