//! What is coated and what is bare: rules that replay on the next revision.

use std::str::FromStr;

use cragskin_geom::units::{Length, UnitError, signed_length};

use super::SignedAxis;
use crate::settings::{Placed, Reader, words};

/// Whether the floor or the back of a model has been settled.
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

/// What becomes of the faces that a rule finds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// Coated, whatever an earlier rule said.
    Coated,
    /// Part of the piece but not coated.
    Bare,
    /// Not ours: as if it were not in the file.
    LeftOut,
}
words! {
    Settled { "ask" = Ask, "bare" = Bare, "coated" = Coated }
    State { "coated" = Coated, "bare" = Bare, "left out" = LeftOut }
}

/// Which faces a rule finds. Places are in the model as it stands: z up, the visitor at -y, the low corner at zero.
#[derive(Clone, Debug, PartialEq)]
pub enum Faces {
    /// `[[scope.plane]]`: flat faces that look along `facing` and lie within `within` of the plane at `at`.
    Plane {
        /// Where they look.
        facing: SignedAxis,
        /// Where the plane is on that axis.
        at: Length,
        /// How far off it a face may lie.
        within: Length,
    },
    /// `[[scope.part]]`: all of a part, by its name in the file.
    Part(String),
    /// `[[scope.box]]`: faces whose middle lies in a box.
    Box {
        /// Low corner.
        from: [Length; 3],
        /// High corner.
        to: [Length; 3],
    },
}

/// One rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    /// Which faces.
    pub faces: Faces,
    /// What becomes of them.
    pub is: State,
}

/// All scope rules of a job.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scope {
    /// The lowest flat that faces down.
    pub floor: Settled,
    /// The flat extreme away from the visitor.
    pub back: Settled,
    /// What faces down near the floor and does not lie on it.
    pub underside: Settled,
    /// The others as they stand in the file; a later rule wins.
    pub rules: Vec<Rule>,
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
        let mut rules: Vec<Placed<Rule>> = r.tables("scope.plane", |r, span| {
            let (facing, at) = (r.require("scope.plane.facing"), r.require::<Place>("scope.plane.at"));
            let within = r.get("scope.plane.within").map_or(WITHIN, |(v, _)| v);
            let is = r.require("scope.plane.is");
            Some((Rule { faces: Faces::Plane { facing: facing?, at: at?.0, within }, is: is? }, span))
        });
        rules.extend(r.tables("scope.part", |r, span| {
            let (name, is) = (r.require("scope.part.name"), r.require("scope.part.is"));
            Some((Rule { faces: Faces::Part(name?), is: is? }, span))
        }));
        rules.extend(r.tables("scope.box", |r, span| {
            let (from, to) = (corner(r, "scope.box.from"), corner(r, "scope.box.to"));
            let is = r.require("scope.box.is")?;
            let (Some(from), Some(to)) = (from, to) else {
                r.fault(span, "scope.box: `from` and `to` are wanted");
                return None;
            };
            if (0..3).any(|i| from[i] >= to[i]) {
                r.fault(span.clone(), "scope.box: `from` must lie below `to` on all three axes");
            }
            Some((Rule { faces: Faces::Box { from, to }, is }, span))
        }));
        rules.sort_by_key(|(_, span)| span.start);
        Self {
            floor: r.get("scope.floor").map(|(v, _)| v).unwrap_or_default(),
            back: r.get("scope.back").map(|(v, _)| v).unwrap_or_default(),
            underside: r.get("scope.underside").map(|(v, _)| v).unwrap_or_default(),
            rules: rules.into_iter().map(|(rule, _)| rule).collect(),
        }
    }
}
