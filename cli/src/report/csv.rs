//! The takeoff as one flat table: section, name, value, unit, packages, sum, quality; and the sheets of the workbook as one.

use super::content::{Content, Row, Section};
use super::table::plain;
use super::takeoff::{ByClass, TakeoffReport};
use crate::failure::Failure;

/// Headings of the table.
const HEADINGS: [&str; 7] = ["section", "name", "value", "unit", "packages", "sum", "quality"];

/// The table as CSV (RFC 4180), numbers in full.
///
/// # Errors
/// None in practice: the table is written to memory.
pub fn takeoff(report: &TakeoffReport) -> Result<String, Failure> {
    table(&[vec![HEADINGS.map(str::to_owned)], rows(report)].concat())
}

/// The lines of the table, under [`HEADINGS`].
pub(crate) fn rows(report: &TakeoffReport) -> Vec<[String; 7]> {
    let mut rows = Vec::new();
    let mut row =
        |section: &str, name: &str, value: Option<f64>, unit: &str, packages: Option<u64>, sum: &str, quality: &str| {
            let value = value.map_or_else(String::new, number);
            let packages = packages.map_or_else(String::new, |n| n.to_string());
            rows.push([section.into(), text(name), value, unit.into(), packages, text(sum), text(quality)]);
        };
    let quality = &report.quality;
    row("area", "as modelled", Some(report.as_modelled_area_m2), "m2", None, "", quality.area);
    row("area", "coated", report.coated_area_m2, "m2", None, "", quality.area);
    row("area", "bare", report.bare_area_m2, "m2", None, "", quality.area);
    row("area", "left out", Some(report.left_out_area_m2), "m2", None, "", quality.area);
    row("area", "front elevation", report.projected_area_m2, "m2", None, "", quality.area);
    let class = report.area_by_class_m2.as_ref();
    let class = |of: fn(&ByClass) -> f64| class.map(of);
    for (name, area) in [
        ("top", class(|by| by.top)),
        ("slope", class(|by| by.slope)),
        ("wall", class(|by| by.wall)),
        ("undercut", class(|by| by.undercut)),
        ("soffit", class(|by| by.soffit)),
    ] {
        row("class", name, area, "m2", None, "", quality.lean);
    }
    for part in &report.parts {
        row(
            "part",
            &format!("{} {}", part.part.tag, part.part.name),
            part.coated_area_m2,
            "m2",
            None,
            "",
            quality.area,
        );
    }
    row("skin", "applied thickness", Some(report.skin_mm), "mm", None, &report.skin_sum, "good");
    row("skin", "volume", report.skin_volume_m3, "m3", None, "", quality.skin_volume);
    row("skin", "volume known to", report.skin_volume_bound_m3, "m3", None, "", quality.skin_volume);
    row("skin", "area x thickness", report.area_times_skin_m3, "m3", None, "", quality.area);
    row("core", "volume", report.core_volume_m3, "m3", None, "", quality.core_volume);
    for (section, lines) in [("order", &report.order), ("weight", &report.weights)] {
        for line in lines {
            row(section, &line.item, line.exact, &line.unit, line.packages, &line.sum, &line.quality);
        }
    }
    row("steep", "under lath", report.lath_area_m2, "m2", None, "", quality.lean);
    row("steep", "two lifts or more", report.two_lift_area_m2, "m2", None, "", quality.lean);
    rows
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

/// The cells of a row but the first, which names it; what is noted beside the row stands on the first line.
fn cells<'a>(section: &'a Section, head: &'a [&str], row: &'a Row) -> impl Iterator<Item = [String; 9]> + 'a {
    let name = row.cells.first().map_or_else(String::new, |name| name.text()[0].clone());
    let notes: Vec<&str> =
        [&row.mark, &row.sum].into_iter().map(String::as_str).filter(|note| !note.is_empty()).collect();
    let filled = row.cells.iter().zip(head).enumerate().skip(1).filter(|(_, (value, _))| !value.text()[0].is_empty());
    filled.map(move |(k, (value, head))| {
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
    })
}

/// Rows as CSV.
pub(crate) fn table<const N: usize>(rows: &[[String; N]]) -> Result<String, Failure> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let failed = |error: &dyn std::fmt::Display| Failure::new(format!("the CSV cannot be written: {error}"));
    rows.iter().try_for_each(|row| writer.write_record(row)).map_err(|error| failed(&error))?;
    let bytes = writer.into_inner().map_err(|error| failed(&error))?;
    String::from_utf8(bytes).map_err(|error| failed(&error))
}

/// A number to fifteen figures, as spreadsheets keep them, without the noise of binary fractions: 72, not 72.00000000000001.
#[must_use]
pub(crate) fn number(value: f64) -> String {
    format!("{value:.14e}").parse().unwrap_or(value).to_string()
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
    use super::text;

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
