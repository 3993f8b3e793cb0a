//! Models too large or too tangled to measure, and what stands in the place of their figures.

use crate::report::shared::FindingJson;
use crate::takeoff::MOST_SQUARES;
use cragskin_geom::mesh::Mesh;
use cragskin_geom::solid::Exposure;
use cragskin_geom::soundness::{Grade, Quality};
use cragskin_geom::units::{Length, Volume};

/// Zones are looked for at the scale of lath however thick the skin is: a skin thicker than 19 mm allows no larger model.
const THICKEST: f64 = 0.019;

/// No piece is so long or so high: a corner lies far off, or the drawing is in another unit. Long splinters cross many courses of lath,
/// little area though they have.
const FARTHEST: Length = Length::from_metres(500.0);

/// Whether a solid so far across is too large to be measured at a thickness. What was added to close it, bare faces and buried ones count
/// too: each square of them is looked at.
pub(crate) fn is_too_large(solid: &Mesh, across: Length, thickness: Length) -> bool {
    let area: f64 = (0..solid.triangles().len()).map(|face| solid.area_vector(face).norm()).sum();
    across > FARTHEST || area > MOST_SQUARES * thickness.metres().min(THICKEST).powi(2)
}

/// What the skin of a model too large to measure is worth.
pub(crate) fn quality(by_formula: bool) -> Quality {
    if by_formula {
        Quality::new(Grade::UpperBound, "too large to measure: the most it can be, by formula".to_owned())
    } else {
        Quality::new(Grade::NotKnown, "too large to measure; area x thickness stands in its place".to_owned())
    }
}

/// What the skin of a model is worth that would take minutes to measure.
pub(crate) fn stand_in(exposure: &Exposure) -> Quality {
    let why = if exposure.is_settled { "faces and bare edges crowd too close to measure in time" } else { OVERLAPS };
    Quality::new(Grade::NotKnown, format!("{why}; area x thickness stands in its place"))
}

/// A skin that is known to no better than this share of it is nothing to order by: ten times what is asked for.
const ROUGHLY: f64 = 0.05;

/// What a skin with a wide bound is worth.
pub(crate) fn roughly(volume: Volume, bound: Volume) -> Option<Quality> {
    (bound > volume * ROUGHLY).then(|| {
        let [low, high] = [volume - bound, volume + bound].map(|end| if end < Volume::ZERO { Volume::ZERO } else { end });
        let why = format!(
            "between {low} and {high}: borders are too fine for so thick a skin to measure closer in time; lists go by the middle, order \
             by the larger"
        );
        Quality::new(Grade::NotKnown, why)
    })
}

const OVERLAPS: &str = "bodies overlap in too many places to tell in time what is buried";

/// What zones, lath and lifts are worth: patches of bodies that are one wall in truth may each be too small to count.
pub(crate) fn of_zones(exposure: &Exposure, quality: Quality) -> Quality {
    match exposure.is_settled {
        true => quality,
        false => quality.and(Quality::new(Grade::NotKnown, OVERLAPS)),
    }
}

/// That nobody could tell what is buried, and what to do about it.
pub(crate) fn notice(exposure: &Exposure) -> Option<FindingJson> {
    let text = format!(
        "{OVERLAPS}: every face is counted as in the open. Have the bodies joined into one where the model is drawn, or leave out what is \
         inside others."
    );
    (!exposure.is_settled).then(|| FindingJson::new("overlaps_not_settled", text))
}

/// What the load on the floor is worth where bodies overlap in too many places.
pub(crate) fn of_footing() -> Quality {
    Quality::new(Grade::NotKnown, OVERLAPS)
}

/// What areas, and the volume of the foam, are worth where nobody could tell what is buried.
pub(crate) fn unsettled() -> Quality {
    Quality::new(Grade::UpperBound, format!("{OVERLAPS}; all of it is counted"))
}
