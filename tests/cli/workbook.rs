//! The workbook as a spreadsheet: every number of the book is changed in its cell, one at a time, and what follows is what a fresh run
//! gives with that number in the book.

use crate::common::{Folder, line};
use cragskin_fixtures::solid::prism;
use serde_json::Value;
use std::collections::BTreeMap;
use std::io::Read;

/// Sheets by name: cells by place.
pub(crate) struct Sheets(BTreeMap<String, BTreeMap<String, Cell>>);

#[derive(Clone, Debug, PartialEq)]
enum Cell {
    Words(String),
    Number(f64),
    Formula(String),
}

/// What stands between two marks, and what follows.
fn between<'a>(text: &'a str, open: &str, close: &str) -> Option<(&'a str, &'a str)> {
    let (_, rest) = text.split_once(open)?;
    rest.split_once(close)
}

fn plain(xml: &str) -> String {
    xml.replace("&lt;", "<").replace("&gt;", ">").replace("&apos;", "'").replace("&quot;", "\"").replace("&amp;", "&")
}

impl Sheets {
    pub(crate) fn read(path: &std::path::Path) -> Self {
        let mut archive = zip::ZipArchive::new(std::fs::File::open(path).unwrap()).unwrap();
        let mut text = |name: &str| {
            let mut text = String::new();
            archive.by_name(name).unwrap().read_to_string(&mut text).unwrap();
            text
        };
        let strings = text("xl/sharedStrings.xml");
        let strings: Vec<String> =
            strings.split("<si>").skip(1).map(|si| plain(between(si, ">", "</t>").map_or("", |(t, _)| t))).collect();
        let names = text("xl/workbook.xml");
        let names = names.split("<sheet name=\"").skip(1).map(|rest| plain(rest.split_once('"').unwrap().0));
        let sheets = names.enumerate().map(|(k, name)| {
            let sheet = text(&format!("xl/worksheets/sheet{}.xml", k + 1));
            let cells = sheet.split("<c r=\"").skip(1).filter_map(|cell| {
                let (place, rest) = cell.split_once('"')?;
                let (head, body) = rest.split_once('>')?;
                let value = between(body, "<v>", "</v>").map(|(value, _)| value);
                let held = match between(body, "<f>", "</f>") {
                    Some((formula, _)) => Cell::Formula(plain(formula)),
                    None if head.contains("t=\"s\"") => Cell::Words(strings[value?.parse::<usize>().unwrap()].clone()),
                    None => Cell::Number(value?.parse().unwrap()),
                };
                Some((place.to_owned(), held))
            });
            (name, cells.collect())
        });
        Self(sheets.collect())
    }

    fn words(&self, sheet: &str, place: &str) -> &str {
        match self.0[sheet].get(place) {
            Some(Cell::Words(words)) => words,
            _ => "",
        }
    }

    fn number(&self, sheet: &str, place: &str) -> f64 {
        match self.0[sheet].get(place) {
            Some(Cell::Number(number)) => *number,
            Some(Cell::Formula(formula)) => {
                let mut at = Formula { sheets: self, sheet, left: formula };
                let value = at.sum();
                assert_eq!(at.left, "", "{sheet} {place}: {formula}");
                value
            }
            other => panic!("{sheet} {place} holds {other:?}"),
        }
    }

    /// Name, value and place of the inputs that come from the book and may be changed.
    fn inputs(&self) -> Vec<(String, f64, String)> {
        let row = |row: usize| (self.words("Inputs", &format!("A{row}")).to_owned(), format!("B{row}"), row);
        let rows = (7..).map(row).take_while(|(name, ..)| !name.is_empty());
        let ours = rows.filter(|(_, _, row)| self.words("Inputs", &format!("D{row}")) == "material book");
        ours.map(|(name, place, _)| (name, self.number("Inputs", &place), place)).collect()
    }

    /// Where an input comes from, as said beside it.
    pub(crate) fn source(&self, input: &str) -> &str {
        let row = (7..).take_while(|row| !self.words("Inputs", &format!("A{row}")).is_empty());
        let row = row.into_iter().find(|row| self.words("Inputs", &format!("A{row}")) == input);
        self.words("Inputs", &format!("D{}", row.unwrap_or_else(|| panic!("no input {input}"))))
    }

    /// The exact figure and the amount of each line.
    fn lines(&self) -> BTreeMap<(&'static str, String), [f64; 2]> {
        let mut out = BTreeMap::new();
        for (sheet, table) in [("How much", "order"), ("Weight", "weights")] {
            for row in (2..).take_while(|row| !self.words(sheet, &format!("A{row}")).is_empty()) {
                let item = self.words(sheet, &format!("A{row}")).to_owned();
                let figures = ["D", "B"].map(|column| self.number(sheet, &format!("{column}{row}")));
                out.insert((table, item), figures);
            }
        }
        out
    }
}

/// A formula that is worked from left to right.
struct Formula<'a> {
    sheets: &'a Sheets,
    sheet: &'a str,
    left: &'a str,
}

impl<'a> Formula<'a> {
    fn takes(&mut self, sign: char) -> bool {
        let rest = self.left.strip_prefix(sign);
        self.left = rest.unwrap_or(self.left);
        rest.is_some()
    }

    fn sum(&mut self) -> f64 {
        let mut value = self.product();
        loop {
            if self.takes('+') {
                value += self.product();
            } else if self.takes('-') {
                value -= self.product();
            } else {
                return value;
            }
        }
    }

    fn product(&mut self) -> f64 {
        let mut value = self.atom();
        loop {
            if self.takes('*') {
                value *= self.atom();
            } else if self.takes('/') {
                value /= self.atom();
            } else {
                return value;
            }
        }
    }

    /// As much of the rest as `is` says.
    fn word(&mut self, is: impl Fn(char) -> bool) -> &'a str {
        let end = self.left.find(|c| !is(c)).unwrap_or(self.left.len());
        let (word, rest) = self.left.split_at(end);
        self.left = rest;
        word
    }

    fn atom(&mut self) -> f64 {
        if self.takes('(') {
            let value = self.sum();
            assert!(self.takes(')'), "{}", self.left);
            return value;
        }
        if self.left.starts_with(|c: char| c.is_ascii_digit()) {
            return self.word(|c| c.is_ascii_digit() || c == '.').parse().unwrap();
        }
        let word = if self.takes('\'') {
            let name = self.word(|c| c != '\'');
            assert!(self.takes('\''));
            name
        } else {
            self.word(|c| c.is_ascii_alphanumeric() || c == '$')
        };
        if self.takes('(') {
            let values = self.arguments();
            return match word {
                "MAX" => values.into_iter().fold(f64::NEG_INFINITY, f64::max),
                "ROUNDUP" => values[0].ceil(),
                other => panic!("{other} is not known here"),
            };
        }
        let (sheet, place) = match self.takes('!') {
            true => (word, self.word(|c| c.is_ascii_alphanumeric() || c == '$')),
            false => (self.sheet, word),
        };
        self.sheets.number(sheet, &place.replace('$', ""))
    }

    fn arguments(&mut self) -> Vec<f64> {
        let mut values = Vec::new();
        loop {
            let first = self.left;
            values.push(self.sum());
            if self.takes(':') {
                let (sheet, first) = first.split_once(':').unwrap().0.split_once('!').unwrap();
                let row = |place: &str| place.rsplit('$').next().unwrap().parse::<usize>().unwrap();
                let last = row(self.word(|c| c.is_ascii_alphanumeric() || c == '$'));
                values.extend((row(first) + 1..=last).map(|row| self.sheets.number(sheet, &format!("B{row}"))));
            }
            if !self.takes(',') {
                assert!(self.takes(')'), "{}", self.left);
                return values;
            }
        }
    }
}

/// A number of the book in the cell and in the book, before and after a change.
type Written = [(f64, &'static str); 2];

/// A number of the book: its key, its name in the workbook, what the cell and the book say at first and after the change. Wet and cured
/// weigh the same, both coatings spread alike, and laps and coats agree: what is found by its value is found in the wrong place.
const KEYS: [(&str, &str, Written); 15] = [
    ("mix.bag_mass", "mix.bag_mass", [(50.0, "50 lb"), (57.0, "57 lb")]),
    ("mix.water", "mix.water", [(10.0, "10 lb"), (12.0, "12 lb")]),
    ("mix.wet_density", "mix.wet_density", [(92.0, "92 lb/ft3"), (97.0, "97 lb/ft3")]),
    ("mix.cured_density", "mix.cured_density", [(92.0, "92 lb/ft3"), (81.0, "81 lb/ft3")]),
    ("waste.trowel", "waste.trowel", [(0.1, "10 %"), (0.3, "30 %")]),
    ("primer.coverage", "primer.coverage", [(200.0, "200 sq ft/gal"), (130.0, "130 sq ft/gal")]),
    ("primer.dilution", "primer.dilution, parts of water", [(1.0, "1:1"), (2.5, "1:2.5")]),
    ("colour.coverage", "colour.coverage", [(200.0, "200 sq ft/gal"), (140.0, "140 sq ft/gal")]),
    ("colour.coats", "colour.coats", [(1.0, "1"), (3.0, "3")]),
    ("sealer.coverage", "sealer.coverage", [(200.0, "200 sq ft/gal"), (150.0, "150 sq ft/gal")]),
    ("sealer.coats", "sealer.coats", [(1.0, "1"), (2.0, "2")]),
    ("coating.texture", "coating.texture", [(1.0, "1"), (1.4, "1.4")]),
    ("lath.waste", "lath.waste", [(0.1, "10 %"), (0.5, "50 %")]),
    ("lath.weight", "lath.weight", [(3.4, "3.4 lb/sq yd"), (5.0, "5 lb/sq yd")]),
    ("foam.density", "foam.density", [(1.0, "1 lb/ft3"), (7.0, "7 lb/ft3")]),
];

/// The book with one of its numbers changed, or none.
fn book(changed: Option<usize>) -> String {
    let value = |k: usize| KEYS[k].2[usize::from(changed == Some(k))].1;
    let written = |k: usize| match value(k).parse::<f64>() {
        Ok(number) => format!("{} = {number}\n", KEYS[k].0),
        Err(_) => format!("{} = \"{}\"\n", KEYS[k].0, value(k)),
    };
    (0..KEYS.len()).map(written).collect()
}

/// Of each line of the JSON.
fn told(json: &Value) -> BTreeMap<(&'static str, String), [f64; 2]> {
    let rows = |table: &'static str| json[table].as_array().unwrap().iter().map(move |row| (table, row));
    let figures = |(table, row): (&'static str, &Value)| {
        let exact = row["exact"].as_f64().unwrap();
        ((table, row["item"].as_str().unwrap().to_owned()), [exact, row["packages"].as_f64().unwrap_or(exact)])
    };
    rows("order").chain(rows("weights")).map(figures).collect()
}

/// A gate on two unlike feet. Laid out it takes more lath than by its area; with half of it added for cutting it is the other way round.
#[test]
fn a_changed_cell_gives_what_a_changed_book_gives() {
    let elevation = [[0.0, 0.0], [1.0, 0.0], [1.0, 3.0], [4.0, 3.0], [4.0, 0.0], [5.5, 0.0], [5.5, 4.5], [0.0, 4.5]];
    let gate = prism(&elevation, 1.0).map(|[x, z, y]| [x, y, z]).flip();
    let mut at = Folder::new().with("gate.obj", gate.to_obj()).with("book.toml", book(None));
    let words =
        ["--units", "ft", "--face", "core", "--floor", "bare", "--back", "coated", "--skin", "3/4 in", "--book"];
    let takeoff =
        |at: &Folder, book: &str| told(&at.json(&[&["takeoff", "gate.obj", "--json"], &words[..], &[book]].concat()));
    at.run(&[&["report", "gate.obj", "--xlsx", "gate.xlsx"], &words[..], &["book.toml"]].concat()).exits(0);
    let mut sheets = Sheets::read(&at.path().join("gate.xlsx"));
    let first = sheets.lines();
    same("nothing", &first, &takeoff(&at, "book.toml"));

    let inputs = sheets.inputs();
    let names: Vec<&str> = inputs.iter().map(|(name, ..)| name.as_str()).collect();
    assert_eq!(names.len(), KEYS.len(), "each number of the book has one cell: {names:?}");
    for (k, (key, name, [before, after])) in KEYS.iter().enumerate() {
        let (_, value, place) = inputs.iter().find(|(input, ..)| input == name).unwrap_or_else(|| panic!("no {name}"));
        assert!((value / before.0 - 1.0).abs() < 1e-12, "{name}: {value}");
        let cells = sheets.0.get_mut("Inputs").unwrap();
        let old = cells.insert(place.clone(), Cell::Number(after.0)).unwrap();
        at = at.with("changed.toml", book(Some(k)));
        let lines = sheets.lines();
        assert_ne!(lines, first, "{key} is read by nothing");
        same(key, &lines, &takeoff(&at, "changed.toml"));
        sheets.0.get_mut("Inputs").unwrap().insert(place.clone(), old);
    }
}

fn same(
    changed: &str,
    workbook: &BTreeMap<(&'static str, String), [f64; 2]>,
    told: &BTreeMap<(&'static str, String), [f64; 2]>,
) {
    assert_eq!(workbook.keys().collect::<Vec<_>>(), told.keys().collect::<Vec<_>>());
    for (line, figures) in workbook {
        for (a, b) in figures.iter().zip(told[line]) {
            assert!(
                (a - b).abs() <= 1e-8 * b.abs(),
                "{changed} changed: {line:?} is {a} in the workbook, {b} in the takeoff"
            );
        }
    }
}

/// A cube of 1 ft takes less than a bag.
#[test]
fn a_count_of_one_has_no_plural() {
    let block = cragskin_fixtures::solid::block(1.0, 1.0, 1.0);
    let at = Folder::new().with("cube.obj", block.to_obj());
    let words = ["--units", "ft", "--face", "core", "--floor", "bare", "--skin", "3/4 in"];
    let json = at.json(&[&["takeoff", "cube.obj", "--json"], &words[..]].concat());
    assert_eq!(line(&json, "order", "mix")["packages"], 1);
    assert!(line(&json, "order", "mixing water")["sum"].as_str().unwrap().starts_with("1 bag x "));
    at.run(&[&["takeoff", "cube.obj"], &words[..]].concat()).exits(0).says("mix 1 bag ").never_says("eachs");
}
