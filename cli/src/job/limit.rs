//! Limits a job must keep: `undercut area > 20 sq ft`.

use std::{fmt, str::FromStr};

use cragskin_geom::units::{Area, Length, Mass, MassPerArea, Volume, feet_inches};

use crate::quantities::measured::{Grade, Measured};
use crate::settings::{Share, ValueError};

/// A typed value of a limit, or of what is measured against it.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub enum Value {
    /// An area.
    Area(Area),
    /// A volume.
    Volume(Volume),
    /// A mass.
    Mass(Mass),
    /// A length.
    Length(Length),
    /// A load on the floor.
    Load(MassPerArea),
    /// A share in percent.
    Share(Share),
    /// A number of things.
    Count(f64),
}

impl fmt::Display for Value {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Area(v) => v.fmt(f),
            Self::Volume(v) => v.fmt(f),
            Self::Mass(v) => v.fmt(f),
            Self::Length(v) => f.write_str(&feet_inches(*v)),
            Self::Load(v) => v.fmt(f),
            Self::Share(v) => v.fmt(f),
            Self::Count(v) => v.fmt(f),
        }
    }
}

macro_rules! watched {
    ($($(#[$doc:meta])* $variant:ident = $name:literal: $kind:ident;)+) => {
        /// What a limit may watch.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Watched { $($(#[$doc])* $variant),+ }

        impl Watched {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// As it is written.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name),+ }
            }

            /// Follows from the measures by the book's rates alone: bags, sheets and weights.
            #[must_use]
            pub const fn is_reckoned(self) -> bool {
                matches!(self, Self::Bags | Self::Sheets | Self::WetMass | Self::CuredMass | Self::FloorLoad)
            }

            /// Known to a comparison of two revisions alone.
            #[must_use]
            pub const fn is_compared(self) -> bool {
                matches!(self, Self::AreaChange | Self::ChangedArea)
            }

            /// A value of its kind, as it is written.
            const fn example(self) -> &'static str {
                match self { $(Self::$variant => watched!(@example $kind)),+ }
            }

            fn value(self, text: &str) -> Result<Value, ValueError> {
                // Nothing is nothing in any unit.
                let bare_zero = text.parse() == Ok(0.0);
                match self { $(Self::$variant => watched!(@read $kind, text, bare_zero)),+ }
            }
        }
    };
    (@example Area) => { "20 sq ft" };
    (@example Volume) => { "20 cu ft" };
    (@example Mass) => { "500 lb" };
    (@example Length) => { "8 ft" };
    (@example Load) => { "50 lb/sq ft" };
    (@example Share) => { "5 %" };
    (@example Count) => { "20" };
    (@read Count, $text:ident, $zero:ident) => {
        match $text.parse::<f64>() {
            Ok(count) if count.is_finite() && count >= 0.0 => Ok(Value::Count(count)),
            _ => Err(ValueError(format!("`{}` is not a number of things; write for example `20`", $text))),
        }
    };
    (@read $kind:ident, $text:ident, $zero:ident) => {{
        if $zero {
            return Ok(Value::$kind(Default::default()));
        }
        $text.parse().map(Value::$kind).map_err(|e| ValueError(format!("{e}")))
    }};
}

watched! {
    /// Coated area.
    CoatedArea = "coated area": Area;
    /// Area that is not coated.
    BareArea = "bare area": Area;
    /// Coated area facing up.
    TopArea = "top area": Area;
    /// Coated sloping area.
    SlopeArea = "slope area": Area;
    /// Coated area near plumb.
    WallArea = "wall area": Area;
    /// Coated area hanging out.
    UndercutArea = "undercut area": Area;
    /// Coated area overhead.
    SoffitArea = "soffit area": Area;
    /// Area that needs two lifts or more.
    TwoLiftArea = "two-lift area": Area;
    /// Area that takes lath.
    LathArea = "lath area": Area;
    /// Area within two degrees of a class limit.
    NearLimitArea = "near-limit area": Area;
    /// Skin as placed.
    SkinVolume = "skin volume": Volume;
    /// Foam core.
    CoreVolume = "core volume": Volume;
    /// All of it, wet on the day.
    WetMass = "wet mass": Mass;
    /// All of it, cured.
    CuredMass = "cured mass": Mass;
    /// Load under the worst foot, wet on the day.
    FloorLoad = "floor load": Load;
    /// Total length of open edges.
    OpenEdgeLength = "open edge length": Length;
    /// Height of the model.
    Height = "height": Length;
    /// Bags of mix.
    Bags = "bags": Count;
    /// Sheets of lath.
    Sheets = "sheets": Count;
    /// Change of the coated area against the revision before.
    AreaChange = "area change": Share;
    /// Surface that is new or gone against the revision before, the larger of the two.
    ChangedArea = "changed area": Area;
}

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
    pub watched: Watched,
    /// How.
    pub comparison: Comparison,
    /// Against what.
    pub value: Value,
}

impl Limit {
    /// Whether a measured value hits the limit; none if the value is of another kind.
    ///
    /// ```
    /// use cragskin::job::{Limit, Value};
    /// use cragskin_geom::units::Area;
    /// let limit: Limit = "undercut area > 20 sq ft".parse()?;
    /// assert_eq!(limit.is_hit(Value::Area(Area::from_square_feet(21.0))), Some(true));
    /// # Ok::<(), cragskin::settings::ValueError>(())
    /// ```
    #[must_use]
    pub fn is_hit(&self, measured: Value) -> Option<bool> {
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
    /// use cragskin::job::{Limit, Value};
    /// use cragskin::quantities::{Grade, Measured, Quality};
    /// use cragskin_geom::units::Area;
    /// let limit: Limit = "coated area > 170 sq ft".parse()?;
    /// let at_least = |feet| Measured::new(Value::Area(Area::from_square_feet(feet)), Quality::new(Grade::LowerBound, "holes"));
    /// assert_eq!([168.0, 171.0].map(|feet| limit.is_truly_hit(&at_least(feet))), [None, Some(true)]);
    /// # Ok::<(), cragskin::settings::ValueError>(())
    /// ```
    #[must_use]
    pub fn is_truly_hit(&self, figure: &Measured<Value>) -> Option<bool> {
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
        let Some(&watched) = Watched::ALL.iter().find(|w| w.name() == name) else {
            return Err(not_watched(text, name));
        };
        if value.is_empty() {
            return Err(ValueError(format!(
                "`{text}` has no value after the sign; write for example `{name} > {}`",
                watched.example()
            )));
        }
        Ok(Self { watched, comparison, value: watched.value(value)? })
    }
}

/// A name this like one that can be watched is a slip of the pen. Slips spare the first letter: `weight` is not meant for `height`.
const A_SLIP: f64 = 0.75;

fn not_watched(text: &str, name: &str) -> ValueError {
    if name.is_empty() {
        return ValueError(format!("`{text}` names nothing to watch; write for example `undercut area > 20 sq ft`"));
    }
    let score = |known: &str| strsim::normalized_damerau_levenshtein(name, known);
    let names = || Watched::ALL.iter().map(|watched| watched.name());
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
        write!(f, "{} {sign} {}", self.watched.name(), self.value)
    }
}
