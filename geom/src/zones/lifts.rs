//! How thick fresh mix may be built on a lean before it slides or drops, and how many lifts that makes.
//!
//! A layer of thickness t pulls along the face with t sin(lean) and, past plumb, off the face with -t cos(lean). The shop
//! measures on its tilt board what holds at plumb and overhead; both pulls are scaled by those readings and combined
//! like stresses at right angles. Published limits disagree too much to stand in for the board.

use super::Zones;
use crate::lean::{Class, centroid};
use crate::mesh::Mesh;
use crate::units::{Angle, Area, Density, Length};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

/// Two readings from the shop's tilt board, and what is to be put on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LiftRules {
    /// Thickest build that holds at plumb.
    pub plumb: Length,
    /// Thickest build that holds on a ceiling.
    pub ceiling: Length,
    /// Thickness applied.
    pub applied: Length,
}

/// Within this share of the limit a lift is "at limit".
pub const AT_LIMIT: f64 = 0.05;

/// Lifts are counted up to here.
const MOST: f64 = 99.0;

/// Lifts on one lean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lift {
    /// The thickest single lift.
    pub allowed: Length,
    /// How many lifts the applied thickness takes.
    pub lifts: u32,
    /// Each lift, evenly split, is within 5 % of what holds.
    pub at_limit: bool,
}

impl LiftRules {
    /// Thickest build that holds on a lean: plumb / sin(lean) up to 90 degrees,
    /// 1 / sqrt((sin / plumb)^2 + (cos / ceiling)^2) beyond. No limit on a level top: an infinite length.
    ///
    /// ```
    /// use cragskin_geom::{units::{Angle, Length}, zones::LiftRules};
    /// let inch = Length::from_inches;
    /// let rules = LiftRules { plumb: inch(2.0), ceiling: inch(0.75), applied: inch(1.25) };
    /// let at = |lean| rules.on(Angle::from_degrees(lean));
    /// assert_eq!((at(120.0).lifts, at(120.0).at_limit), (1, true)); // 1.258 in holds: 0.6 % in hand
    /// assert_eq!(at(125.0).lifts, 2); // 1.153 in holds
    /// ```
    #[must_use]
    pub fn allowed(&self, lean: Angle) -> Length {
        let (sin, cos) = lean.radians().sin_cos();
        let along = sin.max(0.0) / self.plumb.metres();
        let off = if cos < 0.0 { cos / self.ceiling.metres() } else { 0.0 };
        Length::from_metres(1.0 / along.hypot(off))
    }

    /// Lifts on a lean, at least one.
    #[must_use]
    pub fn on(&self, lean: Angle) -> Lift {
        let allowed = self.allowed(lean);
        let ratio = if allowed.metres().is_finite() { self.applied / allowed } else { 0.0 };
        // A build that just holds is one lift: rounding of the sine must not make it two.
        let lifts = (ratio - 1e-9).ceil().clamp(1.0, MOST);
        Lift { allowed, lifts: lifts as u32, at_limit: ratio / lifts > 1.0 - AT_LIMIT }
    }

    /// The table for the wall: every 5 degrees from 0 to 180.
    #[must_use]
    pub fn table(&self) -> Vec<(Angle, Lift)> {
        (0..=36).map(|k| Angle::from_degrees(5.0 * f64::from(k))).map(|lean| (lean, self.on(lean))).collect()
    }
}

/// Lifts of one zone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ZoneLifts {
    /// Index of the zone.
    pub zone: usize,
    /// Area by number of lifts, rising; no empty entries.
    pub areas: Vec<(u32, Area)>,
    /// Area within 5 % of what one more lift would need.
    pub at_limit: Area,
    /// Lifts on the worst lean of the zone.
    pub most: u32,
    /// The face nearest the middle of the area that takes two lifts or more.
    pub two_at: Option<u32>,
    /// How far an undercut or soffit hangs out: level distance from its outermost lip back to the plumb line of its
    /// root, the point of its outline that lies farthest back. `None` for other classes.
    pub reach: Option<Length>,
}

/// Lifts of all zones.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Lifts {
    /// In the order of the zones.
    pub zones: Vec<ZoneLifts>,
    /// Area that takes two lifts or more.
    pub two_or_more: Area,
}

impl Lifts {
    /// Counts lifts face by face, on leans averaged within each zone.
    #[must_use]
    pub fn count(mesh: &Mesh, zones: &Zones, rules: &LiftRules) -> Self {
        // Faces of one cluster have one lean, and mostly follow one another.
        let of_last = |last: &mut (Angle, Lift), f: usize| {
            let lean = zones.base.lean(f);
            if lean != last.0 {
                *last = (lean, rules.on(lean));
            }
            last.1
        };
        let level = || (Angle::ZERO, rules.on(Angle::ZERO));
        let faces = (0..zones.base.size.len()).into_par_iter().with_min_len(1 << 12);
        let (mesh, size) = (zones.base.mesh(mesh), &zones.base.size);
        let base = &zones.base;
        let lift: Vec<Lift> = faces.map_init(level, of_last).collect();
        let zones: Vec<ZoneLifts> = zones
            .zones
            .par_iter()
            .enumerate()
            .map(|(k, zone)| {
                let mut areas = [0.0; MOST as usize + 1];
                let mut at_limit = 0.0;
                for &f in &zone.pieces {
                    let size = size[f as usize];
                    let lift = &lift[f as usize];
                    areas[lift.lifts as usize] += size;
                    at_limit += if lift.at_limit { size } else { 0.0 };
                }
                let areas: Vec<(u32, Area)> =
                    (0..).zip(areas).filter(|a| a.1 > 0.0).map(|(n, a)| (n, Area::from_square_metres(a))).collect();
                let hangs = matches!(zone.name.class, Class::Undercut | Class::Soffit);
                ZoneLifts {
                    zone: k,
                    most: areas.last().map_or(1, |a| a.0),
                    areas,
                    two_at: middle(mesh, zone.pieces.iter().copied().filter(|&f| lift[f as usize].lifts >= 2))
                        .map(|piece| base.source(piece)),
                    at_limit: Area::from_square_metres(at_limit),
                    reach: hangs.then(|| reach(mesh, &zone.pieces)),
                }
            })
            .collect();
        let two = zones.iter().flat_map(|z| &z.areas).filter(|(n, _)| *n >= 2).map(|(_, a)| *a).sum();
        Self { zones, two_or_more: two }
    }
}

/// The face nearest the middle of some.
fn middle(mesh: &Mesh, faces: impl Iterator<Item = u32> + Clone) -> Option<u32> {
    let size = |f: u32| mesh.area_vector(f as usize).norm();
    let (moment, area) = faces.clone().fold((nalgebra::Vector3::zeros(), 0.0), |(moment, area), f| {
        (moment + centroid(mesh, f as usize).coords * size(f), area + size(f))
    });
    let away = |f: &u32| (centroid(mesh, *f as usize).coords - moment / area).norm_squared();
    faces.min_by(|a, b| away(a).total_cmp(&away(b)).then(a.cmp(b)))
}

/// Extent along the way the patch looks out, taken in plan.
fn reach(mesh: &Mesh, faces: &[u32]) -> Length {
    let sum: nalgebra::Vector3<f64> = faces.iter().map(|&f| mesh.area_vector(f as usize)).sum();
    let out = sum.xy();
    let ways: Vec<nalgebra::Vector2<f64>> = if out.norm() > 0.1 * sum.norm() {
        vec![out.normalize()]
    } else {
        // A level ceiling looks nowhere: its shorter way in plan, to the nearest 5 degrees.
        (0..36).map(|k| f64::from(5 * k).to_radians().sin_cos()).map(|(s, c)| nalgebra::Vector2::new(c, s)).collect()
    };
    let mut extents = vec![[f64::INFINITY, f64::NEG_INFINITY]; ways.len()];
    for p in faces.iter().flat_map(|&f| mesh.corners(f as usize)) {
        for (way, extent) in ways.iter().zip(&mut extents) {
            let along = p.xy().coords.dot(way);
            *extent = [extent[0].min(along), extent[1].max(along)];
        }
    }
    let length = extents.iter().map(|e| e[1] - e[0]).fold(f64::INFINITY, f64::min);
    Length::from_metres(if length.is_finite() { length } else { 0.0 })
}

/// Yield stress, in pascals, that would hold a layer at plumb: density x gravity x thickness.
///
/// The infinite-slope balance of a yield-stress fluid, a cross-check only: render at rest has some 100 to 1000 Pa, so a
/// tilt-board reading that asks for far more is worth a second look. (From memory, no source.)
///
/// ```
/// use cragskin_geom::{units::{Density, Length}, zones::yield_stress_at_plumb};
/// let pascals = yield_stress_at_plumb(Length::from_millimetres(19.0), Density::from_kg_per_m3(2000.0));
/// assert!((pascals - 372.65).abs() < 0.01);
/// ```
#[must_use]
pub fn yield_stress_at_plumb(thickness: Length, wet: Density) -> f64 {
    const GRAVITY: f64 = 9.806_65;
    wet.kg_per_m3() * GRAVITY * thickness.metres()
}
