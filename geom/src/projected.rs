//! What the visitor's side covers seen square on: the elevation an estimator would scale off a drawing.

use crate::mesh::Mesh;
use crate::units::{Area, Length};
use rayon::prelude::*;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

/// Cells along the longer side of the elevation.
const CELLS: f64 = 2048.0;

/// Area of the elevation from the front (-Y) of the triangles that `counts` and face the visitor; what hides behind is counted once.
///
/// Sampled at cell middles, 2048 along the longer side: the error is at most half a cell along the outline, under 0.1 % of a
/// compact shape. Bits are set with `or`, so the result does not depend on order or threads. O(n + cells).
#[must_use]
pub fn elevation(mesh: &Mesh, size: [Length; 3], counts: impl Fn(usize) -> bool + Sync) -> Area {
    let (width, height) = (size[0].metres(), size[2].metres());
    let cell = width.max(height) / CELLS;
    if cell <= 0.0 || !cell.is_finite() {
        return Area::ZERO;
    }
    let (columns, rows) = ((width / cell).ceil().max(1.0) as usize, (height / cell).ceil().max(1.0) as usize);
    // A whole number of cells each way, so that a plain wall comes to what its sides say.
    let (across, up) = (width / columns as f64, height / rows as f64);
    if across <= 0.0 || up <= 0.0 {
        return Area::ZERO;
    }
    let words = columns.div_ceil(64);
    let covered: Vec<AtomicU64> = (0..words * rows).map(|_| AtomicU64::new(0)).collect();
    (0..mesh.triangles().len()).into_par_iter().with_min_len(1 << 12).filter(|&face| counts(face)).for_each(|face| {
        let [a, b, c] = mesh.corners(face).map(|p| (p.x / across - 0.5, p.z / up - 0.5));
        let doubled = (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0);
        // Counter-clockwise in this view is facing the visitor.
        if doubled <= 0.0 {
            return;
        }
        let span = |p: f64, q: f64, r: f64, end: usize| {
            (p.min(q).min(r).ceil().max(0.0) as usize, (p.max(q).max(r).floor().max(-1.0) as i64).min(end as i64 - 1))
        };
        let (low, high) = span(a.1, b.1, c.1, rows);
        for row in low as i64..=high {
            // The part of the row inside all three edges, an interval in x.
            let (mut from, mut to) = span(a.0, b.0, c.0, columns);
            let z = row as f64;
            for (p, q) in [(a, b), (b, c), (c, a)] {
                let rise = q.1 - p.1;
                let at = p.0 + (z - p.1) * (q.0 - p.0) / rise;
                if rise > 0.0 {
                    to = to.min((at + 1e-9).floor().max(-1.0) as i64);
                } else if rise < 0.0 {
                    from = from.max((at - 1e-9).ceil().max(0.0) as usize);
                }
            }
            let Ok(to) = usize::try_from(to) else { continue };
            if from > to {
                continue;
            }
            // A word of cells at a time.
            for word in from / 64..=to / 64 {
                let first = if word == from / 64 { from % 64 } else { 0 };
                let last = if word == to / 64 { to % 64 } else { 63 };
                let cells = (u64::MAX << first) & (u64::MAX >> (63 - last));
                covered[row as usize * words + word].fetch_or(cells, Relaxed);
            }
        }
    });
    let cells: u64 = covered.iter().map(|word| u64::from(word.load(Relaxed).count_ones())).sum();
    Area::from_square_metres(cells as f64 * (across * up))
}
