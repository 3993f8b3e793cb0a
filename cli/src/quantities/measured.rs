//! A figure and what it is worth.

pub use cragskin_geom::soundness::{Grade, Quality};

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

    /// A figure that grows with this one.
    pub fn map<U>(&self, f: impl FnOnce(&T) -> U) -> Measured<U> {
        Measured { value: self.value.as_ref().map(f), quality: self.quality.clone() }
    }

    /// The same figure, worth what `doubt` makes of its quality.
    #[must_use]
    pub fn doubted(self, doubt: impl FnOnce(Quality) -> Quality) -> Self {
        match self.value {
            Some(value) => Self::new(value, doubt(self.quality)),
            None => self,
        }
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
