//! A closed surface through the cells of a grid whose corners differ in sign: one vertex for each sheet in a cell, one
//! polygon around each edge of the grid that the surface crosses (surface nets: S. F. F. Gibson, 1998; a vertex a sheet:
//! G. M. Nielson, *Dual Marching Cubes*, 2004; where a vertex goes: [`super::settle`]).

use nalgebra::Point3;
use rayon::prelude::*;
use std::collections::HashMap;

use super::BLOCK;
use super::cell::{FACES, Table, corner_of, doubtful, edge_of, ends, has, ring};
use super::field::{Depth, Field, Local};
use super::near::{FINEST, HALF_DIAGONAL, Patch, level_of};
use super::settle::Settled;
use crate::distance::V3;
use crate::mesh::Mesh;

/// A surface as it comes off the grid.
pub(super) struct Net {
    pub(super) vertices: Vec<Settled>,
    /// The rest is behind them.
    pub(super) triangles: Vec<[u32; 3]>,
}

impl Net {
    /// As a mesh.
    pub(super) fn mesh(&self) -> Mesh {
        let positions = self.vertices.iter().map(|v| Point3::from(v.at)).collect();
        Mesh::new(positions, self.triangles.clone(), Vec::new())
    }
}

/// The cells of a block that the surface passes through.
struct Cells {
    low: [usize; 3],
    /// A bit for each of the cells, that of the low corner first, along x first.
    bits: [u64; WORDS],
    /// How many there are before each word.
    before: [u16; WORDS],
    cells: Vec<Cell>,
    vertices: Vec<Settled>,
}

const WORDS: usize = BLOCK * BLOCK * BLOCK / 64;

#[derive(Clone, Copy, Debug)]
struct Cell {
    /// Place in the block, as in `bits`.
    place: u16,
    /// Bit `x + 2 y + 4 z`: that corner belongs to the rest.
    mask: u8,
    /// Bit of a face, when it is doubtful and its middle belongs to the rest.
    joined: u8,
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

/// The net of a field.
pub(super) fn net(field: &Field<'_>) -> Net {
    let table = Table::new();
    let source = field.source();
    let blocks = field.sweep(&[source], &|low, [nodes]| {
        let patch = Patch::new(&source, &nodes, field.middle(low, BLOCK));
        Block { local: Local::new(field, patch), table: &table, low, nodes: Vec::new(), found: Vec::new() }.cells()
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
    let number = blocks.iter().zip(0..).map(|(block, i)| (block.low, i)).collect();
    let weave = Weave { field, table: &table, blocks: &blocks, firsts: &firsts, number };
    let parts: Vec<Woven> = (0..blocks.len()).into_par_iter().with_min_len(16).map(|i| weave.polygons(i)).collect();
    drop(weave);
    let mut vertices: Vec<Settled> = Vec::with_capacity(next as usize);
    blocks.into_iter().for_each(|block| vertices.extend(block.vertices));
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
                        vertices.push(field.settled(&at));
                        vertices.len() as u32 - 1
                    }),
                })
                .collect();
            let middle = ring.iter().map(|&v| vertices[v as usize].at).sum::<V3>() / ring.len() as f64;
            let hub = vertices.len() as u32;
            vertices.push(field.settled(&middle));
            triangles.extend((0..ring.len()).map(|k| [hub, ring[k], ring[(k + 1) % ring.len()]]));
        }
    }
    Net { vertices, triangles }
}

struct Block<'f, 'a> {
    local: Local<'f, 'a>,
    table: &'f Table,
    low: [usize; 3],
    /// Made when first needed.
    nodes: Vec<Option<Depth>>,
    found: Vec<(Cell, Vec<Settled>)>,
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
            vertices.extend(some);
        }
        for word in 1..WORDS {
            before[word] = before[word - 1] + bits[word - 1].count_ones() as u16;
        }
        Some(Cells { low: self.low, bits, before, cells, vertices })
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
        if mask == 0 || mask == u8::MAX {
            return;
        }
        let node = std::array::from_fn(|k| self.low[k] + at[k]);
        let (low, joined) = (self.local.field.grid.centre(node), self.joined(node, mask));
        let sheets = self.table.of(mask, joined);
        let vertices = (0..sheets.count).map(|sheet| {
            // Where the sheet crosses the edges, and the corners that it passes between.
            let (mut mean, mut count, mut beside) = (V3::zeros(), 0.0, 0u8);
            for e in (0..12).filter(|&e| sheets.of[e] == sheet) {
                let [p, q] = ends(e);
                let (a, b) = (corners[p].depth, corners[q].depth);
                mean += corner_of(p).lerp(&corner_of(q), (a / (a - b)).clamp(0.0, 1.0));
                count += 1.0;
                beside |= 1 << p | 1 << q;
            }
            if sheets.count == 1 {
                beside = u8::MAX;
            }
            self.local.settled_in(&low, &corners, beside, &(mean / count))
        });
        let vertices = vertices.collect();
        let place = (at[0] + BLOCK * (at[1] + BLOCK * at[2])) as u16;
        self.found.push((Cell { place, mask, joined, first: 0 }, vertices));
    }

    /// The doubtful faces of a cell whose middle belongs to the rest. The other cell at the face finds the same.
    fn joined(&mut self, at: [usize; 3], mask: u8) -> u8 {
        let mut joined = 0;
        for (f, (axis, side)) in FACES.into_iter().enumerate() {
            let ring = ring(axis, side);
            if doubtful(mask, ring) {
                let node = |c: usize| self.local.field.grid.centre(std::array::from_fn(|k| at[k] + (c >> k & 1)));
                let middle = (node(ring[0]) + node(ring[2])) / 2.0;
                joined |= u8::from(self.local.sound(&middle).depth >= 0.0) << f;
            }
        }
        joined
    }
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
    table: &'w Table,
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
        // Blocks that see a sliver differently may disagree whether the surface crosses this edge: nothing is woven there.
        if around.iter().any(|it| self.table.of(it.cell.mask, it.cell.joined).of[it.edge] == u8::MAX) {
            return;
        }
        let sheet = |k: usize| {
            let Beside { cell, edge, .. } = around[k];
            cell.first + u16::from(self.table.of(cell.mask, cell.joined).of[edge])
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
            let p = order.map(|k| &self.blocks[around[k].block].vertices[usize::from(sheet(k))]);
            // Along an arris, not across it; the shorter one where all is plain.
            let price = |a: &Settled, b: &Settled| {
                let middle = (a.at + b.at) / 2.0;
                a.planes.at(&middle) + b.planes.at(&middle) + 1e-4 * (a.at - b.at).norm_squared()
            };
            if price(p[0], p[2]) <= price(p[1], p[3]) {
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
        let one = |cell: &Cell, side: usize| {
            let sheet = &self.table.of(cell.mask, cell.joined).of;
            let ring = ring(axis, side);
            let first = sheet[edge_of([ring[0], ring[1]])];
            (0..4).all(|k| sheet[edge_of([ring[k], ring[(k + 1) % 4]])] == first)
        };
        if !one(&upper.cell, 0) || !one(&lower.cell, 1) {
            return None;
        }
        // The link cuts off the corner that the crossed edge ends at: of the rest, or of the other side where the rest is joined.
        let [s, e] = ends(upper.edge);
        let apart = upper.cell.joined >> (2 * axis) & 1 == 0;
        let corner = if has(upper.cell.mask, s) == apart { s } else { e };
        let middle = face.iter().map(|&c| corner_of(c)).sum::<V3>() / 4.0;
        let grid = &self.field.grid;
        let at = grid.centre(upper.at) + middle.lerp(&corner_of(corner), 0.25) * grid.spacing;
        let [x, y, z] = upper.at.map(|i| i as u32);
        Some(Knot::Between([x, y, z, axis as u32, corner as u32], at))
    }
}
