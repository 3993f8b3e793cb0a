//! The nearest place on a mesh, for many points: parry's box tree over runs of triangles, our own exact triangle test.
//!
//! The tree holds runs of [`RUN`] triangles, for the canonical order of a [`Mesh`] puts neighbours side by side: a quarter
//! of the memory and of the building time, and hardly slower to ask. Boxes are single precision rounded outwards; distances
//! are f64. Only clean data reaches the tree: a mesh has finite corners and valid indices, and triangles without area
//! lose every comparison.

use super::V3;
use crate::distance::closest;
use crate::mesh::Mesh;
use parry3d::bounding_volume::Aabb;
use parry3d::math::Vector;
use parry3d::partitioning::{Bvh, BvhBuildStrategy};
use rayon::prelude::*;

const RUN: usize = 4;

/// The nearest place found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Hit {
    pub(crate) face: u32,
    pub(crate) point: V3,
    pub(crate) distance: f64,
}

/// A mesh that can be asked for its nearest place.
pub(crate) struct Near<'a> {
    pub(crate) mesh: &'a Mesh,
    tree: Bvh,
}

fn down(x: f64) -> f32 {
    let f = x as f32;
    if f64::from(f) > x { f.next_down() } else { f }
}

fn up(x: f64) -> f32 {
    let f = x as f32;
    if f64::from(f) < x { f.next_up() } else { f }
}

impl<'a> Near<'a> {
    /// O(n log n), one thread.
    pub(crate) fn of(mesh: &'a Mesh) -> Self {
        let boxes: Vec<Aabb> = mesh
            .triangles()
            .par_chunks(RUN)
            .map(|run| {
                let corners = run.iter().flatten().map(|&v| mesh.positions()[v as usize].coords);
                let first = mesh.positions()[run[0][0] as usize].coords;
                let (low, high) = corners.fold((first, first), |(low, high), p| (low.inf(&p), high.sup(&p)));
                Aabb::new(
                    Vector::new(down(low.x), down(low.y), down(low.z)),
                    Vector::new(up(high.x), up(high.y), up(high.z)),
                )
            })
            .collect();
        Self { mesh, tree: Bvh::from_leaves(BvhBuildStrategy::Binned, &boxes) }
    }

    fn on(&self, face: u32, p: &V3) -> Hit {
        let point = closest(p, &self.mesh.corners(face as usize).map(|c| c.coords));
        Hit { face, point, distance: (point - p).norm() }
    }

    /// Distance from a point to one triangle.
    pub(crate) fn to_face(&self, face: u32, p: &V3) -> f64 {
        self.on(face, p).distance
    }

    /// The nearest place to `p`; `hint`, a triangle thought to be near, makes it quicker and changes no distance.
    pub(crate) fn nearest(&self, p: &V3, hint: Option<u32>) -> Option<Hit> {
        let start = hint.map(|face| self.on(face, p)).filter(|hit| hit.distance.is_finite());
        if let Some(hit) = start.filter(|hit| hit.distance == 0.0) {
            return Some(hit);
        }
        let at = Vector::new(p.x as f32, p.y as f32, p.z as f32);
        let better = self.tree.find_best(
            start.map_or(f32::MAX, |hit| hit.distance as f32),
            |node, _| node.aabb().distance_to_point(at),
            |run, _| {
                let first = run * RUN as u32;
                let end = (first + RUN as u32).min(self.mesh.triangles().len() as u32);
                let hits = (first..end).map(|face| self.on(face, p)).filter(|hit| hit.distance.is_finite());
                hits.reduce(|a, b| if b.distance < a.distance { b } else { a }).map(|hit| (hit.distance as f32, hit))
            },
        );
        better.map(|(_, (_, hit))| hit).or(start)
    }
}

trait DistanceToPoint {
    fn distance_to_point(&self, p: Vector) -> f32;
}

impl DistanceToPoint for Aabb {
    #[inline]
    fn distance_to_point(&self, p: Vector) -> f32 {
        (self.mins - p).max(p - self.maxs).max(Vector::ZERO).length()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::read_stl;

    /// The oracle asks every triangle.
    #[test]
    fn the_tree_finds_what_asking_every_triangle_finds() {
        let bytes = cragskin_fixtures::rock(11, 3000, 2.0).to_binary_stl();
        let Ok(soup) = read_stl(&bytes) else { panic!("the fixture reads") };
        let mesh = crate::weld::weld(&soup).mesh;
        let near = Near::of(&mesh);
        let mut random = cragskin_fixtures::SplitMix(3);
        let mut hint = None;
        for _ in 0..400 {
            let p = V3::from_fn(|_, _| 4.0 * random.unit() - 1.0);
            let all = (0..mesh.triangles().len() as u32).map(|face| near.to_face(face, &p));
            let truth = all.fold(f64::INFINITY, f64::min);
            let hit = near.nearest(&p, hint).expect("a mesh with area");
            // Pruning compares single precision, so another triangle may win by a unit in its last place.
            assert!((hit.distance - truth).abs() <= 3e-7 * truth, "{} {truth}", hit.distance);
            hint = Some(hit.face);
        }
    }
}
