//! Water that stands on tops.
//!
//! Priority flood (R. Barnes, C. Lehman and D. Mulla, *Priority-flood*, Computers & Geosciences 62, 2014) on the points of
//! the mesh instead of a grid: the level of a point is the lowest sill on its best way to a place where water falls off.

use crate::lean::lean_of;
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};
use crate::units::{Area, Length};
use nalgebra::Point3;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// A place where water stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Pool {
    /// The deepest point.
    pub at: Point3<f64>,
    /// Greatest depth.
    pub depth: Length,
    /// Water surface, in plan, over the faces it wets.
    pub area: Area,
    /// A face at the deepest point.
    pub face: u32,
}

/// Water falls off faces that lean more than this, in degrees.
const FALLS: f64 = 95.0;

/// Pools deeper than `depth`, largest first. O(n log n).
#[must_use]
pub fn pools(mesh: &Mesh, topology: &Topology, depth: Length) -> Vec<Pool> {
    let points = mesh.positions();
    let mut off = vec![false; points.len()];
    let mut start = vec![0_u32; points.len() + 1];
    for (f, t) in mesh.triangles().iter().enumerate() {
        let hangs = lean_of(&mesh.area_vector(f)).degrees() > FALLS;
        for side in 0..3 {
            let open = !matches!(topology.across(f, side), Across::Face { .. });
            if hangs || open {
                off[t[side] as usize] = true;
                off[t[(side + 1) % 3] as usize] = true;
            }
            start[t[side] as usize + 1] += 1;
        }
    }
    (0..points.len()).for_each(|v| start[v + 1] += start[v]);
    let mut place = start.clone();
    let mut faces_of = vec![0_u32; start[points.len()] as usize];
    for (f, t) in mesh.triangles().iter().enumerate() {
        for &v in t {
            faces_of[place[v as usize] as usize] = f as u32;
            place[v as usize] += 1;
        }
    }
    let key = |z: f64| {
        // Sorts as the numbers do, negative ones too.
        let bits = z.to_bits();
        if bits >> 63 == 1 { !bits } else { bits | 1 << 63 }
    };
    let mut level = vec![f64::INFINITY; points.len()];
    let mut queue = BinaryHeap::new();
    for v in (0..points.len()).filter(|&v| off[v]) {
        level[v] = points[v].z;
        queue.push(Reverse((key(level[v]), v as u32)));
    }
    while let Some(Reverse((_, v))) = queue.pop() {
        let v = v as usize;
        for &f in &faces_of[start[v] as usize..start[v + 1] as usize] {
            for w in mesh.triangles()[f as usize] {
                let w = w as usize;
                if level[w] == f64::INFINITY {
                    level[w] = level[v].max(points[w].z);
                    queue.push(Reverse((key(level[w]), w as u32)));
                }
            }
        }
    }
    // Wet faces that touch are one pool.
    let deep = |v: u32| level[v as usize] - points[v as usize].z;
    let wet = |f: usize| {
        let t = mesh.triangles()[f];
        t.iter().all(|&v| level[v as usize].is_finite()) && t.iter().any(|&v| deep(v) > 1e-9)
    };
    let mut seen = vec![false; mesh.triangles().len()];
    let mut pools = Vec::new();
    for first in 0..seen.len() {
        if seen[first] || !wet(first) {
            continue;
        }
        seen[first] = true;
        let mut todo = vec![first];
        let mut pool = Pool { at: points[0], depth: Length::ZERO, area: Area::ZERO, face: first as u32 };
        while let Some(f) = todo.pop() {
            pool.area += Area::from_square_metres(
                mesh.area_vector(f).z.max(0.0) * wet_share(mesh.triangles()[f].map(deep), mesh, f),
            );
            for v in mesh.triangles()[f] {
                if deep(v) > pool.depth.metres() {
                    pool = Pool { at: points[v as usize], depth: Length::from_metres(deep(v)), face: f as u32, ..pool };
                }
            }
            for side in 0..3 {
                if let Across::Face { face: g, .. } = topology.across(f, side) {
                    let g = g as usize;
                    if !seen[g] && wet(g) {
                        seen[g] = true;
                        todo.push(g);
                    }
                }
            }
        }
        if pool.depth > depth {
            pools.push(pool);
        }
    }
    pools.sort_by(|a, b| {
        b.area
            .square_metres()
            .total_cmp(&a.area.square_metres())
            .then(a.at.z.total_cmp(&b.at.z))
            .then(a.face.cmp(&b.face))
    });
    pools
}

/// Share of a face below the water, from the depth at its corners (dry corners have depth 0 and stand above by how far
/// they rise over the others' level).
fn wet_share(depth: [f64; 3], mesh: &Mesh, face: usize) -> f64 {
    let z = mesh.corners(face).map(|p| p.z);
    let surface = (0..3).map(|k| z[k] + depth[k]).filter(|s| s.is_finite()).fold(f64::NEG_INFINITY, f64::max);
    let wet_level = (0..3).filter(|&k| depth[k] > 1e-9).map(|k| z[k] + depth[k]).fold(f64::NEG_INFINITY, f64::max);
    let level = if wet_level.is_finite() { wet_level } else { surface };
    let mut d = z.map(|z| level - z);
    d.sort_by(f64::total_cmp);
    match d {
        [a, _, _] if a >= 0.0 => 1.0,
        [a, b, c] if b >= 0.0 => 1.0 - a * a / ((a - b) * (a - c)),
        [a, b, c] if c > 0.0 => c * c / ((c - b) * (c - a)),
        _ => 0.0,
    }
}
