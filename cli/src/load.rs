//! Path to bytes to a drawing, and the drawing into the room; adds the file's name to every error.

use crate::args::PlacingFlags;
use crate::failure::Failure;
use cragskin_geom::drawing::{Axis, Drawing, Placing};
use cragskin_geom::intake;
use cragskin_geom::units::{Length, ModelUnit};
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
    let name = path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned());
    let bytes = bytes(path)?;
    let soup = intake::read(&bytes, None).map_err(|error| Failure::new(format!("{name}: {error}")))?;
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

/// What the words of the placing flags say, before the model is known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlacingWords {
    /// Stated unit.
    pub unit: Option<ModelUnit>,
    /// Control length along a file axis.
    pub control: Option<(usize, Length)>,
    /// Up.
    pub up: Option<Axis>,
    /// Front.
    pub front: Option<Axis>,
}

impl PlacingWords {
    /// Reads the flags.
    ///
    /// # Errors
    /// When a word is not one of those taken.
    pub fn read(flags: &PlacingFlags) -> Result<Self, Failure> {
        Ok(Self {
            unit: flags.units.as_deref().map(unit).transpose()?,
            control: flags.control.as_deref().map(control).transpose()?,
            up: flags.up.as_deref().map(|word| axis("--up", word)).transpose()?,
            front: flags.front.as_deref().map(|word| axis("--front", word)).transpose()?,
        })
    }

    /// These words where said, else the others.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self {
            unit: self.unit.or(other.unit),
            control: self.control.or(other.control),
            up: self.up.or(other.up),
            front: self.front.or(other.front),
        }
    }

    /// Up: +Z unless said otherwise.
    #[must_use]
    pub fn up(&self) -> Axis {
        self.up.unwrap_or(Axis::PLUS_Z)
    }

    /// Front: -Y unless said otherwise; with Y up, visitors stand at +Z.
    #[must_use]
    pub fn front(&self) -> Axis {
        self.front.unwrap_or_else(|| match self.up() {
            Axis { index: 1, negative } => Axis { index: 2, negative },
            _ => Axis::MINUS_Y,
        })
    }

    /// Settles the unit from the stated one, from the control length, or from both.
    ///
    /// # Errors
    /// When a control length fits no unit.
    pub fn settle(&self, drawing: &Drawing) -> Result<Settled, Failure> {
        let Some((axis, length)) = self.control else {
            return Ok(Settled { unit: self.unit, notes: Vec::new() });
        };
        let name = ["x", "y", "z"][axis];
        let share = |unit: ModelUnit| drawing.size()[axis] * unit.one().metres() / length.metres();
        if let Some(unit) = self.unit {
            let fits = (share(unit) - 1.0).abs() <= CONTROL_WITHIN;
            let notes = if fits {
                vec![format!(
                    "control length fits: {name} is {length}, the model in {} gives {:.1} % of it",
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

/// `mm`, `cm`, `m`, `in`, `ft` and their names.
///
/// # Errors
/// When the word is none of these.
pub fn unit(word: &str) -> Result<ModelUnit, Failure> {
    Ok(match word.trim().to_lowercase().as_str() {
        "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => ModelUnit::Millimetre,
        "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => ModelUnit::Centimetre,
        "m" | "metre" | "metres" | "meter" | "meters" => ModelUnit::Metre,
        "in" | "inch" | "inches" | "\"" => ModelUnit::Inch,
        "ft" | "foot" | "feet" | "'" => ModelUnit::Foot,
        _ => {
            return Err(Failure::new(format!("`{word}` is not a unit this program knows"))
                .hint("--units takes mm, cm, in, ft or m"));
        }
    })
}

/// `+z`, `-y`, `x` (which is `+x`).
fn axis(flag: &str, word: &str) -> Result<Axis, Failure> {
    let lower = word.trim().to_lowercase();
    let (negative, letter) = match lower.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, lower.strip_prefix('+').unwrap_or(&lower)),
    };
    ["x", "y", "z"].iter().position(|name| *name == letter).map(|index| Axis { index, negative }).ok_or_else(|| {
        Failure::new(format!("{flag}: `{word}` is not an axis")).hint(format!("{flag} takes +x, -x, +y, -y, +z or -z"))
    })
}

/// `x=13 ft 9 in`.
fn control(words: &str) -> Result<(usize, Length), Failure> {
    let wrong = |why: String| {
        Failure::new(format!("--control \"{words}\": {why}"))
            .hint("write a file axis and the length you know along the whole model: --control \"x=13 ft 9 in\"")
    };
    let (name, length) = words.split_once('=').ok_or_else(|| wrong("no `=` in it".to_owned()))?;
    let axis = ["x", "y", "z"]
        .iter()
        .position(|axis| *axis == name.trim().to_lowercase())
        .ok_or_else(|| wrong(format!("`{}` is not x, y or z", name.trim())))?;
    let length: Length = length.trim().parse().map_err(|error| wrong(format!("{error}")))?;
    if length <= Length::ZERO {
        return Err(wrong("a control length must be more than nothing".to_owned()));
    }
    Ok((axis, length))
}
