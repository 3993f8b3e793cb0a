//! Path to bytes to a drawing, and the drawing into the room; adds the file's name to every error.

use crate::args::PlacingFlags;
use crate::failure::Failure;
use crate::job::{self, Control, Job, SignedAxis};
use crate::notices::unit_witnesses;
use crate::ours::nothing_left;
use crate::report::look::{HOW_TO_CHOOSE, unit_table, unit_table_text};
use crate::report::table::{plain, wrapped};
use cragskin_geom::drawing::{Axis, Drawing, Placing};
use cragskin_geom::glimpse::Glimpse;
use cragskin_geom::intake::{self, ReadError};
use cragskin_geom::scope::Scope;
use cragskin_geom::soundness::Sheets;
use cragskin_geom::units::{Length, ModelUnit, feet_inches, metric_length};
use std::path::Path;

/// A file read and welded.
#[derive(Debug)]
pub struct Loaded {
    /// The name as shown: the last part of the path.
    pub name: String,
    /// The welded file.
    pub drawing: Drawing,
}

/// Reads a model without the parts that a scope leaves out.
///
/// # Errors
/// When the file cannot be read or is not a model.
pub fn model(path: &Path, scope: &Scope, words: &PlacingWords) -> Result<Loaded, Failure> {
    parse(path, &bytes(path)?, scope, words)
}

/// A model from its bytes, without the parts that a scope leaves out, scaled if that is asked; `path` only names it.
///
/// # Errors
/// When the bytes are not a model, no part is left, or it cannot be scaled as asked.
pub fn parse(path: &Path, bytes: &[u8], scope: &Scope, words: &PlacingWords) -> Result<Loaded, Failure> {
    let name = path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned());
    let soup = intake::read(bytes, None).map_err(|error| match error {
        // Commands that read a job have read it by now; the others were given it in the place of its model.
        ReadError::NotAModel { .. } if path.extension().is_some_and(|ending| ending == "toml") => {
            Failure::of_file(&name, "this is a job or a book, not a model").hint("name the model that it speaks of")
        }
        error => Failure::of_file(&name, error),
    })?;
    let left_out = scope.absent_parts(&soup.parts);
    if !left_out.contains(&false) {
        return Err(nothing_left(&name));
    }
    let drawing = Drawing::without_parts(soup, &left_out).map_err(|error| Failure::of_file(&name, error))?;
    let factor = words.scale(&drawing).map_err(|why| Failure::of_file(&name, why).hint(SCALE_HINT))?;
    let drawing = match factor {
        Some(factor) => drawing.scaled(factor),
        None => drawing,
    };
    Ok(Loaded { name, drawing })
}

/// Reads a file whole.
///
/// # Errors
/// When it cannot be read.
pub fn bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let failed = |error: std::io::Error| {
        Failure::new(format!("{} cannot be read: {error}", shown(path)))
            .hint("check the path; `ls` the folder to see the name as it is written")
    };
    // Asked before it is opened: opening a pipe waits for a writer, and a device may never end.
    let facts = std::fs::metadata(path).map_err(failed)?;
    if facts.is_dir() {
        return Err(Failure::new(format!("{} cannot be read: it is a folder", shown(path)))
            .hint("name a file in it; `cragskin batch FOLDER` takes all of its models"));
    }
    if !facts.is_file() {
        return Err(Failure::new(format!("{} cannot be read: it is a device or a pipe, not a file", shown(path)))
            .hint("save what comes out of it as a file first, and name that file"));
    }
    std::fs::read(path).map_err(failed)
}

/// A path for people, its control characters escaped.
#[must_use]
pub fn shown(path: &Path) -> String {
    plain(&path.display().to_string())
}

/// Named as a model, of the kinds that designers send.
fn is_model(path: &Path) -> bool {
    let is =
        |end: &std::ffi::OsStr| ["stl", "obj", "ply", "3mf", "glb"].iter().any(|model| end.eq_ignore_ascii_case(model));
    path.extension().is_some_and(is)
}

/// Reads a text file.
///
/// # Errors
/// When it cannot be read or is not UTF-8.
pub fn text(path: &Path) -> Result<String, Failure> {
    if is_model(path) && std::fs::metadata(path).is_ok_and(|it| it.is_file()) {
        return Err(Failure::new(format!("{} is a model, and a book or a job is wanted here", shown(path)))
            .hint("a model is named first, `cragskin takeoff MODEL --book BOOK.toml`"));
    }
    String::from_utf8(bytes(path)?).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        Failure::new(format!("{} is not UTF-8 text (byte {at})", shown(path))).hint("save it again as plain UTF-8 text")
    })
}

/// How a file is to be placed, as far as the flags or the job say.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlacingWords {
    /// Stated unit.
    pub unit: Option<ModelUnit>,
    /// A known length along a file axis.
    pub control: Option<Control>,
    /// A length along a file axis that the model is scaled to.
    pub scale_to: Option<Control>,
    /// Up.
    pub up: Option<SignedAxis>,
    /// Front.
    pub front: Option<SignedAxis>,
}

impl From<&PlacingFlags> for PlacingWords {
    fn from(flags: &PlacingFlags) -> Self {
        let PlacingFlags { units, control, scale_to, up, front } = *flags;
        Self { unit: units.map(|units| units.0), control, scale_to, up, front }
    }
}

impl From<&Job> for PlacingWords {
    fn from(job: &Job) -> Self {
        let Job { units: unit, control, scale_to, up, front, .. } = *job;
        Self { unit, control, scale_to, up, front }
    }
}

impl PlacingWords {
    /// These words where said, else the others. A new up without a front drops the other's front.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self {
            unit: self.unit.or(other.unit),
            control: self.control.or(other.control),
            scale_to: self.scale_to.or(other.scale_to),
            up: self.up.or(other.up),
            front: self.front.or(if self.up.is_some() { None } else { other.front }),
        }
    }

    /// The unit of the file as a word: `scaled` when it has none and a length was given to scale it to.
    #[must_use]
    pub fn unit_word(&self, settled: ModelUnit) -> &'static str {
        if self.is_scaled() { "scaled" } else { settled.symbol() }
    }

    /// No unit is stated, and the model is scaled to a length.
    #[must_use]
    pub fn is_scaled(&self) -> bool {
        self.scale_to.is_some() && self.unit.is_none()
    }

    /// Up: +Z unless said otherwise.
    #[must_use]
    pub fn up(&self) -> Axis {
        self.up.unwrap_or(Job::UP).into()
    }

    /// Front: -Y unless said otherwise; with Y up, visitors stand at +Z.
    #[must_use]
    pub fn front(&self) -> Axis {
        self.signed_front().into()
    }

    /// Front in the words of a job file.
    #[must_use]
    pub fn signed_front(&self) -> SignedAxis {
        match (self.front, self.up().index) {
            (Some(front), _) => front,
            (None, 1) => SignedAxis::plus(job::Axis::Z),
            (None, _) => Job::FRONT,
        }
    }

    /// The factor that makes metres of file units, where a length to scale to is given in place of a unit.
    fn scale(&self, drawing: &Drawing) -> Result<Option<f64>, String> {
        let Some(scale_to @ Control { axis, length }) = self.scale_to else { return Ok(None) };
        let size = drawing.size()[axis as usize];
        match self.unit {
            Some(unit) => {
                let share = size * unit.one().metres() / length.metres();
                if (share - 1.0).abs() <= CONTROL_WITHIN {
                    return Ok(None);
                }
                let share = 100.0 * share;
                Err(format!(
                    "the unit {} and `scale to {scale_to}` contradict: in {0} the model is {share:.1} % of it",
                    unit.symbol()
                ))
            }
            None if size > 0.0 => Ok(Some(length.metres() / size)),
            None => Err(format!("the model is flat along {axis}, so it cannot be scaled to {scale_to}")),
        }
    }

    /// Settles the unit from the stated one, from the control length, or from both.
    ///
    /// # Errors
    /// When a control length fits no unit.
    pub fn settle(&self, drawing: &Drawing) -> Result<Settled, Failure> {
        // A drawing that was scaled is in metres.
        let scaled = self.scale_to.filter(|_| self.unit.is_none());
        let unit = if scaled.is_some() { Some(ModelUnit::Metre) } else { self.unit };
        let mut notes: Vec<String> = scaled.iter().map(|scale_to| scaled_note(*scale_to, drawing)).collect();
        let Some(control) = self.control else { return Ok(Settled { unit, notes }) };
        let mut settled = settle_by(control, unit, scaled.is_some(), drawing)?;
        notes.append(&mut settled.notes);
        Ok(Settled { notes, ..settled })
    }
}

/// What stands on every page of a model that was scaled.
fn scaled_note(scale_to: Control, drawing: &Drawing) -> String {
    let one = feet_inches(Length::from_metres(drawing.scale()));
    format!(
        "SCALED: the file has no sensible unit; it is scaled so that {scale_to}, which makes one file unit {} ({one}). Every figure \
         follows from that one length.",
        metric_length(Length::from_metres(drawing.scale())),
    )
}

/// The unit by a control length, or how well a known unit fits it.
fn settle_by(control: Control, unit: Option<ModelUnit>, scaled: bool, drawing: &Drawing) -> Result<Settled, Failure> {
    {
        let Control { axis, length } = control;
        let read = |unit: ModelUnit| if scaled { "as scaled".to_owned() } else { format!("read in {}", unit.plural()) };
        let name = axis.to_string();
        let share = |unit: ModelUnit| drawing.size()[axis as usize] * unit.one().metres() / length.metres();
        if let Some(unit) = unit {
            let fits = (share(unit) - 1.0).abs() <= CONTROL_WITHIN;
            let notes = if fits {
                vec![format!(
                    "control length fits: {name} should be {length}; {} the model is {:.1} % of that",
                    read(unit),
                    100.0 * share(unit)
                )]
            } else {
                vec![format!(
                    "WARNING: {} the model is {:.0} % of the control length {length} along {name}: is the unit right?",
                    read(unit),
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
                .hint(format!(
                    "was the file scaled to fit? Measure again along the whole model, give --units, or --scale-to \"{control}\" to \
                     scale it to that length"
                )))
            }
        }
    }
}

const SCALE_HINT: &str =
    "leave out --units (or `units` in the job) to scale the model, or leave out --scale-to to read it in that unit";

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

/// The refusal to measure a file whose unit nobody has said, with the unit table and what a scale figure says.
#[must_use]
pub fn no_unit(file: &str, drawing: Drawing, words: &PlacingWords) -> Failure {
    let table = unit_table_text(&unit_table(drawing.size()));
    let names = drawing.parts().to_vec();
    let figures = Glimpse::new(drawing, words.up(), words.front(), Sheets::Ask)
        .map(|glimpse| glimpse.figures)
        .unwrap_or_default();
    let witness = unit_witnesses(&figures, &names).into_iter().map(|finding| wrapped("", &plain(&finding.text)));
    Failure::of_file(file, "the unit is not known, so nothing is counted")
        .detail(&(format!("The whole is\n{table}") + &witness.collect::<String>()))
        .hint(HOW_TO_CHOOSE)
}
