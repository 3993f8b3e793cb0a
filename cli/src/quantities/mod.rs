//! From measures and book to the order list and the weights: arithmetic that a person can redo.
//!
//! Nothing is rounded until the end of a line, and packages are rounded up once, for the whole job. Each line carries
//! its sum, printed with numbers that give the printed result when they are put into a pocket calculator.

pub mod cautions;
pub mod coatings;
pub mod floor;
pub mod foam;
pub mod lath;
pub mod measured;
pub mod mix;
pub mod skin;
pub mod sum;
pub mod weight;

use cragskin_geom::units::{Area, Volume};
use serde::Serialize;

pub use measured::{Grade, Measured, Quality};
use sum::Sum;

use crate::book::{Book, PerClass};

/// What is known of the model, each figure with what it is worth.
#[derive(Clone, Debug)]
pub struct Measures {
    /// Coated area.
    pub coated: Measured<Area>,
    /// Area under lath by lean class.
    pub under_lath: Measured<PerClass<Area>>,
    /// Lath as laid out zone by zone, where zones are known.
    pub laid: Option<lath::Laid>,
    /// The face that takes primer: the core's.
    pub primed: Measured<Area>,
    /// Skin as placed, carved-off mix included.
    pub skin: Measured<Volume>,
    /// Foam core.
    pub core: Measured<Volume>,
    /// Volume of the finished piece, where the core is what the skin leaves of it.
    pub whole: Option<Volume>,
    /// The inside was made by closing open sheets as asked.
    pub closed_as_asked: bool,
    /// What the job stands on, if it stands on a floor.
    pub footing: Option<Measured<floor::Footing>>,
    /// Water held in pools; none where nobody measured it.
    pub standing_water: Option<Volume>,
}

/// One line of the order list or of the weights.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OrderLine {
    /// What it is.
    pub item: &'static str,
    /// The figure before any rounding, in `unit`; none if it is not defined.
    pub exact: Option<f64>,
    /// Whole packages to buy, where it is bought by the piece.
    pub packages: Option<u64>,
    /// Unit of `exact`, and the package if there are packages.
    pub unit: &'static str,
    /// How it is reckoned, in one line.
    pub sum: String,
    /// The same to work with, for a workbook's formulas.
    #[serde(skip)]
    pub working: Option<Sum>,
    /// What the figure is worth.
    #[serde(serialize_with = "quality_words")]
    pub quality: Quality,
}

fn quality_words<S: serde::Serializer>(quality: &Quality, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(quality)
}

/// Excess over a whole package that is rounding noise of the arithmetic and buys no further one. Noise is about 1e-15
/// of the figure; a millionth of a bag is 20 mg, so nobody misses it.
pub const PACKAGE_TOLERANCE: f64 = 1e-6;

/// Whole packages for an exact need.
///
/// ```
/// use cragskin::quantities::whole_packages;
/// assert_eq!([20.8, 21.0, 21.000_000_001, 21.01, 0.0].map(whole_packages), [21, 21, 21, 22, 0]);
/// ```
#[must_use]
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "never below zero; saturates above")]
pub fn whole_packages(exact: f64) -> u64 {
    (exact - PACKAGE_TOLERANCE).ceil().max(0.0) as u64
}

impl OrderLine {
    fn new(item: &'static str, unit: &'static str, decimals: usize, sum: Measured<Sum>, packed: bool) -> Self {
        let (sum, quality) = sum.parts();
        let Some(sum) = sum else {
            return Self { item, exact: None, packages: None, unit, sum: quality.to_string(), working: None, quality };
        };
        let exact = sum.exact();
        let packages = packed.then(|| whole_packages(exact));
        Self { item, exact: Some(exact), packages, unit, sum: sum.print(decimals, packed), working: Some(sum), quality }
    }

    /// Bought by the piece: two decimals, then whole packages.
    fn packed(item: &'static str, unit: &'static str, sum: Measured<Sum>) -> Self {
        Self::new(item, unit, 2, sum, true)
    }

    /// Bought or carried loose.
    fn loose(item: &'static str, unit: &'static str, decimals: usize, sum: Measured<Sum>) -> Self {
        Self::new(item, unit, decimals, sum, false)
    }
}

/// The order list: mix, water, primer, colour, sealer, lath, fixings, foam.
#[must_use]
pub fn order(book: &Book, measures: &Measures) -> Vec<OrderLine> {
    let mut lines = Vec::from(mix::lines(&book.mix, &measures.skin));
    lines.extend(coatings::lines(&book.coatings, &measures.primed, &measures.coated));
    lines.extend(lath::lines(&book.lath, &measures.under_lath, measures.laid.as_ref()));
    lines.extend(foam::lines(&measures.core, measures.whole, measures.closed_as_asked));
    lines
}

/// The weights: skin wet and cured, foam, lath, totals, and the load of the worst foot where the job stands on a floor.
#[must_use]
pub fn weights(book: &Book, measures: &Measures) -> Vec<OrderLine> {
    weight::lines(book, measures)
}

#[cfg(test)]
mod tests;
