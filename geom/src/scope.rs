//! What is coated, what is bare, what is not ours.

use crate::drawing::{Axis, Model};
use crate::intake::PartName;
use crate::measure;
use crate::units::{Area, Length};
use nalgebra::Vector3;
use rayon::prelude::*;

/// How far a face may turn from a plane's direction and still lie on it.
const FLAT_COSINE: f64 = 0.996_194_698; // cos 5 degrees
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
        && looks_along(model, face, direction)
}

fn looks_along(model: &Model, face: usize, direction: &Vector3<f64>) -> bool {
    let vector = model.mesh().area_vector(face);
    let size = vector.norm();
    size > 0.0 && vector.dot(direction) >= size * FLAT_COSINE
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

/// A rule of the job file. Later rules win over earlier ones.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    /// Which faces.
    pub faces: Faces,
    /// What becomes of them.
    pub is: State,
}

/// Which faces a rule finds, in the model as placed (metres, Z up, visitors at -Y, low corner at zero).
#[derive(Clone, Debug, PartialEq)]
pub enum Faces {
    /// Flat faces that look along `facing` and lie within `within` of the plane at `at` on that axis.
    Plane {
        /// Outward direction in the model as placed: x left to right, y front to back, z up.
        facing: Axis,
        /// Where on the axis.
        at: Length,
        /// How far off the plane the corners may lie.
        within: Length,
    },
    /// All faces of a part, by its name or its material.
    Part(String),
    /// Faces whose middle lies in a box.
    Box {
        /// Low corner.
        from: [Length; 3],
        /// High corner.
        to: [Length; 3],
    },
}

/// The scope of a job, by rule and not by face number, so that it replays on the next revision.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scope {
    /// The lowest flat that faces down.
    pub floor: Settled,
    /// The flat extreme away from the visitor.
    pub back: Settled,
    /// Everything else, in order.
    pub rules: Vec<Rule>,
}

/// What a rule found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The rule in words.
    pub rule: String,
    /// What becomes of the faces.
    pub is: State,
    /// How many faces; none means that the rule finds nothing in this revision.
    pub faces: usize,
    /// Their area in square metres.
    pub area_m2: f64,
}

/// A side that looks as if it stays bare, while nobody has said so.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// `floor` or `back`.
    pub side: &'static str,
    /// Its area in square metres.
    pub area_m2: f64,
}

/// The scope applied to one model.
#[derive(Clone, Debug)]
pub struct Scoped {
    /// State of every face.
    pub states: Vec<State>,
    /// What each settled rule found, in order.
    pub found: Vec<Found>,
    /// Sides not settled.
    pub questions: Vec<Question>,
}

/// What rules have left out of a model, and where they measure from: the low corner of all but the parts left out by name.
#[derive(Clone, Debug, PartialEq)]
pub struct Cleared {
    /// Of each rule, how many faces it left out and their area in square metres; empty when no rule did.
    left_out: Vec<(usize, f64)>,
    /// The low corner of what is left, in the model that the rules measure on. In metres.
    pub datum: Vector3<f64>,
    /// Area left out, parts that are not in the model included.
    pub area: Area,
}

/// A flat side is proposed as bare from this share of the whole area.
const WORTH_ASKING: f64 = 0.01;

impl Scope {
    /// Applies the rules. `hollow` marks inner walls of closed hollows, which nobody can reach to coat. O(n) a rule.
    #[must_use]
    pub fn apply(&self, model: &Model, hollow: impl Fn(usize) -> bool + Sync) -> Scoped {
        self.apply_after(&Cleared::nothing(), model, hollow)
    }

    /// Parts that the rules leave out as a whole: the last rule that names one, by name or material, decides. A rule for a place
    /// finds nothing of them.
    #[must_use]
    pub fn absent_parts(&self, parts: &[PartName]) -> Vec<bool> {
        let names = |rule: &&Rule, part: &PartName| matches!(&rule.faces, Faces::Part(name) if part.is_called(name));
        let last = |part| self.rules.iter().rev().find(|rule| names(rule, part));
        parts.iter().map(|part| last(part).is_some_and(|rule| rule.is == State::LeftOut)).collect()
    }

    /// Which faces to keep of a model, and notes in `cleared` what the rules leave out; none when they leave out nothing. Planes ask
    /// which way a face looks, so they are asked on a repaired model only. The caller takes the faces out and tells
    /// [`Cleared::moved`] where the low corner lay. O(n) a rule.
    pub fn keeps(&self, model: &Model, repaired: bool, cleared: &mut Cleared) -> Option<Vec<bool>> {
        let asked = |rule: &Rule| match rule.faces {
            Faces::Plane { .. } => repaired,
            Faces::Part(_) | Faces::Box { .. } => true,
        };
        if !self.rules.iter().any(|rule| rule.is == State::LeftOut && asked(rule)) {
            return None;
        }
        let hits = |k: &usize, face| asked(&self.rules[*k]) && self.rules[*k].faces.finds(model, &cleared.datum, face);
        let last = |face| (0..self.rules.len()).rev().find(|k| hits(k, face));
        let faces = model.mesh().triangles().len();
        let decides: Vec<Option<usize>> = (0..faces).into_par_iter().map(last).collect();
        let out = |face: usize| decides[face].filter(|k| self.rules[*k].is == State::LeftOut);
        let area = |f: &(dyn Fn(usize) -> bool + Sync)| measure::area(model.mesh(), model.diagonal(), f);
        cleared.left_out.resize(self.rules.len(), (0, 0.0));
        for (k, (count, sum)) in cleared.left_out.iter_mut().enumerate() {
            let hit = |face: usize| out(face) == Some(k);
            *count += (0..faces).filter(|face| hit(*face)).count();
            *sum += area(&hit).square_metres();
        }
        let keep: Vec<bool> = (0..faces).map(|face| out(face).is_none()).collect();
        cleared.area += area(&|face| !keep[face]);
        keep.contains(&false).then_some(keep)
    }

    /// Applies the rules to a model from which [`Scope::keeps`] has taken what is left out.
    #[must_use]
    pub fn apply_after(&self, cleared: &Cleared, model: &Model, hollow: impl Fn(usize) -> bool + Sync) -> Scoped {
        let mesh = model.mesh();
        let size = model.size().map(Length::metres);
        let mut states = vec![State::Coated; mesh.triangles().len()];
        let mut found = Vec::new();
        let mut questions = Vec::new();
        let area = |f: &(dyn Fn(usize) -> bool + Sync)| measure::area(mesh, model.diagonal(), f).square_metres();
        let mut set = |rule: String, is: State, finds: &(dyn Fn(usize) -> bool + Sync), keep_empty: bool| {
            let hit: Vec<bool> = (0..states.len()).into_par_iter().map(finds).collect();
            let faces = hit.iter().filter(|h| **h).count();
            if faces > 0 || keep_empty {
                states.iter_mut().zip(&hit).filter(|(_, hit)| **hit).for_each(|(state, _)| *state = is);
                found.push(Found { rule, is, faces, area_m2: area(&|f| hit[f]) });
            }
        };
        let whole = area(&|_| true);
        for (side, settled, direction) in [("floor", self.floor, -Vector3::z()), ("back", self.back, Vector3::y())] {
            let finds = |face: usize| on_side(model, size, face, &direction);
            match settled {
                Settled::Bare => set(side.to_owned(), State::Bare, &finds, true),
                Settled::Coated => set(side.to_owned(), State::Coated, &finds, true),
                Settled::Ask => {
                    let area_m2 = area(&finds);
                    if area_m2 > WORTH_ASKING * whole {
                        questions.push(Question { side, area_m2 });
                    }
                }
            }
        }
        set("walls of closed hollows".to_owned(), State::Bare, &hollow, false);
        for Rule { faces, is } in &self.rules {
            set(faces.words(), *is, &|face| faces.finds(model, &cleared.datum, face), true);
        }
        let by_rules = found.len() - self.rules.len();
        for (k, (found, rule)) in found[by_rules..].iter_mut().zip(&self.rules).enumerate() {
            let (faces, area_m2) = cleared.found(model, k, &rule.faces);
            found.faces += faces;
            found.area_m2 += area_m2;
        }
        Scoped { states, found, questions }
    }
}

impl Cleared {
    fn nothing() -> Self {
        Self { left_out: Vec::new(), datum: Vector3::zeros(), area: Area::ZERO }
    }

    /// Of a model as placed: nothing but the parts that are not in it any more.
    #[must_use]
    pub fn of(model: &Model) -> Self {
        let absent: f64 = model.absent_parts().iter().map(|part| part.area).sum();
        Self { area: Area::from_square_metres(absent), ..Self::nothing() }
    }

    /// The low corner of what is left lies here in the model that faces were taken from.
    pub fn moved(&mut self, low: Vector3<f64>) {
        self.datum += low;
    }

    /// Faces and their area that a rule would have found and that are not in the model any more.
    fn found(&self, model: &Model, rule: usize, faces: &Faces) -> (usize, f64) {
        let (mut count, mut area) = self.left_out.get(rule).copied().unwrap_or_default();
        if let Faces::Part(name) = faces {
            for part in model.absent_parts().iter().filter(|part| model.parts()[part.part as usize].is_called(name)) {
                count += part.triangles;
                area += part.area;
            }
        }
        (count, area)
    }
}

impl Faces {
    fn words(&self) -> String {
        match self {
            Self::Plane { facing, at, within } => format!("faces {facing} at {at} within {within}"),
            Self::Part(name) => format!("part {name}"),
            Self::Box { from, to } => {
                let corner = |c: &[Length; 3]| c.map(|l| l.to_string()).join(", ");
                format!("box from {} to {}", corner(from), corner(to))
            }
        }
    }

    /// `datum` is the model's low corner where the rule measures.
    fn finds(&self, model: &Model, datum: &Vector3<f64>, face: usize) -> bool {
        match self {
            Self::Plane { facing, at, within } => {
                looks_along(model, face, &facing.vector())
                    && model
                        .mesh()
                        .corners(face)
                        .iter()
                        .all(|p| (p[facing.index] + datum[facing.index] - at.metres()).abs() <= within.metres())
            }
            Self::Part(name) => {
                let part = &model.parts()[model.mesh().part_of(face) as usize];
                part.is_called(name)
            }
            Self::Box { from, to } => {
                let [a, b, c] = model.mesh().corners(face).map(|p| p.coords);
                let middle = (a + b + c) / 3.0 + datum;
                (0..3).all(|k| from[k].metres() <= middle[k] && middle[k] <= to[k].metres())
            }
        }
    }
}
