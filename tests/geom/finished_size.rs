//! The size of a piece with its skin on, by closed forms.

use crate::common::mesh;
use cragskin_fixtures::Shape;
use cragskin_fixtures::solid::{block, icosphere};
use cragskin_geom::measure::finished_size;
use cragskin_geom::mesh::Mesh;
use cragskin_geom::units::Length;
use std::f64::consts::PI;

const T: f64 = 0.05;

fn finished(mesh: &Mesh, coated: impl Fn(usize) -> bool) -> [f64; 3] {
    let coated: Vec<bool> = (0..mesh.triangles().len()).map(coated).collect();
    finished_size(mesh, &coated, Length::from_metres(T)).map(Length::metres)
}

fn near(got: [f64; 3], want: [f64; 3], by: f64) {
    (0..3).for_each(|k| assert!((got[k] - want[k]).abs() <= by, "{got:?} is not {want:?}"));
}

fn outward(mesh: &Mesh, face: usize) -> [f64; 3] {
    mesh.area_vector(face).normalize().into()
}

/// A strip drawn along x, `z(x)` high, `depth` deep, that faces up.
fn strip(points: &[[f64; 2]], depth: f64) -> Shape {
    let row = |y: f64| points.iter().map(move |[x, z]| [*x, y, *z]);
    let n = points.len() as u32;
    let quad = |i: u32| [[i, i + 1, n + i + 1], [i, n + i + 1, n + i]];
    Shape::new("strip", row(0.0).chain(row(depth)).collect(), (0..n - 1).flat_map(quad).collect())
}

/// Half a barrel of radius 1, 3 long, open at its ends and below. Coated outside it is 2 (1 + t) wide and 1 + t high, inside it keeps
/// its size; it never grows along its axis, nor down.
#[test]
fn an_open_half_barrel() {
    let arc: Vec<[f64; 2]> = (0..=360).map(|k| PI * f64::from(k) / 360.0).map(|a| [-a.cos(), a.sin()]).collect();
    let barrel = strip(&arc, 3.0);
    near(finished(&mesh(&barrel), |_| true), [2.0 + 2.0 * T, 3.0, 1.0 + T], 2e-5);
    // The lowest facet is a chord of half a degree and looks down by half of that: t sin 0.25.
    near(finished(&mesh(&barrel.flip()), |_| true), [2.0, 3.0, 1.0], T * 0.0045);
}

/// The wall of story E2: 12 x 3 x 8, floor and back bare; the ends, the front and the top grow.
#[test]
fn a_box_with_back_and_floor_bare() {
    for shape in [block(12.0, 3.0, 8.0), block(12.0, 3.0, 8.0).subdivide().shuffle(3)] {
        let it = mesh(&shape);
        let bare = |face: usize| outward(&it, face)[1] > 0.5 || outward(&it, face)[2] < -0.5;
        near(finished(&it, |face| !bare(face)), [12.0 + 2.0 * T, 3.0 + T, 8.0 + T], 1e-12);
        near(finished(&it, |_| true), [12.0 + 2.0 * T, 3.0 + 2.0 * T, 8.0 + 2.0 * T], 1e-12);
    }
}

/// Relief on a front between bare ends: zigzags of 45 and 60 degrees that reach an end never make the piece longer.
#[test]
fn relief_between_bare_ends() {
    for deep in [0.1, 0.1 * 3_f64.sqrt()] {
        let top: Vec<[f64; 2]> =
            (0..=40).map(|k| [0.1 * f64::from(k), if k % 2 == 0 { 0.5 } else { 0.5 + deep }]).collect();
        let outline: Vec<[f64; 2]> = [[0.0, 0.0], [4.0, 0.0]].into_iter().chain(top.into_iter().rev()).collect();
        let it = mesh(&cragskin_fixtures::solid::prism(&outline, 2.0).map(|[x, z, y]| [x, y, z]).flip());
        // Only what looks up is coated; ends, sides and floor are bare.
        let [x, y, z] = finished(&it, |face| outward(&it, face)[2] > 0.1);
        near([x, y, z], [4.0, 2.0, 0.5 + deep + T], 1e-9);
    }
}

/// A slope on a bare floor, 30 degrees up from it on both sides: coat goes on round the toe down to the floor, out by t.
#[test]
fn a_ridge_on_a_bare_floor() {
    let ridge = [[-3_f64.sqrt(), 0.0], [3_f64.sqrt(), 0.0], [0.0, 1.0]];
    let it = mesh(&cragskin_fixtures::solid::prism(&ridge, 2.0).map(|[x, z, y]| [x, y, z]).flip());
    let slopes = |face: usize| outward(&it, face)[2] > 0.1;
    near(finished(&it, slopes), [2.0 * (3_f64.sqrt() + T), 2.0, 1.0 + T], 1e-9);
}

/// A ball grows by the skin all round, however it is turned; a lone tilted sheet by what its face is moved.
#[test]
fn a_ball_and_a_tilted_sheet() {
    for degrees in [0.0, 17.0] {
        let ball = icosphere(1.0, 4).rotate([1.0, 2.0, 3.0], degrees);
        let [low, high] = ball.bounds();
        near(finished(&mesh(&ball), |_| true), [0, 1, 2].map(|k| high[k] - low[k] + 2.0 * T), 1e-12);
    }
    let sheet = mesh(&strip(&[[0.0, 0.0], [1.0, 1.0]], 1.0));
    // Outward is (-1, 0, 1) / sqrt 2.
    near(finished(&sheet, |_| true), [1.0 + T / 2_f64.sqrt(), 1.0, 1.0 + T / 2_f64.sqrt()], 1e-12);
}
