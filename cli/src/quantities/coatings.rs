//! Primer, colour, sealer.

use cragskin_geom::units::{Area, Coverage};

use super::{
    Measured, OrderLine,
    sum::{Sum, book, fixed, num, step},
};
use crate::{
    book::Coatings,
    settings::{Count, Factor},
};

/// Primer as it goes on, then what of it is concentrate.
fn primer(coatings: &Coatings, area: Area) -> Sum {
    let water = coatings.primer_dilution.0;
    Sum::default()
        .then(
            "",
            num(area.square_feet(), "sq ft")
                / book(coatings.primer_coverage.sq_ft_per_gallon(), "sq ft per gal", "primer.coverage"),
            "gal as it goes on",
        )
        .then(
            "",
            step(0, "gal") / (fixed(1.0, "") + book(water, "", "primer.dilution, parts of water")),
            "gal of concentrate",
        )
        .note(format!("thinned {}", coatings.primer_dilution))
}

/// A key of the book.
type Key = &'static str;

/// Area x texture x coats / coverage; coats and coverage with their keys in the book.
#[must_use]
pub fn coats(
    area: Area,
    texture: Factor,
    (coats, coats_key): (Count, Key),
    (coverage, coverage_key): (Coverage, Key),
) -> Sum {
    let coated = num(area.square_feet(), "sq ft") * book(texture.0, "", "coating.texture");
    let spread = coated * book(f64::from(coats.0), "coats", coats_key);
    Sum::default()
        .then("", spread / book(coverage.sq_ft_per_gallon(), "sq ft per gal", coverage_key), "gal")
        .note("area x texture factor x coats / coverage")
}

pub(super) fn lines(book: &Coatings, primed: &Measured<Area>, coated: &Measured<Area>) -> Vec<OrderLine> {
    let mut lines = vec![OrderLine::loose("primer concentrate", "gal", 2, primed.map(|&area| primer(book, area)))];
    for (item, count, coverage) in [
        ("colour", (book.colour_coats, "colour.coats"), (book.colour_coverage, "colour.coverage")),
        ("sealer", (book.sealer_coats, "sealer.coats"), (book.sealer_coverage, "sealer.coverage")),
    ] {
        if count.0.0 > 0 {
            let sum = coated.map(|&area| coats(area, book.texture, count, coverage));
            lines.push(OrderLine::loose(item, "gal", 2, sum));
        }
    }
    lines
}
