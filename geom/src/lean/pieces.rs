//! Pieces of surface that hang together: the faces of a mesh, or clusters of faces where those are far finer than what
//! is asked. Searches along the surface run over either.

use super::gather::{NOWHERE, Patch, gather};
use super::patch::{CHUNK, Lists};
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// Pieces of surface and who touches whom.
pub(crate) trait Pieces: Sync {
    fn count(&self) -> usize;
    /// Blocks of pieces are counted from here.
    fn origin(&self) -> Vector3<f64>;
    fn centre(&self, k: usize) -> Point3<f64>;
    /// Sum of area vectors.
    fn vector(&self, k: usize) -> Vector3<f64>;
    fn area(&self, k: usize) -> f64;
    /// The pieces across edges that hang together and face the same way.
    fn beside(&self, k: usize) -> impl Iterator<Item = u32>;
}

pub(crate) fn centroid(mesh: &Mesh, face: usize) -> Point3<f64> {
    let [a, b, c] = mesh.corners(face);
    Point3::from((a.coords + b.coords + c.coords) / 3.0)
}

/// Every face a piece.
pub(crate) struct Faces<'a> {
    pub(crate) mesh: &'a Mesh,
    pub(crate) topology: &'a Topology,
}

impl Pieces for Faces<'_> {
    fn count(&self) -> usize {
        self.mesh.triangles().len()
    }

    fn origin(&self) -> Vector3<f64> {
        self.mesh.origin
    }

    fn centre(&self, k: usize) -> Point3<f64> {
        centroid(self.mesh, k)
    }

    fn vector(&self, k: usize) -> Vector3<f64> {
        self.mesh.area_vector(k)
    }

    fn area(&self, k: usize) -> f64 {
        self.vector(k).norm()
    }

    fn beside(&self, k: usize) -> impl Iterator<Item = u32> {
        (0..3).filter_map(move |side| match self.topology.across(k, side) {
            Across::Face { face, consistent: true, .. } => Some(face),
            _ => None,
        })
    }
}

/// Faces gathered into clusters; a face larger than a cluster is one by itself.
pub(crate) struct Clusters {
    /// The cluster of each face, `NOWHERE` where it does not count.
    pub(crate) of: Vec<u32>,
    origin: Vector3<f64>,
    list: Vec<Patch>,
    beside: Lists,
    /// Length of the border with each of those beside, in the order of `beside`.
    border: Vec<f64>,
    /// Length of edges beyond which nothing that counts hangs on.
    pub(crate) rim: Vec<f64>,
}

impl Clusters {
    /// Clusters of about `step` across of the faces of one label. Linear; the same for any number of threads.
    pub(crate) fn gather(faces: &Faces<'_>, label: &[u32], step: f64) -> Self {
        let (of, list) = gather(faces, label, step);
        let n = of.len();
        let edges = |face: usize| {
            let (own, of) = (of[face], &of);
            let [a, b, c] = faces.mesh.corners(face);
            let sides = [(a, b), (b, c), (c, a)];
            (0..3).filter_map(move |side| {
                let other = match faces.topology.across(face, side) {
                    Across::Face { face: g, consistent: true, .. } => of[g as usize],
                    _ => NOWHERE,
                };
                (own != NOWHERE && other != own).then(|| (own, other, (sides[side].1 - sides[side].0).norm()))
            })
        };
        let chunks: Vec<Vec<(u32, u32, f64)>> = (0..n.div_ceil(CHUNK))
            .into_par_iter()
            .map(|c| summed((c * CHUNK..n.min((c + 1) * CHUNK)).flat_map(edges).collect()))
            .collect();
        let mut rim = vec![0.0; list.len()];
        let mut start = vec![0_u32; list.len() + 1];
        let (mut items, mut border) = (Vec::new(), Vec::new());
        for (own, other, length) in summed(chunks.concat()) {
            if other == NOWHERE {
                rim[own as usize] = length;
            } else {
                start[own as usize + 1] += 1;
                items.push(other);
                border.push(length);
            }
        }
        (0..list.len()).for_each(|k| start[k + 1] += start[k]);
        Self { of, origin: faces.origin(), list, beside: Lists { start, items }, border, rim }
    }

    /// The clusters beside, each with the length of the border.
    pub(crate) fn borders(&self, k: usize) -> impl Iterator<Item = (u32, f64)> {
        let at = self.beside.start[k] as usize..self.beside.start[k + 1] as usize;
        self.beside.items[at.clone()].iter().copied().zip(self.border[at].iter().copied())
    }

    /// Adds up over each cluster what its faces have.
    pub(crate) fn sum(&self, of_face: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.list.len()];
        for (&k, x) in self.of.iter().zip(of_face).filter(|(k, _)| **k != NOWHERE) {
            sums[k as usize] += x;
        }
        sums
    }
}

impl Pieces for Clusters {
    fn count(&self) -> usize {
        self.list.len()
    }

    fn origin(&self) -> Vector3<f64> {
        self.origin
    }

    fn centre(&self, k: usize) -> Point3<f64> {
        self.list[k].centre
    }

    fn vector(&self, k: usize) -> Vector3<f64> {
        self.list[k].normal
    }

    fn area(&self, k: usize) -> f64 {
        self.list[k].area
    }

    fn beside(&self, k: usize) -> impl Iterator<Item = u32> {
        self.beside.of(k as u32).iter().copied()
    }
}

/// Sorted by pair; one entry a pair, with the sum in the order given.
fn summed(mut pairs: Vec<(u32, u32, f64)>) -> Vec<(u32, u32, f64)> {
    pairs.par_sort_by_key(|&(p, q, _)| (p, q));
    pairs.dedup_by(|next, kept| {
        let same = (next.0, next.1) == (kept.0, kept.1);
        kept.2 += if same { next.2 } else { 0.0 };
        same
    });
    pairs
}
