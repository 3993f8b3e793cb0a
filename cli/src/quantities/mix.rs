//! Bags and their water.

use crate::book::Placing;
use crate::book::{Book, Reckoning};
use crate::figure::{BookKey, Expr, FigureId, Figures, Line, Unit, book, constant, figure, folded, said};

/// Bags by the yield of one, and their water.
pub(super) fn add(by: &Book, figures: &mut Figures) {
    let mix = &by.mix;
    let wetted = book(BookKey::BagMass) + book(BookKey::Water);
    figures.reckon(by, Line::new(FigureId::BagYield, wetted / book(BookKey::WetDensity)));
    let (share, placing) = (mix.waste(), mix.placing);
    let waste = book(match placing {
        Placing::Trowel => BookKey::WasteTrowel,
        Placing::Spray => BookKey::WasteSpray,
    });
    let net = figure(FigureId::SkinVolume);
    let (made, words) = match mix.waste_reckoned {
        Reckoning::Added => (net * folded(constant(1.0) + waste), format!("{share} added for waste, {placing}")),
        Reckoning::Lost => {
            (net / folded(constant(1.0) - waste), format!("{share} of what is mixed is lost, {placing}"))
        }
    };
    figures.reckon(by, Line::new(FigureId::Mix, made / said(FigureId::BagYield, "cu ft")).note(words));
    // Every bag that is bought is mixed whole, so water follows the packages.
    let water = Expr::Packages(FigureId::Mix) * Expr::Book(BookKey::Water, Unit::Gal);
    figures.reckon(by, Line::new(FigureId::MixingWater, water));
}
