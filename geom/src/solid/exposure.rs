//! Which part of the surface is exposed, and what the pieces are together.
//!
//! A face is part of the outside where the winding is below one above it and at least one below it. Most faces are
//! settled without a question: pieces whose boxes meet no other. Of the others, those that something cuts or touches
//! are cut along it and every cell is asked by itself; the rest falls into patches bounded by such faces, and one
//! question settles a whole patch.

use super::Solid;
use super::settle::Job;
use crate::bodies::Forest;
use crate::effort::Effort;
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};
use crate::units::{Area, Length, Volume};
use nalgebra::Point3;
use rayon::prelude::*;
use std::collections::HashMap;

/// Steps of work beyond which nobody waits, and as many for a face of a large model. Three rocks in one another take 1,700 a face.
const MOST_WORK: u64 = 3_000_000_000;
const MOST_WORK_A_FACE: u64 = 4_000;

/// Contact, and volume in common, that hold two bodies together: a square inch, a cubic inch. Common practice, no source.
const HOLDS: (Area, Volume) = (Area::from_square_metres(6.4516e-4), Volume::from_cubic_metres(1.638_706_4e-5));

/// A closed surface by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// A triangle of it.
    pub face: u32,
    /// Its triangles, added ones included.
    pub faces: usize,
    /// Enclosed volume; negative for the wall of a cavity (or a piece turned inside out), zero for a sheet.
    pub volume: Volume,
    /// It passes through or over itself.
    pub overlaps_itself: bool,
}

/// How two pieces overlap.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Overlap {
    /// They share a part.
    Partly,
    /// The second lies wholly inside the first.
    Inside,
    /// They are the same.
    Copy,
}

/// A volume that two pieces both fill.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Common {
    /// The two pieces; for [`Overlap::Inside`] the outer one first.
    pub pieces: [u32; 2],
    /// What they share.
    pub volume: Volume,
    /// How.
    pub kind: Overlap,
}

/// What is exposed of a solid.
#[derive(Clone, Debug)]
pub struct Exposure {
    /// Share of each modelled face; empty when all are exposed.
    pub(super) share: Vec<f64>,
    /// Area of the modelled faces, or parts of them, that can be coated.
    pub exposed: Area,
    /// Area inside other pieces.
    pub buried: Area,
    /// Area of faces that lie against each other, both sides counted: coincident, or within the contact gap.
    pub contact: Area,
    /// Area that lies in one plane with another face that faces the same way and is counted there.
    pub doubled: Area,
    /// Area of sheets that bounds nothing of what they were closed to: it looks away from the side that was drawn, or lies behind what was
    /// added. It is not coated.
    pub hidden: Area,
    /// Volume of all pieces together, counted once. Sheets add nothing.
    pub union: Volume,
    /// Sum of the volumes of the pieces, cavities subtracted.
    pub sum_of_parts: Volume,
    /// Every piece.
    pub pieces: Vec<Piece>,
    /// Pairs of pieces that overlap, largest first.
    pub common: Vec<Common>,
    /// How far any of these areas can be off: edges of cells are known to the plane tolerance only, and what bounds the
    /// union must close (its area vectors add up to nothing; what they add up to is in here).
    pub area_bound: Area,
    /// Whole faces of the union's surface and of sheets; not filled where all are whole.
    pub(super) facets: Vec<Facet>,
    /// Pairs of pieces that lie against each other within the contact gap, and the area of one side.
    pub(super) joints: Vec<([u32; 2], Area)>,
    /// False where bodies overlap in so many places that nobody waited: all is taken as if nothing overlapped, so areas and volumes are
    /// the most that they can be.
    pub is_settled: bool,
    /// Parts of faces.
    pub(super) cells: Vec<(Facet, Vec<Point3<f64>>)>,
}

/// Where a triangle of the exposed surface comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Facet {
    /// The triangle of the solid's mesh.
    pub source: u32,
    /// It can be coated: nothing is glued to it. Added triangles are a question of [`Solid::coats_added`].
    pub coat: bool,
    /// The source faces the wrong way; the facet does not.
    pub turned: bool,
}

impl Exposure {
    /// Settles every face. `gap`: faces of different pieces that face each other (within 20 degrees) no farther apart
    /// than this are glued, not coated.
    ///
    /// Cost: two passes over the triangles when no boxes of pieces meet; else about n log n in the triangles inside
    /// other pieces' boxes. Coordinates closer than 2^-21 of the model's size are taken as equal.
    ///
    /// ```
    /// use cragskin_geom::{mesh::Mesh, solid::{Exposure, Solid}, topology::Topology, units::Length};
    /// // A unit cube at the origin and another shifted by half its edge along each axis.
    /// let corner = |k: u32, at: f64| nalgebra::Point3::new(f64::from(k & 1), f64::from(k >> 1 & 1), f64::from(k >> 2)) * 1.0
    ///     + nalgebra::Vector3::repeat(at);
    /// let positions = (0..8).map(|k| corner(k, 0.0)).chain((0..8).map(|k| corner(k, 0.5))).collect();
    /// let quads = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    /// let cube = |first: u32| quads.map(|q| q.map(|k| k + first)).into_iter().flat_map(|[a, b, c, d]| [[a, b, c], [a, c, d]]);
    /// let mesh = Mesh::new(positions, cube(0).chain(cube(8)).collect(), vec![]);
    ///
    /// let solid = Solid::of(&mesh, &Topology::of(&mesh), None);
    /// let exposure = Exposure::of(&solid, Length::ZERO);
    /// // Each loses three squares of side 1/2: 12 - 6/4. They share a cube of 1/8.
    /// assert!((exposure.exposed.square_metres() - 10.5).abs() < 1e-5);
    /// assert!((exposure.union.cubic_metres() - 1.875).abs() < 1e-5);
    /// assert!((exposure.counted_twice().cubic_metres() - 0.125).abs() < 1e-5);
    /// ```
    #[must_use]
    pub fn of(solid: &Solid<'_>, gap: Length) -> Self {
        let faces = solid.mesh().triangles().len() as u64;
        Self::within(solid, gap, Effort::of(MOST_WORK.max(MOST_WORK_A_FACE * faces)))
    }

    /// The same with so much work; where that is spent it is [not settled](Self::is_settled).
    #[must_use]
    pub fn within(solid: &Solid<'_>, gap: Length, effort: Effort) -> Self {
        Job::new(solid, gap.metres(), effort).run()
    }

    /// The exposed share of a face's area, 0 to 1. Added faces have none: they are bare.
    #[must_use]
    pub fn share(&self, face: usize) -> f64 {
        self.share.get(face).copied().unwrap_or(1.0)
    }

    /// The volumes of what the solids fall into that does not hold together, largest first: what one of them carries the others do not feel.
    /// Bodies hold together by a square inch of contact or a cubic inch in common. What they have in common counts twice.
    #[must_use]
    pub fn apart(&self) -> Vec<Volume> {
        let mut forest = Forest::new(self.pieces.len());
        self.joints.iter().filter(|(_, area)| *area >= HOLDS.0).for_each(|([a, b], _)| forest.join(*a, *b));
        let held = self.common.iter().filter(|common| common.volume >= HOLDS.1);
        held.for_each(|common| forest.join(common.pieces[0], common.pieces[1]));
        let (group, count) = forest.numbered();
        let mut volumes = vec![Volume::ZERO; count];
        for (piece, group) in self.pieces.iter().zip(group) {
            volumes[group as usize] += piece.volume.max(Volume::ZERO);
        }
        volumes.retain(|volume| *volume > Volume::ZERO);
        volumes.sort_by(|a, b| b.cubic_metres().total_cmp(&a.cubic_metres()));
        volumes
    }

    /// Every modelled face is exposed in full.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.share.is_empty()
    }

    /// The surface of the union, without anything that is buried: what distances to the finished shape are taken from.
    /// Exposed parts of sheets are in it too; they bound nothing. Cells of a cut face fit their neighbours to 1e-10 of the
    /// model, not to the bit: ask the solid's own mesh for inside and outside.
    #[must_use]
    pub fn surface(&self, solid: &Solid<'_>) -> (Mesh, Vec<Facet>) {
        let mesh = solid.mesh();
        if self.is_whole() {
            let facet = |f: usize| Facet { source: f as u32, coat: true, turned: false };
            return (mesh.clone(), (0..mesh.triangles().len()).map(facet).collect());
        }
        let mut positions = mesh.positions().to_vec();
        let mut facets = self.facets.clone();
        let mut triangles: Vec<[u32; 3]> = facets.iter().map(|f| mesh.triangles()[f.source as usize]).collect();
        let mut known: HashMap<[u64; 3], u32> = HashMap::new();
        let key = |p: Point3<f64>| [p.x, p.y, p.z].map(|x| (x + 0.0).to_bits());
        for (facet, polygon) in &self.cells {
            let own = mesh.triangles()[facet.source as usize];
            known.extend(own.map(|v| (key(mesh.positions()[v as usize]), v)));
            let ring: Vec<u32> = polygon
                .iter()
                .map(|&p| {
                    *known.entry(key(p)).or_insert_with(|| {
                        positions.push(p);
                        (positions.len() - 1) as u32
                    })
                })
                .collect();
            for k in 1..ring.len().max(2) - 1 {
                let t = [ring[0], ring[k], ring[k + 1]];
                if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
                    triangles.push(t);
                    facets.push(*facet);
                }
            }
        }
        triangles.iter_mut().zip(&facets).filter(|(_, f)| f.turned).for_each(|(t, _)| t.swap(1, 2));
        let parts = facets.iter().map(|f| mesh.part_of(f.source as usize)).collect();
        (Mesh::new(positions, triangles, parts), facets)
    }

    /// Which edges of the triangles of [`surface`](Self::surface) are open rims: bit `k` of a triangle is set where the edge
    /// from its corner `k` to `k + 1` has nothing beyond it, or nothing but a [guess](Solid::is_guessed). Linear.
    #[must_use]
    pub fn rims(solid: &Solid<'_>, surface: &Mesh, facets: &[Facet]) -> Vec<u8> {
        let topology = &Topology::of(solid.mesh());
        let open = |face: usize| {
            (0..3).filter(move |&side| match topology.across(face, side) {
                Across::Open => true,
                Across::Face { face: other, .. } => !solid.is_guessed(face) && solid.is_guessed(other as usize),
                Across::Many | Across::Collapsed => false,
            })
        };
        let bits = |(face, facet): (usize, &Facet)| {
            let (own, source) = (surface.triangles()[face], solid.mesh().triangles()[facet.source as usize]);
            let rims = open(facet.source as usize).map(|side| [source[side], source[(side + 1) % 3]]);
            let ends = |edge: [u32; 2]| edge.map(|v| surface.positions()[v as usize]);
            rims.fold(0, |bits, rim| {
                let [a, b] = rim.map(|v| solid.mesh().positions()[v as usize]);
                let on = |p: Point3<f64>| (p - a).cross(&(b - a)).norm() <= 1e-9 * (b - a).norm_squared();
                let lies = |k: &usize| {
                    let edge = [own[*k], own[(*k + 1) % 3]];
                    edge == rim || ends(edge).into_iter().all(on)
                };
                bits | (0..3).filter(lies).fold(0, |bits, k| bits | 1 << k)
            })
        };
        facets.par_iter().enumerate().map(bits).collect()
    }

    /// Area to put glue on: one side of each contact.
    #[must_use]
    pub fn glue(&self) -> Area {
        self.contact * 0.5
    }

    /// Volume that the sum of the parts counts more than once.
    #[must_use]
    pub fn counted_twice(&self) -> Volume {
        self.sum_of_parts - self.union
    }
}
