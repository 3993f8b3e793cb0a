//! From a fixture to what the library reads.
#![allow(dead_code, reason = "each test file uses some of it")]
#![allow(clippy::unwrap_used, reason = "a test may")]

use cragskin_fixtures::Shape;
use cragskin_geom::drawing::{Axis, Drawing, Model, Placing};
use cragskin_geom::intake::{Corners, PartName, Receipt, Soup};
use cragskin_geom::soundness::Checked;
use cragskin_geom::units::ModelUnit;

pub(crate) fn soup(shape: &Shape) -> Soup<'static> {
    Soup {
        corners: Corners::Indexed { positions: shape.positions.clone(), triangles: shape.triangles.clone() },
        part_of: if shape.parts.len() > 1 { shape.part_of.clone() } else { Vec::new() },
        parts: shape.parts.iter().map(|name| PartName { name: name.clone(), material: String::new() }).collect(),
        receipt: Receipt { format: "OBJ", triangles_in_file: shape.triangles.len(), lines: Vec::new() },
    }
}

pub(crate) fn drawing(shape: &Shape) -> Drawing {
    Drawing::from_soup(soup(shape)).unwrap()
}

pub(crate) fn placed(shape: &Shape, unit: ModelUnit) -> Model {
    drawing(shape).place(Placing { unit, up: Axis::PLUS_Z, front: Axis::MINUS_Y }).unwrap()
}

pub(crate) fn checked(shape: &Shape, unit: ModelUnit) -> Checked {
    Checked::new(placed(shape, unit), 0)
}
