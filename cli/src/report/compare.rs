//! The report of `compare`: what moved, and every line of the takeoff as old, new and difference.

use super::content::{Value, figure};
use super::csv;
use super::shared::FindingJson;
use super::table::{columns, plain, wrapped};
use super::takeoff::{LimitRow, OpenSide, ScopeRow, TakeoffReport, limits_text};
use super::zones::ZoneRow;
use crate::failure::Failure;
use crate::figure::FigureId;
use crate::job::Face;
use crate::notices::{SCALE_FIGURE, SCALED, WHICH_UP};
use crate::proposed::{BEHIND, GROUND};
use crate::request::Request;
use crate::revisions::{Revisions, finds_nothing};
use cragskin_geom::compare::{Change, Fate, PartPair};
use cragskin_geom::units::{Angle, Area, Length, feet_inches, metric_length};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// Two revisions. SI; each name carries its unit. Null means not defined for this model.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CompareReport {
    /// Version of this layout.
    pub schema: u32,
    /// The old file's name.
    pub old_file: String,
    /// The new file's name.
    pub new_file: String,
    /// The material book, the same for both.
    pub book: String,
    /// `same_bytes`, `same_shape`, `unit_slip`, `scaled`, `moved`, `up_changed`, `mirrored` or `changed`.
    pub verdict: &'static str,
    /// The verdict in words.
    pub words: String,
    /// New lengths by old lengths, 1 unless the whole is scaled.
    pub scale: f64,
    /// Shift of the whole by the files' own coordinates: right, back, up.
    pub shift_m: [f64; 3],
    /// Surfaces closer than this are the same.
    pub tolerance_m: f64,
    /// Largest distance seen between the two surfaces, laid on one another.
    pub farthest_m: f64,
    /// No point of either surface lies farther than this from the other.
    pub farthest_at_most_m: f64,
    /// Area of the new surface off the old one.
    pub new_off_old_m2: f64,
    /// Area of the old surface off the new one: what is gone.
    pub old_off_new_m2: f64,
    /// The larger of the two: what a limit on `changed area` watches.
    pub changed_area_m2: f64,
    /// Neither of the two areas is off by more, but for changes narrower than `smallest_m` inside one triangle, which may be missed.
    pub off_within_m2: f64,
    /// Surfaces were looked at in pieces of this size.
    pub smallest_m: f64,
    /// Change of the coated area as a share of the old, up or down; the larger where sides are not settled: all of them coated, or all
    /// bare.
    pub area_change: f64,
    /// Numbered changes, the largest first.
    pub changes: Vec<ChangeRow>,
    /// Parts that are not the same, and those of another name.
    pub parts: Vec<PartRow>,
    /// Zones followed through the change.
    pub zones: Vec<ZoneChange>,
    /// Every line of the takeoff.
    pub lines: Vec<Line>,
    /// What the scope rules found or no longer find, and sides not settled.
    pub scope: Vec<String>,
    /// Limits that the user set, on the new revision.
    pub limits: Vec<LimitRow>,
}

/// A place where the revisions differ, by tape from the new model's low left front corner.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ChangeRow {
    /// Number, 1 for the largest.
    pub number: usize,
    /// Low corner of its box: right, back, up.
    pub from_m: [f64; 3],
    /// High corner of its box.
    pub to_m: [f64; 3],
    /// Area of the new surface off the old one.
    pub new_area_m2: f64,
    /// Area of the old surface off the new one.
    pub old_area_m2: f64,
    /// Largest movement outward (or sideways).
    pub outward_m: f64,
    /// Largest movement inward.
    pub inward_m: f64,
}

/// A part that changed, moved, came, went or was renamed.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PartRow {
    /// Name in the old revision.
    pub old: Option<String>,
    /// Name in the new one.
    pub new: Option<String>,
    /// `same`, `moved`, `changed`, `new`, `gone`.
    pub fate: &'static str,
    /// Shift: right, back, up.
    pub moved_m: Option<[f64; 3]>,
    /// Area in the old revision.
    pub old_area_m2: f64,
    /// Area in the new one.
    pub new_area_m2: f64,
}

/// A zone of the new revision and the one it was.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ZoneChange {
    /// Letter in the old revision.
    pub old: Option<String>,
    /// Letter in the new one.
    pub new: Option<String>,
    /// Area in the old revision.
    pub old_area_m2: f64,
    /// Area in the new one.
    pub new_area_m2: f64,
    /// Lifts in the old revision.
    pub old_lifts: Option<u32>,
    /// Lifts in the new one.
    pub new_lifts: Option<u32>,
    /// Lath sheets in the old revision.
    pub old_sheets: Option<u64>,
    /// Lath sheets in the new one.
    pub new_sheets: Option<u64>,
}

/// A line of the takeoff, twice.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Line {
    /// Which figure it is.
    #[serde(skip)]
    pub id: FigureId,
    /// Section of the takeoff.
    pub section: &'static str,
    /// What it is.
    pub name: String,
    /// Unit of the exact figures, and the package if there are packages.
    pub unit: &'static str,
    /// Old figure before rounding.
    pub old: Option<f64>,
    /// New figure before rounding.
    pub new: Option<f64>,
    /// New less old.
    pub difference: Option<f64>,
    /// What the two figures are known to, added: a difference within it is no change.
    pub known_to: f64,
    /// Whole packages, old.
    pub old_packages: Option<i64>,
    /// Whole packages, new.
    pub new_packages: Option<i64>,
    /// Packages more or less.
    pub packages_difference: Option<i64>,
}

impl CompareReport {
    /// Puts a comparison into the shape that leaves the program.
    #[must_use]
    pub fn new(revisions: &Revisions<'_>, old: &Request, new: &Request) -> Self {
        let reports =
            [TakeoffReport::new(&revisions.old.takeoff, old), TakeoffReport::new(&revisions.new.takeoff, new)];
        let shape = &revisions.shape;
        let limits = new.limits.iter().map(|limit| LimitRow::new(limit, &revisions.judged(limit)));
        Self {
            schema: 1,
            old_file: revisions.old.takeoff.file.clone(),
            new_file: revisions.new.takeoff.file.clone(),
            book: new.book_name.clone(),
            verdict: revisions.verdict.key(),
            words: revisions.words(),
            scale: revisions.scale(),
            shift_m: shape.placement.moved.into(),
            tolerance_m: revisions.tolerance.metres(),
            farthest_m: shape.farthest.metres(),
            farthest_at_most_m: shape.bound.metres(),
            new_off_old_m2: shape.new_area.square_metres(),
            old_off_new_m2: shape.old_area.square_metres(),
            changed_area_m2: shape.changed_area().square_metres(),
            off_within_m2: shape.area_within.square_metres(),
            smallest_m: shape.smallest.metres(),
            area_change: revisions.area_change().0,
            changes: shape.changes.iter().enumerate().map(|(k, change)| ChangeRow::new(k + 1, change)).collect(),
            parts: part_rows(revisions),
            zones: zone_changes(revisions, &reports),
            lines: lines(&reports),
            scope: scope_notes(&reports, [old, new].map(|request| request.book.scope.within_angle)),
            limits: limits.collect(),
        }
    }

    /// True when a limit that the user set was passed.
    #[must_use]
    pub fn limit_passed(&self) -> bool {
        self.limits.iter().any(|limit| limit.passed)
    }

    /// Every line as CSV: section, name, unit, old, new, difference, packages.
    ///
    /// # Errors
    /// None in practice: the table is written to memory.
    pub fn csv(&self) -> Result<String, Failure> {
        let number = |value: Option<f64>| value.map_or_else(String::new, csv::number);
        let count = |value: Option<i64>| value.map_or_else(String::new, |value| value.to_string());
        let headings = [
            "section",
            "name",
            "unit",
            "old",
            "new",
            "difference",
            "old_packages",
            "new_packages",
            "packages_difference",
        ];
        let rows = self.lines.iter().map(|line| {
            [
                line.section.to_owned(),
                csv::text(&line.name),
                line.unit.to_owned(),
                number(line.old),
                number(line.new),
                number(line.difference),
                count(line.old_packages),
                count(line.new_packages),
                count(line.packages_difference),
            ]
        });
        csv::table(&std::iter::once(headings.map(str::to_owned)).chain(rows).collect::<Vec<_>>())
    }

    /// The page.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = format!("WHAT CHANGED   {} -> {}\n", plain(&self.old_file), plain(&self.new_file));
        out += &wrapped("  ", &format!("book for both: {}", plain(&self.book)));
        out += "\n";
        out += &wrapped("  ", &self.words);
        let length = Length::from_metres;
        let area = Area::from_square_metres;
        out +=
            &format!("  farthest apart {}; same means within {}\n", length(self.farthest_m), length(self.tolerance_m));
        if !self.changes.is_empty() {
            out += &format!("  what is new and what is gone are each known to {}\n", area(self.off_within_m2));
        }
        if !self.scope.is_empty() {
            out += "\nTHE SAME RULES ON THE NEW REVISION\n";
            self.scope.iter().for_each(|note| out += &wrapped("  ", &plain(note)));
        }
        if !self.changes.is_empty() {
            out += "\nWHERE   (tape from the low left front corner of the new model; out and in: largest movement, out includes sideways)\n";
            let mut rows =
                vec![["no", "right", "back", "up", "size", "new", "gone", "out", "in"].map(str::to_owned).to_vec()];
            for change in self.changes.iter().take(SHOWN) {
                rows.extend(change.cells());
            }
            out += &columns(&rows);
            if self.changes.len() > SHOWN {
                out += &format!("  and {} smaller ones, in the JSON\n", self.changes.len() - SHOWN);
            }
        }
        if !self.parts.is_empty() {
            out += "\nPARTS\n";
            for part in &self.parts {
                let [old, new] = [&part.old, &part.new].map(|name| name.as_deref().map_or_else(String::new, plain));
                let name = if old == new || new.is_empty() {
                    old.clone()
                } else if old.is_empty() {
                    new.clone()
                } else {
                    format!("{old} -> {new}")
                };
                let moved = part.moved_m.map_or_else(String::new, |by| {
                    let way = |k: usize, plus: &str, minus: &str| {
                        let word = if by[k] > 0.0 { plus } else { minus };
                        // A hundredth of the least tolerance that anybody sets is rounding.
                        (by[k].abs() > 1e-5).then(|| format!("{} {word}", length(by[k].abs())))
                    };
                    let ways = [way(0, "right", "left"), way(1, "back", "forward"), way(2, "up", "down")];
                    format!(" {}", ways.into_iter().flatten().collect::<Vec<_>>().join(", "))
                });
                out += &wrapped(
                    "  ",
                    &format!("{name}: {}{moved}, {} -> {}", part.fate, area(part.old_area_m2), area(part.new_area_m2)),
                );
            }
        }
        let told: Vec<&ZoneChange> = self.zones.iter().filter(|zone| zone.is_news()).collect();
        if !told.is_empty() {
            out += "\nZONES\n";
            told.iter().for_each(|zone| out += &wrapped("  ", &zone.words()));
        }
        out += "\nWHAT IT COSTS   (changed lines marked *)\n";
        if self.lines.iter().any(Line::is_noise) {
            out += "  lines without * that differ do so within what both figures are known to\n";
        }
        let headings = ["line", "old", "new", "difference", "", "old", "new", "difference", ""];
        let mut rows = vec![headings.map(str::to_owned).to_vec()];
        rows.extend(self.lines.iter().map(Line::cells));
        out += &columns(&rows);
        out + &limits_text(&self.limits)
    }
}

/// Changes shown on the page.
const SHOWN: usize = 20;

impl ChangeRow {
    /// A row in US units and one in metric.
    fn cells(&self) -> [Vec<String>; 2] {
        let both = |m: f64| {
            let length = Length::from_metres(m);
            [feet_inches(length), metric_length(length)]
        };
        let area = |m2: f64| Value::m2(m2).text();
        let size = [0, 1, 2].map(|k| both(self.to_m[k] - self.from_m[k]));
        let [right, back, up] = self.from_m.map(both);
        let number = [self.number.to_string(), String::new()];
        let size = [0, 1].map(|unit| size.each_ref().map(|side| side[unit].as_str()).join(" x "));
        let (new, gone) = (area(self.new_area_m2), area(self.old_area_m2));
        let cells = [number, right, back, up, size, new, gone, both(self.outward_m), both(self.inward_m)];
        [0, 1].map(|unit| cells.iter().map(|cell| cell[unit].clone()).collect())
    }

    fn new(number: usize, change: &Change) -> Self {
        Self {
            number,
            from_m: change.low.into(),
            to_m: change.high.into(),
            new_area_m2: change.new_area.square_metres(),
            old_area_m2: change.old_area.square_metres(),
            outward_m: change.outward.metres(),
            inward_m: change.inward.metres(),
        }
    }
}

fn part_rows(revisions: &Revisions<'_>) -> Vec<PartRow> {
    let name = |takeoff: &crate::takeoff::Takeoff, part: Option<usize>| {
        part.map(|k| {
            let name = &takeoff.checked.model.parts()[k].name;
            if name.is_empty() { format!("P{}", k + 1) } else { name.clone() }
        })
    };
    let row = |pair: &PartPair| {
        let (fate, moved_m) = match pair.fate {
            Fate::Same => ("same", None),
            Fate::Moved(by) => ("moved", Some(by)),
            Fate::Changed => ("changed", None),
            Fate::New => ("new", None),
            Fate::Gone => ("gone", None),
        };
        PartRow {
            old: name(&revisions.old.takeoff, pair.old),
            new: name(&revisions.new.takeoff, pair.new),
            fate,
            moved_m,
            old_area_m2: pair.old_area_m2,
            new_area_m2: pair.new_area_m2,
        }
    };
    let rows = revisions.shape.parts.iter().map(row);
    let alone = revisions.shape.parts.len() == 1;
    rows.filter(|row| !alone && (row.fate != "same" || row.old != row.new)).collect()
}

/// Each new zone with the old zone that most of it lies on, of the same class first, then of any; then old ones not taken.
fn zone_changes(revisions: &Revisions<'_>, reports: &[TakeoffReport; 2]) -> Vec<ZoneChange> {
    let [old, new] = [&revisions.old.takeoff, &revisions.new.takeoff];
    let mut shared: BTreeMap<(usize, usize), f64> = BTreeMap::new();
    for (face, &partner) in revisions.shape.old_face.iter().enumerate().filter(|(_, partner)| **partner != u32::MAX) {
        // Where lean is not defined a report has no zones.
        if let (Some(i), Some(j)) = (old.steep.zones.of(partner as usize), new.steep.zones.of(face))
            && i < reports[0].zones.len()
            && j < reports[1].zones.len()
        {
            *shared.entry((i, j)).or_default() += new.checked.model.mesh().area_vector(face).norm();
        }
    }
    let class = |report: usize, k: usize| reports[report].zones[k].class;
    let mut shared: Vec<_> = shared.into_iter().collect();
    shared.sort_by(|((a, b), x), ((c, d), y)| {
        let other = |i: usize, j: usize| class(0, i) != class(1, j);
        other(*a, *b).cmp(&other(*c, *d)).then(y.total_cmp(x)).then((a, b).cmp(&(c, d)))
    });
    let (mut from, mut taken) = (vec![None; reports[1].zones.len()], vec![false; reports[0].zones.len()]);
    for ((i, j), _) in shared {
        if from[j].is_none() && !taken[i] {
            (from[j], taken[i]) = (Some(i), true);
        }
    }
    let change = |old: Option<&ZoneRow>, new: Option<&ZoneRow>| ZoneChange {
        old: old.map(|zone| zone.letter.clone()),
        new: new.map(|zone| zone.letter.clone()),
        old_area_m2: old.map_or(0.0, |zone| zone.area_m2),
        new_area_m2: new.map_or(0.0, |zone| zone.area_m2),
        old_lifts: old.map(|zone| zone.lifts),
        new_lifts: new.map(|zone| zone.lifts),
        old_sheets: old.and_then(|zone| zone.lath_sheets),
        new_sheets: new.and_then(|zone| zone.lath_sheets),
    };
    let here =
        reports[1].zones.iter().zip(&from).map(|(zone, from)| change(from.map(|k| &reports[0].zones[k]), Some(zone)));
    let gone =
        reports[0].zones.iter().zip(&taken).filter(|(_, taken)| !**taken).map(|(zone, _)| change(Some(zone), None));
    here.chain(gone).collect()
}

impl ZoneChange {
    /// Another letter, area, lifts or sheets.
    #[must_use]
    pub fn is_news(&self) -> bool {
        self.old != self.new
            || self.old_lifts != self.new_lifts
            || self.old_sheets != self.new_sheets
            || !self.kept_its_area()
    }

    /// Within a thousandth, or as printed in square feet.
    fn kept_its_area(&self) -> bool {
        let printed = |m2: f64| format!("{:.1}", Area::from_square_metres(m2).square_feet());
        (self.new_area_m2 - self.old_area_m2).abs() <= 1e-3 * self.old_area_m2
            || printed(self.old_area_m2) == printed(self.new_area_m2)
    }

    fn words(&self) -> String {
        let area = |m2: f64| Area::from_square_metres(m2).to_string();
        let lifts = |n: u32| if n == 1 { "one lift".to_owned() } else { format!("{n} lifts") };
        let (Some(old), Some(new)) = (&self.old, &self.new) else {
            return match &self.new {
                Some(new) => {
                    format!("{new} is new, {}, {}", area(self.new_area_m2), lifts(self.new_lifts.unwrap_or(1)))
                }
                None => format!("{} is gone, {}", self.old.as_deref().unwrap_or(""), area(self.old_area_m2)),
            };
        };
        let mut words = if old == new { new.clone() } else { format!("{new} (was {old})") };
        let way = match self.new_area_m2 - self.old_area_m2 {
            _ if self.kept_its_area() => "kept its area,",
            d if d > 0.0 => "grew,",
            _ => "shrank,",
        };
        words += &format!(" {way} {} -> {}", area(self.old_area_m2), area(self.new_area_m2));
        if let (Some(a), Some(b)) = (self.old_lifts, self.new_lifts)
            && a != b
        {
            words += &format!("; went from {} to {}", lifts(a), lifts(b));
        }
        if self.old_sheets != self.new_sheets {
            let sheets = |n: Option<u64>| match n {
                None => "no lath".to_owned(),
                Some(1) => "1 sheet".to_owned(),
                Some(n) => format!("{n} sheets"),
            };
            words += &format!("; {} -> {}", sheets(self.old_sheets), sheets(self.new_sheets));
        }
        words
    }
}

/// Lines of both, matched by figure and name, in the order of the new takeoff; those only in the old one at the end.
fn lines(reports: &[TakeoffReport; 2]) -> Vec<Line> {
    let [old, new] = reports.each_ref().map(csv::lines);
    // The same name may come twice (two parts of one name cannot, tags differ): the order of appearance then decides.
    let line = |old: Option<&csv::Line<'_>>, new: Option<&csv::Line<'_>>| {
        Line::new(old, new, known_to(&reports[0], old) + known_to(&reports[1], new))
    };
    let mut left: Vec<Option<&csv::Line<'_>>> = old.iter().map(Some).collect();
    let mut out: Vec<Line> = Vec::new();
    for row in &new {
        let same = |old: &&csv::Line<'_>| (old.id, &old.name) == (row.id, &row.name);
        let old = left.iter_mut().find(|old| old.as_ref().is_some_and(same)).and_then(Option::take);
        out.extend(line(old, Some(row)));
    }
    out.extend(left.into_iter().filter_map(|old| line(old, None)));
    water_follows_bags(&mut out);
    out
}

/// Of a figure, what its own size in single precision and sums in another order can make it differ.
const ROUNDING: f64 = 1e-6;

/// What the figure of a line is known to: the bound of the skin's volume, and what follows from it by proportion.
fn known_to(report: &TakeoffReport, line: Option<&csv::Line<'_>>) -> f64 {
    let Some((id, value)) = line.and_then(|line| Some((line.id, line.value?))) else { return 0.0 };
    let bound = report.skin_volume_bound_m3.unwrap_or(0.0);
    let share = |volume: Option<f64>| volume.filter(|v| *v > 0.0).map_or(0.0, |volume| bound / volume);
    let skin = share(report.skin_volume_m3);
    // The foam of a finished face is what the skin leaves.
    let is_finished = report.face == Face::Finished.to_string();
    let foam = if is_finished { share(report.core_volume_m3) } else { 0.0 };
    let weight = |id: FigureId| report.weights.iter().find(|row| row.id == id).and_then(|row| row.exact).unwrap_or(0.0);
    let total = |state| weight(FigureId::SkinWeight(state)) * skin + weight(FigureId::FoamWeight) * foam;
    let off = match id {
        FigureId::SkinVolume | FigureId::SkinBound => bound,
        FigureId::Mix | FigureId::SkinWeight(_) => value * skin,
        FigureId::Primer if is_finished => value * skin,
        FigureId::CoreVolume | FigureId::Foam | FigureId::FoamWeight => value * foam,
        FigureId::TotalWeight(state) => total(state),
        FigureId::FloorLoad(state) => match weight(FigureId::TotalWeight(state)) {
            all if all > 0.0 => value * total(state) / all,
            _ => 0.0,
        },
        _ => 0.0,
    };
    off.abs() + ROUNDING * value.abs()
}

/// Mixing water is reckoned from whole bags: where the mix has not changed it has not either.
fn water_follows_bags(lines: &mut [Line]) {
    let same_mix = lines.iter().any(|line| line.id == FigureId::Mix && line.is_within());
    for water in lines.iter_mut().filter(|line| same_mix && line.id == FigureId::MixingWater) {
        water.known_to = water.known_to.max(water.difference.map_or(0.0, f64::abs));
    }
}

impl Line {
    /// None of no row at all.
    fn new(old: Option<&csv::Line<'_>>, new: Option<&csv::Line<'_>>, known_to: f64) -> Option<Self> {
        let row = new.or(old)?;
        let [a, b] = [old, new].map(|row| row.and_then(|row| row.value));
        let packages = |row: &csv::Line<'_>| row.packages.and_then(|n| i64::try_from(n).ok());
        let [p, q] = [old, new].map(|row| row.and_then(packages));
        Some(Self {
            id: row.id,
            section: row.id.row().section.word(),
            name: plain(&row.name),
            unit: row.unit(),
            old: a,
            new: b,
            // The noise of binary fractions would be all that is left of two figures that are nearly the same.
            difference: a.zip(b).map(|(a, b)| csv::to_fifteen(b) - csv::to_fifteen(a)),
            known_to,
            old_packages: p,
            new_packages: q,
            packages_difference: p.zip(q).map(|(p, q)| q - p),
        })
    }

    /// Not what it was, as printed, by more than both figures are known to.
    #[must_use]
    pub fn is_news(&self) -> bool {
        self.shown().0
    }

    /// Both figures are there and the difference is within what they are known to.
    fn is_within(&self) -> bool {
        self.difference.is_some_and(|difference| difference.abs() <= self.known_to)
    }

    /// Prints a difference that is none.
    fn is_noise(&self) -> bool {
        let (news, cells) = self.shown();
        !news && cells[0] != cells[1]
    }

    /// Whether it changed as printed, then old, new, difference and unit, in US units and again in metric.
    fn shown(&self) -> (bool, Vec<String>) {
        if self.old_packages.is_some() || self.new_packages.is_some() {
            let whole = |n: Option<i64>| n.map_or_else(String::new, |n| n.to_string());
            let by = self.packages_difference.map_or_else(String::new, |n| format!("{n:+}"));
            let changed = self.old_packages != self.new_packages && !self.is_within();
            return (changed, vec![whole(self.old_packages), whole(self.new_packages), by, self.unit.to_owned()]);
        }
        // The same figures in both systems; a line that has no other unit is said once.
        let [us, metric] = [0, 1].map(|system| {
            let of = |value: Option<f64>| {
                let value = figure(value?, self.id);
                value.numbers().map(|both| (both[system].0, both[system].1.to_owned()))
            };
            let number = |value: Option<f64>, signed: bool| {
                let Some((value, unit)) = of(value) else { return "not defined".to_owned() };
                let decimals = if unit == "m3" { 4 } else { 2 };
                let value = if value.abs() < 0.5 * 0.1_f64.powi(decimals) { 0.0 } else { value };
                let decimals = decimals.unsigned_abs() as usize;
                if signed { format!("{value:+.decimals$}") } else { format!("{value:.decimals$}") }
            };
            let unit = of(self.new.or(self.old)).map_or_else(|| self.unit.to_owned(), |(_, unit)| unit);
            [number(self.old, false), number(self.new, false), number(self.difference, true), unit]
        });
        let changed = us[0] != us[1] && !self.is_within();
        let metric = if us == metric { Vec::new() } else { metric.to_vec() };
        (changed, us.into_iter().chain(metric).collect())
    }

    fn cells(&self) -> Vec<String> {
        let (changed, figures) = self.shown();
        let name = format!("{} {} {}", if changed { "*" } else { " " }, self.section, plain(&self.name));
        std::iter::once(name).chain(figures).collect()
    }
}

/// Rules of two revisions by their words, in the order of the new one's; those of one revision alone stand alone. Of rules in the same
/// words the first goes with the first.
fn paired<'a>(old: &'a [ScopeRow], new: &'a [ScopeRow]) -> Vec<(Option<&'a ScopeRow>, Option<&'a ScopeRow>)> {
    let mut left: Vec<&ScopeRow> = old.iter().collect();
    let mut pairs: Vec<_> = new
        .iter()
        .map(|new| {
            let same = left.iter().position(|old| (&old.rule, old.is) == (&new.rule, new.is));
            (same.map(|k| left.remove(k)), Some(new))
        })
        .collect();
    pairs.extend(left.into_iter().map(|old| (Some(old), None)));
    pairs
}

/// What is said of a rule that one revision alone has.
fn alone(row: &ScopeRow, file: &str, angle: Angle) -> String {
    match row.triangles {
        0 => format!("{} in {file}, the only revision with this rule", finds_nothing(&row.rule, angle)),
        _ => format!("{} is {} by a rule of {file} alone: {}", Area::from_square_metres(row.area_m2), row.is, row.rule),
    }
}

fn scope_notes(reports: &[TakeoffReport; 2], angles: [Angle; 2]) -> Vec<String> {
    let mut notes = Vec::new();
    let [old_file, new_file] = reports.each_ref().map(|report| &report.file);
    for (old, new) in paired(&reports[0].scope, &reports[1].scope) {
        let (old, new) = match (old, new) {
            (Some(old), Some(new)) => (old, new),
            (None, Some(new)) => {
                notes.push(alone(new, new_file, angles[1]));
                continue;
            }
            (Some(old), None) => {
                notes.push(alone(old, old_file, angles[0]));
                continue;
            }
            (None, None) => continue,
        };
        match (old.triangles, new.triangles) {
            (0, 0) => notes.push(format!("{}, in neither revision", finds_nothing(&new.rule, angles[1]))),
            (_, 0) => notes.push(format!(
                "{} in {new_file}; {} was {}",
                finds_nothing(&new.rule, angles[1]),
                Area::from_square_metres(old.area_m2),
                new.is
            )),
            (0, _) => notes.push(format!(
                "{} in {old_file}; {} is {} now",
                finds_nothing(&new.rule, angles[0]),
                Area::from_square_metres(new.area_m2),
                new.is
            )),
            _ => {}
        }
    }
    let asked = |open: &OpenSide| {
        format!("the {} is not settled: say --{side} bare or --{side} coated", open.side, side = open.side)
    };
    notes.extend(reports[1].open_sides.iter().map(asked));
    let open = [WHICH_UP, SCALE_FIGURE, GROUND, BEHIND, SCALED];
    let asks = |finding: &&FindingJson| open.contains(&finding.code.as_str());
    notes.extend(reports[1].findings.iter().filter(asks).map(|finding| finding.text.clone()));
    notes
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rule(rule: &str, triangles: usize) -> ScopeRow {
        ScopeRow { rule: rule.to_owned(), is: "bare", triangles, area_m2: 1.0, turned_deg: None }
    }

    /// Walls of hollows stand between the sides and the job's rules in the revision that has hollows alone: position tells nothing.
    #[test]
    fn rules_are_paired_by_their_words() {
        let old = [rule("floor", 2), rule("walls of closed hollows", 9), rule("part BACK", 4), rule("part BACK", 0)];
        let new = [rule("floor", 2), rule("part BACK", 4), rule("part BACK", 5), rule("part FRONT", 0)];
        let words = |row: Option<&ScopeRow>| row.map(|row| (row.rule.clone(), row.triangles));
        let found: Vec<_> = paired(&old, &new).into_iter().map(|(a, b)| [words(a), words(b)]).collect();
        let row = |rule: &str, triangles| Some((rule.to_owned(), triangles));
        let want = [
            [row("floor", 2), row("floor", 2)],
            [row("part BACK", 4), row("part BACK", 4)],
            [row("part BACK", 0), row("part BACK", 5)],
            [None, row("part FRONT", 0)],
            [row("walls of closed hollows", 9), None],
        ];
        assert_eq!(found, want);
        assert!(alone(&new[3], "new.obj", Angle::ZERO).contains("in new.obj, the only revision with this rule"));
    }
}
