//! Who touches whom. No positions are used here: two triangles are neighbours when they share two vertices of the weld.

use crate::mesh::Mesh;
use crate::numeric::Filed;
use rayon::prelude::*;
use std::sync::atomic::{AtomicU32, Ordering::Relaxed};

/// What lies across an edge of a triangle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Across {
    /// Exactly one other triangle.
    Face {
        /// The neighbour.
        face: u32,
        /// Which of its edges, 0 to 2: edge `k` runs from corner `k` to corner `k + 1`.
        side: u8,
        /// The two run along the edge in opposite directions, as neighbours that face the same way do.
        consistent: bool,
    },
    /// Nothing: the edge is open.
    Open,
    /// Two or more others.
    Many,
    /// The triangle has two equal corners and so no edges.
    Collapsed,
}

/// Edge adjacency of a mesh, 12 bytes a triangle.
#[derive(Clone, Debug)]
pub struct Topology {
    links: Vec<u32>,
}

const OPEN: u32 = u32::MAX;
const MANY: u32 = u32::MAX - 1;
const COLLAPSED: u32 = u32::MAX - 2;

impl Topology {
    /// Finds the neighbours of every triangle. Linear in the number of triangles.
    ///
    /// Every half-edge is filed under the lower of its two vertices; the few filed under one vertex are then sorted.
    #[must_use]
    pub fn of(mesh: &Mesh) -> Self {
        let triangles = mesh.triangles();
        let ends = |half: u32| {
            let (t, side) = (&triangles[half as usize / 3], half as usize % 3);
            (t[side], t[(side + 1) % 3])
        };
        let collapsed = |t: &[u32; 3]| t[0] == t[1] || t[1] == t[2] || t[2] == t[0];
        let filed = Filed::new(mesh.positions().len(), |file| {
            triangles.par_iter().enumerate().with_min_len(1 << 12).filter(|(_, t)| !collapsed(t)).for_each(
                |(face, t)| {
                    for side in 0..3 {
                        file(t[side].min(t[(side + 1) % 3]), (face * 3 + side) as u32);
                    }
                },
            );
        });
        // Each half-edge is written once, so relaxed stores are plain stores; they only keep this file free of unsafe.
        let links: Vec<AtomicU32> =
            (0..triangles.len() * 3).into_par_iter().map(|_| AtomicU32::new(COLLAPSED)).collect();
        let set = |half: u32, link: u32| links[half as usize].store(link, Relaxed);
        (0..mesh.positions().len()).into_par_iter().with_min_len(1 << 12).for_each_init(Vec::new, |around, vertex| {
            around.clear();
            around.extend(filed.under(vertex).map(|half| {
                let (a, b) = ends(half);
                (a.max(b), half)
            }));
            around.sort_unstable();
            for run in around.chunk_by(|p, q| p.0 == q.0) {
                match run {
                    [one] => set(one.1, OPEN),
                    [p, q] => {
                        let twisted = u32::from(ends(p.1).0 == ends(q.1).0);
                        set(p.1, q.1 << 1 | twisted);
                        set(q.1, p.1 << 1 | twisted);
                    }
                    more => more.iter().for_each(|e| set(e.1, MANY)),
                }
            }
        });
        Self { links: links.into_iter().map(AtomicU32::into_inner).collect() }
    }

    /// What lies across edge `side` (0 to 2, from corner `side` to the next) of triangle `face`.
    #[must_use]
    pub fn across(&self, face: usize, side: usize) -> Across {
        match self.links[face * 3 + side] {
            OPEN => Across::Open,
            MANY => Across::Many,
            COLLAPSED => Across::Collapsed,
            link => {
                let half = link >> 1;
                Across::Face { face: half / 3, side: (half % 3) as u8, consistent: link & 1 == 0 }
            }
        }
    }
}

impl Topology {
    /// Edges with three or more triangles, each as its half-edges (`3 * face + side`), in ascending order of vertices.
    #[must_use]
    pub fn many_edges(&self, mesh: &Mesh) -> Vec<Vec<u32>> {
        let ends = |half: u32| {
            let (t, side) = (&mesh.triangles()[half as usize / 3], half as usize % 3);
            let (a, b) = (t[side], t[(side + 1) % 3]);
            (a.min(b), a.max(b))
        };
        let mut halves: Vec<_> =
            (0..).zip(&self.links).filter(|(_, link)| **link == MANY).map(|(half, _)| (ends(half), half)).collect();
        halves.sort_unstable();
        halves.chunk_by(|p, q| p.0 == q.0).map(|edge| edge.iter().map(|e| e.1).collect()).collect()
    }

    /// The same table after the triangles marked in `turned` have been turned over (corners 1 and 2 swapped).
    pub(crate) fn turned_over(&self, turned: &[bool]) -> Self {
        // Swapping corners 1 and 2 keeps edge 1 and swaps edges 0 and 2.
        let moved = |half: u32| if turned[half as usize / 3] { half - half % 3 + 2 - half % 3 } else { half };
        let links = (0..self.links.len() as u32)
            .into_par_iter()
            .map(|half| match self.links[moved(half) as usize] {
                link @ (OPEN | MANY | COLLAPSED) => link,
                link => {
                    let twin = link >> 1;
                    let twisted = link & 1 ^ u32::from(turned[half as usize / 3] != turned[twin as usize / 3]);
                    moved(twin) << 1 | twisted
                }
            })
            .collect();
        Self { links }
    }
}
