//! The takeoff as one flat table: section, name, value, unit, packages, sum, quality; and the sheets of the workbook as one.

use super::content::{Content, Row, Section, Value};
use super::table::plain;
use super::takeoff::{ByClass, OrderRow, ScopedPart, TakeoffReport};
use crate::book::Class;
use crate::failure::Failure;
use crate::figure::FigureId;
use std::borrow::Cow;

/// Headings of the table.
const HEADINGS: [&str; 7] = ["section", "name", "value", "unit", "packages", "sum", "quality"];

/// A line of the table.
pub(crate) struct Line<'a> {
    /// Which figure it is.
    pub(crate) id: FigureId,
    /// What it is called.
    pub(crate) name: Cow<'a, str>,
    /// In `unit`, none if it is not defined.
    pub(crate) value: Option<f64>,
    /// Whole packages, where it is bought by the piece.
    pub(crate) packages: Option<u64>,
    sum: &'a str,
    quality: Cow<'a, str>,
}

impl Line<'_> {
    /// The unit of the value: what is reckoned has the unit of its sum, what is measured is metric.
    pub(crate) const fn unit(&self) -> &'static str {
        if self.id.is_reckoned() { self.id.unit().word() } else { self.id.unit().metric() }
    }
}

/// The table as CSV (RFC 4180), numbers in full.
///
/// # Errors
/// None in practice: the table is written to memory.
pub fn takeoff(report: &TakeoffReport) -> Result<String, Failure> {
    let row = |line: Line<'_>| {
        let value = line.value.map_or_else(String::new, number);
        let packages = line.packages.map_or_else(String::new, |n| n.to_string());
        let (section, unit) = (line.id.row().section.word().to_owned(), line.unit().to_owned());
        [section, text(&line.name), value, unit, packages, text(line.sum), text(&line.quality)]
    };
    let rows = lines(report).into_iter().map(row);
    table(&std::iter::once(HEADINGS.map(str::to_owned)).chain(rows).collect::<Vec<_>>())
}

fn reckoned(row: &OrderRow) -> Line<'_> {
    let OrderRow { id, item, exact, packages, unit: _, sum, note: _, quality } = row;
    let quality = Cow::Owned(quality.to_string());
    Line { id: *id, name: Cow::Borrowed(item), value: *exact, packages: *packages, sum, quality }
}

/// The lines of the table, under [`HEADINGS`].
pub(crate) fn lines(report: &TakeoffReport) -> Vec<Line<'_>> {
    let quality = &report.quality;
    let measured = |id: FigureId, value: Option<f64>, quality: &'static str| {
        let (name, quality) = (Cow::Borrowed(id.row().name), Cow::Borrowed(quality));
        Line { id, name, value, packages: None, sum: "", quality }
    };
    let class = |class: Class, of: fn(&ByClass) -> f64| {
        measured(FigureId::ClassArea(class), report.area_by_class_m2.as_ref().map(of), quality.lean)
    };
    let part = |row: &ScopedPart| {
        let name = Cow::Owned(format!("{} {}", row.part.tag, row.part.name));
        Line { name, ..measured(FigureId::PartArea, row.coated_area_m2, quality.area) }
    };
    let mut lines = vec![
        measured(FigureId::AsModelledArea, Some(report.as_modelled_area_m2), quality.area),
        measured(FigureId::CoatedArea, report.coated_area_m2, quality.area),
        measured(FigureId::BareArea, report.bare_area_m2, quality.area),
        measured(FigureId::LeftOutArea, Some(report.left_out_area_m2), quality.area),
        measured(FigureId::ElevationArea, report.projected_area_m2, quality.area),
        class(Class::Top, |by| by.top),
        class(Class::Slope, |by| by.slope),
        class(Class::Wall, |by| by.wall),
        class(Class::Undercut, |by| by.undercut),
        class(Class::Soffit, |by| by.soffit),
    ];
    lines.extend(report.parts.iter().map(part));
    lines.extend([
        Line { sum: &report.skin_sum, ..measured(FigureId::AppliedThickness, Some(report.skin_mm), "good") },
        measured(FigureId::SkinVolume, report.skin_volume_m3, quality.skin_volume),
        measured(FigureId::SkinBound, report.skin_volume_bound_m3, quality.skin_volume),
        measured(FigureId::AreaTimesSkin, report.area_times_skin_m3, quality.area),
        measured(FigureId::CoreVolume, report.core_volume_m3, quality.core_volume),
    ]);
    lines.extend(report.order.iter().chain(&report.weights).map(reckoned));
    lines.extend([
        measured(FigureId::LathArea, report.lath_area_m2, quality.lean),
        measured(FigureId::TwoLiftArea, report.two_lift_area_m2, quality.lean),
    ]);
    lines
}

/// Headings of the sheets' table.
const SHEETS: [&str; 9] = ["section", "row", "column", "us", "us_unit", "metric", "metric_unit", "words", "note"];

/// All sheets of the workbook, a line for each cell: numbers in full in US and metric units, or words.
///
/// # Errors
/// None in practice: the table is written to memory.
pub fn content(content: &Content<'_>) -> Result<String, Failure> {
    let mut lines = vec![SHEETS.map(str::to_owned)];
    for section in &content.sections {
        for words in &section.words {
            let mut line = [(); 9].map(|()| String::new());
            (line[0], line[7]) = (section.title.to_owned(), text(words));
            lines.push(line);
        }
        for table in &section.tables {
            lines.extend(table.rows.iter().flat_map(|row| cells(section, &table.head, row)));
        }
    }
    table(&lines)
}

/// The cells of a row but the first, which names it, or that one alone; what is noted beside the row stands on the first line.
fn cells(section: &Section, head: &[&str], row: &Row) -> Vec<[String; 9]> {
    let name = row.cells.first().map_or_else(String::new, |name| name.text()[0].clone());
    let notes: Vec<&str> =
        [&row.mark, &row.sum].into_iter().map(String::as_str).filter(|note| !note.is_empty()).collect();
    let filled = row.cells.iter().zip(head).enumerate().skip(1).filter(|(_, (value, _))| !value.text()[0].is_empty());
    let line = |(k, (value, head)): (usize, (&Value, &&str))| {
        let (figures, words) = match value.numbers() {
            Some(pair) => (pair.map(|(value, unit)| [number(value), unit.to_owned()]), String::new()),
            None => {
                let [us, metric] = value.text();
                (Default::default(), if us == metric { us } else { format!("{us} ({metric})") })
            }
        };
        let [[us, us_unit], [metric, metric_unit]] = figures;
        let note = if k == 1 { notes.join("; ") } else { String::new() };
        let [row, words, note] = [&name, &words, &note].map(|words| text(words));
        [section.title.to_owned(), row, (*head).to_owned(), us, us_unit, metric, metric_unit, words, note]
    };
    let lines: Vec<_> = filled.map(line).collect();
    if !lines.is_empty() {
        return lines;
    }
    let mut alone = [(); 9].map(|()| String::new());
    (alone[0], alone[1], alone[8]) = (section.title.to_owned(), text(&name), text(&notes.join("; ")));
    vec![alone]
}

/// Rows as CSV.
pub(crate) fn table(rows: &[impl AsRef<[String]>]) -> Result<String, Failure> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let failed = |error: &dyn std::fmt::Display| Failure::new(format!("the CSV cannot be written: {error}"));
    rows.iter().try_for_each(|row| writer.write_record(row.as_ref())).map_err(|error| failed(&error))?;
    let bytes = writer.into_inner().map_err(|error| failed(&error))?;
    String::from_utf8(bytes).map_err(|error| failed(&error))
}

/// A number to fifteen figures, as spreadsheets keep them, without the noise of binary fractions: 72, not 72.00000000000001.
#[must_use]
pub(crate) fn number(value: f64) -> String {
    to_fifteen(value).to_string()
}

/// A number rounded to fifteen figures.
pub(crate) fn to_fifteen(value: f64) -> f64 {
    format!("{value:.14e}").parse().unwrap_or(value)
}

/// Text that a spreadsheet will not take for a formula.
pub(crate) fn text(words: &str) -> String {
    let words = plain(words);
    let is_formula = words.starts_with(['=', '+', '-', '@']) && !words.split(", ").all(is_axis_or_dash);
    if is_formula { format!("'{words}") } else { words }
}

/// `-` and `+Z`, which we write ourselves: no formula comes of them.
fn is_axis_or_dash(word: &str) -> bool {
    matches!(word, "-" | "+X" | "-X" | "+Y" | "-Y" | "+Z" | "-Z")
}

#[cfg(test)]
mod tests {
    use super::{cells, text};
    use crate::report::content::{Row, Section, Value};

    /// By hand: what is noted beside a row stands on its first line, also of one that is words alone.
    #[test]
    fn what_is_noted_beside_a_row_is_kept() {
        let section = Section { key: "floor", title: "Floor", words: Vec::new(), tables: Vec::new() };
        let [mark, sum] = ["upper bound".to_owned(), "2 x 3".to_owned()];
        let of = |cells: Vec<Value>| Row { cells, mark: mark.clone(), sum: sum.clone(), faces: None };
        let named = |words: &[&str]| of(words.iter().map(|words| Value::Words((*words).to_owned())).collect());
        let head = ["what", "first", "second"];
        let notes = |row: &Row| cells(&section, &head, row).into_iter().map(|line| line[8].clone()).collect::<Vec<_>>();
        assert_eq!(notes(&named(&["load", "a", "b"])), ["upper bound; 2 x 3", ""]);
        assert_eq!(notes(&named(&["load"])), ["upper bound; 2 x 3"]);
    }

    #[test]
    fn axis_words_and_dashes_are_ours_and_names_of_files_are_guarded() {
        for ours in ["-", "+Z, -Y", "-X", "12 ft"] {
            assert_eq!(text(ours), ours);
        }
        for name in ["=1+1", "+Z+A1", "-Y, =cmd", "@SUM(A1)", "--"] {
            assert_eq!(text(name), format!("'{name}"));
        }
    }
}
