//! Lath and lifts: from a checked mesh and the book to zones, sheets and lifts.

use crate::book::{Book, PerClass};
use crate::quantities::lath::Laid;
use cragskin_geom::lean::Class;
use cragskin_geom::mesh::Mesh;
use cragskin_geom::topology::Topology;
use cragskin_geom::units::{Angle, Area, Length};
use cragskin_geom::zones::{JointRules, LathPlan, LathRules, LiftRules, Lifts, ZoneRules, Zones, crevice_area};

/// A face this near a class limit may change class when it is carved.
const NEAR_LIMIT: Angle = Angle::from_degrees(2.0);
/// Gauss curvature times the square of the sheet's width above which a sheet no longer lies down: a ball of 3 ft radius under
/// a 27 in sheet has 0.56. Common practice, no source.
const STRIPS_ABOVE: f64 = 0.5;

/// Whether zones were looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Search {
    /// They were.
    Done,
    /// Not: the model is too large.
    TooLarge,
    /// Not: its lean or its area is not defined, and a zone is both.
    NotDefined,
}

/// Where it is steep, and what that asks for.
#[derive(Clone, Debug)]
pub struct Steep {
    /// Whether zones were looked for.
    pub search: Search,
    /// Joined patches of one class.
    pub zones: Zones,
    /// Lath of the zones that take it.
    pub lath: LathPlan,
    /// Lifts of all zones.
    pub lifts: Lifts,
    /// The tilt-board readings and the thickness.
    pub lift_rules: LiftRules,
    /// Coated area that faces another face closer than two skins.
    pub crevices: Area,
}

/// Smaller places without foam or reach are not worth a word.
pub(crate) const MIN_PLACE: Area = Area::from_square_feet(0.25);

impl Steep {
    /// Plans the lath of zones and counts their lifts.
    #[must_use]
    pub fn new(mesh: &Mesh, topology: &Topology, coated: &[bool], zones: Zones, book: &Book, applied: Length) -> Self {
        let lath = LathPlan::of(&zones, &lath_rules(book));
        let lift_rules = lift_rules(book, applied);
        let lifts = Lifts::count(mesh, &zones, &lift_rules);
        let crevices = crevice_area(mesh, topology, coated, &zones, applied, MIN_PLACE);
        Self { search: Search::Done, zones, lath, lifts, lift_rules, crevices }
    }

    /// No zones, because nobody looked for any.
    #[must_use]
    pub fn not_looked_for(why: Search, book: &Book, applied: Length) -> Self {
        let (zones, lath, lifts) = (Zones::default(), LathPlan::default(), Lifts::default());
        Self { search: why, zones, lath, lifts, lift_rules: lift_rules(book, applied), crevices: Area::ZERO }
    }

    /// Area under lath by class.
    #[must_use]
    pub fn under_lath(&self) -> PerClass<Area> {
        let mut areas = PerClass::default();
        for lath in &self.lath.zones {
            areas.0[self.zones.zones[lath.zone].name.class as usize] += lath.area;
        }
        areas
    }

    /// Lath as laid out.
    #[must_use]
    pub fn laid(&self) -> Laid {
        Laid {
            pieces: self.lath.zones.iter().map(|lath| lath.laid).sum(),
            from_offcuts: self.lath.zones.iter().map(|lath| lath.from_offcuts).sum(),
            courses: self.lath.zones.iter().map(|lath| lath.courses).sum(),
            edge_fixings: self.lath.zones.iter().map(|lath| lath.fixings_edge).sum(),
        }
    }
}

/// The book's rules for zones.
#[must_use]
pub const fn zone_rules(book: &Book) -> ZoneRules {
    ZoneRules {
        limits: book.classes,
        smooth_radius: book.zones.smooth_radius,
        min_area: book.zones.min_area,
        close_gap: book.zones.close_gap,
        near_limit: NEAR_LIMIT,
    }
}

fn lift_rules(book: &Book, applied: Length) -> LiftRules {
    LiftRules { plumb: book.thickness.build_plumb, ceiling: book.thickness.build_ceiling, applied }
}

fn lath_rules(book: &Book) -> LathRules {
    let lath = &book.lath;
    LathRules {
        classes: lath.classes.clone(),
        // Undercuts and soffits take lath whatever their size, where the book has lath on them at all.
        large_only: vec![Class::Top, Class::Slope, Class::Wall],
        min_area: lath.min_area,
        min_height: lath.min_height,
        sheet: lath.sheet.0,
        side_lap: lath.side_lap,
        end_lap: lath.end_lap,
        waste: lath.waste.0,
        past_edge: lath.return_past_edge,
        fixing_grid: lath.fixing_grid.0,
        strips_above: STRIPS_ABOVE,
    }
}

/// The book's rules for movement joints.
#[must_use]
pub const fn joint_rules(book: &Book) -> JointRules {
    JointRules {
        area_wall: book.zones.joint_area_wall,
        area_other: book.zones.joint_area_other,
        length: book.zones.joint_length,
        ratio: book.zones.joint_ratio.0,
    }
}
