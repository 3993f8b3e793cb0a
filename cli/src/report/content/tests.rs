use super::*;
use crate::args::PaperSize;
use crate::book::Book;
use crate::figure::Section as Part;
use crate::job::{Face, Scope};
use crate::load::{Loaded, PlacingWords};
use crate::report::page::{self, Stamp};
use crate::report::picture::{Labels, Scene};
use crate::report::{csv, pdf, xlsx};
use crate::request::Request;
use crate::takeoff::Takeoff;
use cragskin_geom::display::Display;
use cragskin_geom::drawing::Drawing;
use cragskin_geom::intake;
use cragskin_geom::units::ModelUnit;
use std::io::Read;
use std::path::PathBuf;
use std::sync::LazyLock;

/// Two blocks of 5 x 4 x 3 ft that overlap by a foot, the second one's name an attack on a page.
const BLOCKS: &str = "o rock\nv 0 0 0\nv 60 0 0\nv 60 48 0\nv 0 48 0\nv 0 0 36\nv 60 0 36\nv 60 48 36\nv 0 48 36\n\
    f 1 4 3 2\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\no <img src=x onerror=alert(1)>\n\
    v 48 6 0\nv 108 6 0\nv 108 54 0\nv 48 54 0\nv 48 6 30\nv 108 6 30\nv 108 54 30\nv 48 54 30\n\
    f 9 12 11 10\nf 13 14 15 16\nf 9 10 14 13\nf 10 11 15 14\nf 11 12 16 15\nf 12 9 13 16\n";

/// Measured once for all tests.
fn takeoff() -> &'static (Takeoff, Request) {
    static BLOCKS_MEASURED: LazyLock<(Takeoff, Request)> = LazyLock::new(|| takeoff_of(BLOCKS));
    &BLOCKS_MEASURED
}

/// Of an OBJ drawn in inches, by the default book.
fn takeoff_of(model: &str) -> (Takeoff, Request) {
    let request = Request {
        reads: Vec::new(),
        name: "two blocks".to_owned(),
        model: PathBuf::new(),
        placing: PlacingWords { unit: Some(ModelUnit::Inch), ..PlacingWords::default() },
        face: Face::Finished,
        skin: None,
        close: None,
        sheets: crate::job::Sheets::Ask,
        accuracy: cragskin_geom::skin::Accuracy::USUAL,
        scope: Scope::default(),
        limits: Vec::new(),
        book_name: "the default book".to_owned(),
        book: Book::built_in().unwrap(),
        store: crate::store::Store::default(),
    };
    let drawing = Drawing::from_soup(intake::read(model.as_bytes(), None).unwrap()).unwrap();
    let takeoff = Takeoff::new(Loaded { name: "blocks.obj".to_owned(), drawing }, &request).unwrap();
    (takeoff, request)
}

fn every_face(takeoff: &Takeoff) -> Vec<u32> {
    (0..takeoff.scoped.states.len() as u32).collect()
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

/// What a number is a number of. Figures and cells are compared in SI and within one kind only.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Count,
    Degrees,
    Share,
    Length,
    Area,
    Volume,
    Mass,
    Load,
}

impl Kind {
    /// Of a field of the report, by the unit in its name, with the factor to SI.
    fn of_field(path: &str) -> (Self, f64) {
        // `area_by_class_m2.wall`: the unit stands in the name of the group.
        let name = path.strip_suffix(".wall").or(path.strip_suffix(".top")).or(path.strip_suffix(".slope"));
        let name = name.or(path.strip_suffix(".undercut")).or(path.strip_suffix(".soffit")).unwrap_or(path);
        let units = [
            ("_kg_per_m2", Self::Load, 1.0),
            ("_m3", Self::Volume, 1.0),
            ("_m2", Self::Area, 1.0),
            ("_kg", Self::Mass, 1.0),
            ("_deg", Self::Degrees, 1.0),
            ("_mm", Self::Length, 1e-3),
            ("_m", Self::Length, 1.0),
        ];
        units.into_iter().find(|unit| name.ends_with(unit.0)).map_or((Self::Count, 1.0), |unit| (unit.1, unit.2))
    }

    /// Of a cell: what it is, and its numbers in SI.
    fn of_cell(value: &Value) -> Vec<(Self, f64)> {
        let one = |kind, number| vec![(kind, number)];
        match value {
            Value::Words(_) | Value::NotDefined => Vec::new(),
            Value::Count(n, _) => one(Self::Count, *n),
            Value::Degrees(degrees) => one(Self::Degrees, *degrees),
            Value::Share(share) => one(Self::Share, *share),
            Value::Length(length) | Value::Tape(length) => one(Self::Length, length.metres()),
            Value::Span(ends) => ends.iter().map(|end| (Self::Length, end.metres())).collect(),
            Value::Area(area) => one(Self::Area, area.square_metres()),
            Value::Volume(volume) | Value::Liquid(volume) => one(Self::Volume, volume.cubic_metres()),
            Value::Mass(mass) => one(Self::Mass, mass.kilograms()),
            Value::Load(load) => one(Self::Load, load.kg_per_m2()),
        }
    }
}

/// [`BLOCKS`] with every coordinate stretched by itself: the faces stay flat, and hardly two sizes are the same.
fn uneven_blocks() -> String {
    let stretched = |x: &str| x.parse::<f64>().map(|x| format!("{:.4}", x * (1.0 + 0.003 * x))).unwrap();
    let line = |line: &str| match line.strip_prefix("v ") {
        Some(point) => format!("v {}\n", point.split(' ').map(stretched).collect::<Vec<_>>().join(" ")),
        None => format!("{line}\n"),
    };
    BLOCKS.lines().map(line).collect()
}

// The report value is one: what stands in its JSON stands in the sections that page, print, workbook and table format. A
// field added to the report and forgotten here turns this red: every field has a cell of its own kind and value to itself, so that
// one cell does not answer for two fields that are equal by chance.
#[test]
fn every_figure_of_the_report_is_carried() {
    let (takeoff, request) = takeoff_of(&uneven_blocks());
    let report = TakeoffReport::new(&takeoff, &request);
    let content = Content::new(&report, None);
    let rows = content.sections.iter().flat_map(|s| &s.tables).flat_map(|t| &t.rows);
    let cells: Vec<(Kind, f64)> = rows.flat_map(|row| &row.cells).flat_map(Kind::of_cell).collect();
    let mut all = Vec::new();
    figures("", &serde_json::to_value(&report).unwrap(), &mut all);
    assert!(all.len() > 80, "{}", all.len());
    // Not a quantity, or in the words of a row's sum. Areas by lifts are told by the text alone: the page has the most lifts, and the
    // area of two or more.
    let spoken = [
        ".schema",
        ".parts.size_in_file_units",
        ".zones.centre_m",
        ".zones.near_limit_area_m2",
        ".zones.lift_areas.lifts",
        ".zones.lift_areas.area_m2",
    ];
    // Their unit stands in another field.
    let of_lines = [".order.exact", ".weights.exact"];
    let fields = all.iter().filter(|(path, _)| !spoken.contains(&path.as_str()) && !of_lines.contains(&path.as_str()));
    let mut wanted: Vec<(&str, (Kind, f64))> = Vec::new();
    // A zone that takes no lath has no row for fixings.
    for (path, value) in fields.filter(|(path, value)| path != ".zones.fixings" || *value > 0.0) {
        let (kind, si) = Kind::of_field(path);
        wanted.push((path, (kind, value * si)));
    }
    for line in report.order.iter().chain(&report.weights) {
        let exact = line.exact.map(|exact| Value::reckoned(exact, line.id.unit()));
        wanted.extend(exact.iter().flat_map(Kind::of_cell).map(|figure| (line.item, figure)));
    }
    let mut missing = Vec::new();
    for (path, figure) in &wanted {
        // Angles are told to a tenth of a degree.
        let off = if path.ends_with("_deg") { 0.05 + 1e-9 } else { 1e-9 * figure.1.abs() };
        let same = |other: &(Kind, f64)| other.0 == figure.0 && (other.1 - figure.1).abs() <= off;
        let fields: Vec<&str> = wanted.iter().filter(|(_, other)| same(other)).map(|(path, _)| *path).collect();
        let there = cells.iter().filter(|cell| same(cell)).count();
        if there < fields.len() {
            missing.push(format!("{path} = {figure:?}: {there} cells for {fields:?}"));
        }
    }
    assert!(missing.is_empty(), "{missing:#?}");
}

/// The words shown on a print, streams unpacked, without blanks: a long cell is broken at them.
fn printed(pdf: &[u8]) -> String {
    let find = |from: usize, what: &[u8]| pdf[from..].windows(what.len()).position(|w| w == what).map(|k| from + k);
    let (mut shown, mut at) = (Vec::new(), 0);
    while let Some(start) = find(at, b"stream\n") {
        let end = find(start, b"endstream").unwrap();
        let mut content = Vec::new();
        // Pictures are squeezed too, and hold no words.
        if flate2::read::ZlibDecoder::new(&pdf[start + 7..end]).read_to_end(&mut content).is_ok() {
            // A string in brackets may hold brackets in pairs; others are marked by a backslash.
            let (mut depth, mut escaped) = (0, false);
            for byte in content {
                match byte {
                    b'\\' if depth > 0 && !escaped => {
                        escaped = true;
                        continue;
                    }
                    b'(' if !escaped => depth += 1,
                    b')' if !escaped => depth -= 1,
                    _ => {}
                }
                if depth > 1 || (depth == 1 && (byte != b'(' || escaped)) {
                    shown.push(byte);
                }
                escaped = false;
            }
        }
        at = end + 9;
    }
    String::from_utf8_lossy(&shown).split_whitespace().collect()
}

/// Numbers and words of all cells of a workbook.
fn cells(xlsx: Vec<u8>) -> (Vec<f64>, String) {
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(xlsx)).unwrap();
    let names: Vec<String> = archive.file_names().map(|name| name.unwrap().into_owned()).collect();
    let mut text = |name: &str| {
        let mut text = String::new();
        archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
        text
    };
    let sheets: Vec<String> =
        names.iter().filter(|name| name.starts_with("xl/worksheets/sheet")).map(|n| text(n)).collect();
    let values = sheets.iter().flat_map(|sheet| sheet.split("<v>").skip(1));
    let numbers = values.filter_map(|value| value.split_once("</v>")?.0.parse().ok()).collect();
    (numbers, text("xl/sharedStrings.xml"))
}

/// Text as it stands in HTML and XML.
fn marked_up(text: &str) -> String {
    let text = text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
    text.replace('"', "&quot;").replace('\'', "&#39;")
}

#[test]
fn every_writer_carries_every_cell() {
    let (takeoff, request) = takeoff();
    let report = TakeoffReport::new(takeoff, request);
    let content = Content::new(&report, None);
    let labels = Labels::of(takeoff, &request.book.classes);
    let scene = Scene::of(takeoff, &labels);
    let display = Display::of(scene.mesh, page::MOST_TRIANGLES);
    let stamp = Stamp::default();
    // A span may be broken before its end.
    let html = page::html(&content, &scene, &display, &stamp).unwrap().replace("</span> <span>to ", " to ");
    let print = printed(&pdf::print(&content, &scene, &stamp, PaperSize::Letter).unwrap());
    let (numbers, strings) = cells(xlsx::workbook(&content, &takeoff.figures, &request.book, &stamp).unwrap());
    let table = csv::content(&content).unwrap();
    let close = |a: f64, b: f64| (a - b).abs() <= 1e-12 * a.abs().max(b.abs());
    let plain = |words: &str| words.split_whitespace().collect::<String>();
    for section in &content.sections {
        let rows = || section.tables.iter().flat_map(|table| &table.rows);
        let values = || rows().flat_map(|row| &row.cells);
        let spoken = section.words.iter().chain(rows().flat_map(|row| [&row.mark, &row.sum]));
        assert!(html.contains(section.title) && print.contains(&plain(section.title)) && table.contains(section.title));
        for words in &section.words {
            let xml = words.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
            assert!(
                strings.contains(&xml) && table.contains(&words.replace('"', "\"\"")),
                "{words}: not in workbook or table"
            );
        }
        for words in spoken.cloned().chain(values().flat_map(Value::text)) {
            assert!(html.contains(&marked_up(&words)), "{words}: not on the page");
            assert!(print.contains(&plain(&words)), "{words}: not in print");
        }
        for value in values() {
            match value.numbers() {
                Some(pair) => pair.iter().for_each(|(number, unit)| {
                    // The order list has its figures once, in the unit that it is reckoned in.
                    let live = ["much", "weight"].contains(&section.key);
                    let there = numbers.iter().any(|cell| close(*cell, *number)) && strings.contains(unit);
                    assert!(there || live, "{number} {unit}: not in the workbook");
                    assert!(table.contains(&csv::number(*number)), "{number} {unit}: not in the table");
                }),
                None => {
                    let [us, metric] = value.text();
                    for words in [us, metric] {
                        let xml = words.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
                        assert!(strings.contains(&xml), "{words}: not in the workbook");
                        assert!(table.contains(&words.replace('"', "\"\"")), "{words}: not in the table");
                    }
                }
            }
        }
    }
    for line in takeoff.figures.of(Part::Order).chain(takeoff.figures.of(Part::Weight)) {
        let amount = line.packages.map(|n| n as f64);
        for number in line.exact.into_iter().chain(amount) {
            assert!(numbers.iter().any(|cell| close(*cell, number)), "{:?}: {number} is not in the workbook", line.id);
        }
    }
}

#[test]
fn names_are_data_and_the_same_takeoff_gives_the_same_bytes() {
    let (takeoff, request) = takeoff();
    let report = TakeoffReport::new(takeoff, request);
    let content = Content::new(&report, None);
    let labels = Labels::of(takeoff, &request.book.classes).with_thickness(takeoff, request, &every_face(takeoff));
    let scene = Scene::of(takeoff, &labels);
    let display = Display::of(scene.mesh, page::MOST_TRIANGLES);
    let page = || page::html(&content, &scene, &display, &Stamp::default()).unwrap();
    let html = page();
    assert!(html.contains("&lt;img src=x onerror=alert(1)&gt;") && !html.contains("<img src=x"));
    assert_eq!(html, page());
}

// Two blocks of 5 x 4 ft, 3 and 2-1/2 ft high, that overlap by a foot: straight down through the first it is 3 ft, along
// both it is 9 ft; nothing is thinner than 2 ft 6 in.
#[test]
fn thickness_goes_through_what_overlaps() {
    let (takeoff, request) = takeoff();
    let labels = Labels::of(takeoff, &request.book.classes).with_thickness(takeoff, request, &every_face(takeoff));
    let thickness = labels.thickness.unwrap();
    assert!(thickness.ends[0] == takeoff.applied.thickness * 2.0 && thickness.with_skin);
    assert!(thickness.band.iter().all(|band| *band == 4), "{:?}", thickness.band);
}

#[test]
fn zones_in_a_row_are_told_as_a_run() {
    assert_eq!(runs(["W1", "W2", "U1", "U2", "U3", "U5", "F10", "F11"].into_iter()), "W1-W2, U1-U3, U5, F10-F11");
    assert_eq!(runs([].into_iter()), "");
}

// A plate of 60 x 48 x 3 in under skins of 3/4 + 1.645 x 1/8 + 1/4 = 1.206 in on both sides: foam of 0.59 in is left, less
// than the book's 2 in. Along it is 5 ft and 4 ft.
#[test]
fn a_plate_has_thin_foam_across_and_plenty_along() {
    let plate = BLOCKS.split_once("o <img").unwrap().0.replace(" 36\n", " 3\n");
    let (takeoff, request) = takeoff_of(&plate);
    let labels = Labels::of(&takeoff, &request.book.classes).with_thickness(&takeoff, &request, &every_face(&takeoff));
    let mut bands = labels.thickness.unwrap().band;
    bands.sort_unstable();
    assert_eq!(bands, [1, 1, 1, 1, 4, 4, 4, 4, 4, 4, 4, 4]);
}
