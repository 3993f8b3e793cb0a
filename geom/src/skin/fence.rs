//! Where a coat ends beside a bare face, as the depth of a point sees it.

use super::ends::{Side, end, leans_within, smooth};
use super::field::Field;
use super::near::{Hit, Patch};
use crate::distance::{V3, closest};

/// In steps of the grid: how far from the foot of a point an end is looked for. A depth is used to find zeros within two steps or so
/// of its point, and this is twice as much.
const AHEAD: f64 = 4.0;

/// Where a bare face cuts a coat square: how far `p`, in the coat of a face by its foot there, is in front of the plane of the
/// bare face (less than nothing: behind it), and which way that is. None where the coat's own end is nearer.
pub(super) fn fence(field: &Field<'_>, patch: &mut Patch<'_>, level: usize, coat: &Hit, p: &V3) -> Option<(f64, V3)> {
    if !field.ground.any_bare {
        return None;
    }
    let thick = field.coat_on(coat.triangle);
    let touch = 1e-6 * field.ground.thickest;
    let corners_of = |t: u32| field.ground.surface.corners(t);
    // A face convex to the bare one and touching it: its middle lies behind the plane.
    let behind =
        |corners: &[V3; 3], at: &V3, normal: &V3| normal.dot(&(corners.iter().sum::<V3>() / 3.0 - at)) < -touch;
    let own = corners_of(coat.triangle);
    let own_normal = field.normal(&own);
    let inner = coat.distance - thick;
    // Beyond the first only a plane that leans over the coat cuts it.
    let [near, reach] = [thick, field.ground.farthest].map(|reach| coat.distance.max(reach) + touch);
    let mut best = smooth_end(field, patch, level, coat, p, near);
    patch.visit(level, p, reach, |patch, t, corners| {
        if field.coat.on(t as usize).is_some() {
            return reach;
        }
        let normal = field.normal(corners);
        if smooth(&normal, &own_normal) {
            return reach;
        }
        let is_near = (p - closest(p, corners)).norm() <= near;
        let front = normal.dot(&(p - corners[0]));
        if front <= inner || best.is_some_and(|(f, u, _)| front < f || (front == f && t >= u)) {
            return reach;
        }
        let found = if !is_near {
            false
        } else if front > touch {
            behind(&own, &coat.at, &normal) && (coat.at - closest(&coat.at, corners)).norm() < touch
        } else {
            // Just across the plane: whether what is nearest there is the edge at which the coat ends.
            let across = p - normal * front;
            let foot = closest(&across, corners);
            let far = (across - foot).norm();
            let mut meets = false;
            if far < thick && (across - closest(&across, &own)).norm() >= far - touch {
                patch.visit(level, &foot, touch, |_, u, corners| {
                    meets |= field.coat.on(u as usize).is_some()
                        && behind(corners, &foot, &normal)
                        && (foot - closest(&foot, corners)).norm() < touch;
                    if meets { -1.0 } else { touch }
                });
            }
            meets
        };
        let over = p - normal * front.min(0.0);
        if found || leans_over(field, patch, level, Side { corners, normal }, coat, &over) {
            best = Some((front, t, normal));
        }
        reach
    });
    best.map(|(front, _, normal)| (front, normal))
}

/// The end of a coat whose faces go on smoothly to bare ones, as [`fence`] has it, with the number of the bare face: of those within
/// `near` of the point the ones nearest to the foot.
fn smooth_end(
    field: &Field<'_>,
    patch: &mut Patch<'_>,
    level: usize,
    coat: &Hit,
    p: &V3,
    near: f64,
) -> Option<(f64, u32, V3)> {
    let touch = 1e-6 * field.ground.thickest;
    let own_normal = field.normal(&field.ground.surface.corners(coat.triangle));
    let inner = coat.distance - field.coat_on(coat.triangle);
    let aside = |t: u32, corners: &[V3; 3]| {
        let is_asked = field.coat.on(t as usize).is_none() && (p - closest(p, corners)).norm() <= near;
        let aside = (coat.at - closest(&coat.at, corners)).norm();
        (is_asked && smooth(&field.normal(corners), &own_normal)).then_some(aside)
    };
    let (mut least, farthest) = (f64::INFINITY, AHEAD * field.grid.spacing);
    patch.visit(level, &coat.at, farthest, |_, t, corners| {
        least = aside(t, corners).map_or(least, |aside| aside.min(least));
        least.min(farthest)
    });
    if least > farthest {
        return None;
    }
    let least = least + touch;
    let mut best: Option<(f64, u32, V3)> = None;
    patch.visit(level, &coat.at, least, |patch, t, corners| {
        if let Some(aside) = aside(t, corners).filter(|aside| *aside <= least) {
            let normal = field.normal(corners);
            let found = square_end(field, patch, level, Side { corners, normal }, coat, p);
            // The line of a border that passes by ends nothing, where it would be drawn on past its corners.
            let ends = |front: f64| front <= 0.0 || aside < touch;
            let more = |front: f64| front > inner && best.is_none_or(|(f, u, _)| front > f || (front == f && t < u));
            if let Some((front, way)) = found.filter(|(front, _)| ends(*front) && more(*front)) {
                best = Some((front, t, way));
            }
        }
        least
    });
    best
}

/// Whether the plane of a bare face leans over a coat beyond an edge where the two meet, and cuts it at a point on the plane or in front
/// of it. What it cuts stands on a face behind it.
fn leans_over(field: &Field<'_>, patch: &mut Patch<'_>, level: usize, bare: Side<'_>, coat: &Hit, p: &V3) -> bool {
    let touch = 1e-6 * field.ground.thickest;
    let (at, thick) = (closest(p, bare.corners), field.coat_on(coat.triangle));
    let coated = &field.normal(&field.ground.surface.corners(coat.triangle));
    let Some(within) = leans_within(&bare.normal, coated) else { return false };
    if (p - at).norm() > thick * within + touch {
        return false;
    }
    let mut meets = false;
    patch.visit(level, &at, touch, |_, t, corners| {
        let normal = field.normal(corners);
        meets |= field.coat.on(t as usize).is_some()
            && smooth(&normal, coated)
            && (at - closest(&at, corners)).norm() < touch
            && end(bare, Side { corners, normal }, &at, &coat.at, touch).is_some();
        if meets { -1.0 } else { touch }
    });
    meets
}

/// The same for a bare face that goes on smoothly from the coated ones: how far `p` is past their common edge.
fn square_end(
    field: &Field<'_>,
    patch: &mut Patch<'_>,
    level: usize,
    bare: Side<'_>,
    coat: &Hit,
    p: &V3,
) -> Option<(f64, V3)> {
    let touch = 1e-6 * field.ground.thickest;
    let touches = |at: &V3, corners: &[V3; 3]| (at - closest(at, corners)).norm() < touch;
    let at = if touches(&coat.at, bare.corners) { coat.at } else { closest(p, bare.corners) };
    let mut best: Option<(f64, u32, V3)> = None;
    patch.visit(level, &at, touch, |_, t, corners| {
        let normal = field.normal(corners);
        if field.coat.on(t as usize).is_some() && touches(&at, corners) && smooth(&bare.normal, &normal) {
            let way = end(bare, Side { corners, normal }, &at, &coat.at, touch);
            let front = way.map_or(f64::NEG_INFINITY, |way| way.dot(&(p - at)));
            if let Some(way) = way.filter(|_| best.is_none_or(|(f, u, _)| front > f || (front == f && t < u))) {
                best = Some((front, t, way));
            }
        }
        touch
    });
    best.map(|(front, _, way)| (front, way))
}
