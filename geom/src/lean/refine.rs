//! Coarse faces cut small, so that a neighbourhood of six inches means the same on a box of twelve triangles as on a
//! sculpt of a million. Working copies only: results go back to the faces they came from.

use crate::mesh::Mesh;
use nalgebra::{Point3, distance_squared};
use rayon::prelude::*;
use std::collections::HashMap;

/// A mesh whose long edges are halved until none is longer than the limit, and the face each piece came from.
pub(crate) struct Refined {
    pub(crate) mesh: Mesh,
    pub(crate) parent: Vec<u32>,
}

/// Pieces at most, whatever the model: beyond it pieces stay longer than the limit.
const MOST: usize = 4_000_000;

/// `None` when no face that `counts` has an edge longer than `limit`.
///
/// Whether an edge is halved depends on its two ends alone, so both its faces agree and no gap opens.
pub(crate) fn refine(mesh: &Mesh, counts: impl Fn(usize) -> bool + Sync, limit: f64) -> Option<Refined> {
    let long = |p: &[Point3<f64>], a: u32, b: u32| distance_squared(&p[a as usize], &p[b as usize]) > limit * limit;
    // A sliver is long too, but weighs nothing: only a face as large as half a small one sets the work off.
    let coarse = |f: usize| {
        let t = mesh.triangles()[f];
        (0..3).any(|k| long(mesh.positions(), t[k], t[(k + 1) % 3])) && mesh.area_vector(f).norm() > limit * limit / 4.0
    };
    if !(0..mesh.triangles().len()).into_par_iter().with_min_len(1 << 12).any(|f| counts(f) && coarse(f)) {
        return None;
    }
    let mut positions = mesh.positions().to_vec();
    let mut faces: Vec<([u32; 3], u32)> = mesh.triangles().iter().copied().zip(0..).collect();
    for _round in 0..24 {
        let mut halves: HashMap<(u32, u32), u32> = HashMap::new();
        let mut next = Vec::with_capacity(faces.len());
        let mut grew = false;
        for &(t, parent) in &faces {
            let mut mid = [None; 3];
            for k in 0..3 {
                let (a, b) = (t[k].min(t[(k + 1) % 3]), t[k].max(t[(k + 1) % 3]));
                if a != b && long(&positions, a, b) {
                    mid[k] = Some(*halves.entry((a, b)).or_insert_with(|| {
                        positions.push(nalgebra::center(&positions[a as usize], &positions[b as usize]));
                        positions.len() as u32 - 1
                    }));
                }
            }
            grew |= mid.iter().any(Option::is_some);
            pieces(t, mid, &positions, |piece| next.push((piece, parent)));
        }
        faces = next;
        if !grew || faces.len() > MOST {
            break;
        }
    }
    let (triangles, parent) = faces.into_iter().unzip();
    Some(Refined { mesh: Mesh::new(positions, triangles, Vec::new()), parent })
}

/// One to four pieces; `mid[k]` halves the side from corner `k` to the next.
fn pieces(t: [u32; 3], mid: [Option<u32>; 3], p: &[Point3<f64>], mut out: impl FnMut([u32; 3])) {
    let count = mid.iter().flatten().count();
    if count == 3 {
        let [Some(x), Some(y), Some(z)] = mid else { return };
        [[t[0], x, z], [x, t[1], y], [z, y, t[2]], [x, y, z]].into_iter().for_each(out);
        return;
    }
    // Turn the triangle so that its halved sides come first.
    let turn = (0..3).find(|&k| mid[k].is_some() && (count == 1 || mid[(k + 1) % 3].is_some())).unwrap_or(0);
    let [a, b, c] = [0, 1, 2].map(|k| t[(turn + k) % 3]);
    match (mid[turn], mid[(turn + 1) % 3]) {
        (Some(x), None) => [[a, x, c], [x, b, c]].into_iter().for_each(out),
        (Some(x), Some(y)) => {
            out([x, b, y]);
            // The shorter way across the rest.
            let d = |i: u32, j: u32| distance_squared(&p[i as usize], &p[j as usize]);
            let rest = if d(a, y) <= d(x, c) { [[a, x, y], [a, y, c]] } else { [[a, x, c], [x, y, c]] };
            rest.into_iter().for_each(out);
        }
        _ => out(t),
    }
}
