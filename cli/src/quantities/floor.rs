//! What the floor is asked to carry, foot by foot.
//!
//! Each foot carries its share of every weight by statics ([`cragskin_geom::footing::shares`]); the worst one is the figure. The
//! load over the hull of all feet stands beside it as a remark: no floor feels it.

use super::{Grade, Measured, Quality};
use crate::book::Book;
use crate::figure::{Expr, FigureId, Figures, Line, Quantity, State, figure, largest, said};
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

impl Bearing {
    fn pounds(&self, [skin, foam, lath]: [f64; 3]) -> f64 {
        (skin + lath) * self.of_skin + foam * self.of_foam
    }
}

impl Footing {
    /// One foot that carries all.
    #[must_use]
    pub fn one(area: Area) -> Self {
        let foot = Foot { area, middle: nalgebra::Vector2::zeros(), size: [Length::ZERO; 2] };
        Self { feet: vec![Bearing { foot, of_skin: 1.0, of_foam: 1.0 }], hull: area }
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
    let weights = pounds(figures, State::Wet).map(|(weights, _)| weights);
    weights.map_or_else(Vec::new, |weights| footing.feet.iter().map(|bearing| bearing.pounds(weights)).collect())
}
