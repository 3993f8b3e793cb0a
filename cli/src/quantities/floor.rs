//! What the floor is asked to carry, foot by foot.
//!
//! Each foot carries its share of every weight by statics ([`cragskin_geom::footing::shares`]); the worst one is the figure. The
//! load over the hull of all feet stands beside it as a remark: no floor feels it.

use super::{Grade, Measured, OrderLine, Quality, sum::Sum, sum::num};
use crate::book::Book;
use cragskin_geom::footing::{Foot, Hull};
use cragskin_geom::units::{Area, Length};
use nalgebra::Vector2;

/// The feet and their shares. Places in plan, metres from the low left front corner.
#[derive(Clone, Debug, PartialEq)]
pub struct Footing {
    /// From left to right.
    pub feet: Vec<Bearing>,
    /// The convex hull of all feet.
    pub hull: Hull,
    /// Where the skin's weight acts, and that of the lath in it.
    pub skin_at: Vector2<f64>,
    /// Where the foam's weight acts.
    pub foam_at: Vector2<f64>,
    /// Where it touches the floor in points or lines beside the feet.
    pub touches: Vec<Vector2<f64>>,
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
        let foot = Foot { area, middle: Vector2::zeros(), size: [Length::ZERO; 2] };
        let half = area.square_metres().sqrt() / 2.0;
        let hull =
            Hull::of([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]].map(|c| Vector2::from(c) * half).to_vec());
        let [skin_at, foam_at] = [Vector2::zeros(); 2];
        Self { feet: vec![Bearing { foot, of_skin: 1.0, of_foam: 1.0 }], hull, skin_at, foam_at, touches: Vec::new() }
    }

    /// Why the feet alone do not carry these weights, if they do not: their centre lies outside the hull of the feet, so the piece
    /// tips over its edge whatever the feet press (statics).
    fn tips(&self, weights: &Pounds) -> Option<String> {
        let skin = weights.skin + weights.lath;
        let at = (self.skin_at * skin + self.foam_at * weights.foam) / (skin + weights.foam);
        let out = self.hull.outside_by(at);
        if out.metres().is_nan() || out <= DRAWN_WITHIN {
            return None;
        }
        let feet = if self.feet.len() == 1 { "its only foot" } else { "the hull of its feet" };
        let place = place(&at);
        Some(match self.touches.is_empty() {
            true => {
                format!("its weight acts {out} outside {feet}, {place}: it tips unless it is held. How is it held?")
            }
            false => format!(
                "its weight acts {out} outside {feet}, {place}, so it also stands on points or lines, {}: how is it bedded there?",
                self.touched()
            ),
        })
    }

    /// The first places that it touches in points or lines.
    fn touched(&self) -> String {
        const SHOWN: usize = 4;
        let mut places: Vec<String> = self.touches.iter().take(SHOWN).map(place).collect();
        if self.touches.len() > SHOWN {
            places.push(format!("{} more", self.touches.len() - SHOWN));
        }
        places.join("; ")
    }

    /// The load of the worst foot, graded by whether another one lifts.
    fn load(&self, rates: &Book, weights: &Pounds, total: f64, grade: Grade) -> Measured<Sum> {
        if let Some(why) = self.tips(weights) {
            return Measured::not_defined(why);
        }
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
        let feet = self.feet.len();
        let mut words = Vec::new();
        if feet > 1 {
            let hull = self.hull.area().square_feet();
            let middle = place(&self.feet[worst].foot.middle);
            words.push(format!("worst of {feet} feet: foot {}, its middle {middle}", worst + 1));
            words.push(format!(
                "over the hull of all feet, {hull:.3} sq ft, it would read {:.1}, which no foot feels",
                total / hull
            ));
        }
        if !self.touches.is_empty() {
            let carries = if feet == 1 { "the flat foot alone carries" } else { "the flat feet alone carry" };
            words.push(format!(
                "it also touches the floor in points or lines, {}: {carries} the weight, which acts within {}, and these are taken to \
                 carry nothing",
                self.touched(),
                if feet == 1 { "it" } else { "their hull" }
            ));
        }
        words
    }
}

/// A centre of weight is no better known than the model is drawn.
const DRAWN_WITHIN: Length = Length::from_millimetres(1.0);

fn place(at: &Vector2<f64>) -> String {
    let [x, y] = [at.x, at.y].map(Length::from_metres);
    format!("{x} from left and {y} from front")
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
        (Some((pounds, total)), Some(footing)) => {
            let grade = all.quality().grade;
            let load = footing.load(rates, pounds, *total, grade);
            let quality = all.quality().clone().and(load.quality().clone());
            match load.value() {
                Some(sum) => Measured::new(sum.clone(), quality),
                None => Measured::not_defined(load.quality().reason.clone()),
            }
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
    let Some(weights) = weights.value().filter(|weights| footing.tips(weights).is_none()) else { return Vec::new() };
    footing.feet.iter().map(|bearing| (bearing.foot, bearing.pounds(weights))).collect()
}
