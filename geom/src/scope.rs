//! What is coated, what is bare, what is not ours.
//!
//! Every face is decided by the last rule that finds it. A question is a rule without an answer: its area is that of the faces
//! that it would decide, at their exposed share, so that an "if" figure is the figure of the run in which the answer is given.
//!
//! What rules leave out is taken out of the model first ([`Scope::keeps`]); the scope is applied to what remains.

mod beside;
mod cleared;
mod faces;
mod flat;
mod underside;

pub use beside::Beside;
pub use cleared::Cleared;
pub use faces::Faces;

use crate::drawing::Model;
use crate::measure;
use crate::mesh::Mesh;
use crate::numeric::FixedSum;
use crate::projected;
use crate::units::{Angle, Area, Length};
use crate::words::written;
use beside::Side;
use cleared::Gone;
use flat::{Outermost, Search, looks_along};
use nalgebra::Vector3;
use rayon::prelude::*;

/// How far a face may turn from a side of the box and still be counted to that side.
const SIDE_COSINE: f64 = 0.996_194_698; // cos 5 degrees
/// How far the corners of a floor or back may lie off the outermost plane.
pub const FLAT_WITHIN: Length = Length::from_inches(1.0);

/// A flat side at the extreme of the model's box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlatSide {
    /// `-Z` is the floor, `+Y` the back.
    pub name: &'static str,
    /// Where it faces.
    pub direction: Vector3<f64>,
    /// Its area in square metres.
    pub area: f64,
}

/// Flat areas at the six extremes of the box.
#[must_use]
pub fn flat_sides(model: &Model) -> [FlatSide; 6] {
    const NAMES: [&str; 6] = ["-X", "-Y", "-Z", "+X", "+Y", "+Z"];
    let direction = |k: usize| {
        let mut v = Vector3::zeros();
        v[k % 3] = if k < 3 { -1.0 } else { 1.0 };
        v
    };
    let directions: [Vector3<f64>; 6] = std::array::from_fn(direction);
    let size = model.size().map(Length::metres);
    let areas: [_; 6] = measure::area_by(
        model.mesh(),
        model.diagonal(),
        |_| 1.0,
        |face| {
            let vector = model.mesh().area_vector(face);
            let axis = vector.iamax();
            let side = if vector[axis] < 0.0 { axis } else { axis + 3 };
            on_side(model, size, face, &directions[side]).then_some(side)
        },
    );
    std::array::from_fn(|k| FlatSide { name: NAMES[k], direction: directions[k], area: areas[k].square_metres() })
}

fn on_side(model: &Model, size: [f64; 3], face: usize, direction: &Vector3<f64>) -> bool {
    let axis = direction.iamax();
    let extreme = if direction[axis] > 0.0 { size[axis] } else { 0.0 };
    model.mesh().corners(face).iter().all(|p| (p[axis] - extreme).abs() <= FLAT_WITHIN.metres())
        && looks_along(model.mesh(), face, direction, SIDE_COSINE)
}

/// What becomes of a face.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum State {
    /// Gets the skin.
    Coated,
    /// Part of the piece but not coated: back, floor, against a wall.
    Bare,
    /// Not ours: scale figures, furniture, the room.
    LeftOut,
}
written! { State { "coated" = Coated, "bare" = Bare, "left out" = LeftOut } }

/// Whether a proposed bare side has been settled.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Settled {
    /// Nobody has said: both figures are shown.
    #[default]
    Ask,
    /// Not coated.
    Bare,
    /// Coated.
    Coated,
}
written! { Settled { "ask" = Ask, "bare" = Bare, "coated" = Coated } }

/// A rule of the job file. Later rules win over earlier ones.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    /// Which faces.
    pub faces: Faces,
    /// What becomes of them.
    pub is: State,
}

/// The scope of a job, by rule and not by face number, so that it replays on the next revision.
#[derive(Clone, Debug, PartialEq)]
pub struct Scope {
    /// The lowest flat that faces down.
    pub floor: Settled,
    /// The flat extreme away from the visitor.
    pub back: Settled,
    /// What faces down near the floor, does not lie on it and reaches farther in under the edge than a tool does. Not asked about when
    /// the floor is to be coated: a hand gets there.
    pub underside: Settled,
    /// Everything else, in order.
    pub rules: Vec<Rule>,
    /// How far a flat may turn from the direction of floor, back or a plane rule.
    pub within_angle: Angle,
    /// How far above the lowest point an underside is out of reach; an eighth of the height at most.
    pub near_floor: Length,
    /// How far in under an edge a hand tool works there.
    pub tool_reach: Length,
}

impl Default for Scope {
    fn default() -> Self {
        Self {
            floor: Settled::Ask,
            back: Settled::Ask,
            underside: Settled::Ask,
            rules: Vec::new(),
            within_angle: Angle::from_degrees(10.0),
            near_floor: Length::from_inches(6.0),
            tool_reach: Length::from_inches(12.0),
        }
    }
}

/// What a rule found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The rule in words.
    pub rule: String,
    /// What becomes of the faces.
    pub is: State,
    /// How many faces, those that were left out included; none means that the rule finds nothing in this revision.
    pub faces: usize,
    /// Area in square metres of the faces that this rule decides: what no later rule finds, at its exposed share. What it leaves
    /// out counts with its whole area.
    pub area_m2: f64,
    /// How far the flat that was found is turned from the direction asked for.
    pub turned: Option<Angle>,
    /// The rule finds nothing, or of a side next to nothing, though there may be something for it: areas are bounds.
    pub missed: bool,
    /// Of floor and back: where they look, and from when on they are found.
    looks: Option<(Vector3<f64>, Worth)>,
    /// Area in square metres that this rule has left out.
    left_out: f64,
}

/// A side that looks as if it stays bare, while nobody has said so.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// `floor`, `back` or `underside`.
    pub side: &'static str,
    /// Area in square metres of the faces that the answer decides, at their exposed share.
    pub area_m2: f64,
    /// How far the flat that was found is turned from the direction asked for.
    pub turned: Option<Angle>,
    /// Who decides, as in [`Scoped`].
    key: u32,
    /// From when on it is asked.
    worth: Worth,
}

/// The scope applied to one model.
#[derive(Clone, Debug)]
pub struct Scoped {
    /// State of every face, coated or bare: what is left out is not in the model.
    pub states: Vec<State>,
    /// What each settled rule found, in order.
    pub found: Vec<Found>,
    /// Sides not settled.
    pub questions: Vec<Question>,
    /// Sides with a straight flat and a turned one beside it that no rule has decided.
    pub beside: Vec<Beside>,
    /// Who decides each face: the number of a rule found, the key of a question, or nobody.
    decided: Vec<u32>,
}

/// From when on a side is asked about, and a floor is found.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Worth {
    /// A share of the whole area.
    share: f64,
    /// Or whatever its area: the piece stands on it.
    stands: bool,
    /// And an area in square metres.
    least: f64,
}

/// A side is asked about from this share of the whole area, and missed when as much looks its way.
const WORTH_ASKING: f64 = 0.01;
/// A floor is asked about from this share: the soles of a few legs are not coated either.
const A_SOLE: f64 = 0.0025;
/// The piece stands on soles whose box in plan is this share of its width and of its depth, however small they are.
const SPREAD: f64 = 0.5;
/// A back is asked about when it is this share of the outline seen from behind: facets of a round limb are less. Common practice, no
/// source.
const OF_THE_OUTLINE: f64 = 0.25;
/// And from this area: 6 x 6 in.
const A_BACK: Area = Area::from_square_feet(0.25);
/// Keys of questions begin here, far above the number of rules.
const ASKED: u32 = 1 << 24;
/// Nobody decides.
const NOBODY: u32 = u32::MAX;
/// An underside looks within 30 degrees of straight down: a steeper one near the floor is no deeper than a hand is long.
/// Common practice, no source.
const UNDERSIDE_COSINE: f64 = 0.866_025_404;
/// An underside lies in this share of the height at most: a piece no higher than a few hands is turned over to be coated.
const LOW: f64 = 0.125;
/// What looks within 45 degrees of a side may be meant by it.
const MAY_BE_MEANT: f64 = std::f64::consts::FRAC_1_SQRT_2;

impl Worth {
    fn is_found(self, area: f64, whole: f64) -> bool {
        area > self.share * whole || self.stands && area > 0.0
    }
}

type Finds<'a> = &'a (dyn Fn(usize) -> bool + Sync);

impl Scope {
    /// Applies the scope to a model from which [`Scope::keeps`] has taken what the rules leave out; `cleared` tells what that was.
    /// `hollow` marks inner walls of closed hollows, which nobody can reach to coat. O(n) a rule.
    ///
    /// Areas are those of whole faces until [`Scoped::measure_exposed`].
    #[must_use]
    pub fn apply(&self, cleared: &Cleared, model: &Model, hollow: impl Fn(usize) -> bool + Sync) -> Scoped {
        let mesh = model.mesh();
        let search = Search { model, angle: self.within_angle };
        let faces = mesh.triangles().len();
        let mut scoped = Scoped {
            states: vec![State::Coated; faces],
            found: Vec::new(),
            questions: Vec::new(),
            beside: Vec::new(),
            decided: vec![NOBODY; faces],
        };
        let down = -Vector3::z();
        let floor = search.outermost(&down);
        let lowest = -search.reach(&down);
        let on_soles = Worth { share: A_SOLE, stands: stands_on(&floor, &search), least: 0.0 };
        let usual = Worth { share: WORTH_ASKING, stands: false, least: 0.0 };
        let outline = match self.back {
            Settled::Ask => projected::elevation(mesh, model.size(), |_| true),
            Settled::Bare | Settled::Coated => Area::ZERO,
        };
        let flat_back = Worth { least: (outline * OF_THE_OUTLINE).max(A_BACK).square_metres(), ..usual };
        let back = search.outermost(&Vector3::y());
        let sides: [(&str, Settled, Vector3<f64>, &Outermost, Worth); 2] =
            [("floor", self.floor, down, &floor, on_soles), ("back", self.back, Vector3::y(), &back, flat_back)];
        let mut both = Vec::new();
        for (name, settled, direction, outermost, worth) in sides {
            let finds = |face: usize| outermost.holds(mesh, face);
            let by = scoped.settle(name, settled, outermost.turned(&direction), worth, &finds);
            scoped.looks_last(settled, direction, worth);
            both.push(Side { name, direction, settled, outermost, by });
        }
        if self.underside != Settled::Ask || self.floor != Settled::Coated {
            let height = search.reach(&Vector3::z()) - lowest;
            let high = lowest + self.near_floor.metres().min(height * LOW);
            let is_low = |face: usize| {
                looks_along(mesh, face, &down, UNDERSIDE_COSINE)
                    && mesh.corners(face).iter().all(|p| p.z <= high)
                    && !floor.holds(mesh, face)
            };
            let low: Vec<bool> = (0..faces).into_par_iter().map(is_low).collect();
            let on_floor = |face: usize| floor.holds(mesh, face);
            let far = underside::out_of_reach(mesh, &low, &on_floor, self.tool_reach.metres());
            scoped.settle("underside", self.underside, None, usual, &|face| far[face]);
        }
        if (0..faces).into_par_iter().any(&hollow) {
            scoped.set("walls of closed hollows".to_owned(), State::Bare, None, &hollow);
        }
        for (k, rule) in self.rules.iter().enumerate() {
            let gone = cleared.gone(self, model, k);
            if rule.is == State::LeftOut {
                // What is still here is kept by a later rule.
                let aim = rule.faces.aim_straight(&search, &cleared.datum);
                let here = (0..faces).into_par_iter().filter(|face| aim.finds(*face)).count();
                scoped.note(rule.faces.words(), rule.is, gone.turned, here);
            } else {
                let aim = rule.faces.aim(&search, &cleared.datum);
                scoped.set(rule.faces.words(), rule.is, aim.turned(), &|face| aim.finds(face));
            }
            scoped.credit(&gone);
        }
        scoped.beside = both.iter().flat_map(|side| side.beside(&scoped, &search, &cleared.datum)).collect();
        scoped.measure_exposed(mesh, model.diagonal(), |_| 1.0);
        scoped
    }
}

/// The faces of a floor lie under the piece far enough apart that it stands on them. O(n).
fn stands_on(floor: &Outermost, search: &Search<'_>) -> bool {
    let mesh = search.model.mesh();
    let faces = (0..mesh.triangles().len()).filter(|face| floor.holds(mesh, *face));
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in faces.flat_map(|face| mesh.corners(face)) {
        for k in 0..2 {
            (low[k], high[k]) = (low[k].min(p[k]), high[k].max(p[k]));
        }
    }
    let size = search.model.size();
    (0..2).all(|k| high[k] - low[k] >= SPREAD * size[k].metres())
}

impl Scoped {
    /// A question decides the face, so that nobody has said whether it is coated.
    #[must_use]
    pub fn is_open(&self, face: usize) -> bool {
        self.questions.iter().any(|question| question.key == self.decided[face])
    }

    /// Decides or asks about a side; and who decides its faces from then on.
    fn settle(
        &mut self,
        side: &'static str,
        settled: Settled,
        turned: Option<Angle>,
        worth: Worth,
        finds: Finds<'_>,
    ) -> u32 {
        match settled {
            Settled::Bare => self.set(side.to_owned(), State::Bare, turned, finds),
            Settled::Coated => self.set(side.to_owned(), State::Coated, turned, finds),
            Settled::Ask => {
                let key = ASKED + self.questions.len() as u32;
                self.decide(key, finds);
                self.questions.push(Question { side, area_m2: 0.0, turned, key, worth });
                key
            }
        }
    }

    fn decide(&mut self, key: u32, finds: Finds<'_>) -> Vec<bool> {
        let hit: Vec<bool> = (0..self.states.len()).into_par_iter().map(finds).collect();
        self.decided.iter_mut().zip(&hit).filter(|(_, hit)| **hit).for_each(|(by, _)| *by = key);
        hit
    }

    /// Decides by a rule; and its number.
    fn set(&mut self, rule: String, is: State, turned: Option<Angle>, finds: Finds<'_>) -> u32 {
        let by = self.found.len() as u32;
        let hit = self.decide(by, finds);
        self.states.iter_mut().zip(&hit).filter(|(_, hit)| **hit).for_each(|(state, _)| *state = is);
        let faces = hit.iter().filter(|h| **h).count();
        self.note(rule, is, turned.filter(|_| faces > 0), faces);
        by
    }

    fn note(&mut self, rule: String, is: State, turned: Option<Angle>, faces: usize) {
        self.found.push(Found { rule, is, faces, area_m2: 0.0, turned, missed: false, looks: None, left_out: 0.0 });
    }

    /// Counts to the rule last set what it found before the model was cleared.
    fn credit(&mut self, gone: &Gone) {
        if let Some(found) = self.found.last_mut() {
            found.faces += gone.faces;
            found.left_out = gone.area;
        }
    }

    /// The rule last set is that of a side which looks this way, unless it was only asked about.
    fn looks_last(&mut self, settled: Settled, direction: Vector3<f64>, worth: Worth) {
        if let (true, Some(found)) = (settled != Settled::Ask, self.found.last_mut()) {
            found.looks = Some((direction, worth));
        }
    }

    /// Measures rules and questions at the exposed share of each face, 0 to 1; drops questions that are too small to ask. What a
    /// rule has left out counts with its whole area. O(n), one thread.
    pub fn measure_exposed(&mut self, mesh: &Mesh, diagonal: f64, share: impl Fn(usize) -> f64) {
        let zero = FixedSum::with_terms_up_to(diagonal * diagonal);
        let (mut whole, mut bare) = (zero, zero);
        let mut rules = vec![zero; self.found.len()];
        let mut asked = vec![zero; self.questions.len()];
        let mut meant = vec![zero; self.found.len()];
        for (face, by) in self.decided.iter().enumerate() {
            let area = mesh.area_vector(face).norm() * share(face);
            whole.add(area);
            bare.add(if self.states[face] == State::Bare { area } else { 0.0 });
            if let Some(sum) = rules.get_mut(*by as usize) {
                sum.add(area);
            } else if let Some(k) = self.questions.iter().position(|question| question.key == *by) {
                asked[k].add(area);
            }
            let looking =
                self.found.iter().zip(&mut meant).filter_map(|(found, sum)| found.looks.map(|to| (to.0, sum)));
            for (to, sum) in looking.filter(|_| *by == NOBODY) {
                sum.add(if looks_along(mesh, face, &to, MAY_BE_MEANT) { area } else { 0.0 });
            }
        }
        let least = WORTH_ASKING * whole.value();
        for ((found, sum), meant) in self.found.iter_mut().zip(&rules).zip(&meant) {
            found.area_m2 = sum.value() + found.left_out;
            let nothing = found.faces == 0;
            found.missed = match (found.looks, found.is) {
                // Uncoated by nothing, a side that is to be coated is coated.
                (Some(_), State::Coated) => false,
                // What was found is taken off, and leaves no doubt of its own.
                (Some((_, worth)), _) => !worth.is_found(sum.value(), whole.value()) && meant.value() > least,
                // What is not there cannot be bare or coated by mistake.
                (None, _) if found.rule == "underside" => false,
                (None, State::Coated) => nothing && bare.value() > 0.0,
                (None, _) => nothing,
            };
        }
        self.questions.iter_mut().zip(&asked).for_each(|(question, sum)| question.area_m2 = sum.value());
        self.questions.retain(|question| {
            question.worth.is_found(question.area_m2, whole.value()) && question.area_m2 >= question.worth.least
        });
    }
}
