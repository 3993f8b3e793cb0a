//! What is seen on a grid of cells: the nearest face of each, and the borders between cells of different zones.

use super::Seen;
use crate::mesh::Mesh;
use crate::view::Side;
use crate::zones::{ZoneJoints, Zones};
use std::collections::HashMap;

/// Cells at most along the longer side.
const CELLS: f64 = 900.0;
const HALF_INCH: f64 = 0.0127;

/// Nothing seen in a cell, and a bare face.
pub(super) const EMPTY: u32 = u32::MAX;
pub(super) const BARE: u32 = u32::MAX - 1;

pub(super) struct Raster {
    pub(super) cell: f64,
    size: [usize; 2],
    id: Vec<u32>,
}

pub(super) struct Spot {
    pub(super) zone: u32,
    /// Middle of the widest place.
    pub(super) middle: [f64; 2],
    /// Half the width there.
    pub(super) room: f64,
    pub(super) low: [f64; 2],
    pub(super) high: [f64; 2],
}

impl Raster {
    /// `id_of`: what a face is drawn as; a zone's index, or [`BARE`].
    pub(super) fn of(mesh: &Mesh, id_of: &dyn Fn(usize) -> u32, seen: &Seen) -> Self {
        let Seen { points: seen, low, extent } = seen;
        let cell = HALF_INCH.max(extent[0].max(extent[1]) / CELLS);
        let size = extent.map(|e| (e / cell).ceil().max(1.0) as usize);
        let mut id = vec![EMPTY; size[0] * size[1]];
        let mut near = vec![f64::NEG_INFINITY; id.len()];
        for (f, t) in mesh.triangles().iter().enumerate() {
            let p = t.map(|v| seen[v as usize]);
            let q = p.map(|p| [(p[0] - low[0]) / cell - 0.5, (p[1] - low[1]) / cell - 0.5]);
            let doubled = (q[1][0] - q[0][0]) * (q[2][1] - q[0][1]) - (q[2][0] - q[0][0]) * (q[1][1] - q[0][1]);
            if doubled.abs() < 1e-12 {
                continue;
            }
            let span = |k: usize| {
                let (a, b) = (q[0][k].min(q[1][k]).min(q[2][k]), q[0][k].max(q[1][k]).max(q[2][k]));
                (a.ceil().max(0.0) as usize, (b.floor() + 1.0).clamp(0.0, size[k] as f64) as usize)
            };
            let (columns, rows) = (span(0), span(1));
            let zone = id_of(f);
            for j in rows.0..rows.1 {
                for i in columns.0..columns.1 {
                    let (u, v) = (i as f64, j as f64);
                    let area = |a: [f64; 2], b: [f64; 2]| ((a[0] - u) * (b[1] - v) - (b[0] - u) * (a[1] - v)) / doubled;
                    let w = [area(q[1], q[2]), area(q[2], q[0]), area(q[0], q[1])];
                    if w.iter().any(|&w| w < -1e-9) {
                        continue;
                    }
                    let depth = w[0] * p[0][2] + w[1] * p[1][2] + w[2] * p[2][2];
                    let at = j * size[0] + i;
                    // Ties go to the lower zone, so that the order of triangles does not show.
                    if depth > near[at] + 1e-9 || (depth > near[at] - 1e-9 && zone < id[at]) {
                        near[at] = depth.max(near[at]);
                        id[at] = zone;
                    }
                }
            }
        }
        let mut raster = Self { cell, size, id };
        raster.clean();
        raster
    }

    fn at(&self, i: isize, j: isize) -> u32 {
        let inside = i >= 0 && j >= 0 && (i as usize) < self.size[0] && (j as usize) < self.size[1];
        if inside { self.id[j as usize * self.size[0] + i as usize] } else { EMPTY }
    }

    /// Where each joint of a zone is seen, as runs in metres from the corner of the picture.
    pub(super) fn joints(
        &self,
        zones: &Zones,
        joint: &ZoneJoints,
        view: Side,
        low: [f64; 2],
    ) -> Vec<Vec<[[f64; 2]; 2]>> {
        let own = joint.zone as u32;
        let [w, h] = self.size;
        let seen = |i: usize, j: usize| self.id[j * w + i] == own;
        let columns: Vec<usize> = (0..w).filter(|&i| (0..h).any(|j| seen(i, j))).collect();
        let (Some(&left), Some(&right)) = (columns.first(), columns.last()) else {
            return vec![Vec::new(); joint.upright.len() + joint.across.len()];
        };
        let upright = joint.upright.len() + 1;
        let way = zones.zones[joint.zone].unrolled.direction;
        // On top the girth runs across the way of the courses; on an elevation it is level.
        let flat = view == Side::Top && way.z == 0.0;
        let along = |k: usize, i: usize, j: usize| {
            let p = [i, j].map(|c| (c as f64 + 0.5) * self.cell);
            let p = [p[0] + low[0], p[1] + low[1]];
            match (flat, k < joint.upright.len()) {
                (true, true) => None,
                (true, false) => Some(p[0] * way.x + p[1] * way.y - joint.across[k - joint.upright.len()].metres()),
                (false, true) => {
                    let at = left as f64 + (right + 1 - left) as f64 * (k + 1) as f64 / upright as f64;
                    Some((i as f64 + 0.5 - at) * self.cell)
                }
                (false, false) => Some(p[1] - joint.across[k - joint.upright.len()].metres()).filter(|_| way.z > 0.0),
            }
        };
        (0..joint.upright.len() + joint.across.len())
            .map(|k| {
                let mut runs: Vec<[[f64; 2]; 2]> = Vec::new();
                let on = |i: usize, j: usize| {
                    let at = |i: usize, j: usize| along(k, i, j).map(|d| d >= 0.0);
                    seen(i, j)
                        && at(i, j) == Some(true)
                        && ((i > 0 && at(i - 1, j) == Some(false)) || (j > 0 && at(i, j - 1) == Some(false)))
                };
                // Upright joints run through rows, the others through columns.
                let by_rows = k < joint.upright.len() || (flat && way.x.abs() > way.y.abs());
                let cells: Vec<[usize; 2]> = if by_rows {
                    (0..h).flat_map(|j| (left..=right).map(move |i| [i, j])).filter(|c| on(c[0], c[1])).collect()
                } else {
                    (left..=right).flat_map(|i| (0..h).map(move |j| [i, j])).filter(|c| on(c[0], c[1])).collect()
                };
                for [i, j] in cells {
                    let p = [i, j].map(|c| c as f64 * self.cell);
                    match runs.last_mut() {
                        Some(run) if (run[1][0] - p[0]).hypot(run[1][1] - p[1]) < 2.5 * self.cell => run[1] = p,
                        _ => runs.push([p, p]),
                    }
                }
                runs
            })
            .collect()
    }

    /// Single cells that agree with none beside them take what most of those are: hairs and pin holes of the grid.
    fn clean(&mut self) {
        for _ in 0..2 {
            let old = Self { cell: self.cell, size: self.size, id: self.id.clone() };
            for j in 0..self.size[1] as isize {
                for i in 0..self.size[0] as isize {
                    let round: Vec<u32> = (-1..=1)
                        .flat_map(|b| (-1..=1).map(move |a| (a, b)))
                        .filter(|&p| p != (0, 0))
                        .map(|(a, b)| old.at(i + a, j + b))
                        .collect();
                    let own = old.at(i, j);
                    let count = |k: u32| round.iter().filter(|&&r| r == k).count();
                    if count(own) <= 2 {
                        let most = round.iter().copied().max_by(|&a, &b| count(a).cmp(&count(b)).then(b.cmp(&a)));
                        self.id[j as usize * self.size[0] + i as usize] = most.unwrap_or(own);
                    }
                }
            }
        }
    }

    /// Borders of each zone in cells, zone by zone; empty ground is not traced.
    pub(super) fn trace(&self) -> Vec<(u32, Vec<Vec<[f64; 2]>>)> {
        let mut edges: HashMap<u32, HashMap<[i32; 2], Vec<[i32; 2]>>> = HashMap::new();
        for j in 0..self.size[1] as isize {
            for i in 0..self.size[0] as isize {
                let own = self.at(i, j);
                if own == EMPTY {
                    continue;
                }
                let (a, b) = (i as i32, j as i32);
                let sides = [
                    (self.at(i, j - 1), [a, b], [a + 1, b]),
                    (self.at(i + 1, j), [a + 1, b], [a + 1, b + 1]),
                    (self.at(i, j + 1), [a + 1, b + 1], [a, b + 1]),
                    (self.at(i - 1, j), [a, b + 1], [a, b]),
                ];
                for (_, from, to) in sides.into_iter().filter(|s| s.0 != own) {
                    edges.entry(own).or_default().entry(from).or_default().push(to);
                }
            }
        }
        let mut out: Vec<(u32, Vec<Vec<[f64; 2]>>)> = edges.into_iter().map(|(id, from)| (id, loops(from))).collect();
        out.sort_by_key(|s| std::cmp::Reverse(s.0));
        out
    }

    /// Where letters go: the cell of each zone that is farthest from its border, and the box round the zone.
    pub(super) fn spots(&self) -> Vec<Spot> {
        let (w, h) = (self.size[0], self.size[1]);
        let mut far = vec![0_u32; w * h];
        // Chamfer distance to the border, 3 straight and 4 across (G. Borgefors, 1986), two sweeps.
        let step = |far: &mut Vec<u32>, i: usize, j: usize, way: [(isize, isize, u32); 4]| {
            let own = self.at(i as isize, j as isize);
            if own == EMPTY {
                far[j * w + i] = 0;
                return;
            }
            let mut best = far[j * w + i];
            for (a, b, cost) in way {
                let (p, q) = (i as isize + a, j as isize + b);
                let from = if self.at(p, q) == own { far[q as usize * w + p as usize] } else { 0 };
                best = best.min(from.saturating_add(cost));
            }
            far[j * w + i] = best;
        };
        for (j, i) in (0..h).flat_map(|j| (0..w).map(move |i| (j, i))) {
            far[j * w + i] = u32::MAX;
            step(&mut far, i, j, [(-1, 0, 3), (-1, -1, 4), (0, -1, 3), (1, -1, 4)]);
        }
        for (j, i) in (0..h).rev().flat_map(|j| (0..w).rev().map(move |i| (j, i))) {
            step(&mut far, i, j, [(1, 0, 3), (1, 1, 4), (0, 1, 3), (-1, 1, 4)]);
        }
        let mut spots: HashMap<u32, Spot> = HashMap::new();
        for (j, i) in (0..h).flat_map(|j| (0..w).map(move |i| (j, i))) {
            let id = self.id[j * w + i];
            if id >= BARE {
                continue;
            }
            let (low, high) = ([i, j].map(|k| k as f64 * self.cell), [i + 1, j + 1].map(|k| k as f64 * self.cell));
            let room = f64::from(far[j * w + i]) / 3.0 * self.cell;
            let middle = [low[0] + 0.5 * self.cell, low[1] + 0.5 * self.cell];
            let spot = spots.entry(id).or_insert(Spot { zone: id, middle, room, low, high });
            if room > spot.room {
                (spot.room, spot.middle) = (room, middle);
            }
            for k in 0..2 {
                spot.low[k] = spot.low[k].min(low[k]);
                spot.high[k] = spot.high[k].max(high[k]);
            }
        }
        let mut spots: Vec<Spot> = spots.into_values().collect();
        // The roomiest first: they keep their tape lines.
        spots.sort_by(|a, b| b.room.total_cmp(&a.room).then(a.zone.cmp(&b.zone)));
        spots
    }
}

/// Chains unit edges to loops, straight runs drawn together, corners of single steps cut.
fn loops(mut from: HashMap<[i32; 2], Vec<[i32; 2]>>) -> Vec<Vec<[f64; 2]>> {
    let mut starts: Vec<[i32; 2]> = from.keys().copied().collect();
    starts.sort_unstable();
    let mut out = Vec::new();
    for start in starts {
        while from.get(&start).is_some_and(|n| !n.is_empty()) {
            let mut points: Vec<[i32; 2]> = Vec::new();
            let mut at = start;
            while let Some(next) = from.get_mut(&at).and_then(Vec::pop) {
                points.push(at);
                at = next;
            }
            // The middles of the unit edges: a stair becomes a slope.
            let n = points.len();
            let middle = |k: usize| {
                let (a, b) = (points[k % n], points[(k + 1) % n]);
                [0.5 * f64::from(a[0] + b[0]), 0.5 * f64::from(a[1] + b[1])]
            };
            let turns = |k: usize| {
                let (a, b, c) = (middle(k + n - 1), middle(k), middle(k + 1));
                ((b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])).abs() > 1e-9
            };
            out.push((0..n).filter(|&k| turns(k)).map(middle).collect());
        }
    }
    out
}
