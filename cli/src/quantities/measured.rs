//! A figure and what it is worth.

use std::fmt;

/// How far a figure can be trusted, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// Stands as it is.
    Good,
    /// The true figure is this or more.
    LowerBound,
    /// The true figure is this or less.
    UpperBound,
    /// There is no such figure.
    NotDefined,
}

impl Grade {
    /// `good`, `lower bound`, `upper bound`, `not defined`.
    #[must_use]
    pub const fn words(self) -> &'static str {
        ["good", "lower bound", "upper bound", "not defined"][self as usize]
    }
}

/// A grade and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quality {
    /// The grade.
    pub grade: Grade,
    /// Why, in plain words; empty when good.
    pub reason: String,
}

impl fmt::Display for Quality {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.reason.as_str() {
            "" => f.write_str(self.grade.words()),
            reason => write!(f, "{}: {reason}", self.grade.words()),
        }
    }
}

impl Quality {
    /// Good.
    #[must_use]
    pub const fn good() -> Self {
        Self { grade: Grade::Good, reason: String::new() }
    }

    /// Anything else, with its reason.
    #[must_use]
    pub fn new(grade: Grade, reason: impl Into<String>) -> Self {
        Self { grade, reason: reason.into() }
    }

    /// Of a figure that grows with two others: the worse of two. A bound both ways is not defined.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        match (self.grade, other.grade) {
            (Grade::LowerBound, Grade::UpperBound) | (Grade::UpperBound, Grade::LowerBound) => {
                Self::new(Grade::NotDefined, format!("{}; {}", self.reason, other.reason))
            }
            (a, b) if b > a => other,
            _ => self,
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
        Self { value: Some(value), quality: Quality::good() }
    }

    /// A figure of the given quality; `NotDefined` drops the value.
    pub fn new(value: T, quality: Quality) -> Self {
        let defined = quality.grade != Grade::NotDefined;
        Self { value: defined.then_some(value), quality }
    }

    /// No figure, and why.
    pub fn not_defined(why: impl Into<String>) -> Self {
        Self { value: None, quality: Quality::new(Grade::NotDefined, why) }
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
        let value = self.value.clone().zip(other.value.clone()).filter(|_| quality.grade != Grade::NotDefined);
        Measured { value, quality }
    }

    /// The same figure where it divides: too low there makes the result too high.
    #[must_use]
    pub fn as_divisor(self) -> Self {
        let grade = match self.quality.grade {
            Grade::LowerBound => Grade::UpperBound,
            Grade::UpperBound => Grade::LowerBound,
            other => other,
        };
        Self { quality: Quality { grade, ..self.quality }, ..self }
    }
}
