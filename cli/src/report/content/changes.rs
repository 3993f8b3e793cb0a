//! What changed since an older revision: the places, then every line that is not what it was.

use super::super::compare::{ChangeRow, CompareReport, Line};
use super::parts::metres;
use super::{Faces, Row, Section, Value};
use crate::figure::{FigureId, Unit};
use cragskin_geom::units::{Length, Volume};

/// Places listed.
const SHOWN: usize = 20;

pub(super) fn section(report: &CompareReport) -> Section {
    let from = format!("Against {}, by the same rules and the same book: {}.", report.old_file, report.words);
    let mut section = Section::new("changed", "What changed").say(from);
    section.words.extend(report.scope.iter().cloned());
    let places = report.changes.iter().take(SHOWN).enumerate().map(|(k, change)| place(change).faces(Faces::Change(k)));
    if report.changes.len() > SHOWN {
        section.words.push(format!("Of {} places the {SHOWN} largest are listed.", report.changes.len()));
    }
    let news = report.lines.iter().filter(|line| line.is_news()).map(line);
    section
        .table(&["place", "new", "gone", "out", "in", "from left", "from front", "from floor"], places.collect())
        .table(&["line", "was", "is", "difference"], news.collect())
}

fn place(change: &ChangeRow) -> Row {
    let span = |k: usize| Value::Span([change.from_m[k], change.to_m[k]].map(Length::from_metres));
    Row::new(vec![
        Value::words(change.number.to_string()),
        Value::m2(change.new_area_m2),
        Value::m2(change.old_area_m2),
        metres(change.outward_m),
        metres(change.inward_m),
        span(0),
        span(1),
        span(2),
    ])
}

fn line(line: &Line) -> Row {
    let cells = if line.old_packages.is_some() || line.new_packages.is_some() {
        [line.old_packages, line.new_packages, line.packages_difference]
            .map(|n| n.map_or(Value::NotDefined, |n| Value::Count(n as f64, line.id.unit())))
    } else {
        [line.old, line.new, line.difference].map(|x| x.map_or(Value::NotDefined, |x| figure(x, line.id)))
    };
    Row::new(std::iter::once(Value::words(format!("{}: {}", line.section, line.name))).chain(cells).collect())
}

/// A figure of a line: what is reckoned in its own unit, what is measured in a metric one.
pub(in crate::report) fn figure(value: f64, id: FigureId) -> Value {
    match id.unit() {
        unit if id.is_reckoned() => Value::reckoned(value, unit),
        Unit::In => Value::Length(Length::from_millimetres(value)),
        Unit::CuFt => Value::Volume(Volume::from_cubic_metres(value)),
        _ => Value::m2(value),
    }
}
