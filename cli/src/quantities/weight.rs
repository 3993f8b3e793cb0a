//! What it weighs, wet on the day and cured, and what the floor is asked to carry.

use cragskin_geom::units::{Density, Volume};

use super::{
    Grade, Measured, Measures, OrderLine, lath,
    sum::{Expr, Sum, book, fixed, num},
};
use crate::book::{Book, WATER};

fn mass(volume: Volume, density: Density, key: &'static str) -> Expr {
    num(volume.cubic_feet(), "cu ft") * book(density.pcf(), "lb per cu ft", key)
}

pub(super) fn lines(rates: &Book, measures: &Measures) -> Vec<OrderLine> {
    let sum = |expr: Expr| Sum::default().then("", expr, "lb");
    let skin = |density: Density, key| measures.skin.map(|&volume| sum(mass(volume, density, key)));
    let wet = skin(rates.mix.wet_density, "mix.wet_density");
    let cured = skin(rates.mix.cured_density, "mix.cured_density")
        .map(|sum| sum.clone().note("mix that the carver takes off is not taken off here"));
    let foam = measures.core.map(|&volume| sum(mass(volume, rates.foam.density, "foam.density")));
    // What hangs on the job; sheets as delivered weigh more by laps and cutting.
    let hung = measures.under_lath.map(|areas| {
        let area = num(lath::area(&rates.lath, areas).square_feet(), "sq ft");
        sum(area * book(rates.lath.weight.lb_per_sq_yd(), "lb per sq yd", "lath.weight") / fixed(9.0, ""))
            .note("laps and cutting not counted")
    });
    // Where the core is what the skin leaves, foam gives way to mix that weighs ninety times as much: the sum of both errs the
    // way the skin does.
    let foam_beside = match (measures.whole, foam.value()) {
        (Some(_), Some(sum)) => Measured::new(sum.clone(), measures.skin.quality().clone()),
        _ => foam.clone(),
    };
    let pounds = |m: &Measured<Sum>| m.map(Sum::exact);
    let water = (measures.standing_water * WATER).pounds();
    let total = |skin: &Measured<Sum>| {
        pounds(skin).zip(&pounds(&foam_beside)).zip(&pounds(&hung)).map(|&((skin, foam), lath)| {
            let dry = num(skin, "lb skin") + num(foam, "lb foam") + num(lath, "lb lath");
            sum(if water > 0.0 { dry + num(water, "lb water") } else { dry })
        })
    };
    let (total_wet, total_cured) = (total(&wet), total(&cured));
    let floor = |item, total: &Measured<Sum>| {
        let footprint = measures.footprint.clone()?.as_divisor();
        let both = pounds(total).zip(&footprint);
        let grade = both.quality().grade;
        let load = both.map(|&(weight, area)| {
            let limit = rates.floor_ask_limit.psf();
            let load = num(weight, "lb") / num(area.square_feet(), "sq ft");
            let sum = Sum::default().then("", load, "lb per sq ft");
            // A weight that may be too low is never called below the limit.
            let above = match sum.exact() > limit {
                true => "above it: ask the engineer",
                false if grade == Grade::Good || grade == Grade::UpperBound => "not above it",
                false => "may be above it: ask the engineer",
            };
            sum.note(format!("the book asks at {limit:.0}; {above}"))
        });
        Some(OrderLine::loose(item, "lb/sq ft", 1, load))
    };
    let floors = [floor("floor load, wet on the day", &total_wet), floor("floor load, cured", &total_cured)];
    let mut lines: Vec<OrderLine> = [
        ("skin, wet", wet),
        ("skin, cured", cured),
        ("foam core", foam),
        ("lath as hung", hung),
        ("total, wet on the day", total_wet),
        ("total, cured", total_cured),
    ]
    .into_iter()
    .map(|(item, sum)| OrderLine::loose(item, "lb", 0, sum))
    .collect();
    lines.extend(floors.into_iter().flatten());
    lines
}
