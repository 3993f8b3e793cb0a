//! The five lean classes as a book writes them, and one value for each.

use std::{ops::Index, str::FromStr};

use crate::settings::ValueError;

pub use cragskin_geom::lean::{Class, ClassLimits};

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
