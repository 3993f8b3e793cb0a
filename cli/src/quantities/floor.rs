//! What the floor is asked to carry, foot by foot.
//!
//! Each foot carries its share of every weight by statics ([`cragskin_geom::footing::shares`]); the worst one is the figure. The
//! load over the hull of all feet stands beside it as a remark: no floor feels it.

use super::{Grade, Measured, OrderLine, Quality, sum::Sum, sum::num};
use crate::book::Book;
use cragskin_geom::footing::Foot;
use cragskin_geom::units::{Area, Length};

/// The feet and their shares.
#[derive(Clone, Debug, PartialEq)]
pub struct Footing {
    /// From left to right.
    pub feet: Vec<Bearing>,
    /// Area of the convex hull of all feet.
    pub hull: Area,
}

/// A foot and what it carries.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bearing {
    /// The foot.
    pub foot: Foot,
    /// Its share of the skin's weight, and of the lath's in it.
    pub of_skin: f64,
    /// Its share of the foam's weight.
    pub of_foam: f64,
}

/// Weights in pounds: skin, foam, lath.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pounds {
    pub(super) skin: f64,
    pub(super) foam: f64,
    pub(super) lath: f64,
}

impl Bearing {
    fn pounds(&self, of: &Pounds) -> f64 {
        (of.skin + of.lath) * self.of_skin + of.foam * self.of_foam
    }
}

impl Footing {
    /// One foot that carries all.
    #[must_use]
    pub fn one(area: Area) -> Self {
        let foot = Foot { area, middle: nalgebra::Vector2::zeros(), size: [Length::ZERO; 2] };
        Self { feet: vec![Bearing { foot, of_skin: 1.0, of_foam: 1.0 }], hull: area }
    }

    /// The load of the worst foot, graded by whether another one lifts.
    fn load(&self, rates: &Book, weights: &Pounds, total: f64, grade: Grade) -> Measured<Sum> {
        let load = |bearing: &Bearing| bearing.pounds(weights) / bearing.foot.area.square_feet();
        // The first of equals, so that a hair does not choose.
        let worst =
            self.feet.iter().enumerate().fold(0, |best, (k, bearing)| {
                if load(bearing) > load(&self.feet[best]) * (1.0 + 1e-9) { k } else { best }
            });
        let Some(bearing) = self.feet.get(worst) else { return Measured::not_defined("it has no foot") };
        let area = num(bearing.foot.area.square_feet(), "sq ft");
        let load = match self.feet.len() {
            1 => num(total, "lb") / area,
            _ => {
                let skin = num(weights.skin, "lb skin") + num(weights.lath, "lb lath");
                (skin * num(bearing.of_skin, "") + num(weights.foam, "lb foam") * num(bearing.of_foam, "")) / area
            }
        };
        let sum = Sum::default().then("", load, "lb per sq ft");
        let lifted: Vec<String> = (1..)
            .zip(&self.feet)
            .filter(|(_, bearing)| bearing.pounds(weights) < -1e-9 * total)
            .map(|(k, _)| k.to_string())
            .collect();
        let quality = match lifted.is_empty() {
            true => Quality::good(),
            false => Quality::new(
                Grade::LowerBound,
                format!("foot {} lifts off unless it is held down: the piece tips", lifted.join(" and ")),
            ),
        };
        let grade = Quality::new(grade, "").and(quality.clone()).grade;
        let note = [verdict(rates, sum.exact(), grade)].into_iter().chain(self.words(worst, total));
        let note: Vec<String> = note.chain((!lifted.is_empty()).then(|| quality.reason.clone())).collect();
        Measured::new(sum.note(note.join("; ")), quality)
    }

    /// Which foot it is, and what the hull would say.
    fn words(&self, worst: usize, total: f64) -> Vec<String> {
        let foot = &self.feet[worst].foot;
        if self.feet.len() == 1 {
            return Vec::new();
        }
        let [x, y] = [foot.middle.x, foot.middle.y].map(Length::from_metres);
        let hull = self.hull.square_feet();
        vec![
            format!(
                "worst of {} feet: foot {}, its middle {x} from left and {y} from front",
                self.feet.len(),
                worst + 1
            ),
            format!(
                "over the hull of all feet, {hull:.3} sq ft, it would read {:.1}, which no foot feels",
                total / hull
            ),
        ]
    }
}

/// A weight that may be too low is never called below the limit.
fn verdict(rates: &Book, psf: f64, grade: Grade) -> String {
    let limit = rates.floor_ask_limit.psf();
    let above = match psf > limit {
        true => "above it: ask the engineer",
        false if grade == Grade::Good || grade == Grade::UpperBound => "not above it",
        false => "may be above it: ask the engineer",
    };
    format!("the book asks at {limit:.0}; {above}")
}

/// The line of the worst foot.
pub(super) fn line(
    item: &'static str,
    rates: &Book,
    footing: &Measured<Footing>,
    weights: &Measured<Pounds>,
    total: &Measured<f64>,
) -> OrderLine {
    let all = weights.zip(total);
    let load = match (all.value(), footing.value()) {
        (Some((pounds, total)), Some(feet)) => {
            let grade = all.quality().clone().and(footing.quality().clone()).grade;
            let load = feet.load(rates, pounds, *total, grade);
            let quality = all.quality().clone().and(load.quality().clone()).and(footing.quality().clone());
            load.value().map_or_else(|| Measured::not_defined(""), |sum| Measured::new(sum.clone(), quality))
        }
        (_, None) => Measured::not_defined(footing.quality().reason.clone()),
        (None, _) => Measured::not_defined(all.quality().reason.clone()),
    };
    OrderLine::loose(item, "lb/sq ft", 1, load)
}

/// Each foot and what it carries in pounds when wet; empty where that is not defined.
#[must_use]
pub fn carried(rates: &Book, measures: &super::Measures) -> Vec<(Foot, f64)> {
    let Some(footing) = measures.footing.as_ref().and_then(Measured::value) else { return Vec::new() };
    let weights = super::weight::pounds(rates, measures, rates.mix.wet_density);
    let Some(weights) = weights.value() else { return Vec::new() };
    footing.feet.iter().map(|bearing| (bearing.foot, bearing.pounds(weights))).collect()
}
