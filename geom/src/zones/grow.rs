//! Which cluster of faces belongs to which joined patch.

use crate::lean::{Class, ClassLimits, Clusters, NOWHERE, Pieces, Smoothed};
use crate::mesh::Mesh;
use crate::units::{Angle, Area, Length};
use nalgebra::Point3;
use rayon::prelude::*;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// A strip along an edge of the model reads as a class between those of its two sides, up to 0.6 of the radius wide
/// (a right-angled edge of two planes: the mean passes 30 degrees 0.2 radii from the edge on the one side and 75 degrees
/// 0.4 radii from it on the other), and blur of the patches adds to it. Strips that narrow are never zones.
const STRIP: f64 = 0.75;

/// Averaging carries a class this many radii over a crease (past plumb into an undercut of 45 degrees: 0.5).
const BLUR: f64 = 0.6;

/// A folded patch that has this share of its border with unfolded ones of its class is their rim.
const RIM: f64 = 0.2;

/// Rounds of joining: each makes fewer patches or settles a class; two or three are usual.
const ROUNDS: usize = 12;

/// Growing into a cluster of another raw class counts this many times its distance.
const AGAINST: f64 = 8.0;

pub(super) struct Patches {
    /// Patch of each cluster, `NOWHERE` for those that do not count.
    pub(super) of: Vec<u32>,
    pub(super) class: Vec<Class>,
}

/// What `patches` needs to know, of each cluster of faces.
#[derive(Clone, Copy)]
pub(super) struct Ground<'a> {
    pub(super) mesh: &'a Mesh,
    pub(super) clusters: &'a Clusters,
    pub(super) counts: &'a [bool],
    pub(super) leans: &'a Smoothed,
    pub(super) limits: &'a ClassLimits,
    /// Area that counts.
    pub(super) size: &'a [f64],
    /// Class by raw lean.
    pub(super) raw: &'a [u8],
}

impl Ground<'_> {
    fn count(&self) -> usize {
        self.counts.len()
    }

    fn all(&self) -> impl Iterator<Item = usize> {
        (0..self.count()).filter(|&k| self.counts[k])
    }

    /// Neighbours across edges that hang together, with the length of the border.
    fn beside(&self, k: usize) -> impl Iterator<Item = (usize, f64)> {
        self.clusters.borders(k).map(|(g, l)| (g as usize, l)).filter(|&(g, _)| self.counts[g])
    }

    fn way(&self, k: usize, g: usize) -> f64 {
        (self.clusters.centre(k) - self.clusters.centre(g)).norm()
    }

    /// Joined sets, numbered by their lowest cluster.
    fn joined(&self, link: impl Fn(usize, usize) -> bool) -> (Vec<u32>, usize) {
        let mut root: Vec<u32> = (0..self.count() as u32).collect();
        for k in self.all() {
            self.beside(k)
                .filter(|&(g, _)| g < k && link(k, g))
                .for_each(|(g, _)| unite(&mut root, k as u32, g as u32));
        }
        let mut count = 0;
        let mut of = vec![NOWHERE; self.count()];
        for k in self.all() {
            // A root is the lowest of its set, so the one above this one in the tree has its number already.
            let above = root[k] as usize;
            if above == k {
                of[k] = count;
                count += 1;
            } else {
                of[k] = of[above];
            }
        }
        (of, count as usize)
    }

    fn areas(&self, of: &[u32], count: usize) -> Vec<f64> {
        let mut area = vec![0.0; count];
        self.all().for_each(|k| area[of[k] as usize] += self.size[k]);
        area
    }

    /// Those for which `pick` holds, rising.
    fn gather(&self, pick: impl Fn(usize) -> bool + Sync + Send) -> Vec<usize> {
        (0..self.count()).into_par_iter().with_min_len(1 << 12).filter(|&k| self.counts[k] && pick(k)).collect()
    }

    fn class(&self, k: usize) -> u8 {
        self.limits.class(self.leans.lean(k)) as u8
    }
}

/// How far each cluster is from those of the `border`, over those that `go_on` lets through, up to `reach`; infinite
/// beyond.
fn near(ground: &Ground<'_>, border: Vec<usize>, go_on: impl Fn(usize, usize) -> bool, reach: f64) -> Vec<f64> {
    let mut near = vec![f64::INFINITY; ground.count()];
    border.iter().for_each(|&k| near[k] = 0.0);
    // To go on from, by a rough distance; what is reached anew by a shorter way is taken up again.
    let mut queue = vec![Vec::new(); 65];
    queue[0] = border;
    for at in 0..queue.len() {
        while let Some(k) = queue[at].pop() {
            for (g, _) in ground.beside(k).filter(|&(g, _)| go_on(k, g)) {
                let way = near[k] + ground.way(k, g);
                if way < near[g] && way <= reach {
                    near[g] = way;
                    queue[((way / reach * 64.0) as usize).max(at)].push(g);
                }
            }
        }
    }
    near
}

/// Clusters within `reach` of another label, along their own.
pub(super) fn near_borders(ground: &Ground<'_>, label: &[u32], reach: Length) -> Vec<bool> {
    let border = ground.gather(|k| ground.beside(k).any(|(g, _)| label[g] != label[k]));
    let near = near(ground, border, |k, g| label[k] == label[g], reach.metres());
    near.into_iter().map(f64::is_finite).collect()
}

fn unite(root: &mut [u32], f: u32, g: u32) {
    let (a, b) = (find(root, f), find(root, g));
    root[a.max(b) as usize] = a.min(b);
}

fn find(root: &mut [u32], mut k: u32) -> u32 {
    while root[k as usize] != k {
        root[k as usize] = root[root[k as usize] as usize];
        k = root[k as usize];
    }
    k
}

/// Joined patches of one class: narrow gaps closed, small islands given to their neighbour. `means` averages anew, over
/// what counts and within a radius, for those that are wanted.
pub(super) fn patches(
    ground: &Ground<'_>,
    means: impl Fn(&[bool], Length, &[bool]) -> Smoothed,
    smallest: Area,
    gap: Length,
    radius: Length,
) -> Patches {
    let smallest = smallest.square_metres();
    let narrow = gap.metres().max(STRIP * radius.metres());
    let mut seeds = seeds(ground, smallest, narrow);
    release_borders(ground, &mut seeds, BLUR * radius.metres());
    // What fell away is looked at twice more. A ledge a foot wide is blurred by its two edges into strips too narrow to
    // stand: at half the radius, among what fell, it is itself again. Ledges of a hand's width in a row stand at no
    // scale: at twice the radius they are together what they are on the whole.
    // The first look wants more width, or the ceiling and the back of a crevice would stand together.
    for (scale, among_fallen, narrow) in [(0.5, true, 1.25 * narrow), (2.0, false, narrow)] {
        let fallen: Vec<bool> = (0..ground.count()).map(|k| ground.counts[k] && seeds.of[k] == NOWHERE).collect();
        if !fallen.contains(&true) {
            break;
        }
        let leans = means(if among_fallen { &fallen } else { ground.counts }, radius * scale, &fallen);
        let more = self::seeds(&Ground { counts: &fallen, leans: &leans, ..*ground }, smallest, narrow);
        let first = seeds.class.len() as u32;
        for (of, new) in seeds.of.iter_mut().zip(&more.of).filter(|(_, new)| **new != NOWHERE) {
            *of = new + first;
        }
        seeds.class.extend(more.class);
    }
    let label = spread(ground, seeds);
    let class: Vec<u8> = label.of.iter().map(|&l| if l == NOWHERE { 0 } else { label.class[l as usize] }).collect();
    merge_islands(ground, label.of, class, smallest)
}

/// Patches that are large and wide enough to stand; clusters of the others are `NOWHERE`.
fn seeds(ground: &Ground<'_>, smallest: f64, narrow: f64) -> Labels {
    let class: Vec<u8> = (0..ground.count()).map(|k| ground.class(k)).collect();
    let fold = &ground.leans.fold;
    let (mut of, count) = ground.joined(|k, g| class[k] == class[g] && fold[k] == fold[g]);
    let area = ground.areas(&of, count);
    let mut class_of = vec![0_u8; count];
    let mut border = vec![0.0; count];
    // A folded rim belongs to the sides it parts, when it has any along a good part of its border: one cluster does not decide.
    let mut beside_own = vec![0.0; count];
    for k in ground.all() {
        let own = of[k] as usize;
        class_of[own] = class[k];
        border[own] += ground.clusters.rim[k];
        for (g, length) in ground.clusters.borders(k) {
            let g = g as usize;
            border[own] += if of[g] == of[k] { 0.0 } else { length };
            let gives_way = ground.counts[g] && fold[k] && !fold[g] && class[g] == class[k];
            beside_own[own] += if gives_way { length } else { 0.0 };
        }
    }
    // A strip of width w and length l has area w l and border 2 l (and its ends).
    let gives_way = |k: usize| beside_own[k] > 0.0 && beside_own[k] >= RIM * border[k];
    let stands = |k: usize| !gives_way(k) && area[k] >= smallest && 2.0 * area[k] >= narrow * border[k];
    let stands: Vec<bool> = (0..count).map(stands).collect();
    of.iter_mut().filter(|k| **k != NOWHERE && !stands[**k as usize]).for_each(|k| *k = NOWHERE);
    Labels { of, class: class_of }
}

/// Frees clusters near a border that by raw lean are not what their patch is: averaging has carried the class of one
/// side over the crease. They are grown over again, and the border comes to lie on the crease.
fn release_borders(ground: &Ground<'_>, seeds: &mut Labels, reach: f64) {
    let Labels { of, class } = &*seeds;
    let class_of = |k: usize| if of[k] == NOWHERE { u8::MAX } else { class[of[k] as usize] };
    let other = |k: usize, g: usize| class_of(g) != class_of(k);
    let border = ground.gather(|k| of[k] != NOWHERE && ground.beside(k).any(|(g, _)| other(k, g)));
    let near = near(ground, border, |k, g| of[g] != NOWHERE && !other(k, g), reach);
    let free = ground.gather(|k| near[k].is_finite() && ground.raw[k] != class_of(k));
    free.into_iter().for_each(|k| seeds.of[k] = NOWHERE);
}

struct Labels {
    of: Vec<u32>,
    class: Vec<u8>,
}

/// Kept patches grow over the others, nearest first, and first over what is of their class by raw lean.
fn spread(ground: &Ground<'_>, seeds: Labels) -> Labels {
    let Labels { of: mut label, class: mut class_of } = seeds;
    // Distances as bits: positive floats sort as their bits do.
    let mut queue: BinaryHeap<Reverse<(u64, u32, u32)>> = BinaryHeap::new();
    let push = |queue: &mut BinaryHeap<_>, label: &[u32], class: &[u8], k: usize, so_far: f64| {
        let own = label[k];
        for (g, _) in ground.beside(k).filter(|&(g, _)| label[g] == NOWHERE) {
            let way = ground.way(k, g);
            let cost = so_far + if ground.raw[g] == class[own as usize] { way } else { way * AGAINST };
            queue.push(Reverse((cost.to_bits(), own, g as u32)));
        }
    };
    let rim = ground.gather(|k| label[k] != NOWHERE && ground.beside(k).any(|(g, _)| label[g] == NOWHERE));
    rim.into_iter().for_each(|k| push(&mut queue, &label, &class_of, k, 0.0));
    while let Some(Reverse((cost, own, k))) = queue.pop() {
        if label[k as usize] == NOWHERE {
            label[k as usize] = own;
            push(&mut queue, &label, &class_of, k as usize, f64::from_bits(cost));
        }
    }
    // A connected part with nothing that stands is one patch, of the class that most of its area has.
    let lost: Vec<bool> = (0..ground.count()).map(|k| ground.counts[k] && label[k] == NOWHERE).collect();
    if !lost.contains(&true) {
        return Labels { of: label, class: class_of };
    }
    let lost = Ground { counts: &lost, ..*ground };
    let (part, count) = lost.joined(|_, _| true);
    let mut by_class = vec![[0.0; 5]; count];
    lost.all().for_each(|k| by_class[part[k] as usize][ground.class(k) as usize] += ground.size[k]);
    let first = class_of.len() as u32;
    class_of.extend(by_class.iter().map(|areas| {
        (0..5_u8).max_by(|&x, &y| areas[x as usize].total_cmp(&areas[y as usize]).then(y.cmp(&x))).unwrap_or(0)
    }));
    lost.all().for_each(|k| label[k] = first + part[k]);
    Labels { of: label, class: class_of }
}

/// Joins patches of a class that touch, then gives islands to the neighbour they share the longest border with.
fn merge_islands(ground: &Ground<'_>, mut label: Vec<u32>, mut class: Vec<u8>, smallest: f64) -> Patches {
    let fold = &ground.leans.fold;
    for round in 0.. {
        // Across a fold only what grew from one patch hangs together.
        let (of, count) = ground.joined(|k, g| class[k] == class[g] && (label[k] == label[g] || !(fold[k] || fold[g])));
        let mut area = ground.areas(&of, count);
        let mut class_of = vec![0_u8; count];
        let mut shared: Vec<BTreeMap<u32, f64>> = vec![BTreeMap::new(); count];
        for k in ground.all() {
            class_of[of[k] as usize] = class[k];
            for (g, length) in ground.beside(k).filter(|&(g, _)| of[g] != of[k]) {
                *shared[of[k] as usize].entry(of[g]).or_insert(0.0) += length;
            }
        }
        let mut root: Vec<u32> = (0..count as u32).collect();
        let mut order: Vec<u32> = (0..count as u32).collect();
        order.sort_by(|&a, &b| area[a as usize].total_cmp(&area[b as usize]).then(a.cmp(&b)));
        let mut changed = false;
        for k in order {
            if root[k as usize] != k || area[k as usize] >= smallest {
                continue;
            }
            // Borders are kept by first names: gather them by who owns them now.
            let mut by_owner: BTreeMap<u32, f64> = BTreeMap::new();
            for (&q, &l) in &shared[k as usize] {
                let owner = find(&mut root, q);
                if owner != k {
                    *by_owner.entry(owner).or_insert(0.0) += l;
                }
            }
            let Some((&into, _)) = by_owner.iter().max_by(|x, y| x.1.total_cmp(y.1).then(y.0.cmp(x.0))) else {
                continue;
            };
            changed = true;
            root[k as usize] = into;
            area[into as usize] += area[k as usize];
            let borders = std::mem::take(&mut shared[k as usize]);
            for (q, l) in borders {
                *shared[into as usize].entry(q).or_insert(0.0) += l;
            }
        }
        // What grew over much of another class may have become that class: the mean lean decides.
        if !changed {
            let mut leaning = vec![0.0; count];
            ground.all().for_each(|k| leaning[of[k] as usize] += ground.leans.lean(k).radians() * ground.size[k]);
            for k in (0..count).filter(|&k| area[k] > 0.0) {
                let class = ground.limits.class(Angle::from_radians(leaning[k] / area[k])) as u8;
                changed |= class != class_of[k];
                class_of[k] = class;
            }
        }
        if !changed || round == ROUNDS {
            return strays(ground, of, &class_of, &area, smallest);
        }
        let root: Vec<u32> = (0..count as u32).map(|k| find(&mut root, k)).collect();
        for k in ground.all() {
            label[k] = root[of[k] as usize];
            class[k] = class_of[label[k] as usize];
        }
    }
    unreachable!("the loop ends at its last round")
}

/// Loose pieces too small to be a zone count with the nearest zone, of their own class if there is one.
fn strays(ground: &Ground<'_>, mut of: Vec<u32>, class_of: &[u8], area: &[f64], smallest: f64) -> Patches {
    let mut boxes = vec![[Point3::from([f64::INFINITY; 3]), Point3::from([f64::NEG_INFINITY; 3])]; area.len()];
    let any = area.iter().any(|&a| a < smallest);
    for (face, &k) in ground.clusters.of.iter().enumerate().filter(|(_, k)| any && **k != NOWHERE) {
        for p in ground.mesh.corners(face) {
            let b = &mut boxes[of[k as usize] as usize];
            *b = [b[0].inf(&p), b[1].sup(&p)];
        }
    }
    let apart = |a: usize, b: usize| {
        let gap = (boxes[b][0] - boxes[a][1]).sup(&(boxes[a][0] - boxes[b][1]));
        gap.map(|g| g.max(0.0)).norm()
    };
    let large: Vec<usize> = (0..area.len()).filter(|&k| area[k] >= smallest).collect();
    let mut goes_to: Vec<u32> = (0..area.len() as u32).collect();
    for k in (0..area.len()).filter(|&k| area[k] < smallest) {
        let near = large.iter().min_by(|&&a, &&b| {
            let other = |z: usize| class_of[z] != class_of[k];
            other(a).cmp(&other(b)).then(apart(k, a).total_cmp(&apart(k, b))).then(a.cmp(&b))
        });
        goes_to[k] = near.map_or(k, |&z| z) as u32;
    }
    // Numbers without holes.
    let mut name = vec![NOWHERE; area.len()];
    let mut class = Vec::new();
    for k in ground.all() {
        let zone = goes_to[of[k] as usize] as usize;
        if name[zone] == NOWHERE {
            name[zone] = class.len() as u32;
            class.push(Class::ALL[class_of[zone] as usize]);
        }
        of[k] = name[zone];
    }
    Patches { of, class }
}
