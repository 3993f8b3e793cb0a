//! Lath: which zones take it, how many sheets and fixings.
//!
//! Two counts are made. By area: zone areas, cutting waste on top, over the net cover of a sheet. By laying: courses on
//! the unrolled patch, cut where it is absent and ripped where it is narrow, returns ripped likewise. The larger one is
//! ordered.

use super::Zones;
use super::unroll::Unrolled;
use crate::bodies::Forest;
use crate::lean::Class;
use crate::units::{Area, Length};
use serde::{Deserialize, Serialize};

/// The shop's rules for lath.
#[derive(Clone, Debug, PartialEq)]
pub struct LathRules {
    /// Classes that take lath.
    pub classes: Vec<Class>,
    /// Classes whose small patches go without.
    pub large_only: Vec<Class>,
    /// Those classes go without in smaller patches; zones of classes that take lath and touch are one patch.
    pub min_area: Area,
    /// Those classes go without in lower patches.
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Laying {
    /// Long way along the girth, in courses one above the other.
    Courses,
    /// Long way upward, side by side.
    Upright,
}

/// Lath of one zone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ZoneLath {
    /// Index of the zone.
    pub zone: usize,
    /// Area of the zone at lath scale.
    pub area: Area,
    /// Carried past outer edges, on top of it.
    pub returns: Area,
    /// Sheets by area, not rounded.
    pub by_area: f64,
    /// Sheets by laying, not rounded: offcuts of one course begin the next.
    pub by_laying: f64,
    /// Length of all pieces laid for that, whatever their width.
    pub laid: Length,
    /// Of that, what comes from beside another piece of the same sheets: strips and offcuts.
    pub from_offcuts: Length,
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
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LathPlan {
    /// Zones that take lath, in their order.
    pub zones: Vec<ZoneLath>,
    /// Area under lath at lath scale, returns not counted.
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
        let large = large(zones, rules);
        let lath: Vec<ZoneLath> = (0..zones.zones.len()).filter_map(|k| zone(zones, k, &large, rules)).collect();
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

/// Zones in a patch that is large: zones of classes that take lath and touch are one patch, for lath runs on over the limit
/// of a class. Its height is that of its highest zone, or from its lowest to its highest point.
fn large(zones: &Zones, rules: &LathRules) -> Vec<bool> {
    let list = &zones.zones;
    let takes = |k: u32| rules.classes.contains(&list[k as usize].name.class);
    let mut forest = Forest::new(list.len());
    zones.touching.iter().filter(|pair| pair.iter().all(|&k| takes(k))).for_each(|&[a, b]| forest.join(a, b));
    let (patch, count) = forest.numbered();
    let mut area = vec![Area::ZERO; count];
    let mut height = vec![Length::ZERO; count];
    let mut levels = vec![[f64::INFINITY, f64::NEG_INFINITY]; count];
    for (zone, &p) in list.iter().zip(&patch) {
        let p = p as usize;
        area[p] += zone.lath_area;
        height[p] = height[p].max(zone.height);
        levels[p] = [levels[p][0].min(zone.lowest.z), levels[p][1].max(zone.highest.z)];
    }
    let rises = |p: usize| height[p].max(Length::from_metres(levels[p][1] - levels[p][0]));
    patch.iter().map(|&p| p as usize).map(|p| area[p] >= rules.min_area && rises(p) >= rules.min_height).collect()
}

/// Whole pieces; a millionth of one is rounding.
fn whole(x: f64) -> u64 {
    (x - 1e-6).ceil().max(0.0) as u64
}

fn zone(zones: &Zones, k: usize, large: &[bool], rules: &LathRules) -> Option<ZoneLath> {
    let z = &zones.zones[k];
    let class = z.name.class;
    if !rules.classes.contains(&class) || (!large[k] && rules.large_only.contains(&class)) {
        return None;
    }
    let net = (rules.sheet[1] - rules.end_lap).metres();
    let outer = z.outline.outer.metres();
    // The first one that takes least.
    let mut best: Option<(f64, Laying, usize, [f64; 2])> = None;
    let starts = (0..STARTS).map(|k| (Laying::Courses, k as f64 / STARTS as f64));
    for (laying, start) in starts.chain([(Laying::Upright, 0.0)]) {
        let (courses, mut pieces) = lay(&z.unrolled, rules, laying, start);
        pieces.push([
            (rules.past_edge + rules.side_lap).metres(),
            if rules.past_edge > Length::ZERO { outer } else { 0.0 },
        ]);
        let [laid, new] = cut(pieces, rules.sheet[0].metres());
        if best.is_none_or(|b| new / net < b.0 - 1e-9) {
            best = Some((new / net, laying, courses, [laid, new]));
        }
    }
    let (by_laying, laying, courses, [laid, new]) = best?;
    let grid = rules.fixing_grid[class as usize];
    Some(ZoneLath {
        zone: k,
        area: z.lath_area,
        returns: z.outline.outer * rules.past_edge,
        by_area: z.lath_area * (1.0 + rules.waste) / rules.net_cover(),
        by_laying,
        laid: Length::from_metres(laid),
        from_offcuts: Length::from_metres(laid - new),
        laying,
        courses,
        fixings_grid: whole(z.lath_area / (grid * grid)),
        fixings_edge: whole(z.outline.length / grid),
        strips: z.double_curvature * rules.sheet[0].metres().powi(2) > rules.strips_above,
    })
}

/// Strips ripped from one width, at most, and the narrowest offcut kept. Common practice, no source.
const RIPS: f64 = 6.0;
const KEPT: f64 = 0.1016;

/// Cuts pieces (width with its lap, length) from sheets end to end, widest first, from offcuts where one is wide enough.
/// All lengths, and the length of sheets that goes into them.
fn cut(mut pieces: Vec<[f64; 2]>, sheet: f64) -> [f64; 2] {
    pieces.retain(|p| p[1] > 0.0);
    pieces.sort_by(|a, b| b[0].total_cmp(&a[0]).then(b[1].total_cmp(&a[1])));
    let (mut laid, mut new) = (0.0, 0.0);
    // Width and length, by width.
    let mut offcuts: Vec<[f64; 2]> = Vec::new();
    for [wide, long] in pieces {
        laid += long;
        let mut rest = long;
        let strips = |from: f64| (from / wide + 1e-9).floor().clamp(1.0, RIPS);
        while rest > 1e-9 {
            // The narrowest that will do.
            let at = offcuts.partition_point(|o| o[0] < wide - 1e-9);
            let (from, taken) = if at < offcuts.len() {
                let [from, length] = offcuts.remove(at);
                let taken = length.min(rest / strips(from));
                if taken < length {
                    offcuts.insert(at, [from, length - taken]);
                }
                (from, taken)
            } else {
                new += rest / strips(sheet);
                (sheet, rest / strips(sheet))
            };
            rest -= taken * strips(from);
            let beside = from - strips(from) * wide;
            if beside >= KEPT {
                offcuts.insert(offcuts.partition_point(|o| o[0] < beside), [beside, taken]);
            }
        }
    }
    [laid, new]
}

/// Girth of a band of a tile that asks for no lath.
const NOTHING: f64 = 1e-3;

/// Heights tried for the first course, as parts of one.
const STARTS: usize = 4;

/// Courses, and the pieces laid: width with its lap, and length. The first course is less wide by its share `start`.
fn lay(patch: &Unrolled, rules: &LathRules, laying: Laying, start: f64) -> (usize, Vec<[f64; 2]>) {
    let (sheet, lap) = (rules.sheet[0].metres(), rules.side_lap.metres());
    let net = [sheet - lap, (rules.sheet[1] - rules.end_lap).metres()];
    // The first course needs no lap below it.
    let courses = |way: f64| {
        let over = (way - lap).max(0.0) / net[0];
        ((over + 1e-9).floor(), over - (over + 1e-9).floor() > 1e-6)
    };
    match laying {
        Laying::Upright => {
            let way = patch.widest();
            let (full, more) = courses(way);
            let height = Length::from_metres(patch.height());
            // A column shorter than a sheet takes one piece of it; a longer one is lapped end to end.
            let one = if height <= rules.sheet[1] {
                net[1] / (rules.sheet[1] / height).floor().max(1.0)
            } else {
                (height - rules.end_lap).metres()
            };
            let ripped = if more { height.metres() } else { 0.0 };
            (full as usize + usize::from(more), vec![[sheet, full * one], [way - full * net[0], ripped]])
        }
        Laying::Courses => {
            let before = start * net[0];
            let (full, more) = courses(patch.height() + before);
            let count = (full as usize + usize::from(more)).max(1);
            let course: Vec<usize> = patch
                .bands
                .iter()
                .scan(before - lap, |way, band| {
                    *way += band.way;
                    Some((((*way - 0.5 * band.way).max(0.0) / net[0]) as usize).min(count - 1))
                })
                .collect();
            // Along a course, tile by tile: a piece as wide as the patch is high there, as long as its girth.
            let mut pieces = Vec::new();
            for tile in &patch.tiles {
                let mut need = vec![[0.0_f64; 2]; count];
                for (band, girth) in tile.bands().filter(|b| b.1 > NOTHING) {
                    let piece = &mut need[course[band]];
                    *piece = [piece[0] + patch.bands[band].way, piece[1].max(girth)];
                }
                pieces.extend(
                    need.into_iter().filter(|p| p[1] > 0.0).map(|[wide, long]| [(wide + lap).min(sheet), long]),
                );
            }
            (count, pieces)
        }
    }
}
