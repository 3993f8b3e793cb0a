//! Figures that the floor, the foam shop and the workbook go by: loads foot by foot, nothing where nothing is defined.

use crate::common::{Folder, line, number};
use cragskin_fixtures::Shape;
use cragskin_fixtures::solid::{block, icosphere, prism};
use serde_json::Value;

const SQ_FT: f64 = 0.3048 * 0.3048;
const WORDS: [&str; 10] =
    ["--units", "ft", "--face", "core", "--floor", "bare", "--back", "coated", "--skin", "3/4 in"];

fn takeoff(shape: &Shape, more: &[&str]) -> Value {
    let at = Folder::new()
        .with("it.obj", shape.to_obj())
        .with("book.toml", include_str!("../../fixtures/books/hand_check.toml"));
    at.json(&[&["takeoff", "it.obj", "--json", "--book", "book.toml"], &WORDS[..], more].concat())
}

fn near(got: f64, want: f64, by: f64) {
    assert!((got / want - 1.0).abs() <= by, "{got} is not {want}");
}

fn exact(json: &Value, item: &str) -> f64 {
    line(json, "weights", item)["exact"].as_f64().unwrap_or_else(|| panic!("{item} has no figure"))
}

/// Two legs of 2 x 2 ft, 8 ft between them.
fn arch() -> Shape {
    let elevation =
        [[0.0, 0.0], [2.0, 0.0], [2.0, 6.0], [10.0, 6.0], [10.0, 0.0], [12.0, 0.0], [12.0, 8.0], [0.0, 8.0]];
    prism(&elevation, 2.0).map(|[x, z, y]| [x, y, z]).flip()
}

/// By symmetry each leg bears half: weight / 2 / 4 sq ft, three times what the hull of 24 sq ft says. A part that was left out bears
/// nothing, and the limit goes by the leg.
#[test]
fn an_arch_loads_the_floor_under_its_legs() {
    let json = takeoff(&arch(), &[]);
    let wet = exact(&json, "total, wet on the day");
    near(exact(&json, "floor load, wet on the day"), wet / 8.0, 1e-9);
    near(number(&json, "footprint_m2") / SQ_FT, 8.0, 1e-9);
    near(number(&json, "footprint_hull_m2") / SQ_FT, 24.0, 1e-9);
    near(number(&json, "feet.1.wet_mass_kg") / 0.453_592_37, wet / 2.0, 1e-9);
    let sum = line(&json, "weights", "floor load, wet on the day")["sum"].as_str().unwrap();
    assert!(sum.contains("worst of 2 feet") && sum.contains("above it: ask the engineer"), "{sum}");

    let slab = block(40.0, 40.0, 1.0).translate([-14.0, -19.0, 0.0]).named("plinth");
    let both = takeoff(&arch().named("arch").append(&slab), &["--leave-out", "plinth"]);
    // The grid of the skin starts elsewhere.
    near(exact(&both, "floor load, wet on the day"), wet / 8.0, 1e-4);
}

/// A lintel that goes on 6 ft past one leg: that leg bears more. Moments about the middle of the other, by the drawn volume and the
/// coated area; the total is the same to the last bit of the sum.
#[test]
fn a_leg_under_more_weight_bears_more() {
    let elevation = [
        [0.0, 0.0],
        [2.0, 0.0],
        [2.0, 6.0],
        [10.0, 6.0],
        [10.0, 0.0],
        [12.0, 0.0],
        [12.0, 6.0],
        [18.0, 6.0],
        [18.0, 8.0],
        [0.0, 8.0],
    ];
    let json = takeoff(&prism(&elevation, 2.0).map(|[x, z, y]| [x, y, z]).flip(), &[]);
    // Foam, in elevation: legs 12 at 1 and 12 at 11, lintel 36 at 9, over 60: 468 / 60 = 7.8. Coated, two elevations of 60 at 7.8; 2 ft of:
    // top 18 at 9, soffits 8 at 6 and 6 at 15, plumb 8 at 0, 2 at 18, 6 each at 2, 10, 12.
    let [area, moment] =
        [2.0 * 60.0 + 2.0 * (18.0 + 14.0 + 10.0 + 18.0), 2.0 * 468.0 + 2.0 * (162.0 + 48.0 + 90.0 + 36.0 + 6.0 * 24.0)];
    let (foam, lath) = (exact(&json, "foam core"), exact(&json, "lath as hung"));
    let skin = exact(&json, "skin, wet") + lath;
    // The lever: middles at 1 and 11.
    let right = (skin * (moment / area - 1.0) + foam * (7.8 - 1.0)) / 10.0;
    near(exact(&json, "floor load, wet on the day"), right / 4.0, 1e-6);
    near(skin + foam, exact(&json, "total, wet on the day"), 1e-9);
    assert!(line(&json, "weights", "floor load, cured")["sum"].as_str().unwrap().contains("foot 2"));
}

/// A ball touches in a point: no load, no limit kept by it, and a question.
#[test]
fn a_round_base_has_no_load_and_keeps_no_limit() {
    let ball = icosphere(2.0, 4).translate([0.0, 0.0, 2.0]);
    let at = Folder::new().with("ball.obj", ball.to_obj());
    let json = takeoff(&ball, &[]);
    assert_eq!(json["footprint_m2"], Value::Null);
    let load = line(&json, "weights", "floor load, wet on the day");
    assert_eq!(load["exact"], Value::Null);
    assert!(load["quality"].as_str().unwrap().starts_with("not defined"));
    at.run(&[&["takeoff", "ball.obj"], &WORDS[..]].concat()).exits(0).says("how is it bedded?");
    let limit = ["batch", "ball.obj", "--limit", "floor load > 100000 lb/sq ft"];
    at.run(&[&limit[..], &WORDS[..]].concat()).exits(1).says("UNKNOWN");
}

/// A dune drawn as a sheet, L = 8 ft wide, in profile (0, 1) - (4, 3) - (10, 0): it looks away where it falls behind the height of its front rim,
/// from (8, 1) on, and there the back encloses nothing. By hand: 2 L sqrt 20 coated, L sqrt 5 hidden; skin is area x thickness within
/// what one arris and the rims make of it, and no texture is blamed.
#[test]
fn what_closing_hides_is_in_no_figure() {
    let profile = [[0.0, 1.0], [4.0, 3.0], [10.0, 0.0]];
    let row = |x: f64| profile.map(|[y, z]| [x, y, z]);
    let quad = |i: u32| [[i, i + 3, i + 4], [i, i + 4, i + 1]];
    let dune = Shape::new("dune", [row(0.0), row(8.0)].concat(), (0..2).flat_map(quad).collect());
    let json = takeoff(&dune, &["--close", "back"]);
    near(number(&json, "coated_area_m2") / SQ_FT, 16.0 * 20_f64.sqrt(), 1e-4);
    near(number(&json, "hidden_area_m2") / SQ_FT, 8.0 * 5_f64.sqrt(), 1e-3);
    near(number(&json, "skin_volume_m3"), number(&json, "area_times_skin_m3"), 0.02);
    let said = json["findings"].as_array().unwrap().iter().any(|found| found["code"] == "hidden_by_closing");
    assert!(said, "{}", json["findings"]);
}

/// Two scopes at odds: a hole makes the area a lower bound, a back that nobody settled an upper one. A figure that is neither is in no
/// writer, and the foam shop gets no mesh.
#[test]
fn what_is_not_defined_is_absent() {
    let faces = "f 1 4 3 2\nf 3 4 8 7\nf 2 3 7 6\nf 4 1 5 8\nf 5 6 7 8\nf 1 2 6\n";
    let at = Folder::new().with(
        "hole.obj",
        format!("v 0 0 0\nv 12 0 0\nv 12 3 0\nv 0 3 0\nv 0 0 8\nv 12 0 8\nv 12 3 8\nv 0 3 8\n{faces}"),
    );
    let words = ["--units", "ft", "--face", "core", "--floor", "bare"];
    let json = at.json(&[&["takeoff", "hole.obj", "--json"], &words[..]].concat());
    let quality = &json["quality"];
    for (grade, fields) in [
        ("core_volume", &["core_volume_m3"][..]),
        (
            "area",
            &[
                "coated_area_m2",
                "bare_area_m2",
                "area_by_class_m2",
                "lath_area_m2",
                "area_times_skin_m3",
                "core_area_m2",
            ],
        ),
        ("skin_volume", &["skin_volume_m3", "skin_volume_bound_m3"]),
    ] {
        for field in fields {
            assert_eq!(
                json[*field].is_null(),
                quality[grade] == "not defined",
                "{field} with {grade} {}",
                quality[grade]
            );
        }
    }
    assert_eq!(quality["core_volume"], "not defined");
    at.run(&[&["core", "hole.obj", "--out", "cut"], &words[..]].concat()).exits(2).says("the core is not defined");
    assert!(!at.path().join("cut").exists());
}
