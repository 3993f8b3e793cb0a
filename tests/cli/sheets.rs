//! Facades without a back, by the whole program.

use crate::common::{Folder, number};
use cragskin_fixtures::Shape;
use cragskin_fixtures::solid::block;

const CU_FT: f64 = 0.028_316_846_592;

/// Half a barrel of 48 flats, radius 6 ft and 10 ft high, open at both ends and at the back.
fn half_barrel() -> Shape {
    let n = 48u32;
    let at = |i: u32| std::f64::consts::PI * (1.0 + f64::from(i) / f64::from(n));
    let ring = |z: f64| (0..=n).map(move |i| [6.0 * at(i).cos(), 6.0 * at(i).sin(), z]);
    let quads = (0..n).flat_map(|i| [[i, i + 1, i + n + 2], [i, i + n + 2, i + n + 1]]);
    Shape::new("barrel", ring(0.0).chain(ring(10.0)).collect(), quads.collect())
}

/// By hand: 48 slabs of 12 sin(pi/96) x 10 ft and 47 wedges of pi/48 between them, under 1-1/4 in, cut square at the ends. A skin
/// behind the same face (what visitors see) loses the kites between the slabs instead.
#[test]
fn a_barrel_without_a_back_takes_the_skin_of_its_face() {
    let folder = Folder::new().with("barrel.obj", half_barrel().to_obj());
    let (t, turn) = (1.25 / 12.0, std::f64::consts::PI / 48.0);
    let slabs = 48.0 * 12.0 * (turn / 2.0).sin() * 10.0 * t;
    let words = ["takeoff", "barrel.obj", "--units", "ft", "--skin", "1-1/4 in", "--json", "--face"];
    for (face, truth) in [
        ("core", slabs + 47.0 * turn * t * t / 2.0 * 10.0),
        ("finished", slabs - 47.0 * (turn / 2.0).tan() * t * t * 10.0),
    ] {
        let json = folder.json(&[&words[..], &[face]].concat());
        let (volume, bound) = (number(&json, "skin_volume_m3") / CU_FT, number(&json, "skin_volume_bound_m3") / CU_FT);
        assert!(
            (volume - truth).abs() <= bound && bound < 0.005 * truth,
            "{face}: {volume} within {bound} for {truth}"
        );
        assert_eq!(json["quality"]["skin_volume"], "good", "{face}");
        let apart = number(&json, "open_skin.by_feet_m3") - number(&json, "open_skin.by_points_m3");
        let within = number(&json, "open_skin.by_feet_bound_m3") + number(&json, "open_skin.by_points_bound_m3");
        assert!(apart.abs() <= within, "{face}: {apart} of {within}");
    }
    folder.run(&[&words[..6], &["--face", "core", "--full"]].concat()).exits(0).says("Cut square at open rims");
}

/// A model that is nothing beside its skin is a wrong unit. It is answered at once, by formula, and says so.
#[test]
fn a_pebble_under_a_skin_asks_for_the_unit() {
    let folder = Folder::new().with("wall.obj", block(12.0, 3.0, 8.0).to_obj());
    folder
        .run(&["takeoff", "wall.obj", "--units", "mm"])
        .exits(0)
        .says("no more than four skins across: is the unit right?");
    folder.run(&["takeoff", "wall.obj", "--units", "ft"]).exits(0).never_says("four skins");
}
