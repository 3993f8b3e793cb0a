//! Which part of the surface is exposed, and what the pieces are together.
//!
//! A face is part of the outside where the winding is below one above it and at least one below it. Most faces are
//! settled without a question: pieces whose boxes meet no other. Of the others, those that something cuts or touches
//! are cut along it and every cell is asked by itself; the rest falls into patches bounded by such faces, and one
//! question settles a whole patch.

use super::Solid;
use super::contact::{Plate, Tolerance};
use super::field::{Coincident, Spot, crossing, winding_above};
use super::tree::{Aabb, Tree};
use crate::mesh::Mesh;
use crate::numeric::FixedSum;
use crate::topology::{Across, Topology};
use crate::units::{Area, Length, Volume};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// A closed surface by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// A triangle of it.
    pub face: u32,
    /// Its triangles, added ones included.
    pub faces: usize,
    /// Enclosed volume; negative for the wall of a cavity (or a piece turned inside out), zero for a sheet.
    pub volume: Volume,
    /// It passes through or over itself.
    pub overlaps_itself: bool,
}

/// How two pieces overlap.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Overlap {
    /// They share a part.
    Partly,
    /// The second lies wholly inside the first.
    Inside,
    /// They are the same.
    Copy,
}

/// A volume that two pieces both fill.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Common {
    /// The two pieces; for [`Overlap::Inside`] the outer one first.
    pub pieces: [u32; 2],
    /// What they share.
    pub volume: Volume,
    /// How.
    pub kind: Overlap,
}

/// What is exposed of a solid.
#[derive(Clone, Debug)]
pub struct Exposure {
    /// Share of each modelled face; empty when all are exposed.
    share: Vec<f64>,
    /// Area of the modelled faces, or parts of them, that can be coated.
    pub exposed: Area,
    /// Area inside other pieces.
    pub buried: Area,
    /// Area of faces that lie against each other, both sides counted: coincident, or within the contact gap.
    pub contact: Area,
    /// Area that lies in one plane with another face that faces the same way and is counted there.
    pub doubled: Area,
    /// Volume of all pieces together, counted once. Sheets add nothing.
    pub union: Volume,
    /// Sum of the volumes of the pieces, cavities subtracted.
    pub sum_of_parts: Volume,
    /// Every piece.
    pub pieces: Vec<Piece>,
    /// Pairs of pieces that overlap, largest first.
    pub common: Vec<Common>,
    /// How far any of these areas can be off: edges of cells are known to the plane tolerance only.
    pub area_bound: Area,
}

impl Exposure {
    /// Settles every face. `gap`: faces of different pieces that face each other (within 20 degrees) no farther apart
    /// than this are glued, not coated.
    ///
    /// Cost: two passes over the triangles when no boxes of pieces meet; else about n log n in the triangles inside
    /// other pieces' boxes. Coordinates closer than 2^-21 of the model's size are taken as equal.
    #[must_use]
    pub fn of(solid: &Solid<'_>, gap: Length) -> Self {
        Job::new(solid, gap.metres()).run()
    }

    /// The exposed share of a face's area, 0 to 1. Added faces have none: they are bare.
    #[must_use]
    pub fn share(&self, face: usize) -> f64 {
        self.share.get(face).copied().unwrap_or(1.0)
    }

    /// Every modelled face is exposed in full.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.share.is_empty()
    }

    /// Area to put glue on: one side of each contact.
    #[must_use]
    pub fn glue(&self) -> Area {
        self.contact * 0.5
    }

    /// Volume that the sum of the parts counts more than once.
    #[must_use]
    pub fn counted_twice(&self) -> Volume {
        self.sum_of_parts - self.union
    }
}

/// What became of a face, or of a patch for a face of area 1.
#[derive(Clone, Debug, Default)]
struct Fate {
    exposed: f64,
    buried: f64,
    contact: f64,
    doubled: f64,
    /// Area that bounds the union, positive where the solid is below.
    bounding: f64,
    /// The same for what two pieces share.
    common: Vec<([u32; 2], f64)>,
    /// Length of the edges of its cells.
    edges: f64,
}

impl Fate {
    fn add(&mut self, verdict: &Verdict, area: f64, glued: bool) {
        match verdict.kind {
            Kind::Exposed if glued => self.contact += area,
            Kind::Exposed => self.exposed += area,
            Kind::Buried => self.buried += area,
            Kind::Contact => self.contact += area,
            Kind::Doubled => self.doubled += area,
        }
        self.bounding += f64::from(verdict.bounding) * area;
        for &(pair, sign) in &verdict.common {
            let signed = f64::from(sign) * area;
            match self.common.iter_mut().find(|c| c.0 == pair) {
                Some(c) => c.1 += signed,
                None => self.common.push((pair, signed)),
            }
        }
    }

    fn scaled(&self, by: f64) -> Self {
        let common = self.common.iter().map(|&(pair, x)| (pair, x * by)).collect();
        Self {
            exposed: self.exposed * by,
            buried: self.buried * by,
            contact: self.contact * by,
            doubled: self.doubled * by,
            bounding: self.bounding * by,
            common,
            edges: self.edges,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Exposed,
    Buried,
    Contact,
    Doubled,
}

struct Verdict {
    kind: Kind,
    bounding: i32,
    common: Vec<([u32; 2], i32)>,
}

/// How a face is to be settled.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    /// Nothing else is near.
    Alone,
    /// Something may be near; not cut.
    Near,
    /// Cut or touched, and settled.
    Cut,
}

struct Job<'a> {
    solid: &'a Solid<'a>,
    mesh: &'a Mesh,
    tol: Tolerance,
    centre: Point3<f64>,
    diagonal: f64,
    pieces: Vec<Piece>,
    boxes: Vec<Aabb>,
    modelled_area: Area,
}

impl<'a> Job<'a> {
    fn new(solid: &'a Solid<'a>, gap: f64) -> Self {
        let mesh = solid.mesh();
        let whole = mesh.positions().par_chunks(1 << 14).map(Aabb::around).reduce(|| Aabb::EMPTY, |a, b| a.join(&b));
        let diagonal = if mesh.positions().is_empty() { 0.0 } else { whole.diagonal() };
        let middle = |k: usize| if diagonal > 0.0 { 0.5 * (whole.lo[k] + whole.hi[k]) } else { 0.0 };
        let centre = Point3::new(middle(0), middle(1), middle(2));
        let gap = if gap.is_finite() { gap.max(0.0) } else { 0.0 };
        let tol = Tolerance { tiny: 1e-10 * diagonal, plane: 2f64.powi(-21) * diagonal, gap };
        let (pieces, boxes, modelled_area) = survey(solid, centre, diagonal);
        let mut it = Self { solid, mesh, tol, centre, diagonal, pieces, boxes, modelled_area };
        for p in it.self_overlaps() {
            it.pieces[p as usize].overlaps_itself = true;
        }
        it
    }

    fn closed(&self, piece: u32) -> bool {
        !self.solid.sheet[piece as usize]
    }

    fn run(self) -> Exposure {
        let near = self.near_pieces();
        let faces = self.mesh.triangles().len();
        let questioned = near.iter().any(|n| !n.is_empty())
            || self.pieces.iter().any(|p| p.overlaps_itself)
            || self.solid.suspect.iter().any(|&s| s);
        // Beyond these sizes squares and cubes of lengths leave the range of f64.
        if !questioned || !(1e-75..1e75).contains(&self.diagonal) {
            return self.whole();
        }
        let topology = Topology::of(self.mesh);
        let many = |f: usize| (0..3).any(|side| topology.across(f, side) == Across::Many);
        let reach = self.tol.plane.max(self.tol.gap);
        // Faces to look at, and whether their own piece has to be asked too.
        let watch: Vec<(u32, bool)> = (0..faces)
            .into_par_iter()
            .filter_map(|f| {
                let p = self.solid.piece[f] as usize;
                let own = self.closed(p as u32)
                    && (self.pieces[p].overlaps_itself || self.solid.suspect[p] && (many(f) || self.solid.is_added(f)));
                let bounds = Aabb::around(&self.mesh.corners(f)).grown(reach);
                (own || near[p].iter().any(|&q| self.boxes[q as usize].meets(&bounds))).then_some((f as u32, own))
            })
            .collect();
        let trees = self.trees(&near);
        let asked: Vec<Option<Fate>> =
            watch.par_iter().with_min_len(64).map(|&(f, own)| self.cut(f, own, &near, &trees)).collect();

        let mut states = vec![State::Alone; faces];
        let mut fates: BTreeMap<u32, Fate> = BTreeMap::new();
        for (&(f, _), fate) in watch.iter().zip(asked) {
            states[f as usize] = State::Near;
            if let Some(fate) = fate {
                states[f as usize] = State::Cut;
                fates.insert(f, fate);
            }
        }
        let mut patch_of = vec![u32::MAX; faces];
        let patches = self.patches(&watch, &states, &topology, &mut patch_of);
        let settled: Vec<Fate> = patches
            .par_iter()
            .map(|&(seed, own)| {
                let mut fate = Fate::default();
                if let Some(plate) = self.plate(seed) {
                    fate.add(&self.judge(&plate.middle(), own, &near, &trees), 1.0, false);
                }
                fate
            })
            .collect();
        self.sum(&states, &fates, &patch_of, &settled)
    }

    /// Everything is exposed and no two pieces share anything.
    fn whole(self) -> Exposure {
        let solids = self.pieces.iter().map(|p| p.volume).filter(|v| *v > Volume::ZERO);
        Exposure {
            share: Vec::new(),
            exposed: self.modelled_area,
            buried: Area::ZERO,
            contact: Area::ZERO,
            doubled: Area::ZERO,
            union: solids.sum(),
            sum_of_parts: self.pieces.iter().map(|p| p.volume).sum(),
            common: Vec::new(),
            area_bound: Area::ZERO,
            pieces: self.pieces,
        }
    }

    fn plate(&self, face: u32) -> Option<Plate> {
        Plate::new(face, self.mesh.corners(face as usize), self.mesh.triangles()[face as usize])
    }

    /// For each piece the closed ones, itself left out, whose boxes meet its own.
    fn near_pieces(&self) -> Vec<Vec<u32>> {
        let closed: Vec<u32> = (0..self.pieces.len() as u32).filter(|&p| self.closed(p)).collect();
        if self.pieces.len() < 2 || closed.is_empty() {
            return vec![Vec::new(); self.pieces.len()];
        }
        let top = Tree::over(&closed, |p| self.boxes[p as usize]);
        let reach = self.tol.plane.max(self.tol.gap);
        (0..self.pieces.len())
            .into_par_iter()
            .map(|p| {
                let own = self.boxes[p].grown(reach);
                let mut near = Vec::new();
                top.visit(
                    |b| b.meets(&own),
                    |q| {
                        if q as usize != p && self.boxes[q as usize].meets(&own) {
                            near.push(q);
                        }
                    },
                );
                near.sort_unstable();
                near
            })
            .collect()
    }

    fn trees(&self, near: &[Vec<u32>]) -> Vec<Option<Tree>> {
        let mut wanted: Vec<bool> =
            (0..self.pieces.len()).map(|p| self.pieces[p].overlaps_itself || self.solid.suspect[p]).collect();
        near.iter().flatten().for_each(|&q| wanted[q as usize] = true);
        let mut members: Vec<Vec<u32>> = vec![Vec::new(); self.pieces.len()];
        for (f, &p) in self.solid.piece.iter().enumerate() {
            if wanted[p as usize] && self.closed(p) {
                members[p as usize].push(f as u32);
            }
        }
        let bounds = |f: u32| Aabb::around(&self.mesh.corners(f as usize));
        members.par_iter().map(|faces| (!faces.is_empty()).then(|| Tree::over(faces, bounds))).collect()
    }

    /// Cuts a face by all that meets it. None when nothing does.
    fn cut(&self, face: u32, own: bool, near: &[Vec<u32>], trees: &[Option<Tree>]) -> Option<Fate> {
        // A face without area is settled by having none; it also keeps patches apart.
        let Some(mut plate) = self.plate(face) else { return Some(Fate::default()) };
        let home = self.solid.piece[face as usize];
        let corners = self.mesh.corners(face as usize);
        let bounds = Aabb::around(&corners).grown(self.tol.plane.max(self.tol.gap));
        let others = near[home as usize].iter().copied().chain(own.then_some(home));
        for q in others.filter(|&q| self.boxes[q as usize].meets(&bounds)) {
            let Some(tree) = &trees[q as usize] else { continue };
            tree.visit(
                |b| b.meets(&bounds),
                |f| {
                    if f != face {
                        let t = self.mesh.triangles()[f as usize];
                        plate.meet(&self.mesh.corners(f as usize), t, q != home, self.tol);
                    }
                },
            );
        }
        plate.touched().then(|| {
            let mut fate = Fate::default();
            let cut = plate.cut(self.tol);
            for cell in cut.cells() {
                fate.edges += cell.edge;
                if cell.area > 0.0 {
                    let verdict = self.judge(&plate.spot(cell.centre), own, near, trees);
                    fate.add(&verdict, cell.area, plate.glued(cell.centre));
                }
            }
            fate
        })
    }

    /// The winding on both sides of a spot, and what follows.
    fn judge(&self, spot: &Spot, own: bool, near: &[Vec<u32>], trees: &[Option<Tree>]) -> Verdict {
        let home = self.solid.piece[spot.face as usize];
        let closed = self.closed(home);
        let mut coincident: Vec<Coincident> = Vec::new();
        // Pieces with the winding above and below.
        let mut counts: Vec<(u32, i32, i32)> = Vec::new();
        let here = Aabb::around(&[spot.at]).grown(2.0 * self.tol.plane);
        for &q in near[home as usize].iter().filter(|&&q| self.boxes[q as usize].meets(&here)) {
            if let Some(tree) = &trees[q as usize] {
                let above = winding_above(self.mesh, tree, spot, self.tol.plane, &mut coincident);
                counts.push((q, above, above));
            }
        }
        if closed {
            let above = match &trees[home as usize] {
                Some(tree) if own => winding_above(self.mesh, tree, spot, self.tol.plane, &mut coincident),
                _ => -i32::from(self.pieces[home as usize].volume < Volume::ZERO),
            };
            counts.push((home, above, above + 1));
        }
        for c in &coincident {
            let q = self.solid.piece[c.face as usize];
            if let Some(count) = counts.iter_mut().find(|x| x.0 == q) {
                count.2 += if c.same_way { 1 } else { -1 };
            }
        }
        let above: i32 = counts.iter().map(|c| c.1).sum();
        let below: i32 = counts.iter().map(|c| c.2).sum();
        let first = coincident.iter().all(|c| spot.face < c.face);
        let bounding = i32::from(below >= 1) - i32::from(above >= 1);
        let mut verdict = Verdict { kind: Kind::Buried, bounding: 0, common: Vec::new() };
        if !closed {
            let free = above < 1 && coincident.is_empty();
            let drawn_on = above < 1 || below < 1;
            verdict.kind = if free {
                Kind::Exposed
            } else if drawn_on {
                Kind::Doubled
            } else {
                Kind::Buried
            };
            return verdict;
        }
        verdict.kind = match (bounding, coincident.is_empty(), first) {
            (0, true, _) if above < 1 => Kind::Exposed,
            (0, true, _) => Kind::Buried,
            // Deep inside it makes no difference what lies against what.
            (0, false, _) if above >= 1 && below >= 1 && above != below => Kind::Buried,
            (0, false, _) => Kind::Contact,
            (_, _, true) => Kind::Exposed,
            (_, _, false) => Kind::Doubled,
        };
        if first {
            verdict.bounding = bounding;
            for (k, a) in counts.iter().enumerate() {
                for b in &counts[k + 1..] {
                    let sign = i32::from(a.2 >= 1 && b.2 >= 1) - i32::from(a.1 >= 1 && b.1 >= 1);
                    if sign != 0 {
                        verdict.common.push(([a.0.min(b.0), a.0.max(b.0)], sign));
                    }
                }
            }
        }
        verdict
    }

    /// Groups uncut faces joined by edges; each patch is named by its largest face.
    fn patches(
        &self,
        watch: &[(u32, bool)],
        states: &[State],
        topology: &Topology,
        patch_of: &mut [u32],
    ) -> Vec<(u32, bool)> {
        let mut patches = Vec::new();
        let mut stack = Vec::new();
        for &(start, own) in watch {
            if states[start as usize] != State::Near || patch_of[start as usize] != u32::MAX {
                continue;
            }
            let number = patches.len() as u32;
            let (mut seed, mut largest, mut ask_own) = (start, -1.0, own);
            patch_of[start as usize] = number;
            stack.push(start);
            while let Some(f) = stack.pop() {
                let area = self.mesh.area_vector(f as usize).norm();
                if area > largest || area == largest && f < seed {
                    (seed, largest) = (f, area);
                }
                ask_own |= watch.binary_search_by_key(&f, |w| w.0).is_ok_and(|k| watch[k].1);
                for side in 0..3 {
                    if let Across::Face { face, consistent: true, .. } = topology.across(f as usize, side)
                        && states[face as usize] == State::Near
                        && patch_of[face as usize] == u32::MAX
                        && self.solid.piece[face as usize] == self.solid.piece[f as usize]
                    {
                        patch_of[face as usize] = number;
                        stack.push(face);
                    }
                }
            }
            patches.push((seed, ask_own));
        }
        patches
    }

    fn sum(&self, states: &[State], fates: &BTreeMap<u32, Fate>, patch_of: &[u32], settled: &[Fate]) -> Exposure {
        let (area0, volume0) =
            (FixedSum::with_terms_up_to(self.diagonal.powi(2)), FixedSum::with_terms_up_to(self.diagonal.powi(3)));
        let mut totals = Totals { areas: [area0; 4], union: volume0, common: BTreeMap::new(), edges: area0 };
        let faces = self.mesh.triangles().len();
        let of_face = |f: usize, totals: &mut Totals| -> f64 {
            let area_vector = self.mesh.area_vector(f);
            let area = area_vector.norm();
            // A third of the distance of the plane from the centre: volume under a unit of area.
            let lift =
                if area > 0.0 { (self.mesh.corners(f)[0] - self.centre).dot(&area_vector) / (3.0 * area) } else { 0.0 };
            let piece = self.solid.piece[f] as usize;
            let fate = match states[f] {
                State::Alone => {
                    let bounding =
                        if self.closed(piece as u32) && self.pieces[piece].volume > Volume::ZERO { area } else { 0.0 };
                    Fate { exposed: area, bounding, ..Fate::default() }
                }
                State::Near => settled[patch_of[f] as usize].scaled(area),
                State::Cut => fates.get(&(f as u32)).cloned().unwrap_or_default(),
            };
            totals.add(&fate, lift, !self.solid.is_added(f), volume0);
            if area > 0.0 { (fate.exposed / area).clamp(0.0, 1.0) } else { 0.0 }
        };
        let mut share: Vec<f64> = (0..faces).map(|f| of_face(f, &mut totals)).collect();
        share.truncate(self.solid.modelled());
        let [exposed, buried, contact, doubled] = totals.areas.map(|s| Area::from_square_metres(s.value()));
        let sum_of_parts = self.pieces.iter().map(|p| p.volume).sum();
        let mut common: Vec<Common> = totals
            .common
            .iter()
            .map(|(&pieces, sum)| self.overlap(pieces, Volume::from_cubic_metres(sum.value())))
            .filter(|c| c.volume.cubic_metres() > self.tol.plane * self.diagonal.powi(2))
            .collect();
        common
            .sort_by(|a, b| b.volume.cubic_metres().total_cmp(&a.volume.cubic_metres()).then(a.pieces.cmp(&b.pieces)));
        Exposure {
            share,
            exposed,
            buried,
            contact,
            doubled,
            union: Volume::from_cubic_metres(totals.union.value()),
            sum_of_parts,
            pieces: self.pieces.clone(),
            common,
            area_bound: Area::from_square_metres(totals.edges.value() * self.tol.plane),
        }
    }

    /// A volume is told from another to the plane tolerance over the whole surface.
    fn overlap(&self, pieces: [u32; 2], volume: Volume) -> Common {
        let own = pieces.map(|p| self.pieces[p as usize].volume);
        let fills = own.map(|v| (v - volume).cubic_metres() <= 1e-6 * v.cubic_metres());
        match fills {
            [true, true] => Common { pieces, volume, kind: Overlap::Copy },
            [true, false] => Common { pieces: [pieces[1], pieces[0]], volume, kind: Overlap::Inside },
            [false, true] => Common { pieces, volume, kind: Overlap::Inside },
            [false, false] => Common { pieces, volume, kind: Overlap::Partly },
        }
    }

    /// Closed pieces that wrap a point more than once, or the wrong way, found by columns of rays: overlaps narrower than
    /// a 64th of the piece may be missed.
    fn self_overlaps(&self) -> Vec<u32> {
        let grid = |p: usize| ((self.pieces[p].faces as f64 / 8.0).sqrt() as i64).clamp(3, 64);
        let mut hits: Vec<(u32, u32, f64, i32)> = (0..self.mesh.triangles().len())
            .into_par_iter()
            .with_min_len(1 << 12)
            .fold(Vec::new, |mut hits, f| {
                let p = self.solid.piece[f];
                if !self.closed(p) || self.pieces[p as usize].faces < 5 {
                    return hits;
                }
                let (n, b, c) = (grid(p as usize), &self.boxes[p as usize], self.mesh.corners(f));
                // Columns stand off the middle of their cells: models like to have edges there.
                let off = [0.381_966, 0.618_034];
                let step = [0, 1].map(|k| (b.hi[k] - b.lo[k]) / n as f64);
                let range = [0, 1].map(|k| {
                    let (lo, hi) = (c[0][k].min(c[1][k]).min(c[2][k]), c[0][k].max(c[1][k]).max(c[2][k]));
                    let cell = |x: f64| (x - b.lo[k]) / step[k] - off[k];
                    (cell(lo).ceil().max(0.0) as i64, (cell(hi).floor().min(n as f64 - 1.0)) as i64)
                });
                for i in range[0].0..=range[0].1 {
                    for j in range[1].0..=range[1].1 {
                        let x = [b.lo[0] + (i as f64 + off[0]) * step[0], b.lo[1] + (j as f64 + off[1]) * step[1]];
                        if let Some((z, up)) = crossing(&c, 2, x) {
                            hits.push((p, (i * n + j) as u32, z, up));
                        }
                    }
                }
                hits
            })
            .reduce(Vec::new, |mut a, b| {
                a.extend(b);
                a
            });
        hits.par_sort_unstable_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2)).then(a.3.cmp(&b.3)));
        let mut found = Vec::new();
        for piece in hits.chunk_by(|a, b| a.0 == b.0) {
            let inner = if self.pieces[piece[0].0 as usize].volume < Volume::ZERO { -1 } else { 1 };
            let odd = piece.chunk_by(|a, b| a.1 == b.1).any(|column| {
                let mut winding = 0;
                column.windows(2).any(|w| {
                    winding -= w[0].3;
                    winding != 0 && winding != inner && w[1].2 - w[0].2 > 4.0 * self.tol.plane
                })
            });
            if odd {
                found.push(piece[0].0);
            }
        }
        found
    }
}

#[derive(Clone)]
struct Totals {
    /// Exposed, buried, contact, doubled.
    areas: [FixedSum; 4],
    union: FixedSum,
    common: BTreeMap<[u32; 2], FixedSum>,
    edges: FixedSum,
}

impl Totals {
    fn add(&mut self, fate: &Fate, lift: f64, modelled: bool, empty: FixedSum) {
        if modelled {
            for (sum, x) in self.areas.iter_mut().zip([fate.exposed, fate.buried, fate.contact, fate.doubled]) {
                sum.add(x);
            }
        }
        self.union.add(fate.bounding * lift);
        for &(pair, signed) in &fate.common {
            self.common.entry(pair).or_insert(empty).add(signed * lift);
        }
        self.edges.add(fate.edges);
    }
}

/// A piece while its triangles are gone through.
#[derive(Clone, Copy)]
struct Tally {
    face: u32,
    faces: usize,
    volume: FixedSum,
    bounds: Aabb,
}

/// Count, volume and box of each piece, and the area of the modelled triangles.
fn survey(solid: &Solid<'_>, centre: Point3<f64>, diagonal: f64) -> (Vec<Piece>, Vec<Aabb>, Area) {
    let mesh = solid.mesh();
    let volume = FixedSum::with_terms_up_to(diagonal.powi(3));
    let empty = Tally { face: u32::MAX, faces: 0, volume, bounds: Aabb::EMPTY };
    let none = || (vec![empty; solid.pieces()], FixedSum::with_terms_up_to(diagonal.powi(2)));
    let add = |(mut all, mut area): (Vec<Tally>, FixedSum), f: usize| {
        let it = &mut all[solid.piece[f] as usize];
        let c = mesh.corners(f);
        let [x, y, z]: [Vector3<f64>; 3] = c.map(|p| p - centre);
        it.face = it.face.min(f as u32);
        it.faces += 1;
        it.bounds = it.bounds.join(&Aabb::around(&c));
        it.volume.add(x.dot(&y.cross(&z)) / 6.0);
        if !solid.is_added(f) {
            area.add(mesh.area_vector(f).norm());
        }
        (all, area)
    };
    let join = |mut a: (Vec<Tally>, FixedSum), b: (Vec<Tally>, FixedSum)| {
        for (x, y) in a.0.iter_mut().zip(b.0) {
            x.face = x.face.min(y.face);
            x.faces += y.faces;
            x.bounds = x.bounds.join(&y.bounds);
            x.volume += y.volume;
        }
        a.1 += b.1;
        a
    };
    let faces = mesh.triangles().len();
    let (all, area) = if solid.pieces() < 1 << 10 {
        (0..faces).into_par_iter().with_min_len(1 << 14).fold(none, add).reduce(none, join)
    } else {
        (0..faces).fold(none(), add)
    };
    let closed = |p: usize, t: &Tally| if solid.sheet[p] { 0.0 } else { t.volume.value() };
    let piece = |(p, t): (usize, &Tally)| Piece {
        face: t.face,
        faces: t.faces,
        volume: Volume::from_cubic_metres(closed(p, t)),
        overlaps_itself: false,
    };
    let pieces = all.iter().enumerate().map(piece).collect();
    (pieces, all.iter().map(|t| t.bounds).collect(), Area::from_square_metres(area.value()))
}
