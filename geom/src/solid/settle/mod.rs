//! Settles every face: alone, by its patch, or cell by cell.

use super::Solid;
use super::caps::Doubt;
use super::contact::{Plate, Tolerance};
use super::exposure::{Common, Exposure, Facet, Overlap, Piece};
use super::fate::{Fate, Kept, Kind, Totals, Verdict};
use super::survey::{self_overlaps, survey};
use super::tree::{Aabb, Tree};
use crate::effort::Effort;
use crate::mesh::Mesh;
use crate::numeric::FixedSum;
use crate::topology::{Across, Topology};
use crate::units::{Area, Volume};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::collections::BTreeMap;

mod judge;

use judge::Column;

/// Steps of work, by trial: for a cell that is cut, and for a triangle that may meet a face.
const CELL_WORK: u64 = 500;
const MEET_WORK: u64 = 50;

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

pub(super) struct Job<'a> {
    solid: &'a Solid<'a>,
    mesh: &'a Mesh,
    tol: Tolerance,
    centre: Point3<f64>,
    diagonal: f64,
    pieces: Vec<Piece>,
    boxes: Vec<Aabb>,
    modelled_area: Area,
    effort: Effort,
}

impl<'a> Job<'a> {
    pub(super) fn new(solid: &'a Solid<'a>, gap: f64, effort: Effort) -> Self {
        let mesh = solid.mesh();
        let whole = mesh.positions().par_chunks(1 << 14).map(Aabb::around).reduce(|| Aabb::EMPTY, |a, b| a.join(&b));
        let diagonal = if mesh.positions().is_empty() { 0.0 } else { whole.diagonal() };
        let middle = |k: usize| if diagonal > 0.0 { 0.5 * (whole.lo[k] + whole.hi[k]) } else { 0.0 };
        let centre = Point3::new(middle(0), middle(1), middle(2));
        let gap = if gap.is_finite() { gap.max(0.0) } else { 0.0 };
        let tol = Tolerance { tiny: 1e-10 * diagonal, plane: 2f64.powi(-21) * diagonal, gap };
        let (pieces, boxes, modelled_area) = survey(solid, centre, diagonal);
        let mut it = Self { solid, mesh, tol, centre, diagonal, pieces, boxes, modelled_area, effort };
        for p in self_overlaps(solid, &it.pieces, &it.boxes, tol.plane) {
            it.pieces[p as usize].overlaps_itself = true;
        }
        it
    }

    fn closed(&self, piece: u32) -> bool {
        !self.solid.sheet[piece as usize]
    }

    /// The piece is there twice, and this is not the first.
    fn copy(&self, piece: u32) -> bool {
        self.solid.copy_of[piece as usize].is_some()
    }

    fn is_drawn(&self, face: usize) -> bool {
        self.solid.is_drawn(self.solid.piece[face] as usize)
    }

    /// For each closed piece the sheets drawn on a body whose boxes meet its own; empty when nothing is drawn.
    fn drawings(&self) -> Vec<Vec<u32>> {
        let drawn: Vec<u32> = (0..self.solid.drawn.len() as u32).filter(|&p| self.solid.is_drawn(p as usize)).collect();
        if drawn.is_empty() {
            return Vec::new();
        }
        let reach = self.tol.plane.max(self.tol.gap);
        let on = |p: u32| {
            let own = self.boxes[p as usize].grown(reach);
            let meets = |q: &u32| self.closed(p) && self.boxes[*q as usize].meets(&own);
            drawn.iter().copied().filter(meets).collect()
        };
        (0..self.pieces.len() as u32).map(on).collect()
    }

    /// A triangle of a sheet that is there already; in closed pieces the winding tells.
    fn drawn_twice(&self, face: u32) -> bool {
        self.solid.sheet[self.solid.piece[face as usize] as usize] && self.solid.again.binary_search(&face).is_ok()
    }

    fn doubt(&self, piece: usize) -> Doubt {
        if self.solid.sheet[piece] || self.copy(piece as u32) {
            Doubt::None
        } else if self.pieces[piece].overlaps_itself {
            Doubt::All
        } else {
            self.solid.doubt[piece]
        }
    }

    pub(super) fn run(self) -> Exposure {
        let near = self.near_pieces();
        let faces = self.mesh.triangles().len();
        let questioned = near.iter().any(|n| !n.is_empty())
            || (0..self.pieces.len()).any(|p| self.doubt(p) != Doubt::None || self.copy(p as u32))
            || !self.solid.again.is_empty() && self.solid.sheet.contains(&true);
        // Beyond these sizes squares and cubes of lengths leave the range of f64.
        if !questioned || !(1e-75..1e75).contains(&self.diagonal) {
            return self.whole(true);
        }
        let drawings = self.drawings();
        let on = |p: usize| drawings.get(p).map_or(&[][..], Vec::as_slice);
        let topology = Topology::of(self.mesh);
        let many = |f: usize| (0..3).any(|side| topology.across(f, side) == Across::Many);
        let reach = self.tol.plane.max(self.tol.gap);
        // Faces to look at, and whether their own piece has to be asked too.
        let watch: Vec<(u32, bool)> = (0..faces)
            .into_par_iter()
            .filter_map(|f| {
                let p = self.solid.piece[f] as usize;
                let own = match self.doubt(p) {
                    Doubt::None => false,
                    Doubt::Edges => many(f) || self.solid.is_added(f),
                    Doubt::All => true,
                };
                let bounds = Aabb::around(&self.mesh.corners(f)).grown(reach);
                let mut others = near[p].iter().chain(on(p));
                (own || others.any(|&q| self.boxes[q as usize].meets(&bounds))).then_some((f as u32, own))
            })
            .collect();
        let trees = self.trees(&near);
        let asked: Vec<Option<Fate>> =
            watch.par_iter().with_min_len(64).map(|&(f, own)| self.cut(f, own, &near, &drawings, &trees)).collect();
        if self.effort.is_spent() {
            return self.whole(false);
        }

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
                    let verdict = self.judge(&plate.middle(), own, &near, &trees, None);
                    fate.add(&verdict, 1.0, None);
                    fate.kept = self.facet(seed, &verdict, false).map_or(Kept::Nothing, Kept::Whole);
                }
                fate
            })
            .collect();
        self.sum(&states, fates, &patch_of, &settled)
    }

    /// Everything is exposed and no two pieces share anything.
    /// As if nothing overlapped: so it is, or it is not known.
    fn whole(self, is_settled: bool) -> Exposure {
        let solids = self.pieces.iter().map(|p| p.volume).filter(|v| *v > Volume::ZERO);
        Exposure {
            share: Vec::new(),
            exposed: self.modelled_area,
            buried: Area::ZERO,
            contact: Area::ZERO,
            doubled: Area::ZERO,
            hidden: Area::ZERO,
            union: solids.sum(),
            sum_of_parts: self.pieces.iter().map(|p| p.volume).sum(),
            common: Vec::new(),
            area_bound: Area::ZERO,
            facets: Vec::new(),
            cells: Vec::new(),
            pieces: self.pieces,
            is_settled,
            joints: Vec::new(),
        }
    }

    fn plate(&self, face: u32) -> Option<Plate> {
        Plate::new(face, self.mesh.corners(face as usize), self.mesh.triangles()[face as usize])
    }

    /// For each piece the closed ones, itself left out, whose boxes meet its own.
    fn near_pieces(&self) -> Vec<Vec<u32>> {
        let closed: Vec<u32> = (0..self.pieces.len() as u32).filter(|&p| self.closed(p) && !self.copy(p)).collect();
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
                if self.copy(p as u32) {
                    return near;
                }
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
        let mut wanted: Vec<bool> = (0..self.pieces.len()).map(|p| self.doubt(p) != Doubt::None).collect();
        near.iter().flatten().for_each(|&q| wanted[q as usize] = true);
        self.solid.drawn.iter().zip(&mut wanted).for_each(|(drawn, wanted)| *wanted |= drawn);
        let mut members: Vec<Vec<u32>> = vec![Vec::new(); self.pieces.len()];
        for (f, &p) in self.solid.piece.iter().enumerate() {
            if wanted[p as usize] && (self.closed(p) || self.is_drawn(f)) {
                members[p as usize].push(f as u32);
            }
        }
        let bounds = |f: u32| Aabb::around(&self.mesh.corners(f as usize));
        members.par_iter().map(|faces| (!faces.is_empty()).then(|| Tree::over(faces, bounds))).collect()
    }

    /// Cuts a face by all that meets it. None when nothing does.
    fn cut(
        &self,
        face: u32,
        own: bool,
        near: &[Vec<u32>],
        drawings: &[Vec<u32>],
        trees: &[Option<Tree>],
    ) -> Option<Fate> {
        if self.effort.is_spent() {
            return None;
        }
        // A face without area is settled by having none; it also keeps patches apart.
        let Some(mut plate) = self.plate(face) else { return Some(Fate::default()) };
        let home = self.solid.piece[face as usize];
        let corners = self.mesh.corners(face as usize);
        let bounds = Aabb::around(&corners).grown(self.tol.plane.max(self.tol.gap));
        let others = near[home as usize].iter().copied().chain(own.then_some(home));
        let mut work = 0;
        for q in others.filter(|&q| self.boxes[q as usize].meets(&bounds)) {
            let Some(tree) = &trees[q as usize] else { continue };
            tree.visit(
                |b| b.meets(&bounds),
                |f| {
                    work += MEET_WORK;
                    if f != face {
                        let t = self.mesh.triangles()[f as usize];
                        plate.meet(&self.mesh.corners(f as usize), t, Some(q).filter(|&q| q != home), self.tol);
                    }
                },
            );
        }
        self.effort.spend(work);
        for tree in drawings.get(home as usize).into_iter().flatten().filter_map(|&q| trees[q as usize].as_ref()) {
            tree.visit(|b| b.meets(&bounds), |f| plate.draw(f, &self.mesh.corners(f as usize), self.tol));
        }
        plate.touched().then(|| {
            let mut fate = Fate::default();
            let cut = plate.cut(self.tol);
            let (mut cells, mut all) = (Vec::new(), true);
            let others = near[home as usize].iter().copied().chain(own.then_some(home));
            self.effort.spend(CELL_WORK * cut.cells().count() as u64);
            let few = cut.cells().nth(Column::WORTH - 1).is_none();
            let column = if few { None } else { Column::over(self, &plate, others, trees) };
            for (cell, polygon) in cut.cells().filter(|(cell, _)| cell.area > 0.0) {
                if self.effort.is_spent() {
                    break;
                }
                let mut verdict = self.judge(&plate.spot(cell.centre), own, near, trees, column.as_ref());
                let glued = plate.glued(cell.centre);
                fate.edges += cell.edge;
                let mut facet = self.facet(face, &verdict, glued.is_some());
                // What is drawn here is coated or bare in the place of the face below, which goes on bounding the solid.
                if let Some(by) = plate.drawn(cell.centre).filter(|_| verdict.kind == Kind::Exposed && glued.is_none())
                {
                    facet = facet.map(|facet| Facet { source: by, ..facet });
                    verdict.kind = Kind::Doubled;
                    fate.handed.push((by, cell.area));
                }
                fate.add(&verdict, cell.area, glued);
                match facet {
                    Some(facet) => cells.push((facet, polygon.iter().map(|&p| plate.lift(p)).collect())),
                    None => all = false,
                }
            }
            fate.kept = match cells.first() {
                None => Kept::Nothing,
                Some(first) if all && first.0.source == face && cells.iter().all(|c| c.0 == first.0) => {
                    Kept::Whole(first.0)
                }
                Some(_) => Kept::Cells(cells),
            };
            fate
        })
    }

    fn facet(&self, face: u32, verdict: &Verdict, glued: bool) -> Option<Facet> {
        let sheet = !self.closed(self.solid.piece[face as usize]);
        let coat = verdict.kind == Kind::Exposed && !glued;
        let kept = verdict.bounding != 0 || sheet && verdict.kind == Kind::Exposed;
        kept.then_some(Facet { source: face, coat, turned: verdict.bounding < 0 })
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

    /// A face of a piece that nothing else is near.
    fn alone(&self, face: usize, area: f64) -> Fate {
        let piece = self.solid.piece[face] as usize;
        if self.copy(piece as u32) || self.drawn_twice(face as u32) {
            return Fate { doubled: area, ..Fate::default() };
        }
        let solid = self.closed(piece as u32) && self.pieces[piece].volume > Volume::ZERO;
        if !solid && self.solid.drawn_back[piece] {
            return Fate { hidden: area, ..Fate::default() };
        }
        let facet = Facet { source: face as u32, coat: true, turned: false };
        let kept = if solid || self.solid.sheet[piece] { Kept::Whole(facet) } else { Kept::Nothing };
        Fate { exposed: area, bounding: if solid { area } else { 0.0 }, kept, ..Fate::default() }
    }

    fn sum(&self, states: &[State], mut fates: BTreeMap<u32, Fate>, patch_of: &[u32], settled: &[Fate]) -> Exposure {
        let (area0, volume0) =
            (FixedSum::with_terms_up_to(self.diagonal.powi(2)), FixedSum::with_terms_up_to(self.diagonal.powi(3)));
        let mut totals =
            Totals { areas: [area0; 5], union: volume0, common: BTreeMap::new(), edges: area0, closing: [area0; 3] };
        let joints = self.joints(&fates);
        let mut handed: BTreeMap<u32, f64> = BTreeMap::new();
        fates.values().flat_map(|fate| &fate.handed).for_each(|&(by, area)| *handed.entry(by).or_default() += area);
        let faces = self.mesh.triangles().len();
        let (mut share, mut facets, mut cells) = (vec![0.0; faces], Vec::new(), Vec::new());
        for f in 0..faces {
            let area_vector = self.mesh.area_vector(f);
            let area = area_vector.norm();
            let mut fate = match states[f] {
                _ if self.is_drawn(f) => {
                    let exposed = handed.get(&(f as u32)).copied().unwrap_or(0.0).min(area);
                    Fate { exposed, doubled: area - exposed, ..Fate::default() }
                }
                State::Alone => self.alone(f, area),
                State::Near => settled[patch_of[f] as usize].scaled(area),
                State::Cut => fates.remove(&(f as u32)).unwrap_or_default(),
            };
            match std::mem::take(&mut fate.kept) {
                Kept::Nothing => {}
                Kept::Whole(facet) => facets.push(Facet { source: f as u32, ..facet }),
                Kept::Cells(more) => cells.extend(more),
            }
            if area > 0.0 {
                let normal = area_vector / area;
                // A third of the distance of the plane from the centre: volume under a unit of area.
                let lift = (self.mesh.corners(f)[0] - self.centre).dot(&normal) / 3.0;
                totals.add(&fate, lift, normal, !self.solid.is_added(f), volume0);
                share[f] = (fate.exposed / area).clamp(0.0, 1.0);
            }
        }
        share.truncate(self.solid.modelled());
        let [exposed, buried, contact, doubled, hidden] = totals.areas.map(|s| Area::from_square_metres(s.value()));
        let unclosed = Vector3::from(totals.closing.map(|s| s.value())).norm();
        let sum_of_parts = self.pieces.iter().map(|p| p.volume).sum();
        // What is shared with a piece is shared with its copies.
        for (copy, first) in self.solid.copy_of.iter().enumerate().filter_map(|(p, c)| c.map(|c| (p as u32, c))) {
            if !self.closed(first) {
                continue;
            }
            let shared: Vec<_> =
                totals.common.iter().filter(|(pair, _)| pair.contains(&first)).map(|(p, s)| (*p, *s)).collect();
            for (pair, sum) in shared {
                let other = if pair[0] == first { pair[1] } else { pair[0] };
                totals.common.insert([other.min(copy), other.max(copy)], sum);
            }
            let mut own = volume0;
            own.add(self.pieces[first as usize].volume.cubic_metres());
            totals.common.insert([first, copy], own);
        }
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
            hidden,
            // Of bodies with holes that enclose next to nothing it may come to less.
            union: Volume::from_cubic_metres(totals.union.value().max(0.0)),
            sum_of_parts,
            pieces: self.pieces.clone(),
            common,
            area_bound: Area::from_square_metres(totals.edges.value() * self.tol.plane + unclosed),
            facets,
            cells,
            is_settled: true,
            joints,
        }
    }

    /// Pairs of pieces that lie against each other, each once, and the area of one side.
    fn joints(&self, fates: &BTreeMap<u32, Fate>) -> Vec<([u32; 2], Area)> {
        let mut areas: BTreeMap<[u32; 2], f64> = BTreeMap::new();
        for (face, fate) in fates {
            let home = self.solid.piece[*face as usize];
            for &(q, area) in &fate.against {
                *areas.entry([home.min(q), home.max(q)]).or_default() += area / 2.0;
            }
        }
        areas.into_iter().map(|(pair, area)| (pair, Area::from_square_metres(area))).collect()
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
}
