//! What faces down near the floor, and how far in under the edge it lies.

use crate::bodies::Forest;
use crate::mesh::Mesh;
use nalgebra::{Point3, Vector2};
use std::collections::HashMap;

/// Edges are sampled, and faces cut, in steps of this share of a tool's reach.
const STEP: f64 = 0.25;
/// A face is halved each way at most so many times: 16,384 pieces.
const DEEPEST: u32 = 7;

/// Those of the `low` faces that hang together with a place farther in than `reach`, seen from above, from every edge where a hand
/// gets under: there the surface goes on upward, or ends. An edge to a leg below or to what lies on the floor (`floor`) is none.
/// About O(n).
pub(super) fn out_of_reach(mesh: &Mesh, low: &[bool], floor: &(dyn Fn(usize) -> bool + Sync), reach: f64) -> Vec<bool> {
    let faces = || low.iter().enumerate().filter(|(_, low)| **low).map(|(face, _)| face);
    let open = Grid::along(open_edges(mesh, low, floor), mesh, reach);
    let mut patches = Forest::new(mesh.positions().len());
    for [a, b, c] in faces().map(|face| mesh.triangles()[face]) {
        patches.join(a, b);
        patches.join(b, c);
    }
    let mut far = vec![false; mesh.positions().len()];
    for face in faces() {
        let patch = patches.root(mesh.triangles()[face][0]) as usize;
        far[patch] = far[patch] || open.misses(mesh.corners(face).map(|p| in_plan(&p)), DEEPEST);
    }
    let mut out = vec![false; low.len()];
    faces().for_each(|face| out[face] = far[patches.root(mesh.triangles()[face][0]) as usize]);
    out
}

fn in_plan(p: &Point3<f64>) -> Vector2<f64> {
    Vector2::new(p.x, p.y)
}

fn edges([a, b, c]: [u32; 3]) -> [([u32; 2], u32); 3] {
    [(a, b, c), (b, c, a), (c, a, b)].map(|(a, b, third)| ([a.min(b), a.max(b)], third))
}

/// Edges of the low faces from which a hand gets under them.
fn open_edges(mesh: &Mesh, low: &[bool], floor: &(dyn Fn(usize) -> bool + Sync)) -> Vec<[u32; 2]> {
    let height = |v: u32| mesh.positions()[v as usize].z;
    // Low faces at an edge, and whether a face beside it says that it is open or closed.
    let mut at: HashMap<[u32; 2], (u32, Option<bool>)> = HashMap::new();
    for (_, triangle) in mesh.triangles().iter().enumerate().filter(|(face, _)| low[*face]) {
        edges(*triangle).into_iter().for_each(|(edge, _)| at.entry(edge).or_default().0 += 1);
    }
    for (face, triangle) in mesh.triangles().iter().enumerate().filter(|(face, _)| !low[*face]) {
        for (edge, third) in edges(*triangle) {
            let Some((_, says)) = at.get_mut(&edge) else { continue };
            let upward = height(third) > (height(edge[0]) + height(edge[1])) / 2.0;
            *says = Some(says.unwrap_or(false) || upward && !floor(face));
        }
    }
    at.into_iter().filter(|(_, (count, says))| says.unwrap_or(*count == 1)).map(|(edge, _)| edge).collect()
}

/// Points in cells as wide as a tool reaches.
struct Grid {
    reach: f64,
    cells: HashMap<[i64; 2], Vec<Vector2<f64>>>,
}

impl Grid {
    fn along(edges: Vec<[u32; 2]>, mesh: &Mesh, reach: f64) -> Self {
        let mut grid = Self { reach, cells: HashMap::new() };
        for edge in edges {
            let [a, b] = edge.map(|v| in_plan(&mesh.positions()[v as usize]));
            let steps = ((b - a).norm() / (STEP * reach)).ceil().clamp(1.0, 4096.0);
            for k in 0..=steps as u32 {
                let p = a + (b - a) * (f64::from(k) / steps);
                let cell = grid.cells.entry(grid.cell(&p)).or_default();
                if cell.last() != Some(&p) {
                    cell.push(p);
                }
            }
        }
        grid
    }

    fn cell(&self, p: &Vector2<f64>) -> [i64; 2] {
        [p.x, p.y].map(|x| (x / self.reach).floor() as i64)
    }

    fn is_near(&self, p: &Vector2<f64>) -> bool {
        let [x, y] = self.cell(p);
        (0..9).any(|k| {
            let points = self.cells.get(&[x + k % 3 - 1, y + k / 3 - 1]);
            points.is_some_and(|points| points.iter().any(|q| (q - p).norm() <= self.reach))
        })
    }

    /// Whether the middle of some piece of a triangle lies near no point.
    fn misses(&self, corners: [Vector2<f64>; 3], deeper: u32) -> bool {
        let [a, b, c] = corners;
        let long = [b - a, c - b, a - c].iter().map(|side| side.norm()).fold(0.0, f64::max);
        if !self.is_near(&((a + b + c) / 3.0)) {
            return true;
        }
        if deeper == 0 || long <= STEP * self.reach {
            return false;
        }
        let [ab, bc, ca] = [(a + b) / 2.0, (b + c) / 2.0, (c + a) / 2.0];
        [[a, ab, ca], [ab, b, bc], [ca, bc, c], [bc, ca, ab]].into_iter().any(|piece| self.misses(piece, deeper - 1))
    }
}
