//! Signs and openings drawn on a face: open sheets that lie flat on a body which is all but closed. They enclose nothing, and
//! are no body of their own.

use super::repair::Body;
use crate::bodies::Bodies;
use crate::distance::{Surface, Tree, V3};
use crate::mesh::Mesh;
use crate::units::Length;

/// The body that a sheet lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Host {
    pub(super) body: u32,
    /// Both are drawn to face the same way.
    pub(super) same_way: bool,
}

/// Cosine of 20 degrees: faces that meet at a wider angle do not lie on each other, as in `solid`.
const FACING: f64 = 0.939_692_620_785_908_4;
/// Corners and middles of sides are asked so far towards the middle, so that a neighbour round an edge is not the nearest.
const INWARD: f64 = 0.02;
/// Of the model's size: rounding of a file with 24-bit coordinates, as in `solid`.
const ROUNDING: f64 = 1.0 / (1 << 21) as f64;

/// The host of each body that is drawn on another: every triangle lies within `gap` of it and along it. Empty when there is none.
/// n log n in the closed bodies' triangles, where an open sheet lies in their box; else linear in the bodies.
pub(super) fn find(mesh: &Mesh, bodies: &Bodies, list: &[Body], gap: Length) -> Vec<Option<Host>> {
    let is_solid: Vec<bool> = list.iter().map(Body::nearly_closed).collect();
    let solids = || list.iter().filter(|body| body.nearly_closed());
    let Some(first) = solids().next() else { return Vec::new() };
    let (low, high) = solids().fold((first.low, first.high), |(l, h), body| (l.inf(&body.low), h.sup(&body.high)));
    let gap = gap.metres().max(ROUNDING * (high - low).norm());
    let within = |body: &Body| (0..3).all(|k| body.low[k] >= low[k] - gap && body.high[k] <= high[k] + gap);
    let mut asked: Vec<bool> =
        list.iter().map(|body| body.one_sided && !body.nearly_closed() && within(body)).collect();
    if !asked.contains(&true) {
        return Vec::new();
    }
    let home = |face: usize| bodies.by_face()[face] as usize;
    let ground: Vec<usize> = (0..mesh.triangles().len()).filter(|&face| is_solid[home(face)]).collect();
    let triangles: Vec<[u32; 3]> = ground.iter().map(|&face| mesh.triangles()[face]).collect();
    let surface = Surface { positions: mesh.positions(), triangles: &triangles };
    let tree = Tree::of(&surface);
    let mut hosts: Vec<Option<Host>> = vec![None; list.len()];
    for face in 0..mesh.triangles().len() {
        let body = home(face);
        let (normal, area) = (mesh.area_vector(face), mesh.area_vector(face).norm());
        if !asked[body] || area == 0.0 {
            continue;
        }
        for p in spots(mesh, face) {
            let under = tree.nearest(&surface, &p, gap).map(|(k, _, _)| ground[k as usize]);
            let along = under.map(|f| normal.dot(&mesh.area_vector(f)) / (area * mesh.area_vector(f).norm()));
            match (under, along) {
                (Some(f), Some(along)) if along.abs() > FACING => {
                    hosts[body].get_or_insert(Host { body: home(f) as u32, same_way: along > 0.0 });
                }
                _ => {
                    (asked[body], hosts[body]) = (false, None);
                    break;
                }
            }
        }
    }
    hosts
}

/// The middle of a triangle, and just inside its corners and sides.
fn spots(mesh: &Mesh, face: usize) -> [V3; 7] {
    let [a, b, c] = mesh.corners(face).map(|p| p.coords);
    let middle = (a + b + c) / 3.0;
    [middle, a, b, c, (a + b) / 2.0, (b + c) / 2.0, (c + a) / 2.0].map(|p| p + (middle - p) * INWARD)
}

/// Notes what is drawn on a body, and turns it to face as that body does.
pub(super) fn mark(list: &mut [Body], hosts: &[Option<Host>]) {
    for (k, host) in hosts.iter().enumerate().filter_map(|(k, host)| Some((k, (*host)?))) {
        let turned = list[host.body as usize].turned == host.same_way;
        let body = &mut list[k];
        if body.turned != turned {
            (body.volume, body.facing) = (-body.volume, -body.facing);
        }
        (body.turned, body.guessed, body.drawn_on) = (turned, false, true);
    }
}
