//! What is coated and what is bare: rules that replay on the next revision.

use std::str::FromStr;

use cragskin_geom::units::{Length, UnitError, signed_length};

pub use cragskin_geom::scope::{Faces, Rule, Settled, State};

use super::SignedAxis;
use crate::settings::{Placed, Reader};

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
            let (facing, at) = (r.require::<SignedAxis>("scope.plane.facing"), r.require::<Place>("scope.plane.at"));
            let within = r.get("scope.plane.within").map_or(WITHIN, |(v, _)| v);
            let is = r.require("scope.plane.is");
            Some((Rule { faces: Faces::Plane { facing: facing?.into(), at: at?.0, within }, is: is? }, span))
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

/// A rule as a job file says it, a line each.
#[must_use]
pub fn lines(rule: &Faces, is: &str) -> Vec<String> {
    let inches = |length: &Length| format!("\"{:.3} in\"", length.inches()).replace(".000", "");
    let (table, places) = match rule {
        Faces::Part(name) => ("part", vec![format!("name = {name:?}")]),
        Faces::Plane { facing, at, within } => {
            let facing = facing.to_string().to_lowercase();
            let places = [("facing", format!("\"{facing}\"")), ("at", inches(at)), ("within", inches(within))];
            ("plane", places.map(|(key, value)| format!("{key} = {value}")).into())
        }
        Faces::Box { from, to } => {
            let corner = |corner: &[Length; 3]| corner.iter().map(inches).collect::<Vec<_>>().join(", ");
            ("box", vec![format!("from = [{}]", corner(from)), format!("to = [{}]", corner(to))])
        }
    };
    [vec![format!("[[scope.{table}]]")], places, vec![format!("is = \"{is}\"")]].concat()
}
