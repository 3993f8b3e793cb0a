//! Lath sheets and fixings, by area.

use cragskin_geom::units::{Area, Length, Mass};

use super::{
    Measured, OrderLine,
    sum::{Expr, Sum, book, fixed, num, step},
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

fn sheets(lath: &Lath, area: Area) -> Sum {
    let [width, length] = lath.sheet.0;
    let inches = |length: Length, key| book(length.inches(), "in", key);
    let net = (inches(width, "lath.sheet, width") - inches(lath.side_lap, "lath.side_lap"))
        * (inches(length, "lath.sheet, length") - inches(lath.end_lap, "lath.end_lap"));
    let wanted = num(area.square_feet(), "sq ft") * book(1.0 + lath.waste.0, "", "1 + lath.waste");
    Sum::default()
        .then("net sheet", net / fixed(144.0, ""), "sq ft")
        .then("", wanted / step(0, "sq ft"), "sheets")
        .note(format!("{} added for cutting; {}", lath.waste, class_words(lath)))
}

fn class_words(book: &Lath) -> String {
    let names: Vec<&str> = taking(book).map(Class::name).collect();
    if names.is_empty() { "no class takes lath".to_string() } else { format!("on {}", names.join(", ")) }
}

/// Lath as laid out on the unrolled zones, beside what the area alone says.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Laid {
    /// Length of all pieces laid, full width or ripped.
    pub pieces: Length,
    /// Of that, strips and offcuts from beside other pieces of the same sheets.
    pub from_offcuts: Length,
    /// Courses, or columns, of all zones.
    pub courses: usize,
    /// Fixings along the edges of the zones.
    pub edge_fixings: u64,
}

/// Sheets by laying: the length of sheets that goes into the pieces, by the length that a sheet covers.
fn by_laying(lath: &Lath, laid: &Laid) -> Sum {
    let inches = |length: Length, key| book(length.inches(), "in", key);
    let new = num(laid.pieces.feet(), "ft laid") - num(laid.from_offcuts.feet(), "ft from strips and offcuts");
    let net = inches(lath.sheet.0[1], "lath.sheet, length") - inches(lath.end_lap, "lath.end_lap");
    Sum::default().then("laid out on the unrolled zones", new, "ft of sheet").then(
        "",
        step(0, "ft") * fixed(12.0, "") / net,
        "sheets",
    )
}

/// The larger of the two counts, with the other in its note.
fn larger(lath: &Lath, by_area: Sum, laid: Option<&Laid>) -> Sum {
    let exact = by_area.exact();
    let Some(laid) = laid else { return by_area };
    let by_laying = by_laying(lath, laid);
    let sheets = by_laying.exact();
    if sheets > exact {
        by_laying.note(format!(
            "{} courses, each cut where the zone is not; by area it is {exact:.2}; the larger is ordered",
            laid.courses
        ))
    } else {
        by_area.note(format!("laid out in {} courses it is {sheets:.2}; the larger is ordered", laid.courses))
    }
}

const fn grid_key(class: Class) -> &'static str {
    [
        "lath.fixing_grid.top",
        "lath.fixing_grid.slope",
        "lath.fixing_grid.wall",
        "lath.fixing_grid.undercut",
        "lath.fixing_grid.soffit",
    ][class as usize]
}

/// One fixing at each crossing of the class's grid, and those along the edges.
fn fixings(lath: &Lath, by_class: &PerClass<Area>, laid: Option<&Laid>) -> Sum {
    let one = |class: Class| -> Expr {
        let grid = || book(lath.fixing_grid[class].inches(), "in", grid_key(class));
        num(by_class[class].square_feet(), "sq ft") * fixed(144.0, "") / (grid() * grid())
    };
    let terms = taking(lath).filter(|&class| by_class[class] > Area::ZERO).map(one);
    let grid = terms.reduce(|a, b| a + b).unwrap_or_else(|| fixed(0.0, ""));
    match laid {
        None => Sum::default().then("", grid, "fixings").note("a grid for each class, edges not counted"),
        Some(laid) => {
            #[expect(clippy::cast_precision_loss, reason = "fixings are few")]
            let edges = fixed(laid.edge_fixings as f64, "along edges");
            Sum::default().then("", grid + edges, "fixings").note("a grid for each class, and the edges of zones")
        }
    }
}

pub(super) fn lines(book: &Lath, under_lath: &Measured<PerClass<Area>>, laid: Option<&Laid>) -> [OrderLine; 2] {
    [
        OrderLine::packed("lath", "sheet", under_lath.map(|areas| larger(book, sheets(book, area(book, areas)), laid))),
        OrderLine::packed("lath fixings", "each", under_lath.map(|areas| fixings(book, areas, laid))),
    ]
}
