//! A cell of the grid: its corners, edges and faces, and the sheets of surface that pass through it.

use crate::distance::V3;

/// Corner `x + 2 y + 4 z` of a cell of side one.
pub(super) fn corner_of(c: usize) -> V3 {
    V3::new((c & 1) as f64, (c >> 1 & 1) as f64, (c >> 2) as f64)
}

/// Edges of a cell by axis and the two bits of their place: edge `4 axis + b + 2 c`, `b` and `c` along the next axes.
pub(super) fn ends(edge: usize) -> [usize; 2] {
    let (a, b, c) = (edge / 4, edge & 1, edge >> 1 & 1);
    let low = b << ((a + 1) % 3) | c << ((a + 2) % 3);
    [low, low | 1 << a]
}

pub(super) fn edge_of(corners: [usize; 2]) -> usize {
    let axis = (corners[0] ^ corners[1]).trailing_zeros() as usize;
    let low = corners[0] & corners[1];
    4 * axis + (low >> ((axis + 1) % 3) & 1) + 2 * (low >> ((axis + 2) % 3) & 1)
}

/// Corners of face `side` of axis `axis`, in a ring.
pub(super) fn ring(axis: usize, side: usize) -> [usize; 4] {
    let (b, c) = (1 << ((axis + 1) % 3), 1 << ((axis + 2) % 3));
    [0, b, b | c, c].map(|k| k | side << axis)
}

pub(super) fn has(mask: u8, corner: usize) -> bool {
    mask >> corner & 1 == 1
}

pub(super) fn doubtful(mask: u8, ring: [usize; 4]) -> bool {
    let [a, b, c, d] = ring.map(|k| has(mask, k));
    a == c && b == d && a != b
}

/// The six faces of a cell as axis and side, in the order of their bits.
pub(super) const FACES: [(usize, usize); 6] = [(0, 0), (0, 1), (1, 0), (1, 1), (2, 0), (2, 1)];

/// The sheet that each crossed edge of a cell belongs to, none for the others, and how many there are.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sheets {
    pub(super) of: [u8; 12],
    pub(super) count: u8,
}

/// The sheets of all cells: by the corners in the rest, and the doubtful faces whose middle is in the rest, so that its corners
/// are joined there; on the others they are kept apart. Both cells see the same face, so their sheets fit.
pub(super) struct Table(Vec<Sheets>);

impl Table {
    pub(super) fn new() -> Self {
        let sheets = |key: usize| {
            let (mask, joined) = (key as u8, (key >> 8) as u8);
            let plain = (0..6).all(|f| joined >> f & 1 == 0 || doubtful(mask, ring(FACES[f].0, FACES[f].1)));
            if plain { sheets(mask, joined) } else { Sheets::default() }
        };
        Self((0..1 << 14).map(sheets).collect())
    }

    pub(super) fn of(&self, mask: u8, joined: u8) -> &Sheets {
        &self.0[usize::from(mask) | usize::from(joined) << 8]
    }
}

/// Of a doubtful face the corners that its links cut off are in the rest, or not when those are joined.
fn sheets(mask: u8, joined: u8) -> Sheets {
    let mut group: [u8; 12] = std::array::from_fn(|e| e as u8);
    let mut join = |a: usize, b: usize| {
        let (x, y) = (group[a].min(group[b]), group[a].max(group[b]));
        group.iter_mut().filter(|g| **g == y).for_each(|g| *g = x);
    };
    for (face, (axis, side)) in FACES.into_iter().enumerate() {
        let ring = ring(axis, side);
        let edges: [usize; 4] = std::array::from_fn(|k| edge_of([ring[k], ring[(k + 1) % 4]]));
        if doubtful(mask, ring) {
            let apart = joined >> face & 1 == 0;
            (0..4).filter(|&k| has(mask, ring[k]) == apart).for_each(|k| join(edges[k], edges[(k + 3) % 4]));
        } else {
            let mut crossed = (0..4).filter(|&k| has(mask, ring[k]) != has(mask, ring[(k + 1) % 4]));
            if let (Some(p), Some(q)) = (crossed.next(), crossed.next()) {
                join(edges[p], edges[q]);
            }
        }
    }
    let mut count = 0;
    let mut number = [u8::MAX; 12];
    let mut of = [u8::MAX; 12];
    for e in 0..12 {
        let [p, q] = ends(e);
        if has(mask, p) != has(mask, q) {
            let root = group[e] as usize;
            if number[root] == u8::MAX {
                number[root] = count;
                count += 1;
            }
            of[e] = number[root];
        }
    }
    Sheets { of, count }
}
