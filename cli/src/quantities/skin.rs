//! How thick the mix must be placed.

use cragskin_geom::units::Length;

use super::sum::{Sum, fixed};
use crate::book::Thickness;

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
    pub fn new(book: &Thickness, set: Option<Length>) -> Self {
        let inches = |length: Length| fixed(length.inches(), "in");
        let reckoned =
            inches(book.cover_min) + fixed(ONE_IN_TWENTY, "") * inches(book.cover_spread) + inches(book.carve_depth);
        let sum = Sum::default().then("", reckoned, "in").note("cover + 1.645 x spread + carve");
        let by_book = book.cover_min + book.cover_spread * ONE_IN_TWENTY + book.carve_depth;
        let thickness = set.unwrap_or(by_book);
        let at_low_pins = thickness - book.carve_depth - book.cover_spread * ONE_IN_TWENTY;
        let low = inches(thickness) - inches(book.carve_depth) - fixed(ONE_IN_TWENTY, "") * inches(book.cover_spread);
        let low_sum = Sum::default().then("", low, "in left at the low pins").note("one pin in twenty").print(2, false);
        let sum = if set.is_some() {
            format!("{thickness}, set by hand; the book's sum is {}", sum.print(3, false))
        } else {
            sum.print(3, false)
        };
        Self { thickness, sum, low_sum, at_low_pins, cover: book.cover_min }
    }

    /// True if low places end with less than the cover wanted. A thousandth of an inch is not held against it.
    #[must_use]
    pub fn is_thin(&self) -> bool {
        self.at_low_pins < self.cover - Length::from_inches(0.001)
    }
}
