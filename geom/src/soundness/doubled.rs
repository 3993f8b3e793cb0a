//! Bodies and parts drawn on both sides: every triangle stands there twice, once each way. One side is taken.

use crate::bodies::Bodies;
use crate::mesh::Mesh;

/// Marks of the triangles of a mesh without exact repeats.
#[derive(Clone, Debug, Default)]
pub(super) struct Doubled {
    /// Not one of a pair that is left out; empty when nothing is drawn on both sides.
    pub(super) keep: Vec<bool>,
    /// Kept of a pair, a triangle that is kept each.
    pub(super) kept_of_pair: Vec<bool>,
    /// Pairs.
    pub(super) pairs: usize,
}

/// Nobody lies on it the other way.
const NONE: u32 = u32::MAX;

impl Doubled {
    /// Finds bodies, and then parts, of which every triangle lies on another of the same body or part that faces the other way. O(n).
    pub(super) fn find(mesh: &Mesh, bodies: &Bodies) -> Self {
        let twins = twins(mesh.triangles());
        if twins.is_empty() {
            return Self::default();
        }
        let faces = twins.len();
        let body = |face: usize| bodies.by_face()[face];
        let whole_body = wholly(&twins, body, |_| true);
        let rest = |face: usize| !whole_body[face];
        let whole_part = wholly(&twins, |face| mesh.part_of(face), rest);
        let doubled = |face: usize| whole_body[face] || whole_part[face];
        // Of each pair the one that faces up or the visitor more; bodies that enclose something are turned outward later.
        let liking = |face: usize| {
            let vector = mesh.area_vector(face);
            vector.z - vector.y
        };
        let second = |face: usize| {
            let (a, b) = (liking(face), liking(twins[face] as usize));
            a < b || a == b && face > twins[face] as usize
        };
        let keep: Vec<bool> = (0..faces).map(|face| !doubled(face) || !second(face)).collect();
        let kept_of_pair: Vec<bool> = (0..faces).filter(|face| keep[*face]).map(doubled).collect();
        let pairs = kept_of_pair.iter().filter(|d| **d).count();
        if pairs == 0 { Self::default() } else { Self { keep, kept_of_pair, pairs } }
    }
}

/// Marks the triangles of groups in which every triangle that is `asked` has its twin in the same group.
fn wholly(twins: &[u32], group: impl Fn(usize) -> u32, asked: impl Fn(usize) -> bool) -> Vec<bool> {
    let faces = || (0..twins.len()).filter(|face| asked(*face));
    let groups = faces().map(&group).max().map_or(0, |most| most as usize + 1);
    let mut whole = vec![true; groups];
    for face in faces() {
        let twin = twins[face];
        whole[group(face) as usize] &= twin != NONE && asked(twin as usize) && group(twin as usize) == group(face);
    }
    (0..twins.len()).map(|face| asked(face) && whole[group(face) as usize]).collect()
}

/// The triangle over the same three corners that faces the other way, of each; empty when there is none.
fn twins(triangles: &[[u32; 3]]) -> Vec<u32> {
    let mut found = Vec::new();
    let mut start = 0;
    // Triangles begin at their lowest corner and are sorted by it, so twins are in one short run.
    for run in triangles.chunk_by(|p, q| p[0] == q[0]) {
        let mut group: Vec<(u32, u32, usize)> =
            (start..).zip(run).map(|(face, t)| (t[1].min(t[2]), t[1].max(t[2]), face)).collect();
        group.sort_unstable();
        for same in group.chunk_by(|p, q| (p.0, p.1) == (q.0, q.1)) {
            if let [a, b] = same
                && a.0 != a.1
                && triangles[a.2] != triangles[b.2]
            {
                if found.is_empty() {
                    found = vec![NONE; triangles.len()];
                }
                (found[a.2], found[b.2]) = (b.2 as u32, a.2 as u32);
            }
        }
        start += run.len();
    }
    found
}
