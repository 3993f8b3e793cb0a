//! How thick the mix must be placed.

use cragskin_geom::units::Length;

use crate::book::{Book, Thickness};
use crate::figure::{BookKey, Expr, FigureId, Figures, Line, book, constant};

/// Spreads above the least cover that leave one low pin in twenty: the one-sided 95 % point of the normal
/// distribution.
pub const ONE_IN_TWENTY: f64 = 1.645;

/// The thickness to place and what it leaves.
#[derive(Clone, Debug, PartialEq)]
pub struct Applied {
    /// As placed, before carving.
    pub thickness: Length,
    /// How it is reckoned.
    pub sum: String,
    /// How what is left at the low pins is reckoned.
    pub low_sum: String,
    /// What is left after carving where the hand was low (one pin in twenty); below zero the foam shows.
    pub at_low_pins: Length,
    /// The least cover that the book wants.
    pub cover: Length,
}

impl Applied {
    /// From the book: cover + 1.645 x spread + carve depth; or a thickness that the user set.
    #[must_use]
    pub fn new(by: &Book, set: Option<Length>) -> Self {
        let Thickness { cover_min, cover_spread, carve_depth, .. } = by.thickness;
        let by_book = cover_min + cover_spread * ONE_IN_TWENTY + carve_depth;
        let thickness = set.unwrap_or(by_book);
        let spread = || constant(ONE_IN_TWENTY) * book(BookKey::CoverSpread);
        let reckoned = book(BookKey::CoverMin) + spread() + book(BookKey::CarveDepth);
        let low = Expr::Constant(thickness.inches(), "in") - book(BookKey::CarveDepth) - spread();
        let mut figures = Figures::default();
        let mut sum = |id, expr, note| {
            figures.reckon(by, Line::new(id, expr).note(note));
            figures.get(id).map_or_else(String::new, |figure| figure.sum.clone())
        };
        let low_sum = sum(FigureId::CoverAtLowPins, low, "one pin in twenty");
        let sum = sum(FigureId::ThicknessByBook, reckoned, "cover + 1.645 x spread + carve");
        Self {
            thickness,
            sum: if set.is_some() { format!("{thickness}, set by hand; the book's sum is {sum}") } else { sum },
            low_sum,
            at_low_pins: thickness - carve_depth - cover_spread * ONE_IN_TWENTY,
            cover: cover_min,
        }
    }

    /// True if low places end with less than the cover wanted. A thousandth of an inch is not held against it.
    #[must_use]
    pub fn is_thin(&self) -> bool {
        self.at_low_pins < self.cover - Length::from_inches(0.001)
    }
}
