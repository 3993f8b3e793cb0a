//! The report of `compare`: what moved, and every line of the takeoff as old, new and difference.

mod lines;
mod scope;

use super::content::Value;
use super::csv;
use super::limits::{self, LimitRow};
use super::table::{columns, plain, wrapped};
use super::takeoff::TakeoffReport;
use super::zones::ZoneRow;
use crate::failure::Failure;
use crate::request::Request;
use crate::revisions::Revisions;
use cragskin_geom::compare::{Change, Fate, PartPair};
use cragskin_geom::units::{Area, Length, feet_inches, metric_length};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

pub use lines::Line;
use lines::lines;
use scope::scope_notes;

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

impl CompareReport {
    /// Puts a comparison into the shape that leaves the program.
    #[must_use]
    pub fn new(revisions: &Revisions<'_>, old: &Request, new: &Request) -> Self {
        let reports =
            [TakeoffReport::new(&revisions.old.takeoff, old), TakeoffReport::new(&revisions.new.takeoff, new)];
        let shape = &revisions.shape;
        let limits = new.limits.iter().map(|limit| LimitRow::new(limit, &revisions.judged(limit)));
        Self {
            schema: 2,
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
        out + &limits::text(&self.limits)
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
