//! The plane in which a coat ends where its face meets a bare one.

use crate::distance::{V3, closest};

/// Cosine of the turn up to which two faces are one smooth surface: 35 degrees. A round piece of eleven flats or more turns by
/// less at each, arrises that are drawn as such by more; between 30 and 36 lies no turn of a regular polygon.
const SMOOTH: f64 = 0.819_152_044_288_991_8;

/// The plane of a bare face cuts a coat of thickness 1 no farther than this from the edge: one over the sine of 35 degrees, the
/// least turn of a sharp edge.
pub(super) const FARTHEST_CUT: f64 = 1.743_446_795_621_191;

/// How far from the edge between two faces the plane of the bare one cuts a coat of thickness 1 on the other. Where they turn by
/// less than a right angle that plane leans over the coat, and leaves it at one over the sine of the turn.
pub(super) fn cut_within(bare: &V3, coated: &V3) -> f64 {
    if bare.dot(coated) > 0.0 { 1.0 / bare.cross(coated).norm().max(1.0 / FARTHEST_CUT) } else { 1.0 }
}

/// A triangle and its unit normal towards the skin.
#[derive(Clone, Copy)]
pub(super) struct Side<'a> {
    pub(super) corners: &'a [V3; 3],
    pub(super) normal: V3,
}

/// Two faces are parts of one smooth surface.
pub(super) fn smooth(a: &V3, b: &V3) -> bool {
    a.dot(b) >= SMOOTH
}

/// The unit normal of the plane through `at` in front of which the coat of `coated` has ended, where it meets `bare` there; both
/// touch `at`. None where the coat runs on up to the bare face.
///
/// * At a convex edge that is sharp the plane of the bare face goes on through the coat, as if a board stood there.
/// * Where the two are one smooth surface the coat is cut square to its own face, at their common edge. The plane of the bare
///   face would shave the coat of a round piece of radius R and thickness t over a length of sqrt(2 R t).
/// * At a concave edge that is sharp the coat runs up to the bare face.
pub(super) fn end(bare: Side<'_>, coated: Side<'_>, at: &V3, touch: f64) -> Option<V3> {
    if !smooth(&bare.normal, &coated.normal) {
        let middle = coated.corners.iter().sum::<V3>() / 3.0;
        return (bare.normal.dot(&(middle - at)) < -touch).then_some(bare.normal);
    }
    (0..3).find_map(|k| {
        let [a, b, opposite] = [0, 1, 2].map(|i| coated.corners[(k + i) % 3]);
        let along = (b - a).try_normalize(0.0)?;
        let from = at - a;
        if (from - along * from.dot(&along)).norm() > touch {
            return None;
        }
        // The edge itself is shared, not its end alone.
        let beside = at.lerp(&((a + b) / 2.0), SHARED);
        if (beside - closest(&beside, bare.corners)).norm() > touch {
            return None;
        }
        let out = along.cross(&coated.normal).try_normalize(0.0)?;
        Some(if out.dot(&(opposite - a)) > 0.0 { -out } else { out })
    })
}

/// How far along an edge it is looked whether a bare face goes with it, as a share of the way to its middle.
const SHARED: f64 = 1e-2;
