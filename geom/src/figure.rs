//! Scale figures: separate slender bodies that stand upright, as people do. Designers draw them to show the size; nobody coats them.

use crate::bodies::Bodies;
use crate::drawing::Model;
use crate::soundness::{Body, Checked};
use crate::units::Length;
use nalgebra::Point3;

/// Height of a figure that stands for a grown person. Common practice, no source; figures are drawn from 5 to 6.5 ft.
pub const HEIGHT: [Length; 2] = [Length::from_feet(5.0), Length::from_feet(6.5)];
/// Wider side of its box over its height: arms at the sides to arms akimbo. Common practice, no source.
const WIDTH: [f64; 2] = [0.15, 0.6];
/// Narrower side of its box over its height.
const DEPTH: [f64; 2] = [0.08, 0.45];
/// A figure has less than this share of the whole area: what is most of the model is the model.
const MOST_OF_THE_AREA: f64 = 0.4;
/// More bodies of that shape than this are no figures but a row of posts.
const MOST: usize = 4;

/// A body, or all bodies of a part, in the shape of a standing person. Lengths in the unit of the mesh.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Its bodies.
    pub bodies: Vec<u32>,
    /// The part, when the part is nothing else.
    pub part: Option<u32>,
    /// Low corner of its box.
    pub low: Point3<f64>,
    /// High corner of its box.
    pub high: Point3<f64>,
    /// Its area.
    pub area: f64,
}

impl Figure {
    /// Height in the unit of the mesh.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.high.z - self.low.z
    }

    /// Whether a body of this height stands for a grown person.
    #[must_use]
    pub fn is_as_high_as_a_person(height: Length) -> bool {
        (HEIGHT[0]..=HEIGHT[1]).contains(&height)
    }
}

/// Figures of any height: in a file without a unit they tell what the unit may be. O(n).
#[must_use]
pub fn slender(checked: &Checked) -> Vec<Figure> {
    slender_in(&checked.model, &checked.bodies, &checked.body_facts)
}

/// Figures as high as people, in a model whose unit is known. O(n).
#[must_use]
pub fn people(checked: &Checked) -> Vec<Figure> {
    let mut found = slender(checked);
    found.retain(|figure| Figure::is_as_high_as_a_person(Length::from_metres(figure.height())));
    found
}

fn slender_in(model: &Model, bodies: &Bodies, facts: &[Body]) -> Vec<Figure> {
    let mesh = model.mesh();
    let whole: f64 = facts.iter().map(|body| body.area).sum();
    // The part that a body is of, if of one alone, and the bodies of each part.
    let mut part_of: Vec<Option<u32>> = vec![None; facts.len()];
    let mut mixed = vec![false; facts.len()];
    for (face, &body) in bodies.by_face().iter().enumerate() {
        let (part, at) = (mesh.part_of(face), body as usize);
        mixed[at] |= part_of[at].is_some_and(|other| other != part);
        part_of[at] = Some(part);
    }
    let mut parts: Vec<Vec<usize>> = vec![Vec::new(); model.parts().len()];
    let mut pure = vec![true; parts.len()];
    for (body, part) in part_of.iter().enumerate() {
        let Some(part) = part else { continue };
        parts[*part as usize].push(body);
        pure[*part as usize] &= !mixed[body];
    }
    let figure = |part: Option<u32>, members: &[usize]| {
        let first = &facts[*members.first()?];
        let (mut low, mut high, mut area) = (first.low, first.high, 0.0);
        for body in members.iter().map(|k| &facts[*k]) {
            (low, high, area) = (low.inf(&body.low), high.sup(&body.high), area + body.area);
        }
        let size = high - low;
        let share = |length: f64, [least, most]: [f64; 2]| (least..=most).contains(&(length / size.z));
        let fits = share(size.x.max(size.y), WIDTH) && share(size.x.min(size.y), DEPTH);
        let bodies = || members.iter().map(|k| *k as u32).collect();
        (fits && area < MOST_OF_THE_AREA * whole).then(|| Figure { bodies: bodies(), part, low, high, area })
    };
    let mut found = Vec::new();
    let several = parts.iter().filter(|members| !members.is_empty()).count() > 1;
    for (part, members) in (0..).zip(&parts) {
        let as_a_whole = (several && pure[part as usize]).then(|| figure(Some(part), members)).flatten();
        match as_a_whole {
            Some(figure) => found.push(figure),
            None => {
                found.extend(members.iter().filter(|body| !mixed[**body]).filter_map(|body| figure(None, &[*body])))
            }
        }
    }
    if found.len() > MOST { Vec::new() } else { found }
}
