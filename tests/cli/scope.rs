//! What is coated, by what the user says and does not say. Figures by hand.

use crate::common::{Folder, WIDE, number};
use cragskin_fixtures::solid::block;
use cragskin_fixtures::{Shape, rock};
use serde_json::Value;
use std::f64::consts::PI;

const SQ_FT: f64 = 0.3048 * 0.3048;

fn near(got: f64, want: f64, by: f64) {
    assert!((got - want).abs() <= by, "{got} is not {want} to {by}");
}

fn finding<'a>(json: &'a Value, code: &str) -> Option<&'a str> {
    json["findings"].as_array().unwrap().iter().find(|f| f["code"] == code)?["text"].as_str()
}

fn takeoff(at: &Folder, model: &str, flags: &[&str]) -> Value {
    std::fs::write(at.path().join("wide.toml"), WIDE).unwrap();
    let book: &[&str] = if flags.contains(&"--book") { &[] } else { &["--book", "wide.toml"] };
    let words = ["takeoff", model, "--units", "ft", "--face", "core", "--skin", "3/4 in", "--json"];
    at.json(&[&words[..], book, flags].concat())
}

fn coated(json: &Value) -> f64 {
    number(json, "coated_area_m2") / SQ_FT
}

/// 12 x 3 x 8 ft, floor (36) and back (96) are the part `hidden`: 312 - 132 = 180 sq ft, and nothing is left to ask.
#[test]
fn a_side_that_a_rule_decides_is_not_asked_about() {
    let text = "v 0 0 0\nv 12 0 0\nv 12 3 0\nv 0 3 0\nv 0 0 8\nv 12 0 8\nv 12 3 8\nv 0 3 8\n\
        usemtl rock\nf 1 2 6 5\nf 2 3 7 6\nf 4 1 5 8\nf 5 6 7 8\nusemtl hidden\nf 1 4 3 2\nf 3 4 8 7\n";
    let at = Folder::new().with("wall.obj", text);
    let json = takeoff(&at, "wall.obj", &["--bare-part", "hidden", "--limit", "coated area > 181 sq ft"]);
    near(coated(&json), 180.0, 1e-9);
    near(number(&json, "coated_area_if_open_sides_bare_m2") / SQ_FT, 180.0, 1e-9);
    assert_eq!((&json["open_sides"], &json["quality"]["area"]), (&Value::Array(vec![]), &"good".into()));
    assert_eq!(json["limits"][0]["verdict"], "kept");
    // Said twice it is counted once: the later rule decides.
    let json = takeoff(&at, "wall.obj", &["--bare-part", "hidden", "--floor", "bare"]);
    let rules: Vec<f64> = (0..2).map(|k| number(&json, &format!("scope.{k}.area_m2")) / SQ_FT).collect();
    near(rules[0], 0.0, 1e-9);
    near(rules[1], 132.0, 1e-9);
}

/// Blocks of 8 x 4 x 6 and 8 x 4 x 4 ft that share 2 x 4 x 4: 304 sq ft in the open, of which the floor is 14 x 4 = 56 and the back
/// 48 + 24 = 72.
#[test]
fn an_answer_gives_the_figure_that_was_printed_before_it() {
    let blocks = block(8.0, 4.0, 6.0).append(&block(8.0, 4.0, 4.0).translate([6.0, 0.0, 0.0]));
    let at = Folder::new().with("blocks.obj", blocks.to_obj());
    let open = takeoff(&at, "blocks.obj", &[]);
    near(coated(&open), 304.0, 1e-3);
    near(number(&open, "coated_area_if_open_sides_bare_m2") / SQ_FT, 176.0, 1e-3);
    // Of 208 + 160 sq ft as modelled 2 x (4 x 4) + 2 x 4 lie inside the other block, and floor, front and back of what they share once more
    // in its planes: 2 x 4 + 2 x (2 x 4).
    near(number(&open, "as_modelled_area_m2") / SQ_FT, 368.0, 1e-3);
    near(number(&open, "buried_area_m2") / SQ_FT, 40.0, 1e-3);
    near(number(&open, "flush_area_m2") / SQ_FT, 24.0, 1e-3);
    let settled = takeoff(&at, "blocks.obj", &["--floor", "bare", "--back", "bare"]);
    near(coated(&settled), 176.0, 1e-3);
    near(number(&settled, "scope.0.area_m2") / SQ_FT, 56.0, 1e-3);
    near(number(&settled, "scope.1.area_m2") / SQ_FT, 72.0, 1e-3);
    near(number(&settled, "bare_area_m2") / SQ_FT, 128.0, 1e-3);
}

/// The block turned by 5 degrees: 180 sq ft by flags and by a plane rule. Turned by 20 the back is not found, and the area is the most it
/// can be.
#[test]
fn a_turned_piece_has_its_back_or_says_that_it_was_not_found() {
    let job = "[job]\nname = \"wall\"\nmodel = \"yaw.obj\"\nunits = \"ft\"\n[model]\nface = \"core\"\n[scope]\nfloor = \"bare\"\n\
        back = \"coated\"\n[[scope.plane]]\nfacing = \"+y\"\nat = \"3 ft\"\nis = \"bare\"\n";
    let at = Folder::new()
        .with("yaw.obj", block(12.0, 3.0, 8.0).turn(5.0).to_obj())
        .with("yaw20.obj", block(12.0, 3.0, 8.0).turn(20.0).to_obj())
        .with("job.toml", job)
        .with("narrow.toml", "[scope]\nwithin_angle = \"4 deg\"\n");
    let bare = ["--floor", "bare", "--back", "bare"];
    let json = takeoff(&at, "yaw.obj", &bare);
    near(coated(&json), 180.0, 1e-4);
    near(number(&json, "scope.1.turned_deg"), 5.0, 1e-4);
    assert_eq!(json["quality"]["area"], "good");
    near(coated(&at.json(&["takeoff", "job.toml", "--json"])), 180.0, 1e-4);
    let narrow = [&bare[..], &["--book", "narrow.toml"]].concat();
    for json in [takeoff(&at, "yaw20.obj", &bare), takeoff(&at, "yaw.obj", &narrow)] {
        near(coated(&json), 276.0, 1e-4);
        assert_eq!(json["quality"]["area"], "upper bound");
        assert!(json["quality"]["reasons"].to_string().contains("nothing large was found by the rule `back`"));
    }
    // A name mistyped leaves what was meant coated.
    let json = takeoff(&at, "yaw.obj", &[&bare[..], &["--bare-part", "nothing"]].concat());
    assert_eq!(json["quality"]["area"], "upper bound");
}

/// Every triangle of the block twice, once each way: 312 sq ft, as many bags as the block itself.
#[test]
fn a_block_drawn_on_both_sides_is_one_block() {
    let one = block(12.0, 3.0, 8.0);
    let at = Folder::new().with("one.obj", one.to_obj()).with("both.obj", one.clone().append(&one.flip()).to_obj());
    let all = ["--floor", "coated", "--back", "coated"];
    let [one, both] = ["one.obj", "both.obj"].map(|model| takeoff(&at, model, &all));
    near(coated(&both), 312.0, 1e-9);
    assert_eq!(one["order"], both["order"]);
    assert_eq!((&one["quality"], &one["area_by_class_m2"]), (&both["quality"], &both["area_by_class_m2"]));
    assert!(finding(&both, "drawn_on_both_sides").unwrap().contains("12 triangles"));
    near(number(&both, "drawn_again_area_m2") / SQ_FT, 312.0, 1e-9);
}

/// A ball of 4 ft cut open at 120 degrees from its top: `n` rings of triangles, facing outward.
fn dome(n: u32) -> Shape {
    let at = |ring: u32, k: u32| {
        let (sin, cos) = (PI / 1.5 * f64::from(ring) / f64::from(n)).sin_cos();
        let (s, c) = (2.0 * PI * f64::from(k) / f64::from(4 * n)).sin_cos();
        [4.0 * sin * c, 4.0 * sin * s, 4.0 * cos]
    };
    let index = |ring: u32, k: u32| if ring == 0 { 0 } else { 1 + (ring - 1) * 4 * n + k % (4 * n) };
    let mut positions = vec![[0.0, 0.0, 4.0]];
    (1..=n).for_each(|ring| positions.extend((0..4 * n).map(|k| at(ring, k))));
    let mut triangles = Vec::new();
    for ring in 0..n {
        for k in 0..4 * n {
            let [a, b, c, d] = [index(ring, k), index(ring + 1, k), index(ring + 1, k + 1), index(ring, k + 1)];
            triangles.push([a, b, c]);
            triangles.extend((ring > 0).then_some([a, c, d]));
        }
    }
    Shape::new("dome", positions, triangles)
}

/// A dome of radius R drawn facing inward is a ceiling seen from below or a mound drawn inside out: which one is asked. By the zone of a
/// sphere, 2 pi R^2 (1 - cos a) lies within a of the axis (Archimedes).
#[test]
fn a_dome_facing_inward_is_asked_about() {
    let job = "[job]\nname = \"vault\"\nmodel = \"in.obj\"\nunits = \"ft\"\n[model]\nface = \"core\"\nsheets = \"as drawn\"\n";
    let at = Folder::new()
        .with("in.obj", dome(24).flip().to_obj())
        .with("out.obj", dome(24).to_obj())
        .with("both.obj", dome(12).append(&dome(12).flip()).to_obj())
        .with("job.toml", job);
    let zone = |degrees: f64| 2.0 * PI * 16.0 * (1.0 - degrees.to_radians().cos());
    let by_class = |json: &Value, class: &str| number(json, &format!("area_by_class_m2.{class}")) / SQ_FT;
    let lean = |json: &Value| json["quality"]["lean"].as_str().unwrap().to_owned();

    let asked = takeoff(&at, "in.obj", &[]);
    assert_eq!((lean(&asked).as_str(), &asked["quality"]["skin_volume"]), ("not known", &"not known".into()));
    assert!(finding(&asked, "sheet_turned").unwrap().contains("--as-drawn"));
    for json in [takeoff(&at, "in.obj", &["--as-drawn"]), at.json(&["takeoff", "job.toml", "--json"])] {
        assert_eq!((lean(&json).as_str(), finding(&json, "sheet_turned")), ("good", None));
        near(by_class(&json, "soffit"), zone(45.0), 0.05 * zone(45.0));
        near(by_class(&json, "top"), 0.0, 0.0);
    }
    let outward = takeoff(&at, "in.obj", &["--outward"]);
    let drawn = takeoff(&at, "out.obj", &[]);
    for json in [&outward, &drawn] {
        assert_eq!(lean(json), "good");
        near(by_class(json, "top"), zone(30.0), 0.05 * zone(30.0));
        near(by_class(json, "soffit"), 0.0, 0.0);
    }
    let [turned, as_drawn] = [&outward, &drawn].map(|json| number(json, "skin_volume_m3"));
    near(turned / as_drawn, 1.0, 1e-6);
    at.run(&["takeoff", "in.obj", "--units", "ft", "--as-drawn", "--outward"]).exits(2);

    // Drawn on both sides neither way of drawing answers; the area is that of one side, to the chords of 48 sides.
    for flags in [&[][..], &["--as-drawn"]] {
        let json = takeoff(&at, "both.obj", flags);
        assert_eq!(lean(&json), "not known");
        near(coated(&json), zone(120.0), 0.01 * zone(120.0));
    }
    assert_eq!(lean(&takeoff(&at, "both.obj", &["--outward"])), "good");
}

/// A block of 12 x 3 x 8 ft on a foot of 6 x 6 in, 2 in high. Of its underside 36 - 0.25 = 35.75 sq ft are in the open; with
/// the foot's 0.25 below and 4 x 6 in x 2 in about it 312 - 0.25 + 0.25 + 0.333 = 312.333 sq ft are.
#[test]
fn what_lies_low_over_the_floor_is_asked_about() {
    let foot = block(0.5, 0.5, 1.0 / 6.0).translate([6.0, 1.0, 0.0]);
    let at = Folder::new()
        .with("footed.obj", block(12.0, 3.0, 8.0).translate([0.0, 0.0, 1.0 / 6.0]).append(&foot).to_obj())
        .with("low.toml", "[scope]\nnear_floor = \"1 in\"\n");
    let settled = ["--back", "coated", "--floor", "bare"];
    let open = takeoff(&at, "footed.obj", &settled);
    near(coated(&open), 312.0 + 1.0 / 3.0 - 0.25, 1e-3);
    assert_eq!(
        (&open["open_sides"][0]["side"], &open["quality"]["area"]),
        (&"underside".into(), &"upper bound".into())
    );
    near(number(&open, "open_sides.0.area_m2") / SQ_FT, 35.75, 1e-3);
    for (answer, left) in [("bare", 35.75), ("coated", 0.0)] {
        let json = takeoff(&at, "footed.obj", &[&settled[..], &["--underside", answer]].concat());
        near(coated(&json), coated(&open) - left, 1e-6);
        assert_eq!((&json["open_sides"], &json["quality"]["area"]), (&Value::Array(vec![]), &"good".into()));
    }
    // Where there is none, saying that it is coated leaves no doubt.
    let plain = Folder::new().with("wall.obj", block(12.0, 3.0, 8.0).to_obj());
    let json = takeoff(&plain, "wall.obj", &[&settled[..], &["--underside", "coated"]].concat());
    assert_eq!(json["quality"]["area"], "good");
    let bare = number(&open, "coated_area_if_open_sides_bare_m2") / SQ_FT;
    near(bare, coated(&open) - 35.75, 1e-3);
    // Higher than the book's distance a tool gets there; so it does where the floor is to be coated.
    let json = takeoff(&at, "footed.obj", &[&settled[..], &["--book", "low.toml"]].concat());
    assert_eq!(json["open_sides"], Value::Array(vec![]));
    let json = takeoff(&at, "footed.obj", &["--back", "coated", "--floor", "coated"]);
    assert_eq!(json["open_sides"], Value::Array(vec![]));
}

/// What a hand reaches under the edge is not asked about: a slab of 12 x 3 ft on a plinth that leaves 11 in free all round lies 11 in in from its
/// edge at most; where the plinth leaves 13 in, what lies farther in than 12 in is out of reach, and the whole of the ring is asked
/// about: 12 x 3 - (12 - 26/12) x (3 - 26/12) = 36 - 8.194 = 27.806 sq ft.
#[test]
fn what_a_tool_reaches_is_not_asked_about() {
    let settled = ["--back", "coated", "--floor", "bare"];
    for (free, asked) in [(11.0 / 12.0, None), (13.0 / 12.0, Some(27.806))] {
        let [wide, deep] = [12.0 - 2.0 * free, 3.0 - 2.0 * free];
        // One body: the ring of the underside meets the sides of the plinth.
        let ring =
            |[x, y]: [f64; 2], [w, d]: [f64; 2], z: f64| [[x, y, z], [x + w, y, z], [x + w, y + d, z], [x, y + d, z]];
        let (slab, plinth) = (([0.0; 2], [12.0, 3.0]), ([free; 2], [wide, deep]));
        let rings = [(plinth, 0.0), (plinth, 0.25), (slab, 0.25), (slab, 8.0)].map(|((at, size), z)| ring(at, size, z));
        let mut triangles = Vec::new();
        for level in 0..3_u32 {
            for k in 0..4 {
                let [a, b] = [k, (k + 1) % 4].map(|k| 4 * level + k);
                triangles.extend([[a, b, b + 4], [a, b + 4, a + 4]]);
            }
        }
        triangles.extend([[0, 3, 2], [0, 2, 1], [12, 13, 14], [12, 14, 15]]);
        let shape = Shape::new("slab", rings.concat(), triangles);
        for shape in [shape.clone(), shape.subdivide()] {
            let at = Folder::new().with("slab.obj", shape.to_obj());
            let json = takeoff(&at, "slab.obj", &settled);
            let area = json["open_sides"][0]["area_m2"].as_f64().map(|m2| m2 / SQ_FT);
            match asked {
                None => assert_eq!(area, None, "{free}"),
                Some(asked) => near(area.unwrap(), asked, 1e-3),
            }
        }
    }
}

/// Rocks of 4 ft curve in under their edge by less than a forearm: nothing is asked, though a good share of each faces down near the floor.
#[test]
fn the_underside_of_a_rock_that_a_hand_reaches_is_not_asked_about() {
    for seed in [3, 11] {
        let at = Folder::new().with("rock.stl", rock(seed, 1200, 4.0).to_binary_stl());
        let words =
            ["takeoff", "rock.stl", "--units", "ft", "--up=+z", "--back", "coated", "--floor", "bare", "--json"];
        let asked = |more: &[&str]| {
            let json = at.json(&[&words[..], more].concat());
            json["open_sides"].as_array().unwrap().iter().any(|open| open["side"] == "underside")
        };
        assert!(!asked(&[]), "{seed}");
    }
}
