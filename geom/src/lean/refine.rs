//! Coarse faces cut small, so that a neighbourhood of six inches means the same on a box of twelve triangles as on a
//! sculpt of a million. Working copies only: results go back to the faces they came from.

use crate::mesh::Mesh;
use nalgebra::{Point3, distance_squared};
use rayon::prelude::*;
use std::collections::HashMap;

/// The faces that count, those with long edges in pieces, and the face each piece came from, rising.
pub(crate) struct Refined {
    pub(crate) mesh: Mesh,
    pub(crate) parent: Vec<u32>,
}

/// About how many pieces at most, whatever the model: with more of them in view, pieces may be longer than asked.
const MOST: f64 = 1e6;

/// For zones, where that would leave pieces of more than this many times the length asked for: they show no neighbourhood anyway, so few
/// do as well.
const BEYOND_REASON: f64 = 4.0;
const FEWER: f64 = 3e5;

/// A piece cut by halving has about this share of the square of the longest edge allowed.
const SHARE: f64 = 0.2;

/// The least limit from `limit` up at which the faces that count come to about [`MOST`] pieces at most; with `or_fewer` to [`FEWER`] where
/// that is beyond reason.
///
/// Halving all three edges makes four pieces, and halving the two long edges of a sliver makes three: for a length L, a
/// height h and a limit l there are about (h / l)^2 (L / h)^1.585 pieces, where 1.585 is the binary logarithm of 3. A
/// height below the limit is not cut.
fn within_reason(mesh: &Mesh, counts: impl Fn(usize) -> bool + Sync, limit: f64, or_fewer: bool) -> f64 {
    let coarse: Vec<[f64; 2]> = (0..mesh.triangles().len())
        .into_par_iter()
        .with_min_len(1 << 12)
        .filter(|&f| counts(f))
        .map(|f| {
            let [a, b, c] = mesh.corners(f);
            let longest = distance_squared(&a, &b).max(distance_squared(&b, &c)).max(distance_squared(&c, &a)).sqrt();
            [longest, mesh.area_vector(f).norm()]
        })
        .filter(|[longest, _]| *longest > limit)
        .collect();
    let thirds = 3.0_f64.log2();
    let pieces = |limit: f64| {
        let of = |[long, area]: &[f64; 2]| {
            let height = (2.0 * area / long).max(limit);
            let halved = (height / limit).powi(2) * (long / height).powf(thirds);
            halved.max(area / (SHARE * limit * limit))
        };
        coarse.iter().map(of).sum::<f64>()
    };
    let least = |most: f64| {
        if pieces(limit) <= most {
            return limit;
        }
        let (mut low, mut high) = (limit, 2.0 * limit);
        while pieces(high) > most && high.is_finite() {
            (low, high) = (high, 2.0 * high);
        }
        for _ in 0..10 {
            let middle = 0.5 * (low + high);
            if pieces(middle) > most { low = middle } else { high = middle }
        }
        high
    };
    let within = least(MOST);
    if or_fewer && within > BEYOND_REASON * limit { least(FEWER) } else { within }
}

/// The square of the longest edge of a face, or four times its area if that is less: a sliver is long too, but weighs
/// nothing.
fn coarseness(mesh: &Mesh, face: usize) -> [f64; 2] {
    let [a, b, c] = mesh.corners(face);
    let longest = distance_squared(&a, &b).max(distance_squared(&b, &c)).max(distance_squared(&c, &a));
    let area = mesh.area_vector(face).norm();
    [longest.min(4.0 * area), area]
}

/// How much area has faces of which coarseness, by steps of a fifth in length.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Coarseness {
    /// In whole units, so that sums are the same in any order.
    area: [u64; STEPS],
}

const STEPS: usize = 128;

fn step(squared: f64) -> usize {
    // Exponent and first bit behind the point: two steps for each doubling of the square.
    ((squared.to_bits() >> 51) as usize).saturating_sub((1023 - 40) * 2).min(STEPS - 1)
}

impl Coarseness {
    /// Of faces that are as fine as they will be.
    pub(crate) fn none() -> Self {
        Self { area: [0; STEPS] }
    }

    /// Of the faces that count.
    pub(crate) fn of(mesh: &Mesh, counts: impl Fn(usize) -> bool + Sync) -> Self {
        let none = || [0; STEPS];
        let add = |mut sums: [u64; STEPS], f: usize| {
            let [coarse, area] = coarseness(mesh, f);
            sums[step(coarse)] += (area * 1e9) as u64;
            sums
        };
        let join = |a: [u64; STEPS], b: [u64; STEPS]| std::array::from_fn(|k| a[k] + b[k]);
        let faces = (0..mesh.triangles().len()).into_par_iter().with_min_len(1 << 12);
        Self { area: faces.filter(|&f| counts(f)).fold(none, add).reduce(none, join) }
    }

    /// More than one part in `few` of the area is in faces coarser than `limit`: fewer are patches as they stand.
    pub(crate) fn beyond(&self, limit: f64, few: u64) -> bool {
        let coarse: u64 = self.area[(step(limit * limit) + 1).min(STEPS - 1)..].iter().sum();
        coarse * few > self.area.iter().sum()
    }
}

/// Cuts the faces that count until no edge is longer than `limit`, or than what keeps them to about [`MOST`] pieces.
///
/// Whether an edge is halved depends on its two ends alone, so both its faces agree and no gap opens.
pub(crate) fn refine(mesh: &Mesh, counts: impl Fn(usize) -> bool + Sync, limit: f64) -> Refined {
    let limit = within_reason(mesh, &counts, limit, false);
    refine_to(mesh, counts, limit)
}

/// The same for zones, where pieces are asked for that are small beside a neighbourhood.
pub(crate) fn refine_for_zones(mesh: &Mesh, counts: impl Fn(usize) -> bool + Sync, limit: f64) -> Refined {
    let limit = within_reason(mesh, &counts, limit, true);
    refine_to(mesh, counts, limit)
}

fn refine_to(mesh: &Mesh, counts: impl Fn(usize) -> bool + Sync, limit: f64) -> Refined {
    let long = |p: &[Point3<f64>], a: u32, b: u32| distance_squared(&p[a as usize], &p[b as usize]) > limit * limit;
    let mut positions = mesh.positions().to_vec();
    let whole = |f: u32| (mesh.triangles()[f as usize], f);
    // Most faces are small enough: only the others are worked on, round by round.
    let (mut done, mut todo): (Vec<_>, Vec<_>) = (0..mesh.triangles().len() as u32)
        .into_par_iter()
        .with_min_len(1 << 12)
        .filter(|&f| counts(f as usize))
        .map(whole)
        .partition(|(t, _)| !(0..3).any(|k| long(mesh.positions(), t[k], t[(k + 1) % 3])));
    let mut halves: HashMap<(u32, u32), u32> = HashMap::new();
    for _round in 0..24 {
        if todo.is_empty() {
            break;
        }
        let mut next = Vec::new();
        for (t, parent) in todo {
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
            if mid == [None; 3] {
                done.push((t, parent));
            } else {
                pieces(t, mid, &positions, |piece| next.push((piece, parent)));
            }
        }
        todo = next;
    }
    done.extend(todo);
    // In the order of the model, which keeps neighbours close together.
    done.par_sort_by_key(|piece| piece.1);
    let (triangles, parent) = done.into_iter().unzip();
    Refined { mesh: Mesh::new(positions, triangles, Vec::new()).with_origin(mesh.origin), parent }
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Of a square of 10 m a million pieces are nearly as small as asked, of one of 40 m they would be six times as long.
    #[test]
    fn zones_of_what_is_too_large_for_neighbourhoods_have_fewer_pieces() {
        let square = |side: f64| {
            let corners = [[0.0, 0.0], [side, 0.0], [side, side], [0.0, side]];
            let corners = corners.map(|[x, y]| Point3::new(x, y, 0.0)).to_vec();
            Mesh::new(corners, vec![[0, 1, 2], [0, 2, 3]], Vec::new())
        };
        let count = |fine: Refined| fine.parent.len() as f64;
        let (small, large) = (square(10.0), square(40.0));
        let [as_asked, for_zones] =
            [count(refine(&small, |_| true, 0.02)), count(refine_for_zones(&small, |_| true, 0.02))];
        // By halving, pieces come to within a factor of two of what was counted on.
        assert!(as_asked == for_zones && for_zones > MOST / 2.0, "{as_asked} {for_zones}");
        let few = count(refine_for_zones(&large, |_| true, 0.02));
        assert!(few > FEWER / 2.0 && few < 2.0 * FEWER, "{few}");
    }
}
