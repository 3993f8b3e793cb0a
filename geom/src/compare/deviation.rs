//! How far one surface lies from another, triangle by triangle, interiors included.
//!
//! For a piece of a triangle, with `c` its middle, `r` its reach from `c` and `d` the distance of `c` to the other surface:
//! every point of it lies between `d - r` and `d + r` (distance is 1-Lipschitz), and no farther than the farthest of its
//! three corners from the *one* triangle nearest to `c` (distance to a convex set is a convex function). Where these bounds
//! do not settle it, the piece is cut in four, down to a smallest size. Most triangles of an unchanged surface are settled by
//! one question.

use super::near::Near;
use super::{Placement, V3};
use crate::mesh::Mesh;
use rayon::prelude::*;

/// Which of the two surfaces is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Side {
    Old,
    New,
}

/// A changed piece of surface, in the frame of the old revision.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    pub(crate) side: Side,
    pub(crate) face: u32,
    pub(crate) at: V3,
    pub(crate) area: f64,
    /// Largest distance seen on it; negative when the surface went inward.
    pub(crate) movement: f64,
}

/// What came of one surface against the other.
#[derive(Debug, Default)]
pub(crate) struct Deviation {
    pub(crate) spots: Vec<Spot>,
    /// The triangle of the other surface nearest to the middle of each triangle; `u32::MAX` for one without area.
    pub(crate) partner: Vec<u32>,
    /// Largest distance seen.
    pub(crate) farthest: f64,
    /// No distance exceeds this.
    pub(crate) bound: f64,
}

/// Faces looked at by one task; fixed, so that hints and with them the last bits do not depend on threads.
const CHUNK: usize = 1024;

pub(crate) struct Ruler<'a> {
    pub(crate) side: Side,
    /// The other surface.
    pub(crate) other: &'a Near<'a>,
    pub(crate) placement: &'a Placement,
    /// In the frame of the old revision.
    pub(crate) tolerance: f64,
    /// Pieces whose reach is smaller are not cut.
    pub(crate) smallest: f64,
}

struct Found<'a> {
    out: &'a mut Deviation,
    face: u32,
    normal: V3,
    hint: Option<u32>,
}

impl Ruler<'_> {
    pub(crate) fn measure(&self, mesh: &Mesh) -> Deviation {
        let count = mesh.triangles().len();
        let parts: Vec<Deviation> = (0..count.div_ceil(CHUNK))
            .into_par_iter()
            .map(|chunk| {
                let mut out = Deviation::default();
                let mut hint = None;
                for face in chunk * CHUNK..((chunk + 1) * CHUNK).min(count) {
                    let corners = mesh.corners(face).map(|c| self.in_old(&c.coords));
                    let normal = mesh.area_vector(face);
                    let normal = match self.side {
                        Side::Old => normal,
                        Side::New => self.placement.rotation * normal,
                    };
                    let size = normal.norm();
                    if size == 0.0 {
                        out.partner.push(u32::MAX);
                        continue;
                    }
                    let mut found = Found { out: &mut out, face: face as u32, normal: normal / size, hint };
                    self.piece(&corners, &mut found, true);
                    hint = found.hint;
                }
                out
            })
            .collect();
        let mut whole = Deviation { partner: Vec::with_capacity(count), ..Deviation::default() };
        for part in parts {
            whole.spots.extend(part.spots);
            whole.partner.extend(part.partner);
            whole.farthest = whole.farthest.max(part.farthest);
            whole.bound = whole.bound.max(part.bound);
        }
        whole
    }

    fn in_old(&self, p: &V3) -> V3 {
        if self.side == Side::New { self.placement.there(p) } else { *p }
    }

    /// A place in the old frame, in the frame of the other surface.
    fn in_other(&self, p: &V3) -> V3 {
        if self.side == Side::New { *p } else { self.placement.back(p) }
    }

    /// Old length by length in the other surface's frame.
    fn scale(&self) -> f64 {
        if self.side == Side::New { 1.0 } else { self.placement.scale }
    }

    fn piece(&self, corners: &[V3; 3], found: &mut Found<'_>, whole: bool) {
        let [a, b, c] = corners;
        let middle = (a + b + c) / 3.0;
        let reach = corners.iter().map(|p| (p - middle).norm()).fold(0.0, f64::max);
        let Some(hit) = self.other.nearest(&self.in_other(&middle), found.hint) else {
            if whole {
                found.out.partner.push(u32::MAX);
            }
            return;
        };
        found.hint = Some(hit.face);
        let distance = hit.distance * self.scale();
        if whole {
            found.out.partner.push(hit.face);
        }
        let to_one = corners.map(|p| self.other.to_face(hit.face, &self.in_other(&p)) * self.scale());
        let most = to_one.iter().copied().fold(0.0, f64::max).min(distance + reach);
        if most <= self.tolerance {
            found.out.farthest = found.out.farthest.max(distance);
            found.out.bound = found.out.bound.max(most);
            return;
        }
        let settled = distance - reach > self.tolerance;
        if reach > self.smallest && !(settled && reach < 4.0 * self.smallest) {
            let [ab, bc, ca] = [(a + b) / 2.0, (b + c) / 2.0, (c + a) / 2.0];
            for piece in [[*a, ab, ca], [ab, *b, bc], [ca, bc, *c], [bc, ca, ab]] {
                self.piece(&piece, found, false);
            }
            return;
        }
        found.out.bound = found.out.bound.max(most);
        if distance <= self.tolerance {
            found.out.farthest = found.out.farthest.max(distance);
            return;
        }
        // The middle knows nothing of a spike at a corner: the corner that looks farthest is asked too.
        let corner = (0..3).fold(0, |best, k| if to_one[k] > to_one[best] { k } else { best });
        let there = self.other.nearest(&self.in_other(&corners[corner]), found.hint);
        let (at, far) = match there {
            Some(hit) if hit.distance * self.scale() > distance => (corners[corner], hit),
            _ => (middle, hit),
        };
        let far_distance = far.distance * self.scale();
        let away = at - self.in_old_from_other(&far.point);
        // Seen from the old surface the new one lies the other way. A face that only grew sideways went outward.
        let outward = if self.side == Side::New { away } else { -away }.dot(&found.normal);
        let movement = if outward < -0.1 * far_distance { -far_distance } else { far_distance };
        found.out.farthest = found.out.farthest.max(far_distance);
        let area = (b - a).cross(&(c - a)).norm() / 2.0;
        found.out.spots.push(Spot { side: self.side, face: found.face, at, area, movement });
    }

    fn in_old_from_other(&self, p: &V3) -> V3 {
        if self.side == Side::New { *p } else { self.placement.there(p) }
    }
}
