//! Primer, colour, sealer.

use cragskin_geom::units::{Area, Coverage};

use super::{
    Measured, OrderLine,
    sum::{Sum, fixed, num, step},
};
use crate::{
    book::Coatings,
    settings::{Count, Factor},
};

/// Primer as it goes on, then what of it is concentrate.
fn primer(book: &Coatings, area: Area) -> Sum {
    let water = book.primer_dilution.0;
    Sum::default()
        .then(
            "",
            num(area.square_feet(), "sq ft") / fixed(book.primer_coverage.sq_ft_per_gallon(), "sq ft per gal"),
            "gal as it goes on",
        )
        .then("", step(0, "gal") / (fixed(1.0, "") + fixed(water, "")), "gal of concentrate")
        .note(format!("thinned {}", book.primer_dilution))
}

/// Area x texture x coats / coverage.
#[must_use]
pub fn coats(area: Area, texture: Factor, coats: Count, coverage: Coverage) -> Sum {
    let spread = num(area.square_feet(), "sq ft") * fixed(texture.0, "") * fixed(f64::from(coats.0), "coats");
    Sum::default()
        .then("", spread / fixed(coverage.sq_ft_per_gallon(), "sq ft per gal"), "gal")
        .note("area x texture factor x coats / coverage")
}

pub(super) fn lines(book: &Coatings, primed: &Measured<Area>, coated: &Measured<Area>) -> Vec<OrderLine> {
    let mut lines = vec![OrderLine::loose("primer concentrate", "gal", 2, primed.map(|&area| primer(book, area)))];
    for (item, count, coverage) in
        [("colour", book.colour_coats, book.colour_coverage), ("sealer", book.sealer_coats, book.sealer_coverage)]
    {
        if count.0 > 0 {
            let sum = coated.map(|&area| coats(area, book.texture, count, coverage));
            lines.push(OrderLine::loose(item, "gal", 2, sum));
        }
    }
    lines
}
