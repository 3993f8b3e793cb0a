//! Sums of squared distances from planes (M. Garland, P. S. Heckbert, *Surface Simplification Using Quadric Error Metrics*,
//! 1997).

use crate::distance::V3;
use nalgebra::Matrix3;
use std::ops::AddAssign;

/// The sum of the squared distances of a point from some planes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Quadric {
    matrix: Matrix3<f64>,
    vector: V3,
    constant: f64,
}

impl Quadric {
    pub(super) const NONE: Self = Self {
        matrix: Matrix3::new(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
        vector: V3::new(0.0, 0.0, 0.0),
        constant: 0.0,
    };

    /// A plane through a point, counted so many times.
    pub(super) fn plane(normal: &V3, through: &V3, weight: f64) -> Self {
        let (scaled, far) = (normal * weight, normal.dot(through));
        Self { matrix: scaled * normal.transpose(), vector: scaled * far, constant: weight * far * far }
    }

    /// The sum at a point.
    pub(super) fn at(&self, p: &V3) -> f64 {
        (p.dot(&(self.matrix * p)) - 2.0 * self.vector.dot(p) + self.constant).max(0.0)
    }

    /// Where the sum is least; where that is all along a line or plane, the point of it nearest to `start`. `pull`: how
    /// much of a direction's share of the sum is too little to follow.
    pub(super) fn least(&self, start: &V3, pull: f64) -> V3 {
        let held = self.matrix + Matrix3::identity() * (pull * self.matrix.trace());
        let slope = self.vector - self.matrix * start;
        held.try_inverse().map_or(*start, |inverse| start + inverse * slope)
    }

    /// The point between two where the sum is least, their middle where it is much the same all along.
    pub(super) fn least_between(&self, a: &V3, b: &V3, pull: f64) -> V3 {
        let (middle, way) = ((a + b) / 2.0, b - a);
        let bend = way.dot(&(self.matrix * way)) + pull * self.matrix.trace() * way.norm_squared();
        let slope = (self.vector - self.matrix * middle).dot(&way);
        if bend > 0.0 { middle + way * (slope / bend).clamp(-0.5, 0.5) } else { middle }
    }
}

impl AddAssign for Quadric {
    fn add_assign(&mut self, other: Self) {
        self.matrix += other.matrix;
        self.vector += other.vector;
        self.constant += other.constant;
    }
}
