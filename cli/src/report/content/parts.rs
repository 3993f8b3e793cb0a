//! The sections, one function each.

use super::super::shared::{Kind, doubt};
use super::super::takeoff::{ByClass, OrderRow, TakeoffReport, are, turned_words};
use super::super::zones::{WORTH_SAYING, ZoneRow};
use super::{Faces, Row, Section, Value};
use crate::book::Class;
use crate::figure::{FigureId, State, Unit};
use crate::quantities::Grade;
use cragskin_geom::units::{Area, Length, Mass, MassPerArea, Volume};

/// An area, where it is defined.
pub(super) fn m2_or_none(m2: Option<f64>) -> Value {
    m2.map_or(Value::NotDefined, Value::m2)
}

pub(super) fn trust(report: &TakeoffReport) -> Section {
    let rows = report.quality.rows().map(|(name, grade, why)| {
        Row::new(vec![Value::words(name), Value::words(grade), Value::words(if why.is_empty() { "-" } else { why })])
    });
    Section::new("trust", "How far the numbers can be trusted").table(&["number", "is", "because"], rows.to_vec())
}

pub(super) fn sent(report: &TakeoffReport) -> Section {
    let [width, depth, height] = report.size_m;
    let mut rows = vec![
        Row::named("file", Value::words(&report.file)),
        Row::named("width", metres(width)),
        Row::named("depth", metres(depth)),
        Row::named("height", metres(height)),
        Row::named("finished width", metres(report.finished_size_m[0])),
        Row::named("finished depth", metres(report.finished_size_m[1])),
        Row::named("finished height", metres(report.finished_size_m[2])),
        Row::named("triangles", Value::Count(report.triangles as f64, Unit::One)),
        Row::named("drawn in", Value::words(report.units)),
        Row::named("up, visitors stand at", Value::words(format!("{}, {}", report.up, report.front))),
        Row::named("face drawn", Value::words(&report.face)),
        Row::named("material book", Value::words(&report.book)),
    ];
    if !report.book_defaults_used.is_empty() {
        let keys = &report.book_defaults_used;
        let row = Row::named("values not in that book", Value::words(format!("{} from the default book", keys.len())));
        rows.push(row.sum(keys.join(", ")));
    }
    let mut section = Section::new("sent", "What we were sent").say(report.face_words());
    section.words.extend(report.notes.iter().cloned());
    section.table(&["", ""], rows)
}

pub(super) fn coat(report: &TakeoffReport) -> Section {
    let mark = report.quality.doubt(Kind::Area);
    let mut rows = vec![
        Row::named("as modelled", Value::m2(report.as_modelled_area_m2)),
        Row::named("coated", m2_or_none(report.coated_area_m2)).mark(mark).faces(Faces::Coated),
    ];
    if !report.open_sides.is_empty() {
        let sides: Vec<&str> = report.open_sides.iter().map(|open| open.side).collect();
        rows.push(Row::named(
            format!("coated, if the {} stays bare", sides.join(" and the ")),
            m2_or_none(report.coated_area_if_open_sides_bare_m2),
        ));
    }
    if !report.proposed.is_empty() {
        let row = format!("coated, if {} left out", are(&report.proposed));
        rows.push(Row::named(row, m2_or_none(report.coated_area_if_left_out_m2)));
    }
    rows.push(Row::named("bare", m2_or_none(report.bare_area_m2)).faces(Faces::Bare));
    rows.push(Row::named("left out (not ours)", Value::m2(report.left_out_area_m2)));
    rows.push(Row::named("drawn twice in one place, counted once", Value::m2(report.drawn_again_area_m2)));
    rows.push(Row::named("in the open, coated or bare", Value::m2(report.exposed_area_m2)));
    rows.push(Row::named("inside another body, not coated", Value::m2(report.buried_area_m2)));
    rows.push(Row::named("in one plane with another body, counted there", Value::m2(report.flush_area_m2)));
    rows.push(Row::named("against another body, both sides", Value::m2(2.0 * report.glue_area_m2)));
    rows.push(Row::named("hidden by closing it as asked, not coated", Value::m2(report.hidden_area_m2)));
    rows.push(Row::named("front elevation of the coated faces", m2_or_none(report.projected_area_m2)));
    rows.push(
        Row::named("flat contact with the floor", m2_or_none(report.footprint_m2))
            .mark(report.footprint_reason.as_deref().unwrap_or_default()),
    );
    if let Some(area) = report.footprint_hull_m2 {
        rows.push(Row::named("convex hull of that contact", Value::m2(area)));
    }
    let rules = report.scope.iter().map(|rule| {
        let nothing = if rule.triangles == 0 {
            "finds nothing in this model".to_owned()
        } else {
            turned_words(rule.turned_deg).trim_start_matches(", ").to_owned()
        };
        let faces = Value::Count(rule.triangles as f64, Unit::One);
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
            m2_or_none(row.coated_area_m2),
            Value::Count(part.triangles as f64, Unit::One),
            Value::words(part.size_in_file_units.map(|s| format!("{s:.2}")).join(" x ")),
        ])
        .faces(Faces::Part(k))
    });
    let mut section = Section::new("coat", "What we coat").table(&["area", ""], rows);
    for open in &report.open_sides {
        section.words.push(open.question());
    }
    section
        .table(
            &["open side", "area"],
            report.open_sides.iter().map(|o| Row::named(o.side, Value::m2(o.area_m2))).collect(),
        )
        .table(&["rule", "is", "area", "triangles"], rules.collect())
        .table(&["part", "name", "material", "area", "coated", "triangles", "size in file units"], parts.collect())
}

pub(super) fn steep(report: &TakeoffReport) -> Section {
    let by = report.area_by_class_m2.as_ref();
    let limit = |k: usize| report.near_limit_area_m2[k].limit_deg;
    let ends = [0.0, limit(0), limit(1), limit(2), limit(3), 180.0];
    let whole = report.coated_area_m2.unwrap_or_default();
    let of: [fn(&ByClass) -> f64; 5] = [|by| by.top, |by| by.slope, |by| by.wall, |by| by.undercut, |by| by.soffit];
    let classes = of.map(|of| by.map(of));
    let rows = classes.iter().zip(Class::ALL).enumerate().map(|(k, (m2, class))| {
        Row::new(vec![
            Value::words(class.name()),
            Value::words(format!("{} to {} deg", ends[k], ends[k + 1])),
            m2_or_none(*m2),
            m2.map_or(Value::NotDefined, |m2| Value::Share(if whole > 0.0 { m2 / whole } else { 0.0 })),
        ])
        .faces(Faces::Class(class))
    });
    let near = report.near_limit_area_m2.iter().map(|near| {
        let limit = format!("{} / {}", near.below, near.above);
        Row::new(vec![Value::words(limit), Value::Degrees(near.limit_deg), m2_or_none(near.area_m2)])
    });
    let changed = report.changed_by_smoothing_m2.into_iter();
    let changed =
        changed.map(|m2| Row::named("changes class at lath scale, face by face against joined", Value::m2(m2)));
    Section::new("steep", "Where it is steep")
        .say("Coated area by lean, face by face: 0 deg faces up, 90 is plumb, 180 faces down.")
        .say(
            "Zones take their class by lean averaged at lath scale, so their areas differ from those of the classes; lath and lifts \
             follow the zones. High is along the surface, wide is on average: area / high. Tape a zone by where it begins and ends.",
        )
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

fn tape(metres: f64) -> Value {
    Value::Tape(Length::from_metres(metres))
}

pub(super) fn metres(metres: f64) -> Value {
    Value::Length(Length::from_metres(metres))
}

fn zone_place(zone: &ZoneRow) -> Option<Row> {
    let span = |from, to| Value::Span([from, to].map(Length::from_metres));
    let [x, y, z] = zone.centre_m.map(|m| Length::from_metres(m).to_string());
    let near = Area::from_square_metres(zone.near_limit_area_m2);
    let row = Row::new(vec![
        Value::words(&zone.letter),
        Value::m2(zone.area_m2),
        tape(zone.height_m),
        tape(zone.width_m),
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
    let sheets = |n: Option<f64>| n.map_or(Value::NotDefined, |n| Value::Count(n, Unit::Sheet));
    let whole = zone.lath_sheets? as f64;
    let strips = if zone.cut_to_strips { "curved both ways: cut to strips" } else { "" };
    let row = Row::new(vec![
        Value::words(&zone.letter),
        Value::m2(zone.area_m2),
        Value::Count(whole, Unit::Sheet),
        sheets(zone.lath_sheets_by_area),
        sheets(zone.lath_sheets_by_laying),
        Value::Count(zone.fixings as f64, Unit::Each),
    ]);
    Some(row.mark(strips))
}

/// Two lifts or more on more than a speck.
pub(super) fn two_lifts(zone: &ZoneRow) -> bool {
    zone.lifts >= 2 && Area::from_square_metres(zone.two_lift_area_m2) > WORTH_SAYING
}

fn zone_lifts(zone: &ZoneRow) -> Option<Row> {
    let at_limit = Area::from_square_metres(zone.at_limit_area_m2) > WORTH_SAYING;
    let mark = match (two_lifts(zone), at_limit) {
        (true, _) => "two lifts or more",
        (false, true) => "at limit",
        (false, false) => "",
    };
    let lifts = |n: u32| Value::Count(f64::from(n), Unit::Lift);
    let row = Row::new(vec![
        Value::words(&zone.letter),
        if two_lifts(zone) { lifts(zone.lifts) } else { lifts(1) },
        Value::m2(zone.two_lift_area_m2),
        Value::m2(zone.at_limit_area_m2),
        Value::Degrees(zone.lean_worst_deg),
        zone.reach_m.map_or_else(|| Value::words("-"), tape),
    ]);
    Some(row.mark(mark))
}

pub(super) fn lath(report: &TakeoffReport) -> Section {
    let mut section = Section::new("lath", "Where lath goes")
        .say("Zones are joined patches of one class, lettered as painted on the foam: T top, S slope, W wall, U undercut, F soffit. Their places are under Where it is steep.")
        .say("A wall too small or too low for the book's limits takes none. Sheets of a zone are rounded up for that zone alone; offcuts move on, so the order is less than their sum.")
        .table(&["zone", "area", "sheets", "by area", "laid out", "fixings"], zones(report, zone_lath))
        .table(&["", ""], vec![Row::named("area under lath", m2_or_none(report.lath_area_m2))]);
    if report.zones.iter().all(|zone| zone.lath_sheets.is_none()) {
        section = section.say("No zone takes lath by the book's rules.");
    }
    section.tables.extend(order("", "", &picked(&report.order, &[FigureId::Lath, FigureId::LathFixings])).tables);
    section
}

pub(super) fn foam(report: &TakeoffReport) -> Section {
    let primed = report.row(FigureId::Primer).map_or("", |row| doubt(&row.quality));
    let volume = |m3: Option<f64>| m3.map_or(Value::NotDefined, cubic);
    let mut rows = vec![
        Row::named("core", volume(report.core_volume_m3)).mark(report.quality.doubt(Kind::CoreVolume)),
        Row::named("coated face of the core", m2_or_none(report.core_area_m2)).mark(primed),
        Row::named("all bodies together, counted once", volume(report.union_volume_m3)),
        Row::named("sum of the bodies", volume(report.sum_of_parts_volume_m3)),
        Row::named("to glue, one side of every contact", Value::m2(report.glue_area_m2)),
    ];
    if let (Some(fill), Some(bound)) = (report.crevice_fill_m3, report.crevice_fill_bound_m3) {
        rows.push(Row::named("mix that fills crevices", cubic(fill)));
        rows.push(Row::named("known to within", cubic(bound)));
    }
    let places = report.no_foam.iter().flatten().map(|place| {
        let [left, back, up] = place.at_m.map(tape);
        Row::new(vec![Value::words(place.kind), tape(place.length_m), cubic(place.volume_m3), left, back, up])
    });
    let places: Vec<Row> = places.collect();
    let unlooked = report.no_foam_reason.iter().map(|why| format!("Places without foam were not looked for: {why}."));
    let twice = report.counted_twice.iter().map(|shared| {
        let [a, b] = &shared.parts;
        Row::new(vec![Value::words(format!("{a} and {b}")), Value::words(shared.how), cubic(shared.volume_m3)])
    });
    let mut section = Section::new("foam", "Foam")
        .table(&["", ""], rows)
        .table(&["no foam, or little", "long", "volume", "from left", "back", "up"], places)
        .table(&["counted twice in the sum", "how", "volume"], twice.collect());
    section.words.extend(unlooked);
    section.tables.extend(order("", "", &picked(&report.order, &[FigureId::Foam])).tables);
    section
}

fn picked(rows: &[OrderRow], ids: &[FigureId]) -> Vec<OrderRow> {
    rows.iter().filter(|row| ids.contains(&row.id)).cloned().collect()
}

fn cubic(m3: f64) -> Value {
    Value::Volume(Volume::from_cubic_metres(m3))
}

pub(super) fn thick(report: &TakeoffReport) -> Section {
    let mm = |mm: f64| Value::Length(Length::from_millimetres(mm));
    let volume = |m3: Option<f64>| m3.map_or(Value::NotDefined, cubic);
    let mark = report.quality.doubt(Kind::SkinVolume);
    let unknown = report.quality.unknown_skin();
    let mut rows = vec![
        Row::named("applied", mm(report.skin_mm)).sum(&report.skin_sum),
        Row::named("left after carving where the hand was low (one pin in twenty)", mm(report.cover_at_low_pins_mm)),
        Row::named("area x thickness", volume(report.area_times_skin_m3)),
        Row::named("with corners and hollows", volume(report.skin_volume_m3)).mark(mark),
        Row::named("known to within", volume(report.skin_volume_bound_m3)),
    ];
    rows.push(Row::named("found by", Value::words(report.skin_by)));
    if let Some(open) = &report.open_skin {
        rows.push(Row::named("open sheets, from spots on the surface", cubic(open.by_feet_m3)));
        rows.push(Row::named("from spots, known to within", cubic(open.by_feet_bound_m3)));
        rows.push(Row::named("spots asked about", Value::Count(open.feet as f64, Unit::One)));
        rows.push(Row::named("open sheets, from points in space", cubic(open.by_points_m3)));
        rows.push(Row::named("from points, known to within", cubic(open.by_points_bound_m3)));
        rows.push(Row::named("points asked about", Value::Count(open.points as f64, Unit::One)));
        rows.push(Row::named("rounding over at open rims would add", cubic(open.rim_round_m3)));
    }
    if let Some(area) = report.skin_outer_area_m2 {
        rows.push(Row::named("far side of the skin", Value::m2(area)).mark(unknown));
    }
    if let Some(area) = report.skin_scale_area_m2 {
        let name =
            if report.skin_scale_by == "closing" { "area at skin scale" } else { "area half way through the skin" };
        rows.push(Row::named(name, Value::m2(area)).mark(unknown));
    }
    if let Some(ratio) = report.texture_ratio {
        rows.push(Row::named("coated area over that (texture)", Value::Count(ratio, Unit::One)).mark(unknown));
    }
    rows.extend(report.two_lift_area_m2.map(|m2| Row::named("takes two lifts or more", Value::m2(m2))));
    Section::new("thick", "How thick and how many lifts").table(&["", ""], rows).table(
        &["zone", "most lifts", "two or more on", "at limit on", "worst lean", "reach"],
        zones(report, zone_lifts),
    )
}

pub(super) fn order(key: &'static str, title: &'static str, rows: &[OrderRow]) -> Section {
    let packed = rows.iter().any(|row| row.packages.is_some());
    let rows = rows.iter().map(|row| {
        let exact = row.exact.map_or(Value::NotDefined, |exact| Value::reckoned(exact, row.id.unit()));
        let buy = row.packages.map_or_else(|| exact.clone(), |n| Value::Count(n as f64, row.id.unit()));
        let mark = if row.quality.grade == Grade::Good { String::new() } else { row.quality.to_string() };
        let mut cells = vec![Value::words(row.item), buy];
        if packed {
            cells.push(if row.packages.is_some() { exact } else { Value::words("") });
        }
        Row::new(cells).mark(mark).sum(&row.sum)
    });
    let head = ["item", "amount", "exact"];
    Section::new(key, title).table(&head[..if packed { 3 } else { 2 }], rows.collect())
}

pub(super) fn stands(report: &TakeoffReport) -> Section {
    let load = report.row(FigureId::FloorLoad(State::Wet)).map_or("", |row| doubt(&row.quality));
    let feet = (1..).zip(&report.feet).map(|(k, foot)| {
        Row::new(vec![
            Value::words(format!("foot {k}")),
            Value::m2(foot.area_m2),
            tape(foot.x_m),
            tape(foot.y_m),
            tape(foot.width_m),
            tape(foot.depth_m),
            foot.wet_mass_kg.map_or(Value::NotDefined, |kg| Value::Mass(Mass::from_kilograms(kg))),
            foot.wet_load_kg_per_m2.map_or(Value::NotDefined, |load| Value::Load(MassPerArea::from_kg_per_m2(load))),
        ])
        .mark(load)
    });
    let mut section = Section::new("stands", "What it stands on");
    if report.feet.len() > 1 {
        section = section.say(
            "Feet share the weight by statics: each at its middle, two by the lever, three by their moments, more as under a rigid piece.",
        );
    }
    section.table(
        &["stands on", "area", "middle from left", "from front", "wide", "deep", "carries when wet", "load"],
        feet.collect(),
    )
}

pub(super) fn unknown(report: &TakeoffReport) -> Section {
    let mut section = Section::new("unknown", "What we do not know");
    for [name, why] in &report.quality.reasons {
        section.words.push(format!("{name}: {why}"));
    }
    for open in &report.open_sides {
        section.words.push(format!("Is the {} coated or bare?", open.side));
    }
    for name in &report.proposed {
        section.words.push(format!("Is {name} ours?"));
    }
    // The lines of a rule stand in rows of their own, to be copied as they are.
    let line = |line: &String| Row::new(vec![Value::words(line), Value::words("")]);
    let found = report.findings.iter().flat_map(|found| {
        let words = Row::new(vec![Value::words(&found.text), Value::Count(found.count as f64, Unit::One)]);
        std::iter::once(words).chain(found.rule.iter().map(line))
    });
    section = section.table(&["found", "how many"], found.collect());
    if section.words.is_empty() && section.tables.is_empty() {
        section = section.say("Nothing that touches the numbers was found.");
    }
    let limits = report.limits.iter().map(|limit| {
        Row::new([limit.rule.clone(), limit.measured_words(), limit.shown().to_owned()].map(Value::words).into())
    });
    section.table(&["limit set for this job", "measured", "is"], limits.collect())
}

pub(super) fn cautions(report: &TakeoffReport) -> Section {
    report.cautions.iter().fold(Section::new("cautions", "Cautions"), |section, caution| section.say(caution))
}
