//! Figures that the floor, the foam shop and the workbook go by: loads foot by foot, nothing where nothing is defined.

use crate::common::{Folder, line, number};
use cragskin_fixtures::Shape;
use cragskin_fixtures::solid::{block, frustum, icosphere, prism};
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
    at.run(&[&limit[..], &WORDS[..]].concat()).exits(1).says("NOT KNOWN");
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

/// Area at skin scale over that of the flat top, of a block of 2 x 2 ft under 3/4 in with only the faces of its top coated.
fn at_skin_scale(top: &Shape, face: &str) -> [f64; 2] {
    let words =
        ["--units", "in", "--face", face, "--skin", "3/4 in", "--bare-part", "rest", "--floor", "bare", "--json"];
    let at = Folder::new().with("top.obj", top.to_obj());
    let json = at.json(&[&["takeoff", "top.obj"], &words[..]].concat());
    assert_eq!(json["skin_scale_by"], if face == "core" { "closing" } else { "half way" });
    ["skin_scale_area_m2", "texture_ratio"]
        .map(|field| number(&json, field) / if field == "texture_ratio" { 1.0 } else { 4.0 * SQ_FT })
}

/// Faces that a rule puts on the top, the others in the part `rest`.
fn parted(mut shape: Shape, top: impl Fn([f64; 3], [[f64; 3]; 3]) -> bool) -> Shape {
    shape.parts = vec!["top".to_owned(), "rest".to_owned()];
    shape.part_of = (0..shape.triangles.len())
        .map(|k| {
            let [a, b, c] = shape.corners(k);
            let [u, v] = [b, c].map(|p| [0, 1, 2].map(|i| p[i] - a[i]));
            let normal = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
            u32::from(!top(normal, [a, b, c]))
        })
        .collect();
    shape
}

/// Grooves 1/4 in wide and deep every 1/2 in: a ball of 3/4 in rests on the edges of each, on an arc of 2 t asin(1/8 / t) = 0.2512 in, so at skin
/// scale there is 0.25 + 0.2512 in to every half inch, 1.002 of the flat. Drawn there are two walls more a groove: twice the flat.
#[test]
fn grooves_are_bridged_at_skin_scale() {
    let mut outline = vec![[0.0, 0.0], [24.0, 0.0], [24.0, 4.0]];
    for k in (0..48).rev() {
        let x = f64::from(k) / 2.0;
        outline.extend([[x + 0.375, 4.0], [x + 0.375, 3.75], [x + 0.125, 3.75], [x + 0.125, 4.0]]);
    }
    outline.push([0.0, 4.0]);
    let panel = prism(&outline, 24.0).map(|[x, z, y]| [x, y, z]).flip();
    let top = |n: [f64; 3], corners: [[f64; 3]; 3]| {
        n[1].abs() < 1e-9 && corners.iter().all(|p| p[2] > 3.5 && (n[2] != 0.0 || (0.01..23.99).contains(&p[0])))
    };
    let [area, ratio] = at_skin_scale(&parted(panel, top), "core");
    near(area, 1.002, 0.025);
    near(ratio, 2.0 / 1.002, 0.025);
}

/// A block of 24 x 24 in whose top, a part of its own, is set with pyramids of 1/2 x 1/2 in, 1/4 in high: sqrt 2 of the flat.
fn pyramids() -> Shape {
    const N: u32 = 96;
    let at = |i: u32, j: u32| i * (N + 1) + j;
    let inch = |k: u32| f64::from(k) / 4.0;
    let all = || (0..=N).flat_map(|i| (0..=N).map(move |j| (i, j)));
    let mut positions: Vec<[f64; 3]> =
        all().map(|(i, j)| [inch(i), inch(j), if i % 2 == 1 && j % 2 == 1 { 4.25 } else { 4.0 }]).collect();
    let mut triangles = Vec::new();
    for (i, j) in all().filter(|(i, j)| *i < N && *j < N) {
        let [a, b, c, d] = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
        // Split through the tip.
        let through = if (i + j) % 2 == 0 { [[a, b, c], [a, c, d]] } else { [[a, b, d], [b, c, d]] };
        triangles.extend(through);
    }
    let side = |k: u32| match k / N {
        0 => at(k, 0),
        1 => at(N, k - N),
        2 => at(3 * N - k, N),
        _ => at(0, 4 * N - k),
    };
    let first = positions.len() as u32;
    positions.extend(
        (0..4 * N).map(|k| [positions[side(k) as usize][0], positions[side(k) as usize][1], 0.0]).collect::<Vec<_>>(),
    );
    let middle = positions.len() as u32;
    positions.push([12.0, 12.0, 0.0]);
    for k in 0..4 * N {
        let next = (k + 1) % (4 * N);
        let (a, b) = (side(k), side(next));
        triangles.extend([[a, first + k, b], [b, first + k, first + next], [middle, first + next, first + k]]);
    }
    parted(Shape::new("block", positions, triangles), |n, _| n[2] > 1e-9)
}

/// A ball of 3/4 in rests on four tips, clear of the valleys. Over a square of side a the ball's face is the mean of
/// t / sqrt(t^2 - r^2) = 1 + a^2 / 12 t^2 + 7 a^4 / 480 t^4: 1.040 of the flat. Drawn it is sqrt 2.
#[test]
fn pyramids_are_bridged_at_skin_scale() {
    let [area, ratio] = at_skin_scale(&pyramids(), "core");
    near(area, 1.040, 0.025);
    near(ratio, 2_f64.sqrt() / 1.040, 0.025);
}

/// Of a finished face the skin lies under the pyramids, and half way through it, d = 3/8 in down, every place is nearest to a valley: they
/// run along the sides of squares of a = 1/2 in, and the foot on a face of 45 degrees lies beyond the valley for all nearer to it than
/// d / sqrt 2. So the face there is made of barrels of radius d; at r from the valley, where a square has 4 (a - 2 r) dr, it is
/// d / sqrt(d^2 - r^2) of the flat: 4 / a^2 (a d asin(a / 2d) - 2 d (d - sqrt(d^2 - a^2 / 4))) = 1.0433 on average (by parts).
#[test]
fn pyramids_are_bridged_half_way_through_the_skin() {
    let [area, ratio] = at_skin_scale(&pyramids(), "finished");
    let (a, d) = (0.5_f64, 0.375_f64);
    let truth = 4.0 / (a * a) * (a * d * (a / (2.0 * d)).asin() - 2.0 * d * (d - (d * d - a * a / 4.0).sqrt()));
    near(truth, 1.0433, 1e-4);
    near(area, truth, 0.01);
    near(ratio, 2_f64.sqrt() / truth, 0.01);
}

/// The same face at a lean of 120 degrees takes the lath of its flat, 2 x 2 ft: lath bridges what is finer than it bends. Drawn it is 5.66 sq ft.
#[test]
fn lath_bridges_pyramids() {
    let (sin, cos) = 120_f64.to_radians().sin_cos();
    let leaning = pyramids().map(|[x, y, z]| [x, y * cos - z * sin, y * sin + z * cos]);
    let at = Folder::new().with("face.obj", leaning.to_obj());
    let words =
        ["--units", "in", "--up=+z", "--face", "core", "--bare-part", "rest", "--floor", "bare", "--back", "bare"];
    let json = at.json(&[&["takeoff", "face.obj", "--json"], &words[..]].concat());
    near(number(&json, "coated_area_m2") / SQ_FT, 4.0 * 2_f64.sqrt(), 1e-6);
    near(number(&json, "lath_area_m2") / SQ_FT, 4.0, 0.01);
    assert_eq!(json["zones"].as_array().unwrap().len(), 1);
}

/// A block of 2 x 2 x 1 ft on a foot of 6 x 6 in at its corner: the weight acts near (1, 1) ft, 0.5 sqrt 2 ft and more outside of the foot, so it
/// tips. On a foot of 1-1/2 x 1-1/2 ft, which holds that place, it stands. A ball beside the small foot, at the far corner, changes the
/// question; beside the large one it carries nothing and is named.
#[test]
fn a_piece_whose_weight_acts_beyond_its_foot_tips() {
    let slab = || block(2.0, 2.0, 1.0).translate([0.0, 0.0, 0.5]);
    let foot = |wide: f64| block(wide, wide, 0.5);
    let ball = || icosphere(0.125, 3).translate([1.75, 1.75, 0.125]);
    let load = |shape: &Shape| {
        let json = takeoff(shape, &["--underside", "coated"]);
        let row = line(&json, "weights", "floor load, wet on the day").clone();
        (row["exact"].as_f64(), row["sum"].as_str().unwrap().to_owned(), json)
    };
    let (none, why, json) = load(&slab().append(&foot(0.5)));
    assert_eq!(none, None);
    assert!(why.contains("outside its only foot") && why.contains("How is it held?"), "{why}");
    assert_eq!(json["feet"][0]["wet_mass_kg"], Value::Null);
    near(number(&json, "footprint_m2") / SQ_FT, 0.25, 1e-9);
    let (stands, _, json) = load(&slab().append(&foot(1.5)));
    near(stands.unwrap(), exact(&json, "total, wet on the day") / 2.25, 1e-9);
    let (none, why, _) = load(&slab().append(&foot(0.5)).append(&ball()));
    assert!(none.is_none() && why.contains("how is it bedded there?") && why.contains("1 ft 9 in"), "{why}");
    let (touched, why, json) = load(&slab().append(&foot(1.5)).append(&ball()));
    near(touched.unwrap(), exact(&json, "total, wet on the day") / 2.25, 1e-9);
    assert!(why.contains("carry nothing") && why.contains("1 ft 9 in (533 mm) from left"), "{why}");
}

/// A twig of 1-1/4 in under 3/4 in is all skin, whether its places were looked for or, of seventy such poles 20 ft long, not: no texture is
/// blamed, and rays say how much has no foam: all but the ends.
#[test]
fn a_twig_is_solid_mix_and_no_texture() {
    let twig = frustum(96, 0.625, 0.625, 36.0).rotate([1.0, 0.3, 0.2], 63.0);
    let pole = |k: i32| frustum(96, 0.625, 0.625, 240.0).translate([f64::from(k) * 12.0, 0.0, 0.0]);
    let poles = (1..70).fold(pole(0), |all, k| all.append(&pole(k)));
    for (file, looked) in [(twig, true), (poles, false)] {
        let at = Folder::new().with("twig.stl", file.to_binary_stl());
        let words =
            ["takeoff", "twig.stl", "--units", "in", "--skin", "3/4 in", "--floor", "coated", "--back", "coated"];
        let kept = [&words[..], &["--store", "kept"]].concat();
        let said = at
            .run(&[&kept[..], &["--full"]].concat())
            .exits(0)
            .never_says("fine texture")
            .says("the skin fills the whole piece")
            .says("solid mix on a rod");
        if !looked {
            // 70 x 96 sides of 1.25 sin(pi / 96) in x 240 in = 458.1 sq ft, of which every other triangle is asked.
            at.run(&kept).exits(0).says("places without foam not looked for: cragskin core");
            said.says("By rays at")
                .says("about 458.2 sq ft (42.57 m2) of the coated surface is less than two skins through");
        }
    }
}

/// The farthest of a sample is no bound, and is called what it is.
#[test]
fn the_core_mesh_is_sampled() {
    let at = Folder::new().with("rock.obj", icosphere(1.0, 3).to_obj());
    let words = ["core", "rock.obj", "--units", "ft", "--skin", "3/4 in", "--floor", "coated", "--back", "coated"];
    at.run(&words).exits(0).says("sampled at").says("which is no bound for what lies between").never_says("inf mm");
    let json = at.json(&[&words[..], &["--json"]].concat());
    assert!(number(&json, "mesh.points_sampled") >= number(&json, "mesh.triangles"));
    // Chords of round places hold less than what they stand for.
    let less = number(&json, "core_volume_m3") - number(&json, "mesh.volume_m3");
    assert!(less > 1e-4 && (less - number(&json, "mesh.less_than_foam_m3")).abs() < 1e-12, "{less}");
    at.run(&words).exits(0).says("less than the foam above").says("sampled on a grid of 9.5 mm");
}

/// A comparison carries the figures of the takeoffs themselves, to the last bit.
#[test]
fn a_line_of_a_comparison_is_the_figure_of_the_takeoff() {
    let at = Folder::new()
        .with("old.obj", block(7.0, 3.0, 5.0).to_obj())
        .with("new.obj", block(7.0, 3.0, 5.5).to_obj())
        .with("book.toml", include_str!("../../fixtures/books/hand_check.toml"));
    let more = [&WORDS[..], &["--json", "--book", "book.toml"]].concat();
    let compared = at.json(&[&["compare", "old.obj", "new.obj"], &more[..]].concat());
    let [old, new] = ["old.obj", "new.obj"].map(|model| at.json(&[&["takeoff", model], &more[..]].concat()));
    let (mut seen, lines) = (0, compared["lines"].as_array().unwrap());
    for (section, table) in [("order", "order"), ("weight", "weights")] {
        for line in lines.iter().filter(|line| line["section"] == section) {
            let [a, b] =
                [&old, &new].map(|takeoff| crate::common::line(takeoff, table, line["name"].as_str().unwrap()));
            assert_eq!([&line["old"], &line["new"]], [&a["exact"], &b["exact"]], "{line}");
            assert_eq!([&line["old_packages"], &line["new_packages"]], [&a["packages"], &b["packages"]], "{line}");
            let by = b["exact"].as_f64().unwrap() - a["exact"].as_f64().unwrap();
            // Less the noise beyond fifteen figures.
            let noise = 1e-14 * b["exact"].as_f64().unwrap().abs();
            assert!((line["difference"].as_f64().unwrap() - by).abs() <= noise, "{line}");
            seen += 1;
        }
    }
    assert_eq!(seen, 16);
    let coated = lines.iter().find(|line| line["name"] == "coated").unwrap();
    assert_eq!(coated["new"], new["coated_area_m2"]);
}
