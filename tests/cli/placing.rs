//! Which way is up, where visitors stand, and how large it is when the file gives no hint.

use crate::common::{Folder, number};
use cragskin_fixtures::solid::block;
use cragskin_fixtures::{Shape, rock};
use serde_json::Value;

fn finding<'a>(json: &'a Value, code: &str) -> Option<&'a str> {
    json["findings"].as_array().unwrap().iter().find(|f| f["code"] == code)?["text"].as_str()
}

/// A sheet of hills 24 x 24 ft as a height over x and y, up to 60 degrees steep.
fn hills() -> Shape {
    let n = 24_u32;
    let height = |x: f64, y: f64| 2.0 * (x / 2.0).sin() * (y / 2.0).cos() + 2.0;
    let at = |k: u32| f64::from(k);
    let positions = (0..=n).flat_map(|j| (0..=n).map(move |i| [at(i), at(j), height(at(i), at(j))])).collect();
    let corner = |i: u32, j: u32| j * (n + 1) + i;
    let cell = |i: u32, j: u32| {
        let (a, b, c, d) = (corner(i, j), corner(i + 1, j), corner(i + 1, j + 1), corner(i, j + 1));
        [[a, b, c], [a, c, d]]
    };
    let triangles = (0..n).flat_map(|j| (0..n).flat_map(move |i| cell(i, j))).collect();
    Shape::new("hills", positions, triangles)
}

/// The same hills with Y up, as many programs draw: (x, y, z) there is (x, -z, y) here.
fn y_up(shape: Shape) -> Shape {
    shape.map(|[x, y, z]| [x, z, -y])
}

#[test]
fn a_terrain_on_its_side_is_asked_about() {
    // A quarter of the size: none of this goes by size.
    let hills = || hills().scale(0.25);
    let at = Folder::new().with("y.obj", y_up(hills()).to_obj()).with("z.obj", hills().to_obj());
    let base = ["--units", "ft", "--face", "core", "--json"];
    let run = |command: &str, file: &str, more: &[&str]| {
        let face: &[&str] = if command == "look" { &["--units", "ft", "--json"] } else { &base };
        at.json(&[&[command, file], face, more].concat())
    };
    for command in ["look", "takeoff"] {
        let asked = run(command, "y.obj", &[]);
        assert!(finding(&asked, "which_up").unwrap().contains("--up=+y"), "{}", asked["findings"]);
        assert_ne!(asked["quality"]["lean"], "good", "{command}");
        // Said, whichever way it was said, it is asked no more.
        // With +z up the sheet stands with its back to the visitor and is turned over: which side is coated is another question.
        for (up, lean) in [("+y", "good"), ("+z", "not known")] {
            let said = run(command, "y.obj", &["--up", up]);
            let quality = &said["quality"];
            assert_eq!((finding(&said, "which_up"), &quality["lean"]), (None, &lean.into()), "{command} {up}");
            assert_eq!(finding(&said, "sheet_turned").is_some(), up == "+z", "{command} {up}");
            assert!(!quality.to_string().contains("which way is up"), "{quality}");
        }
        let right = run(command, "z.obj", &[]);
        assert_eq!((finding(&right, "which_up"), &right["quality"]["lean"]), (None, &"good".into()), "{command}");
    }
    assert_eq!(run("takeoff", "y.obj", &["--up", "+z", "--outward"])["quality"]["lean"], "good");
    // Without a unit too, for it has nothing to do with size.
    assert!(finding(&at.json(&["look", "y.obj", "--json"]), "which_up").is_some());
    let at = at.with("y.toml", "[job]\nmodel = \"y.obj\"\nunits = \"ft\"\n");
    assert!(finding(&at.json(&["takeoff", "y.toml", "--json"]), "which_up").is_some(), "a job that does not say");
    let at = at.with("z.toml", "[job]\nmodel = \"y.obj\"\nunits = \"ft\"\nup = \"+z\"\n");
    assert_eq!(finding(&at.json(&["takeoff", "z.toml", "--json"]), "which_up"), None, "a job that says");
    // Laid right, nothing of it overhangs.
    let json = at.json(&["takeoff", "y.obj", "--units", "ft", "--face", "core", "--up", "+y", "--json"]);
    assert_eq!((number(&json, "area_by_class_m2.undercut"), number(&json, "area_by_class_m2.soffit")), (0.0, 0.0));
}

/// A closed slab of hills on its side is asked about; walls with flat backs, boulders, blocks and facades are not.
#[test]
fn what_stands_is_not_asked_about() {
    let quiet = |name: &str, bytes: Vec<u8>, asked: bool| {
        let json = Folder::new().with("m", bytes).json(&["look", "m", "--units", "ft", "--json"]);
        assert_eq!(finding(&json, "which_up").is_some(), asked, "{name}: {}", json["findings"]);
    };
    let facade = |turn: f64| hills().rotate([1.0, 0.0, 0.0], 90.0).turn(turn).to_obj();
    quiet("facade", facade(0.0), false);
    quiet("facade that faces away", facade(180.0), true);
    for seed in 1..5 {
        quiet("rock", rock(seed, 1200, 4.0).to_obj(), false);
    }
    quiet("block", block(12.0, 3.0, 8.0).to_obj(), false);
    quiet("slab", block(12.0, 8.0, 0.5).to_obj(), false);
    quiet("grotto wall", cragskin_fixtures::grotto_wall().to_obj(), false);
}

#[test]
fn a_starter_job_keeps_the_axes_that_were_given() {
    let at = Folder::new().with("m.obj", block(12.0, 3.0, 8.0).to_obj());
    let said = at.run(&["job", "m.obj", "--units", "ft", "--up", "+y", "--front", "-x"]).exits(0);
    let at = at.with("m.toml", &said.out);
    let said = said.says("up = \"+y\"").says("front = \"-x\"");
    assert!(said.out.lines().any(|line| line == "up = \"+y\""), "{}", said.out);
    let json = at.json(&["takeoff", "m.toml", "--json"]);
    assert_eq!((&json["up"], &json["front"]), (&"+Y".into(), &"-X".into()));
    // The side that follows from up is written too; what nobody said stands as a comment and is still asked for.
    let said = at.run(&["job", "m.obj", "--up", "+y"]).exits(0);
    assert!(said.out.lines().any(|line| line == "front = \"+z\""), "{}", said.out);
    let said = at.run(&["job", "m.obj"]).exits(0);
    assert!(said.out.lines().any(|line| line == "# up = \"+z\""), "{}", said.out);
    let said = at.run(&["job", "m.obj", "--control", "x = 12 ft", "--units", "ft"]).exits(0);
    assert!(said.out.lines().any(|line| line == "control = \"x = 12 ft\""), "{}", said.out);
    at.run(&["job", "m.obj", "--up", "+y", "--front", "-y"]).exits(2).says("same axis");
}

/// 165 x 94 x 43 of nothing, scaled so that x is 8 ft: 8 x 8 (94 / 165) x 8 (43 / 165) ft.
#[test]
fn a_file_without_a_sensible_unit_is_scaled_to_a_length() {
    let at = Folder::new().with("lobby.stl", block(165.0, 94.0, 43.0).to_binary_stl());
    let [a, b, c] = [8.0, 8.0 * 94.0 / 165.0, 8.0 * 43.0 / 165.0];
    let words = ["takeoff", "lobby.stl", "--face", "core", "--floor", "coated", "--back", "coated"];
    let scaled = [&words[..], &["--scale-to", "x = 8 ft"]].concat();
    let json = at.json(&[&scaled[..], &["--json"]].concat());
    let feet = |k: usize| number(&json, &format!("size_m.{k}")) / 0.3048;
    for (k, want) in [a, b, c].into_iter().enumerate() {
        assert!((feet(k) - want).abs() < 1e-9, "{k}: {}", feet(k));
    }
    let area = number(&json, "coated_area_m2") / 0.3048_f64.powi(2);
    assert!((area - 2.0 * (a * b + b * c + c * a)).abs() < 1e-6, "{area}");
    assert_eq!((&json["units"], number(&json, "parts.0.size_in_file_units.0")), (&"scaled".into(), 165.0));
    assert!(json["notes"][0].as_str().unwrap().starts_with("SCALED"), "{}", json["notes"]);
    at.run(&scaled).exits(0).says("scaled so that x = 8 ft").says("SCALED");
    at.run(&["look", "lobby.stl", "--scale-to", "x = 8 ft"]).exits(0).says("SCALED").says("8 ft x 4 ft 6-11/16 in");
    let flags = ["--face", "core", "--scale-to", "x = 8 ft"];
    at.run(&[&["flag", "lobby.stl"], &flags[..]].concat()).exits(0).says("scaled so that x = 8 ft");
    at.run(&[&["core", "lobby.stl"], &flags[..]].concat()).exits(0).says("scaled so that x = 8 ft");
    at.run(&[&["sheets", "lobby.stl", "--out", "s"], &flags[..]].concat()).exits(0);
    at.run(&[&["report", "lobby.stl", "--out", "p.html", "--csv", "p.csv"], &flags[..]].concat()).exits(0);
    for file in ["s/front.svg", "s/top.svg", "p.html", "p.csv"] {
        assert!(at.read(file).contains("scaled so that x = 8 ft"), "{file}");
    }
    // The hint of a control length that fits nothing leads there; the job says it too.
    let control = [&words[..], &["--control", "x = 8 ft"]].concat();
    at.run(&control).exits(2).says("--scale-to \"x = 8 ft\"");
    let job = at.run(&["job", "lobby.stl", "--scale-to", "x = 8 ft"]).exits(0).out;
    let at = at.with("lobby.toml", job);
    let by_job = at.json(&["takeoff", "lobby.toml", "--face", "core", "--json"]);
    assert_eq!((&by_job["size_m"], &by_job["units"]), (&json["size_m"], &json["units"]));
    // A stated unit that says another length is refused; one that says the same is taken.
    at.run(&[&scaled[..], &["--units", "in"]].concat()).exits(2).says("contradict").never_says("sq ft");
    let fits = [&words[..], &["--units", "in", "--scale-to", "x = 13 ft 9 in", "--json"]].concat();
    assert_eq!(at.json(&fits)["units"], "in");
    at.run(&[&scaled[..], &["--control", "y = 4 ft 6-11/16 in"]].concat()).exits(0).says("control length fits");
    at.run(&[&scaled[..], &["--control", "y = 6 ft"]].concat()).exits(0).says("WARNING");
}
