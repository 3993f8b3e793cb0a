//! Which way is up? What speaks for each of the six directions, when the file does not say and nobody has said.

use crate::drawing::{Axis, Model, Placing};
use crate::measure;
use crate::scope::flat_sides;
use crate::soundness::Checked;
use crate::topology::{Across, Topology};
use nalgebra::Vector3;

/// Faces that lean more than 100 degrees from up overhang: the usual limit between wall and undercut.
const OVERHANG_COSINE: f64 = -0.173_648_178; // cos 100 degrees
/// Faces within 5 degrees of straight down, as for a flat floor.
const STRAIGHT_DOWN_COSINE: f64 = 0.996_194_698; // cos 5 degrees
/// Open edges this near the lowest point, as a share of the height, are a rim at the foot.
const FOOT: f64 = 0.1;
/// Another direction fits far better by this much of the score, whose parts are shares of 1.
const FAR_BETTER: f64 = 0.3;
/// Overhang from which it is worth asking, as a share of the area.
const WORTH_ASKING: f64 = 0.1;

/// How a model stands with one of its sides up. Shares of the whole area, or of the open edges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stance {
    /// The direction that would be up: of the room (`+Z` is up as placed, `-Y` faces visitors).
    pub up: Axis,
    /// Area that would overhang. What faces straight down is not counted: a base, or the underside of a beam, which is drawn square.
    pub overhang: f64,
    /// Area of the flat base it would stand on.
    pub base: f64,
    /// Open edges that would lie at its foot.
    pub rim: f64,
}

impl Stance {
    /// More is better. Overhang counts double: a carved face has some, a piece on its side has much.
    fn score(&self) -> f64 {
        self.base + self.rim / 2.0 - 2.0 * self.overhang
    }
}

/// Another direction that fits far better than the one called up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OtherUp {
    /// As placed.
    pub now: Stance,
    /// With that direction up.
    pub better: Stance,
    /// That direction as an axis of the file.
    pub file_axis: Axis,
    /// Most of the model is open sheets: it may also be that they face visitors.
    pub is_sheet: bool,
}

/// The six stances: -X, -Y, -Z, +X, +Y, +Z of the room up. O(n).
#[must_use]
pub fn stances(checked: &Checked) -> [Stance; 6] {
    let (model, mesh) = (&checked.model, checked.model.mesh());
    let directions: [Axis; 6] = std::array::from_fn(|k| Axis { index: k % 3, negative: k < 3 });
    let sides = flat_sides(model);
    let whole = measure::area(mesh, model.diagonal(), |_| true).square_metres();
    let rims = rims(model, &checked.topology);
    std::array::from_fn(|k| {
        let up = directions[k].vector();
        // The flat side opposite of up.
        let base = sides[(k + 3) % 6].area;
        let overhangs = |face: usize| {
            let vector = as_drawn(checked, face);
            let (down, size) = (-vector.dot(&up), vector.norm());
            down > -OVERHANG_COSINE * size && down < STRAIGHT_DOWN_COSINE * size
        };
        let overhang = measure::area(mesh, model.diagonal(), overhangs).square_metres();
        let share = |area: f64| if whole > 0.0 { (area / whole).max(0.0) } else { 0.0 };
        Stance { up: directions[k], overhang: share(overhang), base: share(base), rim: rims[k] }
    })
}

/// Asks when another direction fits far better than the one called up. Lying on its back is no answer: a wall has its flat back
/// there, and a facade faces the visitor. O(n).
#[must_use]
pub fn other_up(checked: &Checked) -> Option<OtherUp> {
    let all = stances(checked);
    let now = *all.iter().find(|stance| stance.up == Axis::PLUS_Z)?;
    let others = all.iter().filter(|stance| stance.up != Axis::PLUS_Z && stance.up != Axis::MINUS_Y);
    let better = *others.max_by(|a, b| a.score().total_cmp(&b.score()))?;
    let asks = better.score() - now.score() >= FAR_BETTER
        && now.overhang >= WORTH_ASKING
        && better.overhang <= now.overhang / 2.0;
    let areas = checked.body_facts.iter().map(|body| (body.area, body.is_sheet()));
    let [open, whole] = areas.fold([0.0; 2], |[o, w], (area, open)| [o + if open { area } else { 0.0 }, w + area]);
    let file_axis = in_the_file(checked.model.placing(), better.up);
    asks.then_some(OtherUp { now, better, file_axis, is_sheet: open > whole / 2.0 })
}

/// Outward as the file has it: an open sheet that was turned to face the visitor counts as it was drawn.
fn as_drawn(checked: &Checked, face: usize) -> Vector3<f64> {
    let body = &checked.body_facts[checked.bodies.by_face()[face] as usize];
    let vector = checked.model.mesh().area_vector(face);
    if body.turned && !body.nearly_closed() { -vector } else { vector }
}

/// Of each direction up, the share of the open edges that lie at the foot.
fn rims(model: &Model, topology: &Topology) -> [f64; 6] {
    let (mesh, size) = (model.mesh(), model.size().map(crate::units::Length::metres));
    let (mut all, mut at_foot) = (0.0, [0.0; 6]);
    for (face, triangle) in mesh.triangles().iter().enumerate() {
        for side in (0..3).filter(|&side| topology.across(face, side) == Across::Open) {
            let [a, b] = [triangle[side], triangle[(side + 1) % 3]].map(|v| mesh.positions()[v as usize]);
            let length = (b - a).norm();
            all += length;
            let middle = nalgebra::center(&a, &b);
            for (k, sum) in at_foot.iter_mut().enumerate() {
                let (at, whole) = (middle[k % 3], size[k % 3]);
                // Low is the far end when the negative direction is up.
                let height = if k < 3 { whole - at } else { at };
                *sum += if height <= FOOT * whole { length } else { 0.0 };
            }
        }
    }
    at_foot.map(|sum| if all > 0.0 { sum / all } else { 0.0 })
}

/// A direction of the room as an axis of the file.
fn in_the_file(placing: Placing, room: Axis) -> Axis {
    let (depth, up) = (-placing.front.vector(), placing.up.vector());
    let vector = [depth.cross(&up), depth, up][room.index] * if room.negative { -1.0 } else { 1.0 };
    let index = vector.iamax();
    Axis { index, negative: vector[index] < 0.0 }
}
