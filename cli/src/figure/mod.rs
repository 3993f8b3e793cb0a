//! Figures: typed values with an id, and the expression that each is reckoned by.
//!
//! A figure is computed once. The sum that people read, the formula of the workbook and the figure under another book
//! all come from its expression; its name, section and unit come from the table in [`FigureId::row`].

mod expr;
mod id;
mod key;
mod print;
mod quantity;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

pub use expr::{Expr, Known, Sign, book, constant, figure, folded, largest, said};
pub use id::{FigureId, Row, Section, State};
pub use key::BookKey;
pub use quantity::{Quantity, Unit};

use crate::book::Book;
use crate::quantities::{Grade, Measured, Quality};
use print::Printer;

/// Excess over a whole package that is rounding noise of the arithmetic and buys no further one. Noise is about 1e-15
/// of the figure; a millionth of a bag is 20 mg, so nobody misses it.
pub const PACKAGE_TOLERANCE: f64 = 1e-6;

/// Whole packages for an exact need.
///
/// ```
/// use cragskin::figure::whole_packages;
/// assert_eq!([20.8, 21.0, 21.000_000_001, 21.01, 0.0].map(whole_packages), [21, 21, 21, 22, 0]);
/// ```
#[must_use]
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "never below zero; saturates above")]
pub fn whole_packages(exact: f64) -> u64 {
    (exact - PACKAGE_TOLERANCE).ceil().max(0.0) as u64
}

/// A figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Which one.
    pub id: FigureId,
    /// Before any rounding, in the unit of its row; none if it is not defined.
    pub exact: Option<f64>,
    /// Whole packages to buy, where it is bought by the piece.
    pub packages: Option<u64>,
    /// How it is reckoned, in one line; why it is not defined.
    pub sum: String,
    /// Words after the sum, in its brackets.
    pub note: String,
    /// What it is worth.
    pub quality: Quality,
    /// How it follows from others, if it does.
    pub work: Option<Expr>,
    measured: Option<Quantity>,
}

impl Figure {
    /// The value, typed, with what it is worth: whole packages of what is bought by the piece.
    #[must_use]
    pub fn quantity(&self) -> Measured<Quantity> {
        let unit = self.id.unit();
        let reckoned =
            || Some(self.packages.map_or_else(|| unit.of(self.exact.unwrap_or_default()), |n| unit.of(n as f64)));
        match self.measured.or_else(|| self.exact.and_then(|_| reckoned())) {
            Some(value) => Measured::new(value, self.quality.clone()),
            None => Measured::not_defined(self.quality.reason.clone()),
        }
    }
}

/// A figure to be reckoned.
#[derive(Clone, Debug)]
pub struct Line {
    id: FigureId,
    expr: Expr,
    note: String,
    quality: Option<Quality>,
}

impl Line {
    /// By an expression, worth as much as the least of the figures in it.
    #[must_use]
    pub const fn new(id: FigureId, expr: Expr) -> Self {
        Self { id, expr, note: String::new(), quality: None }
    }

    /// Words after the result, in brackets.
    #[must_use]
    pub fn note(self, note: impl Into<String>) -> Self {
        Self { note: note.into(), ..self }
    }

    /// What it is worth.
    #[must_use]
    pub fn worth(self, quality: Quality) -> Self {
        Self { quality: Some(quality), ..self }
    }
}

/// Figures in the order in which they were found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figures {
    all: Vec<Figure>,
    places: BTreeMap<FigureId, usize>,
}

impl Figures {
    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = &Figure> {
        self.all.iter()
    }

    /// Those of a section.
    pub fn of(&self, section: Section) -> impl Iterator<Item = &Figure> {
        self.all.iter().filter(move |figure| figure.id.row().section == section)
    }

    /// One of them.
    #[must_use]
    pub fn get(&self, id: FigureId) -> Option<&Figure> {
        self.places.get(&id).map(|place| &self.all[*place])
    }

    /// A figure before rounding.
    #[must_use]
    pub fn exact(&self, id: FigureId) -> Option<f64> {
        self.get(id)?.exact
    }

    /// How a figure follows from others, if it does.
    #[must_use]
    pub fn work(&self, id: FigureId) -> Option<&Expr> {
        self.get(id)?.work.as_ref()
    }

    /// The value, typed, with what it is worth.
    #[must_use]
    pub fn quantity(&self, id: FigureId) -> Measured<Quantity> {
        self.get(id).map_or_else(|| Measured::not_defined("this model has no such line"), Figure::quantity)
    }

    /// What an expression comes to.
    #[must_use]
    pub fn value(&self, by: &Book, expr: &Expr) -> Option<f64> {
        expr.value(by, &|id| self.exact(id))
    }

    /// All figures before rounding by another book, of the same measures.
    #[must_use]
    pub fn by(&self, other: &Book) -> BTreeMap<FigureId, f64> {
        let mut out: BTreeMap<FigureId, f64> = BTreeMap::new();
        for figure in &self.all {
            let exact = match &figure.work {
                Some(work) => work.value(other, &|id| out.get(&id).copied()),
                None => figure.exact,
            };
            out.extend(exact.map(|exact| (figure.id, exact)));
        }
        out
    }

    fn put(&mut self, figure: Figure) {
        let place = *self.places.entry(figure.id).or_insert(self.all.len());
        if place < self.all.len() {
            self.all[place] = figure;
        } else {
            self.all.push(figure);
        }
    }

    /// Adds what was measured.
    pub fn measure(&mut self, id: FigureId, value: &Measured<Quantity>) {
        let measured = value.value().copied();
        let exact = measured.map(|value| value.number_in(id.unit()));
        let quality = value.quality().clone();
        self.put(Figure {
            id,
            exact,
            packages: None,
            sum: String::new(),
            note: String::new(),
            quality,
            work: None,
            measured,
        });
    }

    /// Adds what was measured and follows from other figures, to within rounding.
    pub fn measure_following(&mut self, id: FigureId, value: &Measured<Quantity>, work: Expr) {
        self.measure(id, value);
        let place = self.places[&id];
        self.all[place].work = Some(work);
    }

    /// Adds a figure that is not defined, and why.
    pub fn undefined(&mut self, id: FigureId, why: impl Into<String>) {
        self.reckoned(id, None, Quality::new(Grade::NotDefined, why));
    }

    fn reckoned(&mut self, id: FigureId, value: Option<(f64, String, Expr)>, quality: Quality) {
        let (exact, sum, work) = match value {
            Some((exact, sum, work)) => (Some(exact), sum, Some(work)),
            None => (None, quality.to_string(), None),
        };
        let packages = exact.filter(|_| id.row().packed).map(whole_packages);
        self.put(Figure { id, exact, packages, sum, note: String::new(), quality, work, measured: None });
    }

    /// Adds a figure that follows from others.
    pub fn reckon(&mut self, by: &Book, line: Line) {
        let Line { id, expr, note, quality } = line;
        let used = || expr.figures().into_iter().filter_map(|id| self.get(id)).map(|figure| figure.quality.clone());
        let is_undefined = |quality: &Quality| quality.grade == Grade::NotDefined;
        let quality = quality.unwrap_or_else(|| used().fold(Quality::good(), Quality::and));
        let exact = self.value(by, &expr).filter(|_| !is_undefined(&quality));
        let Some(exact) = exact else {
            let undefined = || Quality::new(Grade::NotDefined, "a figure that it rests on is not defined");
            let quality = Some(quality).filter(is_undefined).or_else(|| used().find(is_undefined));
            self.reckoned(id, None, quality.unwrap_or_else(undefined));
            return;
        };
        // A step is written out in the sums that it serves.
        let sum = match id.is_step() {
            true => String::new(),
            false => Printer { book: by, figures: self }.sum(id, &expr, &note),
        };
        self.reckoned(id, Some((exact, sum, expr)), quality);
        let place = self.places[&id];
        self.all[place].note = note;
    }
}
