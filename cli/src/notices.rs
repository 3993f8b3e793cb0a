//! What stands between a model and its numbers beyond what is wrong with the file: a rule that finds nothing, a cover that
//! carving eats up, a size that no shop builds.

use crate::job::Close;
use crate::quantities::skin::Applied;
use crate::report::shared::FindingJson;
use crate::request::Request;
use crate::settings::nearest;
use cragskin_geom::scope::Scoped;
use cragskin_geom::solid::Exposure;
use cragskin_geom::soundness::Checked;
use cragskin_geom::units::{Area, Length, feet_inches};

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
    applied.is_thin().then(|| FindingJson { code: THIN_COVER.to_owned(), count: 1, text })
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
    says.then(|| FindingJson { code: "hidden_by_closing".to_owned(), count: 1, text })
}

/// The code of [`thin_cover`]: the only notice that follows from the book's cover, with which nothing is measured.
pub const THIN_COVER: &str = "thin_cover";
/// The code of the notice that stands before all others.
pub const TOO_LARGE: &str = "too_large";

/// All notices, the ones that weigh most first.
#[must_use]
pub fn all(
    checked: &Checked,
    request: &Request,
    scoped: &Scoped,
    applied: &Applied,
    too_large: bool,
) -> Vec<FindingJson> {
    let model = &checked.model;
    let mut notices = Vec::new();
    let mut say = |code: &str, text: String| notices.push(FindingJson { code: code.to_owned(), count: 1, text });
    if too_large {
        let size = model.size();
        say(
            TOO_LARGE,
            format!(
                "as placed this is {} wide, {} deep and {} high: is the unit right? At this thickness it is too large to measure: \
                 the skin is by formula or area x thickness, as its grade says, and no zones were looked for.",
                feet_inches(size[0]),
                feet_inches(size[1]),
                feet_inches(size[2]),
            ),
        );
    }
    notices.extend(thin_cover(applied));
    let mut say = |code: &str, text: String| notices.push(FindingJson { code: code.to_owned(), count: 1, text });
    if request.close.is_some() && checked.all_closed() {
        say("nothing_to_close", "--close changes nothing: every body of the model is closed already.".to_owned());
    }
    for found in scoped.found.iter().filter(|found| found.faces == 0) {
        let names: Vec<String> =
            model.parts().iter().flat_map(|part| [part.name.clone(), part.material.clone()]).collect();
        let meant = found.rule.strip_prefix("part ").and_then(|name| nearest(name, &names));
        let meant = meant.map_or_else(String::new, |name| format!(" Did you mean `{name}`?"));
        say("rule_finds_nothing", format!("the rule `{}` finds nothing in this model.{meant}", found.rule));
    }
    notices
}
