//! Where other triangles cut, touch or shadow one triangle.

use super::caps::plane_axes;
use super::cut::{Cut, P2, clip};
use super::field::Spot;
use crate::numeric::scramble;
use nalgebra::{Point3, Vector3};

/// Lengths below which things are one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tolerance {
    /// Rounding of computed points: 1e-10 of the model.
    pub(super) tiny: f64,
    /// Rounding of a file with 24-bit coordinates: 2^-21 of the model. Faces this near lie in one plane.
    pub(super) plane: f64,
    /// Faces of different pieces that face each other within this distance are glued, not coated.
    pub(super) gap: f64,
}

/// Cosine of 20 degrees: faces that meet at a wider angle do not lie against each other.
const FACING: f64 = 0.939_692_620_785_908_4;
/// Cosine of 2.5 degrees: more than this apart, what is within `plane` is a line and the crossing itself cuts.
const PARALLEL: f64 = 0.999;

/// One triangle in its own plane.
pub(super) struct Plate {
    face: u32,
    corners: [Point3<f64>; 3],
    vertices: [u32; 3],
    u: Vector3<f64>,
    v: Vector3<f64>,
    pub(super) normal: Vector3<f64>,
    flat: [P2; 3],
    segments: Vec<[P2; 2]>,
    /// What lies against it, each with its piece.
    shadows: Vec<(u32, Vec<P2>)>,
    /// What is drawn on this triangle, and the triangle that draws it.
    drawn: Vec<(u32, Vec<P2>)>,
    touched: bool,
}

impl Plate {
    /// None for a triangle without area.
    pub(super) fn new(face: u32, corners: [Point3<f64>; 3], vertices: [u32; 3]) -> Option<Self> {
        let normal = (corners[1] - corners[0]).cross(&(corners[2] - corners[0])).try_normalize(0.0)?;
        let (u, v) = plane_axes(normal);
        let flat = corners.map(|p| [(p - corners[0]).dot(&u), (p - corners[0]).dot(&v)]);
        let (segments, shadows, drawn) = (Vec::new(), Vec::new(), Vec::new());
        Some(Self { face, corners, vertices, u, v, normal, flat, segments, shadows, drawn, touched: false })
    }

    fn project(&self, p: Point3<f64>) -> P2 {
        let d = p - self.corners[0];
        [d.dot(&self.u), d.dot(&self.v)]
    }

    pub(super) fn spot(&self, p: P2) -> Spot {
        Spot { face: self.face, at: self.lift(p), normal: self.normal }
    }

    /// Back to space; corners come back to the bit.
    pub(super) fn lift(&self, p: P2) -> Point3<f64> {
        let corner = (0..3).find(|&k| self.flat[k] == p);
        corner.map_or_else(|| self.corners[0] + self.u * p[0] + self.v * p[1], |k| self.corners[k])
    }

    pub(super) fn middle(&self) -> Spot {
        let at = Point3::from((self.corners[0].coords + self.corners[1].coords + self.corners[2].coords) / 3.0);
        Spot { face: self.face, at, normal: self.normal }
    }

    /// Something meets this triangle in more than a point.
    pub(super) fn touched(&self) -> bool {
        self.touched
    }

    /// Takes note of another triangle. `of`: the piece that it belongs to, if another one, so that the contact gap applies.
    pub(super) fn meet(&mut self, corners: &[Point3<f64>; 3], vertices: [u32; 3], of: Option<u32>, tol: Tolerance) {
        let d = corners.map(|p| (p - self.corners[0]).dot(&self.normal));
        let (low, high) = (d[0].min(d[1]).min(d[2]), d[0].max(d[1]).max(d[2]));
        if low > tol.gap.max(tol.plane) || high < -tol.plane {
            return;
        }
        let Some(other) = (corners[1] - corners[0]).cross(&(corners[2] - corners[0])).try_normalize(0.0) else {
            return;
        };
        let shared = vertices.iter().filter(|v| self.vertices.contains(v)).count();
        let facing = other.dot(&self.normal);
        if shared == 2 && !self.folded_on(corners, vertices, &d, tol) {
            // Neighbours: their common edge is not a cut.
            return;
        }
        if facing.abs() > PARALLEL && low <= tol.plane && high >= -tol.plane {
            let outline = self.slab(corners, &d, -tol.plane, tol.plane);
            self.outline(&outline, tol);
        }
        if let Some(q) = of
            && tol.gap > 0.0
            && facing < -FACING
        {
            let outline = self.slab(corners, &d, -tol.plane, tol.gap);
            if self.outline(&outline, tol) {
                self.shadows.push((q, outline));
            }
        }
        if let Some(chord) = self.chord(corners, &d, tol.tiny) {
            let grown = if shared == 1 { 0.0 } else { tol.tiny };
            let reached = clip(&self.flat, chord, grown)
                .is_some_and(|[p, q]| shared != 1 || (q[0] - p[0]).hypot(q[1] - p[1]) > tol.tiny);
            if reached {
                self.touched = true;
                self.segments.push(chord);
            }
        }
    }

    /// Takes note of a triangle of a sheet that is drawn on this one's body.
    pub(super) fn draw(&mut self, face: u32, corners: &[Point3<f64>; 3], tol: Tolerance) {
        let normal = (corners[1] - corners[0]).cross(&(corners[2] - corners[0])).try_normalize(0.0);
        if normal.is_none_or(|normal| normal.dot(&self.normal) < FACING) {
            return;
        }
        let d = corners.map(|p| (p - self.corners[0]).dot(&self.normal));
        let reach = tol.plane.max(tol.gap);
        let outline = self.slab(corners, &d, -reach, reach);
        if self.outline(&outline, tol) {
            self.drawn.push((face, outline));
        }
    }

    /// With a common edge: the other triangle lies on this one rather than beside it.
    fn folded_on(&self, corners: &[Point3<f64>; 3], vertices: [u32; 3], d: &[f64; 3], tol: Tolerance) -> bool {
        let Some(own) = (0..3).find(|&k| !vertices.contains(&self.vertices[k])) else { return true };
        let Some(other) = (0..3).find(|&k| !self.vertices.contains(&vertices[k])) else { return true };
        let (a, b) = (self.flat[(own + 1) % 3], self.flat[(own + 2) % 3]);
        let p = self.project(corners[other]);
        d[other].abs() <= tol.plane.max(tol.gap) && (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0.0
    }

    /// The part of a triangle between two distances above this plane, seen straight down.
    fn slab(&self, corners: &[Point3<f64>; 3], d: &[f64; 3], low: f64, high: f64) -> Vec<P2> {
        let mut polygon: Vec<(P2, f64)> = (0..3).map(|k| (self.project(corners[k]), d[k])).collect();
        for (limit, sign) in [(low, 1.0), (high, -1.0)] {
            let mut kept = Vec::with_capacity(polygon.len() + 1);
            for (k, &(p, dp)) in polygon.iter().enumerate() {
                let (q, dq) = polygon[(k + 1) % polygon.len()];
                let (sp, sq) = ((dp - limit) * sign, (dq - limit) * sign);
                if sp >= 0.0 {
                    kept.push((p, dp));
                }
                if sp * sq < 0.0 {
                    let t = sp / (sp - sq);
                    kept.push(([p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t], limit));
                }
            }
            polygon = kept;
        }
        polygon.into_iter().map(|(p, _)| p).collect()
    }

    /// Cuts along a polygon where it covers this triangle. Says whether it does.
    fn outline(&mut self, polygon: &[P2], tol: Tolerance) -> bool {
        if polygon.len() < 3 {
            return false;
        }
        let mut hit = covers(polygon, centre(&self.flat));
        for (k, &p) in polygon.iter().enumerate() {
            let segment = [p, polygon[(k + 1) % polygon.len()]];
            if clip(&self.flat, segment, tol.tiny).is_some() {
                self.segments.push(segment);
                hit = true;
            }
        }
        self.touched |= hit;
        hit
    }

    /// The segment in which a triangle passes through this plane.
    fn chord(&self, corners: &[Point3<f64>; 3], d: &[f64; 3], tiny: f64) -> Option<[P2; 2]> {
        let s = d.map(|x| if x.abs() <= tiny { 0.0 } else { x });
        let mut ends: Vec<P2> = (0..3).filter(|&k| s[k] == 0.0).map(|k| self.project(corners[k])).collect();
        for k in 0..3 {
            let m = (k + 1) % 3;
            if s[k] * s[m] < 0.0 {
                ends.push(self.project(corners[k] + (corners[m] - corners[k]) * (s[k] / (s[k] - s[m]))));
            }
        }
        match ends[..] {
            [p, q] => Some([p, q]),
            _ => None,
        }
    }

    /// The cells of the triangle.
    pub(super) fn cut(&self, tol: Tolerance) -> Cut {
        // A fixed shuffle.
        let mut order: Vec<(u64, usize)> = (0..self.segments.len()).map(|k| (scramble(k as u64), k)).collect();
        order.sort_unstable();
        let mut cut = Cut::new(self.flat.to_vec(), tol.tiny);
        order.iter().for_each(|&(_, k)| cut.by(self.segments[k]));
        cut
    }

    /// The triangle that is drawn on this one here, the first of several.
    pub(super) fn drawn(&self, p: P2) -> Option<u32> {
        self.drawn.iter().filter(|(_, outline)| covers(outline, p)).map(|(face, _)| *face).min()
    }

    /// The piece of which a face lies against this one here.
    pub(super) fn glued(&self, p: P2) -> Option<u32> {
        self.shadows.iter().find(|(_, shadow)| covers(shadow, p)).map(|(q, _)| *q)
    }
}

fn centre(t: &[P2; 3]) -> P2 {
    [(t[0][0] + t[1][0] + t[2][0]) / 3.0, (t[0][1] + t[1][1] + t[2][1]) / 3.0]
}

/// Convex polygon of either direction.
fn covers(polygon: &[P2], p: P2) -> bool {
    let side = |k: usize| {
        let (a, b) = (polygon[k], polygon[(k + 1) % polygon.len()]);
        (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
    };
    (0..polygon.len()).all(|k| side(k) >= 0.0) || (0..polygon.len()).all(|k| side(k) <= 0.0)
}
