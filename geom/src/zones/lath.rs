//! Lath: which zones take it, how many sheets and fixings.
//!
//! Two counts are made. By area: zone areas, cutting waste on top, over the net cover of a sheet. By laying: courses on
//! the unrolled patch, the last one ripped from whole sheets, returns ripped likewise. The larger one is ordered.

use super::Zones;
use super::unroll::Unrolled;
use crate::lean::Class;
use crate::units::{Area, Length};

/// The shop's rules for lath.
#[derive(Clone, Debug, PartialEq)]
pub struct LathRules {
    /// Classes that take lath.
    pub classes: Vec<Class>,
    /// Classes whose small patches go without.
    pub large_only: Vec<Class>,
    /// Smaller patches of those classes go without.
    pub min_area: Area,
    /// Lower patches of those classes go without.
    pub min_height: Length,
    /// Width and length of a sheet.
    pub sheet: [Length; 2],
    /// Lap at the sides.
    pub side_lap: Length,
    /// Lap at the ends.
    pub end_lap: Length,
    /// Cutting waste of the count by area, as a share of the area.
    pub waste: f64,
    /// Carried past outer edges.
    pub past_edge: Length,
    /// Fixing grid by class, in order of lean.
    pub fixing_grid: [Length; 5],
    /// Curved both ways more than this share of a sheet's width (|Gauss curvature| times width squared): cut to strips.
    pub strips_above: f64,
}

impl LathRules {
    /// What a sheet covers, laps taken off.
    ///
    /// 27 x 96 in with laps of 1/2 and 1 in: 26.5 x 95 in = 17.48 sq ft.
    #[must_use]
    pub fn net_cover(&self) -> Area {
        (self.sheet[0] - self.side_lap) * (self.sheet[1] - self.end_lap)
    }
}

/// How the sheets run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Laying {
    /// Long way along the girth, in courses one above the other.
    Courses,
    /// Long way upward, side by side.
    Upright,
}

/// Lath of one zone.
#[derive(Clone, Debug, PartialEq)]
pub struct ZoneLath {
    /// Index of the zone.
    pub zone: usize,
    /// Area of the zone.
    pub area: Area,
    /// Carried past outer edges, on top of it.
    pub returns: Area,
    /// Sheets by area, not rounded.
    pub by_area: f64,
    /// Sheets by laying, not rounded: offcuts of one course begin the next.
    pub by_laying: f64,
    /// The laying that takes fewer.
    pub laying: Laying,
    /// Courses (or columns), the ripped one included.
    pub courses: usize,
    /// Fixings on the grid.
    pub fixings_grid: u64,
    /// Fixings along the edges.
    pub fixings_edge: u64,
    /// Curved both ways: cut to strips.
    pub strips: bool,
}

impl ZoneLath {
    /// Sheets for this zone alone, whole ones.
    #[must_use]
    pub fn sheets(&self) -> u64 {
        whole(self.by_area.max(self.by_laying))
    }
}

/// Lath of a model.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LathPlan {
    /// Zones that take lath, in their order.
    pub zones: Vec<ZoneLath>,
    /// Area under lath, returns not counted.
    pub area: Area,
    /// Whole sheets by area, over all zones: rounded once, since offcuts move from zone to zone.
    pub by_area: u64,
    /// Whole sheets by laying, over all zones.
    pub by_laying: u64,
    /// Fixings in all.
    pub fixings: u64,
}

impl LathPlan {
    /// Plans the lath of all zones.
    #[must_use]
    pub fn of(zones: &Zones, rules: &LathRules) -> Self {
        let lath: Vec<ZoneLath> = (0..zones.zones.len()).filter_map(|k| zone(zones, k, rules)).collect();
        Self {
            area: lath.iter().map(|z| z.area).sum(),
            by_area: whole(lath.iter().map(|z| z.by_area).sum()),
            by_laying: whole(lath.iter().map(|z| z.by_laying).sum()),
            fixings: lath.iter().map(|z| z.fixings_grid + z.fixings_edge).sum(),
            zones: lath,
        }
    }

    /// Sheets to order: the larger count.
    #[must_use]
    pub fn sheets(&self) -> u64 {
        self.by_area.max(self.by_laying)
    }
}

/// Whole pieces; a millionth of one is rounding.
fn whole(x: f64) -> u64 {
    (x - 1e-6).ceil().max(0.0) as u64
}

fn zone(zones: &Zones, k: usize, rules: &LathRules) -> Option<ZoneLath> {
    let z = &zones.zones[k];
    let class = z.name.class;
    let small = z.area < rules.min_area || z.height < rules.min_height;
    if !rules.classes.contains(&class) || (small && rules.large_only.contains(&class)) {
        return None;
    }
    let courses = lay(&z.unrolled, rules, Laying::Courses);
    let upright = lay(&z.unrolled, rules, Laying::Upright);
    let (laying, (courses, sheets)) =
        if upright.1 < courses.1 { (Laying::Upright, upright) } else { (Laying::Courses, courses) };
    let ripped = strip(rules.past_edge, z.outline.outer, rules);
    let grid = rules.fixing_grid[class as usize];
    Some(ZoneLath {
        zone: k,
        area: z.area,
        returns: z.outline.outer * rules.past_edge,
        by_area: z.area * (1.0 + rules.waste) / rules.net_cover(),
        by_laying: sheets + ripped,
        laying,
        courses,
        fixings_grid: whole(z.area / (grid * grid)),
        fixings_edge: whole(z.outline.length / grid),
        strips: z.double_curvature * rules.sheet[0].metres().powi(2) > rules.strips_above,
    })
}

/// Courses and sheets: full ones, and what is ripped for the rest.
fn lay(patch: &Unrolled, rules: &LathRules, laying: Laying) -> (usize, f64) {
    let net = rules.sheet.map(Length::metres);
    let net = [net[0] - rules.side_lap.metres(), net[1] - rules.end_lap.metres()];
    // The first course needs no lap below it.
    let parts = |way: f64| {
        let over = (way - rules.side_lap.metres()).max(0.0);
        let full = (over / net[0] + 1e-9).floor();
        (full as usize, (over - full * net[0]).max(0.0))
    };
    match laying {
        Laying::Upright => {
            let (full, rest) = parts(patch.widest());
            let height = Length::from_metres(patch.height());
            let columns = full + usize::from(rest > 1e-6);
            // A column shorter than a sheet takes one piece of it; a longer one is lapped end to end.
            let one = if height <= rules.sheet[1] {
                1.0 / (rules.sheet[1] / height).floor().max(1.0)
            } else {
                (height - rules.end_lap).metres() / net[1]
            };
            (
                columns,
                full as f64 * one + if rest > 1e-6 { strip(Length::from_metres(rest), height, rules) } else { 0.0 },
            )
        }
        Laying::Courses => {
            let (full, rest) = parts(patch.height());
            let courses = full + usize::from(rest > 1e-6);
            let mut longest = vec![0.0_f64; courses.max(1)];
            let mut way = 0.0;
            for band in &patch.bands {
                let k = ((way / net[0]) as usize).min(longest.len() - 1);
                longest[k] = longest[k].max(band.girth);
                way += band.way;
            }
            let whole_courses: f64 = longest.iter().take(full).map(|l| l / net[1]).sum();
            let last =
                longest.get(full).map_or(0.0, |&l| strip(Length::from_metres(rest), Length::from_metres(l), rules));
            (courses, whole_courses + if rest > 1e-6 { last } else { 0.0 })
        }
    }
}

/// Sheets for a strip that wide (and a lap) and that long, ripped from whole sheets.
fn strip(wide: Length, long: Length, rules: &LathRules) -> f64 {
    let net_length = rules.sheet[1] - rules.end_lap;
    let from_one = (rules.sheet[0] / (wide + rules.side_lap) + 1e-9).floor().max(1.0);
    long / net_length / from_one
}
