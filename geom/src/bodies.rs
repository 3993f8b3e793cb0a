//! Bodies: triangles joined by edges. No positions are used here.

use crate::mesh::Mesh;
use crate::topology::{Across, Topology};

/// The body of every triangle. Bodies are numbered by their first triangle.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bodies {
    of: Vec<u32>,
    count: usize,
}

impl Bodies {
    /// Joins triangles across shared edges, edges with three or more triangles included. Near linear.
    /// A triangle with two equal corners goes with the one before it.
    #[must_use]
    pub fn of(mesh: &Mesh, topology: &Topology) -> Self {
        let mut forest = pairs(mesh, topology);
        for edge in topology.many_edges(mesh) {
            edge.windows(2).for_each(|pair| forest.join(pair[0] / 3, pair[1] / 3));
        }
        let (of, count) = forest.numbered();
        Self { of, count }
    }

    /// The same across edges with two triangles alone: blocks that touch along an edge stay apart.
    pub(crate) fn joined_by_pairs(mesh: &Mesh, topology: &Topology) -> Self {
        let (of, count) = pairs(mesh, topology).numbered();
        Self { of, count }
    }

    /// How many there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.count
    }

    /// The body of each triangle.
    #[must_use]
    pub fn by_face(&self) -> &[u32] {
        &self.of
    }
}

/// Triangles joined across edges that two of them share.
fn pairs(mesh: &Mesh, topology: &Topology) -> Forest {
    let faces = mesh.triangles().len();
    let mut forest = Forest::new(faces);
    for face in 0..faces {
        for side in 0..3 {
            match topology.across(face, side) {
                // No edges and no area: it goes with the triangle before it, so that it is no body of its own.
                Across::Collapsed if face > 0 => forest.join(face as u32, face as u32 - 1),
                Across::Face { face: other, .. } if (other as usize) < face => forest.join(face as u32, other),
                _ => {}
            }
        }
    }
    forest
}

/// Disjoint sets with path halving; the lowest member is the root, so the result does not depend on the order of joins.
pub(crate) struct Forest {
    parent: Vec<u32>,
}

impl Forest {
    pub(crate) fn new(members: usize) -> Self {
        Self { parent: (0..members as u32).collect() }
    }

    pub(crate) fn root(&mut self, mut x: u32) -> u32 {
        while self.parent[x as usize] != x {
            let up = self.parent[self.parent[x as usize] as usize];
            self.parent[x as usize] = up;
            x = up;
        }
        x
    }

    pub(crate) fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a.max(b) as usize] = a.min(b);
    }

    /// The set of each member, sets numbered by their lowest member.
    pub(crate) fn numbered(mut self) -> (Vec<u32>, usize) {
        let mut next = 0;
        let mut number = vec![0; self.parent.len()];
        for x in 0..self.parent.len() {
            let root = self.root(x as u32) as usize;
            if root == x {
                number[x] = next;
                next += 1;
            } else {
                number[x] = number[root];
            }
        }
        (number, next as usize)
    }
}
