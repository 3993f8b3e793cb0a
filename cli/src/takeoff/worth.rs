//! What the figures of a takeoff are worth: grades of the check, what scope, size and tangles make of them, and the measures with theirs.

use super::piece::Method;
use crate::book::PerClass;
use crate::job::Face;
use crate::large;
use crate::notices;
use crate::quantities::floor::Footing;
use crate::quantities::{Measured, Measures};
use crate::report::table::plain;
use crate::steep::Steep;
use cragskin_geom::scope::{Beside, Scoped, State};
use cragskin_geom::skin::{OpenSkin, Skin};
use cragskin_geom::solid::Exposure;
use cragskin_geom::soundness::{Checked, Grade, Quality, QualityTable};
use cragskin_geom::stance::OtherUp;
use cragskin_geom::units::{Area, Volume};

/// Why nothing is measured on a model that is all skin.
pub(super) const PEBBLE: &str = "the whole model is no more than four skins across: is the unit right?";

/// What was measured, as far as grades depend on it.
pub(super) struct Found<'a> {
    pub(super) method: Method,
    pub(super) face: Face,
    pub(super) exposure: &'a Exposure,
    pub(super) steep: &'a Steep,
    pub(super) coated: Area,
    pub(super) skin: &'a Skin,
    pub(super) open: Option<&'a OpenSkin>,
    pub(super) core: Option<Volume>,
    /// Sheets were closed because that was asked, and enclose a core now.
    pub(super) closed_as_asked: bool,
}

impl Found<'_> {
    /// The grades of skin and core, from those of the model. Also what the volume of the whole is worth, skin and core together.
    pub(super) fn worth(&self, mut table: QualityTable) -> (QualityTable, Quality) {
        let Self { method, skin, open, .. } = *self;
        table.skin_volume = of_open(table.skin_volume, open);
        if skin.is_stand_in && !method.too_large {
            table.skin_volume = table.skin_volume.and(large::stand_in(self.exposure));
        }
        if let Some(doubt) = self.unreached() {
            table.area = table.area.and(doubt.clone());
            table.skin_volume = table.skin_volume.and(doubt);
        }
        if self.closed_as_asked && table.core_volume.grade == Grade::NotDefined {
            table.core_volume = Quality::good();
        }
        let whole = table.core_volume.clone();
        if self.face == Face::Finished {
            table.core_volume = table.core_volume.and(left_by(&table.skin_volume));
        }
        if let Some(doubt) = self.roughly(skin.volume) {
            table.skin_volume = table.skin_volume.and(doubt);
        }
        // The same bound is a small share of a large core.
        if let Some(doubt) = self.core.filter(|_| self.face == Face::Finished).and_then(|core| self.roughly(core)) {
            table.core_volume = table.core_volume.and(doubt);
        }
        if let Some(worth) = method.worth() {
            table.skin_volume = table.skin_volume.and(worth.clone());
            if self.face == Face::Finished {
                table.core_volume = table.core_volume.and(worth);
            }
        }
        (table, whole)
    }

    /// What the order list is reckoned from, by the grades of a table.
    pub(super) fn measures(
        &self,
        by_class: PerClass<Area>,
        table: &QualityTable,
        whole: Option<Measured<Volume>>,
        footing: Measured<Footing>,
    ) -> Measures {
        let Self { method, skin, steep, coated, .. } = *self;
        let (under_lath, laid) =
            if method.too_large { (by_class, None) } else { (steep.under_lath(), Some(steep.laid())) };
        let of_lath = large::of_zones(self.exposure, table.area.clone().and(table.lean.clone()));
        // The formula knows no far side of a piece that its skin fills.
        let far_area = if method.pebble { skin.far_area.min(coated) } else { skin.far_area };
        Measures {
            coated: Measured::new(coated, table.area.clone()),
            under_lath: Measured::new(under_lath, of_lath),
            laid,
            primed: match self.face {
                Face::Core => Measured::new(coated, table.area.clone()),
                Face::Finished => Measured::new(far_area, far_side(table)),
            },
            skin: Measured::new(skin.volume, table.skin_volume.clone()),
            core: match self.core {
                Some(volume) => Measured::new(volume, table.core_volume.clone()),
                None => Measured::not_defined(table.core_volume.reason.clone()),
            },
            whole,
            closed_as_asked: self.closed_as_asked,
            footing: Some(footing),
            standing_water: None,
        }
    }

    /// What no tool reaches. Of what is buried nobody asks.
    fn unreached(&self) -> Option<Quality> {
        if self.exposure.is_settled { notices::unreached_quality(self.steep, self.coated) } else { None }
    }

    /// A volume that the skin's bound is a large share of.
    fn roughly(&self, volume: Volume) -> Option<Quality> {
        let is_measured = !self.skin.is_stand_in && self.method.worth().is_none();
        let is_bounded = is_measured && self.open.is_none_or(OpenSkin::agrees);
        large::roughly(volume, self.skin.bound).filter(|_| is_bounded)
    }
}

impl Method {
    /// What a skin is worth that is not measured, or found by formula.
    fn worth(self) -> Option<Quality> {
        if !(self.too_large || self.by_formula) {
            return None;
        }
        let pebble = || Quality::new(Grade::UpperBound, PEBBLE);
        Some(if self.pebble { pebble() } else { large::quality(self.by_formula) })
    }
}

/// What the core is worth by the skin that leaves it: more of one is less of the other.
fn left_by(skin: &Quality) -> Quality {
    let grade = match skin.grade {
        Grade::Good => return Quality::good(),
        Grade::UpperBound => Grade::LowerBound,
        Grade::LowerBound => Grade::UpperBound,
        same @ (Grade::NotKnown | Grade::NotDefined) => same,
    };
    Quality::new(grade, skin.reason.clone())
}

/// What the bare area is worth by that of all areas: a side that nobody has settled is counted as coated, so it may be more.
pub(super) fn bare(area: Quality, scoped: &Scoped) -> Quality {
    let turned_round = |doubt: Quality| match doubt.grade {
        Grade::UpperBound => Quality::new(Grade::LowerBound, doubt.reason),
        Grade::LowerBound => Quality::new(Grade::UpperBound, doubt.reason),
        Grade::Good | Grade::NotKnown | Grade::NotDefined => doubt,
    };
    scope_doubts(scoped).map(turned_round).fold(area, Quality::and)
}

/// Why areas are not settled, if they are not.
fn open_sides(scoped: &Scoped) -> Option<String> {
    let sides: Vec<&str> = scoped.questions.iter().map(|question| question.side).collect();
    (!sides.is_empty())
        .then(|| format!("nobody has said whether to coat the {}; counted as coated", sides.join(" and the ")))
}

/// What an open question of scope, and a rule that finds nothing, make of the coated area.
fn scope_doubts(scoped: &Scoped) -> impl Iterator<Item = Quality> {
    let open = open_sides(scoped).map(|why| Quality::new(Grade::UpperBound, why));
    let missed = |is_coated: bool| {
        let rules = scoped.found.iter().filter(|found| found.missed && (found.is == State::Coated) == is_coated);
        let rules: Vec<String> = rules.map(|found| format!("`{}`", plain(&found.rule))).collect();
        (!rules.is_empty()).then(|| format!("nothing large was found by the rule {}", rules.join(", ")))
    };
    let most = missed(false).map(|why| Quality::new(Grade::UpperBound, format!("{why}; counted as coated")));
    let least = missed(true).map(|why| Quality::new(Grade::LowerBound, why));
    let beside = scoped.beside.iter().filter(|beside| beside.is_bare).map(|beside| {
        let (grade, is) = if beside.counts { (Grade::LowerBound, "bare") } else { (Grade::UpperBound, "coated") };
        let Beside { side, turned, .. } = beside;
        Quality::new(
            grade,
            format!("{turned} beside the {side} are turned and counted as {is}, though shape does not tell"),
        )
    });
    [open, most, least].into_iter().flatten().chain(beside)
}

/// What the load on the floor is worth where a turned flat lies beside the level one, and nobody has said whether the piece stands on it.
pub(super) fn stance(quality: Quality, scoped: &Scoped) -> Quality {
    let doubt = |beside: &Beside| {
        let why = format!(
            "{} beside the level floor are turned, and nobody has said whether it stands on them",
            beside.turned
        );
        Quality::new(Grade::NotKnown, why)
    };
    scoped.beside.iter().filter(|beside| beside.side == "floor").map(doubt).fold(quality, Quality::and)
}

/// What a skin without a solid is worth: nothing is known where its two estimates disagree.
fn of_open(skin_volume: Quality, open: Option<&OpenSkin>) -> Quality {
    let Some(open) = open.filter(|open| !open.agrees()) else { return skin_volume };
    skin_volume.and(Quality::new(
        Grade::NotKnown,
        format!(
            "two ways to measure the skin of the open sheets disagree, {} and {}; area x thickness stands in its place",
            open.by_feet.volume, open.by_points.volume
        ),
    ))
}

/// What the area of the far side of the skin is worth: it lies where the skin ends, so it is no better known than on which side that is.
fn far_side(quality: &QualityTable) -> Quality {
    match quality.skin_volume.grade {
        Grade::NotKnown | Grade::NotDefined => quality.area.clone().and(quality.skin_volume.clone()),
        Grade::Good | Grade::LowerBound | Grade::UpperBound => quality.area.clone(),
    }
}

/// The model's grades, and what open questions and tangles do to them.
pub(super) fn of_model(
    checked: &Checked,
    scoped: &Scoped,
    exposure: &Exposure,
    other_up: Option<&OtherUp>,
) -> QualityTable {
    let mut table = checked.quality.clone();
    for doubt in scope_doubts(scoped) {
        table.area = table.area.and(doubt.clone());
        table.skin_volume = table.skin_volume.and(doubt);
    }
    if !exposure.is_settled {
        table.area = table.area.and(large::unsettled());
        table.core_volume = table.core_volume.and(large::unsettled());
    }
    if let Some(other) = other_up {
        table.lean = table.lean.and(notices::lean_unsettled(other));
    }
    table
}
