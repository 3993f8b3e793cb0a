//! Findings in words a designer can act on: what was found, what it does to the numbers, what was assumed.

use super::counts::{Counts, OpenRun};
use super::repair::Body;
use crate::drawing::Model;
use crate::words::Words;
use nalgebra::Point3;

/// Kinds of finding, worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Code {
    /// Triangles with corners that are no numbers were left out.
    NotANumber,
    /// A body whose neighbours cannot be made to face the same way.
    CannotTellFacing,
    /// Open edges.
    OpenEdges,
    /// Edges shared by three or more triangles.
    EdgesShared,
    /// A body lies inside another.
    BodyInsideBody,
    /// A hollow inside a body.
    Hollow,
    /// Triangles exactly on top of others.
    Repeated,
    /// Open sheets that lie flat on a body.
    DrawnOnFace,
    /// Faces drawn on both sides.
    BackToBack,
    /// Bodies drawn on both sides, of which one was taken.
    BothSides,
    /// Single triangles were turned over to face as their neighbours do.
    TrianglesTurned,
    /// Whole bodies were turned inside out.
    BodiesTurned,
    /// An open sheet was turned to face the visitor.
    SheetTurned,
    /// An open sheet is taken to face as drawn.
    SheetFacing,
    /// Triangles without area.
    ZeroArea,
    /// The largest flat base lies on another axis than the one called down.
    OtherWayUp,
}

impl Code {
    /// The code as it stands in JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::NotANumber => "not_a_number",
            Self::CannotTellFacing => "cannot_tell_facing",
            Self::OpenEdges => "open_edges",
            Self::EdgesShared => "edges_shared",
            Self::BodyInsideBody => "body_inside_body",
            Self::Hollow => "hollow",
            Self::Repeated => "repeated",
            Self::DrawnOnFace => "drawn_on_a_face",
            Self::BackToBack => "back_to_back",
            Self::BothSides => "drawn_on_both_sides",
            Self::TrianglesTurned => "triangles_turned",
            Self::BodiesTurned => "bodies_turned",
            Self::SheetTurned => "sheet_turned",
            Self::SheetFacing => "sheet_facing",
            Self::ZeroArea => "zero_area",
            Self::OtherWayUp => "other_way_up",
        }
    }
}

/// One finding.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What kind.
    pub code: Code,
    /// How many.
    pub count: usize,
    /// What was found, what it does to the numbers, what to ask.
    pub text: String,
}

/// `1 hole`, `2 holes`.
fn plural(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// A place by tape from the low left front corner of the model's box.
fn place(words: Words, p: Point3<f64>) -> String {
    let at = |m| words.length(m);
    format!("{} from the left, {} back, {} up", at(p.x), at(p.y), at(p.z))
}

/// What was left out and turned over before the bodies were looked at.
pub(super) struct Repairs {
    pub(super) turned_neighbours: usize,
    pub(super) left_out: usize,
    pub(super) pairs: usize,
    /// Edges with three or more triangles that do not pair off.
    pub(super) unpaired: usize,
}

pub(super) fn all(
    model: &Model,
    counts: &Counts,
    list: &[Body],
    runs: &[OpenRun],
    &Repairs { turned_neighbours, left_out, pairs, unpaired }: &Repairs,
    whole: f64,
) -> Vec<Finding> {
    let mut found: Vec<Finding> = both_sides(list, pairs).into_iter().collect();
    let mut say = |code, count, text: String| {
        if count > 0 {
            found.push(Finding { code, count, text });
        }
    };
    let triangles = |count| plural(count, "triangle", "triangles");
    let words = model.words;
    let area = |m2| words.area(m2);
    say(
        Code::NotANumber,
        left_out,
        format!(
            "{} with corners that are not numbers were left out: areas are lower bounds. Ask the designer to export again.",
            triangles(left_out)
        ),
    );
    let lost = list.iter().filter(|body| !body.one_sided).count();
    say(
        Code::CannotTellFacing,
        lost,
        format!(
            "in {} neighbouring faces cannot be made to face the same way (a twisted strip, or three faces on one edge): area is good, \
             lean and skin are not defined there. Ask for the model as closed solids.",
            plural(lost, "body", "bodies")
        ),
    );
    if let Some(longest) = runs.first() {
        let sheets = list.iter().filter(|body| body.one_sided && body.is_sheet()).count();
        let missing = area(list.iter().map(Body::missing).sum());
        let what = if list.iter().all(|body| body.closed || body.drawn_on) {
            "They are the edges of what is drawn on a face: nothing is missing.".to_owned()
        } else if sheets > 0 {
            "Area and lean are good there, the volume of an open sheet is not defined. How far behind is the wall?"
                .to_owned()
        } else if super::quality::holes_matter(list) {
            format!(
                "At least {missing} is missing in them: area and skin are lower bounds, volumes take them as closed."
            )
        } else if list.iter().any(|body| !body.nearly_closed()) {
            // A body that is neither a sheet nor nearly closed is one whose facing cannot be told.
            "Area is good there; lean and volumes are not defined.".to_owned()
        } else {
            "They are small: area and lean are good, volumes take them as closed.".to_owned()
        };
        say(
            Code::OpenEdges,
            counts.open_edges,
            format!(
                "{} ({} in all) in {}; the longest is {} round, near {}. {what}",
                plural(counts.open_edges, "open edge", "open edges"),
                words.run(super::open_length(runs)),
                plural(runs.len(), "run", "separate runs"),
                words.run(longest.length),
                place(words, longest.at),
            ),
        );
    }
    say(Code::EdgesShared, counts.many_edges, edges_shared(counts.many_edges, unpaired));
    let inside: Vec<&Body> = list.iter().filter(|body| body.inside.is_some() && !body.cavity).collect();
    say(
        Code::BodyInsideBody,
        inside.len(),
        format!(
            "{} wholly inside another: {} that nobody will see or coat. Delete, or real?",
            plural(inside.len(), "body lies", "bodies lie"),
            area(inside.iter().map(|body| body.area).sum()),
        ),
    );
    let hollows: Vec<&Body> = list.iter().filter(|body| body.cavity).collect();
    say(
        Code::Hollow,
        hollows.len(),
        format!(
            "{} inside a solid ({}): its walls are in the area as modelled; nobody coats them. Hollow really, or a display trick?",
            plural(hollows.len(), "closed hollow", "closed hollows"),
            words.volume(hollows.iter().map(|body| -body.volume).sum()),
        ),
    );
    say(
        Code::Repeated,
        counts.repeated,
        format!(
            "{} exactly on another that faces the same way; each is counted once.",
            plural(counts.repeated, "triangle lies", "triangles lie each")
        ),
    );
    let drawn: Vec<&Body> = list.iter().filter(|body| body.drawn_on).collect();
    say(
        Code::DrawnOnFace,
        drawn.len(),
        format!(
            "{} is drawn on a face of another body, counted once: a sign or an opening drawn on it? If it is an opening, say that it is \
             bare: --bare-part with its name where it has one, else a [[scope.box]] around it in the job file with is = \"bare\".",
            area(drawn.iter().map(|body| body.area).sum()),
        ),
    );
    say(
        Code::BackToBack,
        counts.back_to_back,
        format!(
            "{} exactly on another that faces the other way: a sheet drawn on both sides, or a wall between touching blocks. The area \
             as modelled counts both. One side or two?",
            plural(counts.back_to_back, "triangle lies", "triangles lie each")
        ),
    );
    say(
        Code::TrianglesTurned,
        turned_neighbours,
        format!("{} faced against their neighbours and were turned over.", triangles(turned_neighbours)),
    );
    let turned = list.iter().filter(|body| body.turned && body.nearly_closed()).count();
    say(
        Code::BodiesTurned,
        turned,
        format!(
            "{} inside out and turned over as a whole.{}",
            plural(turned, "body was", "bodies were"),
            if list.len() > turned {
                " One drawn so to be a hollow in another body is filled here: have it cut out where the model is drawn."
            } else {
                ""
            }
        ),
    );
    let sheets = list.iter().filter(|body| body.one_sided && body.is_sheet());
    let (away, facing): (Vec<&Body>, Vec<&Body>) = sheets.partition(|body| body.turned);
    let asked = if away.iter().any(|body| body.guessed) {
        "If the side as drawn is the one to coat, say --as-drawn: lean is then 180 degrees minus what is printed, and the skin comes \
         on the other side. If not, say --outward."
    } else {
        "So it was asked for."
    };
    say(
        Code::SheetTurned,
        away.len(),
        format!(
            "{} faced away from the visitor, or inward, and {} turned over ({}). {asked}",
            plural(away.len(), "open sheet", "open sheets"),
            if away.len() == 1 { "was" } else { "were" },
            area(away.iter().map(|body| body.area).sum()),
        ),
    );
    say(
        Code::SheetFacing,
        facing.len(),
        format!(
            "{} no inside ({}); the side it is drawn to face is taken as the one to coat.",
            plural(facing.len(), "open sheet has", "open sheets have"),
            area(facing.iter().map(|body| body.area).sum()),
        ),
    );
    let zero = counts.collapsed + counts.slivers;
    say(
        Code::ZeroArea,
        zero,
        format!("{} without area; they change nothing.", plural(zero, "triangle is", "triangles are")),
    );
    // A sheet has no base to lie on.
    if list.iter().any(Body::nearly_closed) {
        found.extend(other_way_up(model, whole));
    }
    found.sort_by_key(|finding| finding.code);
    found
}

/// Edges with three or more faces: of blocks that touch, or of walls inside.
fn edges_shared(many: usize, unpaired: usize) -> String {
    let edges = plural(many, "edge is", "edges are");
    if unpaired == 0 {
        return format!(
            "{edges} shared by blocks that touch: each block is closed by itself. Where their faces lie on each other it is a glue \
             joint, in no coated figure."
        );
    }
    format!(
        "{edges} shared by three or more faces (blocks touching along an edge, or walls inside): the area as modelled counts \
         every face, also those inside. Are the blocks solid right through?"
    )
}

/// That bodies or parts are drawn on both sides, and which side was taken.
fn both_sides(list: &[Body], pairs: usize) -> Option<Finding> {
    let (sound, open): (Vec<&Body>, Vec<&Body>) =
        list.iter().filter(|body| body.both_sides).partition(|body| body.nearly_closed());
    let mut text = format!(
        "{} drawn on both sides ({} there twice, once each way): one side is counted.",
        plural(sound.len() + open.len(), "body is", "bodies are"),
        plural(pairs, "triangle is", "triangles are"),
    );
    if !sound.is_empty() {
        text += " Of a body that encloses something it is the outer one.";
    }
    if !open.is_empty() {
        text += " Of an open sheet it is the side toward the visitor, up or outward.";
    }
    if open.iter().any(|body| body.guessed) {
        text += " Is that the one to coat? Say --outward, or ask for the sheet drawn on the side to coat alone.";
    }
    (pairs > 0).then_some(Finding { code: Code::BothSides, count: pairs, text })
}

/// A large flat base on another axis than down hints at a file that lies on its back.
fn other_way_up(model: &Model, whole: f64) -> Option<Finding> {
    let sides = crate::scope::flat_sides(model);
    let down = sides.iter().find(|side| side.name == "-Z").map_or(0.0, |side| side.area);
    let best = sides.iter().max_by(|a, b| a.area.total_cmp(&b.area))?;
    // A back against a building is flat too: only a base on the side, with nothing flat below, is a hint.
    (down < 0.02 * whole && best.area > 0.1 * whole && best.name != "+Y").then(|| Finding {
        code: Code::OtherWayUp,
        count: 1,
        text: format!(
            "the largest flat side ({}) faces {} of the model as placed, and no large flat side faces down. Which way is up? Give --up.",
            model.words.area(best.area),
            best.name
        ),
    })
}
