//! What is coated, what is bare, what is not ours.

use crate::drawing::Model;
use crate::measure;
use crate::units::Length;
use nalgebra::Vector3;

/// How far a face may turn from a plane's direction and still lie on it.
const FLAT_WITHIN_DEGREES: f64 = 5.0;
/// How far its corners may lie off the outermost plane.
const FLAT_WITHIN: Length = Length::from_inches(1.0);

/// A flat side at the extreme of the model's box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlatSide {
    /// `-Z` is the floor, `+Y` the back.
    pub name: &'static str,
    /// Where it faces.
    pub direction: Vector3<f64>,
    /// Its area in square metres.
    pub area: f64,
}

/// Flat areas at the six extremes of the box.
#[must_use]
pub fn flat_sides(model: &Model) -> [FlatSide; 6] {
    let sides = [
        ("-X", -Vector3::x()),
        ("+X", Vector3::x()),
        ("-Y", -Vector3::y()),
        ("+Y", Vector3::y()),
        ("-Z", -Vector3::z()),
        ("+Z", Vector3::z()),
    ];
    let size = model.size().map(Length::metres);
    let areas: [_; 6] = measure::area_by(model.mesh(), model.diagonal(), |face| {
        sides.iter().position(|(_, direction)| on_side(model, size, face, direction))
    });
    std::array::from_fn(|k| FlatSide { name: sides[k].0, direction: sides[k].1, area: areas[k].square_metres() })
}

fn on_side(model: &Model, size: [f64; 3], face: usize, direction: &Vector3<f64>) -> bool {
    let vector = model.mesh().area_vector(face);
    if vector.dot(direction) < vector.norm() * FLAT_WITHIN_DEGREES.to_radians().cos() || vector.norm() == 0.0 {
        return false;
    }
    let axis = direction.iamax();
    let extreme = if direction[axis] > 0.0 { size[axis] } else { 0.0 };
    model.mesh().corners(face).iter().all(|p| (p[axis] - extreme).abs() <= FLAT_WITHIN.metres())
}
