//! The fix list: numbered places to settle before foam is cut.

use super::pocket::{Pocket, pockets};
use super::water::pools;
use super::{Lifts, ZoneName, Zones};
use crate::lean::{Class, centroid};
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};
use crate::units::{Angle, Area, Length};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What is worth a flag.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlagRules {
    /// Thickness of the skin: sharp edges are judged at this scale, and crevices narrower than twice it fill.
    pub skin: Length,
    /// Outer edges that turn more than this carve thin.
    pub sharp_turn: Angle,
    /// Shorter sharp edges are passed over.
    pub min_edge: Length,
    /// Narrowest pocket that a trowel can work in.
    pub trowel: Length,
    /// Narrowest pocket that a nozzle can work in.
    pub nozzle: Length,
    /// Smaller places are passed over.
    pub min_area: Area,
    /// Shallower water is passed over.
    pub water_depth: Length,
}

/// Kinds of flags.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum FlagCode {
    /// Fresh mix takes two lifts or more.
    TwoLift,
    /// Overhead work.
    Soffit,
    /// The core is too thin to cut.
    ThinCore,
    /// An outer edge where foam will show after carving.
    SharpEdge,
    /// A crevice that the skin fills.
    Crevice,
    /// No trowel gets in.
    NoTrowel,
    /// A trowel gets in, a nozzle does not.
    NoNozzle,
    /// Lean so near a class limit that a small change moves it over.
    NearLimit,
    /// Water stands there.
    StandingWater,
}

impl FlagCode {
    /// The code in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::TwoLift => "two_lift",
            Self::Soffit => "soffit",
            Self::ThinCore => "thin_core",
            Self::SharpEdge => "sharp_edge",
            Self::Crevice => "crevice",
            Self::NoTrowel => "no_reach_trowel",
            Self::NoNozzle => "no_reach_nozzle",
            Self::NearLimit => "near_limit",
            Self::StandingWater => "standing_water",
        }
    }

    /// Why it matters and what a shop usually does. Common practice, no source.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::TwoLift => {
                "Fresh mix at full thickness slides off here. Usually: two lifts with a scratched first coat and a day between, or lean it back in the model."
            }
            Self::Soffit => {
                "Overhead: thin lifts, slow carving, mix falls on the crew. Usually: lath, key coat, carved first; or lower the ceiling to a steeper face."
            }
            Self::ThinCore => {
                "Little or no foam is left inside the skin. Usually: thicken the model, or make it in solid mix on a rod."
            }
            Self::SharpEdge => {
                "Skin carves thin on a sharp outer edge and foam shows. Usually: round it by the skin thickness before cutting, or build the edge up in mix."
            }
            Self::Crevice => {
                "The skin of both sides meets and fills it: mix is swallowed, the line is lost. Usually: open it to twice the skin and a brush, or carve it into the face."
            }
            Self::NoTrowel => {
                "No trowel can work in here. Usually: open it, or coat the pieces before they are joined."
            }
            Self::NoNozzle => {
                "A nozzle cannot be held square to this face. Usually: place by hand, and plan the hours for it."
            }
            Self::NearLimit => {
                "A small change in carving moves this over a class limit: lath or lifts change. Usually: plan for the steeper class."
            }
            Self::StandingWater => {
                "Water stands here: algae, frost, a wet joint. Usually: fall to the front, or a drain hole before coating."
            }
        }
    }
}

/// How large a flagged place is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FlagSize {
    /// An area.
    Area(Area),
    /// A length of edge.
    Length(Length),
}

/// One entry of the fix list.
#[derive(Clone, Debug, PartialEq)]
pub struct Flag {
    /// From 1.
    pub number: u32,
    /// What.
    pub code: FlagCode,
    /// The zone it is in or beside.
    pub zone: Option<ZoneName>,
    /// By tape from the lower left front corner of the model's box: right, back, up.
    pub at: [Length; 3],
    /// How large.
    pub size: FlagSize,
}

/// A place with too little core, measured elsewhere.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ThinCore {
    /// Any face of it.
    pub face: u32,
    /// Its middle.
    pub at: Point3<f64>,
    /// How large.
    pub area: Area,
}

/// What the list is made from.
#[derive(Clone, Copy, Debug)]
pub struct FlagInput<'a> {
    /// The model.
    pub mesh: &'a Mesh,
    /// Its neighbours.
    pub topology: &'a Topology,
    /// Coated faces.
    pub coated: &'a [bool],
    /// Its zones.
    pub zones: &'a Zones,
    /// Its lifts.
    pub lifts: &'a Lifts,
    /// Thin places of the core, if they have been measured.
    pub thin_core: &'a [ThinCore],
}

/// The fix list: by kind, the largest first, numbered from 1; empty where no zones were looked for.
#[must_use]
pub fn flags(input: &FlagInput<'_>, rules: &FlagRules) -> Vec<Flag> {
    let FlagInput { mesh, topology, zones, lifts, .. } = *input;
    if zones.size.is_empty() {
        return Vec::new();
    }
    let coated = exposed(input.coated, zones);
    let coated = coated.as_slice();
    let share = |f: u32| share(mesh, zones, f);
    let mut found: Vec<(FlagCode, u32, Point3<f64>, FlagSize)> = Vec::new();
    let place = |f: u32| (f, centroid(mesh, f as usize));
    for (zone, lift) in zones.zones.iter().zip(&lifts.zones) {
        let mut push = |code, face: u32, area: Area| {
            if area >= rules.min_area {
                let (face, at) = place(face);
                found.push((code, face, at, FlagSize::Area(area)));
            }
        };
        // Of any class: the foot of a wall that bellies out slides as well.
        let two = lift.areas.iter().filter(|(n, _)| *n >= 2).map(|(_, a)| *a).sum();
        push(FlagCode::TwoLift, lift.two_at.unwrap_or(zone.at_face), two);
        if zone.name.class == Class::Soffit {
            push(FlagCode::Soffit, zone.at_face, zone.area);
        }
        push(FlagCode::NearLimit, zone.at_face, zone.near_limit);
    }
    for thin in input.thin_core {
        found.push((FlagCode::ThinCore, thin.face, thin.at, FlagSize::Area(thin.area)));
    }
    for (length, face, at) in sharp_edges(mesh, topology, coated, share, rules) {
        found.push((FlagCode::SharpEdge, face, at, FlagSize::Length(length)));
    }
    // Widest first: what a trowel cannot reach is not listed again for the nozzle.
    let probes = [
        (FlagCode::Crevice, rules.skin * 2.0, Length::ZERO),
        (FlagCode::NoTrowel, rules.trowel, rules.skin * 2.0),
        (FlagCode::NoNozzle, rules.nozzle, rules.trowel.max(rules.skin * 2.0)),
    ];
    for (code, width, below) in probes {
        for Pocket { face, at, area } in pockets(mesh, topology, coated, share, width, below) {
            if area >= rules.min_area {
                found.push((code, face, at, FlagSize::Area(area)));
            }
        }
    }
    for pool in pools(mesh, topology, rules.water_depth) {
        if pool.area >= rules.min_area && share(pool.face) > 0.0 {
            found.push((FlagCode::StandingWater, pool.face, pool.at, FlagSize::Area(pool.area)));
        }
    }
    let measure = |s: &FlagSize| match s {
        FlagSize::Area(a) => a.square_metres(),
        FlagSize::Length(l) => l.metres(),
    };
    let key = |p: &Point3<f64>| [p.z, p.x, p.y].map(|x| (x * 1000.0).round() as i64);
    found.sort_by(|a, b| a.0.cmp(&b.0).then(measure(&b.3).total_cmp(&measure(&a.3))).then(key(&a.2).cmp(&key(&b.2))));
    let low = mesh.positions().iter().fold(Point3::from([f64::INFINITY; 3]), |l, p| l.inf(p));
    found
        .into_iter()
        .zip(1..)
        .map(|((code, face, at, size), number)| Flag {
            number,
            code,
            zone: zones.of(face as usize).map(|k| zones.zones[k].name),
            at: [0, 1, 2].map(|k| Length::from_metres(at[k] - low[k])),
            size,
        })
        .collect()
}

/// What lies buried in another body is no place to settle.
fn exposed(coated: &[bool], zones: &Zones) -> Vec<bool> {
    (0..zones.size.len()).map(|f| coated[f] && zones.size[f] > 0.0).collect()
}

/// A face counts with what of it lies exposed.
fn share(mesh: &Mesh, zones: &Zones, face: u32) -> f64 {
    zones.size[face as usize] / mesh.area_vector(face as usize).norm().max(f64::MIN_POSITIVE)
}

/// Coated area in places of at least `min_area` that face another face closer than two skins: where [`flags`] tells of a
/// crevice. Nothing where no zones were looked for.
#[must_use]
pub fn crevice_area(
    mesh: &Mesh,
    topology: &Topology,
    coated: &[bool],
    zones: &Zones,
    skin: Length,
    min_area: Area,
) -> Area {
    let found = pockets(mesh, topology, &exposed(coated, zones), |f| share(mesh, zones, f), skin * 2.0, Length::ZERO);
    found.into_iter().map(|pocket| pocket.area).filter(|area| *area >= min_area).sum()
}

/// Turns below this are not looked at: the flats of a round thing.
const FLAT: f64 = 0.25;

/// Outer edges that turn more than the rule at skin scale, joined where they meet: length, a face, the middle.
fn sharp_edges(
    mesh: &Mesh,
    topology: &Topology,
    coated: &[bool],
    share: impl Fn(u32) -> f64,
    rules: &FlagRules,
) -> Vec<(Length, u32, Point3<f64>)> {
    let limit = rules.sharp_turn.radians();
    let every = || (0..mesh.triangles().len()).into_par_iter().with_min_len(1 << 12);
    let middle: Vec<Vector3<f32>> = every().map(|f| centroid(mesh, f).coords.cast()).collect();
    let sides = Sides { topology, middle, facing: every().map(|f| mesh.area_vector(f).cast()).collect() };
    let flat = (FLAT.cos().powi(2), coated);
    let sharp: Vec<(u32, u8)> = every()
        .flat_map_iter(|f| {
            let sides = &sides;
            (0..3_u8).filter_map(move |side| {
                let Across::Face { face: g, consistent: true, .. } = topology.across(f, side as usize) else {
                    return None;
                };
                let (flat, coated) = flat;
                let g = g as usize;
                if g < f || !coated[f] || !coated[g] {
                    return None;
                }
                let (a, b) = (sides.facing[f], sides.facing[g]);
                let alike = a.dot(&b);
                let turns =
                    alike < 0.0 || f64::from(alike).powi(2) < flat * f64::from(a.norm_squared() * b.norm_squared());
                if !turns || (sides.middle[g] - sides.middle[f]).dot(&a) >= 0.0 {
                    return None;
                }
                let t = mesh.triangles()[f];
                let [p, q] = [t[side as usize], t[(side as usize + 1) % 3]].map(|v| mesh.positions()[v as usize]);
                let edge = nalgebra::center(&p, &q).coords.cast();
                let reach = rules.skin.metres() as f32;
                let (one, other) = (sides.mean(f, g, edge, reach), sides.mean(g, f, edge, reach));
                (one.angle(&other) > limit as f32).then_some((f as u32, side))
            })
        })
        .collect();
    // Edges that share a corner are one line.
    let mut names: BTreeMap<u32, u32> = BTreeMap::new();
    let mut root: Vec<u32> = Vec::new();
    fn find(root: &mut [u32], mut k: u32) -> u32 {
        while root[k as usize] != k {
            root[k as usize] = root[root[k as usize] as usize];
            k = root[k as usize];
        }
        k
    }
    for &(f, side) in &sharp {
        let t = mesh.triangles()[f as usize];
        let [a, b] = [t[side as usize], t[(side as usize + 1) % 3]].map(|v| {
            *names.entry(v).or_insert_with(|| {
                root.push(root.len() as u32);
                root.len() as u32 - 1
            })
        });
        let (a, b) = (find(&mut root, a), find(&mut root, b));
        root[a.max(b) as usize] = a.min(b);
    }
    let mut lines: BTreeMap<u32, (f64, Vector3<f64>, u32)> = BTreeMap::new();
    for &(f, side) in &sharp {
        let c = mesh.corners(f as usize);
        let (p, q) = (c[side as usize], c[(side as usize + 1) % 3]);
        let name = names[&mesh.triangles()[f as usize][side as usize]];
        let line = lines.entry(find(&mut root, name)).or_insert((0.0, Vector3::zeros(), f));
        let length = (q - p).norm() * share(f).min(1.0);
        line.0 += length;
        line.1 += (p.coords + q.coords) * (0.5 * length);
    }
    lines
        .into_values()
        .filter(|l| l.0 >= rules.min_edge.metres())
        .map(|(length, moment, face)| (Length::from_metres(length), face, Point3::from(moment / length)))
        .collect()
}

/// What the two sides of an edge are judged by, close together: single figures tell a turn to a thousandth of a degree.
struct Sides<'a> {
    topology: &'a Topology,
    middle: Vec<Vector3<f32>>,
    facing: Vec<Vector3<f32>>,
}

impl Sides<'_> {
    /// Mean direction of the surface on one side of an edge, within `reach` of its middle.
    fn mean(&self, from: usize, not: usize, edge: Vector3<f32>, reach: f32) -> Vector3<f32> {
        let mut seen = [0_u32; MOST_SEEN];
        seen[0] = from as u32;
        let (mut count, mut next) = (1, 0);
        let mut sum = self.facing[from];
        let away = |g: usize, p: Vector3<f32>| (self.middle[g] - p).norm_squared();
        while next < count && count < MOST_SEEN {
            for side in 0..3 {
                let Across::Face { face: g, consistent: true, .. } = self.topology.across(seen[next] as usize, side)
                else {
                    continue;
                };
                let k = g as usize;
                // Not round the edge: only faces nearer to this side than the one across.
                let this_side = away(k, edge) < reach * reach && away(k, self.middle[not]) > away(k, self.middle[from]);
                if k != not && this_side && count < MOST_SEEN && !seen[..count].contains(&g) {
                    seen[count] = g;
                    count += 1;
                    sum += self.facing[k];
                }
            }
            next += 1;
        }
        sum
    }
}

/// Faces looked at on one side of an edge, at most.
const MOST_SEEN: usize = 64;
