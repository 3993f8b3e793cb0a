//! What the floor is asked to carry, foot by foot.
//!
//! Each foot carries its share of every weight by statics ([`cragskin_geom::footing::shares`]); the worst one is the figure. The
//! load over the hull of all feet stands beside it as a remark: no floor feels it.

use super::{Grade, Measured, Quality};
use crate::book::Book;
use crate::figure::{Expr, FigureId, Figures, Line, Quantity, State, figure, largest, said};
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

impl Bearing {
    fn pounds(&self, [skin, foam, lath]: [f64; 3]) -> f64 {
        (skin + lath) * self.of_skin + foam * self.of_foam
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
    fn tips(&self, [skin, foam, lath]: [f64; 3]) -> Option<String> {
        let skin = skin + lath;
        let at = (self.skin_at * skin + self.foam_at * foam) / (skin + foam);
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

    fn measure(&self, figures: &mut Figures) {
        for (k, Bearing { foot, of_skin, of_foam }) in self.feet.iter().enumerate() {
            let [area, skin, foam] = [Quantity::Area(foot.area), Quantity::Count(*of_skin), Quantity::Count(*of_foam)];
            figures.measure(FigureId::FootArea(k), &Measured::good(area));
            figures.measure(FigureId::FootOfSkin(k), &Measured::good(skin));
            figures.measure(FigureId::FootOfFoam(k), &Measured::good(foam));
        }
    }

    /// The load of a foot.
    fn load(&self, foot: usize, state: State) -> Expr {
        let area = figure(FigureId::FootArea(foot));
        if self.feet.len() == 1 {
            return figure(FigureId::TotalWeight(state)) / area;
        }
        let skin = said(FigureId::SkinWeight(state), "lb skin") + said(FigureId::LathWeight, "lb lath");
        let foam = said(FigureId::FoamWeight, "lb foam") * figure(FigureId::FootOfFoam(foot));
        (skin * figure(FigureId::FootOfSkin(foot)) + foam) / area
    }

    /// Which feet lift, by their numbers; none where none does.
    fn lifted(&self, weights: [f64; 3], total: f64) -> Option<String> {
        let feet = (1..).zip(&self.feet).filter(|(_, bearing)| bearing.pounds(weights) < -1e-9 * total);
        let feet: Vec<String> = feet.map(|(number, _)| number.to_string()).collect();
        (!feet.is_empty())
            .then(|| format!("foot {} lifts off unless it is held down: the piece tips", feet.join(" and ")))
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

/// A weight that may be too low is never called below the limit, one that may be too high never above it.
fn verdict(rates: &Book, psf: f64, grade: Grade) -> String {
    let limit = rates.floor_ask_limit.psf();
    let above = match (psf > limit, grade) {
        (true, Grade::Good | Grade::LowerBound) => "above it: ask the engineer",
        (false, Grade::Good | Grade::UpperBound) => "not above it",
        _ => "may be above it: ask the engineer",
    };
    format!("the book asks at {limit:.0}; {above}")
}

/// Skin, foam and lath in pounds, and all of it; none where that is not defined.
fn pounds(figures: &Figures, state: State) -> Option<([f64; 3], f64)> {
    let all = figures.exact(FigureId::TotalWeight(state))?;
    let [skin, foam, lath] =
        [FigureId::SkinWeight(state), FigureId::FoamWeight, FigureId::LathWeight].map(|id| figures.exact(id));
    Some(([skin?, foam?, lath?], all))
}

/// The loads of the worst foot, graded by whether another one lifts.
pub(super) fn add(by: &Book, footing: &Measured<Footing>, figures: &mut Figures) {
    if let Some(footing) = footing.value() {
        footing.measure(figures);
    }
    for state in [State::Wet, State::Cured] {
        let id = FigureId::FloorLoad(state);
        let Some(of_total) = figures.get(FigureId::TotalWeight(state)).map(|total| total.quality.clone()) else {
            continue;
        };
        let Some(feet) = footing.value() else {
            figures.undefined(id, footing.quality().reason.clone());
            continue;
        };
        let Some((weights, total)) = pounds(figures, state) else {
            figures.undefined(id, of_total.reason);
            continue;
        };
        if let Some(why) = feet.tips(weights) {
            figures.undefined(id, why);
            continue;
        }
        let loads = (0..feet.feet.len()).map(|foot| FigureId::FootLoad(state, foot));
        for (foot, id) in loads.clone().enumerate() {
            figures.reckon(by, Line::new(id, feet.load(foot, state)).worth(of_total.clone()));
        }
        let Some((worst, load)) = largest(loads.clone().filter_map(|id| figures.exact(id))) else {
            figures.undefined(id, "");
            continue;
        };
        let lifted = feet.lifted(weights, total);
        let of_feet = lifted.clone().map_or_else(Quality::good, |why| Quality::new(Grade::LowerBound, why));
        let of_feet = of_feet.and(footing.quality().clone());
        let grade = Quality::new(of_total.grade, "").and(of_feet.clone()).grade;
        let words = [verdict(by, load, grade)].into_iter().chain(feet.words(worst, total)).chain(lifted);
        let line = Line::new(id, Expr::Largest(loads.map(figure).collect()))
            .note(words.collect::<Vec<_>>().join("; "))
            .worth(of_total.and(of_feet));
        figures.reckon(by, line);
    }
}

/// Each foot and what it carries in pounds when wet; empty where that is not defined.
#[must_use]
pub fn carried(footing: &Footing, figures: &Figures) -> Vec<f64> {
    let weights =
        pounds(figures, State::Wet).map(|(weights, _)| weights).filter(|weights| footing.tips(*weights).is_none());
    weights.map_or_else(Vec::new, |weights| footing.feet.iter().map(|bearing| bearing.pounds(weights)).collect())
}
