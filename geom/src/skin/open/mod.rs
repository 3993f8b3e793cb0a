//! The skin of models with open sheets, where nothing says what is inside.
//!
//! The foot of a point is the point of the surface that is nearest to it. A point belongs to the skin when its foot is on a
//! coated face, it stands in front of that face, and no farther from it than the skin is thick. Nothing is asked of a solid.
//!
//! * **Square cut.** A foot on an open rim coats nothing, so the skin ends at a rim in the plane at right angles to the
//!   face. The quarter round that a trowel would leave there is [`OpenSkin::rim`] and is not in the volume. Where a coat
//!   meets a bare face it ends as on closed models, see [`crate::skin`], but for one thing: at a concave edge only what stands square
//!   on the coated face counts. A closed model has the wedge between that and the bare face filled too, by distance from the edge:
//!   `t^2 (angle - 90 deg) / 2` more for each metre of an edge whose faces stand at more than 90 degrees to each other.
//! * **What stands near.** Where the foot coats nothing, being on a rim, on a bare face or on the back of another piece, the
//!   next foot is asked. Mix does not pass through a surface: such a foot counts only where the line to it is clear.
//!
//! Two estimates are made that share nothing but the rule above. By [`terms`]: the surface is divided into feet, and each
//! adds what stands on it. By [`cells`]: space near the surface is divided into cubes and sampled in those that the rule
//! does not settle as a whole. The one with the smaller bound is taken. Where the two disagree by more than their bounds,
//! neither is to be believed.

mod cells;
mod feet;
mod terms;

use super::{Accuracy, Coat, Face, Skin};
use crate::mesh::Mesh;
use crate::units::{Area, Length, Volume};
use feet::Feet;
use serde::{Deserialize, Serialize};
use std::f64::consts::FRAC_PI_4;

/// A skin measured without a solid.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OpenSkin {
    /// The skin, by the estimate with the smaller bound.
    pub skin: Skin,
    /// By feet on the surface.
    pub by_feet: Estimate,
    /// By points in space.
    pub by_points: Estimate,
    /// What rounding the coat over at open rims would add: a quarter of a circle along each rim.
    pub rim: Volume,
}

/// A volume found by sampling.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// The volume.
    pub volume: Volume,
    /// Four standard errors, and all that could not be decided or was left out.
    pub bound: Volume,
    /// How many points were asked about.
    pub samples: u64,
}

impl OpenSkin {
    /// The two estimates agree within their bounds.
    #[must_use]
    pub fn agrees(&self) -> bool {
        let [a, b] = [self.by_feet, self.by_points];
        (a.volume - b.volume).cubic_metres().abs() <= (a.bound + b.bound).cubic_metres()
    }
}

/// The skin on a surface that need not close.
///
/// `surface` is what is exposed of the model; it faces outward. `rim` has three bits a triangle: bit `k` is set where the
/// edge from corner `k` to corner `k + 1` is open. Thicknesses are those of `coat`.
///
/// Cost: near linear in the coated area over the square of the thickness, up to a number of samples that `accuracy` sets;
/// beyond it the bound grows and the time does not. The same bits for any number of threads.
///
/// A flat plate of 1 m2 with 20 mm of mix is 0.02 m3, cut square all round; rounding it over adds `4 pi/4 t^2`.
/// ```
/// use cragskin_geom::{mesh::Mesh, skin::*, units::Length};
/// use nalgebra::Point3;
/// let corner = |x: f64, y: f64| Point3::new(x, y, 0.0);
/// let corners = vec![corner(0.0, 0.0), corner(1.0, 0.0), corner(1.0, 1.0), corner(0.0, 1.0)];
/// let plate = Mesh::new(corners, vec![[0, 1, 2], [0, 2, 3]], vec![]);
/// let coat = Coat::everywhere(Face::Core, Length::from_millimetres(20.0));
/// let open = skin_of_open(&plate, &[0b011, 0b110], &coat, Accuracy::USUAL);
/// assert!((open.skin.volume.cubic_metres() - 0.02).abs() <= open.skin.bound.cubic_metres());
/// assert!(open.agrees() && open.skin.bound.cubic_metres() < 0.005 * 0.02);
/// assert!((open.rim.cubic_metres() - 3.141593 * 0.02 * 0.02).abs() < 1e-6);
/// ```
#[must_use]
pub fn skin_of_open(surface: &Mesh, rim: &[u8], coat: &Coat, accuracy: Accuracy) -> OpenSkin {
    let feet = Feet::of(surface, rim, coat);
    let volume = Volume::from_cubic_metres;
    let estimate = |[volume, bound]: [f64; 2], samples| Estimate {
        volume: Volume::from_cubic_metres(volume),
        bound: Volume::from_cubic_metres(bound),
        samples,
    };
    if feet.thickest == 0.0 {
        let none = estimate([0.0; 2], 0);
        return OpenSkin { skin: Skin::none(), by_feet: none, by_points: none, rim: Volume::ZERO };
    }
    let terms = terms::measure(&feet);
    let exact = terms.bound <= accuracy.0 * terms.volume;
    let (sampled, side) =
        cells::measure(&feet, if exact { accuracy.times(CHECK) } else { accuracy }, terms.most_points);
    let by_feet = estimate([terms.volume, terms.bound], terms.samples);
    let by_points = estimate([sampled.volume(), sampled.bound()], sampled.samples);
    let best = if by_feet.bound <= by_points.bound { by_feet } else { by_points };
    OpenSkin {
        skin: Skin {
            volume: best.volume,
            bound: best.bound,
            area_times_skin: volume(feet.naive),
            far_area: Area::from_square_metres(terms.far_area),
            middle_area: Area::from_square_metres(terms.middle_area),
            grid: Length::from_metres(side),
            is_stand_in: false,
        },
        by_feet,
        by_points,
        rim: volume(feet.rim_terms()),
    }
}

/// Where the feet alone are exact enough, the points only check them, to so many times the accuracy.
const CHECK: f64 = 4.0;

/// A quarter of a circle of a radius along a length.
fn quarter_round(length: f64, radius: f64) -> f64 {
    FRAC_PI_4 * radius * radius * length
}

/// Outward for a core face, inward for a finished one: towards the skin.
fn skin_side(face: Face) -> f64 {
    if face == Face::Core { 1.0 } else { -1.0 }
}
