//! Soup to [`Mesh`]: equal positions become one vertex, and the order becomes canonical.
//!
//! The weld is exact: two corners are one vertex when all three coordinates are equal (-0 equals 0). Corners are sorted
//! into cells of a coarse grid in Z-curve order; each cell has its own small table, so memory is touched in runs even
//! when the file is shuffled, and cells are independent of one another, so threads need not talk.

use crate::intake::{Corners, Soup};
use crate::mesh::Mesh;
use crate::numeric::Filed;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::sync::atomic::{AtomicU32, Ordering::Relaxed};

/// Corners a cell should hold: its table then stays in the fastest cache.
const CORNERS_A_CELL: usize = 4096;
/// Pieces of the corner list that are sorted into cells side by side. Fixed, so it never changes a result.
const PIECES: usize = 16;

/// A welded mesh in file units and where its low corner lay in the file.
pub(crate) struct Welded {
    pub(crate) mesh: Mesh,
    pub(crate) low: Vector3<f64>,
    pub(crate) size: Vector3<f64>,
}

/// A view of the corners that gives any of them as f64.
struct View<'a> {
    corners: &'a Corners<'a>,
    /// Kept triangles, when some records must be passed over.
    kept: Option<Vec<u32>>,
}

impl View<'_> {
    fn triangles(&self) -> usize {
        match (self.corners, &self.kept) {
            (_, Some(kept)) => kept.len(),
            (Corners::StlRecords { records, .. }, None) => records.len() / 50,
            (Corners::Indexed { triangles, .. }, None) => triangles.len(),
        }
    }

    fn source(&self, triangle: usize) -> usize {
        self.kept.as_ref().map_or(triangle, |kept| kept[triangle] as usize)
    }

    /// Corner `k` of kept triangle `k / 3`; minus zero becomes zero.
    fn at(&self, corner: usize) -> [f64; 3] {
        let triangle = self.source(corner / 3);
        let raw = match self.corners {
            Corners::StlRecords { records, .. } => {
                let start = 50 * triangle + 12 + 12 * (corner % 3);
                let bytes = &records[start..start + 12];
                let f = |i: usize| f64::from(f32::from_le_bytes([bytes[i], bytes[i + 1], bytes[i + 2], bytes[i + 3]]));
                [f(0), f(4), f(8)]
            }
            Corners::Indexed { positions, triangles } => positions[triangles[triangle][corner % 3] as usize],
        };
        raw.map(|c| c + 0.0)
    }
}

/// Welds and re-centres. Linear; a file of ten million triangles needs about 45 bytes a triangle beside its own bytes.
pub(crate) fn weld(soup: &Soup<'_>) -> Welded {
    let kept = match &soup.corners {
        Corners::StlRecords { records, left_out } if !left_out.is_empty() => Some(
            (0..(records.len() / 50) as u32)
                .filter(|record| left_out.binary_search(record).is_err())
                .collect::<Vec<_>>(),
        ),
        _ => None,
    };
    let view = View { corners: &soup.corners, kept };
    let triangles = view.triangles();
    let part_of: Vec<u32> = if soup.part_of.is_empty() {
        Vec::new()
    } else {
        (0..triangles).map(|t| soup.part_of[view.source(t)]).collect()
    };
    let (low, high) = bounds(&view, triangles * 3);
    let (positions, corners) = merge(&view, triangles * 3, low, high);
    let shifted: Vec<_> = positions.into_par_iter().map(|p| Point3::from(Vector3::from(p) - low)).collect();
    let (corners, part_of) = in_canonical_order(corners, part_of, shifted.len());
    Welded { mesh: Mesh::new(shifted, corners, part_of), low, size: high - low }
}

fn bounds(view: &View<'_>, corners: usize) -> (Vector3<f64>, Vector3<f64>) {
    if corners == 0 {
        return (Vector3::zeros(), Vector3::zeros());
    }
    let first = Vector3::from(view.at(0));
    (0..corners)
        .into_par_iter()
        .fold(
            || (first, first),
            |(low, high), c| {
                let p = Vector3::from(view.at(c));
                (low.inf(&p), high.sup(&p))
            },
        )
        .reduce(|| (first, first), |a, b| (a.0.inf(&b.0), a.1.sup(&b.1)))
}

/// Cells along each axis are `2^bits`; a cell's number is its place on the Z-curve.
struct Cells {
    low: Vector3<f64>,
    per_unit: Vector3<f64>,
    bits: u32,
}

impl Cells {
    fn for_corners(corners: usize, low: Vector3<f64>, high: Vector3<f64>) -> Self {
        // A surface crosses about 6 * 4^bits of the 8^bits cells of its box.
        let wanted = corners / CORNERS_A_CELL / 6;
        let bits = (wanted.max(1).ilog2() / 2 + 1).min(6);
        let per_unit = (high - low).map(|extent| if extent > 0.0 { 1.0 / extent } else { 0.0 });
        Self { low, per_unit, bits }
    }

    fn count(&self) -> usize {
        1 << (3 * self.bits)
    }

    /// Z-curve number of a position at `bits` bits an axis; monotone in each coordinate.
    fn code(&self, p: [f64; 3], bits: u32) -> u64 {
        let steps = (1_u64 << bits) as f64;
        let top = (1_u64 << bits) - 1;
        let axis = |k: usize| (((p[k] - self.low[k]) * self.per_unit[k] * steps) as u64).min(top);
        z_curve(axis(0)) << 2 | z_curve(axis(1)) << 1 | z_curve(axis(2))
    }
}

/// Puts two zero bits before every bit of a 21-bit number.
pub(crate) fn z_curve(x: u64) -> u64 {
    let x = (x | x << 32) & 0x1f_0000_0000_ffff;
    let x = (x | x << 16) & 0x1f_0000_ff00_00ff;
    let x = (x | x << 8) & 0x100f_00f0_0f00_f00f;
    let x = (x | x << 4) & 0x10c3_0c30_c30c_30c3;
    (x | x << 2) & 0x1249_2492_4924_9249
}

/// One piece of the corner list, sorted by cell: `corners[starts[c]..starts[c + 1]]` lie in cell `c`.
struct Piece {
    starts: Vec<u32>,
    corners: Vec<u32>,
}

impl Piece {
    fn sort(view: &View<'_>, cells: &Cells, range: std::ops::Range<usize>) -> Self {
        let codes: Vec<u32> = range.clone().map(|c| cells.code(view.at(c), cells.bits) as u32).collect();
        let mut starts = vec![0_u32; cells.count() + 1];
        codes.iter().for_each(|&code| starts[code as usize + 1] += 1);
        for c in 0..cells.count() {
            starts[c + 1] += starts[c];
        }
        let mut next = starts.clone();
        let mut corners = vec![0_u32; codes.len()];
        for (corner, code) in range.zip(codes) {
            let slot = &mut next[code as usize];
            corners[*slot as usize] = corner as u32;
            *slot += 1;
        }
        Self { starts, corners }
    }

    fn cell(&self, cell: usize) -> &[u32] {
        &self.corners[self.starts[cell] as usize..self.starts[cell + 1] as usize]
    }
}

/// Distinct positions in canonical order, and for every triangle the numbers of its corners.
fn merge(view: &View<'_>, corners: usize, low: Vector3<f64>, high: Vector3<f64>) -> (Vec<[f64; 3]>, Vec<[u32; 3]>) {
    let cells = Cells::for_corners(corners, low, high);
    let step = corners.div_ceil(PIECES).max(1);
    let pieces: Vec<Piece> = (0..corners.div_ceil(step))
        .into_par_iter()
        .map(|p| Piece::sort(view, &cells, p * step..((p + 1) * step).min(corners)))
        .collect();

    // Every corner is written by exactly one cell, so relaxed stores are plain stores; they only keep this file safe.
    let numbers: Vec<[AtomicU32; 3]> =
        (0..corners / 3).into_par_iter().map(|_| std::array::from_fn(|_| AtomicU32::new(0))).collect();
    let slot = |corner: u32| &numbers[corner as usize / 3][corner as usize % 3];
    let found: Vec<Vec<[f64; 3]>> = (0..cells.count())
        .into_par_iter()
        .with_min_len(16)
        .map(|cell| {
            let members = || pieces.iter().flat_map(|piece| piece.cell(cell)).copied();
            let mut table = Table::for_entries(members().count());
            members().for_each(|corner| slot(corner).store(table.number(view.at(corner as usize)), Relaxed));
            let (positions, rank) = table.ranked(&cells);
            members().for_each(|corner| slot(corner).store(rank[slot(corner).load(Relaxed) as usize], Relaxed));
            positions
        })
        .collect();

    let base: Vec<u32> = found
        .iter()
        .scan(0_u32, |next, cell| {
            let start = *next;
            *next += cell.len() as u32;
            Some(start)
        })
        .collect();
    pieces.par_iter().for_each(|piece| {
        for (cell, start) in base.iter().enumerate() {
            for &corner in piece.cell(cell) {
                slot(corner).store(slot(corner).load(Relaxed) + start, Relaxed);
            }
        }
    });
    drop(pieces);
    let positions = found.into_iter().flatten().collect();
    (positions, numbers.into_iter().map(|t| t.map(AtomicU32::into_inner)).collect())
}

/// Open addressing on position bits: the one place where time is spent.
struct Table {
    slots: Vec<u32>,
    positions: Vec<[f64; 3]>,
}

const EMPTY: u32 = u32::MAX;

impl Table {
    fn for_entries(entries: usize) -> Self {
        let slots = if entries == 0 { 1 } else { (entries * 2 / 3).next_power_of_two() * 2 };
        Self { slots: vec![EMPTY; slots], positions: Vec::with_capacity(entries / 5) }
    }

    fn number(&mut self, p: [f64; 3]) -> u32 {
        // Multiply-and-fold hash of the three bit patterns; odd constants from the digits of the golden ratio.
        let [x, y, z] = p.map(f64::to_bits);
        let mixed = (x.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ y.rotate_left(23)).wrapping_mul(0xbf58_476d_1ce4_e5b9)
            ^ z.wrapping_mul(0x94d0_49bb_1331_11eb);
        let mixed = (mixed ^ mixed >> 29).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let mask = self.slots.len() - 1;
        let mut at = (mixed >> 32) as usize & mask;
        loop {
            match self.slots[at] {
                EMPTY => {
                    let number = self.positions.len() as u32;
                    self.slots[at] = number;
                    self.positions.push(p);
                    return number;
                }
                number if self.positions[number as usize] == p => return number,
                _ => at = (at + 1) & mask,
            }
        }
    }

    /// Positions along the Z-curve (ties by coordinates), and the rank of each by its first number.
    fn ranked(self, cells: &Cells) -> (Vec<[f64; 3]>, Vec<u32>) {
        let key = |p: [f64; 3]| cells.code(p, 21);
        let mut order: Vec<(u64, u32)> = self.positions.iter().zip(0..).map(|(p, n)| (key(*p), n)).collect();
        order.sort_unstable_by(|a, b| {
            let coordinates = |n: u32| self.positions[n as usize];
            let by_place = || {
                let (p, q) = (coordinates(a.1), coordinates(b.1));
                p.iter().zip(&q).map(|(x, y)| x.total_cmp(y)).find(|o| o.is_ne()).unwrap_or(std::cmp::Ordering::Equal)
            };
            a.0.cmp(&b.0).then_with(by_place)
        });
        let mut rank = vec![0; order.len()];
        for (place, (_, number)) in (0..).zip(&order) {
            rank[*number as usize] = place;
        }
        (order.iter().map(|(_, n)| self.positions[*n as usize]).collect(), rank)
    }
}

/// Lowest corner first (winding kept), then sorted: the order no longer depends on the file.
///
/// A counting sort by lowest corner, then each corner's few triangles are sorted by the other two.
fn in_canonical_order(mut corners: Vec<[u32; 3]>, part_of: Vec<u32>, vertices: usize) -> (Vec<[u32; 3]>, Vec<u32>) {
    corners.par_iter_mut().for_each(|t| {
        let lowest = (0..3).min_by_key(|&k| t[k]).unwrap_or(0);
        t.rotate_left(lowest);
    });
    let filed = Filed::new(vertices, |file| {
        corners.par_iter().enumerate().with_min_len(1 << 12).for_each(|(n, t)| file(t[0], n as u32));
    });
    let key = |n: u32| (corners[n as usize], part_of.get(n as usize));
    let order: Vec<u32> = (0..vertices)
        .into_par_iter()
        .with_min_len(1 << 12)
        .flat_map_iter(|vertex| {
            let mut around: Vec<u32> = filed.under(vertex).collect();
            around.sort_unstable_by_key(|n| key(*n));
            around
        })
        .collect();
    let parts = if part_of.is_empty() { part_of } else { order.iter().map(|&n| part_of[n as usize]).collect() };
    (order.par_iter().map(|&n| corners[n as usize]).collect(), parts)
}
