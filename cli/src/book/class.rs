//! The five lean classes.

use std::{fmt, ops::Index, str::FromStr};

use cragskin_geom::units::Angle;

use crate::settings::ValueError;

/// A class of lean, in order from facing up to facing down.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Class {
    /// Mix lies there by itself.
    Top,
    /// Trowel work.
    Slope,
    /// Near plumb.
    Wall,
    /// Hangs out: own weight pulls the fresh skin off.
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
}

impl fmt::Display for Class {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// A class as written.
pub(super) struct Written(pub(super) Class);

impl FromStr for Written {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        Class::ALL
            .into_iter()
            .find(|c| c.name() == text.trim())
            .map(Self)
            .ok_or_else(|| ValueError(format!("`{text}` is no class; they are top, slope, wall, undercut, soffit")))
    }
}

/// One value for each class.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PerClass<T>(pub [T; 5]);

impl<T> Index<Class> for PerClass<T> {
    type Output = T;
    fn index(&self, class: Class) -> &T {
        &self.0[class as usize]
    }
}

/// The four leans that part the five classes, rising.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ClassLimits(pub [Angle; 4]);

impl ClassLimits {
    /// The class of a lean; a lean on a limit belongs to the class below it.
    ///
    /// ```
    /// use cragskin::book::{Class, ClassLimits};
    /// use cragskin_geom::units::Angle;
    /// let limits = ClassLimits([30.0, 75.0, 100.0, 135.0].map(Angle::from_degrees));
    /// assert_eq!(limits.class(Angle::from_degrees(90.0)), Class::Wall);
    /// assert_eq!(limits.class(Angle::from_degrees(180.0)), Class::Soffit);
    /// ```
    #[must_use]
    pub fn class(&self, lean: Angle) -> Class {
        Class::ALL[self.0.iter().filter(|&&limit| lean > limit).count()]
    }
}
