//! Primer, colour, sealer.

use crate::book::Book;
use crate::figure::{BookKey, FigureId, Figures, Line, book, constant, figure, said};

/// Primer as it goes on, then what of it is concentrate; colour and sealer by area x texture x coats / coverage.
pub(super) fn add(by: &Book, figures: &mut Figures) {
    let coatings = &by.coatings;
    let goes_on = figure(FigureId::PrimedArea) / book(BookKey::PrimerCoverage);
    figures.reckon(by, Line::new(FigureId::ThinnedPrimer, goes_on));
    let concentrate = figure(FigureId::ThinnedPrimer) / (constant(1.0) + book(BookKey::PrimerDilution));
    let thinned = format!("thinned {}", coatings.primer_dilution);
    figures.reckon(by, Line::new(FigureId::Primer, concentrate).note(thinned));
    for (id, count, coats, coverage) in [
        (FigureId::Colour, coatings.colour_coats, BookKey::ColourCoats, BookKey::ColourCoverage),
        (FigureId::Sealer, coatings.sealer_coats, BookKey::SealerCoats, BookKey::SealerCoverage),
    ] {
        if count.0 > 0 {
            let coated = said(FigureId::CoatedArea, "sq ft") * book(BookKey::Texture) * book(coats);
            let line = Line::new(id, coated / book(coverage)).note("area x texture factor x coats / coverage");
            figures.reckon(by, line);
        }
    }
}
