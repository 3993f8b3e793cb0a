//! Which faces a rule means, and which it finds in a model.

use super::flat::{Flat, Search, looks_along};
use crate::drawing::Axis;
use crate::units::{Angle, Length};
use nalgebra::{Point3, Vector3};

/// Which faces a rule finds, in the model as placed (metres, Z up, visitors at -Y, low corner at zero).
#[derive(Clone, Debug, PartialEq)]
pub enum Faces {
    /// Flat faces that look along `facing` and lie within `within` of the plane at `at` on that axis.
    Plane {
        /// Outward direction in the model as placed: x left to right, y front to back, z up.
        facing: Axis,
        /// Where on the axis.
        at: Length,
        /// How far off the plane the corners may lie.
        within: Length,
    },
    /// All faces of a part, by its name or its material.
    Part(String),
    /// Faces whose middle lies in a box.
    Box {
        /// Low corner.
        from: [Length; 3],
        /// High corner.
        to: [Length; 3],
    },
}

/// Faces of a rule in one model.
pub(super) struct Aim<'a> {
    faces: &'a Faces,
    search: &'a Search<'a>,
    /// The low corner of the model, from where the rule measures.
    datum: Vector3<f64>,
    /// The turned flat that a plane rule means when nothing straight lies in its plane, and how far it is turned.
    turned: Option<(Flat, Option<Angle>)>,
}

impl Faces {
    pub(super) fn words(&self) -> String {
        match self {
            Self::Plane { facing, at, within } => format!("faces {facing} at {at} within {within}"),
            Self::Part(name) => format!("part {name}"),
            Self::Box { from, to } => {
                let corner = |c: &[Length; 3]| c.map(|l| l.to_string()).join(", ");
                format!("box from {} to {}", corner(from), corner(to))
            }
        }
    }

    /// As [`Faces::aim`], without looking for a turned flat.
    pub(super) fn aim_straight<'a>(&'a self, search: &'a Search<'a>, datum: &Vector3<f64>) -> Aim<'a> {
        Aim { faces: self, search, datum: *datum, turned: None }
    }

    /// Looks for the faces in a model whose low corner lies at `datum` from where the rule measures. O(n).
    pub(super) fn aim<'a>(&'a self, search: &'a Search<'a>, datum: &Vector3<f64>) -> Aim<'a> {
        let straight = self.aim_straight(search, datum);
        let mut faces = 0..search.model.mesh().triangles().len();
        match self {
            Self::Plane { facing, at, within } if !faces.any(|face| straight.finds(face)) => {
                let flat = search.crossing(&facing.vector(), at.metres() - datum[facing.index], within.metres());
                Aim { turned: flat.map(|flat| (flat, flat.turned(&facing.vector()))), ..straight }
            }
            _ => straight,
        }
    }
}

impl Aim<'_> {
    /// How far the flat that was found is turned.
    pub(super) fn turned(&self) -> Option<Angle> {
        self.turned.and_then(|turned| turned.1)
    }

    pub(super) fn finds(&self, face: usize) -> bool {
        let (model, mesh) = (self.search.model, self.search.model.mesh());
        match self.faces {
            Faces::Plane { .. } if self.turned.is_some() => self.turned.is_some_and(|(flat, _)| flat.holds(mesh, face)),
            Faces::Plane { facing, at, within } => {
                let axis = facing.index;
                let lies = |p: &Point3<f64>| (p[axis] + self.datum[axis] - at.metres()).abs() <= within.metres();
                looks_along(mesh, face, &facing.vector(), self.search.angle.radians().cos())
                    && mesh.corners(face).iter().all(lies)
            }
            Faces::Part(name) => model.parts()[mesh.part_of(face) as usize].is_called(name),
            Faces::Box { from, to } => {
                let [a, b, c] = mesh.corners(face).map(|p| p.coords);
                let middle = (a + b + c) / 3.0 + self.datum;
                (0..3).all(|k| from[k].metres() <= middle[k] && middle[k] <= to[k].metres())
            }
        }
    }
}
