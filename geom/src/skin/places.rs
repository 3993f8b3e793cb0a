//! Places with no foam, and foam too thin to cut.
//!
//! Both are one question: which points of a set are farther than so much from what is left of it when it is eaten
//! into from all sides. An arris is always eaten, however thick the body behind it; so nearness is counted in multiples:
//! points within twice the depth of the rest belong to it, as they do at any arris blunter than 60 degrees.

use nalgebra::Point3;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::HashMap;

use super::field::{Field, Local};
use super::near::{FINEST, HALF_DIAGONAL, Hit, Patch, Source, level_of};
use super::net::net;
use super::{BLOCK, Coat, Face, Ground, turn, turned};
use crate::bodies::Forest;
use crate::distance::{Surface, Tree, V3};
use crate::effort::Effort;
use crate::mesh::Mesh;
use crate::units::{Area, Length, Volume};

/// Why a place is on the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Lack {
    /// The skins from its sides meet: solid mix, on a rod.
    NoFoam,
    /// There is foam, thinner than the least that is cut.
    Thin,
}

/// A place with no foam or too little.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// Why.
    pub lack: Lack,
    /// Its middle.
    pub at: Point3<f64>,
    /// From end to end.
    pub length: Length,
    /// Volume of the mix ([`Lack::NoFoam`]) or of the thin foam, by counting cells of the grid.
    pub volume: Volume,
    /// The triangle of the surface nearest to its middle.
    pub face: u32,
    /// Area of the surface over it.
    pub area: Area,
}

/// Finds the places of a model. `inside`, `surface`, `coat` and `grid` are as for [`super::core_mesh`]; `core` is
/// the mesh it made of them, if it has been made: else one is made here, without the finish.
///
/// *No foam* (of a finished model): points of the solid farther than twice the skin's thickness from any core. *Thin*: points
/// of the foam farther than `least` from any place where it is `least` thick; of a core face the foam is the model itself.
/// Both leave out a length of twice the depth where a twig grows out of a body. Smaller places than eight cells of the grid
/// are passed over. No foam comes first, larger first.
///
/// Cost: a core mesh or less, and the points that the two leave. Where `effort` is spent the answer is not whole.
#[must_use]
pub fn places(
    inside: &Mesh,
    surface: &Mesh,
    coat: &Coat,
    grid: Length,
    core: Option<&Mesh>,
    least: Length,
    effort: &Effort,
) -> Vec<Place> {
    let (solid, bounds) = (turned(inside), turned(surface));
    let uncut = Coat::everywhere(Face::Finished, Length::ZERO);
    let coat = if coat.face == Face::Core { &uncut } else { coat };
    let ground = Ground::of(&solid, &bounds, coat);
    let step = grid.metres();
    let foam = Field::new(&ground, coat, step, effort);
    let mut places = Vec::new();
    if ground.thickest > 0.0 {
        let rest = core.map_or_else(|| net(&foam).mesh(), turned);
        let none = beyond(&foam, &foam, &rest, 2.0 * ground.thickest);
        places.extend(grouped(Lack::NoFoam, &foam, &none));
    }

    // As deep again as half of what must be there, from bare faces too. Rounder than the core, it does with a coarser grid.
    let depth = least.metres() / 2.0;
    let deeper: Vec<Length> =
        (0..bounds.triangles().len()).map(|f| Length::from_metres(coat.on(f).unwrap_or(0.0) + depth)).collect();
    let deep = Coat { face: Face::Finished, coated: &[], thickness: Length::ZERO, thickness_of: &deeper };
    let deep_ground = Ground::of(&solid, &bounds, &deep);
    let sound = Field::new(&deep_ground, &deep, 2.0 * step, effort);
    let thin = beyond(&foam, &sound, &net(&sound).mesh(), 2.0 * depth);
    places.extend(grouped(Lack::Thin, &foam, &thin));

    places.retain(|p| p.volume.cubic_metres() >= 7.5 * step.powi(3));
    places.sort_by(|a, b| {
        let volume = b.volume.cubic_metres().total_cmp(&a.volume.cubic_metres());
        let key = |p: &Place| [p.at.x, p.at.y, p.at.z];
        let (p, q) = (key(a), key(b));
        let at = (0..3).fold(std::cmp::Ordering::Equal, |order, k| order.then(p[k].total_cmp(&q[k])));
        a.lack.cmp(&b.lack).then(volume).then(at)
    });
    places
}

/// Nodes of the solid that are not in the rest of `deep` and farther than `limit` from its mesh: of `field` itself those
/// not in its rest, of a deeper field those in the rest of `field`.
fn beyond(field: &Field<'_>, deep: &Field<'_>, mesh: &Mesh, limit: f64) -> Vec<[u32; 3]> {
    let surface = Surface::of(mesh);
    let tree = Tree::of(&surface);
    let discs = tree.discs(&surface);
    let sources = [
        field.within(deep.ground.thickest),
        Source { tree: &tree, surface, discs: &discs, reach: limit, effort: field.effort },
    ];
    let found = field.sweep(&sources, &|low, [model, rest]| {
        let at = field.middle(low, BLOCK);
        let local = Local::new(field, Patch::new(&sources[0], &model, at));
        let mut search =
            Search { local, deep, rest: Patch::new(&sources[1], &rest, at), low, limit, found: Vec::new() };
        search.halve([0; 3], BLOCK, None);
        (!search.found.is_empty()).then_some(search.found)
    });
    let mut nodes = found.concat();
    nodes.par_sort_unstable_by_key(|n| [n[2], n[1], n[0]]);
    nodes
}

struct Search<'s, 'a> {
    local: Local<'s, 'a>,
    deep: &'s Field<'a>,
    rest: Patch<'s>,
    low: [usize; 3],
    limit: f64,
    found: Vec<[u32; 3]>,
}

impl Search<'_, '_> {
    /// Of a cell of `side` nodes a side.
    fn halve(&mut self, at: [usize; 3], side: usize, skin_side: Option<bool>) {
        let field = self.local.field;
        let low = std::array::from_fn(|k| self.low[k] + at[k]);
        if side == 1 {
            return self.node(low, skin_side);
        }
        let level = level_of(side);
        let (centre, corner) = cell(field, low, side);
        let Some(hit) = self.local.patch.nearest(level, &centre) else { return };
        if hit.distance > self.deep.ground.thickest + corner {
            return;
        }
        let skin_side = skin_side.or_else(|| (hit.distance > corner).then(|| field.on_skin_side(low)));
        if skin_side == Some(false) {
            return;
        }
        match self.rest.nearest(level, &centre) {
            Some(rest) if rest.distance + corner <= self.limit => return,
            Some(rest) => self.rest.keep_nearest(level, &centre, &rest, corner),
            None => self.rest.keep(level, 0.0),
        }
        self.local.keep(level, &centre, &hit, corner);
        for c in 0..8 {
            self.halve(std::array::from_fn(|k| at[k] + (c >> k & 1) * side / 2), side / 2, skin_side);
        }
    }

    fn node(&mut self, at: [usize; 3], skin_side: Option<bool>) {
        let (field, deep) = (self.local.field, self.deep);
        let p = field.grid.centre(at);
        let far = self.rest.nearest(FINEST, &p).is_none_or(|rest| rest.distance > self.limit);
        if !far || !skin_side.unwrap_or_else(|| field.on_skin_side(at)) {
            return;
        }
        let Some(foot) = self.local.patch.nearest(FINEST, &p) else { return };
        let in_rest = self.local.depth_at(FINEST, &p, true, &foot).depth >= 0.0;
        let wanted = if std::ptr::eq(field, deep) {
            !in_rest
        } else {
            in_rest && deep.look(&p).is_some_and(|(depth, _)| depth < 0.0)
        };
        if wanted && !self.reaches(&p, foot) {
            self.found.push(at.map(|i| i as u32));
        }
    }

    /// What is thinner than a cell may be missing from the mesh: whether it is found by going straight in from the foot, and
    /// straight away from what is nearest there. Of foam a fiftieth less than the least is passed.
    fn reaches(&self, p: &V3, mut foot: Hit) -> bool {
        let deep = self.deep;
        let lacking = if std::ptr::eq(self.local.field, deep) { 1e-6 } else { 0.02 } * deep.ground.thickest;
        let mut from = *p;
        for _ in 0..4 {
            if foot.distance == 0.0 {
                return false;
            }
            let ahead = foot.at + (from - foot.at) * (deep.coat_under(&foot) / foot.distance);
            if (ahead - p).norm() > self.limit {
                return false;
            }
            match deep.look(&ahead) {
                Some((_, next)) if !deep.in_front(&ahead, &next) => return false,
                Some((depth, next)) if depth < -lacking => (from, foot) = (ahead, next),
                _ => return true,
            }
        }
        false
    }
}

/// Middle of the nodes of a cell of `side` nodes a side, and how far from it they are at most.
fn cell(field: &Field<'_>, low: [usize; 3], side: usize) -> (V3, f64) {
    let half = field.grid.spacing * (side - 1) as f64 / 2.0;
    (field.grid.centre(low) + V3::repeat(half), 2.0 * HALF_DIAGONAL * half)
}

/// Joins nodes that touch, corners included.
fn grouped(lack: Lack, field: &Field<'_>, nodes: &[[u32; 3]]) -> Vec<Place> {
    let number: HashMap<[u32; 3], u32> = nodes.iter().zip(0..).map(|(n, i)| (*n, i)).collect();
    let mut forest = Forest::new(nodes.len());
    for (node, i) in nodes.iter().zip(0..) {
        for k in 0..27 {
            let near = [k % 3, k / 3 % 3, k / 9];
            let at = std::array::from_fn(|a| (node[a] + near[a]).wrapping_sub(1));
            if let Some(&j) = number.get(&at) {
                forest.join(i, j);
            }
        }
    }
    let (group, count) = forest.numbered();
    let mut groups = vec![Vec::new(); count];
    for (node, &g) in nodes.iter().zip(&group) {
        groups[g as usize].push(field.grid.centre(node.map(|i| i as usize)));
    }
    let areas = areas_over(lack, field, &|at| number.get(&at).map(|&i| group[i as usize] as usize), count);
    let step = field.grid.spacing;
    let Ground { surface, tree, .. } = field.ground;
    groups
        .into_iter()
        .zip(areas)
        .filter(|(points, _)| !points.is_empty())
        .map(|(points, area): (Vec<V3>, Area)| {
            let middle = points.iter().sum::<V3>() / points.len() as f64;
            let farthest = |from: &V3| {
                points.iter().fold(*from, |best, p| if (p - from).norm() > (best - from).norm() { *p } else { best })
            };
            let one = farthest(&middle);
            let other = farthest(&one);
            Place {
                lack,
                at: Point3::from(turn().tr_mul(&middle)),
                length: Length::from_metres((other - one).norm() + step),
                volume: Volume::from_cubic_metres(points.len() as f64 * step.powi(3)),
                face: tree.nearest(surface, &middle, f64::INFINITY).map_or(0, |hit| hit.0),
                area,
            }
        })
        .collect()
}

/// Area of the triangles that lie over each group of nodes: straight in from the middle of the triangle there is one.
fn areas_over(
    lack: Lack,
    field: &Field<'_>,
    group: &(impl Fn([u32; 3]) -> Option<usize> + Sync),
    count: usize,
) -> Vec<Area> {
    let grid = &field.grid;
    let surface = &field.ground.surface;
    let over = |t: u32| {
        let [a, b, c] = surface.corners(t);
        let cross = (b - a).cross(&(c - a));
        let inward = -cross.try_normalize(0.0)?;
        let skin = if lack == Lack::Thin { field.coat_on(t) } else { 0.0 };
        let at = ((a + b + c) / 3.0 + inward * (skin + grid.spacing / 2.0) - grid.low) / grid.spacing;
        // Any of the eight nodes about it.
        let near = |k: u32| group(std::array::from_fn(|a| (at[a] - 0.5).max(0.0) as u32 + (k >> a & 1)));
        Some(((0..8).find_map(near)?, cross.norm() / 2.0))
    };
    let mut areas = vec![0.0; count];
    if count > 0 {
        let found: Vec<(usize, f64)> = (0..surface.triangles.len() as u32).into_par_iter().filter_map(over).collect();
        found.into_iter().for_each(|(group, area)| areas[group] += area);
    }
    areas.into_iter().map(Area::from_square_metres).collect()
}
