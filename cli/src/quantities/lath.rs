//! Lath sheets and fixings, by area.

use cragskin_geom::units::{Area, Length};

use super::{Measured, Measures};
use crate::book::{Book, Class, Lath, PerClass};
use crate::figure::{BookKey, Expr, FigureId, Figures, Line, Quantity, book, constant, figure, folded, said};

/// Area that takes lath, by the classes of the book.
fn area(book: &Lath, by_class: &PerClass<Area>) -> Area {
    taking(book).map(|class| by_class[class]).sum()
}

fn taking(book: &Lath) -> impl Iterator<Item = Class> {
    Class::ALL.into_iter().filter(|class| book.classes.contains(class))
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

/// The classes that take lath and have some area; all that take it where areas are not defined.
fn with_some(lath: &Lath, under_lath: &Measured<PerClass<Area>>) -> Vec<Class> {
    let has_some = |class: &Class| under_lath.value().is_none_or(|areas| areas[*class] > Area::ZERO);
    taking(lath).filter(has_some).collect()
}

/// What lath is reckoned from.
fn measure(lath: &Lath, measures: &Measures, figures: &mut Figures) {
    let Measures { under_lath, laid, .. } = measures;
    let classes = with_some(lath, under_lath);
    for &class in &classes {
        figures.measure(FigureId::UnderLath(class), &under_lath.map(|areas| Quantity::Area(areas[class])));
    }
    let all = under_lath.map(|areas| Quantity::Area(area(lath, areas)));
    let sum = classes.into_iter().map(|class| figure(FigureId::UnderLath(class))).reduce(|a, b| a + b);
    match sum {
        Some(sum) => figures.measure_following(FigureId::LathArea, &all, sum),
        None => figures.measure(FigureId::LathArea, &all),
    }
    if let Some(laid) = laid {
        let edges = Quantity::Count(laid.edge_fixings as f64);
        for (id, value) in [
            (FigureId::LathPieces, Quantity::Length(laid.pieces)),
            (FigureId::LathOffcuts, Quantity::Length(laid.from_offcuts)),
            (FigureId::EdgeFixings, edges),
        ] {
            figures.measure(id, &Measured::good(value));
        }
    }
}

/// Sheets by area and, where lath was laid out, by laying: the length of sheets that goes into the pieces, by the length that a
/// sheet covers. The larger is ordered, with the other in its note.
fn sheets(by: &Book, laid: Option<&Laid>, figures: &mut Figures) {
    let width = book(BookKey::SheetWidth) - book(BookKey::SideLap);
    let length = || book(BookKey::SheetLength) - book(BookKey::EndLap);
    figures.reckon(by, Line::new(FigureId::NetSheet, width * length() / constant(144.0)));
    let wanted = said(FigureId::LathArea, "sq ft") * folded(constant(1.0) + book(BookKey::LathWaste));
    figures.reckon(by, Line::new(FigureId::SheetsByArea, wanted / figure(FigureId::NetSheet)));
    let by_area = figure(FigureId::SheetsByArea);
    let Some(laid) = laid else {
        let note = format!("{} added for cutting; {}", by.lath.waste, class_words(&by.lath));
        figures.reckon(by, Line::new(FigureId::Lath, by_area).note(note));
        return;
    };
    let new = said(FigureId::LathPieces, "ft laid") - said(FigureId::LathOffcuts, "ft from strips and offcuts");
    figures.reckon(by, Line::new(FigureId::LaidLength, new));
    let covered = figure(FigureId::LaidLength) * constant(12.0) / length();
    figures.reckon(by, Line::new(FigureId::SheetsByLaying, covered));
    let larger = Expr::Largest(vec![by_area, figure(FigureId::SheetsByLaying)]);
    let [area, laying] =
        [FigureId::SheetsByArea, FigureId::SheetsByLaying].map(|id| figures.exact(id).unwrap_or_default());
    let courses = laid.courses;
    let note = if figures.value(by, &larger) == Some(area) {
        format!("laid out in {courses} courses it is {laying:.2}; the larger is ordered")
    } else {
        format!("{courses} courses, each cut where the zone is not; by area it is {area:.2}; the larger is ordered")
    };
    figures.reckon(by, Line::new(FigureId::Lath, larger).note(note));
}

/// One fixing at each crossing of the class's grid, and those along the edges.
fn fixings(by: &Book, measures: &Measures, figures: &mut Figures) {
    let Measures { under_lath, laid, .. } = measures;
    let one = |class: Class| {
        let grid = || book(BookKey::FixingGrid(class));
        figure(FigureId::UnderLath(class)) * constant(144.0) / (grid() * grid())
    };
    let grid =
        with_some(&by.lath, under_lath).into_iter().map(one).reduce(|a, b| a + b).unwrap_or_else(|| constant(0.0));
    let (all, note) = match laid {
        None => (grid, "a grid for each class, edges not counted"),
        Some(_) => (grid + said(FigureId::EdgeFixings, "along edges"), "a grid for each class, and the edges of zones"),
    };
    figures.reckon(by, Line::new(FigureId::LathFixings, all).note(note).worth(under_lath.quality().clone()));
}

pub(super) fn add(by: &Book, measures: &Measures, figures: &mut Figures) {
    measure(&by.lath, measures, figures);
    sheets(by, measures.laid.as_ref(), figures);
    fixings(by, measures, figures);
}
