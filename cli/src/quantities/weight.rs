//! What it weighs, wet on the day and cured, and what the floor is asked to carry.

use super::{Measures, Quality, floor};
use crate::book::Book;
use crate::figure::{BookKey, Expr, FigureId, Figures, Line, State, book, constant, figure, said};

fn skin(state: State) -> Expr {
    let density = match state {
        State::Wet => BookKey::WetDensity,
        State::Cured => BookKey::CuredDensity,
    };
    figure(FigureId::SkinVolume) * book(density)
}

/// Skin, foam and lath together, and water where some stands.
///
/// Where the core is what the skin leaves, foam gives way to mix that weighs ninety times as much: the sum of both errs the way the
/// skin does, and as the piece as a whole does.
fn total(by: &Book, measures: &Measures, state: State, figures: &mut Figures) {
    let parts = [FigureId::SkinWeight(state), FigureId::FoamWeight, FigureId::LathWeight];
    let dry = said(parts[0], "lb skin") + said(parts[1], "lb foam") + said(parts[2], "lb lath");
    let all = match measures.standing_water {
        Some(_) => dry + said(FigureId::WaterWeight, "lb water"),
        None => dry,
    };
    let worth = parts.into_iter().filter_map(|id| figures.get(id)).map(|figure| match &measures.whole {
        Some(whole) if figure.id == FigureId::FoamWeight && figure.exact.is_some() => whole.quality().clone(),
        _ => figure.quality.clone(),
    });
    if let Some(worth) = worth.reduce(Quality::and) {
        figures.reckon(by, Line::new(FigureId::TotalWeight(state), all).worth(worth));
    }
}

pub(super) fn add(by: &Book, measures: &Measures, figures: &mut Figures) {
    // Sheets as delivered weigh more by laps and cutting.
    let hung = said(FigureId::LathArea, "sq ft") * book(BookKey::LathWeight) / constant(9.0);
    let foam = figure(FigureId::CoreVolume) * book(BookKey::FoamDensity);
    let cured = "mix that the carver takes off is not taken off here";
    figures.reckon(by, Line::new(FigureId::SkinWeight(State::Wet), skin(State::Wet)));
    figures.reckon(by, Line::new(FigureId::SkinWeight(State::Cured), skin(State::Cured)).note(cured));
    figures.reckon(by, Line::new(FigureId::FoamWeight, foam));
    figures.reckon(by, Line::new(FigureId::LathWeight, hung).note("laps and cutting not counted"));
    [State::Wet, State::Cured].into_iter().for_each(|state| total(by, measures, state, figures));
    if let Some(footing) = &measures.footing {
        floor::add(by, footing, figures);
    }
}
