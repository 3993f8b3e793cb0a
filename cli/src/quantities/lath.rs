//! Lath sheets and fixings, by area.

use cragskin_geom::units::{Area, Mass};

use super::{
    Measured, OrderLine,
    sum::{Expr, Sum, fixed, num, step},
};
use crate::book::{Class, Lath, PerClass};

/// Area that takes lath, by the classes of the book.
#[must_use]
pub fn area(book: &Lath, by_class: &PerClass<Area>) -> Area {
    taking(book).map(|class| by_class[class]).sum()
}

fn taking(book: &Lath) -> impl Iterator<Item = Class> {
    Class::ALL.into_iter().filter(|class| book.classes.contains(class))
}

/// What one sheet covers once its neighbours lap over it.
#[must_use]
pub fn net_sheet(book: &Lath) -> Area {
    let [width, length] = book.sheet.0;
    (width - book.side_lap) * (length - book.end_lap)
}

/// One sheet as bought.
#[must_use]
pub fn gross_sheet(book: &Lath) -> Area {
    let [width, length] = book.sheet.0;
    width * length
}

/// Weight of sheets as delivered.
#[must_use]
pub fn delivered(book: &Lath, sheets: u64) -> Mass {
    #[expect(clippy::cast_precision_loss, reason = "sheets are few")]
    let count = sheets as f64;
    gross_sheet(book) * count * book.weight
}

fn sheets(book: &Lath, area: Area) -> Sum {
    let [width, length] = book.sheet.0;
    let inches = |length: cragskin_geom::units::Length| fixed(length.inches(), "in");
    let net = (inches(width) - inches(book.side_lap)) * (inches(length) - inches(book.end_lap));
    let wanted = num(area.square_feet(), "sq ft") * fixed(1.0 + book.waste.0, "");
    Sum::default()
        .then("net sheet", net / fixed(144.0, ""), "sq ft")
        .then("", wanted / step(0, "sq ft"), "sheets")
        .note(format!("{} added for cutting; {}", book.waste, class_words(book)))
}

fn class_words(book: &Lath) -> String {
    let names: Vec<&str> = taking(book).map(Class::name).collect();
    if names.is_empty() { "no class takes lath".to_string() } else { format!("on {}", names.join(", ")) }
}

/// One fixing at each crossing of the class's grid.
fn fixings(book: &Lath, by_class: &PerClass<Area>) -> Sum {
    let one = |class: Class| -> Expr {
        let grid = || fixed(book.fixing_grid[class].inches(), "in");
        num(by_class[class].square_feet(), "sq ft") * fixed(144.0, "") / (grid() * grid())
    };
    let terms = taking(book).filter(|&class| by_class[class] > Area::ZERO).map(one);
    let sum = terms.reduce(|a, b| a + b).unwrap_or_else(|| fixed(0.0, ""));
    Sum::default().then("", sum, "fixings").note("a grid for each class, edges not counted")
}

pub(super) fn lines(book: &Lath, by_class: &Measured<PerClass<Area>>) -> [OrderLine; 2] {
    [
        OrderLine::packed("lath", "sheet", by_class.map(|areas| sheets(book, area(book, areas)))),
        OrderLine::packed("lath fixings", "each", by_class.map(|areas| fixings(book, areas))),
    ]
}
