//! What it weighs, wet on the day and cured, and what the floor is asked to carry.

use cragskin_geom::units::{Density, Volume};

use super::{
    Measured, Measures, OrderLine,
    floor::{self, Pounds},
    lath,
    sum::{Expr, Sum, book, fixed, num},
};
use crate::book::{Book, WATER};

fn mass(volume: Volume, density: Density, key: &'static str) -> Expr {
    num(volume.cubic_feet(), "cu ft") * book(density.pcf(), "lb per cu ft", key)
}

fn in_pounds(expr: Expr) -> Sum {
    Sum::default().then("", expr, "lb")
}

fn foam(rates: &Book, measures: &Measures) -> Measured<Sum> {
    measures.core.map(|&volume| in_pounds(mass(volume, rates.foam.density, "foam.density")))
}

/// What hangs on the job; sheets as delivered weigh more by laps and cutting.
fn hung(rates: &Book, measures: &Measures) -> Measured<Sum> {
    measures.under_lath.map(|areas| {
        let area = num(lath::area(&rates.lath, areas).square_feet(), "sq ft");
        in_pounds(area * book(rates.lath.weight.lb_per_sq_yd(), "lb per sq yd", "lath.weight") / fixed(9.0, ""))
            .note("laps and cutting not counted")
    })
}

/// Skin, foam and lath in pounds.
///
/// Where the core is what the skin leaves, foam gives way to mix that weighs ninety times as much: the sum of both errs the way the
/// skin does.
pub(super) fn pounds(rates: &Book, measures: &Measures, density: Density) -> Measured<Pounds> {
    let skin = measures.skin.map(|&volume| mass_of(volume, density));
    let foam = foam(rates, measures).map(Sum::exact);
    let foam = match (measures.whole, foam.value()) {
        (Some(_), Some(foam)) => Measured::new(*foam, measures.skin.quality().clone()),
        _ => foam,
    };
    let hung = hung(rates, measures).map(Sum::exact);
    skin.zip(&foam).zip(&hung).map(|&((skin, foam), lath)| Pounds { skin, foam, lath })
}

fn mass_of(volume: Volume, density: Density) -> f64 {
    in_pounds(mass(volume, density, "")).exact()
}

pub(super) fn lines(rates: &Book, measures: &Measures) -> Vec<OrderLine> {
    let skin = |density: Density, key| measures.skin.map(|&volume| in_pounds(mass(volume, density, key)));
    let (wet, cured) = (rates.mix.wet_density, rates.mix.cured_density);
    let water = measures.standing_water.map(|water| (water * WATER).pounds());
    let [wet_pounds, cured_pounds] = [wet, cured].map(|density| pounds(rates, measures, density));
    let total = |pounds: &Measured<Pounds>| {
        pounds.map(|all| {
            let dry = num(all.skin, "lb skin") + num(all.foam, "lb foam") + num(all.lath, "lb lath");
            in_pounds(match water {
                Some(water) => dry + num(water, "lb water"),
                None => dry,
            })
        })
    };
    let (total_wet, total_cured) = (total(&wet_pounds), total(&cured_pounds));
    let floor = |item, pounds: &Measured<Pounds>, total: &Measured<Sum>| {
        Some(floor::line(item, rates, measures.footing.as_ref()?, pounds, &total.map(Sum::exact)))
    };
    let floors = [
        floor("floor load, wet on the day", &wet_pounds, &total_wet),
        floor("floor load, cured", &cured_pounds, &total_cured),
    ];
    let cured = skin(cured, "mix.cured_density")
        .map(|sum| sum.clone().note("mix that the carver takes off is not taken off here"));
    let mut lines: Vec<OrderLine> = [
        ("skin, wet", skin(wet, "mix.wet_density")),
        ("skin, cured", cured),
        ("foam core", foam(rates, measures)),
        ("lath as hung", hung(rates, measures)),
        ("total, wet on the day", total_wet),
        ("total, cured", total_cured),
    ]
    .into_iter()
    .map(|(item, sum)| OrderLine::loose(item, "lb", 0, sum))
    .collect();
    lines.extend(floors.into_iter().flatten());
    lines
}
