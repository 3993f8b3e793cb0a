//! Open sheets that may be no part of the work: the ground that a piece stands on, the water that it stands in, and the inner face of a
//! shell drawn with a thickness. Nothing is decided here; both are questions.

use crate::solid::tree::{Aabb, Tree};
use crate::soundness::{Body, Checked};
use crate::units::Length;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// A sheet within 5 degrees of level: the cosine.
const LEVEL: f64 = 0.996_194_698;
/// The ground lies in this share of the height of what stands on it, from its foot: a piece may be sunk a little.
const AT_THE_FOOT: f64 = 0.1;
/// How far behind another sheet the inner face of a shell lies at most. Common practice, no source.
const SHELL: Length = Length::from_inches(12.0);
/// Of the area of an inner face this share looks at a back.
const MOSTLY: f64 = 0.5;
/// Inner faces of less than this share of the whole area are not asked about: plates and leaves in front of each other.
const WORTH_ASKING: f64 = 0.1;

/// A water level lies within this of one height.
const ONE_HEIGHT: Length = Length::from_inches(1.0);
/// What stands so little over a sheet is no rim of it: that lies on top.
const ABOVE_WATER: Length = Length::from_inches(0.125);
/// A sheet, or a body that rises through it, of less than this share of the whole area is not asked about.
const WORTH_A_WORD: f64 = 0.01;

fn is_open(body: &Body) -> bool {
    !body.nearly_closed()
}

fn is_level(body: &Body) -> bool {
    is_open(body) && body.area > 0.0 && body.facing.z.abs() >= LEVEL * body.area
}

/// Level sheets that the bodies which meet them in plan, seen as boxes, reach below and above: the water of a pool, drawn to show where it
/// stands, whether it goes through the rock or ends at it. An open body counts where the sheet reaches beyond it in plan: else it may be a
/// ledge of it. O(bodies).
#[must_use]
pub fn water(checked: &Checked) -> Vec<u32> {
    let facts = &checked.body_facts;
    let least = WORTH_A_WORD * facts.iter().map(|body| body.area).sum::<f64>();
    let room = ONE_HEIGHT.metres();
    let large: Vec<&Body> = facts.iter().filter(|body| body.area > least && !is_level(body)).collect();
    let is_water = |sheet: &Body| {
        let meets = |body: &Body| (0..2).all(|k| body.low[k] < sheet.high[k] && sheet.low[k] < body.high[k]);
        let goes_beyond = |body: &Body| (0..2).any(|k| sheet.low[k] < body.low[k] || body.high[k] < sheet.high[k]);
        let about = large.iter().filter(|body| meets(body) && (body.nearly_closed() || goes_beyond(body)));
        let [low, high] = about
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], body| [low.min(body.low.z), high.max(body.high.z)]);
        let is_flat = sheet.high.z - sheet.low.z <= room;
        is_flat && low < sheet.low.z - room && sheet.high.z + ABOVE_WATER.metres() < high
    };
    let sheets = (0..).zip(facts).filter(|(_, body)| is_level(body) && body.area > least);
    sheets.filter(|(_, body)| is_water(body)).map(|(k, _)| k).collect()
}

/// Level sheets at the foot of closed bodies that reach farther than these in plan. O(bodies).
#[must_use]
pub fn ground(checked: &Checked) -> Vec<u32> {
    let facts = &checked.body_facts;
    let rest = || facts.iter().filter(|body| !is_level(body));
    if !rest().any(Body::nearly_closed) {
        return Vec::new();
    }
    let (low, high) = rest().fold(
        (Point3::from(Vector3::repeat(f64::INFINITY)), Point3::from(Vector3::repeat(f64::NEG_INFINITY))),
        |(low, high), body| (low.inf(&body.low), high.sup(&body.high)),
    );
    let in_plan = |low: &Point3<f64>, high: &Point3<f64>| (high.x - low.x) * (high.y - low.y);
    let is_ground = |body: &Body| {
        is_level(body)
            && (body.low.z + body.high.z) / 2.0 <= low.z + AT_THE_FOOT * (high.z - low.z)
            && in_plan(&body.low, &body.high) > in_plan(&low, &high)
    };
    (0..).zip(facts).filter(|(_, body)| is_ground(body)).map(|(k, _)| k).collect()
}

/// Open bodies whose coated side mostly looks at the back of another sheet a short way off: no hand gets between. O(n log n) in the
/// triangles of open bodies, where there are two or more.
#[must_use]
pub fn behind_others(checked: &Checked) -> Vec<u32> {
    let (mesh, facts, body_of) = (checked.model.mesh(), &checked.body_facts, checked.bodies.by_face());
    if facts.iter().filter(|body| is_open(body)).count() < 2 {
        return Vec::new();
    }
    let faces: Vec<u32> = (0..).zip(body_of).filter(|(_, b)| is_open(&facts[**b as usize])).map(|(f, _)| f).collect();
    let bounds = |face: u32| Aabb::around(&mesh.corners(face as usize));
    let tree = Tree::over(&faces, bounds);
    let sees_a_back = |&face: &u32| {
        let vector = mesh.area_vector(face as usize);
        let Some(way) = vector.try_normalize(0.0) else { return false };
        let [a, b, c] = mesh.corners(face as usize).map(|p| p.coords);
        let from = Point3::from((a + b + c) / 3.0);
        let reach = way * SHELL.metres();
        // Rounding may put a crossing a little outside a box.
        let slack = 1e-9 * reach.norm();
        let is_back = |other: u32| {
            mesh.area_vector(other as usize).dot(&way) > 0.0
                && body_of[other as usize] != body_of[face as usize]
                && crosses(mesh.corners(other as usize), from, reach)
        };
        tree.any(|node| node.grown(slack).is_crossed(&from, &reach), is_back)
    };
    let seen: Vec<bool> = faces.par_iter().map(sees_a_back).collect();
    let mut behind = vec![0.0; facts.len()];
    for (face, _) in faces.iter().zip(&seen).filter(|(_, seen)| **seen) {
        behind[body_of[*face as usize] as usize] += mesh.area_vector(*face as usize).norm();
    }
    let found: Vec<u32> =
        (0..).zip(&behind).filter(|(k, area)| **area > MOSTLY * facts[*k as usize].area).map(|(k, _)| k).collect();
    let whole: f64 = facts.iter().map(|body| body.area).sum();
    let area: f64 = found.iter().map(|k| facts[*k as usize].area).sum();
    if area > WORTH_ASKING * whole { found } else { Vec::new() }
}

/// A path from a point crosses a triangle (Moeller and Trumbore, J. Graphics Tools 2, 1997).
fn crosses([a, b, c]: [Point3<f64>; 3], from: Point3<f64>, path: Vector3<f64>) -> bool {
    let (ab, ac) = (b - a, c - a);
    let across = path.cross(&ac);
    let volume = ab.dot(&across);
    if volume == 0.0 {
        return false;
    }
    let to = from - a;
    let u = to.dot(&across) / volume;
    let turned = to.cross(&ab);
    let (v, t) = (path.dot(&turned) / volume, ac.dot(&turned) / volume);
    u >= 0.0 && v >= 0.0 && u + v <= 1.0 && t > 0.0 && t <= 1.0
}
