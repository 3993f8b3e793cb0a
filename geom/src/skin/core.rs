//! What the skin leaves, as a closed mesh: the foam core of a finished model, or the finished work of a core.

use nalgebra::Point3;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

use super::field::Field;
use super::flip::flip;
use super::merge::merge;
use super::net::{Net, net};
use super::settle::Settled;
use super::{Coat, Face, Ground, truth, turn, turned};
use crate::bodies::Bodies;
use crate::distance::{Surface, Tree, V3};
use crate::effort::Effort;
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};
use crate::units::{Area, Length, Volume};

/// The far side of a skin as a mesh: what the foam shop cuts for [`Face::Finished`], what visitors see for [`Face::Core`].
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct CoreMesh {
    /// Facing outward, and closed unless [`Self::open_edges`] says otherwise: every edge has two triangles that run along it in
    /// opposite directions.
    pub mesh: Mesh,
    /// Side of the grid's cells. What is thinner than this may be missing.
    pub grid: Length,
    /// The farthest that a measured point is from the true surface: every vertex, and [`points`](Self::points) on the triangles, of
    /// large ones four cells apart. A sample, not a bound: between the points the mesh may be farther off.
    /// Infinite where a triangle cuts so deep that the surface was not found about it.
    pub within: Length,
    /// Points on triangles that were measured.
    pub points: usize,
    /// The same of the vertices alone.
    pub vertices_within: Length,
    /// The vertex that is the farthest off.
    pub worst_vertex: Option<Point3<f64>>,
    /// The same of 999 in 1000 of the points on triangles.
    pub mostly_within: Length,
}

impl CoreMesh {
    /// Enclosed volume.
    #[must_use]
    pub fn volume(&self) -> Volume {
        let Some(origin) = self.mesh.positions().first() else { return Volume::ZERO };
        let six = |t: &[u32; 3]| {
            let [a, b, c] = t.map(|v| self.mesh.positions()[v as usize] - origin);
            a.dot(&b.cross(&c))
        };
        Volume::from_cubic_metres(self.mesh.triangles().iter().map(six).sum::<f64>() / 6.0)
    }

    /// Edges that have not two triangles in opposite directions. None as a rule: at a sliver whose sides fall together within
    /// rounding, neighbouring blocks of the grid may see another side of it, and nothing is woven there.
    #[must_use]
    pub fn open_edges(&self) -> usize {
        let topology = Topology::of(&self.mesh);
        let sides = (0..self.mesh.triangles().len()).flat_map(|f| (0..3).map(move |side| (f, side)));
        sides.filter(|&(f, side)| !matches!(topology.across(f, side), Across::Face { consistent: true, .. })).count()
    }

    /// Its bodies, the largest first: the volume and the triangles of each.
    #[must_use]
    pub fn pieces(&self) -> Vec<(Volume, Vec<u32>)> {
        let bodies = Bodies::of(&self.mesh, &Topology::of(&self.mesh));
        let mut pieces = vec![(0.0, Vec::new()); bodies.count()];
        let Some(origin) = self.mesh.positions().first() else { return Vec::new() };
        for (face, &body) in bodies.by_face().iter().enumerate() {
            let [a, b, c] = self.mesh.corners(face).map(|p| p - origin);
            let (volume, faces) = &mut pieces[body as usize];
            *volume += a.dot(&b.cross(&c)) / 6.0;
            faces.push(face as u32);
        }
        // Bodies come in the order of their first triangle: equals stay in it.
        pieces.sort_by(|a, b| b.0.total_cmp(&a.0));
        pieces.into_iter().map(|(volume, faces)| (Volume::from_cubic_metres(volume), faces)).collect()
    }

    /// Area.
    #[must_use]
    pub fn area(&self) -> Area {
        let faces = 0..self.mesh.triangles().len();
        Area::from_square_metres(faces.map(|f| self.mesh.area_vector(f).norm()).sum())
    }
}

/// The far side of the skin of a model in metres, on a grid of a given side; half the thickness does for foam.
///
/// `inside`, `surface` and `coat` are those of [`super::skin_between`]. Bare faces keep their plane and a coat
/// ends at them square. Faces, arrises and corners between planes lie where the planes say; a round place is a chord a cell.
/// A place thinner than a cell may be lost.
///
/// Cost: in each block of cells a short list of triangles is kept, which the corners of cells on the surface and the vertices
/// are asked of, some ten times a vertex in all; then the edges by price on one core, and a look at each triangle that is left.
/// Same bits for any number of threads.
///
/// A finished cube with sides of 1 m under 19 mm leaves a core of 962^3 mm3:
/// ```
/// use cragskin_geom::{mesh::Mesh, skin::*, units::Length};
/// use nalgebra::Point3;
/// let corner = |i: u32| Point3::new(f64::from(i & 1), f64::from(i >> 1 & 1), f64::from(i >> 2));
/// let faces = [[0, 2, 3], [0, 3, 1], [4, 5, 7], [4, 7, 6], [0, 1, 5], [0, 5, 4]];
/// let others = [[2, 6, 7], [2, 7, 3], [0, 4, 6], [0, 6, 2], [1, 3, 7], [1, 7, 5]];
/// let cube = Mesh::new((0..8).map(corner).collect(), [faces, others].concat(), vec![]);
/// let coat = Coat::everywhere(Face::Finished, Length::from_millimetres(19.0));
/// let core = core_mesh(&cube, &cube, &coat, Length::from_millimetres(9.5));
/// let lost = 0.962f64.powi(3) - core.volume().cubic_metres();
/// assert!(lost.abs() < 1e-5);
/// assert!(core.within.millimetres() < 0.1);
/// ```
#[must_use]
pub fn core_mesh(inside: &Mesh, surface: &Mesh, coat: &Coat, grid: Length) -> CoreMesh {
    let solid = turned(inside);
    let bounds = turned(surface);
    let ground = Ground::of(&solid, &bounds, coat);
    let effort = Effort::any();
    let field = Field::new(&ground, coat, grid.metres(), &effort);
    let step = field.grid.spacing;
    let mut net = net(&field);
    // What is left of a cut corner shows when the flats about it are large.
    for _ in 0..2 {
        flip(&mut net, MERGED * step);
        net = merge(&field, net, MERGED * step);
    }
    apart(&mut net);
    let off = truth::off(&field, &net);
    let worst_vertex = off.worst.map(|v| Point3::from(turn().tr_mul(&net.vertices[v as usize].at)));
    if coat.face == Face::Core {
        net.triangles.iter_mut().for_each(|t| t.swap(1, 2));
    }
    CoreMesh {
        mesh: back(&net.mesh()),
        grid,
        within: Length::from_metres(off.vertices.max(off.triangles)),
        vertices_within: Length::from_metres(off.vertices),
        worst_vertex,
        mostly_within: Length::from_metres(off.most),
        points: off.points,
    }
}

/// In steps: how far vertices may be taken from the planes about them where triangles are saved.
const MERGED: f64 = 1.0 / 200.0;

/// In metres: vertices that fall together are taken so far apart, towards their neighbours.
const APART: f64 = 2e-5;

/// No two vertices fall together in the single precision of an STL file in millimetres, where they would be one.
fn apart(net: &mut Net) {
    let turn = turn();
    for _ in 0..4 {
        let single = |v: &Settled| <[f64; 3]>::from(turn.tr_mul(&v.at)).map(|c| ((c * 1000.0) as f32).to_bits());
        let mut places: Vec<([u32; 3], usize)> =
            net.vertices.par_iter().map(single).enumerate().map(|(i, key)| (key, i)).collect();
        places.par_sort_unstable();
        // The first of each place stays.
        let again = places.windows(2).filter(|pair| pair[0].0 == pair[1].0).map(|pair| pair[1].1);
        let mut toward: BTreeMap<usize, V3> = again.map(|v| (v, V3::zeros())).collect();
        if toward.is_empty() {
            return;
        }
        for t in &net.triangles {
            for v in t.map(|v| v as usize) {
                if let Some(sum) = toward.get_mut(&v) {
                    *sum += t.iter().map(|&w| net.vertices[w as usize].at - net.vertices[v].at).sum::<V3>();
                }
            }
        }
        for ((v, way), k) in toward.into_iter().zip(1u32..) {
            let at = &mut net.vertices[v].at;
            let far = APART.max(1e-6 * at.norm()) * (1.0 + f64::from(k % 7) / 7.0);
            *at += way.try_normalize(0.0).unwrap_or_else(V3::z) * far;
        }
    }
}

fn back(mesh: &Mesh) -> Mesh {
    let turn = turn();
    let positions = mesh.positions().par_iter().map(|p| Point3::from(turn.tr_mul(&p.coords))).collect();
    Mesh::new(positions, mesh.triangles().to_vec(), Vec::new())
}

/// How far it is from the middle of each triangle straight into the solid to the surface on the other side; infinite
/// where there is none. One ray a triangle, neighbours together: of a rough rock a million triangles take six seconds a core.
///
/// Through a slab it is the slab's thickness, through a ball the diameter, from the side of a cylinder its diameter; facets
/// make it shorter by what they cut off.
#[must_use]
pub fn local_thickness(surface: &Mesh) -> Vec<Length> {
    let all: Vec<u32> = (0..surface.triangles().len() as u32).collect();
    local_thickness_at(surface, &all)
}

/// The same at these triangles alone.
#[must_use]
pub fn local_thickness_at(surface: &Mesh, faces: &[u32]) -> Vec<Length> {
    let triangles = Surface::of(surface);
    let tree = Tree::of(&triangles);
    let wanted: Vec<u32> = {
        let mut asked = vec![false; surface.triangles().len()];
        faces.iter().for_each(|f| asked[*f as usize] = true);
        // Rays from one neighbourhood meet the same part of the other side.
        tree.in_order().iter().copied().filter(|f| asked[*f as usize]).collect()
    };
    let way = |&f: &u32| {
        let [a, b, c] = triangles.corners(f);
        let inward: V3 = -(b - a).cross(&(c - a)).normalize();
        (f, tree.way_out(&triangles, &((a + b + c) / 3.0), &inward))
    };
    let found: Vec<(u32, Option<f64>)> = wanted.par_iter().with_min_len(1 << 8).map(way).collect();
    let mut thickness = vec![Length::from_metres(f64::INFINITY); surface.triangles().len()];
    for (f, far) in found {
        thickness[f as usize] = Length::from_metres(far.unwrap_or(f64::INFINITY));
    }
    faces.iter().map(|f| thickness[*f as usize]).collect()
}
