//! A takeoff report laid out in sections, as every paged writer carries it: page, print and workbook only format this.

mod changes;
mod parts;
mod value;

use super::compare::CompareReport;
use super::shared::{Kind, doubt};
use super::takeoff::{OrderRow, TakeoffReport};
use super::zones::ZoneRow;
use crate::book::Class;
use crate::figure::{FigureId, State};
use crate::quantities::Grade;
use cragskin_geom::units::Mass;
use parts::two_lifts;

pub(super) use changes::figure;
pub use value::Value;

/// Which faces a row speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is its kind of face")]
pub enum Faces {
    Class(Class),
    Part(usize),
    Coated,
    Bare,
    Zone(usize),
    Change(usize),
}

impl Faces {
    /// The mark that a page's row carries.
    #[must_use]
    pub fn mark(self) -> String {
        match self {
            Self::Class(class) => format!("class:{}", class as usize),
            Self::Part(part) => format!("part:{part}"),
            Self::Coated => "state:0".to_owned(),
            Self::Bare => "state:1".to_owned(),
            Self::Zone(zone) => format!("zone:{zone}"),
            Self::Change(change) => format!("change:{change}"),
        }
    }
}

/// One row of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// One for each column.
    pub cells: Vec<Value>,
    /// A bound and why; empty if the figures are good.
    pub mark: String,
    /// How it is reckoned, if there is a sum.
    pub sum: String,
    /// The faces it speaks of.
    pub faces: Option<Faces>,
}

impl Row {
    fn new(cells: Vec<Value>) -> Self {
        Self { cells, mark: String::new(), sum: String::new(), faces: None }
    }

    fn named(name: impl Into<String>, value: Value) -> Self {
        Self::new(vec![Value::words(name), value])
    }

    fn mark(self, mark: impl Into<String>) -> Self {
        Self { mark: mark.into(), ..self }
    }

    fn sum(self, sum: impl Into<String>) -> Self {
        Self { sum: sum.into(), ..self }
    }

    fn faces(self, faces: Faces) -> Self {
        Self { faces: Some(faces), ..self }
    }
}

/// A table.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Column heads.
    pub head: Vec<&'static str>,
    /// Rows.
    pub rows: Vec<Row>,
}

/// A section.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// A short word without blanks.
    pub key: &'static str,
    /// As it stands above it.
    pub title: &'static str,
    /// What is said before the tables.
    pub words: Vec<String>,
    /// The tables.
    pub tables: Vec<Table>,
}

impl Section {
    fn new(key: &'static str, title: &'static str) -> Self {
        Self { key, title, words: Vec::new(), tables: Vec::new() }
    }

    fn say(mut self, words: impl Into<String>) -> Self {
        self.words.push(words.into());
        self
    }

    fn table(mut self, head: &[&'static str], rows: Vec<Row>) -> Self {
        if !rows.is_empty() {
            self.tables.push(Table { head: head.to_vec(), rows });
        }
        self
    }
}

/// What every paged writer carries.
#[derive(Clone, Debug)]
pub struct Content<'a> {
    /// The report that it is made of.
    pub report: &'a TakeoffReport,
    /// The figures asked for first.
    pub glance: Vec<Glance>,
    /// All sections, in the order in which people ask; the first is the table of trust.
    pub sections: Vec<Section>,
}

impl<'a> Content<'a> {
    /// From a report, and a comparison if an older revision was given.
    #[must_use]
    pub fn new(report: &'a TakeoffReport, against: Option<&CompareReport>) -> Self {
        let (first, rest) = (
            [parts::trust(report)],
            [
                parts::sent(report),
                parts::coat(report),
                parts::order("much", "How much", &report.order)
                    .say("Exact, then packages rounded up once for the whole job."),
                parts::steep(report),
                parts::lath(report),
                parts::thick(report),
                parts::foam(report),
                parts::order("weight", "Weight", &report.weights),
                parts::stands(report),
                parts::unknown(report),
                parts::cautions(report),
            ],
        );
        let changed = against.map(changes::section);
        let all = first.into_iter().chain(changed).chain(rest);
        let sections = all.filter(|section| !(section.words.is_empty() && section.tables.is_empty())).collect();
        Self { report, glance: glance(report), sections }
    }
}

/// A figure asked for first.
#[derive(Clone, Debug, PartialEq)]
pub struct Glance {
    /// What it is.
    pub name: &'static str,
    /// The figure.
    pub value: Value,
    /// Its grade; empty when good.
    pub mark: &'static str,
    /// The section that tells more.
    pub section: &'static str,
}

fn glance(report: &TakeoffReport) -> Vec<Glance> {
    let mut all = Vec::new();
    let mut say = |name, (value, mark), section| all.push(Glance { name, value, mark, section });
    let bought = |id: FigureId| {
        let value = |row: &OrderRow| row.packages.map_or(Value::NotDefined, |n| Value::Count(n as f64, id.unit()));
        report.row(id).map(|row| (value(row), doubt(&row.quality)))
    };
    let (area, zones) = (report.quality.doubt(Kind::Area), doubt(&report.zones_quality));
    let named = |on: &dyn Fn(&ZoneRow) -> bool| -> String {
        runs(report.zones.iter().filter(|zone| on(zone)).map(|zone| zone.letter.as_str()))
    };
    let or = |words: String, none: &str| Value::words(if words.is_empty() { none.to_owned() } else { words });

    let m2 = parts::m2_or_none;
    say("coated", (m2(report.coated_area_m2), area), "coat");
    if !report.open_sides.is_empty() {
        say("coated, if open sides stay bare", (m2(report.coated_area_if_open_sides_bare_m2), ""), "coat");
    }
    if !report.proposed.is_empty() {
        say("coated, if what may not be ours is left out", (m2(report.coated_area_if_left_out_m2), ""), "coat");
    }
    if let Some(bags) = bought(FigureId::Mix) {
        say("mix", bags, "much");
    }
    say("under lath", (m2(report.lath_area_m2), zones), "lath");
    if let Some(sheets) = bought(FigureId::Lath) {
        say("lath", sheets, "lath");
    }
    say("lath goes on zones", (or(named(&|zone| zone.lath_sheets.is_some()), "none"), zones), "lath");
    let most = |zone: &ZoneRow| zone.two_lift_area_m2 >= 0.5 * zone.area_m2;
    let [all_of, some] = [true, false].map(|all| named(&|zone| two_lifts(zone) && most(zone) == all));
    let parts = if some.is_empty() { some } else { format!("parts of {some}") };
    let two = [all_of, parts].into_iter().filter(|words| !words.is_empty()).collect::<Vec<_>>().join("; ");
    say("two lifts or more on zones", (or(two, "none"), zones), "thick");
    let weight = report.row(FigureId::TotalWeight(State::Wet));
    let wet = weight.and_then(|row| row.exact).map_or(Value::NotDefined, |lb| Value::Mass(Mass::from_pounds(lb)));
    say("wet on the day", (wet, weight.map_or("", |row| doubt(&row.quality))), "weight");
    let unknown = report.quality.graded(Grade::NotKnown).join(", ");
    if !unknown.is_empty() {
        say("not known", (Value::words(unknown), ""), "unknown");
    }
    let missing = report.quality.graded(Grade::NotDefined).join(", ");
    let section = if missing.is_empty() { "trust" } else { "unknown" };
    say("not defined", (or(missing, "nothing"), ""), section);
    all
}

/// Names in a row, `U1, U2, U3, U5` as `U1-U3, U5`.
fn runs<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let split = |name: &'a str| {
        let (letter, number) = name.split_at(name.find(|c: char| c.is_ascii_digit()).unwrap_or(name.len()));
        (letter, number.parse().unwrap_or(0_u32))
    };
    let mut rows: Vec<(&str, &str)> = Vec::new();
    for name in names {
        let (letter, number) = split(name);
        match rows.last_mut() {
            Some((_, last)) if split(last) == (letter, number.wrapping_sub(1)) => *last = name,
            _ => rows.push((name, name)),
        }
    }
    let words = |(first, last): &(&str, &str)| match first == last {
        true => (*first).to_owned(),
        false => format!("{first}-{last}"),
    };
    rows.iter().map(words).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests;
