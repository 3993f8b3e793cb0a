//! A first job file to edit.

use super::{Control, Job, SignedAxis};
use crate::report::table::is_hidden;
use cragskin_geom::units::ModelUnit;

/// What is known when a job is started; the rest is written as comments to fill in.
#[derive(Clone, Debug, Default)]
pub struct Starter<'a> {
    /// Name for the page.
    pub name: &'a str,
    /// Model file, relative to the job file.
    pub model: &'a str,
    /// Unit of the model, if known.
    pub units: Option<ModelUnit>,
    /// Up, if it was said.
    pub up: Option<SignedAxis>,
    /// The visitors' side, if it was said or follows from up.
    pub front: Option<SignedAxis>,
    /// A length known along a file axis, if one was given.
    pub control: Option<Control>,
    /// A length that the model is scaled to, if one was given.
    pub scale_to: Option<Control>,
    /// Parts of the model, to name in scope rules.
    pub parts: &'a [String],
}

/// A text that TOML reads back as `text`.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if is_hidden(c) => out.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A commented job file.
#[must_use]
pub fn starter_job(start: &Starter<'_>) -> String {
    let units = match start.units {
        Some(unit) => format!("units = \"{}\"", unit.symbol()),
        None => "# units = \"in\"".to_string(),
    };
    let axis = |key: &str, said: Option<SignedAxis>, usual: SignedAxis| match said {
        Some(axis) => format!("{key} = \"{axis}\""),
        None => format!("# {key} = \"{usual}\""),
    };
    let (up, front) = (axis("up", start.up, Job::UP), axis("front", start.front, Job::FRONT));
    let length = |key: &str, said: Option<Control>, example: &str| match said {
        Some(control) => format!("{key} = {}", quoted(&control.to_string())),
        None => format!("# {key} = \"{example}\""),
    };
    let control = length("control", start.control, "x = 13 ft 9 in");
    let scale_to = length("scale_to", start.scale_to, "x = 8 ft");
    let parts: String =
        start.parts.iter().map(|p| format!("# [[scope.part]]\n# name = {}\n# is = \"bare\"\n", quoted(p))).collect();
    let parts = if parts.is_empty() {
        "# [[scope.part]]\n# name = \"BUILDING_WALL\"\n# is = \"left out\"\n".to_string()
    } else {
        parts
    };
    format!(
        r#"# A job: one model, how to read it, what of it is coated. Lengths as you write them: "3/4 in", "1'6\"", "19 mm".

[job]
name = {name}
model = {model}
# The unit the model was drawn in: mm, cm, m, in or ft. The file does not say; nothing is counted without it.
{units}
# Which way is up, and which side the visitor sees, in the model's own axes. Unsaid, +z is up and the visitor at -y.
{up}
{front}
# A length of the whole model that the drawings give: it checks the unit.
{control}
# Where no unit fits because the file was scaled to fit something: the length to scale it to, in place of a unit.
{scale_to}
# The shop's material book; without it the default book is used.
# book = "book.toml"

[model]
# finished: the designer drew what visitors see.  core: what the foam shop cuts.
face = "finished"
# Skin as placed, instead of the book's cover + spread + carve.
# skin = "3/4 in"
# Close an open facade straight back (back) or straight down (floor), so that a core can be cut.
# close = "back"
# Which side of open sheets is coated: "as drawn", or "outward" (one drawn inward or away from the visitor is turned over).
# sheets = "as drawn"

[scope]
# bare, coated, or ask (both figures are shown until you settle it).
floor = "ask"
back = "ask"
# What faces down near the floor without lying on it, where no tool reaches; asked about when there is much of it.
# underside = "bare"

# Rules for more; a later rule wins. What is left out is as if it were not in the file. Places are measured on the model
# as it stands, z up and the visitor at -y, from the lower front left corner of all but the parts left out by name. A plane rule finds flat faces that look along `facing`.
# [[scope.plane]]
# facing = "-x"
# at = "0 in"
# within = "1/4 in"
# is = "bare"
{parts}# [[scope.box]]
# from = ["0 in", "0 in", "0 in"]
# to = ["2 ft", "2 ft", "6 in"]
# is = "bare"

[limits]
# If one of these holds, the program says so and ends with code 1.
rules = [
  # "undercut area > 20 sq ft",
  # "bags > 100",
]
"#,
        name = quoted(start.name),
        model = quoted(start.model),
    )
}
