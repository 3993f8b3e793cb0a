//! Models too large to measure at their thickness, and what stands in the place of their skin.

use crate::takeoff::MOST_SQUARES;
use cragskin_geom::mesh::Mesh;
use cragskin_geom::soundness::{Grade, Quality};
use cragskin_geom::units::Length;

/// Zones are looked for at the scale of lath however thick the skin is: a skin thicker than 19 mm allows no larger model.
const THICKEST: f64 = 0.019;

/// Whether a solid is too large to be measured at a thickness. What was added to close it, bare faces and buried ones count
/// too: each square of them is looked at.
pub(crate) fn is_too_large(solid: &Mesh, thickness: Length) -> bool {
    let area: f64 = (0..solid.triangles().len()).map(|face| solid.area_vector(face).norm()).sum();
    area > MOST_SQUARES * thickness.metres().min(THICKEST).powi(2)
}

/// What the skin of a model too large to measure is worth.
pub(crate) fn quality(by_formula: bool) -> Quality {
    if by_formula {
        Quality::new(Grade::UpperBound, "too large to measure: the most it can be, by formula".to_owned())
    } else {
        Quality::new(Grade::NotKnown, "too large to measure; area x thickness stands in its place".to_owned())
    }
}

/// What the skin of a model is worth that was not measured at all.
pub(crate) fn stand_in() -> Quality {
    Quality::new(
        Grade::NotKnown,
        "faces and bare edges crowd so close that measuring would take minutes; area x thickness stands in its place",
    )
}

/// What areas and volumes are worth where bodies overlap in too many places to be told apart.
pub(crate) fn unsettled() -> Quality {
    Quality::new(
        Grade::UpperBound,
        "bodies overlap in so many places that telling what is buried would take minutes; all of it is counted",
    )
}
