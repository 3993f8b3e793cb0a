//! Coats that end short of one another's ends: returns about corners, patches that meet in a point. Each truth by plane geometry.

use crate::common::mesh;
use crate::skin_ends::skin_of_sheet;
use cragskin_fixtures::Shape;
use cragskin_fixtures::solid::{cut_block, ngon, prism};
use cragskin_geom::mesh::Mesh;
use cragskin_geom::skin::{Accuracy, Coat, Face, skin};
use cragskin_geom::units::Length;
use std::f64::consts::PI;

const T: f64 = 0.04;

/// How well a coat must be known whose ends meet in points: twice what is asked for everywhere, since such a place is measured to first
/// order only. Looser than that would hide a return, which is some 2 % here.
const KNOWN: f64 = 2.0 * 0.005;

/// A side of a block: its axis, and whether it is the far one.
type Side = (usize, bool);

/// The coat of a block cut at places is within its bound of `want`, and known to a share of it.
fn assert_block(
    what: &str,
    face: Face,
    cuts: [&[f64]; 3],
    is_coated: impl Fn(Side, [f64; 3]) -> bool,
    (want, known): (f64, f64),
) {
    let shape = cut_block(cuts);
    let drawn = mesh(&shape);
    let of = |f: usize| {
        let n = drawn.area_vector(f);
        let (axis, corners) = (n.iamax(), drawn.corners(f));
        let middle = [0, 1, 2].map(|k| {
            let [low, high] = [f64::min, f64::max].map(|pick| corners.iter().map(|p| p[k]).reduce(pick).unwrap());
            (low + high) / 2.0
        });
        is_coated((axis, n[axis] > 0.0), middle)
    };
    let coated: Vec<bool> = (0..drawn.triangles().len()).map(of).collect();
    assert_skin(
        what,
        &shape,
        &Coat { coated: &coated, ..Coat::everywhere(face, Length::from_metres(T)) },
        (want, known),
    );
}

fn assert_skin(what: &str, shape: &Shape, coat: &Coat, (want, known): (f64, f64)) {
    for turned in [0.0, 37.0] {
        let posed: Mesh = mesh(&shape.clone().rotate([0.3, 0.5, 0.8], turned));
        let skin = skin(&posed, coat, Accuracy::USUAL);
        let (volume, bound) = (skin.volume.cubic_metres(), skin.bound.cubic_metres());
        assert!((volume - want).abs() <= bound, "{what} {turned}: {volume} is not {want} within {bound}");
        assert!(bound <= known * volume, "{what} {turned}: bound {bound} of {volume}");
    }
}

/// The end of a bar is coated, and 5 mm beside each of its four arrises as far down as the coat of the end is thick: that takes all of it.
#[test]
fn returns_beside_every_arris_add_nothing_to_a_full_end() {
    let (wide, strip) = (0.1, 0.005);
    let cuts = [0.0, strip, wide - strip, wide];
    let is_coated = |(axis, far): Side, middle: [f64; 3]| match axis {
        2 => !far,
        _ => middle[2] < T && [strip, wide - strip].iter().any(|s| (middle[1 - axis] - s).abs() < strip),
    };
    assert_block("bar", Face::Finished, [&cuts, &cuts, &[0.0, T, 0.3]], is_coated, (wide * wide * T, KNOWN));
}

/// A thin board, its back coated, with returns of 10 mm on one end and on the front: what of each the others do not take. The end
/// takes what is farther from the back than the coat is thick, 20 mm by its own, and of the front's return the same is left.
#[test]
fn three_coats_of_one_edge_count_once_each() {
    let (deep, strip) = (0.06, 0.01);
    let is_coated = |(axis, far): Side, middle: [f64; 3]| match (axis, far) {
        (1, true) => true,
        (0, false) => middle[1] < strip,
        (1, false) => middle[0] < strip,
        _ => false,
    };
    let cuts: [&[f64]; 3] = [&[0.0, strip, 0.2], &[0.0, strip, deep], &[0.0, 1.0]];
    // The end's return lies before the front's: 10 mm deep and as wide as the coat is thick. The front's goes on from there to
    // where the coat of the back begins.
    let more = strip * T + (deep - T - strip) * strip;
    assert_block("board", Face::Finished, cuts, is_coated, (0.2 * T + more, KNOWN));
}

/// One flat of twelve is coated, and 5 mm of the next. The strip's coat is square on its own flat: within the flat's coat it adds what
/// is over its end.
#[test]
fn a_strip_past_a_joint_takes_nothing_from_the_flat_beside_it() {
    let (radius, height, strip) = (0.25, 0.5, 0.005);
    let turn = PI / 6.0;
    let flat = 2.0 * radius * (turn / 2.0).sin();
    let mut polygon = ngon(12, radius);
    let (a, b) = (polygon[0], polygon[1]);
    let share = strip / flat;
    polygon.insert(1, [0, 1].map(|k| b[k] + share * (a[k] - b[k])));
    let shape = prism(&polygon, height);
    let drawn = mesh(&shape);
    let near = |p: [f64; 2], q: &nalgebra::Point3<f64>| (p[0] - q.x).hypot(p[1] - q.y) < 1e-9;
    let [s, b, c] = [polygon[1], polygon[2], polygon[3]];
    let on = |f: usize, p: [f64; 2], q: [f64; 2]| drawn.corners(f).iter().all(|v| near(p, v) || near(q, v));
    let coated: Vec<bool> = (0..drawn.triangles().len()).map(|f| on(f, s, b) || on(f, b, c)).collect();
    assert_eq!(coated.iter().filter(|c| **c).count(), 4);
    let coat = Coat { coated: &coated, ..Coat::everywhere(Face::Finished, Length::from_metres(T)) };
    // In the section: the flat's rectangle, and of the strip's what lies before the joint's side of it: cut off by the line through
    // the joint square to the flat it is a triangle `strip` and `strip / tan(turn)` long.
    let beside = strip * (strip / turn.tan()).min(T) / 2.0;
    // The strip is narrower than a cube of the grid: twice that again. Without it the skin would be 3 % less.
    assert_skin("gon", &shape, &coat, ((flat * T + beside) * height, 2.0 * KNOWN));
}

/// Top and one side of a cube are coated up to the middle of their common arris, and bare beyond. Where the arris is coated on both
/// sides the coat is rounded over, up to the border: a quarter of a circle on half of the arris.
#[test]
fn a_bare_face_that_meets_the_coat_in_a_point_cuts_nothing() {
    let size = 0.3;
    let is_coated = |(axis, far): Side, middle: [f64; 3]| axis != 1 && far && middle[1] < size / 2.0;
    let cuts: [&[f64]; 3] = [&[0.0, size], &[0.0, size / 2.0, size], &[0.0, size]];
    let want = (2.0 * size * T + PI / 4.0 * T * T) * size / 2.0;
    assert_block("half", Face::Core, cuts, is_coated, (want, KNOWN));
    // The same without its bottom is a sheet; turned, its right angles are right to rounding alone.
    let shape = cut_block(cuts).rotate([0.3, 0.5, 0.8], 37.0);
    let drawn = mesh(&cut_block(cuts));
    let is_bottom = |f: usize| drawn.corners(f).iter().all(|p| p.z == 0.0);
    let is_on = |f: usize, axis: usize| drawn.corners(f).iter().all(|p| p[axis] == size);
    let in_front = |f: usize| drawn.corners(f).iter().all(|p| p.y <= size / 2.0);
    let kept = (0..drawn.triangles().len()).filter(|f| !is_bottom(*f));
    let coated: Vec<bool> = kept.map(|f| (is_on(f, 0) || is_on(f, 2)) && in_front(f)).collect();
    let (skin, open) = skin_of_sheet(&mesh(&shape.delete(|f, _| is_bottom(f))), &coated, T);
    let (volume, bound) = (skin.volume.cubic_metres(), skin.bound.cubic_metres());
    assert!(open.agrees() && (volume - want).abs() <= bound, "sheet: {volume} is not {want} within {bound}");
    assert!(bound <= 0.005 * volume, "sheet: bound {bound} of {volume}, and 0.5 % is asked for");
    // The side whole, and on the top a band of 50 mm across it: beside the band the bare top goes on as if a board stood there.
    let band = [0.15, 0.2];
    let is_coated = |(axis, far): Side, middle: [f64; 3]| {
        far && (axis == 0 || axis == 2 && band[0] < middle[1] && middle[1] < band[1])
    };
    let cuts: [&[f64]; 3] = [&[0.0, size], &[0.0, band[0], band[1], size], &[0.0, size]];
    let want = size * size * T + (band[1] - band[0]) * (size * T + PI / 4.0 * T * T);
    assert_block("band", Face::Core, cuts, is_coated, (want, KNOWN));
}
