//! A workbook: one sheet a section, the order list and the weights as live formulas over a sheet of inputs.

use super::content::{Content, Row, Section, Value};
use super::page::Stamp;
use super::shared::doubt;
use crate::book::Book;
use crate::failure::Failure;
use crate::figure::{BookKey, Expr, FigureId, Figures, PACKAGE_TOLERANCE, Section as Part};
use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatBorder, Formula, Workbook, Worksheet, XlsxError,
};
use std::collections::BTreeMap;

/// The sheet of inputs.
const INPUTS: &str = "Inputs";
/// The sheet of the order list.
const ORDER: &str = "How much";
/// The sheet of the weights.
const WEIGHT: &str = "Weight";

/// The workbook. `figures` are those that the report was made from, `by` the book that they were reckoned by.
///
/// # Errors
/// None in practice: it is written to memory.
pub fn workbook(content: &Content<'_>, figures: &Figures, by: &Book, stamp: &Stamp) -> Result<Vec<u8>, Failure> {
    write(content, figures, by, stamp).map_err(|error| Failure::new(format!("the workbook cannot be written: {error}")))
}

struct Looks {
    head: Format,
    bold: Format,
    input: Format,
    plain: Format,
    number: Format,
    words: Format,
}

fn write(content: &Content<'_>, figures: &Figures, by: &Book, stamp: &Stamp) -> Result<Vec<u8>, XlsxError> {
    let report = content.report;
    let mut book = Workbook::new();
    // A fixed day: the same takeoff gives the same bytes.
    let day = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_title(report.job.as_str()).set_creation_datetime(&day));
    let looks = Looks {
        head: Format::new().set_bold().set_border_bottom(FormatBorder::Thin),
        bold: Format::new().set_bold(),
        input: Format::new().set_background_color(Color::RGB(0xFF_F3_A0)).set_border(FormatBorder::Thin),
        plain: Format::new(),
        number: Format::new().set_num_format("#,##0.00"),
        words: Format::new().set_text_wrap(),
    };
    let live = Live::new(figures, by);
    let from = [
        format!("{}: {}", report.job, report.file),
        format!("content key {}  {}", stamp.key, stamp.date),
        format!("material book: {}", report.book),
        "Yellow cells are inputs: change one and the sheets How much and Weight follow. All other sheets show the takeoff as measured."
            .to_owned(),
    ];
    live.sheet(book.add_worksheet(), &from, &looks)?;
    for section in &content.sections {
        let sheet = book.add_worksheet();
        match section.key {
            "much" => live.lines(sheet.set_name(ORDER)?, section, Part::Order, &looks)?,
            "weight" => live.lines(sheet.set_name(WEIGHT)?, section, Part::Weight, &looks)?,
            _ => {
                let name: String = section.title.chars().take(31).collect();
                plain(sheet.set_name(name)?, section, &looks)?;
            }
        }
    }
    book.save_to_buffer()
}

/// What a cell of the inputs' sheet holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Source {
    Book(BookKey),
    Figure(FigureId),
}

/// Where everything stands that a formula may refer to. A figure has one cell, and so has a number of the book: a formula finds it
/// by what it is.
struct Live<'a> {
    by: &'a Book,
    figures: &'a Figures,
    /// Numbers of the book and measures, in the order in which the lines ask for them.
    inputs: Vec<Source>,
    /// What follows from them and is no line of a sheet.
    worked: Vec<FigureId>,
    cells: BTreeMap<Source, String>,
}

/// Rows above the first input: title, key, book, hint, a gap, heads.
const FIRST_INPUT: usize = 7;

impl<'a> Live<'a> {
    fn new(figures: &'a Figures, by: &'a Book) -> Self {
        let mut live = Self { by, figures, inputs: Vec::new(), worked: Vec::new(), cells: BTreeMap::new() };
        for (sheet, section) in [(ORDER, Part::Order), (WEIGHT, Part::Weight)] {
            for (row, line) in (2..).zip(figures.of(section)) {
                live.cells.insert(Source::Figure(line.id), format!("'{sheet}'!$D${row}"));
            }
        }
        for line in figures.of(Part::Order).chain(figures.of(Part::Weight)) {
            line.work.iter().for_each(|work| live.gather(work));
        }
        // A gap and a head between the two.
        let worked = live.inputs.len() + FIRST_INPUT + 2;
        let inputs = live.inputs.iter().copied().zip(FIRST_INPUT..);
        let all = inputs.chain(live.worked.iter().map(|id| Source::Figure(*id)).zip(worked..));
        live.cells.extend(all.map(|(source, row)| (source, format!("{INPUTS}!$B${row}"))).collect::<Vec<_>>());
        live
    }

    /// Puts down what an expression asks for and no line of a sheet holds.
    fn gather(&mut self, expr: &'a Expr) {
        expr.visit(&mut |leaf| match *leaf {
            Expr::Book(key, _) if !self.inputs.contains(&Source::Book(key)) => self.inputs.push(Source::Book(key)),
            Expr::Figure(id, _) if !id.is_reckoned() && !self.worked.contains(&id) => match self.figures.work(id) {
                Some(work) => {
                    self.gather(work);
                    self.worked.push(id);
                }
                None if self.inputs.contains(&Source::Figure(id)) => {}
                None => self.inputs.push(Source::Figure(id)),
            },
            _ => {}
        });
    }

    fn cell(&self, source: Source) -> &str {
        self.cells.get(&source).map_or("NA()", String::as_str)
    }

    fn formula(&self, expr: &Expr) -> String {
        match expr {
            Expr::Figure(id, _) => self.cell(Source::Figure(*id)).to_owned(),
            // Packages stand in the second column of the same line.
            Expr::Packages(id) => self.cell(Source::Figure(*id)).replace("$D$", "$B$"),
            Expr::Book(key, unit) => {
                let cell = self.cell(Source::Book(*key));
                if *unit == key.unit() {
                    return cell.to_owned();
                }
                format!("({cell}*{})", key.unit().of(1.0).number_in(*unit))
            }
            Expr::Constant(value, _) => value.to_string(),
            Expr::Folded(inner) => self.formula(inner),
            Expr::Pair(left, sign, right) => {
                format!("({}{}{})", self.formula(left), sign.in_formula(), self.formula(right))
            }
            Expr::Largest(all) => self.largest(all),
        }
    }

    /// Cells below one another are named from the first to the last: a program takes 255 arguments at most.
    fn largest(&self, all: &[Expr]) -> String {
        let place = |expr: &Expr| match expr {
            Expr::Figure(id, _) => self.worked.iter().position(|worked| worked == id),
            _ => None,
        };
        let places: Option<Vec<usize>> = all.iter().map(place).collect();
        let joined = |places: &Vec<usize>| places.windows(2).all(|pair| pair[0] + 1 == pair[1]);
        match (places.is_some_and(|places| joined(&places)), all) {
            (true, [first, .., last]) => {
                let last = self.formula(last).replace("Inputs!", "");
                format!("MAX({}:{last})", self.formula(first))
            }
            _ => format!("MAX({})", all.iter().map(|expr| self.formula(expr)).collect::<Vec<_>>().join(",")),
        }
    }

    /// Lath that is laid out keeps its pieces, whatever the sheet's size in a cell says.
    fn is_settled(&self, key: BookKey) -> bool {
        key.lays_out() && self.figures.get(FigureId::LathPieces).is_some()
    }

    fn sheet(&self, sheet: &mut Worksheet, from: &[String], looks: &Looks) -> Result<(), XlsxError> {
        sheet.set_name(INPUTS)?;
        for (row, words) in (0..).zip(from) {
            sheet.write_string_with_format(row, 0, words, if row == 0 { &looks.bold } else { &looks.words })?;
        }
        for (column, head) in (0..).zip(["input", "value", "unit", "comes from"]) {
            sheet.write_string_with_format(FIRST_INPUT as u32 - 2, column, head, &looks.head)?;
        }
        let mut row = FIRST_INPUT as u32 - 1;
        for source in &self.inputs {
            let (name, value, unit, from) = match *source {
                Source::Book(key) => {
                    let from = match self.is_settled(key) {
                        true => "material book; lath is laid out with it: change it there and take off again",
                        false => "material book",
                    };
                    let value = key.of(self.by).number_in(key.unit());
                    (key.name().to_owned(), Some(value), key.unit(), from.to_owned())
                }
                Source::Figure(id) => {
                    let doubt = self.figures.get(id).map_or("", |figure| doubt(&figure.quality));
                    let from = if doubt.is_empty() { String::new() } else { format!(": {doubt}") };
                    (id.title(), self.figures.exact(id), id.unit(), format!("measured on the model{from}"))
                }
            };
            sheet.write_string(row, 0, &name)?;
            let settled = matches!(*source, Source::Book(key) if self.is_settled(key));
            if let Some(value) = value {
                sheet.write_number_with_format(row, 1, value, if settled { &looks.plain } else { &looks.input })?;
            }
            sheet.write_string(row, 2, unit.after(2.0))?;
            sheet.write_string(row, 3, from)?;
            row += 1;
        }
        row += 1;
        sheet.write_string_with_format(row, 0, "follows from these", &looks.head)?;
        for id in &self.worked {
            row += 1;
            sheet.write_string(row, 0, id.title())?;
            let quality = self.figures.get(*id).map_or("", |figure| doubt(&figure.quality));
            sheet.write_string(row, 3, quality)?;
            if let (Some(work), Some(exact)) = (self.figures.work(*id), self.figures.exact(*id)) {
                let live = Formula::new(format!("={}", self.formula(work))).set_result(exact.to_string());
                sheet.write_formula_with_format(row, 1, live, &looks.plain)?;
            }
            sheet.write_string(row, 2, id.unit().after(2.0))?;
        }
        for (column, width) in [(0, 44.0), (1, 14.0), (2, 18.0), (3, 24.0)] {
            sheet.set_column_width(column, width)?;
        }
        Ok(())
    }
}

impl Live<'_> {
    /// Item, amount, unit, exact, sum as first reckoned, what it is worth.
    fn lines(&self, sheet: &mut Worksheet, section: &Section, part: Part, looks: &Looks) -> Result<(), XlsxError> {
        let heads = ["item", "amount", "unit", "exact", "sum of the takeoff", "quality"];
        for (column, head) in (0..).zip(heads) {
            sheet.write_string_with_format(0, column, head, &looks.head)?;
        }
        for (row, words) in (0..).zip(&section.words) {
            sheet.write_string_with_format(row, heads.len() as u16, words, &looks.words)?;
        }
        for (row, line) in (1..).zip(self.figures.of(part)) {
            sheet.write_string(row, 0, line.id.row().name)?;
            sheet.write_string(row, 2, line.id.unit().word())?;
            sheet.write_string_with_format(row, 4, &line.sum, &looks.words)?;
            sheet.write_string(row, 5, line.quality.to_string())?;
            let (Some(work), Some(exact)) = (&line.work, line.exact) else {
                sheet.write_string(row, 1, "not defined")?;
                sheet.write_string(row, 3, "not defined")?;
                continue;
            };
            let live = Formula::new(format!("={}", self.formula(work))).set_result(exact.to_string());
            sheet.write_formula_with_format(row, 3, live, &looks.number)?;
            let cell = format!("D{}", row + 1);
            let (amount, shown, look) = match line.packages {
                Some(packages) => {
                    let whole = format!("=MAX(0,ROUNDUP({cell}-{PACKAGE_TOLERANCE},0))");
                    (whole, packages.to_string(), &looks.bold)
                }
                None => (format!("={cell}"), exact.to_string(), &looks.number),
            };
            sheet.write_formula_with_format(row, 1, Formula::new(amount).set_result(shown), look)?;
        }
        for (column, width) in [(0, 28.0), (1, 12.0), (2, 10.0), (3, 14.0), (4, 90.0), (5, 30.0), (6, 50.0)] {
            sheet.set_column_width(column, width)?;
        }
        sheet.set_freeze_panes(1, 1)?;
        Ok(())
    }
}

/// Words, then tables; a figure takes a number and a unit in US and again in metric.
fn plain(sheet: &mut Worksheet, section: &Section, looks: &Looks) -> Result<(), XlsxError> {
    let mut row = 0;
    sheet.write_string_with_format(row, 0, section.title, &looks.bold)?;
    row += 1;
    for words in &section.words {
        sheet.write_string_with_format(row, 0, words, &looks.words)?;
        row += 1;
    }
    for table in &section.tables {
        row += 1;
        // A column takes four cells if any of its rows holds a figure.
        let wide: Vec<bool> = (0..table.head.len())
            .map(|k| table.rows.iter().any(|row| row.cells.get(k).is_some_and(|value| value.numbers().is_some())))
            .collect();
        let mut column = 0;
        for (head, wide) in table.head.iter().zip(&wide) {
            for k in 0..if *wide { 4 } else { 1 } {
                sheet.write_string_with_format(row, column + k, if k == 0 { *head } else { "" }, &looks.head)?;
            }
            column += if *wide { 4 } else { 1 };
        }
        row += 1;
        for line in &table.rows {
            cells(sheet, row, line, &wide, looks)?;
            row += 1;
        }
    }
    sheet.set_column_width(0, 48.0)?;
    Ok(())
}

fn cells(sheet: &mut Worksheet, row: u32, line: &Row, wide: &[bool], looks: &Looks) -> Result<(), XlsxError> {
    let mut column = 0;
    for (value, wide) in line.cells.iter().zip(wide) {
        match value.numbers() {
            Some([(us, us_unit), (metric, metric_unit)]) => {
                sheet.write_number(row, column, us)?;
                sheet.write_string(row, column + 1, us_unit)?;
                sheet.write_number(row, column + 2, metric)?;
                sheet.write_string(row, column + 3, metric_unit)?;
            }
            None => {
                let [us, metric] = value.text();
                sheet.write_string(row, column, &us)?;
                if matches!(value, Value::Span(_)) {
                    sheet.write_string(row, column, format!("{us} ({metric})"))?;
                }
            }
        }
        column += if *wide { 4 } else { 1 };
    }
    for words in [&line.mark, &line.sum].into_iter().filter(|words| !words.is_empty()) {
        sheet.write_string_with_format(row, column, words, &looks.words)?;
        sheet.set_column_width(column, 60.0)?;
        column += 1;
    }
    Ok(())
}
