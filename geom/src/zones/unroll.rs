//! A patch laid out flat, as height along the surface against girth.
//!
//! For a height x along a fixed direction d, the area between two levels is the integral of girth over the way along
//! the surface, and the integral of |grad x| over the area is the integral of girth over the level (co-area formula,
//! Federer, *Curvature measures*, 1959). Sums over bands therefore give the girth of every band and the way across it
//! without any unfolding: exact for plates, cylinders and cones.

use crate::mesh::Mesh;
use nalgebra::{Matrix2, Vector2, Vector3};

/// One band of the patch between two levels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Band {
    /// Length of the level line, mean over the band.
    pub(crate) girth: f64,
    /// Way across the band along the surface.
    pub(crate) way: f64,
}

/// A patch unrolled.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Unrolled {
    pub(crate) direction: Vector3<f64>,
    pub(crate) low: f64,
    pub(crate) step: f64,
    pub(crate) bands: Vec<Band>,
}

/// Bands are at most this high: the girth of a course is the largest of its bands.
const BAND: f64 = 0.0254;

impl Unrolled {
    /// Unrolls upward where the patch is steep, else along its shorter way in plan.
    ///
    /// `sizes` is the area that counts of each face of the model.
    pub(crate) fn of(mesh: &Mesh, faces: &[u32], sizes: &[f64]) -> Self {
        let direction = direction(mesh, faces);
        let level = |f: u32| mesh.corners(f as usize).map(|p| p.coords.dot(&direction));
        let (low, high) = faces
            .iter()
            .flat_map(|&f| level(f))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
        let span = (high - low).max(1e-9);
        let count = (span / BAND).ceil().clamp(1.0, 1e6) as usize;
        let step = span / count as f64;
        let mut areas = vec![(0.0, 0.0); count];
        for &f in faces {
            let a = mesh.area_vector(f as usize);
            let area = a.norm();
            if area <= 0.0 {
                continue;
            }
            let slope = (1.0 - (a.dot(&direction) / area).powi(2)).max(0.0).sqrt();
            let mut x = level(f);
            x.sort_by(f64::total_cmp);
            let first = (((x[0] - low) / step) as usize).min(count - 1);
            let last = (((x[2] - low) / step) as usize).min(count - 1);
            let mut below = 0.0;
            for (k, band) in areas.iter_mut().enumerate().take(last + 1).skip(first) {
                let up_to = if k == last { 1.0 } else { share_below(x, low + step * (k + 1) as f64) };
                let part = sizes[f as usize] * (up_to - below);
                below = up_to;
                band.0 += part;
                band.1 += part * slope;
            }
        }
        let bands = areas
            .into_iter()
            .map(|(area, risen)| Band { girth: risen / step, way: if risen > 0.0 { step * area / risen } else { 0.0 } })
            .collect();
        Self { direction, low, step, bands }
    }

    /// Way along the surface from the lowest to the highest level.
    pub(crate) fn height(&self) -> f64 {
        self.bands.iter().map(|b| b.way).sum()
    }

    /// The longest girth.
    pub(crate) fn widest(&self) -> f64 {
        self.bands.iter().map(|b| b.girth).fold(0.0, f64::max)
    }
}

/// Share of a triangle's area below a level; `x` are the levels of its corners, rising.
fn share_below(x: [f64; 3], level: f64) -> f64 {
    if level <= x[0] {
        0.0
    } else if level >= x[2] {
        1.0
    } else if level < x[1] {
        (level - x[0]).powi(2) / ((x[1] - x[0]) * (x[2] - x[0]))
    } else {
        1.0 - (x[2] - level).powi(2) / ((x[2] - x[1]) * (x[2] - x[0]))
    }
}

fn direction(mesh: &Mesh, faces: &[u32]) -> Vector3<f64> {
    let (mut area, mut risen, mut first, mut second) = (0.0, 0.0, Vector2::zeros(), Matrix2::zeros());
    for &f in faces {
        let a = mesh.area_vector(f as usize);
        let size = a.norm();
        area += size;
        risen += a.xy().norm();
        // Second moment of a triangle: area / 12 (sum p p' + (sum p)(sum p)').
        let corners = mesh.corners(f as usize).map(|p| p.xy().coords);
        let sum: Vector2<f64> = corners.iter().sum();
        first += sum * (size / 3.0);
        second += corners.iter().map(|p| p * p.transpose()).fold(sum * sum.transpose(), |m, p| m + p) * (size / 12.0);
    }
    if risen >= 0.5 * area || area <= 0.0 {
        return Vector3::z();
    }
    let mean = first / area;
    let spread = (second / area - mean * mean.transpose()).symmetric_eigen();
    let short = if spread.eigenvalues[0] <= spread.eigenvalues[1] { 0 } else { 1 };
    let d = spread.eigenvectors.column(short);
    // Away from the visitor, so that a turn of the axes by rounding does not swap first and last course.
    let sign = if d.y < 0.0 || (d.y == 0.0 && d.x < 0.0) { -1.0 } else { 1.0 };
    Vector3::new(d.x * sign, d.y * sign, 0.0)
}
