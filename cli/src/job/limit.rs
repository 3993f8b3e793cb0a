//! Limits a job must keep: `undercut area > 20 sq ft`.

use std::{fmt, str::FromStr};

use crate::figure::{FigureId, Quantity};
use crate::quantities::measured::{Grade, Measured};
use crate::settings::ValueError;

/// How a limit compares.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Comparison {
    /// `>`
    Above,
    /// `>=`
    AtLeast,
    /// `<`
    Below,
    /// `<=`
    AtMost,
}

impl Comparison {
    // Two-letter signs first, so that `>=` is not read as `>`.
    const SIGNS: [(&'static str, Self); 4] =
        [(">=", Self::AtLeast), ("<=", Self::AtMost), (">", Self::Above), ("<", Self::Below)];
}

/// A limit: it is hit when the comparison holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// What is watched.
    pub watched: FigureId,
    /// How.
    pub comparison: Comparison,
    /// Against what.
    pub value: Quantity,
}

impl Limit {
    /// Whether a measured value hits the limit; none if the value is of another kind.
    ///
    /// ```
    /// use cragskin::figure::Quantity;
    /// use cragskin::job::Limit;
    /// use cragskin_geom::units::Area;
    /// let limit: Limit = "undercut area > 20 sq ft".parse()?;
    /// assert_eq!(limit.is_hit(Quantity::Area(Area::from_square_feet(21.0))), Some(true));
    /// # Ok::<(), cragskin::settings::ValueError>(())
    /// ```
    #[must_use]
    pub fn is_hit(&self, measured: Quantity) -> Option<bool> {
        let order = measured.partial_cmp(&self.value)?;
        (std::mem::discriminant(&measured) == std::mem::discriminant(&self.value)).then_some(match self.comparison {
            Comparison::Above => order.is_gt(),
            Comparison::AtLeast => order.is_ge(),
            Comparison::Below => order.is_lt(),
            Comparison::AtMost => order.is_le(),
        })
    }

    /// Whether the true figure hits the limit, by a measured one and what that is worth; none when it may or may not: a lower
    /// bound that keeps below a maximum says nothing of it.
    ///
    /// ```
    /// use cragskin::figure::Quantity;
    /// use cragskin::job::Limit;
    /// use cragskin::quantities::{Grade, Measured, Quality};
    /// use cragskin_geom::units::Area;
    /// let limit: Limit = "coated area > 170 sq ft".parse()?;
    /// let at_least = |feet| Measured::new(Quantity::Area(Area::from_square_feet(feet)), Quality::new(Grade::LowerBound, "holes"));
    /// assert_eq!([168.0, 171.0].map(|feet| limit.is_truly_hit(&at_least(feet))), [None, Some(true)]);
    /// # Ok::<(), cragskin::settings::ValueError>(())
    /// ```
    #[must_use]
    pub fn is_truly_hit(&self, figure: &Measured<Quantity>) -> Option<bool> {
        let hit = self.is_hit(*figure.value()?)?;
        let from_below = matches!(self.comparison, Comparison::Above | Comparison::AtLeast);
        let sure = match figure.quality().grade {
            Grade::Good => true,
            // The true figure is this or more: a maximum that is passed stays passed, a minimum that is kept stays kept.
            Grade::LowerBound => hit == from_below,
            Grade::UpperBound => hit != from_below,
            Grade::NotKnown | Grade::NotDefined => false,
        };
        sure.then_some(hit)
    }
}

/// Why a figure that only comparisons know is not defined where nothing is compared: by a takeoff, by a batch without an approved
/// model. Such a limit stops nothing; one that a comparison leaves open stops like any other.
pub const NOT_COMPARED: [&str; 2] =
    ["only a comparison of two revisions knows it", "there is no approved model to compare with"];

impl FromStr for Limit {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        let split = Comparison::SIGNS.iter().find_map(|&(sign, comparison)| {
            text.split_once(sign).map(|(name, value)| (name.trim(), comparison, value.trim()))
        });
        let Some((name, comparison, value)) = split else {
            return Err(ValueError(format!("`{text}` is no limit; write for example `undercut area > 20 sq ft`")));
        };
        let Some(&watched) = FigureId::WATCHED.iter().find(|id| limit_name(**id) == name) else {
            return Err(not_watched(text, name));
        };
        if value.is_empty() {
            return Err(ValueError(format!(
                "`{text}` has no value after the sign; write for example `{name} > {}`",
                watched.unit().example()
            )));
        }
        Ok(Self { watched, comparison, value: watched.unit().read(value)? })
    }
}

/// What a limit calls a figure.
fn limit_name(id: FigureId) -> &'static str {
    id.row().limit.unwrap_or_default()
}

/// A name this like one that can be watched is a slip of the pen. Slips spare the first letter: `weight` is not meant for `height`.
const A_SLIP: f64 = 0.75;

fn not_watched(text: &str, name: &str) -> ValueError {
    if name.is_empty() {
        return ValueError(format!("`{text}` names nothing to watch; write for example `undercut area > 20 sq ft`"));
    }
    let score = |known: &str| strsim::normalized_damerau_levenshtein(name, known);
    let names = || FigureId::WATCHED.into_iter().map(limit_name);
    let begins_alike = |known: &&str| known.chars().next() == name.chars().next();
    let near =
        names().filter(begins_alike).max_by(|a, b| score(a).total_cmp(&score(b))).filter(|best| score(best) >= A_SLIP);
    ValueError(match near {
        Some(near) => format!("`{name}` cannot be watched; did you mean `{near}`?"),
        None => format!("`{name}` cannot be watched; these can: {}", names().collect::<Vec<_>>().join(", ")),
    })
}

impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = Comparison::SIGNS.iter().find(|(_, c)| *c == self.comparison).map_or("", |(sign, _)| sign);
        write!(f, "{} {sign} {}", self.watched.row().limit.unwrap_or_default(), self.value)
    }
}
