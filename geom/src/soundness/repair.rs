//! Which triangles to leave out and which to turn over, so that every body faces outward where that can be told.
//!
//! Order of events: collapsed and exactly repeated triangles are left out; inside each body neighbours are made to face the same
//! way (the smaller area turns); bodies that are closed, or all but closed, and inside out are turned over whole, unless they
//! are the inner wall of a hollow body; so are open shells whose sides face each other's backs, and a sheet that faces away from
//! the visitor and not up, unless they are to stay as drawn: until somebody says so, their side is a guess.

use super::Sheets;
use crate::bodies::Bodies;
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// The open part of a body's surface, as a share of its area, below which its sign of volume still tells inside from out.
/// A missing patch of area B leaves a vector area of B, so this bounds the flat area of all holes together.
const NEARLY_CLOSED: f64 = 0.05;

/// The same for a shell with a large hole: from here on it is a sheet, and which side is meant is told by where it faces.
const A_SHEET: f64 = 0.5;
/// The sine within which a sheet is plumb or level.
const PLUMB: f64 = 0.02;

/// Facts of one body after the repair. Lengths, areas, volumes in the mesh's unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// Triangles.
    pub faces: usize,
    /// Area.
    pub area: f64,
    /// Signed volume about the low corner of its own box; the volume of the body when it is closed.
    pub volume: f64,
    /// Low corner of its box.
    pub low: Point3<f64>,
    /// High corner of its box.
    pub high: Point3<f64>,
    /// No open edge, and none with three triangles or more but where closed blocks touch along it.
    pub closed: bool,
    /// All neighbours face the same way.
    pub one_sided: bool,
    /// Size of the sum of area vectors over the area: 0 for closed, 1 for a flat sheet.
    pub openness: f64,
    /// Sum of area vectors: where the body faces on the whole.
    pub facing: Vector3<f64>,
    /// Turned over whole.
    pub turned: bool,
    /// Drawn on both sides, of which one was taken.
    pub both_sides: bool,
    /// The side to coat is a guess: an open sheet that was turned over, or drawn on both sides, and nobody has said.
    pub guessed: bool,
    /// Lies inside this body.
    pub inside: Option<u32>,
    /// Inner wall of a hollow body: faces inward and is meant to.
    pub cavity: bool,
    /// An open sheet that lies flat on a body: a sign or an opening drawn on it, and no body by itself.
    pub drawn_on: bool,
}

impl Body {
    /// Closed but for holes too small to matter for inside and outside.
    #[must_use]
    pub fn nearly_closed(&self) -> bool {
        self.one_sided && self.openness < NEARLY_CLOSED
    }

    /// A surface without an inside of its own.
    #[must_use]
    pub fn is_sheet(&self) -> bool {
        !self.nearly_closed() && !self.drawn_on
    }

    /// Area that is missing at the least: the flat area of the holes of a body that is all but closed.
    #[must_use]
    pub fn missing(&self) -> f64 {
        if self.closed || !self.nearly_closed() { 0.0 } else { self.facing.norm() }
    }

    /// Volume of the cone over the surface from the middle of the body's box: positive when an open shell faces outward.
    fn volume_from_the_middle(&self) -> f64 {
        let to_the_middle = (self.high - self.low) / 2.0;
        self.volume - to_the_middle.dot(&self.facing) / 3.0
    }

    /// A sheet that faces away from visitors at -Y, and not up. One that faces down and toward them, or straight down, may
    /// be a soffit and stays as drawn.
    fn faces_away(&self) -> bool {
        let size = self.facing.norm() * PLUMB;
        self.facing.y > size && self.facing.z < size
    }
}

/// Makes neighbours face the same way. Marks the triangles to turn; bodies where this cannot be done stay as sent.
///
/// Breadth-first over the edges of each body that has a twist; within each run the smaller area turns.
pub(crate) fn same_way(mesh: &Mesh, topology: &Topology, bodies: &Bodies) -> Vec<bool> {
    let faces = mesh.triangles().len();
    let mut twisted = vec![false; bodies.count()];
    for face in 0..faces {
        for side in 0..3 {
            if matches!(topology.across(face, side), Across::Face { consistent: false, .. }) {
                twisted[bodies.by_face()[face] as usize] = true;
            }
        }
    }
    let mut turn = vec![false; faces];
    if !twisted.contains(&true) {
        return turn;
    }
    let mut seen = vec![false; faces];
    let mut run = Vec::new();
    for first in 0..faces {
        if seen[first] || !twisted[bodies.by_face()[first] as usize] {
            continue;
        }
        seen[first] = true;
        run.clear();
        run.push(first);
        let (mut next, mut sound) = (0, true);
        while next < run.len() {
            let face = run[next];
            next += 1;
            for side in 0..3 {
                if let Across::Face { face: other, consistent, .. } = topology.across(face, side) {
                    let other = other as usize;
                    if seen[other] {
                        sound &= (turn[face] != turn[other]) != consistent;
                    } else {
                        seen[other] = true;
                        turn[other] = turn[face] == consistent;
                        run.push(other);
                    }
                }
            }
        }
        let area = |marked: bool| -> f64 {
            run.iter().filter(|f| turn[**f] == marked).map(|f| mesh.area_vector(*f).norm()).sum()
        };
        let swap = area(true) > area(false);
        for &face in &run {
            turn[face] = sound && (turn[face] != swap);
        }
    }
    turn
}

/// Sums over some triangles of one body: area, volume, vector area.
#[derive(Clone, Default)]
struct Partial {
    terms: [f64; 5],
    faces: usize,
    open: bool,
    twisted: bool,
}

/// Edges with three or more triangles that are no joint of sound blocks, each by one of its triangles. Blocks that touch along an
/// edge run along it once each way, so each is closed by itself; a wall inside leaves one over. Nor is one that is inside out beside
/// another that is not: nobody can tell which of the two is meant to be a hollow.
pub(super) fn unpaired_edges(mesh: &Mesh, topology: &Topology) -> Vec<u32> {
    let edges = topology.many_edges(mesh);
    if edges.is_empty() {
        return Vec::new();
    }
    let rises = |half: &u32| {
        let (t, side) = (&mesh.triangles()[*half as usize / 3], *half as usize % 3);
        t[side] < t[(side + 1) % 3]
    };
    let blocks = Bodies::joined_by_pairs(mesh, topology);
    let block = |half: &u32| blocks.by_face()[*half as usize / 3] as usize;
    let mut volumes = vec![0.0; blocks.count()];
    for (face, block) in blocks.by_face().iter().enumerate() {
        let [a, b, c] = mesh.corners(face).map(|p| p.coords);
        volumes[*block as usize] += a.dot(&b.cross(&c));
    }
    let is_joint = |edge: &[u32]| {
        let outward = edge.iter().filter(|half| volumes[block(half)] > 0.0).count();
        2 * edge.iter().filter(|half| rises(half)).count() == edge.len() && (outward == 0 || outward == edge.len())
    };
    edges.iter().filter(|edge| !is_joint(edge)).map(|edge| edge[0] / 3).collect()
}

/// Facts of every body of a mesh.
pub(crate) fn facts(mesh: &Mesh, topology: &Topology, bodies: &Bodies) -> Vec<Body> {
    let count = bodies.count();
    let far = Point3::from(Vector3::repeat(f64::INFINITY));
    let mut lows = vec![far; count];
    let mut highs = vec![-far; count];
    for (face, &body) in bodies.by_face().iter().enumerate() {
        let body = body as usize;
        for p in mesh.corners(face) {
            lows[body] = lows[body].inf(&p);
            highs[body] = highs[body].sup(&p);
        }
    }
    // Fixed pieces, added in order: the same bits for any number of threads.
    const PIECE: usize = 1 << 16;
    let pieces: Vec<Vec<(u32, Partial)>> = (0..mesh.triangles().len().div_ceil(PIECE))
        .into_par_iter()
        .map(|piece| {
            let range = piece * PIECE..((piece + 1) * PIECE).min(mesh.triangles().len());
            let mut partial: Vec<(u32, Partial)> = Vec::new();
            for face in range {
                let body = bodies.by_face()[face];
                if partial.last().is_none_or(|last| last.0 != body) {
                    partial.push((body, Partial::default()));
                }
                let Some((_, sum)) = partial.last_mut() else { continue };
                let [a, b, c] = mesh.corners(face).map(|p| p - lows[body as usize]);
                let vector = (b - a).cross(&(c - a)) * 0.5;
                let terms = [vector.norm(), a.dot(&b.cross(&c)) / 6.0, vector.x, vector.y, vector.z];
                sum.terms.iter_mut().zip(terms).for_each(|(sum, term)| *sum += term);
                sum.faces += 1;
                for side in 0..3 {
                    match topology.across(face, side) {
                        Across::Open => sum.open = true,
                        Across::Face { consistent, .. } => sum.twisted |= !consistent,
                        // Asked of the edge as a whole, below.
                        Across::Many | Across::Collapsed => {}
                    }
                }
            }
            partial
        })
        .collect();
    let mut sums = vec![Partial::default(); count];
    for (body, part) in pieces.into_iter().flatten() {
        let sum = &mut sums[body as usize];
        sum.terms.iter_mut().zip(part.terms).for_each(|(s, t)| *s += t);
        sum.faces += part.faces;
        sum.open |= part.open;
        sum.twisted |= part.twisted;
    }
    for face in unpaired_edges(mesh, topology) {
        sums[bodies.by_face()[face as usize] as usize].open = true;
    }
    sums.into_iter()
        .zip(lows.into_iter().zip(highs))
        .map(|(sum, (low, high))| {
            let [area, volume, x, y, z] = sum.terms;
            let (faces, closed, one_sided) = (sum.faces, !sum.open, !sum.twisted);
            let facing = Vector3::new(x, y, z);
            let openness = if area > 0.0 { facing.norm() / area } else { 1.0 };
            Body {
                faces,
                area,
                volume,
                low,
                high,
                closed,
                one_sided,
                openness,
                facing,
                turned: false,
                both_sides: false,
                guessed: false,
                inside: None,
                cavity: false,
                drawn_on: false,
            }
        })
        .collect()
}

/// Finds which body lies inside which, and turns bodies that are inside out. Visitors stand at -Y.
pub(crate) fn face_outward(mesh: &Mesh, bodies: &Bodies, list: &mut [Body], sheets: Sheets) {
    nest(mesh, bodies, list);
    let root = |mut k: usize| {
        while let Some(outer) = list[k].inside {
            k = outer as usize;
        }
        k
    };
    let turned: Vec<bool> = (0..list.len())
        .map(|k| {
            let body = &list[k];
            if !body.nearly_closed() {
                if sheets == Sheets::AsDrawn && !body.both_sides {
                    return false;
                }
                let shell = body.openness < A_SHEET;
                return body.one_sided && if shell { body.volume_from_the_middle() < 0.0 } else { body.faces_away() };
            }
            // A hollow body sent inside out is turned over with its inner wall.
            list[root(k)].volume < 0.0
        })
        .collect();
    for (body, turn) in list.iter_mut().zip(turned) {
        body.turned = turn;
        if turn {
            body.volume = -body.volume;
            body.facing = -body.facing;
        }
        let open = body.one_sided && !body.nearly_closed();
        // A sheet drawn on both sides faces outward as drawn and the other way as drawn.
        body.guessed = open && (turn && sheets == Sheets::Ask || body.both_sides && sheets != Sheets::Outward);
    }
    mark_cavities(list);
}

fn mark_cavities(list: &mut [Body]) {
    list.iter_mut().for_each(|body| body.cavity = body.inside.is_some() && body.volume < 0.0);
}

/// Sets `inside` and `cavity` of bodies that face the right way.
pub(crate) fn find_cavities(mesh: &Mesh, bodies: &Bodies, list: &mut [Body]) {
    nest(mesh, bodies, list);
    mark_cavities(list);
}

/// Sets `inside` to the smallest body around each, by the solid angle that the outer body fills seen from one of its corners.
fn nest(mesh: &Mesh, bodies: &Bodies, list: &mut [Body]) {
    let solid: Vec<usize> = (0..list.len()).filter(|&k| list[k].nearly_closed()).collect();
    let within = |k: usize, outer: usize| {
        let (a, b) = (&list[k], &list[outer]);
        (0..3).all(|i| b.low[i] < a.low[i] && a.high[i] < b.high[i])
    };
    let pairs: Vec<(usize, usize)> = solid
        .iter()
        .flat_map(|&k| solid.iter().filter(move |&&outer| outer != k).map(move |&outer| (k, outer)))
        .filter(|&(k, outer)| within(k, outer))
        .collect();
    if pairs.is_empty() {
        return;
    }
    let mut members: Vec<Vec<u32>> = vec![Vec::new(); list.len()];
    let mut first = vec![None; list.len()];
    for (face, &body) in (0..).zip(bodies.by_face()) {
        members[body as usize].push(face);
        first[body as usize].get_or_insert(face);
    }
    let is_inside: Vec<bool> = pairs
        .par_iter()
        .map(|&(k, outer)| {
            let Some(face) = first[k] else { return false };
            let from = mesh.corners(face as usize)[0];
            let angle: f64 = members[outer].iter().map(|&f| solid_angle(mesh.corners(f as usize), from)).sum();
            angle.abs() > 2.0 * std::f64::consts::PI
        })
        .collect();
    for ((k, outer), _) in pairs.into_iter().zip(is_inside).filter(|(_, inside)| *inside) {
        let smaller = list[k].inside.is_none_or(|now| list[outer].volume.abs() < list[now as usize].volume.abs());
        if smaller {
            list[k].inside = Some(outer as u32);
        }
    }
}

/// Solid angle of a triangle seen from a point (van Oosterom and Strackee, IEEE Trans. Biomed. Eng. 30, 1983).
fn solid_angle(corners: [Point3<f64>; 3], from: Point3<f64>) -> f64 {
    let [a, b, c] = corners.map(|p| p - from);
    let (la, lb, lc) = (a.norm(), b.norm(), c.norm());
    let bottom = la * lb * lc + a.dot(&b) * lc + b.dot(&c) * la + c.dot(&a) * lb;
    2.0 * a.dot(&b.cross(&c)).atan2(bottom)
}
