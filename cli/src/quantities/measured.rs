//! A figure and what it is worth.

use std::fmt;

use serde::Serialize;

/// What a figure is worth, with the reason in plain words where it is less than good.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "is", content = "reason", rename_all = "snake_case")]
pub enum Quality {
    /// Stands as it is.
    Good,
    /// The true figure is this or more.
    LowerBound(String),
    /// The true figure is this or less.
    UpperBound(String),
    /// There is no such figure.
    NotDefined(String),
}

impl fmt::Display for Quality {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Good => f.write_str("good"),
            Self::LowerBound(why) => write!(f, "lower bound: {why}"),
            Self::UpperBound(why) => write!(f, "upper bound: {why}"),
            Self::NotDefined(why) => write!(f, "not defined: {why}"),
        }
    }
}

fn both(a: String, b: &str) -> String {
    if a.contains(b) { a } else { format!("{a}; {b}") }
}

impl Quality {
    /// Of a figure that grows with two others.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        use Quality::{Good, LowerBound, NotDefined, UpperBound};
        match (self, other) {
            (Good, q) | (q, Good) => q,
            (NotDefined(a), NotDefined(b)) => NotDefined(both(a, &b)),
            (NotDefined(a), _) | (_, NotDefined(a)) => NotDefined(a),
            (LowerBound(a), LowerBound(b)) => LowerBound(both(a, &b)),
            (UpperBound(a), UpperBound(b)) => UpperBound(both(a, &b)),
            (LowerBound(a), UpperBound(b)) | (UpperBound(b), LowerBound(a)) => {
                NotDefined(format!("one part may be too low ({a}), another too high ({b})"))
            }
        }
    }
}

/// A figure with its quality; a figure that is not defined has no value to misuse.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured<T> {
    value: Option<T>,
    quality: Quality,
}

impl<T> Measured<T> {
    /// A figure that stands as it is.
    pub const fn good(value: T) -> Self {
        Self { value: Some(value), quality: Quality::Good }
    }

    /// A figure of the given quality; `NotDefined` drops the value.
    pub fn new(value: T, quality: Quality) -> Self {
        let defined = !matches!(quality, Quality::NotDefined(_));
        Self { value: defined.then_some(value), quality }
    }

    /// No figure, and why.
    pub fn not_defined(why: impl Into<String>) -> Self {
        Self { value: None, quality: Quality::NotDefined(why.into()) }
    }

    /// The value, if there is one.
    pub const fn value(&self) -> Option<&T> {
        self.value.as_ref()
    }

    /// What it is worth.
    pub const fn quality(&self) -> &Quality {
        &self.quality
    }

    pub(super) fn parts(self) -> (Option<T>, Quality) {
        (self.value, self.quality)
    }

    /// A figure that grows with this one.
    pub fn map<U>(&self, f: impl FnOnce(&T) -> U) -> Measured<U> {
        Measured { value: self.value.as_ref().map(f), quality: self.quality.clone() }
    }

    /// Both together, worth the lesser.
    pub fn zip<U: Clone>(&self, other: &Measured<U>) -> Measured<(T, U)>
    where
        T: Clone,
    {
        let quality = self.quality.clone().and(other.quality.clone());
        let value = match quality {
            Quality::NotDefined(_) => None,
            _ => self.value.clone().zip(other.value.clone()),
        };
        Measured { value, quality }
    }

    /// The same figure where it divides: too low there makes the result too high.
    #[must_use]
    pub fn as_divisor(self) -> Self {
        let quality = match self.quality {
            Quality::LowerBound(why) => Quality::UpperBound(why),
            Quality::UpperBound(why) => Quality::LowerBound(why),
            other => other,
        };
        Self { quality, ..self }
    }
}
