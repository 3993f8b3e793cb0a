//! What looks as if it were no part of the work: proposed for leaving out, and counted as ours until somebody says. The coated
//! area is then the most it can be, and what it comes to without is measured as the run is in which it is left out.

use crate::job::lines;
use crate::notices::{SCALE_FIGURE, inches_around, scale_figure};
use crate::ours;
use crate::report::shared::FindingJson;
use crate::report::table::plain;
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
use cragskin_geom::units::{Area, Length};
use nalgebra::Point3;

/// The code of a level sheet under the piece.
pub const GROUND: &str = "ground_sheet";
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
}

/// One thing that may be no part of the work.
struct Candidate {
    code: &'static str,
    name: String,
    text: String,
    /// The rule that leaves it out.
    rule: Option<Faces>,
    /// Its triangles.
    faces: Vec<bool>,
}

impl Candidate {
    /// The lines of a job file that leave it out; none where its name does on the command line.
    fn lines(&self) -> Vec<String> {
        match &self.rule {
            None | Some(Faces::Part(_)) => Vec::new(),
            Some(place) => lines(place, "left out"),
        }
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
    fn by_name(&self, faces: &[bool]) -> Option<(String, Faces)> {
        let part = self.names(faces)?;
        let names = [&part.name, &part.material].into_iter().filter(|name| !name.is_empty());
        let rules = names.map(|name| (name.clone(), Faces::Part(name.clone())));
        rules.into_iter().find(|(_, rule)| self.finds(rule) == faces)
    }

    /// The first of these rules that finds these triangles and no others.
    fn exact(&self, rules: impl IntoIterator<Item = Faces>, faces: &[bool]) -> Option<Faces> {
        rules.into_iter().find(|rule| self.finds(rule) == faces)
    }

    /// Somebody has said what becomes of all of it.
    fn is_settled(&self, faces: &[bool]) -> bool {
        let covers = |rule: &Rule| self.finds(&rule.faces).iter().zip(faces).all(|(found, is)| *found || !*is);
        self.scope.rules.iter().any(covers)
    }

    fn figures(&self) -> Vec<Candidate> {
        let parts = self.checked.model.parts();
        let candidate = |figure: figure::Figure| {
            let own = self.of_bodies(&figure.bodies);
            let named = self.by_name(&own);
            let place = inches_around(figure.low + self.cleared.datum, figure.high + self.cleared.datum);
            let rule = named.as_ref().map_or(place, |(_, rule)| rule.clone());
            let text = scale_figure(&figure, parts);
            let name = named.map_or_else(|| "a slender body".to_owned(), |(name, _)| format!("`{}`", plain(&name)));
            let faces = self.finds(&rule);
            Candidate { code: SCALE_FIGURE, name, text, rule: Some(rule), faces }
        };
        figure::people(self.checked).into_iter().map(candidate).collect()
    }

    fn ground(&self) -> Vec<Candidate> {
        let candidate = |body: u32| {
            let faces = self.of_bodies(&[body]);
            let facts = &self.checked.body_facts[body as usize];
            let facing = Axis { negative: facts.facing.z < 0.0, ..Axis::PLUS_Z };
            let level = (facts.low.z + facts.high.z) / 2.0 + self.cleared.datum.z;
            let plane = Faces::Plane { facing, at: Length::from_metres(level), within: Length::from_inches(1.0) };
            let what = format!(
                "a level sheet at the foot of the model, {}, reaches farther than all that stands on it: the ground? It is counted as \
                 ours until you say",
                area_of(facts)
            );
            self.candidate(GROUND, "the level sheet at the foot", &what, plane, faces)
        };
        sheets::ground(self.checked).into_iter().map(candidate).collect()
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
        let mut candidate = self.candidate(BEHIND, &called, &what, place, faces);
        candidate.text += " If it is built and faces the other way, say --as-drawn or have it drawn facing that way.";
        candidate
    }

    /// With the answers that there are: by name, by place, or by asking for the file without it.
    fn candidate(&self, code: &'static str, called: &str, what: &str, place: Faces, faces: Vec<bool>) -> Candidate {
        let (name, text, rule) = match self.by_name(&faces) {
            Some((name, rule)) => (
                format!("`{}`", plain(&name)),
                format!(
                    "`{}`: {what}: --leave-out {name:?}, or that it is coated or bare with a [[scope.part]] rule in the job.",
                    plain(&name)
                ),
                Some(rule),
            ),
            None => match self.exact([place], &faces) {
                Some(rule) => {
                    let words = format!("{what} so in the job with these lines (is = \"coated\" if it is ours).");
                    (called.to_owned(), words, Some(rule))
                }
                None => {
                    let words = format!(
                        "{what}. Have it drawn as a part with a name of its own, to leave out or to coat, or ask for the file without it."
                    );
                    (called.to_owned(), words, None)
                }
            },
        };
        Candidate { code, name, text, rule, faces }
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
        for candidate in search.figures().into_iter().chain(search.ground()).chain(search.behind()) {
            // One that is part of another is asked about once.
            let new = candidate.faces.iter().enumerate().any(|(k, is)| *is && !found.iter().any(|f| f.faces[k]));
            if new && !search.is_settled(&candidate.faces) {
                found.push(candidate);
            }
        }
        let keep: Vec<bool> =
            (0..checked.model.mesh().triangles().len()).map(|k| !found.iter().any(|f| f.faces[k])).collect();
        let coated_area_without = coated_without(&search, &found, &keep, request);
        let findings =
            found.iter().map(|f| FindingJson { rule: f.lines(), ..FindingJson::new(f.code, f.text.clone()) });
        let findings = findings.collect();
        Self { findings, names: found.into_iter().map(|f| f.name).collect(), coated_area_without }
    }

    /// Why figures are not settled, if something is proposed.
    fn why(&self) -> Option<String> {
        let verb = if self.names.len() > 1 { "are" } else { "is" };
        let names = self.names.join(" and ");
        (!names.is_empty()).then(|| format!("nobody has said whether {names} {verb} ours; counted as coated"))
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
    let is_place = |rule: &Rule| !matches!(rule.faces, Faces::Part(_));
    if found.is_empty() || found.iter().any(|f| f.rule.is_none()) || !keep.contains(&true) {
        return None;
    }
    let (model, low) = search.checked.model.clone().keeping(keep);
    let mut cleared = search.cleared.clone();
    if search.scope.rules.iter().any(is_place) && low.norm() > 0.0 {
        // Without a part left out by name, places are measured from another corner: the rules for places would find other faces.
        if found.iter().any(|f| matches!(f.rule, Some(Faces::Part(_)))) {
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
