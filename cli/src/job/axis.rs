//! Directions of the model file and lengths along them.

use std::{fmt, str::FromStr};

use cragskin_geom::units::{Length, feet_inches};

use crate::settings::{ValueError, words};

/// An axis of the model.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Axis {
    /// First coordinate.
    X,
    /// Second coordinate.
    Y,
    /// Third coordinate.
    Z,
}
words! { Axis { "x" = X, "y" = Y, "z" = Z } }

/// A direction along an axis: `+z`, `-y`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SignedAxis {
    /// Along which axis.
    pub axis: Axis,
    /// Towards larger coordinates?
    pub positive: bool,
}

impl SignedAxis {
    /// Towards larger coordinates.
    #[must_use]
    pub const fn plus(axis: Axis) -> Self {
        Self { axis, positive: true }
    }

    /// Towards smaller coordinates.
    #[must_use]
    pub const fn minus(axis: Axis) -> Self {
        Self { axis, positive: false }
    }

    /// Unit vector.
    #[must_use]
    pub fn vector(self) -> [f64; 3] {
        let mut v = [0.0; 3];
        v[self.axis as usize] = if self.positive { 1.0 } else { -1.0 };
        v
    }
}

impl From<SignedAxis> for cragskin_geom::drawing::Axis {
    fn from(signed: SignedAxis) -> Self {
        Self { index: signed.axis as usize, negative: !signed.positive }
    }
}

impl FromStr for SignedAxis {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        let lower = text.trim().to_lowercase();
        let (positive, rest) = match lower.strip_prefix('-') {
            Some(rest) => (false, rest),
            None => (true, lower.strip_prefix('+').unwrap_or(&lower)),
        };
        let axis = rest
            .parse()
            .map_err(|_| ValueError(format!("`{text}` is no direction; they are +x, -x, +y, -y, +z, -z")))?;
        Ok(Self { axis, positive })
    }
}

impl fmt::Display for SignedAxis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", if self.positive { '+' } else { '-' }, self.axis)
    }
}

/// A length of the whole model known from drawings: `x = 13 ft 9 in`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Control {
    /// Measured along this axis of the file.
    pub axis: Axis,
    /// The length that the drawings give.
    pub length: Length,
}

impl FromStr for Control {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        let Some((axis, length)) = text.split_once('=') else {
            return Err(ValueError(format!("`{text}` is no control length; write for example `x = 13 ft 9 in`")));
        };
        let axis = axis.to_lowercase().parse()?;
        let length: Length = length.parse().map_err(|e| ValueError(format!("{e}")))?;
        if length == Length::ZERO {
            return Err(ValueError("a control length of zero tells nothing".to_string()));
        }
        Ok(Self { axis, length })
    }
}

impl fmt::Display for Control {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} = {}", self.axis, feet_inches(self.length))
    }
}
