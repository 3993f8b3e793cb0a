//! The job: one model, how to read it, what of it is coated, and what must not be passed.
//!
//! A job is TOML and replays on the next revision of the model. The same values are taken as flags, so every one of
//! them reads from text by itself.

mod axis;
mod limit;
mod scope;
mod starter;

pub use cragskin_geom::soundness::Sheets;
use cragskin_geom::units::{Length, ModelUnit};

pub use axis::{Axis, Control, SignedAxis};
pub use limit::{Comparison, Limit, NOT_COMPARED};
pub use scope::{Faces, Rule, Scope, Settled, State, lines};
pub use starter::{Starter, starter_job};

use crate::settings::{self, Faults, Reader, ValueError, words};

/// Which face the designer drew.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Face {
    /// What visitors see; the core is cut smaller.
    #[default]
    Finished,
    /// What the foam shop cuts; the skin comes on top.
    Core,
}
words! { Face { "finished" = Finished, "core" = Core } }

/// The plane that an open facade is closed against, so that a core can be cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Close {
    /// Straight back, to the farthest point from the visitor.
    Back,
    /// Straight down, to the lowest point.
    Floor,
}
words! { Close { "back" = Back, "floor" = Floor } }

/// The unit of a model file, written `mm`, `cm`, `m`, `in` or `ft`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Units(pub ModelUnit);

impl std::str::FromStr for Units {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        let unit = match text.trim().to_lowercase().as_str() {
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => ModelUnit::Millimetre,
            "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => ModelUnit::Centimetre,
            "m" | "metre" | "metres" | "meter" | "meters" => ModelUnit::Metre,
            "in" | "inch" | "inches" => ModelUnit::Inch,
            "ft" | "foot" | "feet" => ModelUnit::Foot,
            _ => return Err(ValueError(format!("`{text}` is no model unit; they are mm, cm, m, in, ft"))),
        };
        Ok(Self(unit))
    }
}

/// Skin thickness set by hand, past the book.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct SkinOverride(pub Length);

impl std::str::FromStr for SkinOverride {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        if text.trim_start().starts_with('-') {
            return Err(ValueError(format!("`{text}`: a skin is more than nothing; write for example `3/4 in`")));
        }
        let length: Length = text.parse().map_err(|e| ValueError(format!("{e}")))?;
        if (Length::from_inches(0.0625)..=Length::from_feet(1.0)).contains(&length) {
            return Ok(Self(length));
        }
        Err(ValueError(format!("a skin of {length} cannot be meant; from 1/16 in to 1 ft is taken")))
    }
}

/// A job, as written.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// Name for the page.
    pub name: String,
    /// Model file, relative to the job file.
    pub model: String,
    /// Unit of the model file, where it is known.
    pub units: Option<ModelUnit>,
    /// The model's up, where the job says it.
    pub up: Option<SignedAxis>,
    /// The side that visitors see, where the job says it.
    pub front: Option<SignedAxis>,
    /// A length known from drawings.
    pub control: Option<Control>,
    /// A length that the model is scaled to, where no unit fits.
    pub scale_to: Option<Control>,
    /// Material book, relative to the job file; the default book without.
    pub book: Option<String>,
    /// Which face was drawn.
    pub face: Face,
    /// Thickness set by hand.
    pub skin: Option<Length>,
    /// The plane that open sheets are closed against.
    pub close: Option<Close>,
    /// Which side of open sheets is coated.
    pub sheets: Sheets,
    /// What is coated and what is bare.
    pub scope: Scope,
    /// What must not be passed.
    pub limits: Vec<Limit>,
}

impl Job {
    /// Up, unless told otherwise.
    pub const UP: SignedAxis = SignedAxis::plus(Axis::Z);
    /// Front, unless told otherwise.
    pub const FRONT: SignedAxis = SignedAxis::minus(Axis::Y);

    /// Reads a job; `file` is its name in messages.
    ///
    /// # Errors
    /// All faults at once, each with its line.
    pub fn read(text: &str, file: &str) -> Result<Self, Faults> {
        settings::parse(text, file, "job file", Self::fill)
    }

    fn fill(r: &mut Reader<'_>) -> Self {
        fn some<T>(pair: Option<(T, std::ops::Range<usize>)>) -> Option<T> {
            pair.map(|(value, _)| value)
        }
        let stated_up = some(r.get("job.up"));
        let up = stated_up.unwrap_or(Self::UP);
        // Checked here, where the line is known: the visitor does not stand above or below.
        let front = r.get::<SignedAxis>("job.front");
        if let Some((front, span)) = &front
            && front.axis == up.axis
        {
            r.fault(span.clone(), format!("job.front: {front} lies along up ({up}); name a side of the model"));
        }
        Self {
            name: some(r.get("job.name")).unwrap_or_default(),
            model: r.require("job.model").unwrap_or_default(),
            units: some(r.get::<Units>("job.units")).map(|u| u.0),
            up: stated_up,
            front: some(front),
            control: some(r.get("job.control")),
            scale_to: some(r.get("job.scale_to")),
            book: some(r.get("job.book")),
            face: some(r.get("model.face")).unwrap_or_default(),
            skin: some(r.get::<SkinOverride>("model.skin")).map(|s| s.0),
            close: some(r.get("model.close")),
            sheets: some(r.get("model.sheets")).unwrap_or_default(),
            scope: Scope::fill(r),
            limits: limits(r),
        }
    }
}

fn limits(r: &mut Reader<'_>) -> Vec<Limit> {
    r.list("limits.rules").map_or_else(Vec::new, |(list, _)| list.into_iter().map(|(limit, _)| limit).collect())
}

/// Reads a file that holds the `[limits]` of a job and nothing else; `file` is its name in messages.
///
/// # Errors
/// All faults at once, each with its line.
pub fn read_limits(text: &str, file: &str) -> Result<Vec<Limit>, Faults> {
    settings::parse(text, file, "limits file", limits)
}

#[cfg(test)]
mod tests;
