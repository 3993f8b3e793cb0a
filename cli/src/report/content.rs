//! A takeoff report laid out in sections, as every paged writer carries it: page, print and workbook only format this.

use super::takeoff::{OrderRow, TakeoffReport};
use super::zones::ZoneRow;
use crate::book::Class;
use cragskin_geom::units::{Area, Length, Mass, MassPerArea, Volume, feet_inches, metric_length};

/// One cell.
#[derive(Clone, Debug, PartialEq)]
#[expect(missing_docs, reason = "each is its quantity")]
pub enum Value {
    Words(String),
    /// A number and the word after it, `1` and `bag`, the same in both systems.
    Count(f64, String),
    /// Degrees.
    Degrees(f64),
    /// A part of the whole, 1 for all of it.
    Share(f64),
    Length(Length),
    /// From one length to another.
    Span([Length; 2]),
    Area(Area),
    Volume(Volume),
    /// A liquid.
    Liquid(Volume),
    Mass(Mass),
    Load(MassPerArea),
    /// The model does not define it.
    NotDefined,
}

impl Value {
    fn words(text: impl Into<String>) -> Self {
        Self::Words(text.into())
    }

    fn m2(value: f64) -> Self {
        // An empty sum is -0 in floating point; nobody wants to read that.
        Self::Area(Area::from_square_metres(value + 0.0))
    }

    /// As said in US units and in metric ones; the same twice where there is no difference.
    #[must_use]
    pub fn text(&self) -> [String; 2] {
        let both = |text: String| [text.clone(), text];
        let halves = |text: String| match text.split_once(" (") {
            Some((us, metric)) => [us.to_owned(), metric.trim_end_matches(')').to_owned()],
            None => both(text),
        };
        match self {
            Self::Words(text) => both(text.clone()),
            Self::Count(n, word) => both(count(*n, word)),
            Self::Degrees(degrees) => both(format!("{} deg", (degrees * 10.0).round() / 10.0)),
            Self::Share(share) => both(format!("{:.1} %", 100.0 * share)),
            Self::Length(length) => [feet_inches(*length), metric_length(*length)],
            Self::Span([from, to]) => [
                format!("{} to {}", feet_inches(*from), feet_inches(*to)),
                format!("{} to {}", metric_length(*from), metric_length(*to)),
            ],
            Self::Area(area) => halves(area.to_string()),
            Self::Volume(volume) => halves(volume.to_string()),
            Self::Liquid(volume) => [format!("{:.2} gal", volume.gallons()), format!("{:.2} L", volume.litres())],
            Self::Mass(mass) => halves(mass.to_string()),
            Self::Load(load) => halves(load.to_string()),
            Self::NotDefined => both("not defined".to_owned()),
        }
    }

    /// Number and unit in US and metric units, for a workbook.
    #[must_use]
    pub fn numbers(&self) -> Option<[(f64, &str); 2]> {
        let same = |value: f64, unit| [(value, unit); 2];
        Some(match self {
            Self::Words(_) | Self::Span(_) | Self::NotDefined => return None,
            Self::Count(n, word) => same(*n, word.as_str()),
            Self::Degrees(degrees) => same(*degrees, "deg"),
            Self::Share(share) => same(100.0 * share, "%"),
            Self::Length(length) => [(length.inches(), "in"), (length.millimetres(), "mm")],
            Self::Area(area) => [(area.square_feet(), "sq ft"), (area.square_metres(), "m2")],
            Self::Volume(volume) => [(volume.cubic_feet(), "cu ft"), (volume.cubic_metres(), "m3")],
            Self::Liquid(volume) => [(volume.gallons(), "gal"), (volume.litres(), "L")],
            Self::Mass(mass) => [(mass.pounds(), "lb"), (mass.kilograms(), "kg")],
            Self::Load(load) => [(load.psf(), "lb/sq ft"), (load.kg_per_m2(), "kg/m2")],
        })
    }
}

fn count(n: f64, word: &str) -> String {
    let number = if n.fract() == 0.0 { format!("{n}") } else { format!("{n:.2}") };
    match word {
        "" if n.fract() != 0.0 => format!("{n:.3}"),
        "" => number,
        "each" => format!("{number} each"),
        _ if n == 1.0 => format!("{number} {word}"),
        _ => format!("{number} {word}s"),
    }
}

/// Which faces a row speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is its kind of face")]
pub enum Faces {
    Class(Class),
    Part(usize),
    Coated,
    Bare,
    Zone(usize),
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

/// All sections, in the order in which people ask.
#[must_use]
pub fn sections(report: &TakeoffReport) -> Vec<Section> {
    vec![
        trust(report),
        sent(report),
        coat(report),
        order("much", "How much", &report.order).say("Exact, then packages rounded up once for the whole job."),
        steep(report),
        lath(report),
        thick(report),
        foam(report),
        order("weight", "Weight", &report.weights),
        unknown(report),
        cautions(report),
    ]
    .into_iter()
    .filter(|section| !(section.words.is_empty() && section.tables.is_empty()))
    .collect()
}

/// The figures asked for first.
#[must_use]
pub fn glance(report: &TakeoffReport) -> Vec<(&'static str, Value)> {
    let bought = |item: &str| {
        let row = report.order.iter().find(|row| row.item == item);
        row.map(|row| row.packages.map_or(Value::NotDefined, |n| Value::Count(n as f64, row.unit.clone())))
    };
    let weight = report.weights.iter().find(|row| row.item == "total, wet on the day");
    let wet = weight.and_then(|row| row.exact).map_or(Value::NotDefined, |lb| Value::Mass(Mass::from_pounds(lb)));
    let mut rows = vec![("coated", Value::m2(report.coated_area_m2))];
    if !report.open_sides.is_empty() {
        rows.push(("coated, if open sides stay bare", Value::m2(report.coated_area_if_open_sides_bare_m2)));
    }
    rows.extend(bought("mix").map(|bags| ("mix", bags)));
    rows.push(("under lath", Value::m2(report.lath_area_m2)));
    rows.extend(bought("lath").map(|sheets| ("lath", sheets)));
    let names = |on: &dyn Fn(&ZoneRow) -> bool| -> Value {
        let names: Vec<&str> = report.zones.iter().filter(|z| on(z)).map(|z| z.letter.as_str()).collect();
        Value::words(if names.is_empty() { "none".to_owned() } else { names.join(", ") })
    };
    rows.push(("lath goes on zones", names(&|zone| zone.lath_sheets.is_some())));
    rows.push(("two lifts or more on zones", names(&two_lifts)));
    rows.push(("wet on the day", wet));
    let missing: Vec<&str> =
        report.quality.rows().iter().filter(|row| row.1 == "not defined").map(|row| row.0).collect();
    rows.push((
        "not defined",
        Value::words(if missing.is_empty() { "nothing".to_owned() } else { missing.join(", ") }),
    ));
    rows
}

fn trust(report: &TakeoffReport) -> Section {
    let rows = report.quality.rows().map(|(name, grade, why)| {
        Row::new(vec![Value::words(name), Value::words(grade), Value::words(if why.is_empty() { "-" } else { why })])
    });
    Section::new("trust", "How far the numbers can be trusted").table(&["number", "is", "because"], rows.to_vec())
}

fn sent(report: &TakeoffReport) -> Section {
    let [width, depth, height] = report.size_m;
    let mut rows = vec![
        Row::named("file", Value::words(&report.file)),
        Row::named("width", metres(width)),
        Row::named("depth", metres(depth)),
        Row::named("height", metres(height)),
        Row::named("triangles", Value::Count(report.triangles as f64, String::new())),
        Row::named("drawn in", Value::words(report.units)),
        Row::named("up, visitors stand at", Value::words(format!("{}, {}", report.up, report.front))),
        Row::named("face drawn", Value::words(&report.face)),
        Row::named("material book", Value::words(&report.book)),
    ];
    if !report.book_defaults_used.is_empty() {
        rows.push(Row::named("keys left to the default book", Value::words(report.book_defaults_used.join(", "))));
    }
    let mut section = Section::new("sent", "What we were sent").say(report.face_words());
    section.words.extend(report.notes.iter().cloned());
    section.table(&["", ""], rows)
}

fn coat(report: &TakeoffReport) -> Section {
    let mark = report.quality.mark("area");
    let mut rows = vec![
        Row::named("as modelled", Value::m2(report.as_modelled_area_m2)),
        Row::named("coated", Value::m2(report.coated_area_m2)).mark(&mark).faces(Faces::Coated),
    ];
    if !report.open_sides.is_empty() {
        let sides: Vec<&str> = report.open_sides.iter().map(|open| open.side).collect();
        rows.push(Row::named(
            format!("coated, if the {} stays bare", sides.join(" and the ")),
            Value::m2(report.coated_area_if_open_sides_bare_m2),
        ));
    }
    rows.push(Row::named("bare", Value::m2(report.bare_area_m2)).faces(Faces::Bare));
    rows.push(Row::named("left out (not ours)", Value::m2(report.left_out_area_m2)));
    rows.push(Row::named("in the open, coated or bare", Value::m2(report.exposed_area_m2)));
    rows.push(Row::named("inside another body, not coated", Value::m2(report.buried_area_m2)));
    rows.push(Row::named("front elevation of the coated faces", Value::m2(report.projected_area_m2)));
    if let Some(area) = report.footprint_m2 {
        rows.push(Row::named("footprint", Value::m2(area)));
    }
    let rules = report.scope.iter().map(|rule| {
        let nothing = if rule.triangles == 0 { "finds nothing in this model" } else { "" };
        let faces = Value::Count(rule.triangles as f64, String::new());
        Row::new(vec![Value::words(&rule.rule), Value::words(rule.is), Value::m2(rule.area_m2), faces]).mark(nothing)
    });
    let parts = report.parts.iter().enumerate().map(|(k, row)| {
        let part = &row.part;
        let area = part.area_m2.map_or(Value::NotDefined, Value::m2);
        Row::new(vec![
            Value::words(&part.tag),
            Value::words(&part.name),
            Value::words(&part.material),
            area,
            Value::m2(row.coated_area_m2),
            Value::Count(part.triangles as f64, String::new()),
            Value::words(part.size_in_file_units.map(|s| format!("{s:.2}")).join(" x ")),
        ])
        .faces(Faces::Part(k))
    });
    let mut section = Section::new("coat", "What we coat").table(&["area", ""], rows);
    for open in &report.open_sides {
        section.words.push(format!(
            "The {side} is flat and large, {}: coated or bare? Nobody has said. Say --{side} bare or --{side} coated.",
            Area::from_square_metres(open.area_m2),
            side = open.side
        ));
    }
    section
        .table(
            &["open side", "area"],
            report.open_sides.iter().map(|o| Row::named(o.side, Value::m2(o.area_m2))).collect(),
        )
        .table(&["rule", "is", "area", "triangles"], rules.collect())
        .table(&["part", "name", "material", "area", "coated", "triangles", "size in file units"], parts.collect())
}

fn steep(report: &TakeoffReport) -> Section {
    let by = &report.area_by_class_m2;
    let limit = |k: usize| report.near_limit_area_m2[k].limit_deg;
    let ends = [0.0, limit(0), limit(1), limit(2), limit(3), 180.0];
    let whole = report.coated_area_m2;
    let classes = [by.top, by.slope, by.wall, by.undercut, by.soffit];
    let rows = classes.iter().zip(Class::ALL).enumerate().map(|(k, (m2, class))| {
        Row::new(vec![
            Value::words(class.name()),
            Value::words(format!("{} to {} deg", ends[k], ends[k + 1])),
            Value::m2(*m2),
            Value::Share(if whole > 0.0 { m2 / whole } else { 0.0 }),
        ])
        .faces(Faces::Class(class))
    });
    let near = report.near_limit_area_m2.iter().map(|near| {
        let limit = format!("{} / {}", near.below, near.above);
        Row::new(vec![Value::words(limit), Value::Degrees(near.limit_deg), Value::m2(near.area_m2)])
    });
    let changed = report.changed_by_smoothing_m2.into_iter();
    let changed =
        changed.map(|m2| Row::named("changes class at lath scale, face by face against joined", Value::m2(m2)));
    Section::new("steep", "Where it is steep")
        .say("Coated area by lean: 0 deg faces up, 90 is plumb, 180 faces down.")
        .table(&["class", "lean", "area", "of the coated"], rows.collect())
        .table(&["within 2 deg of the limit", "lean", "area"], near.collect())
        .table(&["", ""], changed.collect())
        .table(&["zone", "area", "high", "wide", "from left", "from floor", "lean", "worst"], zones(report, zone_place))
}

/// A row for each zone that `cells` speaks of.
fn zones(report: &TakeoffReport, row: impl Fn(&ZoneRow) -> Option<Row>) -> Vec<Row> {
    let rows = report.zones.iter().enumerate();
    rows.filter_map(|(k, zone)| Some(row(zone)?.faces(Faces::Zone(k)))).collect()
}

fn metres(metres: f64) -> Value {
    Value::Length(Length::from_metres(metres))
}

fn zone_place(zone: &ZoneRow) -> Option<Row> {
    let span = |from, to| Value::Span([from, to].map(Length::from_metres));
    let [x, y, z] = zone.centre_m.map(|m| Length::from_metres(m).to_string());
    let near = Area::from_square_metres(zone.near_limit_area_m2);
    let row = Row::new(vec![
        Value::words(&zone.letter),
        Value::m2(zone.area_m2),
        metres(zone.height_m),
        metres(zone.width_m),
        span(zone.x_low_m, zone.x_high_m),
        span(zone.z_low_m, zone.z_high_m),
        Value::Degrees(zone.lean_mean_deg),
        Value::Degrees(zone.lean_worst_deg),
    ]);
    Some(row.sum(format!(
        "{}; centre {x} from left, {y} from front, {z} up; {near} within 2 deg of a class limit",
        zone.class
    )))
}

fn zone_lath(zone: &ZoneRow) -> Option<Row> {
    let sheets = |n: Option<f64>| n.map_or(Value::NotDefined, |n| Value::Count(n, "sheet".to_owned()));
    let whole = zone.lath_sheets? as f64;
    let strips = if zone.cut_to_strips { "curved both ways: cut to strips" } else { "" };
    let row = Row::new(vec![
        Value::words(&zone.letter),
        Value::m2(zone.area_m2),
        Value::Count(whole, "sheet".to_owned()),
        sheets(zone.lath_sheets_by_area),
        sheets(zone.lath_sheets_by_laying),
        Value::Count(zone.fixings as f64, "each".to_owned()),
    ]);
    Some(row.mark(strips))
}

/// Two lifts on more than a palm's breadth: a smaller area prints as 0.0 sq ft.
fn two_lifts(zone: &ZoneRow) -> bool {
    zone.lifts >= 2 && zone.two_lift_area_m2 >= 0.005
}

fn zone_lifts(zone: &ZoneRow) -> Option<Row> {
    let mark = match (two_lifts(zone), zone.at_limit_area_m2 >= 0.005) {
        (true, _) => "two lifts or more",
        (false, true) => "at limit",
        (false, false) => "",
    };
    let row = Row::new(vec![
        Value::words(&zone.letter),
        Value::Count(f64::from(zone.lifts), "lift".to_owned()),
        Value::m2(zone.two_lift_area_m2),
        Value::m2(zone.at_limit_area_m2),
        Value::Degrees(zone.lean_worst_deg),
        zone.reach_m.map_or_else(|| Value::words("-"), metres),
    ]);
    Some(row.mark(mark))
}

fn lath(report: &TakeoffReport) -> Section {
    let mut section = Section::new("lath", "Where lath goes")
        .say("Zones are joined patches of one class, lettered as painted on the foam: T top, S slope, W wall, U undercut, F soffit. Their places are under Where it is steep.")
        .table(&["zone", "area", "sheets", "by area", "laid out", "fixings"], zones(report, zone_lath))
        .table(&["", ""], vec![Row::named("area under lath", Value::m2(report.lath_area_m2))]);
    if report.zones.iter().all(|zone| zone.lath_sheets.is_none()) {
        section = section.say("No zone takes lath by the book's rules.");
    }
    section.tables.extend(order("", "", &picked(&report.order, "lath")).tables);
    section
}

fn foam(report: &TakeoffReport) -> Section {
    let volume = |m3: Option<f64>| m3.map_or(Value::NotDefined, cubic);
    let rows = vec![
        Row::named("core", volume(report.core_volume_m3)).mark(report.quality.mark("core volume")),
        Row::named("coated face of the core", report.core_area_m2.map_or(Value::NotDefined, Value::m2)),
        Row::named("all bodies together, counted once", volume(report.union_volume_m3)),
        Row::named("sum of the bodies", volume(report.sum_of_parts_volume_m3)),
        Row::named("to glue, one side of every contact", Value::m2(report.glue_area_m2)),
    ];
    let twice = report.counted_twice.iter().map(|shared| {
        let [a, b] = &shared.parts;
        Row::new(vec![Value::words(format!("{a} and {b}")), Value::words(shared.how), cubic(shared.volume_m3)])
    });
    let mut section = Section::new("foam", "Foam")
        .table(&["", ""], rows)
        .table(&["counted twice in the sum", "how", "volume"], twice.collect());
    section.tables.extend(order("", "", &picked(&report.order, "foam")).tables);
    section
}

fn picked(rows: &[OrderRow], word: &str) -> Vec<OrderRow> {
    rows.iter().filter(|row| row.item.contains(word)).cloned().collect()
}

fn cubic(m3: f64) -> Value {
    Value::Volume(Volume::from_cubic_metres(m3))
}

fn thick(report: &TakeoffReport) -> Section {
    let mm = |mm: f64| Value::Length(Length::from_millimetres(mm));
    let volume = |m3: Option<f64>| m3.map_or(Value::NotDefined, cubic);
    let mark = report.quality.mark("skin volume");
    let mut rows = vec![
        Row::named("applied", mm(report.skin_mm)).sum(&report.skin_sum),
        Row::named("left after carving where the hand was low (one pin in twenty)", mm(report.cover_at_low_pins_mm)),
        Row::named("area x thickness", cubic(report.area_times_skin_m3)),
        Row::named("with corners and hollows", volume(report.skin_volume_m3)).mark(&mark),
        Row::named("known to within", volume(report.skin_volume_bound_m3)),
    ];
    if let Some(area) = report.skin_outer_area_m2 {
        rows.push(Row::named("far side of the skin", Value::m2(area)));
    }
    if let Some(area) = report.skin_scale_area_m2 {
        rows.push(Row::named("area half way through the skin", Value::m2(area)));
    }
    if let Some(ratio) = report.texture_ratio {
        rows.push(Row::named("coated area over that (texture)", Value::Count(ratio, String::new())));
    }
    rows.extend(report.two_lift_area_m2.map(|m2| Row::named("takes two lifts or more", Value::m2(m2))));
    Section::new("thick", "How thick and how many lifts")
        .table(&["", ""], rows)
        .table(&["zone", "lifts", "two or more on", "at limit on", "worst lean", "reach"], zones(report, zone_lifts))
}

fn order(key: &'static str, title: &'static str, rows: &[OrderRow]) -> Section {
    let rows = rows.iter().map(|row| {
        let exact = row.exact.map_or(Value::NotDefined, |exact| exact_value(exact, &row.unit));
        let buy = row.packages.map_or_else(|| exact.clone(), |n| Value::Count(n as f64, row.unit.clone()));
        let mark = if row.quality == "good" { "" } else { row.quality.as_str() };
        Row::new(vec![Value::words(&row.item), buy, exact]).mark(mark).sum(&row.sum)
    });
    Section::new(key, title).table(&["item", "amount", "exact"], rows.collect())
}

fn exact_value(exact: f64, unit: &str) -> Value {
    match unit {
        "gal" => Value::Liquid(Volume::from_gallons(exact)),
        "cu ft" => Value::Volume(Volume::from_cubic_feet(exact)),
        "sq ft" => Value::Area(Area::from_square_feet(exact)),
        "ft" => Value::Length(Length::from_feet(exact)),
        "lb" => Value::Mass(Mass::from_pounds(exact)),
        "lb/sq ft" => Value::Load(MassPerArea::from_psf(exact)),
        _ => Value::Count(exact, unit.to_owned()),
    }
}

fn unknown(report: &TakeoffReport) -> Section {
    let mut section = Section::new("unknown", "What we do not know");
    for [name, why] in &report.quality.reasons {
        section.words.push(format!("{name}: {why}"));
    }
    for open in &report.open_sides {
        section.words.push(format!("Is the {} coated or bare?", open.side));
    }
    let found = report
        .findings
        .iter()
        .map(|found| Row::new(vec![Value::words(&found.text), Value::Count(found.count as f64, String::new())]));
    section = section.table(&["found", "how many"], found.collect());
    if section.words.is_empty() && section.tables.is_empty() {
        section = section.say("Nothing that touches the numbers was found.");
    }
    let limits = report.limits.iter().map(|limit| {
        let measured = limit.measured.as_deref().unwrap_or("not defined for this model");
        let verdict = if limit.passed { "PASSED" } else { "kept" };
        Row::new(vec![Value::words(&limit.rule), Value::words(measured), Value::words(verdict)])
    });
    section.table(&["limit set for this job", "measured", "is"], limits.collect())
}

fn cautions(report: &TakeoffReport) -> Section {
    report.cautions.iter().fold(Section::new("cautions", "Cautions"), |section, caution| section.say(caution))
}

#[cfg(test)]
mod tests {
    use super::super::page::{self, Stamp};
    use super::super::picture::{Labels, Scene};
    use super::*;
    use crate::book::Book;
    use crate::job::{Face, Scope};
    use crate::load::{Loaded, PlacingWords};
    use crate::request::Request;
    use crate::takeoff::Takeoff;
    use cragskin_geom::drawing::Drawing;
    use cragskin_geom::intake;
    use cragskin_geom::units::ModelUnit;
    use std::path::PathBuf;

    /// Two blocks of 5 x 4 x 3 ft that overlap by a foot, the second one's name an attack on a page.
    const BLOCKS: &str = "o rock\nv 0 0 0\nv 60 0 0\nv 60 48 0\nv 0 48 0\nv 0 0 36\nv 60 0 36\nv 60 48 36\nv 0 48 36\n\
        f 1 4 3 2\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\no <img src=x onerror=alert(1)>\n\
        v 48 6 0\nv 108 6 0\nv 108 54 0\nv 48 54 0\nv 48 6 30\nv 108 6 30\nv 108 54 30\nv 48 54 30\n\
        f 9 12 11 10\nf 13 14 15 16\nf 9 10 14 13\nf 10 11 15 14\nf 11 12 16 15\nf 12 9 13 16\n";

    fn takeoff() -> (Takeoff, Request) {
        let request = Request {
            name: "two blocks".to_owned(),
            model: PathBuf::new(),
            placing: PlacingWords { unit: Some(ModelUnit::Inch), ..PlacingWords::default() },
            face: Face::Finished,
            skin: None,
            close: None,
            accuracy: cragskin_geom::skin::Accuracy::USUAL,
            scope: Scope::default(),
            limits: Vec::new(),
            book_name: "the default book".to_owned(),
            book: Book::built_in().unwrap(),
        };
        let drawing = Drawing::from_soup(intake::read(BLOCKS.as_bytes(), None).unwrap()).unwrap();
        let takeoff = Takeoff::new(Loaded { name: "blocks.obj".to_owned(), drawing }, &request).unwrap();
        (takeoff, request)
    }

    fn figures(path: &str, value: &serde_json::Value, out: &mut Vec<(String, f64)>) {
        match value {
            serde_json::Value::Number(n) => out.push((path.to_owned(), n.as_f64().unwrap())),
            serde_json::Value::Array(all) => all.iter().for_each(|inner| figures(path, inner, out)),
            serde_json::Value::Object(all) => {
                all.iter().for_each(|(key, inner)| figures(&format!("{path}.{key}"), inner, out));
            }
            _ => {}
        }
    }

    /// All numbers of the cells in every unit that a field of the report may have.
    fn carried(sections: &[Section]) -> Vec<f64> {
        let cells = || sections.iter().flat_map(|s| &s.tables).flat_map(|t| &t.rows).flat_map(|row| &row.cells);
        let numbers = cells().filter_map(Value::numbers).flatten().map(|(value, _)| value);
        let spans = cells().filter_map(|value| if let Value::Span(ends) = value { Some(*ends) } else { None });
        numbers.chain(spans.flatten().map(Length::millimetres)).collect()
    }

    // The report value is one: what stands in its JSON stands in the sections that page, print and workbook format. A
    // field added to the report and forgotten here turns this red.
    #[test]
    fn every_figure_of_the_report_is_carried() {
        let (takeoff, request) = takeoff();
        let report = TakeoffReport::new(&takeoff, &request);
        let carried = carried(&sections(&report));
        let mut all = Vec::new();
        figures("", &serde_json::to_value(&report).unwrap(), &mut all);
        assert!(all.len() > 80, "{}", all.len());
        // Not a quantity, or in the words of a row's sum.
        let spoken = [".schema", ".parts.size_in_file_units", ".zones.centre_m", ".zones.near_limit_area_m2"];
        for (path, value) in all.iter().filter(|(path, _)| !spoken.contains(&path.as_str())) {
            // Metres to millimetres, a share to percent.
            let is = |x: &f64| [1.0, 1000.0, 100.0].iter().any(|k| (x - value * k).abs() <= 1e-9 * x.abs());
            assert!(carried.iter().any(is), "{path} = {value} is in no section");
        }
    }

    #[test]
    fn the_page_carries_every_cell_and_sum_and_takes_names_for_data() {
        let (takeoff, request) = takeoff();
        let report = TakeoffReport::new(&takeoff, &request);
        let labels = Labels::of(&takeoff, &request.book.classes);
        let scene = Scene::of(&takeoff, &labels);
        let html = page::html(&report, &scene, &Stamp::default()).unwrap();
        let safe = |text: &str| {
            let text = text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
            text.replace('"', "&quot;").replace('\'', "&#39;")
        };
        for section in sections(&report) {
            assert!(html.contains(section.title) && section.words.iter().all(|words| html.contains(&safe(words))));
            for row in section.tables.iter().flat_map(|table| &table.rows) {
                let cells = row.cells.iter().flat_map(Value::text);
                for text in cells.chain([row.sum.clone(), row.mark.clone()]) {
                    assert!(html.contains(&safe(&text)), "{text}");
                }
            }
        }
        assert!(html.contains("&lt;img src=x onerror=alert(1)&gt;") && !html.contains("<img src=x"));
        assert_eq!(html, page::html(&report, &scene, &Stamp::default()).unwrap(), "the same bytes every time");
    }
}
