//! What zones, lath and lifts are worth, wherever they are listed or drawn.

use super::{OpenSide, open_sides};
use crate::notices::{TOO_LARGE, WHICH_UP};
use crate::quantities::Grade;
use crate::takeoff::Takeoff;
use cragskin_geom::soundness::Quality;

/// Findings that ask what zones hang on: which way is up, which side is coated, where a rule has lost its faces.
const ASK_OF_ZONES: [&str; 7] = [
    WHICH_UP,
    TOO_LARGE,
    "not_a_number",
    "cannot_tell_facing",
    "drawn_on_both_sides",
    "sheet_turned",
    "rule_finds_nothing",
];

/// The grade of zones, lath and lifts, and what to answer to better it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct ZonesWorth {
    /// The grade and why.
    pub(crate) quality: Quality,
    /// What to answer, where the grade is neither good nor a bound.
    pub(crate) questions: Vec<String>,
}

impl ZonesWorth {
    /// Of a takeoff.
    pub(crate) fn of(takeoff: &Takeoff) -> Self {
        let quality = takeoff.zones_quality();
        let questions = match quality.grade {
            Grade::Good | Grade::LowerBound | Grade::UpperBound => Vec::new(),
            Grade::NotKnown | Grade::NotDefined => {
                let findings = takeoff.findings().into_iter();
                let asked = findings.filter(|finding| ASK_OF_ZONES.contains(&finding.code.as_str()));
                let open = open_sides(&takeoff.scoped);
                asked.map(|finding| finding.text).chain(open.iter().map(OpenSide::question)).collect()
            }
        };
        Self { quality, questions }
    }

    /// The model says enough to list and draw zones.
    pub(crate) fn is_defined(&self) -> bool {
        self.quality.grade != Grade::NotDefined
    }

    /// The grade and why in one line; none when good.
    pub(crate) fn words(&self) -> Option<String> {
        (self.quality.grade != Grade::Good).then(|| format!("zones, lath and lifts: {}", self.quality))
    }

    /// The grade as a word to stand in a name; empty when good or a bound, for the zones then stand where they are drawn.
    pub(crate) fn mark(&self) -> &'static str {
        if self.quality.grade == Grade::NotKnown { self.quality.grade.words() } else { "" }
    }
}
