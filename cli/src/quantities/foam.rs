//! Foam by volume.

use super::Measures;
use crate::book::Book;
use crate::figure::{FigureId, Figures, Line, said};

/// Net foam; how many billets it takes depends on layers and nesting, so volume gives no count of them.
pub(super) fn add(by: &Book, measures: &Measures, figures: &mut Figures) {
    let (whole, drawn) = match measures.closed_as_asked {
        true => ("cu ft whole, closed as asked", "cu ft, the model closed as asked"),
        false => ("cu ft whole", "cu ft, the model as drawn"),
    };
    let core = match measures.whole {
        Some(_) => said(FigureId::WholeVolume, whole) - said(FigureId::TakenBySkin, "cu ft skin"),
        None => said(FigureId::CoreVolume, drawn),
    };
    let net = Line::new(FigureId::Foam, core).note("net foam; billets follow from the layers, not from the volume");
    figures.reckon(by, net);
}
