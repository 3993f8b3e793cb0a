//! What is coated and what is bare: rules that replay on the next revision.

use std::str::FromStr;

use cragskin_geom::units::{Length, UnitError, signed_length};

use super::Axis;
use crate::settings::{Reader, words};

/// What to do with the floor face or the back face of a model.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Extreme {
    /// Not settled: both figures are shown.
    #[default]
    Ask,
    /// Not coated.
    Bare,
    /// Coated.
    Coated,
}

/// What to do with a part or a box.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PartState {
    /// There, but not coated.
    Bare,
    /// Coated, whatever an earlier rule said.
    Coated,
    /// Not ours: as if it were not in the file.
    LeftOut,
}
words! {
    Extreme { "ask" = Ask, "bare" = Bare, "coated" = Coated }
    PartState { "bare" = Bare, "coated" = Coated, "left out" = LeftOut }
}

/// Faces on a plane across an axis are bare.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaneRule {
    /// The plane lies across this axis.
    pub axis: Axis,
    /// Where, from the model's corner of least coordinates.
    pub at: Length,
    /// Faces that lie wholly within this of it.
    pub within: Length,
}

/// A rule for a part by its name.
#[derive(Clone, Debug, PartialEq)]
pub struct PartRule {
    /// Name as in the file.
    pub name: String,
    /// What becomes of it.
    pub state: PartState,
}

/// A rule for faces whose centre is in a box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoxRule {
    /// Least corner, from the model's corner of least coordinates.
    pub from: [Length; 3],
    /// Greatest corner.
    pub to: [Length; 3],
    /// What becomes of them.
    pub state: PartState,
}

/// All scope rules of a job.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scope {
    /// The lowest flat that faces down.
    pub floor: Extreme,
    /// The flat extreme away from the visitor.
    pub back: Extreme,
    /// `[[scope.plane]]`
    pub planes: Vec<PlaneRule>,
    /// `[[scope.part]]`
    pub parts: Vec<PartRule>,
    /// `[[scope.box]]`
    pub boxes: Vec<BoxRule>,
}

/// A place: a length of either sign.
struct Place(Length);

impl FromStr for Place {
    type Err = UnitError;
    fn from_str(text: &str) -> Result<Self, UnitError> {
        signed_length(text).map(Self)
    }
}

/// How near a face must be to a plane, unless the rule says so.
const WITHIN: Length = Length::from_inches(0.25);

fn corner(r: &mut Reader<'_>, key: &str) -> Option<[Length; 3]> {
    let (list, span) = r.list::<Place>(key)?;
    let lengths: Vec<Length> = list.into_iter().map(|(place, _)| place.0).collect();
    let three = lengths.try_into().ok();
    if three.is_none() {
        r.fault(span, format!("{key}: three places are wanted, for example [\"0 in\", \"-1 ft\", \"2 m\"]"));
    }
    three
}

impl Scope {
    pub(super) fn fill(r: &mut Reader<'_>) -> Self {
        Self {
            floor: r.get("scope.floor").map(|(v, _)| v).unwrap_or_default(),
            back: r.get("scope.back").map(|(v, _)| v).unwrap_or_default(),
            planes: r.tables("scope.plane", |r, _| {
                let (axis, at) = (r.require("scope.plane.axis"), r.require::<Place>("scope.plane.at"));
                let within = r.get("scope.plane.within").map_or(WITHIN, |(v, _)| v);
                Some(PlaneRule { axis: axis?, at: at?.0, within })
            }),
            parts: r.tables("scope.part", |r, _| {
                let (name, state) = (r.require("scope.part.name"), r.require("scope.part.is"));
                Some(PartRule { name: name?, state: state? })
            }),
            boxes: r.tables("scope.box", |r, span| {
                let (from, to) = (corner(r, "scope.box.from"), corner(r, "scope.box.to"));
                let state = r.require("scope.box.is")?;
                let (Some(from), Some(to)) = (from, to) else {
                    r.fault(span, "scope.box: `from` and `to` are wanted");
                    return None;
                };
                if (0..3).any(|i| from[i] >= to[i]) {
                    r.fault(span, "scope.box: `from` must lie below `to` on all three axes");
                }
                Some(BoxRule { from, to, state })
            }),
        }
    }
}
