//! The edges of a zone.

use crate::lean::{NOWHERE, centroid};
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};
use crate::units::Length;
use nalgebra::{Point3, Vector3};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The edges of a zone, as closed loops on the surface, straightened to within an inch.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Outline {
    /// Loops, longest first; the zone lies to the left seen from outside.
    pub loops: Vec<Vec<Point3<f64>>>,
    /// Length of all loops, straightened: what a tape along the edge reads.
    pub length: Length,
    /// Of that, edges where the coated surface goes on round an outer corner into another zone.
    pub outer: Length,
}

/// An outer edge that turns less is no corner to carry lath round. Common practice, no source.
const CORNER: f32 = 30.0 * std::f32::consts::PI / 180.0;

/// A line is straightened as long as it stays this close: a triangulated edge zigzags, a sprayed letter does not.
const STRAIGHT: f64 = 0.0254;

impl Outline {
    pub(super) fn of(
        mesh: &Mesh,
        topology: &Topology,
        zone_of: &[u32],
        mean: impl Fn(usize) -> Vector3<f32>,
        faces: &[u32],
    ) -> Self {
        let own = faces.first().map(|&f| zone_of[f as usize]);
        let mut from: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
        let (mut all, mut outer) = (0.0, 0.0);
        for &f in faces {
            let f = f as usize;
            for side in 0..3 {
                let beyond = match topology.across(f, side) {
                    Across::Face { face: g, consistent: true, .. } if Some(zone_of[g as usize]) == own => continue,
                    Across::Face { face: g, .. } => Some(g as usize),
                    _ => None,
                };
                let t = mesh.triangles()[f];
                let (a, b) = (t[side], t[(side + 1) % 3]);
                from.entry(a).or_default().push(b);
                let length = (mesh.positions()[b as usize] - mesh.positions()[a as usize]).norm();
                all += length;
                // A corner of the whole, not of its texture: averaged directions turn there.
                let round_the_corner = beyond.is_some_and(|g| {
                    zone_of[g] != NOWHERE
                        && mean(g).angle(&mean(f)) > CORNER
                        && (centroid(mesh, g) - centroid(mesh, f)).dot(&mesh.area_vector(f)) <= 0.0
                });
                outer += if round_the_corner { length } else { 0.0 };
            }
        }
        from.values_mut().for_each(|ends| ends.sort_unstable_by(|a, b| b.cmp(a)));
        let mut loops: Vec<(f64, Vec<Point3<f64>>)> = Vec::new();
        while let Some((&start, _)) = from.first_key_value() {
            let mut points = Vec::new();
            let mut at = start;
            while let Some(next) = from.get_mut(&at).and_then(Vec::pop) {
                if from.get(&at).is_some_and(Vec::is_empty) {
                    from.remove(&at);
                }
                points.push(mesh.positions()[at as usize]);
                at = next;
            }
            let points = straighten(&points);
            loops.push((around(&points), points));
        }
        loops.sort_by(|a, b| b.0.total_cmp(&a.0));
        let length: f64 = loops.iter().map(|l| l.0).sum();
        let outer = if all > 0.0 { outer * length / all } else { 0.0 };
        Self {
            loops: loops.into_iter().map(|l| l.1).collect(),
            length: Length::from_metres(length),
            outer: Length::from_metres(outer),
        }
    }
}

fn around(points: &[Point3<f64>]) -> f64 {
    (0..points.len()).map(|k| (points[(k + 1) % points.len()] - points[k]).norm()).sum()
}

/// Drops points of a loop that lie within an inch of the line between those kept
/// (D. Douglas and T. Peucker, *Algorithms for the reduction of the number of points*, The Canadian Cartographer 10, 1973).
fn straighten(points: &[Point3<f64>]) -> Vec<Point3<f64>> {
    if points.len() < 4 {
        return points.to_vec();
    }
    // A loop has no ends: the point farthest from the first is the other end.
    let far = (0..points.len())
        .max_by(|&a, &b| (points[a] - points[0]).norm().total_cmp(&(points[b] - points[0]).norm()))
        .unwrap_or(0);
    let closed: Vec<_> = points.iter().chain(points.first()).copied().collect();
    let mut keep = vec![false; closed.len()];
    let mut todo = vec![(0, far), (far, closed.len() - 1)];
    while let Some((a, b)) = todo.pop() {
        keep[a] = true;
        if b <= a + 1 {
            continue;
        }
        let way = closed[b] - closed[a];
        let off = |k: usize| {
            let v = closed[k] - closed[a];
            let along = if way.norm_squared() > 0.0 { (v.dot(&way) / way.norm_squared()).clamp(0.0, 1.0) } else { 0.0 };
            (v - way * along).norm()
        };
        let (worst, distance) =
            (a + 1..b).map(|k| (k, off(k))).fold((a, 0.0), |best, one| if one.1 > best.1 { one } else { best });
        if distance > STRAIGHT {
            todo.extend([(worst, b), (a, worst)]);
        }
    }
    (0..points.len()).filter(|&k| keep[k]).map(|k| points[k]).collect()
}
