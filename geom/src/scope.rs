//! What is coated, what is bare, what is not ours.

use crate::drawing::{Axis, Model};
use crate::measure;
use crate::units::Length;
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

/// A flat side is proposed as bare from this share of the whole area.
const WORTH_ASKING: f64 = 0.01;

impl Scope {
    /// Applies the rules. `hollow` marks inner walls of closed hollows, which nobody can reach to coat. O(n) a rule.
    #[must_use]
    pub fn apply(&self, model: &Model, hollow: impl Fn(usize) -> bool + Sync) -> Scoped {
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
            set(faces.words(), *is, &|face| faces.finds(model, face), true);
        }
        Scoped { states, found, questions }
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

    fn finds(&self, model: &Model, face: usize) -> bool {
        match self {
            Self::Plane { facing, at, within } => {
                looks_along(model, face, &facing.vector())
                    && model
                        .mesh()
                        .corners(face)
                        .iter()
                        .all(|p| (p[facing.index] - at.metres()).abs() <= within.metres())
            }
            Self::Part(name) => {
                let part = &model.parts()[model.mesh().part_of(face) as usize];
                part.name == *name || part.material == *name
            }
            Self::Box { from, to } => {
                let [a, b, c] = model.mesh().corners(face).map(|p| p.coords);
                let middle = (a + b + c) / 3.0;
                (0..3).all(|k| from[k].metres() <= middle[k] && middle[k] <= to[k].metres())
            }
        }
    }
}
