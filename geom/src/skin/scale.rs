//! The area at the scale of the skin: what is left of a surface once the skin has bridged what is finer than it.

use super::{Crevices, Skin};
use crate::units::{Area, Length};

/// The area of the closing of a core face by the skin's thickness: the surface moved outward by it and back inward by it. Grooves that a
/// ball of that radius does not get into are bridged; a ball, a flat, and any surface that such a ball rolls over everywhere keep
/// their own area. `bodies`: closed bodies that are coated all round, or the share of them that is.
///
/// Between the closing C and the far side of the skin nothing is bridged any more, so Steiner's formula holds (Schneider, *Convex Bodies*;
/// of surfaces with reach Federer 1959; both from memory): with V the skin, F what crevices swallow, S the far side and n bodies,
///
/// `V - F = C t + M t^2 + (4 pi / 3) n t^3` and `S = C + 2 M t + 4 pi n t^2`, so `C = 2 (V - F) / t - S + (4 pi / 3) n t^2`.
///
/// It is known to about twice the bounds of V and F over t. O(1).
///
/// A ball of 1 m under 100 mm, 4 pi (1.1^3 - 1) / 3 m3 of skin, keeps its 4 pi m2:
/// ```
/// use cragskin_geom::{skin::{Crevices, Skin, skin_scale_area}, units::{Area, Length, Volume}};
/// use std::f64::consts::PI;
/// let skin = Skin {
///     volume: Volume::from_cubic_metres(4.0 / 3.0 * PI * (1.1_f64.powi(3) - 1.0)),
///     far_area: Area::from_square_metres(4.0 * PI * 1.21),
///     bound: Volume::ZERO, area_times_skin: Volume::ZERO, middle_area: Area::ZERO, grid: Length::ZERO, is_stand_in: false,
/// };
/// let area = skin_scale_area(&skin, &Crevices::default(), Length::from_metres(0.1), 1.0);
/// assert!((area.square_metres() - 4.0 * PI).abs() < 1e-9);
/// ```
#[must_use]
pub fn skin_scale_area(skin: &Skin, crevices: &Crevices, thickness: Length, bodies: f64) -> Area {
    let t = thickness.metres();
    let bridged = (skin.volume - crevices.volume).cubic_metres();
    let round = 4.0 / 3.0 * std::f64::consts::PI * bodies * t * t;
    Area::from_square_metres((2.0 * bridged / t - skin.far_area.square_metres() + round).max(0.0))
}
