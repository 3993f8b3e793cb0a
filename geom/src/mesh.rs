//! The mesh everyone reads: distinct positions, three indices a triangle, finite numbers, valid indices, immutable.

use nalgebra::{Point3, Vector3};
use serde::{Deserialize, Serialize};

/// A welded triangle mesh.
///
/// Positions are distinct and re-centred on the model's own low corner, so that no sum loses digits to a site grid.
/// Order is canonical: it depends on the shape alone, not on the order of triangles in the file, and the same shape
/// gives the same bits everywhere downstream. Vertices lie along a space-filling curve, so neighbours in space are
/// near in memory; triangles start at their lowest index (winding kept) and are sorted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mesh {
    pub(crate) positions: Vec<Point3<f64>>,
    triangles: Vec<[u32; 3]>,
    part_of: Vec<u32>,
    /// Where the drawing had its own origin: a revision that grows on one side has it in the same place.
    pub(crate) origin: Vector3<f64>,
}

impl Mesh {
    /// A mesh from checked data, order kept as given.
    ///
    /// # Panics
    /// If an index or a part number is out of range: that is a fault of the caller, never of a file.
    #[must_use]
    pub fn new(positions: Vec<Point3<f64>>, triangles: Vec<[u32; 3]>, part_of: Vec<u32>) -> Self {
        assert!(triangles.iter().flatten().all(|&v| (v as usize) < positions.len()), "corner index out of range");
        assert!(part_of.is_empty() || part_of.len() == triangles.len(), "one part number a triangle");
        Self { positions, triangles, part_of, origin: Vector3::zeros() }
    }

    /// Positions.
    #[must_use]
    pub fn positions(&self) -> &[Point3<f64>] {
        &self.positions
    }

    /// Corner indices; counter-clockwise seen from outside.
    #[must_use]
    pub fn triangles(&self) -> &[[u32; 3]] {
        &self.triangles
    }

    /// The part of a triangle.
    #[must_use]
    pub fn part_of(&self, face: usize) -> u32 {
        self.part_of.get(face).copied().unwrap_or(0)
    }

    /// The three corners of a triangle.
    #[must_use]
    pub fn corners(&self, face: usize) -> [Point3<f64>; 3] {
        self.triangles[face].map(|v| self.positions[v as usize])
    }

    /// Area times outward unit normal. Its length is the area in square (file or metre) units.
    #[must_use]
    pub fn area_vector(&self, face: usize) -> Vector3<f64> {
        let [a, b, c] = self.corners(face);
        (b - a).cross(&(c - a)) * 0.5
    }

    pub(crate) fn with_origin(self, origin: Vector3<f64>) -> Self {
        Self { origin, ..self }
    }

    /// The triangles marked in `turned` turned over: corners 1 and 2 swapped, so the first stays first.
    pub(crate) fn turned_over(mut self, turned: &[bool]) -> Self {
        self.triangles.iter_mut().zip(turned).filter(|(_, turn)| **turn).for_each(|(t, _)| t.swap(1, 2));
        self
    }

    /// Without the positions that no triangle uses, in the same order.
    pub(crate) fn without_unused(mut self) -> Self {
        const UNUSED: u32 = u32::MAX;
        let mut number = vec![UNUSED; self.positions.len()];
        self.triangles.iter().flatten().for_each(|&v| number[v as usize] = 0);
        let mut next = 0..;
        number.iter_mut().filter(|n| **n != UNUSED).zip(&mut next).for_each(|(n, k)| *n = k);
        let mut numbers = number.iter();
        self.positions.retain(|_| numbers.next().is_some_and(|n| *n != UNUSED));
        self.triangles.iter_mut().flatten().for_each(|v| *v = number[*v as usize]);
        self
    }

    /// Only the triangles marked in `keep`, in the same order. Positions no longer used stay.
    #[must_use]
    pub fn keeping(mut self, keep: &[bool]) -> Self {
        fn filter<T: Copy>(items: &mut Vec<T>, keep: &[bool]) {
            let mut marks = keep.iter();
            items.retain(|_| marks.next().copied().unwrap_or(true));
        }
        filter(&mut self.triangles, keep);
        filter(&mut self.part_of, keep);
        self
    }
}
