//! How far one surface lies from another, triangle by triangle, interiors included.
//!
//! For a piece of a triangle, with `c` its middle, `r` its reach from `c` and `d` the distance of `c` to the other surface:
//! every point of it lies between `d - r` and `d + r` (distance is 1-Lipschitz), and no farther than the farthest of its
//! three corners from the *one* triangle nearest to `c` (distance to a convex set is a convex function). Where these bounds
//! do not settle it, the piece is cut in four, down to a smallest size. Most triangles of an unchanged surface are settled by
//! one question. A piece of the smallest size with corners on both sides of the tolerance lies on the outline of a change: it
//! is cut finer still, and at last along the line where the distance, taken as linear between its corners, is the tolerance.

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
    /// Corners of the piece that it lies on.
    pub(crate) corners: [V3; 3],
    pub(crate) area: f64,
    /// Largest distance seen on it; negative when the surface went inward.
    pub(crate) movement: f64,
}

/// A piece of a triangle that is changed in part, in the frame of the old revision.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Cut {
    pub(crate) face: u32,
    pub(crate) corners: [V3; 3],
    /// The spot it belongs to, `u32::MAX` for none.
    pub(crate) spot: u32,
}

/// What came of one surface against the other.
#[derive(Debug, Default)]
pub(crate) struct Deviation {
    pub(crate) spots: Vec<Spot>,
    /// Triangles changed in part, cut along the outlines of the changes; of the old surface only the changed pieces.
    pub(crate) cuts: Vec<Cut>,
    /// Area of the last pieces that the outlines cross: the changed area is off by no more.
    pub(crate) outline: f64,
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
    /// Pieces whose reach is smaller are cut along outlines only.
    pub(crate) smallest: f64,
}

/// Along outlines pieces are cut down to this share of the smallest.
const FINEST: f64 = 1.0 / 8.0;

/// A movement within 6 degrees of the face itself goes along it.
const DECIDES: f64 = 0.1;

/// Depth below the face from which the other surface is asked once more, as a share of the movement.
const NUDGE: f64 = 0.01;

struct Found<'a> {
    out: &'a mut Deviation,
    face: u32,
    normal: V3,
    hint: Option<u32>,
    /// Pieces of this face, each with its spot or `u32::MAX`.
    pieces: Vec<([V3; 3], u32)>,
}

impl Found<'_> {
    fn unchanged(&mut self, corners: &[V3; 3], farthest: f64, bound: f64) {
        self.out.farthest = self.out.farthest.max(farthest);
        self.out.bound = self.out.bound.max(bound);
        self.pieces.push((*corners, u32::MAX));
    }
}

impl Ruler<'_> {
    pub(crate) fn measure(&self, mesh: &Mesh) -> Deviation {
        let count = mesh.triangles().len();
        let parts: Vec<Deviation> = (0..count.div_ceil(CHUNK))
            .into_par_iter()
            .map(|chunk| {
                let mut out = Deviation::default();
                let mut hint = None;
                let mut pieces = Vec::new();
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
                    let (face, normal) = (face as u32, normal / size);
                    let mut found = Found { out: &mut out, face, normal, hint, pieces: std::mem::take(&mut pieces) };
                    self.piece(&corners, &mut found, true);
                    hint = found.hint;
                    pieces = found.pieces;
                    let spotted = pieces.iter().filter(|(_, spot)| *spot != u32::MAX).count();
                    if spotted > 0 && spotted < pieces.len() {
                        let kept = pieces.iter().filter(|(_, spot)| self.side == Side::New || *spot != u32::MAX);
                        out.cuts.extend(kept.map(|&(corners, spot)| Cut { face, corners, spot }));
                    }
                    pieces.clear();
                }
                out
            })
            .collect();
        let mut whole = Deviation { partner: Vec::with_capacity(count), ..Deviation::default() };
        for part in parts {
            let before = whole.spots.len() as u32;
            let later = |cut: Cut| Cut { spot: if cut.spot == u32::MAX { cut.spot } else { cut.spot + before }, ..cut };
            whole.cuts.extend(part.cuts.into_iter().map(later));
            whole.outline += part.outline;
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
            return found.unchanged(corners, distance, most);
        }
        let settled = distance - reach > self.tolerance;
        if reach > self.smallest && !(settled && reach < 4.0 * self.smallest) {
            return self.quarters(corners, found);
        }
        let hits = corners.map(|p| self.other.nearest(&self.in_other(&p), Some(hit.face)).unwrap_or(hit));
        let far = hits.map(|hit| hit.distance * self.scale());
        let farthest = far.iter().copied().fold(distance, f64::max);
        if farthest <= self.tolerance {
            return found.unchanged(corners, farthest, most);
        }
        let off = far.map(|far| far > self.tolerance);
        let all_off = settled || (off == [true; 3] && distance > self.tolerance);
        let mixed = !all_off;
        if mixed && reach > FINEST * self.smallest {
            return self.quarters(corners, found);
        }
        found.out.bound = found.out.bound.max(most);
        let normal = (b - a).cross(&(c - a)) / 2.0;
        let (changed, kept) = if mixed {
            found.out.outline += normal.norm();
            cut(corners, &far, self.tolerance)
        } else {
            (vec![*corners], vec![])
        };
        if changed.is_empty() {
            return found.unchanged(corners, farthest, most);
        }
        found.pieces.extend(kept.into_iter().map(|piece| (piece, u32::MAX)));
        let area = changed.iter().map(|[a, b, c]| (b - a).cross(&(c - a)).norm() / 2.0).sum();
        let spot = found.out.spots.len() as u32;
        found.pieces.extend(changed.into_iter().map(|piece| (piece, spot)));
        // The middle knows nothing of a spike at a corner.
        let k = (0..3).fold(0, |best, k| if far[k] > far[best] { k } else { best });
        let (at, hit, farthest) =
            if far[k] > distance { (corners[k], hits[k], far[k]) } else { (middle, hit, distance) };
        let away = at - self.in_old_from_other(&hit.point);
        // Seen from the old surface the new one lies the other way.
        let seen = if self.side == Side::New { 1.0 } else { -1.0 };
        let mut outward = seen * away.dot(&found.normal);
        // The nearest face may be another side of the piece: the bottom of a dent that is deeper than half the piece lies nearest
        // to the back of it, and before that the face has no direction to tell.
        let other_side = self.facing(hit.face).is_some_and(|facing| facing.dot(&found.normal) <= 0.0);
        if other_side || outward.abs() < DECIDES * farthest {
            outward = seen * self.beyond(&at, &found.normal, farthest);
        }
        let movement = if outward < -DECIDES * farthest { -farthest } else { farthest };
        found.out.farthest = found.out.farthest.max(farthest);
        found.out.spots.push(Spot { side: self.side, face: found.face, corners: *corners, area, movement });
    }

    /// Where a face of the other surface looks, in the frame of the old revision.
    fn facing(&self, face: u32) -> Option<V3> {
        let normal = self.other.mesh.area_vector(face as usize).try_normalize(0.0)?;
        Some(if self.side == Side::New { normal } else { self.placement.rotation * normal })
    }

    /// How far a place lies before the other surface, behind it if negative: for a face that moved along itself, as the side of
    /// a dent, its own direction does not tell. Asked a little below the face and a little above it: of two faces at an edge,
    /// outer or inner, one of the two answers is the face that looks along the movement.
    fn beyond(&self, at: &V3, normal: &V3, farthest: f64) -> f64 {
        let ask = |sign: f64| {
            let beside = at + normal * (sign * NUDGE * farthest);
            let Some(hit) = self.other.nearest(&self.in_other(&beside), None) else { return 0.0 };
            let Some(normal) = self.facing(hit.face) else { return 0.0 };
            (beside - self.in_old_from_other(&hit.point)).dot(&normal)
        };
        let [below, above] = [ask(-1.0), ask(1.0)];
        if above.abs() > below.abs() { above } else { below }
    }

    fn quarters(&self, [a, b, c]: &[V3; 3], found: &mut Found<'_>) {
        let [ab, bc, ca] = [(a + b) / 2.0, (b + c) / 2.0, (c + a) / 2.0];
        for piece in [[*a, ab, ca], [ab, *b, bc], [ca, bc, *c], [bc, ca, ab]] {
            self.piece(&piece, found, false);
        }
    }

    fn in_old_from_other(&self, p: &V3) -> V3 {
        if self.side == Side::New { *p } else { self.placement.there(p) }
    }
}

/// A triangle cut where a value, linear between its corners, is `limit`: triangles above it, and those not. Winding is kept.
fn cut(corners: &[V3; 3], value: &[f64; 3], limit: f64) -> (Vec<[V3; 3]>, Vec<[V3; 3]>) {
    let above = value.map(|v| v > limit);
    let Some(alone) = (0..3).find(|&k| above[k] != above[(k + 1) % 3] && above[k] != above[(k + 2) % 3]) else {
        return if above[0] { (vec![*corners], vec![]) } else { (vec![], vec![*corners]) };
    };
    let [i, j, k] = [alone, (alone + 1) % 3, (alone + 2) % 3];
    let crossing = |to: usize| {
        let share = (limit - value[i]) / (value[to] - value[i]);
        corners[i] + (corners[to] - corners[i]) * share
    };
    let (p, q) = (crossing(j), crossing(k));
    let (tip, rest) = (vec![[corners[i], p, q]], vec![[p, corners[j], corners[k]], [p, corners[k], q]]);
    if above[i] { (tip, rest) } else { (rest, tip) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The corner at 2 of values 2, 0, 0 above 1: half of each side, a quarter of the area.
    #[test]
    fn a_triangle_is_cut_where_the_value_passes_the_limit() {
        let corners = [V3::zeros(), V3::new(4.0, 0.0, 0.0), V3::new(0.0, 2.0, 0.0)];
        let area = |pieces: &[[V3; 3]]| pieces.iter().map(|[a, b, c]| (b - a).cross(&(c - a)).z / 2.0).sum::<f64>();
        for (value, above) in
            [([2.0, 0.0, 0.0], 1.0), ([0.0, 2.0, 2.0], 3.0), ([0.0, 0.0, 2.0], 1.0), ([2.0; 3], 4.0), ([0.0; 3], 0.0)]
        {
            let (over, under) = cut(&corners, &value, 1.0);
            assert!((area(&over) - above).abs() < 1e-12 && (area(&under) - 4.0 + above).abs() < 1e-12, "{value:?}");
        }
    }
}
