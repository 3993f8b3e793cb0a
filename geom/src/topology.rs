//! Who touches whom. No positions are used here: two triangles are neighbours when they share two vertices of the weld.

use crate::mesh::Mesh;

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
    /// Finds the neighbours of every triangle. Near linear in the number of triangles.
    #[must_use]
    pub fn of(mesh: &Mesh) -> Self {
        let triangles = mesh.triangles();
        let mut links = vec![COLLAPSED; triangles.len() * 3];
        let mut edges: Vec<(u32, u32, u32)> = Vec::with_capacity(triangles.len() * 3);
        for (face, t) in triangles.iter().enumerate() {
            if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
                continue;
            }
            for side in 0..3 {
                let (a, b) = (t[side], t[(side + 1) % 3]);
                edges.push((a.min(b), a.max(b), (face * 3 + side) as u32));
            }
        }
        edges.sort_unstable();
        for run in edges.chunk_by(|p, q| (p.0, p.1) == (q.0, q.1)) {
            match run {
                [one] => links[one.2 as usize] = OPEN,
                [p, q] => {
                    let starts = |h: u32| triangles[(h / 3) as usize][(h % 3) as usize];
                    let twisted = u32::from(starts(p.2) == starts(q.2));
                    links[p.2 as usize] = q.2 << 1 | twisted;
                    links[q.2 as usize] = p.2 << 1 | twisted;
                }
                more => more.iter().for_each(|e| links[e.2 as usize] = MANY),
            }
        }
        Self { links }
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
