//! The new revision with its changed places marked.

use super::Comparison;
use crate::export::{COLOURS, Group, PALE};
use crate::mesh::Mesh;
use std::collections::BTreeMap;

/// Dark, so that it is not taken for a place of the new revision.
const GONE: [u8; 3] = [70, 70, 70];

/// The new revision cut along the outlines of its changes. Where a triangle was cut, its neighbours were not: the cuts are for
/// looking at, not for measuring.
#[derive(Clone, Debug, PartialEq)]
pub struct Marked {
    /// The cut mesh; metres as the new revision is placed.
    pub mesh: Mesh,
    /// The change (an index) of each triangle, `u32::MAX` for none.
    pub change: Vec<u32>,
    /// The triangle of the new revision that each is, or is a piece of.
    pub source: Vec<u32>,
}

impl Comparison {
    /// Marks the changes on the mesh of the new revision that was compared.
    #[must_use]
    pub fn marked(&self, mesh: &Mesh) -> Marked {
        let mut positions = mesh.positions().to_vec();
        let (mut triangles, mut change, mut source) = (Vec::new(), Vec::new(), Vec::new());
        let mut cuts = self.cuts.iter().peekable();
        for (face, triangle) in mesh.triangles().iter().enumerate() {
            if cuts.peek().is_none_or(|cut| cut.face as usize != face) {
                triangles.push(*triangle);
                change.push(self.change_of_face[face]);
                source.push(face as u32);
            }
            while let Some(cut) = cuts.next_if(|cut| cut.face as usize == face) {
                let first = positions.len() as u32;
                positions.extend(cut.corners);
                triangles.push([first, first + 1, first + 2]);
                change.push(cut.change);
                source.push(cut.face);
            }
        }
        Marked { mesh: Mesh::new(positions, triangles, Vec::new()), change, source }
    }

    /// The marked new revision and, as a group `gone` with the number -1, what is gone of the mesh of the old one, laid on it: a
    /// part taken away leaves nothing on the new revision that could be marked. The other groups are those of
    /// [`Comparison::groups`].
    #[must_use]
    pub fn with_gone(&self, marked: &Marked, old: &Mesh) -> (Mesh, Vec<Group>) {
        let mut groups = self.groups(marked);
        let (mut positions, mut triangles) = (marked.mesh.positions().to_vec(), marked.mesh.triangles().to_vec());
        let first = triangles.len() as u32;
        let mut number = BTreeMap::new();
        for &face in &self.gone {
            triangles.push(old.triangles()[face as usize].map(|corner| {
                *number.entry(corner).or_insert_with(|| {
                    positions.push(self.placement.back(&old.positions()[corner as usize].coords).into());
                    positions.len() as u32 - 1
                })
            }));
        }
        for piece in &self.gone_pieces {
            let start = positions.len() as u32;
            positions.extend(piece);
            triangles.push([start, start + 1, start + 2]);
        }
        let faces: Vec<u32> = (first..triangles.len() as u32).collect();
        if !faces.is_empty() {
            groups.push(Group { name: "gone".to_owned(), colour: GONE, number: -1, faces });
        }
        (Mesh::new(positions, triangles, Vec::new()), groups)
    }

    /// Groups for a coloured file: `change_1` and so on, orange where it went outward (or sideways), blue where it went inward;
    /// then `unchanged`.
    #[must_use]
    pub fn groups(&self, marked: &Marked) -> Vec<Group> {
        let mut faces = vec![Vec::new(); self.changes.len() + 1];
        for (face, &change) in marked.change.iter().enumerate() {
            faces[(change as usize).min(self.changes.len())].push(face as u32);
        }
        let group = |(k, faces): (usize, Vec<u32>)| match self.changes.get(k) {
            Some(change) => {
                let colour = COLOURS[if change.inward > change.outward { 2 } else { 4 }];
                Group { name: format!("change_{}", k + 1), colour, number: k as i32 + 1, faces }
            }
            None => Group { name: "unchanged".to_owned(), colour: PALE, number: 0, faces },
        };
        faces.into_iter().enumerate().map(group).filter(|group| !group.faces.is_empty()).collect()
    }
}
