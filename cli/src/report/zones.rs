//! Zones, lath and lifts as rows.

use super::table::columns;
use crate::steep::Steep;
use cragskin_geom::units::{Area, Length};
use schemars::JsonSchema;
use serde::Serialize;

/// One joined patch of one class. Places are by tape from the low left front corner of the model as placed.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ZoneRow {
    /// Letter and number, as painted on the foam.
    pub letter: String,
    /// Lean class.
    pub class: &'static str,
    /// Coated area.
    pub area_m2: f64,
    /// Height along the surface.
    pub height_m: f64,
    /// Width along the surface.
    pub width_m: f64,
    /// Lowest point above the floor of the model.
    pub z_low_m: f64,
    /// Highest point above the floor of the model.
    pub z_high_m: f64,
    /// Left end.
    pub x_low_m: f64,
    /// Right end.
    pub x_high_m: f64,
    /// Centre, from left, from front, up.
    pub centre_m: [f64; 3],
    /// Mean lean.
    pub lean_mean_deg: f64,
    /// Lean farthest from plumb toward overhead.
    pub lean_worst_deg: f64,
    /// Area within two degrees of a class limit.
    pub near_limit_area_m2: f64,
    /// Whole sheets for this zone alone, the larger of laying and area; none when it takes no lath.
    pub lath_sheets: Option<u64>,
    /// Sheets by area, not rounded.
    pub lath_sheets_by_area: Option<f64>,
    /// Sheets by laying, not rounded.
    pub lath_sheets_by_laying: Option<f64>,
    /// Curved both ways: cut to strips.
    pub cut_to_strips: bool,
    /// Fixings, grid and edges.
    pub fixings: u64,
    /// Lifts on the worst lean.
    pub lifts: u32,
    /// Area by how many lifts it takes, fewest first.
    pub lift_areas: Vec<LiftArea>,
    /// Area that takes two lifts or more.
    pub two_lift_area_m2: f64,
    /// Area where a lift is within five percent of what holds.
    pub at_limit_area_m2: f64,
    /// How far an undercut or soffit hangs out.
    pub reach_m: Option<f64>,
}

/// Area that takes so many lifts.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LiftArea {
    /// How many.
    pub lifts: u32,
    /// Its area.
    pub area_m2: f64,
}

/// Zones in their order: by class, largest first.
#[must_use]
pub fn rows(steep: &Steep) -> Vec<ZoneRow> {
    steep
        .zones
        .zones
        .iter()
        .zip(&steep.lifts.zones)
        .enumerate()
        .map(|(k, (zone, lifts))| {
            let lath = steep.lath.zones.iter().find(|lath| lath.zone == k);
            let two = lifts
                .areas
                .iter()
                .filter(|(n, _)| *n >= 2)
                .map(|(_, area)| area.square_metres())
                .fold(0.0, |a, b| a + b);
            ZoneRow {
                letter: zone.name.to_string(),
                class: zone.name.class.name(),
                area_m2: zone.area.square_metres(),
                height_m: zone.height.metres(),
                width_m: zone.width.metres(),
                z_low_m: zone.lowest.z,
                z_high_m: zone.highest.z,
                x_low_m: zone.bounds[0].x,
                x_high_m: zone.bounds[1].x,
                centre_m: zone.centre.coords.into(),
                lean_mean_deg: zone.lean_mean.degrees(),
                lean_worst_deg: zone.lean_worst.degrees(),
                near_limit_area_m2: zone.near_limit.square_metres(),
                lath_sheets: lath.map(|lath| lath.sheets()),
                lath_sheets_by_area: lath.map(|lath| lath.by_area),
                lath_sheets_by_laying: lath.map(|lath| lath.by_laying),
                cut_to_strips: lath.is_some_and(|lath| lath.strips),
                fixings: lath.map_or(0, |lath| lath.fixings_grid + lath.fixings_edge),
                lifts: lifts.most,
                lift_areas: lifts
                    .areas
                    .iter()
                    .map(|(n, area)| LiftArea { lifts: *n, area_m2: area.square_metres() })
                    .collect(),
                two_lift_area_m2: two,
                at_limit_area_m2: lifts.at_limit.square_metres(),
                reach_m: lifts.reach.map(Length::metres),
            }
        })
        .collect()
}

/// Area below which two lifts are not worth a word: a hand's breadth.
pub(in crate::report) const WORTH_SAYING: Area = Area::from_square_feet(0.1);

impl ZoneRow {
    /// `2 lifts on 9.7, 3 on 2.1` square feet, with ` lifts` for the unit: what takes more than one.
    pub(super) fn lifts_on(&self, unit: &str) -> String {
        let several = self.lift_areas.iter().filter(|area| area.lifts > 1);
        let told = several.enumerate().map(|(k, LiftArea { lifts, area_m2 })| {
            let area = Area::from_square_metres(*area_m2).square_feet();
            format!("{lifts}{} on {area:.1}", if k == 0 { unit } else { "" })
        });
        told.collect::<Vec<_>>().join(", ")
    }

    /// Lifts, where the area that takes more than one is worth a word.
    pub(super) fn lifts_to_say(&self) -> u32 {
        if Area::from_square_metres(self.two_lift_area_m2) > WORTH_SAYING { self.lifts } else { 1 }
    }
}

/// Feet and inches as written on a tape, to the inch: `4'3"`.
pub(super) fn tape(metres: f64) -> String {
    #[expect(clippy::cast_possible_truncation, reason = "a length of a model in inches is small")]
    let inches = Length::from_metres(metres).inches().round() as i64;
    let sign = if inches < 0 { "-" } else { "" };
    format!("{sign}{}'{}\"", inches.abs() / 12, inches.abs() % 12)
}

/// The zones as a table for the wall; tape to the inch.
#[must_use]
pub fn text(rows: &[ZoneRow]) -> String {
    let header = ["zone", "sq ft", "m2", "high", "wide", "from left", "from floor", "lean", "worst", "sheets", "lifts"];
    let mut cells = vec![header.map(str::to_owned).to_vec()];
    for row in rows {
        let lath = match (row.lath_sheets_by_area, row.lath_sheets_by_laying) {
            (Some(area), Some(laid)) => {
                format!("{:.1}{}", area.max(laid), if row.cut_to_strips { " strips" } else { "" })
            }
            _ => "-".to_owned(),
        };
        let lifts = if row.lifts_to_say() > 1 {
            row.lifts_on("")
        } else if Area::from_square_metres(row.at_limit_area_m2) > WORTH_SAYING {
            "1, at limit".to_owned()
        } else {
            "1".to_owned()
        };
        cells.push(vec![
            row.letter.clone(),
            format!("{:.1}", Area::from_square_metres(row.area_m2).square_feet()),
            format!("{:.2}", row.area_m2),
            tape(row.height_m),
            tape(row.width_m),
            format!("{}-{}", tape(row.x_low_m), tape(row.x_high_m)),
            format!("{}-{}", tape(row.z_low_m), tape(row.z_high_m)),
            format!("{:.0}", row.lean_mean_deg),
            format!("{:.0}", row.lean_worst_deg),
            lath,
            lifts,
        ]);
    }
    let legend = "high along the surface, wide on average (area / high); a zone takes its class by lean averaged at lath scale; tape in feet and inches; lean in degrees from straight up; sheets of lath; lifts, \
                  and the sq ft that take two or more";
    columns(&cells) + &super::table::wrapped("  ", legend)
}
