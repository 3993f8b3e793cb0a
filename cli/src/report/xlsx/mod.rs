//! A workbook: one sheet a section, the order list and the weights as live formulas over a sheet of inputs.

use super::content::{Content, Row, Section, Value};
use super::page::Stamp;
use crate::failure::Failure;
use crate::quantities::sum::{Expr, Sum};
use crate::quantities::{OrderLine, PACKAGE_TOLERANCE};
use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatBorder, Formula, Workbook, Worksheet, XlsxError,
};

/// The sheet of inputs.
const INPUTS: &str = "Inputs";
/// The sheet of the order list.
const ORDER: &str = "How much";
/// The sheet of the weights.
const WEIGHT: &str = "Weight";

/// The workbook. `order` and `weights` are the lines that the report was made from.
///
/// # Errors
/// None in practice: it is written to memory.
pub fn workbook(
    content: &Content<'_>,
    order: &[OrderLine],
    weights: &[OrderLine],
    stamp: &Stamp,
) -> Result<Vec<u8>, Failure> {
    write(content, order, weights, stamp)
        .map_err(|error| Failure::new(format!("the workbook cannot be written: {error}")))
}

struct Looks {
    head: Format,
    bold: Format,
    input: Format,
    number: Format,
    words: Format,
}

fn write(
    content: &Content<'_>,
    order: &[OrderLine],
    weights: &[OrderLine],
    stamp: &Stamp,
) -> Result<Vec<u8>, XlsxError> {
    let report = content.report;
    let mut book = Workbook::new();
    // A fixed day: the same takeoff gives the same bytes.
    let day = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(&DocProperties::new().set_title(report.job.as_str()).set_creation_datetime(&day));
    let looks = Looks {
        head: Format::new().set_bold().set_border_bottom(FormatBorder::Thin),
        bold: Format::new().set_bold(),
        input: Format::new().set_background_color(Color::RGB(0xFF_F3_A0)).set_border(FormatBorder::Thin),
        number: Format::new().set_num_format("#,##0.00"),
        words: Format::new().set_text_wrap(),
    };
    let mut live = Live::default();
    let order_rows = live.lines(ORDER, order);
    let weight_rows = live.lines(WEIGHT, weights);

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
            "much" => lines(sheet.set_name(ORDER)?, section, order, &order_rows, &looks)?,
            "weight" => lines(sheet.set_name(WEIGHT)?, section, weights, &weight_rows, &looks)?,
            _ => {
                let name: String = section.title.chars().take(31).collect();
                plain(sheet.set_name(name)?, section, &looks)?;
            }
        }
    }
    book.save_to_buffer()
}

/// An input cell.
#[derive(Clone, Debug, PartialEq)]
struct Input {
    name: String,
    value: f64,
    unit: &'static str,
    from_book: bool,
}

/// A cell that a later line may refer to.
struct Cell {
    value: f64,
    unit: &'static str,
    cell: String,
}

/// Formulas as they are built up.
#[derive(Default)]
struct Live {
    inputs: Vec<Input>,
    results: Vec<Cell>,
}

/// Rows above the first input: title, key, book, hint, a gap, heads.
const FIRST_INPUT: usize = 7;

impl Live {
    /// A formula for each line that is defined.
    fn lines(&mut self, sheet: &str, lines: &[OrderLine]) -> Vec<Option<String>> {
        let mut formulas = Vec::new();
        for (k, line) in lines.iter().enumerate() {
            let formula = line.working.as_ref().map(|sum| self.sum(sum, line.item));
            let row = k + 2;
            if let Some(exact) = line.exact {
                self.results.push(Cell { value: exact, unit: line.unit, cell: format!("'{sheet}'!$D${row}") });
            }
            if let Some(packages) = line.packages {
                let value = packages as f64;
                self.results.push(Cell { value, unit: line.unit, cell: format!("'{sheet}'!$B${row}") });
            }
            formulas.push(formula);
        }
        formulas
    }

    /// The last step, with earlier steps written out in it.
    fn sum(&mut self, sum: &Sum, item: &str) -> String {
        let mut steps: Vec<String> = Vec::new();
        for expr in sum.expressions() {
            let formula = self.expr(expr, &steps, item);
            steps.push(format!("({formula})"));
        }
        steps.pop().unwrap_or_else(|| "0".to_owned())
    }

    fn expr(&mut self, expr: &Expr, steps: &[String], item: &str) -> String {
        match expr {
            Expr::Step(n, _) => steps[*n].clone(),
            Expr::Pair(left, sign, right) => {
                let (left, right) = (self.expr(left, steps, item), self.expr(right, steps, item));
                let sign = if *sign == 'x' { '*' } else { *sign };
                format!("({left}{sign}{right})")
            }
            Expr::Book(value, unit, key) => {
                self.input(Input { name: (*key).to_owned(), value: *value, unit, from_book: true })
            }
            Expr::Fixed(value, unit) => self.earlier(*value, unit).unwrap_or_else(|| value.to_string()),
            Expr::Num(value, unit) => self.earlier(*value, unit).unwrap_or_else(|| {
                self.input(Input { name: format!("measured for {item}"), value: *value, unit, from_book: false })
            }),
        }
    }

    /// The cell of an earlier line that this figure is the result of: same bits, and a unit that begins with the line's.
    fn earlier(&self, value: f64, unit: &str) -> Option<String> {
        let is = |result: &&Cell| {
            result.value.to_bits() == value.to_bits() && !result.unit.is_empty() && unit.starts_with(result.unit)
        };
        self.results.iter().find(is).map(|result| result.cell.clone())
    }

    fn input(&mut self, input: Input) -> String {
        let same = |have: &Input| {
            have.unit == input.unit
                && have.value.to_bits() == input.value.to_bits()
                && have.from_book == input.from_book
                && (!input.from_book || have.name == input.name)
        };
        let at = self.inputs.iter().position(same).unwrap_or_else(|| {
            self.inputs.push(input);
            self.inputs.len() - 1
        });
        format!("{INPUTS}!$B${}", at + FIRST_INPUT)
    }

    fn sheet(&self, sheet: &mut Worksheet, from: &[String], looks: &Looks) -> Result<(), XlsxError> {
        sheet.set_name(INPUTS)?;
        for (row, words) in (0..).zip(from) {
            sheet.write_string_with_format(row, 0, words, if row == 0 { &looks.bold } else { &looks.words })?;
        }
        for (column, head) in (0..).zip(["input", "value", "unit", "comes from"]) {
            sheet.write_string_with_format(FIRST_INPUT as u32 - 2, column, head, &looks.head)?;
        }
        for (row, input) in (FIRST_INPUT as u32 - 1..).zip(&self.inputs) {
            sheet.write_string(row, 0, &input.name)?;
            sheet.write_number_with_format(row, 1, input.value, &looks.input)?;
            sheet.write_string(row, 2, input.unit)?;
            sheet.write_string(row, 3, if input.from_book { "material book" } else { "measured on the model" })?;
        }
        for (column, width) in [(0, 44.0), (1, 14.0), (2, 18.0), (3, 24.0)] {
            sheet.set_column_width(column, width)?;
        }
        Ok(())
    }
}

/// Item, amount, unit, exact, sum as first reckoned, what it is worth.
fn lines(
    sheet: &mut Worksheet,
    section: &Section,
    lines: &[OrderLine],
    formulas: &[Option<String>],
    looks: &Looks,
) -> Result<(), XlsxError> {
    let heads = ["item", "amount", "unit", "exact", "sum of the takeoff", "quality"];
    for (column, head) in (0..).zip(heads) {
        sheet.write_string_with_format(0, column, head, &looks.head)?;
    }
    for (row, words) in (0..).zip(&section.words) {
        sheet.write_string_with_format(row, heads.len() as u16, words, &looks.words)?;
    }
    for ((row, line), formula) in (1..).zip(lines).zip(formulas) {
        sheet.write_string(row, 0, line.item)?;
        sheet.write_string(row, 2, line.unit)?;
        sheet.write_string_with_format(row, 4, &line.sum, &looks.words)?;
        sheet.write_string(row, 5, line.quality.to_string())?;
        let (Some(formula), Some(exact)) = (formula, line.exact) else {
            sheet.write_string(row, 1, "not defined")?;
            sheet.write_string(row, 3, "not defined")?;
            continue;
        };
        let live = Formula::new(format!("={formula}")).set_result(exact.to_string());
        sheet.write_formula_with_format(row, 3, live, &looks.number)?;
        let cell = format!("D{}", row + 1);
        match line.packages {
            Some(packages) => {
                let whole = format!("=MAX(0,ROUNDUP({cell}-{PACKAGE_TOLERANCE},0))");
                sheet.write_formula_with_format(
                    row,
                    1,
                    Formula::new(whole).set_result(packages.to_string()),
                    &looks.bold,
                )?;
            }
            None => {
                let same = Formula::new(format!("={cell}")).set_result(exact.to_string());
                sheet.write_formula_with_format(row, 1, same, &looks.number)?;
            }
        }
    }
    for (column, width) in [(0, 28.0), (1, 12.0), (2, 10.0), (3, 14.0), (4, 90.0), (5, 30.0), (6, 50.0)] {
        sheet.set_column_width(column, width)?;
    }
    sheet.set_freeze_panes(1, 1)?;
    Ok(())
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
