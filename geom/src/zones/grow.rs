//! Which face belongs to which joined patch.

use crate::lean::{COARSE, Class, ClassLimits, Leans, NOWHERE, centroid};
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};
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

/// Rounds of joining: each makes fewer patches or settles a class; two or three are usual.
const ROUNDS: usize = 12;

/// Growing into a face of another raw class counts this many times its distance.
const AGAINST: f64 = 8.0;

/// Faces joined at a time. Fixed, as everything that results may depend on must be.
const CHUNK: usize = 1 << 16;

pub(super) struct Patches {
    /// Patch of each face, `NOWHERE` for bare faces.
    pub(super) of: Vec<u32>,
    pub(super) class: Vec<Class>,
}

/// What `patches` needs to know.
#[derive(Clone, Copy)]
pub(super) struct Ground<'a> {
    pub(super) mesh: &'a Mesh,
    pub(super) topology: &'a Topology,
    pub(super) coated: &'a [bool],
    pub(super) leans: &'a Leans,
    pub(super) limits: &'a ClassLimits,
    /// Area of each face.
    pub(super) size: &'a [f64],
    /// Class of each face by raw lean.
    pub(super) raw: &'a [u8],
}

impl Ground<'_> {
    fn faces(&self) -> usize {
        self.coated.len()
    }

    /// Neighbours of a face across edges that hang together, bare ones left out, with the side.
    fn beside(&self, face: usize) -> impl Iterator<Item = (usize, usize)> {
        (0..3).filter_map(move |side| match self.topology.across(face, side) {
            Across::Face { face: g, consistent: true, .. } if self.coated[g as usize] => Some((side, g as usize)),
            _ => None,
        })
    }

    fn side_length(&self, face: usize, side: usize) -> f64 {
        let c = self.mesh.corners(face);
        (c[(side + 1) % 3] - c[side]).norm()
    }

    /// Joined sets of coated faces, numbered by their lowest face.
    fn joined(&self, link: impl Fn(usize, usize) -> bool + Sync) -> (Vec<u32>, usize) {
        let mut root: Vec<u32> = (0..self.faces() as u32).collect();
        // Each chunk for itself, then what hangs together across chunks: the sets are the same in any order.
        let across: Vec<Vec<(u32, u32)>> = root
            .par_chunks_mut(CHUNK)
            .enumerate()
            .map(|(c, root)| {
                let first = c * CHUNK;
                let mut across = Vec::new();
                (0..root.len()).for_each(|k| root[k] = k as u32);
                for face in (first..first + root.len()).filter(|&f| self.coated[f]) {
                    for (_, g) in self.beside(face).filter(|&(_, g)| g < face && link(face, g)) {
                        if g < first {
                            across.push((face as u32, g as u32));
                        } else {
                            unite(root, (face - first) as u32, (g - first) as u32);
                        }
                    }
                }
                root.iter_mut().for_each(|r| *r += first as u32);
                across
            })
            .collect();
        across.into_iter().flatten().for_each(|(f, g)| unite(&mut root, f, g));
        let mut count = 0;
        let mut of = vec![NOWHERE; self.faces()];
        for face in (0..self.faces()).filter(|&f| self.coated[f]) {
            // A root is the lowest of its set, so the face above this one in the tree has its number already.
            let above = root[face] as usize;
            if above == face {
                of[face] = count;
                count += 1;
            } else {
                of[face] = of[above];
            }
        }
        (of, count as usize)
    }

    fn areas(&self, of: &[u32], count: usize) -> Vec<f64> {
        let mut area = vec![0.0; count];
        for (&k, size) in of.iter().zip(self.size).filter(|(k, _)| **k != NOWHERE) {
            area[k as usize] += size;
        }
        area
    }

    /// Of each coated face, what `pick` makes of it; in order of faces.
    fn gather<T: Send>(&self, pick: impl Fn(usize) -> Option<T> + Sync + Send) -> Vec<T> {
        (0..self.faces()).into_par_iter().with_min_len(1 << 12).filter(|&f| self.coated[f]).filter_map(&pick).collect()
    }

    /// Class of every face by averaged lean; 0 for bare ones.
    fn classes(&self) -> Vec<u8> {
        let class = |f: usize| if self.coated[f] { self.limits.class(self.leans.smooth(f)) as u8 } else { 0 };
        (0..self.faces()).into_par_iter().with_min_len(1 << 12).map(class).collect()
    }
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

/// Joined patches of one class: narrow gaps closed, small islands given to their neighbour.
pub(super) fn patches(ground: &Ground<'_>, smallest: Area, gap: Length, radius: Length) -> Patches {
    let smallest = smallest.square_metres();
    let narrow = gap.metres().max(STRIP * radius.metres());
    let mut seeds = seeds(ground, smallest, narrow);
    release_borders(ground, &mut seeds, BLUR * radius.metres());
    // What fell away is looked at twice more. A ledge a foot wide is blurred by its two edges into strips too narrow to
    // stand: at half the radius, among what fell, it is itself again. Ledges of a hand's width in a row stand at no
    // scale: at twice the radius they are together what they are on the whole.
    // The first look wants more width, or the ceiling and the back of a crevice would stand together.
    for (scale, among_fallen, narrow) in [(0.5, true, 1.25 * narrow), (2.0, false, narrow)] {
        let fallen: Vec<bool> = (0..ground.faces()).map(|f| ground.coated[f] && seeds.of[f] == NOWHERE).collect();
        if !fallen.contains(&true) {
            break;
        }
        let counts = if among_fallen { fallen.as_slice() } else { ground.coated };
        let counts: Vec<u32> = counts.iter().map(|&c| if c { 0 } else { NOWHERE }).collect();
        let means = ground.leans.within(ground.mesh, ground.topology, &counts, radius * scale, COARSE, |f| fallen[f]);
        let more = self::seeds(&Ground { coated: &fallen, leans: &means, ..*ground }, smallest, narrow);
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

/// Patches that are large and wide enough to stand; faces of the others are `NOWHERE`.
fn seeds(ground: &Ground<'_>, smallest: f64, narrow: f64) -> Labels {
    let class = ground.classes();
    let fold = &ground.leans.fold;
    let (mut of, count) = ground.joined(|f, g| class[f] == class[g] && fold[f] == fold[g]);
    let area = ground.areas(&of, count);
    let mut class_of = vec![0_u8; count];
    of.iter().zip(&class).filter(|(k, _)| **k != NOWHERE).for_each(|(&k, &c)| class_of[k as usize] = c);
    let mut border = vec![0.0; count];
    // A folded rim belongs to the sides it parts, when it has any.
    let mut gives_way = vec![false; count];
    let edges = ground.gather(|face| {
        let mut open = [true; 3];
        let mut gives_way = false;
        for (side, g) in ground.beside(face) {
            open[side] = of[g] != of[face];
            gives_way |= fold[face] && !fold[g] && class[g] == class[face];
        }
        let length = (0..3).filter(|&side| open[side]).map(|side| ground.side_length(face, side)).sum::<f64>();
        (length > 0.0).then_some((of[face] as usize, length, gives_way))
    });
    for (own, length, rim) in edges {
        border[own] += length;
        gives_way[own] |= rim;
    }
    // A strip of width w and length l has area w l and border 2 l (and its ends).
    let stands = |k: usize| !gives_way[k] && area[k] >= smallest && 2.0 * area[k] >= narrow * border[k];
    let stands: Vec<bool> = (0..count).map(stands).collect();
    of.par_iter_mut().filter(|k| **k != NOWHERE && !stands[**k as usize]).for_each(|k| *k = NOWHERE);
    Labels { of, class: class_of }
}

/// Frees faces near a border that by raw lean are not what their patch is: averaging has carried the class of one side
/// over the crease. They are grown over again, and the border comes to lie on the crease.
fn release_borders(ground: &Ground<'_>, seeds: &mut Labels, reach: f64) {
    let Labels { of, class } = &*seeds;
    let class_of = |f: usize| if of[f] == NOWHERE { u8::MAX } else { class[of[f] as usize] };
    let mut near = vec![f64::INFINITY; ground.faces()];
    // Faces to go on from, by a rough distance; a face reached anew by a shorter way is taken up again.
    let mut queue = vec![Vec::new(); 65];
    queue[0] = ground.gather(|f| {
        let border = of[f] != NOWHERE && ground.beside(f).any(|(_, g)| class_of(g) != class_of(f));
        border.then_some(f as u32)
    });
    queue[0].iter().for_each(|&f| near[f as usize] = 0.0);
    for k in 0..queue.len() {
        while let Some(f) = queue[k].pop() {
            let f = f as usize;
            let here = centroid(ground.mesh, f);
            for (_, g) in ground.beside(f).filter(|&(_, g)| of[g] != NOWHERE && class_of(f) == class_of(g)) {
                let way = near[f] + (here - centroid(ground.mesh, g)).norm();
                if way < near[g] && way <= reach {
                    near[g] = way;
                    queue[((way / reach * 64.0) as usize).max(k)].push(g as u32);
                }
            }
        }
    }
    let free = ground.gather(|f| (near[f].is_finite() && ground.raw[f] != class_of(f)).then_some(f));
    free.into_iter().for_each(|f| seeds.of[f] = NOWHERE);
}

struct Labels {
    of: Vec<u32>,
    class: Vec<u8>,
}

/// Kept patches grow over the others, nearest first, and first over faces that are of their class by raw lean.
fn spread(ground: &Ground<'_>, seeds: Labels) -> Labels {
    let raw = |f: usize| ground.raw[f];
    let Labels { of: mut label, class: mut class_of } = seeds;
    // Distances as bits: positive floats sort as their bits do.
    let mut queue: BinaryHeap<Reverse<(u64, u32, u32)>> = BinaryHeap::new();
    let push = |queue: &mut BinaryHeap<_>, label: &[u32], class: &[u8], face: usize, so_far: f64| {
        let own = label[face];
        for (_, g) in ground.beside(face).filter(|&(_, g)| label[g] == NOWHERE) {
            let way = (centroid(ground.mesh, face) - centroid(ground.mesh, g)).norm();
            let cost = so_far + if raw(g) == class[own as usize] { way } else { way * AGAINST };
            queue.push(Reverse((cost.to_bits(), own, g as u32)));
        }
    };
    let rim =
        ground.gather(|f| (label[f] != NOWHERE && ground.beside(f).any(|(_, g)| label[g] == NOWHERE)).then_some(f));
    rim.into_iter().for_each(|f| push(&mut queue, &label, &class_of, f, 0.0));
    while let Some(Reverse((cost, own, face))) = queue.pop() {
        if label[face as usize] == NOWHERE {
            label[face as usize] = own;
            push(&mut queue, &label, &class_of, face as usize, f64::from_bits(cost));
        }
    }
    // A connected part with nothing that stands is one patch, of the class that most of its area has.
    let lost: Vec<bool> = (0..ground.faces()).map(|f| ground.coated[f] && label[f] == NOWHERE).collect();
    if !lost.contains(&true) {
        return Labels { of: label, class: class_of };
    }
    let (part, count) = ground.joined(|f, g| lost[f] && lost[g]);
    let mut by_class = vec![[0.0; 5]; count];
    for face in (0..ground.faces()).filter(|&f| lost[f]) {
        by_class[part[face] as usize][class_at(ground, face)] += ground.size[face];
    }
    let first = class_of.len() as u32;
    class_of.extend(by_class.iter().map(|areas| {
        (0..5_u8).max_by(|&x, &y| areas[x as usize].total_cmp(&areas[y as usize]).then(y.cmp(&x))).unwrap_or(0)
    }));
    (0..ground.faces()).filter(|&f| lost[f]).for_each(|f| label[f] = first + part[f]);
    Labels { of: label, class: class_of }
}

fn class_at(ground: &Ground<'_>, face: usize) -> usize {
    ground.limits.class(ground.leans.smooth(face)) as usize
}

/// Joins patches of a class that touch, then gives islands to the neighbour they share the longest border with.
fn merge_islands(ground: &Ground<'_>, mut label: Vec<u32>, mut class: Vec<u8>, smallest: f64) -> Patches {
    let fold = &ground.leans.fold;
    for round in 0.. {
        // Across a fold only what grew from one patch hangs together.
        let (of, count) = ground.joined(|f, g| class[f] == class[g] && (label[f] == label[g] || !(fold[f] || fold[g])));
        let mut area = ground.areas(&of, count);
        let mut class_of = vec![0_u8; count];
        let mut shared: Vec<BTreeMap<u32, f64>> = vec![BTreeMap::new(); count];
        of.iter().zip(&class).filter(|(k, _)| **k != NOWHERE).for_each(|(&k, &c)| class_of[k as usize] = c);
        let rim = ground.gather(|f| ground.beside(f).any(|(_, g)| of[g] != of[f]).then_some(f));
        for face in rim {
            for (side, g) in ground.beside(face).filter(|&(_, g)| of[g] != of[face]) {
                *shared[of[face] as usize].entry(of[g]).or_insert(0.0) += ground.side_length(face, side);
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
            for (face, lean) in ground.gather(|f| Some((f, ground.leans.smooth(f).radians()))) {
                leaning[of[face] as usize] += lean * ground.size[face];
            }
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
        for face in (0..ground.faces()).filter(|&f| ground.coated[f]) {
            label[face] = root[of[face] as usize];
            class[face] = class_of[label[face] as usize];
        }
    }
    unreachable!("the loop ends at its last round")
}

/// Loose pieces too small to be a zone count with the nearest zone, of their own class if there is one.
fn strays(ground: &Ground<'_>, mut of: Vec<u32>, class_of: &[u8], area: &[f64], smallest: f64) -> Patches {
    let mut boxes = vec![[Point3::from([f64::INFINITY; 3]), Point3::from([f64::NEG_INFINITY; 3])]; area.len()];
    let any = area.iter().any(|&a| a < smallest);
    for face in (0..ground.faces()).filter(|&f| any && of[f] != NOWHERE) {
        for p in ground.mesh.corners(face) {
            let b = &mut boxes[of[face] as usize];
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
    for face in (0..ground.faces()).filter(|&f| ground.coated[f]) {
        let k = goes_to[of[face] as usize] as usize;
        if name[k] == NOWHERE {
            name[k] = class.len() as u32;
            class.push(Class::ALL[class_of[k] as usize]);
        }
        of[face] = name[k];
    }
    Patches { of, class }
}
