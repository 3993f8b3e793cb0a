//! Pieces of surface gathered into round patches, joined through the mesh.

use super::pieces::Pieces;
use crate::weld::z_curve;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// Left out of every neighbourhood.
pub(crate) const NOWHERE: u32 = u32::MAX;

pub(super) struct Patch {
    pub(super) area: f64,
    /// Sum of area vectors.
    pub(super) normal: Vector3<f64>,
    pub(super) centre: Point3<f64>,
}

/// A patch reaches this many steps from where it begins, and takes nothing that faces more than 45 degrees away from
/// there: a patch laid over a ridge would shorten the way across. Of radii 0.5 to 0.9 and bends 30 to 90 degrees these
/// came nearest to the exact means of a rough rock for the time they take.
pub(super) const ROUND: f64 = 0.7;
const BENT: f64 = 0.7;

pub(super) fn gather(pieces: &impl Pieces, label: &[u32], step: f64) -> (Vec<u32>, Vec<Patch>) {
    let blocks = Blocks::of(pieces, label, BLOCK * step);
    let found: Vec<(Vec<u32>, Vec<Patch>)> =
        blocks.ranges.par_iter().map(|range| gather_block(pieces, label, step, &blocks, range.clone())).collect();
    let mut patch_of = vec![NOWHERE; pieces.count()];
    let mut patches = Vec::new();
    for (range, (of, more)) in blocks.ranges.iter().zip(found) {
        let base = patches.len() as u32;
        blocks.order[range.clone()].iter().zip(of).for_each(|(&k, p)| patch_of[k as usize] = p + base);
        patches.extend(more);
    }
    (patch_of, patches)
}

/// Pieces are gathered block by block, each by itself and from the same corner on: what a revision changes in one place
/// changes no patch elsewhere.
struct Blocks {
    order: Vec<u32>,
    /// Place of each piece in the order; `NOWHERE` for what is left out.
    slot: Vec<u32>,
    ranges: Vec<std::ops::Range<usize>>,
}

/// Steps along a block.
const BLOCK: f64 = 16.0;

impl Blocks {
    fn of(pieces: &impl Pieces, label: &[u32], side: f64) -> Self {
        // Ten bits an axis for the block (blocks a thousand apart are one in two places, which does no harm) and ten within.
        // The shift by 2^20 blocks makes every number positive, and cutting it off the same as rounding down.
        let place = |k: usize, shift: u32| {
            let from = pieces.centre(k).coords - pieces.origin();
            let axis = |x: f64| ((x / side + 1_048_576.0) * 1024.0) as u64 >> shift & 1023;
            z_curve(axis(from.x)) << 2 | z_curve(axis(from.y)) << 1 | z_curve(axis(from.z))
        };
        let mut keys: Vec<u64> = (0..pieces.count())
            .into_par_iter()
            .with_min_len(1 << 12)
            .filter(|&k| label[k] != NOWHERE)
            .map(|k| place(k, 10) << 32 | k as u64)
            .collect();
        keys.par_sort_unstable();
        let mut ranges: Vec<std::ops::Range<usize>> = Vec::new();
        for some in keys.chunk_by(|a, b| a >> 32 == b >> 32) {
            let first = ranges.last().map_or(0, |r| r.end);
            ranges.push(first..first + some.len());
        }
        keys.par_chunk_by_mut(|a, b| a >> 32 == b >> 32).for_each(|some| {
            some.iter_mut().for_each(|key| *key = place(*key as u32 as usize, 0) << 32 | *key & u64::from(u32::MAX));
            some.sort_unstable();
        });
        let mut slot = vec![NOWHERE; pieces.count()];
        keys.iter().zip(0..).for_each(|(&key, at)| slot[key as u32 as usize] = at);
        Self { order: keys.into_iter().map(|key| key as u32).collect(), slot, ranges }
    }
}

fn gather_block(
    pieces: &impl Pieces,
    label: &[u32],
    step: f64,
    blocks: &Blocks,
    range: std::ops::Range<usize>,
) -> (Vec<u32>, Vec<Patch>) {
    // In places of the order from here on.
    let first = range.start;
    let own = &blocks.order[range.clone()];
    let label = |at: usize| label[own[at] as usize];
    let mut of = vec![NOWHERE; own.len()];
    let mut patches: Vec<Patch> = Vec::new();
    let mut seeds: Vec<Point3<f64>> = Vec::new();
    let mut members: Vec<usize> = Vec::new();
    // Looked at several times each.
    let spots: Vec<_> = own.iter().map(|&k| (pieces.centre(k as usize), pieces.vector(k as usize))).collect();
    let radius2 = (ROUND * step) * (ROUND * step);
    for seed in 0..own.len() {
        if of[seed] != NOWHERE {
            continue;
        }
        let id = patches.len() as u32;
        let (start, way) = spots[seed];
        let fits = |(centre, v): &(Point3<f64>, Vector3<f64>)| {
            (centre - start).norm_squared() <= radius2
                && v.dot(&way) >= BENT * (v.norm_squared() * way.norm_squared()).sqrt()
        };
        let mut patch = Patch { area: 0.0, normal: Vector3::zeros(), centre: Point3::origin() };
        let mut moment = Vector3::zeros();
        let mut nearest: Option<(f64, u32)> = None;
        members.clear();
        members.push(seed);
        of[seed] = id;
        let mut next = 0;
        while next < members.len() {
            let at = members[next];
            next += 1;
            let size = pieces.area(own[at] as usize);
            patch.area += size;
            let (centre, vector) = spots[at];
            patch.normal += vector;
            moment += centre.coords * size;
            for g in pieces.beside(own[at] as usize) {
                let g = blocks.slot[g as usize] as usize;
                if !range.contains(&g) || label(g - first) != label(seed) {
                    continue;
                }
                let g = g - first;
                match of[g] {
                    NOWHERE if fits(&spots[g]) => {
                        of[g] = id;
                        members.push(g);
                    }
                    NOWHERE => {}
                    p if p != id => {
                        let d = (seeds[p as usize] - start).norm_squared();
                        if nearest.is_none_or(|(best, q)| d < best || (d == best && p < q)) {
                            nearest = Some((d, p));
                        }
                    }
                    _ => {}
                }
            }
        }
        match nearest {
            // Scraps between round patches join the nearest of them.
            Some((_, p)) if patch.area < 0.35 * step * step => {
                members.iter().for_each(|&at| of[at] = p);
                let into = &mut patches[p as usize];
                into.centre = Point3::from(
                    (into.centre.coords * into.area + moment) / (into.area + patch.area).max(f64::MIN_POSITIVE),
                );
                into.area += patch.area;
                into.normal += patch.normal;
            }
            _ => {
                patch.centre = if patch.area > 0.0 { Point3::from(moment / patch.area) } else { start };
                patches.push(patch);
                seeds.push(start);
            }
        }
    }
    (of, patches)
}
