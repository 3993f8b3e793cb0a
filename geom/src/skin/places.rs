//! Places with no foam, foam too thin to cut, and mix that crevices swallow.
//!
//! All three are one question: which points of a set are farther than so much from what is left of it when it is eaten
//! into from all sides. An arris is always eaten, however thick the body behind it; so nearness is counted in multiples:
//! points within twice the depth of the rest belong to it, as they do at any arris blunter than 60 degrees.

use nalgebra::Point3;
use rayon::prelude::*;
use std::collections::HashMap;

use super::core::{CoreMesh, rest};
use super::field::Field;
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
    let none = beyond(&core, None, &rest(&core, Face::Finished), 2.0 * ground.thickest);
    let mut places = grouped(Lack::NoFoam, &core, &none);

    // As deep again as half of what must be there, from bare faces too.
    let depth = least.metres() / 2.0;
    let deeper: Vec<Length> =
        (0..bounds.triangles().len()).map(|f| Length::from_metres(coat.on(f).unwrap_or(0.0) + depth)).collect();
    let deep = Coat { face: Face::Finished, coated: &[], thickness: Length::ZERO, thickness_of: &deeper };
    let deep_ground = Ground::of(&solid, &bounds, &deep);
    let sound = Field::new(&deep_ground, &deep, winding, step);
    let thin = beyond(&sound, Some(&core), &rest(&sound, Face::Finished), 2.0 * depth);
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
    let nodes = beyond(&field, None, &rest(&field, Face::Core), ground.thickest + slack);
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
fn beyond(field: &Field<'_>, within: Option<&Field<'_>>, mesh: &CoreMesh, limit: f64) -> Vec<Node> {
    let surface = Surface::of(&mesh.mesh);
    let tree = Tree::of(&surface);
    let search = Search { field, within, surface, tree, limit };
    let mut nodes = search.descend([0; 3], BLOCK << field.levels);
    nodes.par_sort_unstable_by_key(|n| [n.at[2], n.at[1], n.at[0]]);
    nodes
}

struct Search<'s, 'a> {
    field: &'s Field<'a>,
    within: Option<&'s Field<'a>>,
    surface: Surface<'s>,
    tree: Tree,
    limit: f64,
}

impl Search<'_, '_> {
    fn descend(&self, low: [usize; 3], side: usize) -> Vec<Node> {
        let grid = &self.field.grid;
        if side == 1 {
            return self.node(low).into_iter().collect();
        }
        // The nodes of a cell: its low corner and what lies between it and the next cells.
        let half = grid.spacing * (side - 1) as f64 / 2.0;
        let corner = half * 3f64.sqrt() + 1e-6 * grid.spacing;
        let centre = grid.centre(low) + V3::repeat(half);
        let thickest = self.field.ground.thickest;
        let Some(d) = self.field.distance(&centre, thickest + corner) else { return Vec::new() };
        if d > corner && !self.field.on_skin_side(low) {
            return Vec::new();
        }
        if corner < self.limit && self.tree.nearest(&self.surface, &centre, self.limit - corner).is_some() {
            return Vec::new();
        }
        let child = |c: usize| self.descend(std::array::from_fn(|k| low[k] + (c >> k & 1) * side / 2), side / 2);
        if side > BLOCK {
            (0..8).into_par_iter().map(child).collect::<Vec<_>>().concat()
        } else {
            (0..8).flat_map(child).collect()
        }
    }

    fn node(&self, at: [usize; 3]) -> Option<Node> {
        let p = self.field.grid.centre(at);
        if self.tree.nearest(&self.surface, &p, self.limit).is_some() || !self.field.on_skin_side(at) {
            return None;
        }
        let far = f64::INFINITY;
        let inside = self.within.is_none_or(|core| core.depth(&p, true, far).depth >= 0.0);
        if !inside || self.field.depth(&p, true, far).depth >= 0.0 {
            return None;
        }
        let distance = self.tree.nearest(&self.surface, &p, far).map_or(far, |hit| hit.2);
        Some(Node { at: at.map(|i| i as u32), distance })
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
