//! What stands between a model and its numbers beyond what is wrong with the file: a rule that finds nothing, a cover that
//! carving eats up, a size that no shop builds.

use crate::answers::{First, Moved, can_be_typed, question, shown};
use crate::book::Book;
use crate::job::{Close, Faces, lines};
use crate::load::PlacingWords;
use crate::quantities::Measured;
use crate::quantities::floor::Footing;
use crate::quantities::skin::Applied;
use crate::report::shared::FindingJson;
use crate::request::Request;
use crate::settings::nearest;
use crate::stands::pieces_apart;
use crate::steep::Steep;
use cragskin_geom::figure::Figure;
use cragskin_geom::intake::PartName;
use cragskin_geom::scope::{Beside, Cleared, Scoped};
use cragskin_geom::solid::Exposure;
use cragskin_geom::soundness::{Checked, Grade, Quality};
use cragskin_geom::stance::{self, OtherUp};
use cragskin_geom::units::{Area, Length, ModelUnit, feet_inches};
use nalgebra::Point3;

/// That carving eats up the cover, if it does.
#[must_use]
pub fn thin_cover(applied: &Applied) -> Option<FindingJson> {
    let left = if applied.at_low_pins < Length::ZERO {
        "no cover at all where the hand was low: foam shows".to_owned()
    } else {
        format!("{} of cover where the hand was low (one pin in twenty)", applied.at_low_pins)
    };
    let text = format!(
        "{} applied leaves, after carving, {left}; the book wants {}. Apply more, or carve less deep.",
        applied.thickness, applied.cover
    );
    applied.is_thin().then(|| FindingJson::new(THIN_COVER, text))
}

/// That closing the model as asked leaves surface with nothing behind it, if it does.
#[must_use]
pub fn hidden(exposure: &Exposure, request: &Request) -> Option<FindingJson> {
    let (side, other) = match request.close? {
        Close::Back => ("back", "floor"),
        Close::Floor => ("floor", "back"),
    };
    let text = format!(
        "--close {side} hides {} of the surface: it looks away from what the {side} closes, or lies behind what was added, and bounds no \
         foam. It is not coated in any figure. If visitors see it, say --close {other}, or have the piece drawn closed.",
        exposure.hidden
    );
    let says = exposure.hidden > Area::ZERO;
    says.then(|| FindingJson::new("hidden_by_closing", text))
}

/// That the piece falls into several that do not hold together, where there is a load on the floor and the floor feels that.
pub(crate) fn apart(footing: &Measured<Footing>, exposure: &Exposure) -> Option<FindingJson> {
    footing.value()?;
    let count = pieces_apart(exposure)?;
    let text = format!(
        "{count} pieces do not hold together (less than a square inch of contact): the load on the floor is reckoned as if they did, and is \
         not known. Take each off by itself, or have them joined in the model."
    );
    Some(FindingJson { count, ..FindingJson::new("pieces_apart", text) })
}

/// That coated faces stand so close that no tool gets between them, if they do.
#[must_use]
pub fn unreached(steep: &Steep, coated: Area, skin: Length) -> Option<FindingJson> {
    let worth = if unreached_quality(steep, coated).is_some() {
        "It is counted as coated, so area and skin are upper bounds."
    } else {
        "It is counted as coated."
    };
    let text = format!(
        "{} faces another face closer than two skins ({}): no tool reaches; is it coated? {worth} Close the gap in the model, or say what \
         stays bare. `flag` lists the places.",
        steep.crevices,
        feet_inches(skin * 2.0)
    );
    (steep.crevices > Area::ZERO).then(|| FindingJson::new("no_tool_reaches", text))
}

/// Of the coated area: less of it out of reach changes no order.
const WORTH_A_GRADE: f64 = 0.02;

/// What that makes of area and skin, where it is enough to matter.
#[must_use]
pub fn unreached_quality(steep: &Steep, coated: Area) -> Option<Quality> {
    let why = || format!("{} of it faces another face closer than two skins", steep.crevices);
    (steep.crevices > coated * WORTH_A_GRADE).then(|| Quality::new(Grade::UpperBound, why()))
}

/// That the book sets keys that nothing is reckoned with yet.
#[must_use]
pub fn idle_keys(book: &Book) -> Option<FindingJson> {
    let keys = book.unread.join(", ");
    let text = format!("the book sets {keys}; nothing is reckoned with it yet, so no figure changes.");
    (!keys.is_empty()).then(|| FindingJson { count: book.unread.len(), ..FindingJson::new(IDLE_KEYS, text) })
}

/// The code of [`thin_cover`], which follows from the book's cover alone: nothing is measured with it.
pub const THIN_COVER: &str = "thin_cover";
/// The code of [`idle_keys`], with which nothing is measured either.
pub const IDLE_KEYS: &str = "book_key_without_effect";
/// The code of the notice that stands before all others.
pub const TOO_LARGE: &str = "too_large";

/// All notices, the ones that weigh most first.
#[must_use]
pub fn all(
    checked: &Checked,
    request: &Request,
    (scoped, other_up): (&Scoped, Option<&OtherUp>),
    applied: &Applied,
    too_large: bool,
    first: &First,
) -> Vec<FindingJson> {
    let model = &checked.model;
    let mut notices = Vec::new();
    let mut say = |code: &str, text: String| notices.push(FindingJson::new(code, text));
    if too_large {
        let size = model.size();
        say(
            TOO_LARGE,
            format!(
                "as placed this is {} wide, {} deep and {} high: is the unit right? Does a corner lie far off? At this thickness it is \
                 too large to measure: the skin is by formula or area x thickness, as its grade says, and no zones were looked for.",
                feet_inches(size[0]),
                feet_inches(size[1]),
                feet_inches(size[2]),
            ),
        );
    }
    notices.extend(other_up.map(which_up));
    notices.extend(scaled(&request.placing));
    notices.extend(thin_cover(applied));
    let mut say = |code: &str, text: String| notices.push(FindingJson::new(code, text));
    if request.close.is_some() && checked.all_closed() {
        say("nothing_to_close", "--close changes nothing: every body of the model is closed already.".to_owned());
    }
    notices.extend(idle_keys(&request.book));
    let mut say = |code: &str, text: String| notices.push(FindingJson::new(code, text));
    for found in scoped.found.iter().filter(|found| found.faces == 0) {
        let names: Vec<String> =
            model.parts().iter().flat_map(|part| [part.name.clone(), part.material.clone()]).collect();
        let meant = found.rule.strip_prefix("part ").and_then(|name| nearest(name, &names));
        let meant = meant.map_or_else(String::new, |name| format!(" Did you mean `{name}`?"));
        say("rule_finds_nothing", format!("the rule `{}` finds nothing in this model.{meant}", found.rule));
    }
    notices.extend(scoped.beside.iter().map(|found| beside(found, first)));
    notices
}

/// The code of a turned flat beside a straight one.
pub const BESIDE: &str = "turned_flat_beside";

/// That a side has a straight flat and a turned one, what is made of that, and the rule that says otherwise.
fn beside(found: &Beside, first: &First) -> FindingJson {
    let Beside { side, straight, all_turned, turned, angle, off, counts, place, with_it, .. } = found;
    let (lies, stands) = if *side == "floor" { ("level", "stands") } else { ("plumb", "leans") };
    let (taken, otherwise, is) = if *counts {
        ("Both count".to_owned(), format!("the turned one is coated and nothing {stands} on it"), "coated")
    } else {
        let one = if all_turned.is_some() { "the first".to_owned() } else { format!("what is {lies}") };
        (format!("Only {one} counts"), format!("the piece {stands} on the turned one too"), "bare")
    };
    let lies = all_turned.map_or(lies.to_owned(), |angle| format!("turned by {:.1} deg", angle.degrees()));
    // A hundredth of an inch more on each side, so that rounding loses no middle.
    let corner = |p: Point3<f64>, way: f64| {
        p.coords
            .map(|m| Length::from_inches(((Length::from_metres(m).inches() * 100.0 * way).ceil() + 1.0) * way / 100.0))
            .into()
    };
    let with_it = match *with_it > *turned * 0.01 {
        true => format!("; the box takes {with_it} of other faces with it, which a later rule may set right"),
        false => String::new(),
    };
    let text = format!(
        "the {side}: {straight} is {lies}, and beside it {turned} is turned by {:.1} deg, up to {} off it. {taken} as the {side}. If \
         {otherwise}, say so",
        angle.degrees(),
        feet_inches(*off),
    );
    if let Some(words) = first.words() {
        return FindingJson::new(BESIDE, format!("{text}. {words}"));
    }
    let rule = Faces::Box { from: corner(place[0], -1.0), to: corner(place[1], 1.0) };
    let text = format!("{text} at the end of the job with these lines{with_it}.");
    FindingJson { rule: lines(&rule, is), ..FindingJson::new(BESIDE, text) }
}

/// That rules for places have moved the corner from which all places are taped.
#[must_use]
pub fn datum(cleared: &Cleared) -> Option<FindingJson> {
    let moved = cleared.datum.norm() > Length::from_inches(1.0 / 32.0).metres();
    let [x, y, z] = [0, 1, 2].map(|k| feet_inches(Length::from_metres(cleared.datum[k])));
    let text = format!(
        "what is left out by place set the corner of the model: places are taped from the corner of what is ours, which lies {x} right, \
         {y} back and {z} up of the corner that the rules for places measure from."
    );
    moved.then(|| FindingJson::new("corner_moved", text))
}

/// That the model was scaled to a length, beside every figure that leaves the program without the notes.
#[must_use]
pub fn scaled(placing: &PlacingWords) -> Option<FindingJson> {
    let text = |length| {
        format!("the file has no sensible unit and is scaled so that {length}: every figure follows from that length.")
    };
    let length = placing.scale_to.filter(|_| placing.is_scaled())?;
    Some(FindingJson::new(SCALED, text(length)))
}

/// The code of [`scaled`].
pub const SCALED: &str = "scaled";

/// Another direction that fits far better than the one taken as up, unless up was stated.
#[must_use]
pub fn other_up(checked: &Checked, request: &Request) -> Option<OtherUp> {
    if request.placing.up.is_some() { None } else { stance::other_up(checked) }
}

/// What lean is worth while nobody has said which way is up and the model speaks against +Z.
#[must_use]
pub fn lean_unsettled(other: &OtherUp) -> Quality {
    let why = format!("nobody has said which way is up, and the model fits {} of the file far better", other.file_axis);
    Quality::new(Grade::NotKnown, why)
}

/// The question which way is up, with what speaks for the other direction.
#[must_use]
pub fn which_up(other: &OtherUp) -> FindingJson {
    let OtherUp { now, better, file_axis, is_sheet } = other;
    let percent = |share: f64| format!("{:.0} %", 100.0 * share);
    let axis = file_axis.to_string().to_lowercase();
    let mut text = format!(
        "which way is up? As placed {} of the area overhangs beyond 100 degrees; with {file_axis} of the file up it would be {}",
        percent(now.overhang),
        percent(better.overhang)
    );
    if better.base > now.base + 0.05 {
        text += &format!(", on a flat base of {} of the area in place of {}", percent(better.base), percent(now.base));
    }
    if better.rim > now.rim + 0.05 {
        text +=
            &format!(", with {} of the open edges at its foot in place of {}", percent(better.rim), percent(now.rim));
    }
    text += &format!(". Say --up={axis}, or --up=+z if it stands right as it is");
    text += &if *is_sheet {
        format!("; if visitors look at it from {file_axis}, say --front={axis} too.")
    } else {
        ".".to_owned()
    };
    FindingJson::new(WHICH_UP, text)
}

/// The code of the question which way is up.
pub const WHICH_UP: &str = "which_up";

/// A figure by a name that means nothing else.
fn called<'a>(figure: &Figure, parts: &'a [PartName]) -> Option<&'a str> {
    let part = &parts[figure.part? as usize];
    let is_its_own =
        |name: &&String| can_be_typed(name) && parts.iter().filter(|other| other.is_called(name)).count() == 1;
    [&part.name, &part.material].into_iter().find(is_its_own).map(String::as_str)
}

/// Bodies as high as people: proposed for leaving out, never left out silently.
#[must_use]
pub fn scale_figures(figures: &[Figure], parts: &[PartName]) -> Vec<FindingJson> {
    let first = First::of(figures.iter().filter_map(|figure| called(figure, parts)));
    let found = |figure: &Figure| {
        let rule = called(figure, parts)
            .map_or_else(|| inches_around(figure.low, figure.high), |name| Faces::Part(name.to_owned()));
        question(SCALE_FIGURE, &scale_figure(figure), Some(&rule), &first, Moved::Nothing)
    };
    figures.iter().map(found).collect()
}

/// The code of a body that may be a scale figure.
pub const SCALE_FIGURE: &str = "scale_figure";

/// The question about a figure, up to where the answer begins.
pub(crate) fn scale_figure(figure: &Figure) -> String {
    let height = feet_inches(Length::from_metres(figure.height()));
    let area = Area::from_square_metres(figure.area);
    format!("a slender separate body stands {height} high, {area}: a scale figure? It is counted as ours until you say")
}

/// A box in whole inches, an inch or more around two corners.
#[must_use]
pub fn inches_around(low: Point3<f64>, high: Point3<f64>) -> Faces {
    let down = |m: f64| Length::from_inches(Length::from_metres(m).inches().floor() - 1.0);
    let up = |m: f64| Length::from_inches(Length::from_metres(m).inches().ceil() + 1.0);
    Faces::Box { from: [low.x, low.y, low.z].map(down), to: [high.x, high.y, high.z].map(up) }
}

/// What scale figures say of a unit that nobody knows; a figure that fits no unit as a person says nothing.
#[must_use]
pub fn unit_witnesses(figures: &[Figure], parts: &[PartName]) -> Vec<FindingJson> {
    let text = |figure: &Figure| {
        let height = |unit: ModelUnit| unit.one() * figure.height();
        let units: Vec<String> = ModelUnit::ALL
            .into_iter()
            .filter(|unit| Figure::is_as_high_as_a_person(height(*unit)))
            .map(|unit| format!("{} ({})", unit.symbol(), feet_inches(height(unit))))
            .collect();
        let name = called(figure, parts).map_or_else(|| "a slender separate body".to_owned(), shown);
        (!units.is_empty()).then(|| {
            format!(
                "{name} stands {:.2} file units high. If it is a scale figure, 5 to 6-1/2 ft high, the file is in {}.",
                figure.height(),
                units.join(" or ")
            )
        })
    };
    let found = figures.iter().filter_map(text);
    found.map(|text| FindingJson::new(SCALE_FIGURE, text)).collect()
}
