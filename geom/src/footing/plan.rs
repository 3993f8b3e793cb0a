//! Plane geometry of feet: outlines, the union of what overlaps, hulls.

use super::Foot;
use crate::bodies::Forest;
use crate::effort::Effort;
use crate::mesh::Mesh;
use crate::units::{Area, Length};
use nalgebra::{Point3, Vector2};

/// A directed side of an outline in plan; the foot lies on its left.
pub(super) type Side = [Vector2<f64>; 2];

/// The sides of a face that faces down, seen from above.
pub(super) fn sides(mesh: &Mesh, face: usize) -> [Side; 3] {
    let [a, b, c] = mesh.corners(face).map(|p| Vector2::new(p.x, p.y));
    [[a, c], [c, b], [b, a]]
}

fn order(a: &Vector2<f64>, b: &Vector2<f64>) -> std::cmp::Ordering {
    a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y))
}

/// Sides that no neighbour cancels.
pub(super) fn outline(mut sides: Vec<Side>) -> Vec<Side> {
    let ends = |side: &Side| if order(&side[0], &side[1]).is_le() { *side } else { [side[1], side[0]] };
    sides.sort_unstable_by(|a, b| {
        let (low, high) = (ends(a), ends(b));
        order(&low[0], &high[0]).then(order(&low[1], &high[1])).then(order(&a[0], &b[0]))
    });
    let mut out = Vec::new();
    for same in sides.chunk_by(|a, b| ends(a) == ends(b)) {
        let ahead = same.iter().filter(|side| ends(side) == **side).count();
        let back = same.len() - ahead;
        let [low, high] = ends(&same[0]);
        out.extend(std::iter::repeat_n([low, high], ahead.saturating_sub(back)));
        out.extend(std::iter::repeat_n([high, low], back.saturating_sub(ahead)));
    }
    out
}

/// Low and high corner of a box round the sides.
fn bounds(sides: &[Side]) -> [Vector2<f64>; 2] {
    let far = Vector2::repeat(f64::INFINITY);
    sides.iter().flatten().fold([far, -far], |[low, high], p| [low.inf(p), high.sup(p)])
}

fn apart(a: &[Vector2<f64>; 2], b: &[Vector2<f64>; 2], gap: f64) -> bool {
    (0..2).any(|k| a[0][k] > b[1][k] + gap || b[0][k] > a[1][k] + gap)
}

/// Outlines that overlap, or come within `gap` of each other, together. Empty ones are dropped. None where the effort is spent.
pub(super) fn grouped(outlines: Vec<Vec<Side>>, gap: f64, effort: &Effort) -> Option<Vec<Vec<Side>>> {
    let mut outlines: Vec<([Vector2<f64>; 2], Vec<Side>)> =
        outlines.into_iter().filter(|sides| !sides.is_empty()).map(|sides| (bounds(&sides), sides)).collect();
    outlines.sort_by(|(a, _), (b, _)| order(&a[0], &b[0]).then(order(&a[1], &b[1])));
    let mut forest = Forest::new(outlines.len());
    for (k, (box_a, a)) in outlines.iter().enumerate() {
        let near = outlines[k + 1..].iter().take_while(|(box_b, _)| box_b[0].x <= box_a[1].x + gap);
        let mut work = 0;
        for (j, (box_b, b)) in near.enumerate() {
            work += 1;
            let (a_root, b_root) = (forest.root(k as u32), forest.root((k + 1 + j) as u32));
            if a_root == b_root || apart(box_a, box_b, gap) {
                continue;
            }
            work += (a.len() * b.len()) as u64;
            if meet(a, b, gap) {
                forest.join(a_root, b_root);
            }
        }
        effort.spend(work);
        if effort.is_spent() {
            return None;
        }
    }
    let (group, count) = forest.numbered();
    let mut out = vec![Vec::new(); count];
    outlines.into_iter().zip(group).for_each(|((_, sides), group)| out[group as usize].extend(sides));
    Some(out)
}

/// Whether two outlines overlap or come within `gap`.
fn meet(a: &[Side], b: &[Side], gap: f64) -> bool {
    let close = |s: &Side| {
        let own = bounds(std::slice::from_ref(s));
        b.iter().any(|t| !apart(&own, &bounds(std::slice::from_ref(t)), gap) && distance(s, t) <= gap)
    };
    inside(a, &b[0][0]) || inside(b, &a[0][0]) || a.iter().any(close)
}

fn cross(a: Vector2<f64>, b: Vector2<f64>) -> f64 {
    a.x * b.y - a.y * b.x
}

/// Whether a point lies in an outline: sides crossed on the way to the right.
fn inside(sides: &[Side], p: &Vector2<f64>) -> bool {
    let crossings = sides.iter().map(|[a, b]| {
        let up = i32::from(b.y > p.y) - i32::from(a.y > p.y);
        if up != 0 && a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) > p.x { up } else { 0 }
    });
    crossings.sum::<i32>() != 0
}

fn to_side(p: &Vector2<f64>, [a, b]: &Side) -> f64 {
    let along = b - a;
    let t = ((p - a).dot(&along) / along.norm_squared().max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
    (p - a - along * t).norm()
}

fn distance(s: &Side, t: &Side) -> f64 {
    if crossing(s, t).is_some() {
        return 0.0;
    }
    [to_side(&s[0], t), to_side(&s[1], t), to_side(&t[0], s), to_side(&t[1], s)]
        .into_iter()
        .fold(f64::INFINITY, f64::min)
}

/// Where two sides cross.
fn crossing(s: &Side, t: &Side) -> Option<f64> {
    let (u, v) = (s[1] - s[0], t[1] - t[0]);
    let turn = cross(u, v);
    if turn == 0.0 {
        return None;
    }
    let (k, j) = (cross(t[0] - s[0], v) / turn, cross(t[0] - s[0], u) / turn);
    ((0.0..=1.0).contains(&k) && (0.0..=1.0).contains(&j)).then(|| s[0].x + u.x * k)
}

/// Steps of work a side in a strip: it is sorted and two trapezoids are added. By timing.
const STRIP_WORK: u64 = 20;

/// What sides bound together, counted once.
pub(super) struct Union {
    pub(super) area: f64,
    moment: Vector2<f64>,
    bounds: [Vector2<f64>; 2],
    pub(super) corners: Vec<Vector2<f64>>,
}

impl Union {
    pub(super) fn foot(&self) -> Foot {
        let [low, high] = self.bounds;
        Foot {
            area: Area::from_square_metres(self.area),
            middle: self.moment / self.area,
            size: [high.x - low.x, high.y - low.y].map(Length::from_metres),
        }
    }

    /// Within `gap` of the box in plan.
    pub(super) fn is_near(&self, p: &Point3<f64>, gap: f64) -> bool {
        let p = Vector2::new(p.x, p.y);
        !apart(&self.bounds, &[p, p], gap)
    }
}

/// The union, strip by strip: between two neighbouring ends or crossings no two sides cross, so each strip is a row of trapezoids. None
/// where the effort is spent.
pub(super) fn union(sides: &[Side], effort: &Effort) -> Option<Union> {
    let mut sides: Vec<Side> = sides.to_vec();
    let left = |s: &Side| s[0].x.min(s[1].x);
    let right = |s: &Side| s[0].x.max(s[1].x);
    sides.sort_unstable_by(|a, b| left(a).total_cmp(&left(b)).then(order(&a[0], &b[0])).then(order(&a[1], &b[1])));
    let mut ends: Vec<f64> = sides.iter().flatten().map(|p| p.x).collect();
    for (k, s) in sides.iter().enumerate() {
        let near = &sides[k + 1..][..sides[k + 1..].partition_point(|t| left(t) <= right(s))];
        ends.extend(near.iter().filter_map(|t| crossing(s, t)));
        effort.spend(near.len() as u64);
        if effort.is_spent() {
            return None;
        }
    }
    ends.sort_unstable_by(f64::total_cmp);
    ends.dedup();
    let (mut area, mut moment) = (0.0, Vector2::zeros());
    let (mut next, mut active): (usize, Vec<Side>) = (0, Vec::new());
    for strip in ends.windows(2) {
        let [from, to] = [strip[0], strip[1]];
        active.retain(|s| right(s) > from);
        while sides.get(next).is_some_and(|s| left(s) <= from) {
            if right(&sides[next]) > from {
                active.push(sides[next]);
            }
            next += 1;
        }
        effort.spend(STRIP_WORK * active.len() as u64);
        if effort.is_spent() {
            return None;
        }
        let height = |s: &Side, x: f64| s[0].y + (x - s[0].x) / (s[1].x - s[0].x) * (s[1].y - s[0].y);
        let mut row: Vec<([f64; 2], i32)> =
            active.iter().map(|s| ([height(s, from), height(s, to)], if s[1].x > s[0].x { 1 } else { -1 })).collect();
        row.sort_by(|(a, _), (b, _)| (a[0] + a[1]).total_cmp(&(b[0] + b[1])));
        let mut wraps = 0;
        for pair in row.windows(2) {
            wraps += pair[0].1;
            if wraps > 0 {
                trapezoid([from, to], pair[0].0, pair[1].0, &mut area, &mut moment);
            }
        }
    }
    let corners = sides.iter().map(|s| s[0]).collect();
    Some(Union { area, moment, bounds: bounds(&sides), corners })
}

/// Adds the area and the moment of what lies between two lines over a strip, as two triangles.
fn trapezoid(x: [f64; 2], low: [f64; 2], high: [f64; 2], area: &mut f64, moment: &mut Vector2<f64>) {
    let corner = |k: usize, y: [f64; 2]| Vector2::new(x[k], y[k]);
    let mut add = |a: Vector2<f64>, b: Vector2<f64>, c: Vector2<f64>| {
        let part = cross(b - a, c - a) / 2.0;
        *area += part;
        *moment += (a + b + c) * (part / 3.0);
    };
    add(corner(0, low), corner(1, low), corner(1, high));
    add(corner(0, low), corner(1, high), corner(0, high));
}

/// The corners of the convex hull of points, turning left: Andrew's monotone chain, lower hull left to right, upper hull back.
pub(super) fn hull(mut points: Vec<Vector2<f64>>) -> Vec<Vector2<f64>> {
    points.sort_unstable_by(order);
    points.dedup();
    let turn = |o: Vector2<f64>, a: Vector2<f64>, b: Vector2<f64>| cross(a - o, b - o);
    let chain = |points: &mut dyn Iterator<Item = Vector2<f64>>| {
        let mut hull: Vec<Vector2<f64>> = Vec::new();
        for p in points {
            while hull.len() > 1 && turn(hull[hull.len() - 2], hull[hull.len() - 1], p) <= 0.0 {
                hull.pop();
            }
            hull.push(p);
        }
        hull.pop();
        hull
    };
    let mut hull = chain(&mut points.iter().copied());
    hull.extend(chain(&mut points.iter().rev().copied()));
    hull
}

/// The area within the corners of a hull.
pub(super) fn hull_area(hull: &[Vector2<f64>]) -> f64 {
    let Some(first) = hull.first() else { return 0.0 };
    hull.windows(2).map(|pair| cross(pair[0] - first, pair[1] - first) / 2.0).sum()
}

/// How far a point lies outside a hull; everything lies far outside of none.
pub(super) fn outside_hull(hull: &[Vector2<f64>], p: &Vector2<f64>) -> f64 {
    let sides = || hull.iter().zip(hull.iter().cycle().skip(1)).map(|(a, b)| [*a, *b]);
    if !hull.is_empty() && sides().all(|[a, b]| cross(b - a, p - a) >= 0.0) {
        return 0.0;
    }
    sides().map(|side| to_side(p, &side)).fold(f64::INFINITY, f64::min)
}
