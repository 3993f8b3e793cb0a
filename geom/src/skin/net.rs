//! A closed surface through the cells of a grid whose corners differ in sign: one vertex for each sheet in a cell, one
//! polygon around each edge of the grid that the surface crosses (surface nets: S. F. F. Gibson, 1998; vertices by the
//! planes at the corners: T. Ju, F. Losasso, S. Schaefer, J. Warren, *Dual Contouring of Hermite Data*, 2002; a vertex a
//! sheet: G. M. Nielson, *Dual Marching Cubes*, 2004). On a face of a cell whose diagonals disagree, corners of the rest
//! are kept apart; both cells see the same face, so the sheets fit.

use nalgebra::{Matrix3, Point3};
use rayon::prelude::*;
use std::collections::HashMap;

use super::BLOCK;
use super::field::{Depth, Field};
use crate::distance::V3;

/// A cell that the surface passes through.
#[derive(Clone, Debug)]
struct Cell {
    at: [u32; 3],
    /// Bit `x + 2 y + 4 z`: that corner belongs to the rest.
    mask: u8,
    /// One a sheet.
    vertices: Vec<V3>,
    /// The farthest that a vertex was found from the surface.
    off: f64,
}

/// A surface as it comes off the grid.
pub(super) struct Net {
    pub(super) positions: Vec<Point3<f64>>,
    /// The rest is behind them.
    pub(super) triangles: Vec<[u32; 3]>,
    pub(super) off: f64,
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
    let mut cells = descend(field, &table, [0; 3], BLOCK << field.levels);
    cells.par_sort_unstable_by_key(|c| c.at);
    let firsts: Vec<u32> = cells
        .iter()
        .scan(0, |next, c| {
            let first = *next;
            *next += c.vertices.len() as u32;
            Some(first)
        })
        .collect();
    let off = cells.iter().fold(0.0, |off: f64, c| off.max(c.off));
    let weave = Weave { field, table: &table, cells: &cells, firsts: &firsts };
    let parts: Vec<Woven> =
        (0..cells.len()).into_par_iter().chunks(1 << 10).map(|some| weave.polygons(&some)).collect();
    let mut positions: Vec<Point3<f64>> = cells.iter().flat_map(|c| &c.vertices).map(|v| Point3::from(*v)).collect();
    let mut triangles = Vec::with_capacity(2 * positions.len());
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

fn descend(field: &Field<'_>, table: &[([u8; 12], usize)], low: [usize; 3], side: usize) -> Vec<Cell> {
    if field.may_pass(low, side).is_none() {
        return Vec::new();
    }
    if side == BLOCK {
        return Block { field, table, low, nodes: vec![None; (BLOCK + 1).pow(3)] }.cells();
    }
    let child = |c: usize| descend(field, table, std::array::from_fn(|k| low[k] + (c >> k & 1) * side / 2), side / 2);
    (0..8).into_par_iter().map(child).collect::<Vec<_>>().concat()
}

struct Block<'f, 'a> {
    field: &'f Field<'a>,
    table: &'f [([u8; 12], usize)],
    low: [usize; 3],
    nodes: Vec<Option<Depth>>,
}

impl Block<'_, '_> {
    fn cells(mut self) -> Vec<Cell> {
        let mut out = Vec::new();
        self.halve([0; 3], BLOCK, &mut out);
        out
    }

    fn halve(&mut self, at: [usize; 3], side: usize, out: &mut Vec<Cell>) {
        let low = std::array::from_fn(|k| self.low[k] + at[k]);
        let Some(d) = self.field.may_pass(low, side) else { return };
        let half = side / 2;
        for c in 0..8 {
            let at = std::array::from_fn(|k| at[k] + (c >> k & 1) * half);
            if half > 1 {
                self.halve(at, half, out);
            } else {
                out.extend(self.cell(at, d + 2.0 * self.field.grid.spacing));
            }
        }
    }

    fn node(&mut self, at: [usize; 3], limit: f64) -> Depth {
        let i = at[0] + (BLOCK + 1) * (at[1] + (BLOCK + 1) * at[2]);
        let (field, low) = (self.field, self.low);
        *self.nodes[i].get_or_insert_with(|| field.at_node(std::array::from_fn(|k| low[k] + at[k]), limit))
    }

    /// The vertices of one cell, if the surface passes through it.
    fn cell(&mut self, at: [usize; 3], limit: f64) -> Option<Cell> {
        let corners: [Depth; 8] =
            std::array::from_fn(|c| self.node(std::array::from_fn(|k| at[k] + (c >> k & 1)), limit));
        let mask = (0..8).fold(0, |mask, c| mask | u8::from(corners[c].depth >= 0.0) << c);
        let (sheet, count) = &self.table[mask as usize];
        if *count == 0 {
            return None;
        }
        let at = std::array::from_fn(|k| self.low[k] + at[k]);
        let (low, step) = (self.field.grid.centre(at), self.field.grid.spacing);
        let place = |c: usize| V3::new((c & 1) as f64, (c >> 1 & 1) as f64, (c >> 2) as f64);
        let mut sums = vec![(V3::zeros(), 0.0); *count];
        for e in (0..12).filter(|&e| sheet[e] != u8::MAX) {
            let [p, q] = ends(e);
            let (a, b) = (corners[p].depth, corners[q].depth);
            let share = (a / (a - b)).clamp(0.0, 1.0);
            let sum = &mut sums[sheet[e] as usize];
            sum.0 += place(p).lerp(&place(q), share);
            sum.1 += 1.0;
        }
        let mut off = 0.0f64;
        let vertices = sums
            .into_iter()
            .map(|(sum, n)| {
                let mean: V3 = sum / n;
                let inner = |x: V3| x.map(|c| c.clamp(0.01, 0.99));
                if *count > 1 {
                    return low + inner(mean) * step;
                }
                let to = |x: &V3| low + x * step;
                let depth = |x: &V3| self.field.depth(&to(x), true, limit + step);
                let start = inner(fit(&corners, &place, step, &mean));
                let here = depth(&start);
                // One step onto the surface, kept if it leads there.
                let next = inner(start - here.slope * (here.depth / step));
                let there = depth(&next);
                let (x, found) = if there.depth.abs() < here.depth.abs() { (next, there) } else { (start, here) };
                off = off.max(found.depth.abs());
                to(&x)
            })
            .collect();
        Some(Cell { at: at.map(|i| i as u32), mask, vertices, off })
    }
}

/// The point of a cell of side one that lies best in the planes seen from its corners; where they say nothing, the mean
/// of the crossings.
fn fit(corners: &[Depth; 8], place: &impl Fn(usize) -> V3, step: f64, mean: &V3) -> V3 {
    let mut matrix = Matrix3::identity() * 0.02;
    let mut right = V3::zeros();
    for (c, corner) in corners.iter().enumerate() {
        let n = corner.slope;
        matrix += n * n.transpose();
        right += n * (n.dot(&(place(c) - mean)) - corner.depth / step);
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
    cells: &'w [Cell],
    firsts: &'w [u32],
}

impl Weave<'_, '_> {
    fn find(&self, at: [u32; 3]) -> Option<usize> {
        self.cells.binary_search_by_key(&at, |c| c.at).ok()
    }

    /// The polygons around the three edges at the low corner of each cell.
    fn polygons(&self, some: &[usize]) -> Woven {
        let (mut triangles, mut odd) = (Vec::new(), Vec::new());
        for &i in some {
            for axis in 0..3 {
                self.polygon(i, axis, &mut triangles, &mut odd);
            }
        }
        (triangles, odd)
    }

    fn polygon(&self, i: usize, axis: usize, triangles: &mut Vec<[u32; 3]>, odd: &mut Vec<Vec<Knot>>) {
        let cell = &self.cells[i];
        let inside = has(cell.mask, 0);
        if inside == has(cell.mask, 1 << axis) {
            return;
        }
        let (b, c) = ((axis + 1) % 3, (axis + 2) % 3);
        // Around the edge: the four cells, in each the edge at its corner, and the axis of the face to the next cell.
        let turns = [(0, 0, b), (1, 0, c), (1, 1, b), (0, 1, c)];
        let around: Vec<(usize, usize)> = turns
            .iter()
            .filter_map(|&(db, dc, _)| {
                let mut at = cell.at;
                at[b] = at[b].checked_sub(db)?;
                at[c] = at[c].checked_sub(dc)?;
                Some((self.find(at)?, 4 * axis + db as usize + 2 * dc as usize))
            })
            .collect();
        if around.len() < 4 {
            return;
        }
        let vertex = |k: usize| {
            let (j, edge) = around[k];
            self.firsts[j] + u32::from(self.table[self.cells[j].mask as usize].0[edge])
        };
        let between: Vec<Option<Knot>> = (0..4).map(|k| self.between(&around, k, (k + 1) % 4, turns[k].2)).collect();
        if between.iter().all(Option::is_none) {
            let mut v: [u32; 4] = std::array::from_fn(vertex);
            if !inside {
                v.reverse();
            }
            let place = |v: u32| {
                let j = self.firsts.partition_point(|&first| first <= v) - 1;
                self.cells[j].vertices[(v - self.firsts[j]) as usize]
            };
            let p = v.map(place);
            if (p[0] - p[2]).norm_squared() <= (p[1] - p[3]).norm_squared() {
                triangles.extend([[v[0], v[1], v[2]], [v[0], v[2], v[3]]]);
            } else {
                triangles.extend([[v[1], v[2], v[3]], [v[1], v[3], v[0]]]);
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
        odd.push(ring);
    }

    /// Where both links over a doubtful face join the same two vertices, each gets a vertex of its own between them.
    fn between(&self, around: &[(usize, usize)], from: usize, to: usize, axis: usize) -> Option<Knot> {
        let (p, q) = (around[from], around[to]);
        // The upper of the two cells sees the face as its low one.
        let (upper, lower) = if self.cells[p.0].at[axis] > self.cells[q.0].at[axis] { (p, q) } else { (q, p) };
        let (high, low) = (&self.cells[upper.0], &self.cells[lower.0]);
        let face = ring(axis, 0);
        if !doubtful(high.mask, face) {
            return None;
        }
        let one = |mask: u8, side: usize| {
            let sheet = &self.table[mask as usize].0;
            let ring = ring(axis, side);
            let first = sheet[edge_of([ring[0], ring[1]])];
            (0..4).all(|k| sheet[edge_of([ring[k], ring[(k + 1) % 4]])] == first)
        };
        if !one(high.mask, 0) || !one(low.mask, 1) {
            return None;
        }
        // The link cuts off the corner of the rest that the crossed edge ends at.
        let [s, e] = ends(upper.1);
        let corner = if has(high.mask, s) { s } else { e };
        let place = |c: usize| V3::new((c & 1) as f64, (c >> 1 & 1) as f64, (c >> 2) as f64);
        let middle = face.iter().map(|&c| place(c)).sum::<V3>() / 4.0;
        let grid = &self.field.grid;
        let at = grid.centre(high.at.map(|i| i as usize)) + middle.lerp(&place(corner), 0.25) * grid.spacing;
        Some(Knot::Between([high.at[0], high.at[1], high.at[2], axis as u32, corner as u32], at))
    }
}
