use std::collections::BTreeSet;

use super::*;

#[test]
fn what_a_limit_may_watch_has_a_name_of_its_own() {
    let names: BTreeSet<&str> = FigureId::WATCHED.into_iter().filter_map(|id| id.row().limit).collect();
    assert_eq!(names.len(), FigureId::WATCHED.len());
}

#[test]
fn after_one_there_is_no_plural() {
    let told = |unit: Unit, n: f64| format!("{n} {}", unit.after(n));
    assert_eq!([1.0, 2.0, 0.0].map(|n| told(Unit::Bag, n)), ["1 bag", "2 bags", "0 bags"]);
    assert_eq!([1.0, 2.0].map(|n| told(Unit::Each, n)), ["1 each", "2 each"]);
    assert_eq!([1.0, 2.0].map(|n| told(Unit::Gal, n)), ["1 gal", "2 gal"]);
}

// A gallon of water weighs 8.345 lb (1000 kg/m3 and 231 cu in).
#[test]
fn a_quantity_is_read_in_the_units_of_its_kind() {
    let water = Unit::Lb.of(8.345_404);
    assert!((water.number_in(Unit::Gal) - 1.0).abs() < 1e-6 && water.number_in(Unit::Ft).is_nan());
    assert!((Unit::Ft.of_si(0.3048).number_in(Unit::In) - 12.0).abs() < 1e-12);
}

#[test]
fn a_tie_goes_to_the_first() {
    assert_eq!(largest([1.0, 3.0, 3.0 + 1e-12, 2.0]), Some((1, 3.0)));
    assert_eq!(largest([]), None);
}

// 8 x 1.5 / 2 = 6, of which a step makes 8 / 2 = 4 first.
#[test]
fn a_sum_tells_its_steps_first() {
    let book = Book::built_in().unwrap();
    let mut figures = Figures::default();
    figures.measure(FigureId::PrimedArea, &Measured::good(Unit::SqFt.of(8.0)));
    let step = figure(FigureId::PrimedArea) / constant(2.0);
    figures.reckon(&book, Line::new(FigureId::ThinnedPrimer, step));
    let line = figure(FigureId::ThinnedPrimer) * folded(constant(1.0) + constant(0.5));
    figures.reckon(&book, Line::new(FigureId::Primer, line).note("noted"));
    let primer = figures.get(FigureId::Primer).unwrap();
    assert_eq!(primer.sum, "8 sq ft / 2 = 4 gal as it goes on; 4 gal x 1.5 = 6.00 gal of concentrate (noted)");
    assert_eq!(primer.exact, Some(6.0));
}

#[test]
fn a_figure_is_worth_the_least_of_those_in_it() {
    let book = Book::built_in().unwrap();
    let mut figures = Figures::default();
    figures.measure(FigureId::SkinVolume, &Measured::new(Unit::CuFt.of(2.0), Quality::new(Grade::LowerBound, "holes")));
    figures.measure(FigureId::CoreVolume, &Measured::not_defined("open"));
    figures.reckon(&book, Line::new(FigureId::SkinWeight(State::Wet), figure(FigureId::SkinVolume)));
    figures.reckon(&book, Line::new(FigureId::FoamWeight, figure(FigureId::SkinVolume) + figure(FigureId::CoreVolume)));
    let [skin, foam] = [FigureId::SkinWeight(State::Wet), FigureId::FoamWeight].map(|id| figures.get(id).unwrap());
    assert_eq!((skin.exact, skin.quality.to_string()), (Some(2.0), "lower bound: holes".to_owned()));
    assert_eq!((foam.exact, foam.sum.as_str()), (None, "not defined: open"));
}
