//! The second estimate: feet drawn all over the coated surface, and what stands on each.
//!
//! Every point of the skin has one nearest foot that coats it. So the volume is the sum over all feet of the part of the
//! line on each that has no nearer foot: over a face the line counts with its length, over a convex edge with the radius
//! (a wedge of a cylinder), over a corner with the square of it (a part of a ball). Without the question of nearer feet
//! this is Steiner's formula (P. M. Gruber, *Convex and Discrete Geometry*, 2007, chapter 6).

use super::feet::{Answer, Feet};
use super::quarter_round;
use crate::distance::{Node, V3};
use crate::numeric::unit;
use crate::skin::ends::smooth;
use rayon::prelude::*;
use std::collections::{BTreeMap, HashMap};
use std::f64::consts::PI;

/// Feet that are drawn on faces and on edges, at most and at least.
const FEET: usize = 60_000;
const FEWEST_FEET: usize = 3_000;
/// Feet drawn to see how many triangles have to be looked at for each.
const TRIAL: usize = 256;
/// Beyond so many triangles nobody waits: in a heap of leaves there are thousands in reach of every point, and fewer points
/// must do.
const MOST_LOOKED_AT: f64 = 1e8;
/// Standard errors in a bound.
const ERRORS: f64 = 4.0;

/// The second estimate.
pub(super) struct Terms {
    pub(super) volume: f64,
    pub(super) bound: f64,
    pub(super) far_area: f64,
    pub(super) middle_area: f64,
    pub(super) samples: u64,
    /// Points of the other estimate that nobody waits longer for.
    pub(super) most_points: f64,
}

/// A place where feet are drawn.
enum Ground {
    Face(u32),
    /// A convex edge, from one point to another, and the unit normals on both sides.
    Edge([V3; 2], [V3; 2]),
    /// A corner and three unit normals that fan out there.
    Corner(V3, [V3; 3]),
}

/// Ground with the thickness on it and the volume that stands on it if nothing is nearer elsewhere.
struct Plot {
    ground: Ground,
    thick: f64,
    volume: f64,
}

pub(super) fn measure(feet: &Feet<'_>) -> Terms {
    let (plots, left) = plots(feet);
    let total: f64 = plots.iter().map(|plot| plot.volume).sum();
    if total <= 0.0 {
        // Coated slivers without area.
        return Terms {
            volume: 0.0,
            bound: left,
            far_area: 0.0,
            middle_area: 0.0,
            samples: 0,
            most_points: MOST_LOOKED_AT,
        };
    }
    let mut ends = Vec::with_capacity(plots.len());
    let mut sum = 0.0;
    for plot in &plots {
        sum += plot.volume;
        ends.push(sum);
    }
    let root: Vec<Node> = feet.tree.root().into_iter().collect();
    // One foot in each of equal parts of the whole: in order, so that neighbours in the file are drawn evenly.
    let draw = |count: usize| -> Vec<[f64; 3]> {
        let drawn = (0..count).into_par_iter().with_min_len(256).map(|k| {
            let seed = 5 * k as u64;
            let at = (k as f64 + unit(seed)) * (total / count as f64);
            let plot = &plots[ends.partition_point(|end| *end <= at).min(plots.len() - 1)];
            plot.draw(feet, &root, [1, 2, 3].map(|j| unit(seed + j)))
        });
        drawn.collect()
    };
    draw(TRIAL);
    let each = (feet.looked_at() as f64 / TRIAL as f64).max(1.0);
    let count = ((MOST_LOOKED_AT / each) as usize).clamp(FEWEST_FEET, FEET);
    let step = total / count as f64;
    let drawn = draw(count);
    let add = |k: usize| drawn.iter().map(|d| d[k]).sum::<f64>() * step;
    let mean = drawn.iter().map(|d| d[0]).sum::<f64>() / count as f64;
    let squares = drawn.iter().map(|d| (d[0] - mean).powi(2)).sum::<f64>();
    Terms {
        volume: add(0),
        // Lines that all count leave no variance, and the sum its rounding.
        bound: ERRORS * squares.sqrt() * step + left + 1e-6 * total,
        far_area: add(2),
        middle_area: add(1),
        samples: 3 * count as u64,
        // Three points were asked about for each foot.
        most_points: 3.0 * MOST_LOOKED_AT / each,
    }
}

impl Plot {
    /// One foot and a line on it: 1 where the point drawn on the line has no nearer foot, else 0; and the area, for each
    /// unit of this plot's volume, of the surfaces half way through the skin and on its far side.
    fn draw(&self, feet: &Feet<'_>, root: &[Node], [u, v, w]: [f64; 3]) -> [f64; 3] {
        let (power, at, along) = match &self.ground {
            Ground::Face(face) => {
                let [a, b, c] = feet.surface.corners(*face);
                let s = u.sqrt();
                (1, a * (1.0 - s) + b * (s * (1.0 - v)) + c * (s * v), feet.normals[*face as usize])
            }
            Ground::Edge([a, b], [m, n]) => (2, a + (b - a) * u, slerp(m, n, v)),
            Ground::Corner(at, [l, m, n]) => {
                let s = u.sqrt();
                (3, *at, (l * (1.0 - s) + m * (s * (1.0 - v)) + n * (s * v)).normalize())
            }
        };
        let own = |s: f64| {
            let p = at + along * s;
            let slack = 1e-6 * feet.thickest;
            matches!(feet.coats(root, &p), Answer::Foot(foot) if (foot.distance - s).abs() <= slack)
        };
        // Depth is drawn as the volume lies: evenly, with the radius, or with its square.
        let depth = self.thick * w.powf(1.0 / f64::from(power));
        let area = |s: f64| {
            let share = f64::from(power) * (s / self.thick).powi(power - 1) / self.thick;
            if own(s) { share } else { 0.0 }
        };
        [f64::from(u8::from(own(depth))), area(self.thick / 2.0), area(self.thick * (1.0 - 1e-9))]
    }
}

/// From one vector to another.
fn angle(m: &V3, n: &V3) -> f64 {
    m.cross(n).norm().atan2(m.dot(n))
}

/// Between two unit vectors, by the angle.
fn slerp(m: &V3, n: &V3, share: f64) -> V3 {
    let angle = angle(m, n);
    if angle < 1e-9 {
        return *m;
    }
    (m * ((1.0 - share) * angle).sin() + n * (share * angle).sin()) / angle.sin()
}

/// All ground, in the order of faces, and the volume that may stand on ground which is not drawn from: corners that are
/// neither convex nor flat, and edges of cut faces that fit no neighbour.
fn plots(feet: &Feet<'_>) -> (Vec<Plot>, f64) {
    let mut plots = Vec::new();
    let mut edges: HashMap<(u32, u32), u32> = HashMap::new();
    let mut around: BTreeMap<u32, Vec<Wedge>> = BTreeMap::new();
    for (face, t) in feet.surface.triangles.iter().enumerate() {
        let (thick, normal) = (feet.coat[face], feet.normals[face]);
        if normal == V3::zeros() {
            continue;
        }
        let corners = feet.surface.corners(face as u32);
        let [a, b, c] = corners;
        let area = (b - a).cross(&(c - a)).norm() / 2.0;
        if thick > 0.0 {
            plots.push(Plot { ground: Ground::Face(face as u32), thick, volume: area * thick });
        }
        for k in 0..3 {
            let (p, q, r) = (t[k], t[(k + 1) % 3], t[(k + 2) % 3]);
            around.entry(p).or_default().push(Wedge { next: q, last: r, normal, thick });
            let Some(other) = edges.remove(&(q, p)) else {
                edges.insert((p, q), face as u32);
                continue;
            };
            let (at, to) = (corners[k], corners[(k + 1) % 3]);
            let m = feet.normals[other as usize];
            // Convex on the skin's side: the other face turns away from this one.
            let convex = normal.cross(&m).dot(&(to - at)) * feet.side > 0.0;
            if convex && let Some((ends, thick)) = fan([m, normal], [feet.coat[other as usize], thick]) {
                let angle = angle(&ends[0], &ends[1]);
                let volume = (to - at).norm() * angle * thick * thick / 2.0;
                if angle > 1e-6 {
                    plots.push(Plot { ground: Ground::Edge([at, to], ends), thick, volume });
                }
            }
        }
    }
    let rim = |face: u32, edge: (u32, u32)| {
        let t = feet.surface.triangles[face as usize];
        let bits = feet.rim.get(face as usize).copied().unwrap_or(0);
        (0..3).any(|k| bits >> k & 1 == 1 && (t[k], t[(k + 1) % 3]) == edge)
    };
    let loose = |(edge, face): (&(u32, u32), &u32)| {
        let [a, b] = [edge.0, edge.1].map(|v| feet.surface.positions[v as usize]);
        let thick = if rim(*face, *edge) { 0.0 } else { feet.coat[*face as usize] };
        quarter_round((b - a).norm(), thick)
    };
    // Sorted, so that the sum does not depend on the order of the map.
    let mut loose: Vec<f64> = edges.iter().map(loose).collect();
    loose.sort_unstable_by(f64::total_cmp);
    let mut left: f64 = loose.iter().sum();
    for (vertex, wedges) in around {
        left += corner(feet, vertex, &wedges, &mut plots);
    }
    (plots, left)
}

/// The directions in which a coat stands on a convex edge between two faces of these unit normals and thicknesses, and how thick: from
/// one normal to the other, or where one face is bare to its plane, which goes on through the coat.
fn fan([m, n]: [V3; 2], thicks: [f64; 2]) -> Option<([V3; 2], f64)> {
    let up_to = |bare: V3, coated: V3, thick: f64| {
        let along = (coated - bare * bare.dot(&coated)).try_normalize(0.0)?;
        (bare.dot(&coated) < 0.0).then_some(([along, coated], thick))
    };
    match thicks {
        [0.0, 0.0] => None,
        [0.0, thick] => up_to(m, n, thick),
        [thick, 0.0] => up_to(n, m, thick),
        [a, b] => (a == b).then_some(([m, n], a)),
    }
}

/// Of directions between those of a fan, in order about it, what lies behind the plane of a normal.
fn behind(fan: &[V3], normal: &V3) -> Vec<V3> {
    let height = |d: &V3| normal.dot(d);
    let mut out = Vec::with_capacity(fan.len() + 1);
    for (from, to) in fan.iter().zip(fan.iter().cycle().skip(1)) {
        let (a, b) = (height(from), height(to));
        if a <= 0.0 {
            out.push(*from);
        }
        if (a < 0.0 && b > 0.0) || (a > 0.0 && b < 0.0) {
            out.extend((from * b.abs() + to * a.abs()).try_normalize(0.0));
        }
    }
    out
}

/// Faces at a corner beyond which nobody looks whether it is convex, as that takes their square: a whole ball is left open there.
const MOST_WEDGES: usize = 2000;

/// A face at a corner: its next and last vertex in the direction of the face, its normal and the thickness on it.
struct Wedge {
    next: u32,
    last: u32,
    normal: V3,
    thick: f64,
}

/// Adds the ground of a corner when it is convex. What it may come to when it is not: the volume of the angle that is
/// missing from a full turn.
fn corner(feet: &Feet<'_>, vertex: u32, wedges: &[Wedge], plots: &mut Vec<Plot>) -> f64 {
    let place = |v: u32| feet.surface.positions[v as usize].coords;
    let (at, thick) = (place(vertex), wedges.iter().map(|w| w.thick).fold(0.0, f64::max));
    if thick == 0.0 || wedges.len() < 3 || wedges.iter().any(|w| w.thick != 0.0 && w.thick != thick) {
        return 0.0;
    }
    if wedges.len() > MOST_WEDGES {
        return 4.0 / 3.0 * PI * thick.powi(3);
    }
    let (bare, coated): (Vec<&Wedge>, Vec<&Wedge>) = wedges.iter().partition(|w| w.thick == 0.0);
    // Beside a bare face that goes on smoothly the coat is cut square: nothing of it stands on the corner.
    if bare.iter().any(|bare| coated.iter().any(|w| smooth(&bare.normal, &w.normal))) {
        return 0.0;
    }
    let mut ring = vec![0];
    while let Some(next) = wedges.iter().position(|w| w.next == wedges[ring[ring.len() - 1]].last) {
        if next == 0 || ring.len() > wedges.len() {
            break;
        }
        ring.push(next);
    }
    // An open fan is on a rim, or at a cut.
    if ring.len() != wedges.len() || wedges[ring[ring.len() - 1]].last != wedges[0].next {
        return 0.0;
    }
    let flat = 1e-9 * feet.thickest;
    let convex = wedges.iter().all(|w| wedges.iter().all(|x| w.normal.dot(&(place(x.next) - at)) <= flat));
    let ball = thick.powi(3) / 3.0;
    if !convex {
        if !bare.is_empty() {
            return 0.0;
        }
        let turn = |w: &Wedge| angle(&(place(w.next) - at), &(place(w.last) - at));
        return (2.0 * PI - wedges.iter().map(turn).sum::<f64>()).abs() * ball;
    }
    let whole: Vec<V3> = ring.iter().map(|w| wedges[*w].normal).collect();
    let fan = bare.iter().fold(whole, |fan, w| behind(&fan, &w.normal));
    for k in 1..fan.len().saturating_sub(1) {
        let normals = [fan[0], fan[k], fan[k + 1]];
        let volume = solid_angle(&normals).abs() * ball;
        if volume > 0.0 {
            plots.push(Plot { ground: Ground::Corner(at, normals), thick, volume });
        }
    }
    0.0
}

/// Of a triangle on the unit ball (A. van Oosterom and J. Strackee, *The solid angle of a plane triangle*, IEEE Trans.
/// Biomed. Eng. 30, 1983).
fn solid_angle([a, b, c]: &[V3; 3]) -> f64 {
    2.0 * a.dot(&b.cross(c)).atan2(1.0 + a.dot(b) + b.dot(c) + c.dot(a))
}
