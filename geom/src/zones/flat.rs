//! Flat facets: what lies in one plane and is larger than lath scale. Each keeps its own lean: nothing about it is texture.

use crate::lean::NOWHERE;
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};

/// Cosine of a quarter of a degree: coordinates in single precision turn a small triangle by a tenth of that.
const PLANE: f64 = 0.999_990_48;

/// A facet is at least this wide, in radii of the averaging: twice its area over the length around it.
const WIDE: f64 = 0.5;

/// The facet of each face that counts, `NOWHERE` for those in none. Grown from one face over faces whose direction is that
/// of the first, so that a round surface in fine triangles is not one facet.
pub(super) fn facets(mesh: &Mesh, topology: &Topology, counts: &[bool], radius: f64) -> Vec<u32> {
    let normals: Vec<_> = (0..counts.len()).map(|f| mesh.area_vector(f)).collect();
    let mut of = vec![NOWHERE; counts.len()];
    let mut seen = vec![false; counts.len()];
    let mut todo = Vec::new();
    let mut count = 0;
    for first in 0..counts.len() {
        if seen[first] || !counts[first] {
            continue;
        }
        let Some(plane) = normals[first].try_normalize(0.0) else { continue };
        let (mut area, mut around, mut next) = (0.0, 0.0, 0);
        todo.clear();
        todo.push(first);
        seen[first] = true;
        while next < todo.len() {
            let f = todo[next];
            next += 1;
            area += normals[f].norm();
            let corners = mesh.corners(f);
            for side in 0..3 {
                let beyond = match topology.across(f, side) {
                    Across::Face { face, consistent: true, .. } => Some(face as usize),
                    _ => None,
                };
                let flush = |g: usize| counts[g] && normals[g].dot(&plane) >= PLANE * normals[g].norm();
                match beyond.filter(|&g| flush(g)) {
                    Some(g) if !seen[g] => {
                        seen[g] = true;
                        todo.push(g);
                    }
                    Some(_) => {}
                    None => around += (corners[(side + 1) % 3] - corners[side]).norm(),
                }
            }
        }
        if area >= radius * radius && 2.0 * area >= WIDE * radius * around {
            todo.iter().for_each(|&f| of[f] = count);
            count += 1;
        }
    }
    of
}
