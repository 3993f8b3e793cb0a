//! A closed surface through the cells of a grid whose corners differ in sign: one vertex for each sheet in a cell, one
//! polygon around each edge of the grid that the surface crosses (surface nets: S. F. F. Gibson, 1998; vertices by the
//! planes at the corners: T. Ju, F. Losasso, S. Schaefer, J. Warren, *Dual Contouring of Hermite Data*, 2002; a vertex a
//! sheet: G. M. Nielson, *Dual Marching Cubes*, 2004). On a face of a cell whose diagonals disagree, corners of the rest
//! are kept apart; both cells see the same face, so the sheets fit.

use nalgebra::{Matrix3, Point3};
use rayon::prelude::*;
use std::collections::HashMap;

use super::BLOCK;
use super::field::{Depth, Field, Local};
use super::near::{FINEST, HALF_DIAGONAL, Patch, level_of};
use crate::distance::V3;

/// A surface as it comes off the grid.
pub(super) struct Net {
    pub(super) positions: Vec<Point3<f64>>,
    /// The rest is behind them.
    pub(super) triangles: Vec<[u32; 3]>,
    /// The farthest that a vertex of a single sheet was found from the surface.
    pub(super) off: f64,
}

/// The cells of a block that the surface passes through.
struct Cells {
    low: [usize; 3],
    /// A bit for each of the cells, that of the low corner first, along x first.
    bits: [u64; WORDS],
    /// How many there are before each word.
    before: [u16; WORDS],
    cells: Vec<Cell>,
    vertices: Vec<Point3<f64>>,
    off: f64,
}

const WORDS: usize = BLOCK * BLOCK * BLOCK / 64;

#[derive(Clone, Copy, Debug)]
struct Cell {
    /// Place in the block, as in `bits`.
    place: u16,
    /// Bit `x + 2 y + 4 z`: that corner belongs to the rest.
    mask: u8,
    /// First of its vertices in the block, one a sheet.
    first: u16,
}

impl Cells {
    fn find(&self, at: [usize; 3]) -> Option<&Cell> {
        let place = at[0] + BLOCK * (at[1] + BLOCK * at[2]);
        let (word, bit) = (place / 64, place % 64);
        if self.bits[word] >> bit & 1 == 0 {
            return None;
        }
        let rank = (self.bits[word] & ((1 << bit) - 1)).count_ones() as usize;
        self.cells.get(usize::from(self.before[word]) + rank)
    }
}

/// Edges of a cell by axis and the two bits of their place: edge `4 axis + b + 2 c`, `b` and `c` along the next axes.
fn ends(edge: usize) -> [usize; 2] {
    let (a, b, c) = (edge / 4, edge & 1, edge >> 1 & 1);
    let low = b << ((a + 1) % 3) | c << ((a + 2) % 3);
    [low, low | 1 << a]
}

fn edge_of(corners: [usize; 2]) -> usize {
    let axis = (corners[0] ^ corners[1]).trailing_zeros() as usize;
    let low = corners[0] & corners[1];
    4 * axis + (low >> ((axis + 1) % 3) & 1) + 2 * (low >> ((axis + 2) % 3) & 1)
}

/// Corners of face `side` of axis `axis`, in a ring.
fn ring(axis: usize, side: usize) -> [usize; 4] {
    let (b, c) = (1 << ((axis + 1) % 3), 1 << ((axis + 2) % 3));
    [0, b, b | c, c].map(|k| k | side << axis)
}

fn has(mask: u8, corner: usize) -> bool {
    mask >> corner & 1 == 1
}

fn doubtful(mask: u8, ring: [usize; 4]) -> bool {
    let [a, b, c, d] = ring.map(|k| has(mask, k));
    a == c && b == d && a != b
}

/// The sheet that each crossed edge of a cell belongs to, and how many there are.
fn sheets(mask: u8) -> ([u8; 12], usize) {
    let mut group: [u8; 12] = std::array::from_fn(|e| e as u8);
    let mut join = |a: usize, b: usize| {
        let (x, y) = (group[a].min(group[b]), group[a].max(group[b]));
        group.iter_mut().filter(|g| **g == y).for_each(|g| *g = x);
    };
    for (axis, side) in [(0, 0), (0, 1), (1, 0), (1, 1), (2, 0), (2, 1)] {
        let ring = ring(axis, side);
        let edges: [usize; 4] = std::array::from_fn(|k| edge_of([ring[k], ring[(k + 1) % 4]]));
        if doubtful(mask, ring) {
            (0..4).filter(|&k| has(mask, ring[k])).for_each(|k| join(edges[k], edges[(k + 3) % 4]));
        } else {
            let crossed: Vec<usize> = (0..4).filter(|&k| has(mask, ring[k]) != has(mask, ring[(k + 1) % 4])).collect();
            if let [p, q] = crossed[..] {
                join(edges[p], edges[q]);
            }
        }
    }
    let mut count = 0;
    let mut number = [u8::MAX; 12];
    let mut sheet = [u8::MAX; 12];
    for e in 0..12 {
        let [p, q] = ends(e);
        if has(mask, p) != has(mask, q) {
            let root = group[e] as usize;
            if number[root] == u8::MAX {
                number[root] = count as u8;
                count += 1;
            }
            sheet[e] = number[root];
        }
    }
    (sheet, count)
}

/// The net of a field.
pub(super) fn net(field: &Field<'_>) -> Net {
    let table: Vec<([u8; 12], usize)> = (0..=255).map(sheets).collect();
    let source = field.source();
    let blocks = field.sweep(&[source], &|low, [nodes]| {
        let patch = Patch::new(&source, &nodes, field.middle(low, BLOCK));
        Block { local: Local::new(field, patch), table: &table, low, nodes: Vec::new(), found: Vec::new(), off: 0.0 }
            .cells()
    });
    let mut next = 0;
    let firsts: Vec<u32> = blocks
        .iter()
        .map(|block| {
            let first = next;
            next += block.vertices.len() as u32;
            first
        })
        .collect();
    let off = blocks.iter().fold(0.0, |off: f64, block| off.max(block.off));
    let number = blocks.iter().zip(0..).map(|(block, i)| (block.low, i)).collect();
    let weave = Weave { field, table: &table, blocks: &blocks, firsts: &firsts, number };
    let parts: Vec<Woven> = (0..blocks.len()).into_par_iter().with_min_len(16).map(|i| weave.polygons(i)).collect();
    drop(weave);
    let mut positions = Vec::with_capacity(next as usize);
    blocks.into_iter().for_each(|block| positions.extend(block.vertices));
    let mut triangles = Vec::with_capacity(parts.iter().map(|(some, odd)| some.len() + 8 * odd.len()).sum());
    let mut knots: HashMap<[u32; 5], u32> = HashMap::new();
    for (some, odd) in parts {
        triangles.extend(some);
        for polygon in odd {
            let ring: Vec<u32> = polygon
                .into_iter()
                .map(|knot| match knot {
                    Knot::Vertex(v) => v,
                    Knot::Between(key, at) => *knots.entry(key).or_insert_with(|| {
                        positions.push(Point3::from(at));
                        positions.len() as u32 - 1
                    }),
                })
                .collect();
            let middle = ring.iter().map(|&v| positions[v as usize].coords).sum::<V3>() / ring.len() as f64;
            let hub = positions.len() as u32;
            positions.push(Point3::from(middle));
            triangles.extend((0..ring.len()).map(|k| [hub, ring[k], ring[(k + 1) % ring.len()]]));
        }
    }
    Net { positions, triangles, off }
}

struct Block<'f, 'a> {
    local: Local<'f, 'a>,
    table: &'f [([u8; 12], usize)],
    low: [usize; 3],
    /// Made when first needed.
    nodes: Vec<Option<Depth>>,
    found: Vec<(Cell, Vec<V3>)>,
    off: f64,
}

impl Block<'_, '_> {
    fn cells(mut self) -> Option<Cells> {
        self.halve([0; 3], BLOCK, None);
        if self.found.is_empty() {
            return None;
        }
        self.found.sort_unstable_by_key(|(cell, _)| cell.place);
        let (mut bits, mut before) = ([0u64; WORDS], [0; WORDS]);
        let (mut cells, mut vertices) = (Vec::with_capacity(self.found.len()), Vec::with_capacity(self.found.len()));
        for (cell, some) in self.found {
            bits[usize::from(cell.place) / 64] |= 1 << (cell.place % 64);
            cells.push(Cell { first: vertices.len() as u16, ..cell });
            vertices.extend(some.into_iter().map(Point3::from));
        }
        for word in 1..WORDS {
            before[word] = before[word - 1] + bits[word - 1].count_ones() as u16;
        }
        Some(Cells { low: self.low, bits, before, cells, vertices, off: self.off })
    }

    /// Finds the cells of a cell with its low corner at `at`; `skin_side` when no surface of the model is in it.
    fn halve(&mut self, at: [usize; 3], side: usize, skin_side: Option<bool>) {
        let field = self.local.field;
        let (step, thickest, level) = (field.grid.spacing, field.ground.thickest, level_of(side));
        let low = std::array::from_fn(|k| self.low[k] + at[k]);
        let (centre, _) = field.middle(low, side);
        let corner = HALF_DIAGONAL * side as f64 * step;
        let Some(hit) = self.local.patch.nearest(level, &centre) else { return };
        let d = hit.distance;
        // Far within an even coat nothing is left, whatever the side.
        if d > thickest + corner || self.local.even.is_some_and(|t| d + corner < t) {
            return;
        }
        let skin_side = skin_side.or_else(|| (d > corner).then(|| field.on_skin_side(low)));
        if skin_side == Some(false) {
            return;
        }
        self.local.keep(level, &centre, &hit, corner);
        let half = side / 2;
        for c in 0..8 {
            let at = std::array::from_fn(|k| at[k] + (c >> k & 1) * half);
            if half > 1 {
                self.halve(at, half, skin_side);
            } else {
                self.cell(at, c, skin_side);
            }
        }
    }

    fn node(&mut self, at: [usize; 3], skin_side: Option<bool>) -> Depth {
        if self.nodes.is_empty() {
            self.nodes = vec![None; (BLOCK + 1).pow(3)];
        }
        let i = at[0] + (BLOCK + 1) * (at[1] + (BLOCK + 1) * at[2]);
        if let Some(depth) = self.nodes[i] {
            return depth;
        }
        let field = self.local.field;
        let node = std::array::from_fn(|k| self.low[k] + at[k]);
        let skin_side = skin_side.unwrap_or_else(|| field.on_skin_side(node));
        let depth = self.local.depth(FINEST, &field.grid.centre(node), skin_side);
        self.nodes[i] = Some(depth);
        depth
    }

    /// The vertices of cell `c` of eight, if the surface passes through it.
    fn cell(&mut self, at: [usize; 3], c: usize, skin_side: Option<bool>) {
        let step = self.local.field.grid.spacing;
        let corner = |c: usize| std::array::from_fn(|k| at[k] + (c >> k & 1));
        if self.local.even.is_some() {
            // Depth changes no faster than one goes: two corners across may speak for all eight. The first is in the
            // middle of all eight cells.
            let (a, b) = (self.node(corner(7 - c), skin_side).depth, self.node(corner(c), skin_side).depth);
            let (less, more) = (a.abs().min(b.abs()), a.abs().max(b.abs()));
            if (a >= 0.0) == (b >= 0.0) && (less > 1.000_001 * step || more > 1.414_215 * step) {
                return;
            }
        }
        let corners: [Depth; 8] = std::array::from_fn(|c| self.node(corner(c), skin_side));
        let mask = (0..8).fold(0, |mask, c| mask | u8::from(corners[c].depth >= 0.0) << c);
        let (sheet, count) = &self.table[mask as usize];
        if *count == 0 {
            return;
        }
        let low = self.local.field.grid.centre(std::array::from_fn(|k| self.low[k] + at[k]));
        let mut sums = [(V3::zeros(), 0.0); 4];
        for e in (0..12).filter(|&e| sheet[e] != u8::MAX) {
            let [p, q] = ends(e);
            let (a, b) = (corners[p].depth, corners[q].depth);
            let share = (a / (a - b)).clamp(0.0, 1.0);
            let sum = &mut sums[sheet[e] as usize];
            sum.0 += corner_of(p).lerp(&corner_of(q), share);
            sum.1 += 1.0;
        }
        let inner = |x: V3| x.map(|c| c.clamp(0.01, 0.99));
        let means = sums[..*count].iter().map(|(sum, n)| sum / *n);
        let vertices = match count {
            1 => {
                let mean = sums[0].0 / sums[0].1;
                vec![self.settled(low, [inner(fit(&corners, step, &mean)), inner(mean)])]
            }
            _ => means.map(|mean| low + inner(mean) * step).collect(),
        };
        let place = (at[0] + BLOCK * (at[1] + BLOCK * at[2])) as u16;
        self.found.push((Cell { place, mask, first: 0 }, vertices));
    }

    /// A point of a cell of side one, taken onto the surface from the first start that leads there, else as near as any does.
    fn settled(&mut self, low: V3, starts: [V3; 2]) -> V3 {
        let step = self.local.field.grid.spacing;
        let (mut best, mut least) = (starts[0], f64::INFINITY);
        for start in starts {
            let (x, off) = self.descended(&low, start);
            if off < least {
                (best, least) = (x, off);
            }
            if least < NEAR_ENOUGH * step {
                break;
            }
        }
        self.off = self.off.max(least);
        low + best * step
    }

    /// Down the slope from a start, as long as it leads nearer; and how far off that ends.
    fn descended(&mut self, low: &V3, start: V3) -> (V3, f64) {
        let step = self.local.field.grid.spacing;
        let to = |x: &V3| low + x * step;
        let (mut x, mut here) = (start, self.local.depth(FINEST, &to(&start), true));
        for _ in 0..STEPS {
            if here.depth.abs() < NEAR_ENOUGH * step {
                break;
            }
            let straight = x - here.slope * (here.depth / step);
            let next = straight.map(|c| c.clamp(0.01, 0.99));
            if here.depth > 0.0 && next == straight && self.local.even.is_some() {
                // What is nearest stays nearest on the way to it.
                return (next, 0.0);
            }
            let there = self.local.depth(FINEST, &to(&next), true);
            if there.depth.abs() >= here.depth.abs() {
                break;
            }
            (x, here) = (next, there);
        }
        (x, here.depth.abs())
    }
}

/// Steps down the slope at most; two bring all but one vertex in a thousand there.
const STEPS: usize = 6;

/// In steps: a vertex this near the surface is not moved.
const NEAR_ENOUGH: f64 = 1.0 / 64.0;

fn corner_of(c: usize) -> V3 {
    V3::new((c & 1) as f64, (c >> 1 & 1) as f64, (c >> 2) as f64)
}

/// The point of a cell of side one that lies best in the planes seen from its corners; where they say nothing, the mean
/// of the crossings.
fn fit(corners: &[Depth; 8], step: f64, mean: &V3) -> V3 {
    let mut matrix = Matrix3::identity() * 0.02;
    let mut right = V3::zeros();
    for (c, corner) in corners.iter().enumerate() {
        let n = corner.slope;
        matrix += n * n.transpose();
        right += n * (n.dot(&(corner_of(c) - mean)) - corner.depth / step);
    }
    mean + matrix.try_inverse().map_or_else(V3::zeros, |inverse| inverse * right)
}

/// Triangles, and polygons that need a vertex of their own.
type Woven = (Vec<[u32; 3]>, Vec<Vec<Knot>>);

/// A corner of a polygon.
enum Knot {
    Vertex(u32),
    /// In a face of the grid where two sheets would share an edge: the face and its corner, and a place of its own.
    Between([u32; 5], V3),
}

struct Weave<'w, 'a> {
    field: &'w Field<'a>,
    table: &'w [([u8; 12], usize)],
    blocks: &'w [Cells],
    firsts: &'w [u32],
    number: HashMap<[usize; 3], u32>,
}

/// A cell at an edge of the grid.
#[derive(Clone, Copy)]
struct Beside {
    block: usize,
    cell: Cell,
    at: [usize; 3],
    edge: usize,
}

impl Weave<'_, '_> {
    /// The polygons around the three edges at the low corner of each cell of a block.
    fn polygons(&self, i: usize) -> Woven {
        let block = &self.blocks[i];
        // The block, and the seven below it in x, y, z.
        let below: [Option<u32>; 8] = std::array::from_fn(|c| {
            let mut low = block.low;
            for (k, low) in low.iter_mut().enumerate() {
                *low = low.checked_sub((c >> k & 1) * BLOCK)?;
            }
            self.number.get(&low).copied()
        });
        let mut woven = (Vec::with_capacity(2 * block.cells.len()), Vec::new());
        for cell in &block.cells {
            for axis in 0..3 {
                self.polygon(block, &below, cell, axis, &mut woven);
            }
        }
        woven
    }

    fn polygon(&self, block: &Cells, below: &[Option<u32>; 8], cell: &Cell, axis: usize, woven: &mut Woven) {
        let inside = has(cell.mask, 0);
        if inside == has(cell.mask, 1 << axis) {
            return;
        }
        let place = usize::from(cell.place);
        let local = [place % BLOCK, place / BLOCK % BLOCK, place / BLOCK / BLOCK];
        let (b, c) = ((axis + 1) % 3, (axis + 2) % 3);
        // Around the edge: the four cells, in each the edge at its corner, and the axis of the face to the next cell.
        let turns = [(0, 0, b), (1, 0, c), (1, 1, b), (0, 1, c)];
        let beside = |&(db, dc, _): &(usize, usize, usize)| {
            let mut way = [0; 3];
            (way[b], way[c]) = (db, dc);
            let out = (0..3).fold(0, |out, k| out | usize::from(local[k] < way[k]) << k);
            let number = below[out]? as usize;
            let at = std::array::from_fn(|k| (local[k] + BLOCK - way[k]) % BLOCK);
            let cell = *self.blocks[number].find(at)?;
            let at = std::array::from_fn(|k| block.low[k] + local[k] - way[k]);
            Some(Beside { block: number, cell, at, edge: 4 * axis + db + 2 * dc })
        };
        let mut around = turns.iter().map_while(beside);
        let (Some(p), Some(q), Some(r), Some(s)) = (around.next(), around.next(), around.next(), around.next()) else {
            return;
        };
        let around = [p, q, r, s];
        let sheet = |k: usize| {
            let Beside { cell, edge, .. } = around[k];
            cell.first + u16::from(self.table[cell.mask as usize].0[edge])
        };
        let vertex = |k: usize| self.firsts[around[k].block] + u32::from(sheet(k));
        let between: [Option<Knot>; 4] =
            std::array::from_fn(|k| self.between(&around[k], &around[(k + 1) % 4], turns[k].2));
        if between.iter().all(Option::is_none) {
            let mut order = [0, 1, 2, 3];
            if !inside {
                order.reverse();
            }
            let v = order.map(vertex);
            let p = order.map(|k| self.blocks[around[k].block].vertices[usize::from(sheet(k))]);
            if (p[0] - p[2]).norm_squared() <= (p[1] - p[3]).norm_squared() {
                woven.0.extend([[v[0], v[1], v[2]], [v[0], v[2], v[3]]]);
            } else {
                woven.0.extend([[v[1], v[2], v[3]], [v[1], v[3], v[0]]]);
            }
            return;
        }
        let mut ring: Vec<Knot> = Vec::new();
        for (k, knot) in between.into_iter().enumerate() {
            ring.push(Knot::Vertex(vertex(k)));
            ring.extend(knot);
        }
        if !inside {
            ring.reverse();
        }
        woven.1.push(ring);
    }

    /// Where both links over a doubtful face join the same two vertices, each gets a vertex of its own between them.
    fn between(&self, p: &Beside, q: &Beside, axis: usize) -> Option<Knot> {
        // The upper of the two cells sees the face as its low one.
        let (upper, lower) = if p.at[axis] > q.at[axis] { (p, q) } else { (q, p) };
        let face = ring(axis, 0);
        if !doubtful(upper.cell.mask, face) {
            return None;
        }
        let one = |mask: u8, side: usize| {
            let sheet = &self.table[mask as usize].0;
            let ring = ring(axis, side);
            let first = sheet[edge_of([ring[0], ring[1]])];
            (0..4).all(|k| sheet[edge_of([ring[k], ring[(k + 1) % 4]])] == first)
        };
        if !one(upper.cell.mask, 0) || !one(lower.cell.mask, 1) {
            return None;
        }
        // The link cuts off the corner of the rest that the crossed edge ends at.
        let [s, e] = ends(upper.edge);
        let corner = if has(upper.cell.mask, s) { s } else { e };
        let middle = face.iter().map(|&c| corner_of(c)).sum::<V3>() / 4.0;
        let grid = &self.field.grid;
        let at = grid.centre(upper.at) + middle.lerp(&corner_of(corner), 0.25) * grid.spacing;
        let [x, y, z] = upper.at.map(|i| i as u32);
        Some(Knot::Between([x, y, z, axis as u32, corner as u32], at))
    }
}
