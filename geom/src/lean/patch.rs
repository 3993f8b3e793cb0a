//! The mean lean of a neighbourhood, measured along the surface.
//!
//! Faces are gathered into patches of a fifth of the radius, joined through the mesh. A search over patches sums the
//! neighbourhood of each, and a face blends what its own patch and those beside it foretell, each by its mean and the
//! slope of the mean. Distance is kept as a straight line for as long as the surface runs straight: over a bend the line
//! starts anew at the bend, so the far side of a thin fin is as far as a tape says, not as a ray.

use super::FEW;
use super::gather::{NOWHERE, Patch, gather};
use super::pieces::{Faces, Pieces};
use super::refine::{Coarseness, refine};
use crate::mesh::Mesh;
use crate::topology::Topology;
use nalgebra::{Matrix3, Point3, Vector3};
use rayon::prelude::*;
use std::collections::{HashSet, VecDeque};

/// Faces gathered at a time. Fixed, so that patches do not depend on the number of threads.
pub(super) const CHUNK: usize = 1 << 16;

/// A patch as others see it.
pub(crate) struct PatchSpot {
    pub(crate) centre: Point3<f64>,
    pub(crate) direction: Vector3<f64>,
    pub(crate) area: f64,
}

/// Patches of about one size, and who touches whom.
pub(crate) struct Spots {
    pub(crate) list: Vec<PatchSpot>,
    /// A face of the model in each patch.
    pub(crate) face: Vec<u32>,
    beside: Lists,
}

impl Spots {
    /// Patches of about `step` across; coarse faces are cut small first. Their areas are of the `share` of each face.
    pub(crate) fn gather(
        mesh: &Mesh,
        topology: &Topology,
        label: &[u32],
        share: impl Fn(u32) -> f64,
        step: f64,
    ) -> Self {
        let counts = |f: usize| label[f] != NOWHERE;
        if !Coarseness::of(mesh, counts).beyond(step * 2.0, FEW) {
            return Self::of(mesh, topology, label, step, share, |f| f as u32);
        }
        let fine = refine(mesh, counts, step * 2.0);
        let labels: Vec<u32> = fine.parent.iter().map(|&f| label[f as usize]).collect();
        Self::of(&fine.mesh, &Topology::of(&fine.mesh), &labels, step, share, |f| fine.parent[f])
    }

    fn of(
        mesh: &Mesh,
        topology: &Topology,
        label: &[u32],
        step: f64,
        share: impl Fn(u32) -> f64,
        parent: impl Fn(usize) -> u32,
    ) -> Self {
        let faces = &Faces { mesh, topology };
        let (patch_of, patches) = gather(faces, label, step);
        let beside = neighbours(faces, label, &patch_of, patches.len());
        let mut face = vec![NOWHERE; patches.len()];
        let mut area = vec![0.0; patches.len()];
        for (f, &p) in patch_of.iter().enumerate().filter(|(_, p)| **p != NOWHERE) {
            let own = parent(f);
            area[p as usize] += mesh.area_vector(f).norm() * share(own);
            if face[p as usize] == NOWHERE {
                face[p as usize] = own;
            }
        }
        let list = patches
            .iter()
            .zip(area)
            .map(|(p, area)| PatchSpot {
                centre: p.centre,
                direction: p.normal.try_normalize(0.0).unwrap_or_else(Vector3::zeros),
                area,
            })
            .collect();
        Self { list, face, beside }
    }

    pub(crate) fn beside(&self, k: u32) -> &[u32] {
        self.beside.of(k)
    }
}

/// Neighbourhood means.
pub(crate) struct Means {
    /// Per face: mean of unit normals over the neighbourhood. Its length is 1 on a plane and falls as the surface turns.
    /// Zero where the face is left out.
    pub(crate) normal: Vec<Vector3<f32>>,
    /// Per face: the surface folds back on itself outward here, by more than 120 degrees, as at the edge of a fin.
    pub(crate) fold: Vec<bool>,
}

/// A mean this short means a turn of 120 degrees (two planes meeting at that turn have a mean of cos 60).
const FOLD: f64 = 0.5;

/// Patches are blended up to this many steps away.
pub(super) const BLEND: f64 = 1.5;

/// Cosine of the turn up to which a line counts as straight: 37 degrees, where a chord is 2 % short of its arc. On a
/// rock of a million faces both 0.5 (short cuts over relief) and 0.95 (lines that zigzag from patch to patch) are worse.
const STRAIGHT: f32 = 0.8;

/// Averages over all pieces of the same label within `radius` along the surface, by patches of `step`, for the pieces
/// that are `wanted`. O(n) for a radius a few times the edge length and more; pieces must be smaller than the radius.
pub(crate) fn means(
    pieces: &impl Pieces,
    label: &[u32],
    [radius, step]: [f64; 2],
    wanted: impl Fn(usize) -> bool + Sync,
) -> Means {
    let (patch_of, patches) = gather(pieces, label, step);
    let beside = neighbours(pieces, label, &patch_of, patches.len());
    let mut asked = vec![false; patches.len()];
    for (piece, &p) in patch_of.iter().enumerate().filter(|(_, p)| **p != NOWHERE) {
        if !asked[p as usize] && wanted(piece) {
            asked[p as usize] = true;
        }
    }
    // A piece blends the patches beside its own.
    let known: Vec<bool> = (0..patches.len())
        .into_par_iter()
        .with_min_len(1 << 12)
        .map(|p| asked[p] || beside.of(p as u32).iter().any(|&q| asked[q as usize]))
        .collect();
    let around = sums(&patches, &beside, &known, radius, step);
    let reach = (BLEND * step) as f32;
    let slopes = slopes(&patches, &beside, &around);
    let normal = (0..pieces.count())
        .into_par_iter()
        .with_min_len(1 << 12)
        .map(|piece| {
            let own = patch_of[piece];
            if own == NOWHERE || !wanted(piece) {
                return Vector3::zeros();
            }
            let at = pieces.centre(piece);
            let mut sum = Vector3::zeros();
            let mut weight = 0.0_f32;
            let mut add = |q: u32| {
                let from: Vector3<f32> = (at - patches[q as usize].centre).cast();
                let w = 1.0 - from.norm() / reach;
                if w > 0.0 && around[q as usize].known {
                    sum += (around[q as usize].mean + slopes[q as usize] * from) * w;
                    weight += w;
                }
            };
            add(own);
            beside.of(own).iter().for_each(|&q| add(q));
            if weight > 1e-3 { sum / weight } else { around[own as usize].mean }
        })
        .collect();
    let fold = patch_of.par_iter().map(|&p| p != NOWHERE && around[p as usize].fold).collect();
    Means { normal, fold }
}

/// Lists of numbers, one list after the other.
pub(super) struct Lists {
    pub(super) start: Vec<u32>,
    pub(super) items: Vec<u32>,
}

impl Lists {
    pub(super) fn of(&self, k: u32) -> &[u32] {
        &self.items[self.start[k as usize] as usize..self.start[k as usize + 1] as usize]
    }
}

fn neighbours(pieces: &impl Pieces, label: &[u32], patch_of: &[u32], count: usize) -> Lists {
    let pairs_of = |k: usize| {
        let own = patch_of[k];
        let beside = (own != NOWHERE).then(|| pieces.beside(k)).into_iter().flatten();
        beside
            .map(|g| g as usize)
            .filter(move |&g| label[g] == label[k] && patch_of[g] != own)
            .map(move |g| (own, patch_of[g]))
    };
    let n = patch_of.len();
    let mut pairs: Vec<(u32, u32)> = (0..n.div_ceil(CHUNK))
        .into_par_iter()
        .map(|c| {
            let mut some: Vec<(u32, u32)> = (c * CHUNK..n.min((c + 1) * CHUNK)).flat_map(pairs_of).collect();
            some.sort_unstable();
            some.dedup();
            some
        })
        .flatten()
        .collect();
    pairs.par_sort_unstable();
    pairs.dedup();
    let mut start = vec![0_u32; count + 1];
    pairs.iter().for_each(|&(p, _)| start[p as usize + 1] += 1);
    (0..count).for_each(|k| start[k + 1] += start[k]);
    Lists { start, items: pairs.into_iter().map(|(_, q)| q).collect() }
}

#[derive(Clone, Copy)]
struct Around {
    mean: Vector3<f32>,
    fold: bool,
    known: bool,
}

/// How the mean changes from a patch to those beside it: least squares, leaning to none where there is no telling, as
/// across the surface.
fn slopes(patches: &[Patch], beside: &Lists, around: &[Around]) -> Vec<Matrix3<f32>> {
    let slope = |p: usize| {
        let (mut ways, mut changes) = (Matrix3::<f32>::zeros(), Matrix3::<f32>::zeros());
        for &q in beside.of(p as u32).iter().filter(|q| around[**q as usize].known) {
            let way: Vector3<f32> = (patches[q as usize].centre - patches[p].centre).cast();
            ways += way * way.transpose();
            changes += (around[q as usize].mean - around[p].mean) * way.transpose();
        }
        let soft = SOFT * ways.trace();
        (ways + Matrix3::from_diagonal_element(soft)).try_inverse().map_or_else(Matrix3::zeros, |i| changes * i)
    };
    let slope = |p: usize| if around[p].known { slope(p) } else { Matrix3::zeros() };
    (0..patches.len()).into_par_iter().with_min_len(1 << 12).map(slope).collect()
}

/// Softening of the least squares, as a share of the squared ways.
const SOFT: f32 = 0.03;

/// What the search reads of a patch, small and close together.
#[derive(Clone, Copy)]
struct Spot {
    centre: Vector3<f32>,
    unit: Vector3<f32>,
}

/// A patch reached.
#[derive(Clone, Copy)]
struct Reached {
    patch: u32,
    /// Where the straight line to it begins.
    anchor: u32,
    /// Way to the anchor, and in all.
    before: f32,
    length: f32,
}

struct Search {
    /// Stamp of the search that last came by, and the place in its list.
    seen: Vec<(u32, u32)>,
    stamp: u32,
    reached: Vec<Reached>,
    queue: VecDeque<u32>,
}

/// A way must be shorter by this share of a patch to be taken up again: the first way found is nearly the shortest.
const SHORTER: f32 = 0.1;

/// An arc that turns by t is 1 + t^2 / 24 chords long, and cos t is 1 - t^2 / 2.
const ARC: f32 = 1.0 / 12.0;

/// Width of the rim over which a patch comes to count, in patches.
pub(super) const RIM: f64 = 1.0;

/// More patches than this are not searched: a disc in a plane has a hundred, so this is the area of several within one radius. A surface
/// so crumpled has no lean at that scale, and its searches would take the square of its area.
const MOST_REACHED: usize = 1000;

/// Patches beside one another whose directions differ by less than this angle in radians lie in one plane: corners in single precision,
/// 300 mm apart at 1 m from the origin, turn a face by a fifth of it.
const IN_PLANE: f64 = 1e-6;

/// Which patches have nothing but their own plane within `limit`: their mean is their own direction, and nobody need search.
fn in_plane(patches: &[Patch], units: &[Vector3<f64>], beside: &Lists, limit: f64) -> Vec<bool> {
    let is_bent = |p: usize| {
        let is_curved = patches[p].normal.norm() < patches[p].area * (1.0 - IN_PLANE.powi(2));
        is_curved || beside.of(p as u32).iter().any(|&q| (units[q as usize] - units[p]).norm() > IN_PLANE)
    };
    let every = || (0..patches.len()).into_par_iter().with_min_len(1 << 12);
    let cell = |p: usize| <[f64; 3]>::from(patches[p].centre.coords).map(|x| (x / limit).floor() as i64);
    let mut bent: Vec<[i64; 3]> = every().filter(|p| is_bent(*p)).map(cell).collect();
    if 2 * bent.len() > patches.len() {
        return vec![false; patches.len()];
    }
    bent.par_sort_unstable();
    bent.dedup();
    let near = |[x, y, z]: [i64; 3]| {
        (0..27).map(move |k: i64| [x.wrapping_add(k % 3 - 1), y.wrapping_add(k / 3 % 3 - 1), z.wrapping_add(k / 9 - 1)])
    };
    let near_bent: HashSet<[i64; 3]> = bent.into_iter().flat_map(near).collect();
    every().map(|p| !near_bent.contains(&cell(p))).collect()
}

fn sums(patches: &[Patch], beside: &Lists, known: &[bool], radius: f64, step: f64) -> Vec<Around> {
    let units: Vec<Vector3<f64>> =
        patches.iter().map(|p| p.normal.try_normalize(0.0).unwrap_or_else(Vector3::zeros)).collect();
    let spot = |(p, unit): (&Patch, &Vector3<f64>)| Spot { centre: p.centre.coords.cast(), unit: unit.cast() };
    let spots: Vec<Spot> = patches.iter().zip(&units).map(spot).collect();
    let limit = (radius + 0.5 * RIM * step) as f32;
    let shorter = SHORTER * step as f32;
    let in_plane = in_plane(patches, &units, beside, f64::from(limit) * (1.0 + f64::from(f32::EPSILON)));
    let search = |s: &mut Search, start: usize| {
        if !known[start] {
            return Around { mean: Vector3::zeros(), fold: false, known: false };
        }
        if in_plane[start] {
            return Around { mean: spots[start].unit, fold: false, known: true };
        }
        s.stamp += 1;
        s.reached.clear();
        s.reached.push(Reached { patch: start as u32, anchor: start as u32, before: 0.0, length: 0.0 });
        s.seen[start] = (s.stamp, 0);
        s.queue.push_back(0);
        while let Some(next) = s.queue.pop_front() {
            if s.reached.len() > MOST_REACHED {
                s.queue.clear();
                break;
            }
            let Reached { patch, anchor, before, length } = s.reached[next as usize];
            let (here, from) = (spots[patch as usize], spots[anchor as usize]);
            for &q in beside.of(patch) {
                let there = spots[q as usize];
                let alike = from.unit.dot(&there.unit);
                let way = if alike > STRAIGHT {
                    let length = before + (there.centre - from.centre).norm() * (1.0 + ARC * (1.0 - alike));
                    Reached { patch: q, anchor, before, length }
                } else {
                    let bend = length + (there.centre - here.centre).norm();
                    Reached { patch: q, anchor: patch, before: length, length: bend }
                };
                if way.length >= limit {
                    continue;
                }
                let (stamp, place) = s.seen[q as usize];
                if stamp != s.stamp {
                    s.seen[q as usize] = (s.stamp, s.reached.len() as u32);
                    s.queue.push_back(s.reached.len() as u32);
                    s.reached.push(way);
                } else if way.length + shorter < s.reached[place as usize].length {
                    s.reached[place as usize] = way;
                    s.queue.push_back(place);
                }
            }
        }
        let (mut area, mut normal, mut moment) = (0.0, Vector3::zeros(), Vector3::zeros());
        for r in &s.reached {
            let p = &patches[r.patch as usize];
            // A patch half inside counts half: without it the mean would jump from patch to patch.
            let w = ((radius - f64::from(r.length)) / (RIM * step) + 0.5).clamp(0.0, 1.0);
            area += w * p.area;
            normal += p.normal * w;
            moment += (p.centre - patches[start].centre) * (w * p.area);
        }
        let mean: Vector3<f64> = if area > 0.0 { normal / area } else { spots[start].unit.cast() };
        // Outward: the neighbourhood lies behind its own face, as on a ridge. In a crevice it lies before it.
        Around { mean: mean.cast(), fold: mean.norm() < FOLD && moment.dot(&mean) < 0.0, known: true }
    };
    let new = || Search { seen: vec![(0, 0); patches.len()], stamp: 0, reached: Vec::new(), queue: VecDeque::new() };
    // Few long pieces of work: each begins with a list as long as there are patches.
    (0..patches.len()).into_par_iter().with_min_len(1 << 12).map_init(new, search).collect()
}
