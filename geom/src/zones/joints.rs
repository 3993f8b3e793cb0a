//! Movement joints: even fields on the unrolled patch, joints across moved to a crease near their even place.

use super::{Zone, Zones};
use crate::lean::{Class, centroid};
use crate::mesh::Mesh;
use crate::topology::{Across, Topology};
use crate::units::{Area, Length};

/// Largest field between joints. The usual figures are those of ASTM C1063: 144 sq ft on walls, 100 sq ft on all else,
/// 18 ft either way, 2.5 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JointRules {
    /// Largest field on walls.
    pub area_wall: Area,
    /// Largest field elsewhere.
    pub area_other: Area,
    /// Longest side of a field.
    pub length: Length,
    /// Longer side over shorter side, at most.
    pub ratio: f64,
}

/// Joints of one zone.
#[derive(Clone, Debug, PartialEq)]
pub struct ZoneJoints {
    /// Index of the zone.
    pub zone: usize,
    /// Fields along the girth and up the height.
    pub fields: [usize; 2],
    /// Upright joints: distance along the girth from its left end.
    pub upright: Vec<Length>,
    /// Joints across: level above the datum for a steep zone, else the way in plan from the near edge.
    pub across: Vec<Length>,
    /// How many of `across` lie in a crease.
    pub in_crease: usize,
    /// All joints together.
    pub length: Length,
    /// The largest field.
    pub field_area: Area,
    /// Width and height of the largest field.
    pub field: [Length; 2],
    /// Area, length and ratio rule, in this order: kept or not. A narrow zone cannot keep the last.
    pub kept: [bool; 3],
}

/// Joints of every zone that needs some, or that breaks a rule without any.
#[must_use]
pub fn joints(mesh: &Mesh, topology: &Topology, zones: &Zones, rules: &JointRules) -> Vec<ZoneJoints> {
    let own = zones.base.mesh(mesh);
    let cut = (!std::ptr::eq(own, mesh)).then(|| Topology::of(own));
    let (mesh, topology) = (own, cut.as_ref().unwrap_or(topology));
    let one = |k: usize| {
        let joints = zone_joints(mesh, topology, zones, k, rules);
        (joints.fields != [1, 1] || joints.kept != [true; 3]).then_some(joints)
    };
    (0..zones.zones.len()).filter_map(one).collect()
}

/// A joint leaves its even place for a crease by at most this share of the spacing.
const MOVE: f64 = 0.2;

/// Fields counted each way, at most.
const MOST: usize = 200;

fn zone_joints(mesh: &Mesh, topology: &Topology, zones: &Zones, k: usize, rules: &JointRules) -> ZoneJoints {
    let zone = &zones.zones[k];
    let most = if zone.name.class == Class::Wall { rules.area_wall } else { rules.area_other };
    let (girth, height) = (zone.unrolled.widest(), zone.unrolled.height());
    // Rounding must not ask for a joint: an area of exactly 144 sq ft is one field.
    let within = |x: f64, limit: f64| x <= limit * (1.0 + 1e-6);
    let kept = |w: f64, h: f64, columns: usize, rows: usize| {
        let area = zone.lath_area.square_metres() / (columns * rows) as f64;
        [
            within(area, most.square_metres()),
            within(w.max(h), rules.length.metres()),
            within(w.max(h), rules.ratio * w.min(h)),
        ]
    };
    // Fewest fields that keep most rules.
    let mut best: Option<(usize, usize, [usize; 2])> = None;
    for columns in 1..=MOST {
        for rows in 1..=MOST {
            if best.is_some_and(|(broken, fields, _)| broken == 0 && columns * rows >= fields) {
                break;
            }
            let broken =
                kept(girth / columns as f64, height / rows as f64, columns, rows).iter().filter(|k| !**k).count();
            if best.is_none_or(|(b, f, _)| (broken, columns * rows) < (b, f)) {
                best = Some((broken, columns * rows, [columns, rows]));
            }
        }
    }
    let [columns, rows] = best.map_or([1, 1], |b| b.2);
    let upright: Vec<Length> = (1..columns).map(|i| Length::from_metres(girth * i as f64 / columns as f64)).collect();
    let (across, in_crease, tallest) = across(mesh, topology, zones, zone, k, rows, |w_h: f64| {
        let area = w_h / height * zone.lath_area.square_metres() / columns as f64;
        within(area, most.square_metres()) && within(w_h, rules.length.metres())
    });
    let wide = girth / columns as f64;
    ZoneJoints {
        zone: k,
        fields: [columns, rows],
        length: Length::from_metres((columns - 1) as f64 * height)
            + across.iter().map(|a| Length::from_metres(girth_at(zone, a.metres()))).sum(),
        upright,
        across,
        in_crease,
        field_area: zone.lath_area / columns as f64 * (tallest / height.max(1e-9)),
        field: [Length::from_metres(wide), Length::from_metres(tallest)],
        kept: kept(wide, tallest, columns, rows),
    }
}

fn girth_at(zone: &Zone, level: f64) -> f64 {
    let k = ((level - zone.unrolled.low) / zone.unrolled.step).max(0.0) as usize;
    zone.unrolled.bands.get(k.min(zone.unrolled.bands.len().saturating_sub(1))).map_or(0.0, |b| b.girth)
}

/// Levels of the joints across, how many lie in creases, and the height of the tallest field.
fn across(
    mesh: &Mesh,
    topology: &Topology,
    zones: &Zones,
    zone: &Zone,
    k: usize,
    rows: usize,
    fits: impl Fn(f64) -> bool,
) -> (Vec<Length>, usize, f64) {
    let patch = &zone.unrolled;
    let height = patch.height();
    if rows <= 1 {
        return (Vec::new(), 0, height);
    }
    // Inner edges that close up, by band: length times turn.
    let mut crease = vec![0.0; patch.bands.len()];
    for &f in &zone.pieces {
        let f = f as usize;
        for side in 0..3 {
            let Across::Face { face: g, consistent: true, .. } = topology.across(f, side) else { continue };
            let g = g as usize;
            if g < f || zones.base.zone(g) != Some(k) {
                continue;
            }
            let (a, b) = (mesh.area_vector(f), mesh.area_vector(g));
            let closes = (centroid(mesh, g) - centroid(mesh, f)).dot(&a) > 0.0;
            let turn = a.angle(&b);
            if closes && turn > 0.1 {
                let c = mesh.corners(f);
                let (p, q) = (c[side], c[(side + 1) % 3]);
                let level = nalgebra::center(&p, &q).coords.dot(&patch.direction);
                let band = (((level - patch.low) / patch.step).max(0.0) as usize).min(crease.len() - 1);
                // Only the part that runs along the level: upright creases do not help a joint across.
                let way = q - p;
                let along = (way - patch.direction * way.dot(&patch.direction)).norm();
                crease[band] += along * turn;
            }
        }
    }
    let ways: Vec<f64> = patch
        .bands
        .iter()
        .scan(0.0, |way, b| {
            *way += b.way;
            Some(*way - 0.5 * b.way)
        })
        .collect();
    let level = |band: usize| patch.low + patch.step * (band as f64 + 0.5);
    let spacing = height / rows as f64;
    let (mut levels, mut moved, mut last, mut tallest) = (Vec::new(), 0, 0.0_f64, 0.0_f64);
    for i in 1..rows {
        let even = spacing * i as f64;
        // A crease counts when it runs along a third of the girth with a turn of about 20 degrees.
        let found = (0..ways.len())
            .filter(|&b| (ways[b] - even).abs() <= MOVE * spacing)
            .filter(|&b| crease[b] > 0.35 * patch.bands[b].girth / 3.0)
            .filter(|&b| fits(ways[b] - last) && fits((height - ways[b]) / (rows - i) as f64))
            .max_by(|&a, &b| crease[a].total_cmp(&crease[b]).then(b.cmp(&a)));
        let (way, at) = match found {
            Some(b) => {
                moved += 1;
                (ways[b], level(b))
            }
            None => {
                let b = ways.partition_point(|w| *w < even).min(ways.len() - 1);
                (even, level(b))
            }
        };
        levels.push(Length::from_metres(at));
        tallest = tallest.max(way - last);
        last = way;
    }
    (levels, moved, tallest.max(height - last))
}
