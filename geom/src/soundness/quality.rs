//! How far a number can be trusted: the small table on the first page.

use super::finding::{Code, Finding};
use super::repair::Body;

/// How far a number can be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Grade {
    /// As good as the model.
    Good,
    /// The true figure is this or more.
    LowerBound,
    /// The true figure is this or less.
    UpperBound,
    /// A figure stands for want of a better one; the true one may be more or less.
    NotKnown,
    /// The model does not say.
    NotDefined,
}

impl Grade {
    /// `good`, `lower bound`, `upper bound`, `not known`, `not defined`.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::LowerBound => "lower bound",
            Self::UpperBound => "upper bound",
            Self::NotKnown => "not known",
            Self::NotDefined => "not defined",
        }
    }
}

/// A grade and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quality {
    /// The grade.
    pub grade: Grade,
    /// Why, in plain words; empty when good.
    pub reason: String,
}

impl std::fmt::Display for Quality {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.reason.as_str() {
            "" => f.write_str(self.grade.words()),
            reason => write!(f, "{}: {reason}", self.grade.words()),
        }
    }
}

impl Quality {
    /// Good.
    #[must_use]
    pub const fn good() -> Self {
        Self { grade: Grade::Good, reason: String::new() }
    }

    /// Anything else, with its reason.
    #[must_use]
    pub fn new(grade: Grade, reason: impl Into<String>) -> Self {
        Self { grade, reason: reason.into() }
    }

    /// The worse of two; of two alike both reasons. What may be more for one reason and less for another is not known.
    ///
    /// ```
    /// use cragskin_geom::soundness::{Grade, Quality};
    /// let (less, more) = (Quality::new(Grade::LowerBound, "holes"), Quality::new(Grade::UpperBound, "a scale figure"));
    /// assert_eq!(less.clone().and(more), Quality::new(Grade::NotKnown, "holes; a scale figure"));
    /// // A reason that both have is said once.
    /// let both = Quality::new(Grade::LowerBound, "triangles left out; holes");
    /// assert_eq!(less.and(both).reason, "holes; triangles left out");
    /// ```
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        match (self.grade, other.grade) {
            (Grade::LowerBound, Grade::UpperBound) | (Grade::UpperBound, Grade::LowerBound) => {
                Self::new(Grade::NotKnown, self.with_reasons_of(&other))
            }
            (a, b) if b > a || a == b && self.reason.is_empty() => other,
            (a, b) if a == b => Self::new(a, self.with_reasons_of(&other)),
            _ => self,
        }
    }

    /// The reasons of both, each once.
    fn with_reasons_of(&self, other: &Self) -> String {
        let mut all: Vec<&str> = Vec::new();
        for reason in self.reason.split("; ").chain(other.reason.split("; ")) {
            if !reason.is_empty() && !all.contains(&reason) {
                all.push(reason);
            }
        }
        all.join("; ")
    }
}

/// A quality for each kind of number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QualityTable {
    /// Areas.
    pub area: Quality,
    /// Lean of faces.
    pub lean: Quality,
    /// Skin volume.
    pub skin_volume: Quality,
    /// Volume of the foam core.
    pub core_volume: Quality,
}

/// Holes of this share of the area make it a lower bound: as much as the skin is measured to.
const WORTH_A_GRADE: f64 = 0.005;

/// Whether the holes of bodies that are all but closed are large enough to be missed in the area.
pub(super) fn holes_matter(bodies: &[Body]) -> bool {
    let [missing, area] = bodies.iter().fold([0.0; 2], |[m, a], body| [m + body.missing(), a + body.area]);
    missing > WORTH_A_GRADE * area
}

impl QualityTable {
    pub(super) fn of(findings: &[Finding], bodies: &[Body]) -> Self {
        let has = |code: Code| findings.iter().any(|f| f.code == code);
        let mut table = Self {
            area: Quality::good(),
            lean: Quality::good(),
            skin_volume: Quality::good(),
            core_volume: Quality::good(),
        };
        let lower = |why: &str| Quality::new(Grade::LowerBound, why);
        if has(Code::NotANumber) {
            let why = "triangles with unreadable corners were left out";
            table.area = table.area.and(lower(why));
            table.skin_volume = table.skin_volume.and(lower(why));
        }
        if has(Code::CannotTellFacing) {
            let why = "in some bodies inside and outside cannot be told apart";
            table.lean = table.lean.and(Quality::new(Grade::NotDefined, why));
            table.skin_volume = table.skin_volume.and(Quality::new(Grade::NotDefined, why));
        }
        if bodies.iter().any(|body| body.guessed) {
            let why = "nobody has said which side of an open sheet is coated: say --outward or --as-drawn";
            table.lean = table.lean.and(Quality::new(Grade::NotKnown, why));
            table.skin_volume = table.skin_volume.and(Quality::new(Grade::NotKnown, why));
        }
        if let Some(open) = bodies.iter().find(|body| body.is_sheet()) {
            let why = if open.one_sided { "a body is an open sheet: it has no inside" } else { "a body has no inside" };
            table.core_volume = table.core_volume.and(Quality::new(Grade::NotDefined, why));
        } else if bodies.iter().any(|body| !body.closed && !body.drawn_on) {
            let why = match has(Code::OpenEdges) {
                true => "small holes are taken as closed",
                false => "edges shared by more than two faces are taken as closed",
            };
            table.core_volume = table.core_volume.and(lower(why));
        }
        if holes_matter(bodies) {
            let why = "there are holes, and what is missing there is not counted";
            table.area = table.area.and(lower(why));
            table.skin_volume = table.skin_volume.and(lower(why));
        }
        table
    }
}
