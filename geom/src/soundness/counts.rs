//! What can be counted before any unit is known.

use crate::bodies::{Bodies, Forest};
use crate::mesh::Mesh;
use crate::numeric::FixedSum;
use crate::topology::{Across, Topology};
use nalgebra::Point3;
use rayon::prelude::*;

/// Counts of a mesh as sent, before any repair.
#[derive(Clone, Debug, PartialEq)]
pub struct Counts {
    /// Triangles of the weld.
    pub triangles: usize,
    /// Distinct positions.
    pub vertices: usize,
    /// Triangles with two equal corners.
    pub collapsed: usize,
    /// Triangles with three distinct corners on a line, to within rounding.
    pub slivers: usize,
    /// Triangles over the same three corners as an earlier one, facing the same way.
    pub repeated: usize,
    /// Triangles over the same three corners as an earlier one, facing the other way.
    pub back_to_back: usize,
    /// Edges of all triangles that are not collapsed.
    pub edges: usize,
    /// Edges with one triangle.
    pub open_edges: usize,
    /// Edges with three triangles or more.
    pub many_edges: usize,
    /// Edges whose two triangles run along it in the same direction: one of the two is turned over.
    pub twisted_edges: usize,
    /// Bodies joined by edges.
    pub bodies: usize,
    /// Vertices - edges + faces, collapsed triangles not counted. 2 for a ball, 0 for a ring.
    pub euler: i64,
}

impl Counts {
    /// Counts everything in one pass over the edges.
    #[must_use]
    pub fn of(mesh: &Mesh, topology: &Topology, bodies: &Bodies) -> Self {
        let triangles = mesh.triangles();
        // [collapsed, slivers, open, many half-edges, paired half-edges, twisted half-edges]
        let tally = (0..triangles.len())
            .into_par_iter()
            .fold(
                || [0_usize; 6],
                |mut n, face| {
                    let mut paired = 0;
                    for side in 0..3 {
                        match topology.across(face, side) {
                            Across::Collapsed => {
                                n[0] += 1;
                                return n;
                            }
                            Across::Open => n[2] += 1,
                            Across::Many => n[3] += 1,
                            Across::Face { consistent, .. } => {
                                paired += 1;
                                n[5] += usize::from(!consistent);
                            }
                        }
                    }
                    n[4] += paired;
                    n[1] += usize::from(is_sliver(mesh.corners(face)));
                    n
                },
            )
            .reduce(|| [0; 6], |a, b| std::array::from_fn(|k| a[k] + b[k]));
        let many_edges = if tally[3] > 0 { topology.many_edges(mesh).len() } else { 0 };
        let edges = tally[2] + many_edges + tally[4] / 2;
        let (repeated, back_to_back) = repeats(triangles).iter().fold((0, 0), |n, repeat| match repeat {
            Repeat::SameWay => (n.0 + 1, n.1),
            Repeat::BackToBack => (n.0, n.1 + 1),
            Repeat::No => n,
        });
        let vertices = mesh.positions().len();
        Self {
            triangles: triangles.len(),
            vertices,
            collapsed: tally[0],
            slivers: tally[1],
            repeated,
            back_to_back,
            edges,
            open_edges: tally[2],
            many_edges,
            twisted_edges: tally[5] / 2,
            bodies: bodies.count(),
            euler: vertices as i64 - edges as i64 + (triangles.len() - tally[0]) as i64,
        }
    }

    /// No open edge and none with three triangles or more.
    #[must_use]
    pub fn closed(&self) -> bool {
        self.open_edges == 0 && self.many_edges == 0
    }
}

/// Height under a rounding error of the longest edge: the area is noise.
fn is_sliver([a, b, c]: [Point3<f64>; 3]) -> bool {
    let (ab, ac) = (b - a, c - a);
    let longest2 = ab.norm_squared().max(ac.norm_squared()).max((c - b).norm_squared());
    ab.cross(&ac).norm_squared() <= (1e-12 * longest2).powi(2)
}

/// Whether a triangle lies exactly on an earlier one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Repeat {
    No,
    SameWay,
    BackToBack,
}

/// Finds triangles over the same three corners; collapsed ones are not looked at. Empty when there are none: the usual case costs
/// no table.
pub(crate) fn repeats(triangles: &[[u32; 3]]) -> Vec<Repeat> {
    let mut found = Vec::new();
    let mut start = 0;
    let mut group: Vec<(u32, u32, u32, bool)> = Vec::new();
    // Triangles begin at their lowest corner and are sorted by it, so equal ones are in one short run.
    for run in triangles.chunk_by(|p, q| p[0] == q[0]) {
        if run.len() > 1 {
            group.clear();
            group.extend(
                (0..)
                    .zip(run)
                    .filter(|(_, t)| t[0] != t[1] && t[1] != t[2] && t[2] != t[0])
                    .map(|(k, t): (u32, _)| (t[1].min(t[2]), t[1].max(t[2]), k, t[1] < t[2])),
            );
            group.sort_unstable();
            for same in group.chunk_by(|p, q| (p.0, p.1) == (q.0, q.1)).filter(|same| same.len() > 1) {
                if found.is_empty() {
                    found = vec![Repeat::No; triangles.len()];
                }
                for (k, item) in same.iter().enumerate().skip(1) {
                    let seen = same[..k].iter().any(|earlier| earlier.3 == item.3);
                    found[start + item.2 as usize] = if seen { Repeat::SameWay } else { Repeat::BackToBack };
                }
            }
        }
        start += run.len();
    }
    found
}

/// A connected run of open edges: a hole, or the rim of a sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OpenRun {
    /// How many edges.
    pub edges: usize,
    /// Their length together, in the mesh's unit.
    pub length: f64,
    /// Middle of the box around it.
    pub at: Point3<f64>,
    /// The body it is on.
    pub body: u32,
}

/// All open edges, joined where they share a vertex; longest first.
#[must_use]
pub fn open_runs(mesh: &Mesh, topology: &Topology, bodies: &Bodies) -> Vec<OpenRun> {
    let open: Vec<(u32, u32, u32)> = (0..mesh.triangles().len())
        .into_par_iter()
        .flat_map_iter(|face| {
            (0..3).filter(move |&side| topology.across(face, side) == Across::Open).map(move |side| {
                let t = mesh.triangles()[face];
                (t[side], t[(side + 1) % 3], face as u32)
            })
        })
        .collect();
    if open.is_empty() {
        return Vec::new();
    }
    let mut forest = Forest::new(mesh.positions().len());
    open.iter().for_each(|(a, b, _)| forest.join(*a, *b));
    let mut keyed: Vec<(u32, u32, u32, u32)> = open.iter().map(|&(a, b, face)| (forest.root(a), a, b, face)).collect();
    keyed.sort_unstable();
    let place = |v: u32| mesh.positions()[v as usize];
    let mut runs: Vec<OpenRun> = keyed
        .chunk_by(|p, q| p.0 == q.0)
        .map(|run| {
            let mut low = place(run[0].1);
            let mut high = low;
            let mut length = 0.0;
            for &(_, a, b, _) in run {
                length += (place(a) - place(b)).norm();
                low = low.inf(&place(a).inf(&place(b)));
                high = high.sup(&place(a).sup(&place(b)));
            }
            OpenRun {
                edges: run.len(),
                length,
                at: nalgebra::center(&low, &high),
                body: bodies.by_face()[run[0].3 as usize],
            }
        })
        .collect();
    runs.sort_by(|a, b| b.length.total_cmp(&a.length));
    runs
}

/// Length of all open edges, in the mesh's unit.
#[must_use]
pub fn open_length(runs: &[OpenRun]) -> f64 {
    let mut sum = FixedSum::with_terms_up_to(runs.first().map_or(0.0, |run| run.length));
    runs.iter().for_each(|run| sum.add(run.length));
    sum.value()
}
