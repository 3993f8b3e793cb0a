//! What may be no part of the work, or stays bare though it is small: asked about, and the figure printed for an answer is that of
//! the run with the answer. Figures by hand.

use crate::common::{Folder, number, rule};
use cragskin_fixtures::Shape;
use cragskin_fixtures::solid::{block, frustum};
use serde_json::Value;

const SQ_FT: f64 = 0.3048 * 0.3048;
const CU_FT: f64 = 0.3048 * SQ_FT;
const BARE: [&str; 4] = ["--floor", "bare", "--back", "bare"];

fn near(got: f64, want: f64, by: f64) {
    assert!((got - want).abs() <= by, "{got} is not {want} to {by}");
}

fn finding<'a>(json: &'a Value, code: &str) -> Option<&'a str> {
    json["findings"].as_array().unwrap().iter().find(|f| f["code"] == code)?["text"].as_str()
}

fn takeoff(at: &Folder, model: &str, flags: &[&str]) -> Value {
    at.json(&[&["takeoff", model, "--units", "ft", "--face", "core", "--skin", "3/4 in", "--json"], flags].concat())
}

fn sq_ft(json: &Value, figure: &str) -> f64 {
    number(json, figure) / SQ_FT
}

fn worth<'a>(json: &'a Value, list: &str, item: &str) -> &'a str {
    json[list].as_array().unwrap().iter().find(|row| row["item"] == item).unwrap()["quality"].as_str().unwrap()
}

/// 12 x 3 x 8 ft: 312 sq ft, of which the floor is 36 and the back 96.
fn wall() -> Shape {
    block(12.0, 3.0, 8.0).named("wall")
}

/// 1.5 x 1 x 5.75 ft, in the shape of a person: 2 (1.5 + 8.625 + 5.75) = 31.75 sq ft, beside the wall and flush with its back.
fn person() -> Shape {
    block(1.5, 1.0, 5.75).named("person").translate([14.0, 2.0, 0.0])
}

/// Wall and person with floor and back bare: 180 and 31.75 - 1.5 - 8.625 = 21.625 sq ft.
#[test]
fn what_is_only_asked_about_makes_figures_bounds() {
    let mut at = Folder::new()
        .with("m.obj", wall().append(&person()).to_obj())
        .with("one.obj", wall().append(&person()).named("all").to_obj());
    for model in ["m.obj", "one.obj"] {
        let json = takeoff(&at, model, &BARE);
        near(sq_ft(&json, "coated_area_m2"), 201.625, 1e-4);
        near(sq_ft(&json, "coated_area_if_left_out_m2"), 180.0, 1e-4);
        assert_eq!(json["quality"]["area"], "upper bound");
        assert_eq!(json["quality"]["skin_volume"], "upper bound");
        assert_eq!(json["quality"]["core_volume"], "upper bound");
        assert_eq!(json["proposed"].as_array().unwrap().len(), 1);
        assert!(worth(&json, "order", "mix").starts_with("upper bound: nobody has said whether"));
        // Its foot may be the one that carries the most.
        let load = worth(&json, "weights", "floor load, wet on the day");
        assert!(load.starts_with("not known: ") && load.contains("nobody has said whether"), "{load}");
    }
    let json = takeoff(&at, "m.obj", &[&BARE[..], &["--leave-out", "person"]].concat());
    near(sq_ft(&json, "coated_area_m2"), 180.0, 1e-4);
    assert_eq!((&json["quality"]["area"], &json["coated_area_if_left_out_m2"]), (&"good".into(), &Value::Null));
    // It is ours: by name, and by place in a file without names.
    for (model, rule) in [
        ("m.obj", "[[scope.part]]\nname = \"person\""),
        ("one.obj", "[[scope.box]]\nfrom = [\"13 ft\", \"1 ft\", \"-1 ft\"]\nto = [\"16 ft\", \"4 ft\", \"6 ft\"]"),
    ] {
        let job = format!(
            "[job]\nmodel = \"{model}\"\nunits = \"ft\"\n[model]\nface = \"core\"\n[scope]\nfloor = \"bare\"\nback = \"bare\"\n{rule}\nis = \"coated\"\n"
        );
        at = at.with("ours.toml", job);
        let json = at.json(&["takeoff", "ours.toml", "--json"]);
        // Said to be coated, its sole and back are too: 180 + 31.75.
        near(sq_ft(&json, "coated_area_m2"), 211.75, 1e-4);
        assert_eq!((&json["quality"]["area"], finding(&json, "scale_figure")), (&"good".into(), None), "{model}");
    }
}

/// A name that the person shares with the wall would leave out the wall as well: it is proposed by its place.
#[test]
fn a_name_that_means_more_is_not_proposed() {
    let [person, wall] = [person(), wall()].map(|shape| String::from_utf8(shape.to_obj()).unwrap());
    let wall = wall.replace("o wall\n", "o wall\nusemtl grey\n");
    // Faces of the second file go by the corners of the first.
    let wall: String = wall
        .lines()
        .map(|line| match line.strip_prefix("f ") {
            Some(corners) => {
                let on = |k: &str| (k.parse::<usize>().unwrap() + 8).to_string();
                format!("f {}\n", corners.split(' ').map(on).collect::<Vec<_>>().join(" "))
            }
            None => format!("{line}\n"),
        })
        .collect();
    let model = person.replace("o person\n", "usemtl grey\n") + &wall;
    let at = Folder::new().with("m.obj", model);
    let json = takeoff(&at, "m.obj", &BARE);
    near(sq_ft(&json, "coated_area_if_left_out_m2"), 180.0, 1e-4);
    let words =
        [finding(&json, "scale_figure").unwrap().to_owned(), at.run(&["look", "m.obj", "--units", "ft"]).exits(0).out];
    for words in words {
        assert!(words.contains("a slender separate body") && !words.contains("--leave-out"), "{words}");
    }
    let job = "[job]\nmodel = \"m.obj\"\nunits = \"ft\"\n[model]\nface = \"core\"\n[scope]\nfloor = \"bare\"\nback = \"bare\"\n";
    let at = at.with("job.toml", job.to_owned() + &rule(&json, "scale_figure"));
    let json = at.json(&["takeoff", "job.toml", "--json"]);
    near(sq_ft(&json, "coated_area_m2"), 180.0, 1e-4);
    assert_eq!(json["quality"]["area"], "good");
}

/// The person is no place for the crew while nobody has said that it is to be built: its walls, 14 ft from the left, are not listed.
#[test]
fn what_is_only_asked_about_is_no_worst_place() {
    let at = Folder::new().with("m.obj", wall().append(&person()).to_obj());
    let words = ["takeoff", "m.obj", "--units", "ft", "--face", "core", "--floor", "bare", "--back", "bare"];
    at.run(&words).exits(0).says("W1 wall 144.0 sq ft").never_says("14'0\"-15'6\" from left");
    // Under 4 in most of it takes two lifts, and how much of that is the person's is told apart.
    let many = [&words[..], &["--skin", "4 in"]].concat();
    let json = at.json(&[&many[..], &["--json"]].concat());
    let of = |zone: &Value| number(zone, "two_lift_area_m2") / SQ_FT;
    let is_persons = |zone: &&Value| number(zone, "x_low_m") > 13.0 * 0.3048;
    let open: f64 = json["zones"].as_array().unwrap().iter().filter(is_persons).map(of).sum();
    assert!(open > 10.0, "{open}");
    at.run(&many).exits(0).says(&format!("; {open:.1} sq ft")).says("of it in zones that are to be settled first");
}

/// Without the person, that has a name, places are measured from the same corner: a plinth lies farther out. So rules for places stay.
#[test]
fn a_name_that_moves_no_corner_moves_no_rule() {
    let plinth = block(1.0, 1.0, 1.0).named("plinth").translate([-20.0, -20.0, 0.0]);
    let plane = "[[scope.plane]]\nfacing = \"+z\"\nat = \"8 ft\"\nis = \"bare\"\n";
    let job = "[job]\nmodel = \"m.obj\"\nunits = \"ft\"\n[model]\nface = \"core\"\n";
    let at = Folder::new()
        .with("m.obj", wall().append(&plinth).append(&person()).to_obj())
        .with("job.toml", format!("{job}{plane}"));
    let json = at.json(&["takeoff", "job.toml", "--json"]);
    let told = finding(&json, "scale_figure").unwrap();
    assert!(told.contains("--leave-out \"person\"") && !told.contains("anew"), "{told}");
}

/// Without the ground, that is left out by name, places are measured from another corner: what is said of a place waits until then.
#[test]
fn what_has_a_name_is_answered_before_places() {
    let person = person().translate([-15.0, -3.5, 0.0]);
    let text = String::from_utf8(wall().append(&person).named("all").to_obj()).unwrap();
    let corners = text.lines().filter(|line| line.starts_with("v ")).count();
    let [a, b, c, d] = [1, 2, 3, 4].map(|k| corners + k);
    let text = text + &format!("v -2 -3 0\nv 14 -3 0\nv 14 6 0\nv -2 6 0\no ground\nf {a} {b} {c} {d}\n");
    let job = "[job]\nmodel = \"m.obj\"\nunits = \"ft\"\n[model]\nface = \"core\"\n[scope]\nfloor = \"coated\"\nback = \"coated\"\n";
    let at = Folder::new().with("m.obj", text).with("job.toml", job);
    let run = |flags: &[&str]| at.json(&[&["takeoff", "job.toml", "--json", "--outward"], flags].concat());
    let both = run(&[]);
    near(sq_ft(&both, "coated_area_if_left_out_m2"), 312.0, 1e-4);
    let told = finding(&both, "scale_figure").unwrap();
    assert!(told.contains("Answer for `ground` first and run again"), "{told}");
    let mut found = both["findings"].as_array().unwrap().iter();
    let figure = found.find(|found| found["code"] == "scale_figure").unwrap();
    assert!(figure["rule"].as_array().is_none_or(Vec::is_empty), "{figure}");
    assert!(!finding(&both, "ground_sheet").unwrap().contains("anew"), "no rule says anything of a place");
    let one = run(&["--leave-out", "ground"]);
    std::fs::write(at.path().join("job.toml"), job.to_owned() + &rule(&one, "scale_figure")).unwrap();
    let none = run(&["--leave-out", "ground"]);
    near(sq_ft(&none, "coated_area_m2"), 312.0, 1e-4);
    assert_eq!((&none["quality"]["area"], none["proposed"].as_array().unwrap().len()), (&"good".into(), 0));
    // With that rule in the job the name is no answer by itself.
    let told = run(&[]);
    let told = finding(&told, "ground_sheet").unwrap();
    assert!(told.contains("set the job's rules for places anew"), "{told}");
}

/// One question, and the grades say so.
#[test]
fn the_batch_counts_it_as_asked() {
    let at = Folder::new().with("m.obj", wall().append(&person()).to_obj());
    let words =
        ["batch", "m.obj", "--units", "ft", "--face", "core", "--skin", "3/4 in", "--floor", "bare", "--back", "bare"];
    let words = [&words[..], &["--no-store"]].concat();
    let row: Value = serde_json::from_str(&at.run(&[&words[..], &["--jsonl"]].concat()).out).unwrap();
    assert_eq!((&row["area_quality"], row["proposed"].as_array().unwrap().len()), (&"upper bound".into(), 1));
    let page = at.run(&words).out;
    let line = page.lines().find(|line| line.contains("m.obj")).unwrap();
    let line = line.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(line.contains("upper bound good upper bound upper bound 1 "), "{line}");
}

/// A table of 8 x 4 ft, its top 1 ft thick on four legs of 6 x 6 in, 2.5 ft high: 88 + 4 x 5.5 sq ft, less 1 twice where they touch,
/// is 108; the soles are 1.
#[test]
fn small_soles_are_asked_about_and_taken_off_without_a_doubt() {
    let leg = |x: f64, y: f64| block(0.5, 0.5, 2.5).translate([x, y, 0.0]);
    let table = [(0.0, 0.0), (7.5, 0.0), (0.0, 3.5), (7.5, 3.5)]
        .into_iter()
        .fold(block(8.0, 4.0, 1.0).translate([0.0, 0.0, 2.5]), |all, (x, y)| all.append(&leg(x, y)));
    let at = Folder::new().with("table.obj", table.to_obj());
    let json = takeoff(&at, "table.obj", &["--back", "coated"]);
    near(sq_ft(&json, "coated_area_m2"), 108.0, 1e-3);
    near(sq_ft(&json, "coated_area_if_open_sides_bare_m2"), 107.0, 1e-3);
    assert_eq!(json["open_sides"][0]["side"], "floor");
    let json = takeoff(&at, "table.obj", &["--back", "coated", "--floor", "bare"]);
    near(sq_ft(&json, "coated_area_m2"), 107.0, 1e-3);
    assert_eq!(json["quality"]["area"], "good");
}

/// Two facets of a limb with 48 sides look straight back, 13 % of its outline; of a wall the whole back does.
#[test]
fn facets_of_a_round_limb_are_no_back() {
    let limb = frustum(48, 0.25, 0.25, 8.0);
    let at = Folder::new().with("limb.obj", limb.to_obj()).with("wall.obj", wall().to_obj());
    let back = |model: &str| {
        let json = takeoff(&at, model, &["--floor", "bare"]);
        json["open_sides"].as_array().unwrap().iter().any(|open| open["side"] == "back")
    };
    assert_eq!([back("limb.obj"), back("wall.obj")], [false, true]);
    // Whoever says so has them off: two facets of 6 sin 3.75 deg in.
    let facets = 2.0 * 2.0 * 0.25 * 3.75_f64.to_radians().sin() * 8.0;
    let [with, without] = ["coated", "bare"]
        .map(|back| sq_ft(&takeoff(&at, "limb.obj", &["--floor", "bare", "--back", back]), "coated_area_m2"));
    near(with - without, facets, 1e-6);
}

/// A wall on a ground of 16 x 9 ft: 312 + 144 sq ft, less 36 twice where it stands; 312 without the ground.
#[test]
fn a_ground_sheet_is_asked_about() {
    let ground = || {
        let text = "v -2 -3 0\nv 14 -3 0\nv 14 6 0\nv -2 6 0\no ground\nf 1 2 3 4\n";
        text.to_owned()
    };
    let named = ground()
        + "v 0 0 0\nv 12 0 0\nv 12 3 0\nv 0 3 0\nv 0 0 8\nv 12 0 8\nv 12 3 8\nv 0 3 8\no rock\n\
        f 5 6 10 9\nf 6 7 11 10\nf 8 5 9 12\nf 9 10 11 12\nf 5 8 7 6\nf 7 8 12 11\n";
    let plain = named.replace("o ground\n", "").replace("o rock\n", "");
    let at = Folder::new().with("m.obj", named).with("plain.obj", plain).with("alone.obj", wall().to_obj());
    for model in ["m.obj", "plain.obj"] {
        let json = takeoff(&at, model, &[]);
        assert_eq!((&json["quality"]["area"], json["proposed"].as_array().unwrap().len()), (&"upper bound".into(), 1));
        near(sq_ft(&json, "coated_area_if_left_out_m2"), 312.0, 1e-4);
    }
    let json = takeoff(&at, "m.obj", &["--leave-out", "ground", "--floor", "coated", "--back", "coated"]);
    near(sq_ft(&json, "coated_area_m2"), 312.0, 1e-4);
    assert_eq!(json["quality"]["area"], "good");
    // By the place that is printed.
    let json = takeoff(&at, "plain.obj", &[]);
    let job = "[job]\nmodel = \"plain.obj\"\nunits = \"ft\"\n[model]\nface = \"core\"\n".to_owned()
        + &rule(&json, "ground_sheet");
    let at = at.with("job.toml", job);
    let json = at.json(&["takeoff", "job.toml", "--json"]);
    near(sq_ft(&json, "coated_area_m2"), 312.0, 1e-4);
    near(number(&json, "size_m.0") / 0.3048, 12.0, 1e-9);
    assert_eq!(finding(&json, "ground_sheet"), None);
    assert_eq!(finding(&takeoff(&at, "alone.obj", &[]), "ground_sheet"), None);
}

/// A wall of 312 sq ft in a pool of 16 x 9 ft, drawn as a level sheet 1 ft up: 144 sq ft, less 36 in the wall. A sheet of the size of the
/// top, on it, is none; nor is one that is drawn beside it.
#[test]
fn a_sheet_of_water_is_asked_about() {
    let sheet = |[x, y]: [f64; 2], [u, v]: [f64; 2], z: f64| {
        Shape::new("pool", vec![[x, y, z], [u, y, z], [u, v, z], [x, v, z]], vec![[0, 1, 2], [0, 2, 3]])
    };
    let with = |sheet: Shape| wall().append(&sheet);
    let pool = || with(sheet([-2.0, -3.0], [14.0, 6.0], 1.0));
    let at = Folder::new()
        .with("named.obj", pool().to_obj())
        .with("pool.obj", pool().named("all").to_obj())
        .with("top.obj", with(sheet([0.0, 0.0], [12.0, 3.0], 8.2)).to_obj())
        .with("beside.obj", with(sheet([13.0, 0.0], [20.0, 3.0], 4.0)).to_obj());
    let named = takeoff(&at, "named.obj", &["--leave-out", "pool", "--floor", "coated", "--back", "coated"]);
    near(sq_ft(&named, "coated_area_m2"), 312.0, 1e-3);
    assert!(finding(&takeoff(&at, "named.obj", &[]), "water_sheet").unwrap().contains("--leave-out \"pool\""));
    let json = takeoff(&at, "pool.obj", &[]);
    near(sq_ft(&json, "coated_area_m2"), 312.0 + 108.0, 1e-3);
    near(sq_ft(&json, "coated_area_if_left_out_m2"), 312.0, 1e-3);
    assert_eq!(json["quality"]["area"], "upper bound");
    assert!(finding(&json, "water_sheet").unwrap().contains("a level sheet 1 ft up, 144.0 sq ft"));
    assert!(finding(&json, "sheet_facing").unwrap().starts_with("1 open sheet has no inside (144.0 sq ft"));
    at.run(&["takeoff", "pool.obj", "--units", "ft", "--face", "core"])
        .exits(0)
        .says("foam not defined: a body is an open sheet: it has no inside");
    let job = "[job]\nmodel = \"pool.obj\"\nunits = \"ft\"\n[model]\nface = \"core\"\n[scope]\nfloor = \"coated\"\nback = \"coated\"\n"
        .to_owned()
        + &rule(&json, "water_sheet");
    let at = at.with("job.toml", job);
    let settled = at.json(&["takeoff", "job.toml", "--json"]);
    near(sq_ft(&settled, "coated_area_m2"), 312.0, 1e-3);
    assert_eq!((finding(&settled, "water_sheet"), &settled["quality"]["area"]), (None, &"good".into()));
    for model in ["top.obj", "beside.obj"] {
        assert_eq!(finding(&takeoff(&at, model, &[]), "water_sheet"), None, "{model}");
    }
}

/// Water of 8 x 6 ft half an inch below the rims of a basin of four walls; of 16 x 9 ft at the joint of two blocks, and before a facade
/// without back and floor. A sheet on those rims is none, nor is a level one within a facade, which may be a ledge of it.
#[test]
fn water_in_a_basin_at_a_joint_and_before_a_facade_is_asked_about() {
    let sheet = |[x, y]: [f64; 2], [u, v]: [f64; 2], z: f64| {
        Shape::new("all", vec![[x, y, z], [u, y, z], [u, v, z], [x, v, z]], vec![[0, 1, 2], [0, 2, 3]])
    };
    let side = |w: f64, d: f64, at: [f64; 3]| block(w, d, 3.0).translate(at).named("all");
    let basin = |z: f64| {
        let ends = side(1.0, 6.0, [0.0, 1.0, 0.0]).append(&side(1.0, 6.0, [9.0, 1.0, 0.0]));
        let sides = side(10.0, 1.0, [0.0; 3]).append(&side(10.0, 1.0, [0.0, 7.0, 0.0]));
        ends.append(&sides).append(&sheet([1.0, 1.0], [9.0, 7.0], z))
    };
    let pool = sheet([-2.0, -3.0], [14.0, 6.0], 3.0);
    let stacked = side(12.0, 4.0, [0.0; 3]).append(&side(10.0, 3.0, [1.0, 1.0, 3.0])).append(&pool);
    let facade = || {
        block(12.0, 3.0, 8.0).delete(|_, c| c.iter().all(|p| p[2] == 0.0) || c.iter().all(|p| p[1] == 3.0)).named("all")
    };
    let at = Folder::new()
        .with("basin.obj", basin(3.0 - 0.5 / 12.0).to_obj())
        .with("stacked.obj", stacked.to_obj())
        .with("facade.obj", facade().append(&pool).to_obj())
        .with("lid.obj", basin(3.0).to_obj())
        .with("ledge.obj", facade().append(&sheet([1.0, 0.5], [11.0, 2.5], 4.0)).to_obj());
    for (model, is_asked) in
        [("basin.obj", true), ("stacked.obj", true), ("facade.obj", true), ("lid.obj", false), ("ledge.obj", false)]
    {
        let json = takeoff(&at, model, &[]);
        assert_eq!(finding(&json, "water_sheet").is_some(), is_asked, "{model}");
        if is_asked {
            assert_eq!(json["quality"]["area"], "upper bound", "{model}");
        }
    }
}

/// A facade of 12 x 3 x 8 ft without back and floor, 96 + 48 + 36 = 180 sq ft, and another 2 in inside it, open likewise:
/// 11 ft 8 in x 2 ft 10 in x 7 ft 10 in.
#[test]
fn a_shell_drawn_with_a_thickness_is_asked_about() {
    let sheet = |w: f64, d: f64, h: f64| {
        block(w, d, h).delete(move |_, c| c.iter().all(|p| p[2] == 0.0) || c.iter().all(|p| p[1] == d))
    };
    let t = 1.0 / 6.0;
    let (w, d, h) = (12.0 - 2.0 * t, 3.0 - t, 8.0 - t);
    let inner = || sheet(w, d, h).translate([t, t, 0.0]).named("inner");
    let both = sheet(12.0, 3.0, 8.0).named("outer").append(&inner().flip());
    let at = Folder::new()
        .with("m.obj", both.to_obj())
        .with("plain.obj", both.named("all").to_obj())
        .with("one.obj", sheet(12.0, 3.0, 8.0).to_obj());
    let whole = 180.0 + w * h + 2.0 * d * h + w * d;
    for model in ["m.obj", "plain.obj"] {
        let json = takeoff(&at, model, &["--outward"]);
        near(sq_ft(&json, "coated_area_m2"), whole, 1e-4);
        near(sq_ft(&json, "coated_area_if_left_out_m2"), 180.0, 1e-4);
        assert_eq!(json["quality"]["area"], "upper bound");
        let text = finding(&json, "sheet_behind_sheet").unwrap();
        assert!(text.contains("hollow display shell") && text.contains("are both sides built?"), "{text}");
    }
    let json = takeoff(&at, "m.obj", &["--outward", "--leave-out", "inner"]);
    near(sq_ft(&json, "coated_area_m2"), 180.0, 1e-4);
    assert_eq!(json["quality"]["area"], "good");
    // As drawn the two face away from each other: both are built.
    let json = takeoff(&at, "m.obj", &["--as-drawn"]);
    assert_eq!((&json["quality"]["area"], finding(&json, "sheet_behind_sheet")), (&"good".into(), None));
    assert_eq!(finding(&takeoff(&at, "one.obj", &[]), "sheet_behind_sheet"), None);
}

/// A lintel of 12 x 2 x 2 ft on two columns of 2 x 2 x 6: 48 + 2 x 24 = 96 cu ft, and the joints are no holes. A column inside out
/// may be a hollow, so nobody knows.
#[test]
fn blocks_that_touch_are_closed() {
    let column = |x: f64| block(2.0, 2.0, 6.0).translate([x, 0.0, 0.0]);
    let lintel = || block(12.0, 2.0, 2.0).translate([0.0, 0.0, 6.0]);
    let at = Folder::new()
        .with("arch.obj", lintel().append(&column(0.0)).append(&column(10.0)).to_obj())
        .with("turned.obj", lintel().append(&column(0.0).flip()).append(&column(10.0)).to_obj());
    let json = takeoff(&at, "arch.obj", &[]);
    near(number(&json, "core_volume_m3") / CU_FT, 96.0, 1e-6);
    assert_eq!(json["quality"]["core_volume"], "good");
    assert!(worth(&json, "weights", "floor load, wet on the day").starts_with("upper bound"), "{}", json["weights"]);
    let text = finding(&json, "edges_shared").unwrap();
    assert!(text.contains("glue joint") && !text.contains("those inside"), "{text}");
    assert_ne!(takeoff(&at, "turned.obj", &[])["quality"]["core_volume"], "good");
}

/// A facade closed at its back: 12 x 3 x 8 = 288 cu ft that nobody has drawn.
#[test]
fn foam_that_closing_has_made_is_not_called_drawn() {
    let facade = block(12.0, 3.0, 8.0).delete(|_, c| c.iter().all(|p| p[1] == 3.0));
    let at = Folder::new().with("facade.obj", facade.to_obj()).with("wall.obj", wall().to_obj());
    let foam = |model: &str, flags: &[&str]| {
        let json = takeoff(&at, model, flags);
        let order = json["order"].as_array().unwrap();
        let row = order.iter().find(|row| row["item"] == "foam").unwrap();
        near(row["exact"].as_f64().unwrap(), 288.0, 1e-6);
        row["sum"].as_str().unwrap().to_owned()
    };
    let closed = foam("facade.obj", &["--close", "back"]);
    assert!(closed.contains("closed as asked") && !closed.contains("as drawn"), "{closed}");
    assert!(foam("wall.obj", &[]).contains("the model as drawn"));
}
