//! The plane in which a coat ends where its face meets a bare one.

use crate::distance::{Surface, V3, closest};
use std::collections::HashMap;

/// Cosine of the turn up to which two faces are one smooth surface: 35 degrees. A round piece of eleven flats or more turns by
/// less at each, arrises that are drawn as such by more; between 30 and 36 lies no turn of a regular polygon.
const SMOOTH: f64 = 0.819_152_044_288_991_8;

/// How far from a point a face may have a say in whether a coat of thickness 1 is there, at most one over the sine of 35 degrees: 1,
/// or where a bare face leans over a coated one the farthest that its plane cuts. Faces meet where they share a corner. O(n).
pub(super) fn farthest(surface: &Surface<'_>, is_bare: impl Fn(u32) -> bool) -> f64 {
    let mut bare_at: HashMap<u32, Vec<V3>> = HashMap::new();
    let normal = |t: u32| {
        let [a, b, c] = surface.corners(t);
        (b - a).cross(&(c - a)).try_normalize(0.0)
    };
    let (bare, coated): (Vec<u32>, Vec<u32>) = (0..surface.triangles.len() as u32).partition(|t| is_bare(*t));
    for t in bare {
        let corners = surface.triangles[t as usize].into_iter();
        normal(t).into_iter().for_each(|n| corners.clone().for_each(|v| bare_at.entry(v).or_default().push(n)));
    }
    if bare_at.is_empty() {
        return 1.0;
    }
    let leans = |t: u32| {
        let bare = surface.triangles[t as usize].into_iter().filter_map(|v| bare_at.get(&v)).flatten();
        normal(t).map_or(1.0, |n| bare.filter_map(|b| leans_within(b, &n)).fold(1.0, f64::max))
    };
    coated.into_iter().map(leans).fold(1.0, f64::max)
}

/// Where a bare face turns sharply from a coated one, but by less than a right angle, its plane leans over the coat: how far from
/// their edge it leaves a coat of thickness 1, one over the sine of the turn. None where it leans over nothing.
pub(super) fn leans_within(bare: &V3, coated: &V3) -> Option<f64> {
    (bare.dot(coated) > SQUARE && !smooth(bare, coated)).then(|| 1.0 / bare.cross(coated).norm())
}

/// Cosine up to which a turn is a right angle: corners written in single precision turn a short face by less, and over a coat of
/// thickness 1 such a plane gains a ten-thousandth.
const SQUARE: f64 = 1e-4;

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
/// touch `at`. None where the coat runs on up to the bare face, where the two meet in a point alone, and for a coat that stands on a
/// `foot` before a sharp end: that is another's.
///
/// * At a convex edge that is sharp the plane of the bare face goes on through the coat, as if a board stood there.
/// * Where the two are one smooth surface the coat is cut square to its own face, at their common edge. The plane of the bare
///   face would shave the coat of a round piece of radius R and thickness t over a length of sqrt(2 R t).
/// * At a concave edge that is sharp the coat runs up to the bare face. What lies behind that face is the matter of `Block::hidden`.
pub(super) fn end(bare: Side<'_>, coated: Side<'_>, at: &V3, foot: &V3, touch: f64) -> Option<V3> {
    let is_sharp = !smooth(&bare.normal, &coated.normal);
    let middle = coated.corners.iter().sum::<V3>() / 3.0;
    let in_front = |place: &V3| bare.normal.dot(&(place - at));
    if is_sharp && (in_front(&middle) >= -touch || in_front(foot) > touch) {
        return None;
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
        if is_sharp {
            return Some(bare.normal);
        }
        let out = along.cross(&coated.normal).try_normalize(0.0)?;
        Some(if out.dot(&(opposite - a)) > 0.0 { -out } else { out })
    })
}

/// How far along an edge it is looked whether a bare face goes with it, as a share of the way to its middle.
const SHARED: f64 = 1e-2;
