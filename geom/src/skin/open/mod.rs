//! The skin of models with open sheets, where nothing says what is inside.
//!
//! The foot of a point is the point of the surface that is nearest to it. A point belongs to the skin when its foot is on a
//! coated face, it stands in front of that face, and no farther from it than the skin is thick. Nothing is asked of a solid.
//!
//! * **Square cut.** A foot on an open rim coats nothing, so the skin ends at a rim in the plane at right angles to the
//!   face. The quarter round that a trowel would leave there is [`OpenSkin::rim`] and is not in the volume. Where a coat
//!   meets a bare face at a convex edge it ends in the plane of the bare face, as on closed models.
//! * **What stands near.** Where the foot coats nothing, being on a rim, on a bare face or on the back of another piece, the
//!   next foot is asked. Mix does not pass through a surface: such a foot counts only where the line to it is clear.
//!
//! Two estimates are made that share nothing but the rule above. The volume comes from [`cells`]: space near the surface
//! is divided into cubes and sampled in those that the rule does not settle as a whole. The second comes from [`terms`]:
//! the surface is divided into feet, and each adds what stands on it. Where the two disagree by more than their bounds,
//! neither is to be believed.

mod cells;
mod feet;
mod terms;

use super::{Accuracy, Coat, Face, Skin};
use crate::mesh::Mesh;
use crate::units::{Area, Length, Volume};
use feet::Feet;
use std::f64::consts::FRAC_PI_4;

/// A skin measured without a solid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OpenSkin {
    /// The skin; its bound is four standard errors of the sampling.
    pub skin: Skin,
    /// The second estimate, by feet on the surface.
    pub second: Volume,
    /// Four standard errors of the second estimate, and what it leaves out.
    pub second_bound: Volume,
    /// What rounding the coat over at open rims would add: a quarter of a circle along each rim.
    pub rim: Volume,
    /// How many points were asked about.
    pub samples: u64,
}

impl OpenSkin {
    /// The two estimates agree within their bounds.
    #[must_use]
    pub fn agrees(&self) -> bool {
        (self.skin.volume - self.second).cubic_metres().abs() <= (self.skin.bound + self.second_bound).cubic_metres()
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
    if feet.thickest == 0.0 {
        let zero = Volume::ZERO;
        return OpenSkin { skin: Skin::none(), second: zero, second_bound: zero, rim: zero, samples: 0 };
    }
    let (sampled, side) = cells::measure(&feet, accuracy);
    let terms = terms::measure(&feet);
    let volume = Volume::from_cubic_metres;
    OpenSkin {
        skin: Skin {
            volume: volume(sampled.volume()),
            bound: volume(sampled.bound()),
            area_times_skin: volume(feet.naive),
            far_area: Area::from_square_metres(terms.far_area),
            middle_area: Area::from_square_metres(terms.middle_area),
            grid: Length::from_metres(side),
        },
        second: volume(terms.volume),
        second_bound: volume(terms.bound),
        rim: volume(feet.rim_terms()),
        samples: sampled.samples + terms.samples,
    }
}

/// A quarter of a circle of a radius along a length.
fn quarter_round(length: f64, radius: f64) -> f64 {
    FRAC_PI_4 * radius * radius * length
}

/// Outward for a core face, inward for a finished one: towards the skin.
fn skin_side(face: Face) -> f64 {
    if face == Face::Core { 1.0 } else { -1.0 }
}

/// The finalizer of S. Vigna's SplitMix64, as a number from 0 to 1.
fn unit(seed: u64) -> f64 {
    let z = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (z ^ z >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ z >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ z >> 31) >> 11) as f64 * (0.5f64).powi(53)
}
