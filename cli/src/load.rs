//! Path to bytes to a drawing, and the drawing into the room; adds the file's name to every error.

use crate::args::PlacingFlags;
use crate::failure::Failure;
use crate::job::{Control, Job, SignedAxis};
use crate::report::look::{HOW_TO_CHOOSE, unit_table, unit_table_text};
use cragskin_geom::drawing::{Axis, Drawing, Placing};
use cragskin_geom::intake;
use cragskin_geom::units::ModelUnit;
use std::path::Path;

/// A file read and welded.
#[derive(Debug)]
pub struct Loaded {
    /// The name as shown: the last part of the path.
    pub name: String,
    /// The welded file.
    pub drawing: Drawing,
}

/// Reads a model.
///
/// # Errors
/// When the file cannot be read or is not a model.
pub fn model(path: &Path) -> Result<Loaded, Failure> {
    parse(path, &bytes(path)?)
}

/// A model from its bytes; `path` only names it.
///
/// # Errors
/// When the bytes are not a model.
pub fn parse(path: &Path, bytes: &[u8]) -> Result<Loaded, Failure> {
    let name = path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned());
    let soup = intake::read(bytes, None).map_err(|error| Failure::new(format!("{name}: {error}")))?;
    let drawing = Drawing::from_soup(soup).map_err(|error| Failure::new(format!("{name}: {error}")))?;
    Ok(Loaded { name, drawing })
}

/// Reads a file whole.
///
/// # Errors
/// When it cannot be read.
pub fn bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    std::fs::read(path).map_err(|error| {
        Failure::new(format!("{} cannot be read: {error}", path.display()))
            .hint("check the path; `ls` the folder to see the name as it is written")
    })
}

/// Reads a text file.
///
/// # Errors
/// When it cannot be read or is not UTF-8.
pub fn text(path: &Path) -> Result<String, Failure> {
    String::from_utf8(bytes(path)?).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        Failure::new(format!("{} is not UTF-8 text (byte {at})", path.display()))
            .hint("save it again as plain UTF-8 text")
    })
}

/// How a file is to be placed, as far as the flags or the job say.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlacingWords {
    /// Stated unit.
    pub unit: Option<ModelUnit>,
    /// A known length along a file axis.
    pub control: Option<Control>,
    /// Up.
    pub up: Option<SignedAxis>,
    /// Front.
    pub front: Option<SignedAxis>,
}

impl From<&PlacingFlags> for PlacingWords {
    fn from(flags: &PlacingFlags) -> Self {
        Self { unit: flags.units.map(|units| units.0), control: flags.control, up: flags.up, front: flags.front }
    }
}

impl From<&Job> for PlacingWords {
    fn from(job: &Job) -> Self {
        Self { unit: job.units, control: job.control, up: Some(job.up), front: Some(job.front) }
    }
}

impl PlacingWords {
    /// These words where said, else the others. A new up without a front drops the other's front.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self {
            unit: self.unit.or(other.unit),
            control: self.control.or(other.control),
            up: self.up.or(other.up),
            front: self.front.or(if self.up.is_some() { None } else { other.front }),
        }
    }

    /// Up: +Z unless said otherwise.
    #[must_use]
    pub fn up(&self) -> Axis {
        axis(self.up.unwrap_or(Job::UP))
    }

    /// Front: -Y unless said otherwise; with Y up, visitors stand at +Z.
    #[must_use]
    pub fn front(&self) -> Axis {
        match (self.front, self.up().index) {
            (Some(front), _) => axis(front),
            (None, 1) => Axis::PLUS_Z,
            (None, _) => axis(Job::FRONT),
        }
    }

    /// Settles the unit from the stated one, from the control length, or from both.
    ///
    /// # Errors
    /// When a control length fits no unit.
    pub fn settle(&self, drawing: &Drawing) -> Result<Settled, Failure> {
        let Some(Control { axis, length }) = self.control else {
            return Ok(Settled { unit: self.unit, notes: Vec::new() });
        };
        let name = axis.to_string();
        let share = |unit: ModelUnit| drawing.size()[axis as usize] * unit.one().metres() / length.metres();
        if let Some(unit) = self.unit {
            let fits = (share(unit) - 1.0).abs() <= CONTROL_WITHIN;
            let notes = if fits {
                vec![format!(
                    "control length fits: {name} is {length}, read in {} the model has {:.1} % of it",
                    unit.symbol(),
                    100.0 * share(unit)
                )]
            } else {
                vec![format!(
                    "WARNING: in {} the model is {:.0} % of the control length {length} along {name}: is the unit right?",
                    unit.symbol(),
                    100.0 * share(unit)
                )]
            };
            return Ok(Settled { unit: Some(unit), notes });
        }
        let best = ModelUnit::ALL.into_iter().min_by(|a, b| (share(*a).ln().abs()).total_cmp(&share(*b).ln().abs()));
        match best {
            Some(unit) if (share(unit) - 1.0).abs() <= CONTROL_WITHIN => Ok(Settled {
                unit: Some(unit),
                notes: vec![format!(
                    "unit taken from the control length: {name} = {length} makes one file unit {} ({:.1} % of it)",
                    unit.symbol(),
                    100.0 * share(unit)
                )],
            }),
            _ => {
                let shares: Vec<String> =
                    ModelUnit::ALL.iter().map(|u| format!("{} {:.3} %", u.symbol(), 100.0 * share(*u))).collect();
                Err(Failure::new(format!(
                    "the control length {length} along {name} fits no unit; the model is {} of it",
                    shares.join(", ")
                ))
                .hint("was the file scaled to fit? Measure again along the whole model, or give --units"))
            }
        }
    }
}

/// A control length is met within two parts in a hundred: a tape over rock, or a wall drawn with its skin.
const CONTROL_WITHIN: f64 = 0.02;

/// A unit, if it is known, and how it came to be.
#[derive(Clone, Debug, PartialEq)]
pub struct Settled {
    /// The unit.
    pub unit: Option<ModelUnit>,
    /// What to tell.
    pub notes: Vec<String>,
}

impl Settled {
    /// The placing, if the unit is known.
    #[must_use]
    pub fn placing(&self, words: &PlacingWords) -> Option<Placing> {
        self.unit.map(|unit| Placing { unit, up: words.up(), front: words.front() })
    }
}

/// The direction in the geometry's own words.
pub(crate) fn axis(signed: SignedAxis) -> Axis {
    Axis { index: signed.axis as usize, negative: !signed.positive }
}

/// The refusal to measure a file whose unit nobody has said, with the unit table.
#[must_use]
pub fn no_unit(file: &str, size: [f64; 3]) -> Failure {
    let table = unit_table_text(&unit_table(size));
    Failure::new(format!("{file}: the unit is not known, so nothing is counted. The whole is\n{table}"))
        .hint(HOW_TO_CHOOSE)
}
