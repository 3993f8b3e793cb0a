//! What is left out is as if it were not in the file; a scale figure is asked about; a mistyped rule is told at once.

use crate::common::{Folder, WIDE, number, rule};
use cragskin_fixtures::solid::block;
use cragskin_fixtures::{Shape, tree};
use serde_json::Value;
use std::time::{Duration, Instant};

fn finding<'a>(json: &'a Value, code: &str) -> Option<&'a str> {
    json["findings"].as_array().unwrap().iter().find(|f| f["code"] == code)?["text"].as_str()
}

/// A wall 12 ft wide, 3 ft deep and 8 ft high.
fn wall() -> Shape {
    block(12.0, 3.0, 8.0).named("wall")
}

/// A figure 5 ft 9 in high, 18 x 12 in, to the left of it, in front, and standing lower.
fn figure() -> Shape {
    block(1.5, 1.0, 5.75).named("figure").translate([-6.5, -8.25, -0.5])
}

const SCOPE: [&str; 10] =
    ["--units", "ft", "--face", "core", "--floor", "bare", "--back", "bare", "--book", "wide.toml"];

/// All but what tells of the file as it is: the rules, the parts, the triangles and the area left out.
fn measures(mut json: Value) -> Value {
    let fields = json.as_object_mut().unwrap();
    for field in ["parts", "scope", "triangles", "as_modelled_area_m2", "left_out_area_m2", "findings", "job"] {
        fields.remove(field);
    }
    json
}

/// The same to a thousandth: by place, corners lie in the order of the whole box, and the skin is known to 0.5 %.
fn same(got: &Value, want: &Value, at: &str) {
    match (got, want) {
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap(), b.as_f64().unwrap());
            assert!((a - b).abs() <= 1e-3 * (1.0 + b.abs()), "{at}: {a}, not {b}");
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            a.iter().zip(b).enumerate().for_each(|(k, (a, b))| same(a, b, &format!("{at}.{k}")));
        }
        (Value::Object(a), Value::Object(b)) if a.len() == b.len() => {
            // A sum is written with as many figures as its result needs.
            let compared = b.iter().filter(|(key, _)| *key != "sum");
            compared.for_each(|(key, b)| same(&a[key], b, &format!("{at}.{key}")));
        }
        _ => assert_eq!(got, want, "{at}"),
    }
}

/// Left out by name or by place: size, place, footprint, sheets and all other figures are those of the file without the figure.
#[test]
fn what_is_left_out_is_no_witness_of_anything() {
    let with = || wall().append(&figure()).to_obj();
    let new = || Folder::new().with("wide.toml", WIDE);
    let alone = new().with("m.obj", wall().to_obj());
    let both = new().with("m.obj", with());
    let job = "[job]\nmodel = \"m.obj\"\nunits = \"ft\"\nbook = \"wide.toml\"\n[model]\nface = \"core\"\n[scope]\nfloor = \"bare\"\nback = \"bare\"\n";
    // By tape from the low left front corner of the whole file, which is the figure's.
    let place = "[[scope.box]]\nfrom = [\"0 in\", \"0 in\", \"0 in\"]\nto = [\"2 ft\", \"2 ft\", \"6 ft\"]\nis = \"left out\"\n";
    let sheet = vec![[-40.0, -40.0, -1.0], [40.0, -40.0, -1.0], [40.0, 40.0, -1.0], [-40.0, 40.0, -1.0]];
    let ground = Shape::new("ground", sheet, vec![[0, 1, 2], [0, 2, 3]]);
    let plane = "[[scope.plane]]\nfacing = \"+z\"\nat = \"0 in\"\nis = \"left out\"\n";
    let by_place = new().with("m.obj", with()).with("m.toml", format!("{job}{place}"));
    let by_plane = new().with("m.obj", ground.append(&wall()).to_obj()).with("m.toml", format!("{job}{plane}"));
    for command in ["takeoff", "flag"] {
        let words = [&[command, "m.obj"][..], &SCOPE[..], &["--json"]].concat();
        let want = measures(alone.json(&words));
        let got = measures(both.json(&[&words[..], &["--leave-out", "figure"]].concat()));
        assert_eq!(got, want, "{command} by name");
        same(&measures(by_place.json(&[command, "m.toml", "--json"])), &want, &format!("{command} by place"));
        same(&measures(by_plane.json(&[command, "m.toml", "--json"])), &want, &format!("{command} by plane"));
    }
    let sheets = |at: &Folder, words: &[&str]| {
        at.run(&[&["sheets"], words, &["--out", "s"]].concat()).exits(0);
        at.names("s").iter().map(|name| at.read(&format!("s/{name}"))).collect::<Vec<_>>()
    };
    let words = [&["m.obj"][..], &SCOPE[..]].concat();
    let want = sheets(&alone, &words);
    assert_eq!(sheets(&both, &[&words[..], &["--leave-out", "figure"]].concat()), want);
    // What was left out is said: 2 (1.5 + 5.75 x 1.5 + 5.75 x 1) sq ft.
    let json = both.json(&[&["takeoff", "m.obj"][..], &SCOPE[..], &["--leave-out", "figure", "--json"]].concat());
    let left_out = 2.0 * (1.5 + 5.75 * 1.5 + 5.75);
    assert!((number(&json, "left_out_area_m2") / 0.3048_f64.powi(2) - left_out).abs() < 1e-9);
    assert_eq!((&json["scope"][2]["triangles"], &json["parts"][1]["triangles"]), (&12.into(), &12.into()));
}

#[test]
fn a_control_length_is_of_what_is_ours() {
    let at = Folder::new().with("m.obj", wall().append(&figure()).to_obj());
    let words = ["look", "m.obj", "--control", "x = 12 ft", "--json"];
    at.run(&words).exits(2).says("fits no unit");
    assert_eq!(at.json(&[&words[..], &["--leave-out", "figure"]].concat())["units"], "ft");
    let json =
        at.json(&["takeoff", "m.obj", "--control", "x = 12 ft", "--leave-out", "figure", "--face", "core", "--json"]);
    assert_eq!(json["units"], "ft");
}

/// 69 file units: a person in inches, and in no other unit.
#[test]
fn a_scale_figure_is_asked_about_and_tells_the_unit() {
    let inches = |shape: Shape| shape.scale(12.0).to_obj();
    let at = Folder::new().with("m.obj", inches(wall().append(&figure()))).with("wall.obj", inches(wall()));
    let json = at.json(&["look", "m.obj", "--json"]);
    let text = finding(&json, "scale_figure").unwrap();
    assert!(
        text.contains("`figure`") && text.contains("69.00 file units") && text.contains("in (5 ft 9 in)"),
        "{text}"
    );
    assert!(!text.contains("ft (") && !text.contains("cm ("), "{text}");
    at.run(&["takeoff", "m.obj"]).exits(2).says("the file is in in (5 ft 9 in)").never_says("sq ft");
    for command in ["look", "takeoff"] {
        let words = [command, "m.obj", "--units", "in", "--json"];
        let json = at.json(&words);
        let text = finding(&json, "scale_figure").unwrap();
        assert!(text.contains("5 ft 9 in") && text.contains("--leave-out \"figure\""), "{text}");
        let json = at.json(&[&words[..], &["--leave-out", "figure"]].concat());
        assert_eq!(finding(&json, "scale_figure"), None);
        assert_eq!(finding(&at.json(&[command, "wall.obj", "--units", "in", "--json"]), "scale_figure"), None);
        // Read in feet it is 69 ft high and no person.
        assert_eq!(finding(&at.json(&["look", "m.obj", "--units", "ft", "--json"]), "scale_figure"), None);
    }
    // One part for all: the place is proposed, and taken as it is printed.
    let one = wall().append(&figure()).named("all").scale(12.0).to_obj();
    let at = at.with("one.obj", one);
    let json = at.json(&["takeoff", "one.obj", "--units", "in", "--json"]);
    let job = format!("[job]\nmodel = \"one.obj\"\nunits = \"in\"\n{}", rule(&json, "scale_figure"));
    let json = at.with("one.toml", job).json(&["takeoff", "one.toml", "--json"]);
    assert!((number(&json, "size_m.0") - 12.0 * 0.3048).abs() < 1e-9, "{}", json["size_m"]);
}

/// 22 000 triangles, 21 000 of them leaves: what is said is of the trunk, two rims of 44 edges, and it does not take long.
#[test]
fn leaves_left_out_leave_the_trunk_to_speak_for_itself() {
    let at = Folder::new().with("tree.obj", tree(10_500).to_obj());
    let base = ["takeoff", "tree.obj", "--units", "ft", "--face", "core", "--json", "--leave-out"];
    let start = Instant::now();
    let json = at.json(&[&base[..], &["leaves"]].concat());
    assert!(start.elapsed() < Duration::from_secs(15), "{:?}", start.elapsed());
    assert!(finding(&json, "open_edges").unwrap().starts_with("88 open edges"), "{}", json["findings"]);
    assert_eq!(json["parts"][1]["triangles"], 21_000);
    let look = at.json(&["look", "tree.obj", "--units", "ft", "--leave-out", "leaves", "--json"]);
    assert_eq!((&look["open_edges"], &look["bodies"]), (&88.into(), &1.into()));
    assert!(finding(&look, "left_out").unwrap().contains("21000 triangles in 1 part"), "{}", look["findings"]);
    // A slip of the pen is told before anything is measured, by every command, and by a job's rule too.
    let job = "[job]\nmodel = \"tree.obj\"\nunits = \"ft\"\n[[scope.part]]\nname = \"leavs\"\nis = \"left out\"\n";
    let at = at.with("tree.toml", job);
    let start = Instant::now();
    at.run(&[&base[..], &["leafs"]].concat()).exits(2).says("Did you mean `leaves`?").never_says("coated");
    for words in [
        &["takeoff", "tree.toml"][..],
        &["flag", "tree.toml"],
        &["core", "tree.toml"],
        &["sheets", "tree.toml", "--out", "s"],
        &["report", "tree.toml", "--csv", "t.csv"],
        &["look", "tree.obj", "--leave-out", "leavs"],
    ] {
        at.run(words).exits(2).says("Did you mean `leaves`?");
    }
    assert!(start.elapsed() < Duration::from_secs(15), "{:?}", start.elapsed());
}
