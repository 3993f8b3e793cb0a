//! Winding numbers of all points of a grid from one upright line a column.

use rayon::prelude::*;

use super::Grid;
use crate::mesh::Mesh;

/// Columns to a side of a tile.
const TILE: usize = 8;

/// Where an upright line through the centres of a column meets the surface.
#[derive(Clone, Copy, Debug)]
struct Crossing {
    tile: u32,
    column: u8,
    /// +1: going up leaves the body.
    turn: i8,
    height: f64,
}

/// All crossings of all columns of a grid.
#[derive(Debug)]
pub(crate) struct Columns {
    crossings: Vec<Crossing>,
    starts: Starts,
    across: usize,
}

/// First crossing of each tile.
#[derive(Debug)]
enum Starts {
    All(Vec<u32>),
    /// Tiles with crossings, ascending, where most of a wide grid is empty.
    Some(Vec<u32>, Vec<u32>),
}

impl Starts {
    /// Tiles beyond which only those with crossings are kept.
    const MANY: usize = 1 << 22;

    fn of(crossings: &[Crossing], tiles: usize) -> Self {
        if tiles > Self::MANY {
            let mut starts: Vec<u32> = Vec::new();
            let mut found: Vec<u32> = Vec::new();
            for (i, c) in crossings.iter().enumerate() {
                if found.last() != Some(&c.tile) {
                    found.push(c.tile);
                    starts.push(i as u32);
                }
            }
            starts.push(crossings.len() as u32);
            return Self::Some(found, starts);
        }
        let mut starts = vec![0; tiles + 1];
        for c in crossings {
            starts[c.tile as usize + 1] += 1;
        }
        for i in 0..tiles {
            starts[i + 1] += starts[i];
        }
        Self::All(starts)
    }

    fn range(&self, tile: usize) -> std::ops::Range<usize> {
        match self {
            Self::All(starts) => starts[tile] as usize..starts[tile + 1] as usize,
            Self::Some(found, starts) => match found.binary_search(&(tile as u32)) {
                Ok(k) => starts[k] as usize..starts[k + 1] as usize,
                Err(_) => 0..0,
            },
        }
    }
}

impl Columns {
    /// Cost: triangles, and crossings times their logarithm; 16 bytes a crossing.
    pub(crate) fn of(mesh: &Mesh, grid: &Grid) -> Self {
        let across = grid.count[0].div_ceil(TILE);
        let tiles = across * grid.count[1].div_ceil(TILE);
        let mut crossings: Vec<Crossing> = mesh
            .triangles()
            .par_chunks(4096)
            .map(|some| {
                let mut out = Vec::new();
                for t in some {
                    cross(mesh, grid, across, t, &mut out);
                }
                out
            })
            .collect::<Vec<_>>()
            .concat();
        crossings.par_sort_unstable_by(|a, b| {
            (a.tile, a.column).cmp(&(b.tile, b.column)).then(a.height.total_cmp(&b.height))
        });
        let starts = Starts::of(&crossings, tiles);
        Self { crossings, starts, across }
    }

    fn column(&self, i: usize, j: usize) -> &[Crossing] {
        let tile = i / TILE + self.across * (j / TILE);
        let column = (i % TILE + TILE * (j % TILE)) as u8;
        let all = &self.crossings[self.starts.range(tile)];
        let start = all.partition_point(|c| c.column < column);
        let len = all[start..].partition_point(|c| c.column == column);
        &all[start..start + len]
    }

    /// The winding number at height `z` of column `(i, j)`; `None` when the line does not see a closed surface.
    pub(crate) fn winding(&self, i: usize, j: usize, z: f64) -> Option<i32> {
        let column = self.column(i, j);
        let below = column.partition_point(|c| c.height <= z);
        let sum = |some: &[Crossing]| some.iter().map(|c| i32::from(c.turn)).sum::<i32>();
        let above = sum(&column[below..]);
        (sum(&column[..below]) + above == 0).then_some(above)
    }
}

/// Twice the signed area of the triangle of three points in plan. Worked out from the lower vertex number to the higher,
/// so that the two triangles of an edge give one point exactly opposite signs: no line slips between them.
fn side(mesh: &Mesh, a: u32, b: u32, x: f64, y: f64) -> bool {
    let (lo, hi) = (a.min(b), a.max(b));
    let (p, q) = (mesh.positions()[lo as usize], mesh.positions()[hi as usize]);
    let left = (q.x - p.x) * (y - p.y) - (q.y - p.y) * (x - p.x) >= 0.0;
    left == (a < b)
}

fn cross(mesh: &Mesh, grid: &Grid, across: usize, t: &[u32; 3], out: &mut Vec<Crossing>) {
    let [a, b, c] = t.map(|v| mesh.positions()[v as usize]);
    let index = |v: f64, k: usize| (v - grid.low[k]) / grid.spacing - 0.5;
    let range = |k: usize| {
        let lo = index(a[k].min(b[k]).min(c[k]), k).ceil().max(0.0) as usize;
        let hi = index(a[k].max(b[k]).max(c[k]), k).floor().min(grid.count[k] as f64 - 1.0);
        lo..(hi + 1.0).max(0.0) as usize
    };
    let (is, js) = (range(0), range(1));
    if is.is_empty() || js.is_empty() {
        return;
    }
    let normal = (b - a).cross(&(c - a));
    if normal.z == 0.0 {
        return;
    }
    let (low, high) = (a.z.min(b.z).min(c.z), a.z.max(b.z).max(c.z));
    // Where the triangle is on a row, and a column more on both sides: in the box about a long sliver nearly all is empty.
    let on_row = |y: f64| {
        let mut ends = [f64::INFINITY, f64::NEG_INFINITY];
        for (p, q) in [(&a, &b), (&b, &c), (&c, &a)] {
            if p.y.min(q.y) <= y && y <= p.y.max(q.y) {
                let t = if p.y == q.y { 0.0 } else { (y - p.y) / (q.y - p.y) };
                let on = if p.y == q.y { [p.x, q.x] } else { [p.x + t * (q.x - p.x); 2] };
                ends = [ends[0].min(on[0].min(on[1])), ends[1].max(on[0].max(on[1]))];
            }
        }
        let start = (index(ends[0], 0).floor() - 1.0).max(is.start as f64) as usize;
        let end = (index(ends[1], 0).ceil() + 2.0).min(is.end as f64).max(0.0) as usize;
        start..end
    };
    for j in js {
        let y = grid.low.y + (j as f64 + 0.5) * grid.spacing;
        for i in on_row(y) {
            let x = grid.low.x + (i as f64 + 0.5) * grid.spacing;
            let s = side(mesh, t[0], t[1], x, y);
            if s != side(mesh, t[1], t[2], x, y) || s != side(mesh, t[2], t[0], x, y) {
                continue;
            }
            let z = a.z - (normal.x * (x - a.x) + normal.y * (y - a.y)) / normal.z;
            out.push(Crossing {
                tile: (i / TILE + across * (j / TILE)) as u32,
                column: (i % TILE + TILE * (j % TILE)) as u8,
                turn: if s { 1 } else { -1 },
                height: z.clamp(low, high),
            });
        }
    }
}
