//! The five lean classes and the angles that part them.

use crate::units::Angle;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A class of lean, in order from facing up to facing down.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Class {
    /// Mix lies there by itself.
    Top,
    /// Trowel work.
    Slope,
    /// Near plumb.
    Wall,
    /// Hangs out: its own weight pulls the fresh skin off.
    Undercut,
    /// Overhead.
    Soffit,
}

impl Class {
    /// All of them, in order of lean.
    pub const ALL: [Self; 5] = [Self::Top, Self::Slope, Self::Wall, Self::Undercut, Self::Soffit];

    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        ["top", "slope", "wall", "undercut", "soffit"][self as usize]
    }

    /// The letter painted on the foam before the zone's number: T, S (slope), W, U, F (soffit: a face from below).
    #[must_use]
    pub const fn letter(self) -> char {
        ['T', 'S', 'W', 'U', 'F'][self as usize]
    }
}

impl fmt::Display for Class {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// The four leans that part the five classes, rising.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ClassLimits(pub [Angle; 4]);

/// A plate drawn at 75 degrees arrives as 75.0000001 after a turn; nobody measures a thousandth of a degree.
const SNAP: f64 = 0.001 * std::f64::consts::PI / 180.0;

impl ClassLimits {
    /// The class of a lean. A lean on a limit, or within 0.001 degrees of it, belongs to the class below.
    ///
    /// ```
    /// use cragskin_geom::{lean::{Class, ClassLimits}, units::Angle};
    /// let limits = ClassLimits([30.0, 75.0, 100.0, 135.0].map(Angle::from_degrees));
    /// assert_eq!(limits.class(Angle::from_degrees(90.0)), Class::Wall);
    /// assert_eq!(limits.class(Angle::from_degrees(75.0)), Class::Slope);
    /// ```
    #[must_use]
    pub fn class(&self, lean: Angle) -> Class {
        Class::ALL[self.0.iter().filter(|limit| lean.radians() > limit.radians() + SNAP).count()]
    }

    /// How far a lean is from the nearest limit.
    #[must_use]
    pub fn distance(&self, lean: Angle) -> Angle {
        self.0.iter().map(|&limit| (lean - limit).abs()).fold(Angle::from_degrees(360.0), Angle::min)
    }
}
