//! What is listed and drawn of a model whose lean nobody knows, or that has none.

use crate::common::{Folder, line};
use cragskin_fixtures::Shape;
use cragskin_fixtures::solid::block;
use serde_json::Value;
use std::f64::consts::PI;

/// A strip 2 ft wide round a ring of 4 ft radius with half a twist in it: a surface with one side alone (A. F. Moebius), so no face of it
/// looks outward.
fn twisted_strip() -> Shape {
    const N: u32 = 24;
    let at = |i: u32, s: f64| {
        let turn = 2.0 * PI * f64::from(i) / f64::from(N);
        let r = 4.0 + s * (turn / 2.0).cos();
        [r * turn.cos(), r * turn.sin(), 4.0 + s * (turn / 2.0).sin()]
    };
    let positions = (0..N).flat_map(|i| [at(i, -1.0), at(i, 1.0)]).collect();
    // After a whole turn the two rims change places.
    let index = |i: u32, s: u32| if i < N { 2 * i + s } else { 2 * (i - N) + 1 - s };
    let quad = |i: u32| [index(i, 0), index(i, 1), index(i + 1, 1), index(i + 1, 0)];
    let halves = |[a, b, c, d]: [u32; 4]| [[a, d, c], [a, c, b]];
    Shape::new("strip", positions, (0..N).map(quad).flat_map(halves).collect())
}

#[test]
fn of_a_lean_not_defined_nothing_is_listed_or_drawn() {
    let at = Folder::new().with("strip.obj", twisted_strip().to_obj());
    let words = ["strip.obj", "--units", "ft", "--up=+z"];
    let run = |first: &[&str], more: &[&str]| at.run(&[first, &words[..], more].concat()).exits(0);
    let json = run(&["flag"], &["--json"]).json();
    for field in ["flags", "zones", "lath_area_m2", "two_lift_area_m2", "joints"] {
        assert_eq!(json[field], Value::Null, "{field}");
    }
    assert!(json["worth"].as_str().unwrap().starts_with("not defined"), "{}", json["worth"]);
    let list = run(&["flag"], &["--out", "flagged"]);
    assert!(list.out.starts_with("flagged/flag.txt\n"), "{}", list.out);
    run(&["flag"], &[])
        .says("places, zones, lath and lifts: not defined: in some bodies inside and outside cannot be told apart")
        .says("? in 1 body neighbouring faces cannot be made to face the same way")
        .says("Ask for the model as closed solids")
        .never_says("WHERE LATH GOES")
        .never_says("nothing to settle")
        .never_says("under lath");
    let groups = at.read("flagged/zones.obj");
    assert!(groups.contains("g zones_not_defined") && groups.matches("\ng ").count() == 1, "{groups}");

    run(&["sheets"], &["--out", "sheets"]);
    for view in ["front", "back", "left", "right", "top"] {
        let svg = at.read(&format!("sheets/{view}.svg"));
        assert!(svg.contains("not defined") && svg.contains("closed solids"), "{view}");
        // No zone, no hatch of a class, no legend of classes.
        assert!(!svg.contains("url(#") && !svg.contains("movement joint"), "{view}");
    }

    run(&["report"], &["--pictures", "pictures", "--out", "page.html"]);
    let drawn = at.names("pictures");
    assert!(drawn.iter().all(|name| name.ends_with("-coated.png")) && drawn.len() == 6, "{drawn:?}");
    let page = at.read("page.html");
    assert!(page.contains("value=\"coated\" checked") && !page.contains("value=\"lean\""));

    let json = run(&["takeoff"], &["--json", "--picture", "still.png"]).json();
    for (table, item) in
        [("order", "lath"), ("order", "primer concentrate"), ("order", "mix"), ("weights", "lath as hung")]
    {
        assert_eq!(line(&json, table, item)["exact"], Value::Null, "{item}");
    }
    assert_eq!((&json["open_skin"], &json["zones_found"]), (&Value::Null, &Value::Bool(false)));
}

/// A plate drawn to face away from the visitor is turned over on a guess: what is drawn of it says so, and an answer ends it.
#[test]
fn of_a_lean_not_known_everything_drawn_says_so() {
    let plate = "v 0 0 0\nv 8 0 0\nv 8 0 8\nv 0 0 8\nf 1 4 3 2\n";
    let at = Folder::new().with("plate.obj", plate);
    let words = ["plate.obj", "--units", "ft"];
    let run = |first: &[&str], more: &[&str]| at.run(&[first, &words[..], more].concat()).exits(0);
    for (answer, known) in [(&[][..], false), (&["--outward"][..], true)] {
        let json = run(&["flag"], &with(answer, &["--json"])).json();
        assert_eq!(json["worth"].as_str().unwrap().starts_with("not known"), !known, "{}", json["worth"]);
        assert_eq!(json["zones"].as_array().unwrap().len(), 1);
        let said = run(&["flag"], answer);
        let list = said.out.clone();
        assert_eq!(list.contains("not known") && list.contains("say --as-drawn"), !known, "{list}");
        let folder = if known { "known" } else { "asked" };
        run(&["sheets"], &with(answer, &["--out", folder]));
        let front = at.read(&format!("{folder}/front.svg"));
        assert!(front.contains(">W1<"));
        assert_eq!(
            front.contains("zones, lath and lifts: not known") && front.contains("--as-drawn"),
            !known,
            "{front}"
        );
        run(&["flag"], &with(answer, &["--out", folder]));
        assert_eq!(at.read(&format!("{folder}/zones.obj")).contains("g W1_wall_not_known"), !known);
        let page = format!("{folder}.html");
        run(&["report"], &with(answer, &["--out", &page]));
        let page = at.read(&page);
        for colouring in ["lean", "zones", "lath", "lifts"] {
            assert_eq!(page.contains(&format!("> {colouring}, not known</label>")), !known, "{colouring}");
        }
        let still = format!("{folder}.png");
        run(&["takeoff"], &with(answer, &["--picture", &still]));
    }
    // The two pictures differ by their headings alone, but differ.
    let still = |name: &str| std::fs::read(at.path().join(name)).unwrap();
    assert_ne!(still("known.png"), still("asked.png"));
}

fn with<'a>(answer: &[&'a str], more: &[&'a str]) -> Vec<&'a str> {
    [answer, more].concat()
}

/// Too large to look for zones is no list without faults.
#[test]
fn zones_that_nobody_looked_for_are_no_good_news() {
    let at = Folder::new().with("mm.obj", block(3658.0, 914.0, 2438.0).to_obj());
    let words = ["flag", "mm.obj", "--units", "ft", "--face", "core", "--floor", "coated", "--back", "coated"];
    at.run(&words)
        .exits(0)
        .never_says("nothing to settle")
        .says("too large to look for zones")
        .says("is the unit right?");
}

/// Every option that `look` tells people to say is one that it takes; so are those of `takeoff`.
#[test]
fn hints_name_options_that_exist() {
    let plate = "v 0 0 0\nv 8 0 0\nv 8 0 8\nv 0 0 8\nf 1 4 3 2\n";
    let person = block(0.8, 0.5, 5.8).named("figure").translate([20.0, 0.0, 0.0]);
    let at = Folder::new()
        .with("plate.obj", plate)
        .with("strip.obj", twisted_strip().to_obj())
        .with("both.obj", block(8.0, 3.0, 8.0).append(&person).to_obj())
        .with("lying.obj", block(8.0, 8.0, 1.0).map(|[x, y, z]| [x, z, -y]).to_obj());
    for command in ["look", "takeoff"] {
        let help = at.run(&[command, "--help"]).exits(0).out;
        for model in ["plate.obj", "strip.obj", "both.obj", "lying.obj"] {
            for units in [&["--units", "ft"][..], &[]] {
                let said = at.run(&[&[command, model], units].concat());
                let all = (said.out + &said.err).replace("cragskin look", "");
                for word in all.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-')) {
                    if let Some(option) = word.strip_prefix("--").filter(|option| !option.is_empty()) {
                        assert!(
                            help.contains(&format!("--{option}")),
                            "{command} says --{option}, which it has not:\n{all}"
                        );
                    }
                }
            }
        }
    }
    // And it does what it says: an answer ends the question.
    for answer in ["--outward", "--as-drawn"] {
        for units in [&["--units", "ft"][..], &[]] {
            let json = at.json(&[&["look", "plate.obj", "--json", answer], units].concat());
            assert_eq!(json["quality"]["lean"], "good", "{answer}");
        }
    }
    assert_eq!(at.json(&["look", "plate.obj", "--json"])["quality"]["lean"], "not known");
    at.run(&["look", "plate.obj", "--outward", "--as-drawn"]).exits(2);
}
