//! A coat does not reach through a wall, nor over it to the far side.

use super::block::{Block, HALF_DIAGONAL, Hit, SHADOW, TOUCH_WORK};
use super::ends::smooth;
use super::uneven::{Around, Asked, End, Reach};
use crate::distance::{V3, closest};

impl Block<'_, '_> {
    /// The planes in which a coat ends before a point that cannot be seen from the coat's place nearest to it.
    ///
    /// A face hides the point when the straight way from that place meets the face from the front. A face that rises from the coated one in
    /// a sharp hollow ends the coat above its own upper edge too, as if a board stood there. A face that stands free throws a shadow.
    ///
    /// Without these planes the coat of a floor shows behind a wall that is thinner than the coat: `(t² acos(d / t) - d sqrt(t² - d²)) / 2`
    /// for each unit of length, with t the thickness of the coat and d that of the wall (a segment of a circle, halved). O(n) in the faces
    /// about the point.
    pub(super) fn hidden(&mut self, around: &Around, reach: &Reach, at: Asked<'_>) -> Vec<End> {
        let (p, touch) = (at.at, self.touch());
        let on_coat = p - reach.coat.away;
        let on_nearest = p - around.nearest.away;
        if reach.coat.tri == around.nearest.tri || (on_coat - on_nearest).norm() <= touch {
            return Vec::new();
        }
        // From in the solid the coat is looked at over the nearest face.
        if !around.skin_side && self.over(around.nearest.tri, &on_coat) >= -touch {
            return Vec::new();
        }
        let hides = |hit: &&Hit| {
            if hit.tri == reach.coat.tri {
                return false;
            }
            let [behind, before] = [-self.over(hit.tri, &p), self.over(hit.tri, &on_coat)];
            if behind <= touch {
                return behind >= -HALF_DIAGONAL * at.side && self.ends_above(hit.tri, reach.coat.tri, at, behind);
            }
            if before <= touch {
                return before >= -touch && self.rises(hit.tri, reach.coat.tri, &on_coat);
            }
            let met = p.lerp(&on_coat, behind / (behind + before));
            (met - closest(&met, &self.room.tris[hit.tri as usize].corners)).norm() <= touch
        };
        let hiding: Vec<u32> = around.hits.iter().filter(hides).map(|hit| hit.tri).collect();
        self.work += TOUCH_WORK * around.hits.len() as u64;
        if self.order < SHADOW {
            let stands = |tri: &u32| around.hits.iter().any(|hit| self.meets(*tri, hit.tri));
            let stand = hiding.iter().all(stands);
            self.work += TOUCH_WORK * (hiding.len() * around.hits.len()) as u64;
            self.order = if stand { self.order } else { SHADOW };
        }
        hiding.into_iter().map(|tri| self.behind(tri)).collect()
    }

    /// The planes of the faces that rise sharply from a coated one and may cut the cube about a point: what lies behind is wall, or hidden
    /// by it. O(n) in the faces about the point.
    pub(super) fn walls(&mut self, around: &Around, coated: u32, at: Asked<'_>) -> Vec<End> {
        self.work += TOUCH_WORK * around.hits.len() as u64;
        let rises = |hit: &&Hit| {
            let before = self.over(hit.tri, &at.at);
            hit.tri != coated && before.abs() <= HALF_DIAGONAL * at.side && {
                let on_plane = at.at - self.room.tris[hit.tri as usize].normal * before;
                let foot = closest(&on_plane, &self.room.tris[coated as usize].corners);
                self.rises(hit.tri, coated, &foot)
            }
        };
        around.hits.iter().filter(rises).map(|hit| self.behind(hit.tri)).collect()
    }

    /// What lies behind a face has no coat.
    fn behind(&self, tri: u32) -> End {
        let tri = &self.room.tris[tri as usize];
        End { plane: (-tri.normal, -tri.normal.dot(&tri.corners[0])), smooth: false }
    }

    /// How high a place stands over the plane of a face.
    fn over(&self, tri: u32, place: &V3) -> f64 {
        let tri = &self.room.tris[tri as usize];
        tri.normal.dot(&(place - tri.corners[0]))
    }

    /// A face has a corner on a coated one, or a coated one on it, and rises from it.
    fn meets(&self, tri: u32, other: u32) -> bool {
        let [face, coated] = [tri, other].map(|tri| &self.room.tris[tri as usize]);
        coated.coat.is_some()
            && (coated.corners.iter().any(|at| self.rises(tri, other, at))
                || face.corners.iter().any(|at| self.touches(other, at) && self.rises(tri, other, at)))
    }

    /// A face rises sharply from a coated one where they meet in a place.
    fn rises(&self, tri: u32, coated: u32, place: &V3) -> bool {
        let [face, coated] = [tri, coated].map(|tri| &self.room.tris[tri as usize]);
        let middle = coated.corners.iter().sum::<V3>() / 3.0;
        !smooth(&face.normal, &coated.normal) && self.over(tri, &middle) > self.touch() && self.touches(tri, place)
    }

    /// A point stands before a face that rises from the coated one but higher than the surface does there, `-behind` from its plane.
    fn ends_above(&self, tri: u32, coated: u32, at: Asked<'_>, behind: f64) -> bool {
        let above = at.at + self.room.tris[tri as usize].normal * behind;
        let foot = closest(&above, &self.room.tris[coated as usize].corners);
        self.rises(tri, coated, &foot) && !at.faces.iter().any(|tri| self.touches(*tri, &above))
    }
}
