//! Pockets too narrow for a tool: places where a ball as wide as the tool, laid on the face, would meet a face opposite.

use crate::lean::{NOWHERE, Spots, centroid};
use crate::mesh::Mesh;
use crate::topology::Topology;
use crate::units::{Area, Length};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// A joined place too narrow for a tool.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pocket {
    pub(super) face: u32,
    pub(super) at: Point3<f64>,
    pub(super) area: Area,
}

/// A face is opposite when it looks back by more than 107 degrees: an inside corner of two walls is no pocket.
const OPPOSITE: f32 = -0.3;

/// A meeting this much inside the ball counts: patches are coarse.
const INSIDE: f64 = 0.85;

/// Pockets narrower than `width`, those mostly narrower than `below` left out.
pub(super) fn pockets(
    mesh: &Mesh,
    topology: &Topology,
    coated: &[bool],
    share: impl Fn(u32) -> f64,
    width: Length,
    below: Length,
) -> Vec<Pocket> {
    let label: Vec<u32> = coated.iter().map(|&c| if c { 0 } else { NOWHERE }).collect();
    let radius = 0.5 * width.metres();
    if radius <= 0.0 {
        return Vec::new();
    }
    // Patches of a quarter of the width, no finer than 10 mm: a probe for hairline cracks would have no end.
    let spots = Spots::gather(mesh, topology, &label, share, (radius / 2.0).max(0.01));
    // Spots by cell, cells in order: a ball reaches into eight of them at most.
    let cell = 2.0 * radius;
    let key = |p: &Point3<f64>| [p.x, p.y, p.z].map(|x| (x / cell).floor() as i32);
    let mut filed: Vec<([i32; 3], u32)> =
        spots.list.par_iter().enumerate().map(|(k, spot)| (key(&spot.centre), k as u32)).collect();
    filed.par_sort_unstable();
    let mut cells: HashMap<[i32; 3], (u32, u32), BuildHasherDefault<CellHasher>> = HashMap::default();
    let mut from = 0;
    for run in filed.chunk_by(|a, b| a.0 == b.0) {
        cells.insert(run[0].0, (from as u32, (from + run.len()) as u32));
        from += run.len();
    }
    let near: Vec<[Vector3<f32>; 2]> = filed
        .par_iter()
        .map(|f| &spots.list[f.1 as usize])
        .map(|s| [s.centre.coords.cast(), s.direction.cast()])
        .collect();
    let narrow = |k: usize, radius: f64| {
        let own = &spots.list[k];
        let ball = own.centre + own.direction * radius;
        let reach = INSIDE * radius;
        let (low, high) = (key(&ball.map(|x| x - reach)), key(&ball.map(|x| x + reach)));
        let (ball, own, reach): (Vector3<f32>, Vector3<f32>, f32) =
            (ball.coords.cast(), own.direction.cast(), reach as f32);
        (low[0]..=high[0])
            .flat_map(|a| (low[1]..=high[1]).flat_map(move |b| (low[2]..=high[2]).map(move |c| [a, b, c])))
            .filter_map(|cell| cells.get(&cell))
            .flat_map(|&(from, to)| &near[from as usize..to as usize])
            .any(|q| q[1].dot(&own) < OPPOSITE && (q[0] - ball).norm_squared() < reach * reach)
    };
    let below = 0.5 * below.metres();
    let hit: Vec<bool> = (0..spots.list.len()).into_par_iter().with_min_len(256).map(|k| narrow(k, radius)).collect();
    // Hit patches that touch are one pocket.
    let mut seen = vec![false; hit.len()];
    let mut pockets = Vec::new();
    for first in 0..hit.len() {
        if seen[first] || !hit[first] {
            continue;
        }
        seen[first] = true;
        let mut todo = vec![first as u32];
        let (mut area, mut narrower, mut next) = (0.0, 0.0, 0);
        let mut moment = nalgebra::Vector3::zeros();
        while next < todo.len() {
            let k = todo[next];
            next += 1;
            area += spots.list[k as usize].area;
            if below > 0.0 && narrow(k as usize, below) {
                narrower += spots.list[k as usize].area;
            }
            moment += spots.list[k as usize].centre.coords * spots.list[k as usize].area;
            for &q in spots.beside(k) {
                if hit[q as usize] && !seen[q as usize] {
                    seen[q as usize] = true;
                    todo.push(q);
                }
            }
        }
        // Mostly narrower still: that has a flag of its own, and its mouth does not get a second one.
        if area > 0.0 && narrower < 0.5 * area {
            let middle = Point3::from(moment / area);
            let away = |k: u32| (spots.list[k as usize].centre - middle).norm_squared();
            let at = todo
                .iter()
                .copied()
                .min_by(|&a, &b| away(a).total_cmp(&away(b)).then(a.cmp(&b)))
                .unwrap_or(first as u32);
            let face = spots.face[at as usize];
            pockets.push(Pocket { face, at: centroid(mesh, face as usize), area: Area::from_square_metres(area) });
        }
    }
    pockets
}

/// Cells are told apart by three small numbers: a multiplication each is enough.
#[derive(Default)]
struct CellHasher(u64);

impl Hasher for CellHasher {
    fn finish(&self) -> u64 {
        self.0 ^ self.0 >> 29
    }

    fn write(&mut self, bytes: &[u8]) {
        bytes.chunks(4).for_each(|b| {
            self.0 = (self.0 ^ b.iter().fold(0, |n, &b| n << 8 | u64::from(b))).wrapping_mul(0x9e37_79b9_7f4a_7c15)
        });
    }

    fn write_i32(&mut self, n: i32) {
        self.0 = (self.0.rotate_left(23) ^ u64::from(n as u32)).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    }
}
