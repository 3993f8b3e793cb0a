//! The report of `compare`: what moved, and every line of the takeoff as old, new and difference.

use super::content::{Value, figure};
use super::csv;
use super::shared::FindingJson;
use super::table::{columns, plain, wrapped};
use super::takeoff::{LimitRow, OpenSide, TakeoffReport, limits_text};
use super::zones::ZoneRow;
use crate::failure::Failure;
use crate::job::Face;
use crate::notices::{SCALE_FIGURE, SCALED, WHICH_UP};
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
    /// Section of the takeoff.
    pub section: String,
    /// What it is.
    pub name: String,
    /// Unit of the exact figures, and the package if there are packages.
    pub unit: String,
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
                line.section.clone(),
                csv::text(&line.name),
                line.unit.clone(),
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
        out += &wrapped("  ", &format!("book for both: {}", self.book));
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

/// Lines of both, matched by section and name, in the order of the new takeoff; those only in the old one at the end.
fn lines(reports: &[TakeoffReport; 2]) -> Vec<Line> {
    let [old, new] = reports.each_ref().map(csv::rows);
    let key = |row: &[String; 7]| [row[0].clone(), row[1].clone()];
    // The same name may come twice (two parts of one name cannot, tags differ): the order of appearance then decides.
    let mut olds: BTreeMap<[String; 2], std::collections::VecDeque<&[String; 7]>> = BTreeMap::new();
    old.iter().for_each(|row| olds.entry(key(row)).or_default().push_back(row));
    let line = |old: Option<&[String; 7]>, new: Option<&[String; 7]>| {
        Line::new(old, new, known_to(&reports[0], old) + known_to(&reports[1], new))
    };
    let mut out: Vec<Line> =
        new.iter().map(|row| line(olds.get_mut(&key(row)).and_then(|rows| rows.pop_front()), Some(row))).collect();
    let left: Vec<&[String; 7]> = olds.into_values().flatten().collect();
    out.extend(old.iter().filter(|row| left.iter().any(|l| std::ptr::eq(*l, *row))).map(|row| line(Some(row), None)));
    water_follows_bags(&mut out);
    out
}

/// Of a figure, what its own size in single precision and sums in another order can make it differ.
const ROUNDING: f64 = 1e-6;

/// What the figure of a row is known to: the bound of the skin's volume, and what follows from it by proportion.
fn known_to(report: &TakeoffReport, row: Option<&[String; 7]>) -> f64 {
    let Some((row, value)) = row.and_then(|row| Some((row, row[2].parse::<f64>().ok()?))) else { return 0.0 };
    let bound = report.skin_volume_bound_m3.unwrap_or(0.0);
    let share = |volume: Option<f64>| volume.filter(|v| *v > 0.0).map_or(0.0, |volume| bound / volume);
    let skin = share(report.skin_volume_m3);
    // The foam of a finished face is what the skin leaves.
    let is_finished = report.face == Face::Finished.to_string();
    let foam = if is_finished { share(report.core_volume_m3) } else { 0.0 };
    let weight =
        |item: &str| report.weights.iter().find(|row| row.item == item).and_then(|row| row.exact).unwrap_or(0.0);
    let total = |when: &str| weight(&format!("skin, {when}")) * skin + weight("foam core") * foam;
    let load = |when: &str, all: &str| {
        let all = weight(&format!("total, {all}"));
        if all > 0.0 { value * total(when) / all } else { 0.0 }
    };
    let off = match [row[0].as_str(), row[1].as_str()] {
        ["skin", "volume" | "volume known to"] => bound,
        ["order", "mix"] | ["weight", "skin, wet" | "skin, cured"] => value * skin,
        ["order", "primer concentrate" | "primer"] if is_finished => value * skin,
        ["core", "volume"] | ["order", "foam"] | ["weight", "foam core"] => value * foam,
        ["weight", "total, wet on the day"] => total("wet"),
        ["weight", "total, cured"] => total("cured"),
        ["weight", "floor load, wet on the day"] => load("wet", "wet on the day"),
        ["weight", "floor load, cured"] => load("cured", "cured"),
        _ => 0.0,
    };
    off.abs() + ROUNDING * value.abs()
}

/// Mixing water is reckoned from whole bags: where the mix has not changed it has not either.
fn water_follows_bags(lines: &mut [Line]) {
    let same_mix = lines.iter().any(|line| line.is("order", "mix") && line.is_within());
    for water in lines.iter_mut().filter(|line| same_mix && line.is("order", "mixing water")) {
        water.known_to = water.known_to.max(water.difference.map_or(0.0, f64::abs));
    }
}

impl Line {
    fn new(old: Option<&[String; 7]>, new: Option<&[String; 7]>, known_to: f64) -> Self {
        let text = |k: usize| new.or(old).map_or_else(String::new, |row| row[k].clone());
        let number = |row: Option<&[String; 7]>, k: usize| row.and_then(|row| row[k].parse::<f64>().ok());
        let packages = |row: Option<&[String; 7]>| row.and_then(|row| row[4].parse::<i64>().ok());
        let (a, b, p, q) = (number(old, 2), number(new, 2), packages(old), packages(new));
        Self {
            section: text(0),
            name: text(1),
            unit: text(3),
            old: a,
            new: b,
            difference: a.zip(b).map(|(a, b)| b - a),
            known_to,
            old_packages: p,
            new_packages: q,
            packages_difference: p.zip(q).map(|(p, q)| q - p),
        }
    }

    /// Not what it was, as printed, by more than both figures are known to.
    #[must_use]
    pub fn is_news(&self) -> bool {
        self.cells()[0].starts_with('*')
    }

    fn is(&self, section: &str, name: &str) -> bool {
        self.section == section && self.name == name
    }

    /// Both figures are there and the difference is within what they are known to.
    fn is_within(&self) -> bool {
        self.difference.is_some_and(|difference| difference.abs() <= self.known_to)
    }

    /// Prints a difference that is none.
    fn is_noise(&self) -> bool {
        let cells = self.cells();
        !self.is_news() && cells[1] != cells[2]
    }

    fn cells(&self) -> Vec<String> {
        let whole = |n: Option<i64>| n.map_or_else(String::new, |n| n.to_string());
        let name = |differs: bool| {
            let star = if differs && !self.is_within() { "*" } else { " " };
            format!("{star} {} {}", self.section, plain(&self.name))
        };
        if self.old_packages.is_some() || self.new_packages.is_some() {
            let by = self.packages_difference.map_or_else(String::new, |n| format!("{n:+}"));
            let (old, new) = (whole(self.old_packages), whole(self.new_packages));
            return vec![name(old != new), old, new, by, self.unit.clone()];
        }
        // The same figures in both systems; a line that has no other unit is said once.
        let [us, metric] = [0, 1].map(|system| {
            let of = |value: Option<f64>| {
                let value = figure(value?, &self.unit);
                value.numbers().map(|both| (both[system].0, both[system].1.to_owned()))
            };
            let number = |value: Option<f64>, signed: bool| {
                let Some((value, unit)) = of(value) else { return "not defined".to_owned() };
                let decimals = if unit == "m3" { 4 } else { 2 };
                let value = if value.abs() < 0.5 * 0.1_f64.powi(decimals) { 0.0 } else { value };
                let decimals = decimals.unsigned_abs() as usize;
                if signed { format!("{value:+.decimals$}") } else { format!("{value:.decimals$}") }
            };
            let unit = of(self.new.or(self.old)).map_or_else(|| self.unit.clone(), |(_, unit)| unit);
            [number(self.old, false), number(self.new, false), number(self.difference, true), unit]
        });
        let mut cells = vec![name(us[0] != us[1])];
        let once = us == metric;
        cells.extend(us);
        if !once {
            cells.extend(metric);
        }
        cells
    }
}

fn scope_notes(reports: &[TakeoffReport; 2], angles: [Angle; 2]) -> Vec<String> {
    let mut notes = Vec::new();
    let [old_file, new_file] = reports.each_ref().map(|report| &report.file);
    for (old, new) in reports[0].scope.iter().zip(&reports[1].scope) {
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
    let open = [WHICH_UP, SCALE_FIGURE, SCALED];
    let asks = |finding: &&FindingJson| open.contains(&finding.code.as_str());
    notes.extend(reports[1].findings.iter().filter(asks).map(|finding| finding.text.clone()));
    notes
}
