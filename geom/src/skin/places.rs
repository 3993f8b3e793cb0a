//! Places with no foam, foam too thin to cut, and mix that crevices swallow.
//!
//! All three are one question: which points of a set are farther than so much from what is left of it when it is eaten
//! into from all sides. An arris is always eaten, however thick the body behind it; so nearness is counted in multiples:
//! points within twice the depth of the rest belong to it, as they do at any arris blunter than 60 degrees.

use nalgebra::Point3;
use rayon::prelude::*;
use std::collections::HashMap;

use super::core::rest;
use super::field::{Field, Local, Source};
use super::near::{FINEST, HALF_DIAGONAL, Patch, level_of};
use super::{BLOCK, Coat, Face, Ground, Winding, turn, turned};
use crate::bodies::Forest;
use crate::distance::{Surface, Tree, V3};
use crate::mesh::Mesh;
use crate::units::{Length, Volume};

/// Why a place is on the list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lack {
    /// The skins from its sides meet: solid mix, on a rod.
    NoFoam,
    /// There is foam, thinner than the least that is cut.
    Thin,
}

/// A place with no foam or too little.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Why.
    pub lack: Lack,
    /// Its middle.
    pub at: Point3<f64>,
    /// From end to end.
    pub length: Length,
    /// Volume of the mix ([`Lack::NoFoam`]) or of the thin foam, by counting cells of the grid.
    pub volume: Volume,
}

/// Mix that crevices swallow.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Crevices {
    /// The outside that no ball of the skin's thickness gets into: the closing by the thickness, less the solid.
    pub volume: Volume,
    /// The volume is known to within this.
    pub bound: Volume,
}

/// Finds the places of a finished model. `inside`, `surface`, `coat` and `winding` are those of [`super::core_mesh`].
///
/// *No foam*: points of the solid farther than twice the skin's thickness from any core. *Thin*: points of the core farther
/// than `least` from any place where the core is `least` thick. Both leave out a length of twice the depth where a twig
/// grows out of a body. Smaller places than eight cells of the grid are passed over. No foam comes first, larger first.
///
/// Cost: two core meshes and the points that these leave.
#[must_use]
pub fn places(
    inside: &Mesh,
    surface: &Mesh,
    coat: &Coat,
    least: Length,
    grid: Length,
    winding: Option<Winding>,
) -> Vec<Place> {
    let (solid, bounds) = (turned(inside), turned(surface));
    let ground = Ground::of(&solid, &bounds, coat);
    if ground.thickest == 0.0 || coat.face == Face::Core {
        return Vec::new();
    }
    let step = grid.metres();
    let core = Field::new(&ground, coat, winding, step);
    let none = beyond(&core, None, &rest(&core, Face::Finished).mesh, 2.0 * ground.thickest);
    let mut places = grouped(Lack::NoFoam, &core, &none);

    // As deep again as half of what must be there, from bare faces too.
    let depth = least.metres() / 2.0;
    let deeper: Vec<Length> =
        (0..bounds.triangles().len()).map(|f| Length::from_metres(coat.on(f).unwrap_or(0.0) + depth)).collect();
    let deep = Coat { face: Face::Finished, coated: &[], thickness: Length::ZERO, thickness_of: &deeper };
    let deep_ground = Ground::of(&solid, &bounds, &deep);
    let sound = Field::new(&deep_ground, &deep, winding, step);
    let thin = beyond(&sound, Some(&core), &rest(&sound, Face::Finished).mesh, 2.0 * depth);
    places.extend(grouped(Lack::Thin, &sound, &thin));

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

/// How much mix crevices swallow under a skin of one thickness: points outside that are farther than the thickness from
/// any place where its far side can be. Counted in cells; the chords of the far side are allowed a sixteenth of a cell.
#[must_use]
pub fn crevices(inside: &Mesh, surface: &Mesh, thickness: Length, grid: Length, winding: Option<Winding>) -> Crevices {
    let (solid, bounds) = (turned(inside), turned(surface));
    let coat = Coat::everywhere(Face::Core, thickness);
    let ground = Ground::of(&solid, &bounds, &coat);
    if ground.thickest == 0.0 {
        return Crevices::default();
    }
    let step = grid.metres();
    let field = Field::new(&ground, &coat, winding, step);
    let slack = step / 16.0;
    let nodes = beyond(&field, None, &rest(&field, Face::Core).mesh, ground.thickest + slack);
    let sure = nodes.iter().filter(|n| n.distance > ground.thickest + 3.0 * slack).count() as f64;
    let count = nodes.len() as f64;
    let cell = step.powi(3);
    Crevices {
        volume: Volume::from_cubic_metres(count * cell),
        bound: Volume::from_cubic_metres((count - sure + 2.0 * count.sqrt()) * cell),
    }
}

/// A node of a set and how far it is from the rest.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Node {
    at: [u32; 3],
    distance: f64,
}

/// Nodes on the skin's side (or in `within`) that are not in the rest of `field` and farther than `limit` from its mesh.
/// Distances are told up to a cell past the limit.
fn beyond(field: &Field<'_>, within: Option<&Field<'_>>, mesh: &Mesh, limit: f64) -> Vec<Node> {
    let surface = Surface::of(mesh);
    let tree = Tree::of(&surface);
    let sources = [field.source(), Source { tree: &tree, surface: &surface, reach: limit + field.grid.spacing }];
    let found = field.sweep(&sources, &|low, [model, rest]| {
        let at = field.middle(low, BLOCK);
        let local = Local::new(field, sources[0].patch(&model, at));
        let mut search = Search { local, within, rest: sources[1].patch(&rest, at), low, limit, found: Vec::new() };
        search.halve([0; 3], BLOCK, None);
        (!search.found.is_empty()).then_some(search.found)
    });
    let mut nodes = found.concat();
    nodes.par_sort_unstable_by_key(|n| [n.at[2], n.at[1], n.at[0]]);
    nodes
}

struct Search<'s, 'a> {
    local: Local<'s, 'a>,
    within: Option<&'s Field<'a>>,
    rest: Patch,
    low: [usize; 3],
    limit: f64,
    found: Vec<Node>,
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
        let half = field.grid.spacing * (side - 1) as f64 / 2.0;
        let corner = half * 2.0 * HALF_DIAGONAL;
        let centre = field.grid.centre(low) + V3::repeat(half);
        let Some(hit) = self.local.patch.nearest(level, &centre) else { return };
        if hit.distance > field.ground.thickest + corner {
            return;
        }
        let skin_side = skin_side.or_else(|| (hit.distance > corner).then(|| field.on_skin_side(low)));
        if skin_side == Some(false) {
            return;
        }
        let rest = self.rest.nearest(level, &centre).map_or(f64::INFINITY, |hit| hit.distance);
        if rest + corner <= self.limit {
            return;
        }
        self.rest.keep(level, rest.min(self.limit + corner) + 2.0 * corner);
        self.local.keep(level, hit.distance, corner);
        for c in 0..8 {
            self.halve(std::array::from_fn(|k| at[k] + (c >> k & 1) * side / 2), side / 2, skin_side);
        }
    }

    fn node(&mut self, at: [usize; 3], skin_side: Option<bool>) {
        let field = self.local.field;
        let p = field.grid.centre(at);
        let distance = self.rest.nearest(FINEST, &p).map_or(f64::INFINITY, |hit| hit.distance);
        if distance <= self.limit || !skin_side.unwrap_or_else(|| field.on_skin_side(at)) {
            return;
        }
        if self.local.depth(FINEST, &p, true).depth >= 0.0 || self.within.is_some_and(|core| !core.holds(&p)) {
            return;
        }
        self.found.push(Node { at: at.map(|i| i as u32), distance });
    }
}

/// Joins nodes that touch, corners included.
fn grouped(lack: Lack, field: &Field<'_>, nodes: &[Node]) -> Vec<Place> {
    let number: HashMap<[u32; 3], u32> = nodes.iter().zip(0..).map(|(n, i)| (n.at, i)).collect();
    let mut forest = Forest::new(nodes.len());
    for (node, i) in nodes.iter().zip(0..) {
        for k in 0..27 {
            let near = [k % 3, k / 3 % 3, k / 9];
            let at = std::array::from_fn(|a| (node.at[a] + near[a]).wrapping_sub(1));
            if let Some(&j) = number.get(&at) {
                forest.join(i, j);
            }
        }
    }
    let (group, count) = forest.numbered();
    let mut groups = vec![Vec::new(); count];
    for (node, g) in nodes.iter().zip(group) {
        groups[g as usize].push(field.grid.centre(node.at.map(|i| i as usize)));
    }
    let step = field.grid.spacing;
    groups
        .into_iter()
        .filter(|points| !points.is_empty())
        .map(|points: Vec<V3>| {
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
            }
        })
        .collect()
}
