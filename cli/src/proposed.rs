//! What looks as if it were no part of the work: proposed for leaving out, and counted as ours until somebody says. The coated
//! area is then the most it can be, and what it comes to without is measured as the run is in which it is left out.

use crate::answers::{First, Moved, can_be_typed, question, shown};
use crate::notices::{SCALE_FIGURE, inches_around, scale_figure};
use crate::ours;
use crate::report::shared::FindingJson;
use crate::request::Request;
use crate::takeoff;
use cragskin_geom::drawing::Axis;
use cragskin_geom::figure;
use cragskin_geom::intake::PartName;
use cragskin_geom::measure;
use cragskin_geom::scope::{Cleared, Faces, Rule, Scope, State};
use cragskin_geom::sheets;
use cragskin_geom::solid::Exposure;
use cragskin_geom::soundness::{Body, Checked, Grade, Quality, QualityTable};
use cragskin_geom::units::{Area, Length, feet_inches};
use nalgebra::{Point3, Vector3};

/// The code of a level sheet under the piece.
pub const GROUND: &str = "ground_sheet";
/// The code of a level sheet that the piece rises through.
pub const WATER: &str = "water_sheet";
/// The code of sheets close behind others.
pub const BEHIND: &str = "sheet_behind_sheet";

/// Sheets behind others that are asked about one by one.
const ONE_BY_ONE: usize = 4;

/// Everything that is proposed for leaving out and not settled.
#[derive(Clone, Debug)]
pub struct Proposed {
    /// Each of it in words.
    pub findings: Vec<FindingJson>,
    /// What each is called.
    pub names: Vec<String>,
    /// The coated area of the run in which all of it is left out; none where a rule does not say it exactly.
    pub coated_area_without: Option<Area>,
    /// What of it is to be answered before anything is said of a place.
    pub first: First,
    /// Of each triangle whether it is of it.
    pub faces: Vec<bool>,
}

/// One thing that may be no part of the work.
struct Candidate {
    code: &'static str,
    /// What it is called where it has no name of its own.
    called: String,
    /// The question, up to where the answer begins.
    what: String,
    /// What is said after the answers.
    more: &'static str,
    /// The rule that leaves it out, and nothing else.
    rule: Option<Faces>,
    /// Its triangles.
    faces: Vec<bool>,
}

impl Candidate {
    /// The name that leaves it out.
    fn name(&self) -> Option<&str> {
        if let Some(Faces::Part(name)) = &self.rule { Some(name) } else { None }
    }

    /// What it is called.
    fn called(&self) -> String {
        self.name().map_or_else(|| self.called.clone(), shown)
    }

    fn finding(&self, first: &First, moved: Moved) -> FindingJson {
        let asked = question(self.code, &self.what, self.rule.as_ref(), first, moved);
        FindingJson { text: asked.text + self.more, ..asked }
    }
}

/// What rules are asked on.
struct Search<'a> {
    checked: &'a Checked,
    cleared: &'a Cleared,
    scope: Scope,
}

impl Search<'_> {
    /// The triangles that a rule finds.
    fn finds(&self, faces: &Faces) -> Vec<bool> {
        let rules = vec![Rule { faces: faces.clone(), is: State::LeftOut }];
        let alone = Scope { rules, ..self.scope.clone() };
        match alone.keeps(&self.checked.model, true, &mut self.cleared.clone()) {
            Some(keep) => keep.into_iter().map(|keep| !keep).collect(),
            None => vec![false; self.checked.model.mesh().triangles().len()],
        }
    }

    fn of_bodies(&self, bodies: &[u32]) -> Vec<bool> {
        self.checked.bodies.by_face().iter().map(|body| bodies.contains(body)).collect()
    }

    /// The names of the part of the first of these triangles.
    fn names(&self, faces: &[bool]) -> Option<&PartName> {
        let first = faces.iter().position(|is| *is)?;
        self.checked.model.parts().get(self.checked.model.mesh().part_of(first) as usize)
    }

    /// The rule by name that finds these triangles and no others.
    fn by_name(&self, faces: &[bool]) -> Option<Faces> {
        let part = self.names(faces)?;
        let names = [&part.name, &part.material].into_iter().filter(|name| can_be_typed(name));
        names.map(|name| Faces::Part(name.clone())).find(|rule| self.finds(rule) == faces)
    }

    /// Somebody has said what becomes of all of it.
    fn is_settled(&self, faces: &[bool]) -> bool {
        let covers = |rule: &Rule| self.finds(&rule.faces).iter().zip(faces).all(|(found, is)| *found || !*is);
        self.scope.rules.iter().any(covers)
    }

    fn figures(&self) -> Vec<Candidate> {
        let candidate = |figure: figure::Figure| {
            let place = inches_around(figure.low + self.cleared.datum, figure.high + self.cleared.datum);
            self.candidate(SCALE_FIGURE, "a slender body", scale_figure(&figure), place, self.of_bodies(&figure.bodies))
        };
        figure::people(self.checked).into_iter().map(candidate).collect()
    }

    fn ground(&self) -> Vec<Candidate> {
        let candidate = |body: u32| {
            let what = format!(
                "a level sheet at the foot of the model, {}, reaches farther than all that stands on it: the ground? It is counted as \
                 ours until you say",
                area_of(&self.checked.body_facts[body as usize])
            );
            self.level_sheet(GROUND, "the level sheet at the foot", what, body)
        };
        sheets::ground(self.checked).into_iter().map(candidate).collect()
    }

    fn water(&self) -> Vec<Candidate> {
        let candidate = |body: u32| {
            let facts = &self.checked.body_facts[body as usize];
            let what = format!(
                "a level sheet {} up, {}, with the piece reaching below and above it: water, drawn to show where it stands? It is counted \
                 as ours until you say",
                feet_inches(Length::from_metres(facts.low.z)),
                area_of(facts)
            );
            self.level_sheet(WATER, "the level sheet half way up", what, body)
        };
        sheets::water(self.checked).into_iter().map(candidate).collect()
    }

    fn level_sheet(&self, code: &'static str, called: &str, what: String, body: u32) -> Candidate {
        let facts = &self.checked.body_facts[body as usize];
        let facing = Axis { negative: facts.facing.z < 0.0, ..Axis::PLUS_Z };
        let level = (facts.low.z + facts.high.z) / 2.0 + self.cleared.datum.z;
        let plane = Faces::Plane { facing, at: Length::from_metres(level), within: Length::from_inches(1.0) };
        self.candidate(code, called, what, plane, self.of_bodies(&[body]))
    }

    fn behind(&self) -> Vec<Candidate> {
        let bodies = sheets::behind_others(self.checked);
        // Many are one question: nobody answers hundreds.
        let groups: Vec<&[u32]> = match bodies.len() {
            0 => Vec::new(),
            1..=ONE_BY_ONE => bodies.chunks(1).collect(),
            _ => vec![&bodies],
        };
        groups.into_iter().map(|group| self.behind_another(group)).collect()
    }

    fn behind_another(&self, bodies: &[u32]) -> Candidate {
        let faces = self.of_bodies(bodies);
        let facts = || bodies.iter().map(|body| &self.checked.body_facts[*body as usize]);
        let none = (Point3::from([f64::INFINITY; 3]), Point3::from([f64::NEG_INFINITY; 3]));
        let (low, high) = facts().fold(none, |(low, high), body| (low.inf(&body.low), high.sup(&body.high)));
        let place = inches_around(low + self.cleared.datum, high + self.cleared.datum);
        let area: Area = facts().map(area_of).sum();
        let (sheet, verb, called) = match bodies.len() {
            1 => ("an open sheet".to_owned(), "looks", "a sheet close behind another".to_owned()),
            n => (format!("{n} open sheets"), "look", format!("{n} sheets close behind others")),
        };
        let what = format!(
            "the coated side of {sheet}, {area}, {verb} at the back of another sheet within 12 in of it: a hollow display shell \
             drawn with a thickness, of which the outer sheet alone is built, or are both sides built? It is counted as ours until \
             you say"
        );
        let more = " If it is built and faces the other way, say --as-drawn or have it drawn facing that way.";
        Candidate { more, ..self.candidate(BEHIND, &called, what, place, faces) }
    }

    /// With the answer that there is: by name, by place, or by asking for the file without it.
    fn candidate(&self, code: &'static str, called: &str, what: String, place: Faces, faces: Vec<bool>) -> Candidate {
        let rule = self.by_name(&faces).or_else(|| Some(place).filter(|place| self.finds(place) == faces));
        Candidate { code, called: called.to_owned(), what, more: "", rule, faces }
    }

    /// Rules say something of places.
    fn has_places(&self) -> bool {
        self.scope.rules.iter().any(|rule| !matches!(rule.faces, Faces::Part(_)))
    }

    /// Without these triangles places are measured from another corner. O(n).
    fn moves_corner(&self, out: impl Fn(usize) -> bool) -> bool {
        let mesh = self.checked.model.mesh();
        let left = (0..mesh.triangles().len()).filter(|face| !out(*face)).flat_map(|face| mesh.corners(face));
        let low = left.fold(Vector3::repeat(f64::INFINITY), |low, p| low.inf(&p.coords));
        low.iter().any(|x| *x > 0.0)
    }
}

fn area_of(body: &Body) -> Area {
    Area::from_square_metres(body.area)
}

impl Proposed {
    /// Everything that may be no part of the work and that no rule names. O(n) where nothing is.
    #[must_use]
    pub fn of(checked: &Checked, cleared: &Cleared, request: &Request) -> Self {
        let search = Search { checked, cleared, scope: request.rules() };
        let mut found: Vec<Candidate> = Vec::new();
        for candidate in
            search.figures().into_iter().chain(search.ground()).chain(search.water()).chain(search.behind())
        {
            // One that is part of another is asked about once.
            let new = candidate.faces.iter().enumerate().any(|(k, is)| *is && !found.iter().any(|f| f.faces[k]));
            if new && !search.is_settled(&candidate.faces) {
                found.push(candidate);
            }
        }
        let keep: Vec<bool> =
            (0..checked.model.mesh().triangles().len()).map(|k| !found.iter().any(|f| f.faces[k])).collect();
        let coated_area_without = coated_without(&search, &found, &keep, request);
        let named: Vec<&Candidate> = found.iter().filter(|f| f.name().is_some()).collect();
        let moves = !named.is_empty() && search.moves_corner(|face| named.iter().any(|f| f.faces[face]));
        let first = First::of(named.iter().filter_map(|f| f.name()).filter(|_| moves));
        let moved = if moves && search.has_places() { Moved::Places } else { Moved::Nothing };
        let findings = found.iter().map(|f| f.finding(&first, moved)).collect();
        let (names, faces) = (found.iter().map(Candidate::called).collect(), keep.iter().map(|keep| !keep).collect());
        Self { findings, names, coated_area_without, first, faces }
    }

    /// Why figures are not settled, if something is proposed.
    fn why(&self) -> Option<String> {
        let names = self.names.join(" and ");
        (!names.is_empty()).then(|| format!("nobody has said whether to count {names} as ours; counted as coated"))
    }

    /// That a figure is the most it can be.
    #[must_use]
    pub fn most(&self, quality: Quality) -> Quality {
        self.why().map_or(quality.clone(), |why| quality.and(Quality::new(Grade::UpperBound, why)))
    }

    /// That a figure may come out either way.
    #[must_use]
    pub fn either_way(&self, quality: Quality) -> Quality {
        self.why().map_or(quality.clone(), |why| quality.and(Quality::new(Grade::NotKnown, why)))
    }

    /// What it does to the grades: less is coated, and less foam is cut, if it is not ours.
    pub fn doubt(&self, table: &mut QualityTable) {
        for quality in [&mut table.area, &mut table.skin_volume, &mut table.core_volume] {
            *quality = self.most(quality.clone());
        }
    }
}

/// The coated area of the run in which all of it is left out.
fn coated_without(search: &Search<'_>, found: &[Candidate], keep: &[bool], request: &Request) -> Option<Area> {
    if found.is_empty() || found.iter().any(|f| f.rule.is_none()) || !keep.contains(&true) {
        return None;
    }
    let (model, low) = search.checked.model.clone().keeping(keep);
    let mut cleared = search.cleared.clone();
    if search.has_places() && low.norm() > 0.0 {
        // Without a part left out by name, places are measured from another corner: the rules for places would find other faces.
        if found.iter().any(|f| f.name().is_some()) {
            return None;
        }
        cleared.moved(low);
    }
    let checked = Checked::with_sheets(model, 0, request.sheets, request.book.foam.contact_gap);
    let (scoped, mesh) = (ours::scoped(&search.scope, &cleared, &checked), checked.model.mesh());
    let solid = takeoff::solid(&checked, request);
    let exposure = Exposure::of(&solid, request.book.foam.contact_gap);
    let [coated] = measure::area_by(
        mesh,
        checked.model.diagonal(),
        |face| exposure.share(face),
        |face| (scoped.states[face] == State::Coated).then_some(0),
    );
    Some(coated)
}
