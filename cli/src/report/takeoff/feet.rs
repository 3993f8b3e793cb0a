//! What a model stands on and its area at skin scale, as the report carries them.

use super::quality_words;
use crate::figure::{FigureId, State};
use crate::job::Face;
use crate::quantities::Quality;
use crate::quantities::floor::{self, Bearing};
use crate::request::Request;
use crate::takeoff::Takeoff;
use cragskin_geom::skin::skin_scale_area;
use cragskin_geom::units::{Area, Mass};
use schemars::JsonSchema;
use serde::Serialize;

/// A foot and what it carries.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct FootRow {
    /// Its middle from left.
    pub x_m: f64,
    /// Its middle from front.
    pub y_m: f64,
    /// Width.
    pub width_m: f64,
    /// Depth.
    pub depth_m: f64,
    /// Contact area.
    pub area_m2: f64,
    /// What it carries, wet on the day; below zero for a foot that lifts. Null where the weight is not defined.
    pub wet_mass_kg: Option<f64>,
    /// That over its area.
    pub wet_load_kg_per_m2: Option<f64>,
    /// What the two are worth: `good`, or the grade and why.
    #[serde(serialize_with = "quality_words")]
    #[schemars(with = "String")]
    pub quality: Quality,
}

/// The area at skin scale, and how it is measured.
pub(super) fn skin_scale(takeoff: &Takeoff, request: &Request) -> (Area, &'static str) {
    let skin = &takeoff.skin;
    match &takeoff.looked {
        Ok(looked) if request.face == Face::Core => {
            let whole = takeoff.coated_area / (takeoff.coated_area + takeoff.bare_area);
            let bodies = takeoff.exposure.pieces.len() as f64 * whole;
            (skin_scale_area(skin, &looked.crevices, takeoff.applied.thickness, bodies), "closing")
        }
        _ => (skin.middle_area, "half way"),
    }
}

/// The feet and what each carries.
pub(super) fn rows(takeoff: &Takeoff) -> Vec<FootRow> {
    let footing = takeoff.footing();
    let carried = footing.value().map_or_else(Vec::new, |footing| floor::carried(footing, &takeoff.figures));
    let feet = footing.value().into_iter().flat_map(|footing| &footing.feet);
    let load = takeoff.figures.quantity(FigureId::FloorLoad(State::Wet)).quality().clone();
    let row = |(k, Bearing { foot, .. }): (usize, &Bearing)| {
        let weight = carried.get(k).map(|pounds| Mass::from_pounds(*pounds).kilograms());
        FootRow {
            x_m: foot.middle.x,
            y_m: foot.middle.y,
            width_m: foot.size[0].metres(),
            depth_m: foot.size[1].metres(),
            area_m2: foot.area.square_metres(),
            wet_mass_kg: weight,
            wet_load_kg_per_m2: weight.map(|kg| kg / foot.area.square_metres()),
            quality: load.clone(),
        }
    };
    feet.enumerate().map(row).collect()
}
