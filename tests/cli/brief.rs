//! What a takeoff prints by itself: one screen, and the files that were written. Figures by hand.

use crate::common::{Folder, WIDE, line};
use cragskin_fixtures::solid::{block, frustum, icosphere};

const WORDS: [&str; 6] = ["--units", "ft", "--face", "core", "--book", "wide.toml"];
const SETTLED: [&str; 4] = ["--floor", "bare", "--back", "bare"];

fn wall() -> Folder {
    Folder::new().with("wall.obj", block(12.0, 3.0, 8.0).to_obj()).with("wide.toml", WIDE)
}

fn words<'a>(command: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    [&[command, "wall.obj"], &WORDS[..], &SETTLED, more].concat()
}

/// A wall 12 x 3 x 8 ft without floor and back: 96 + 2 x 24 + 36 = 180 sq ft, of which 144 stand plumb, and 288 cu ft of foam. What the
/// crew needs first stands in the first fifteen lines, nothing is wider than 110 columns, and it is what the JSON has.
#[test]
fn the_takeoff_fits_a_screen() {
    let at = wall();
    let said = at.run(&words("takeoff", &["--limit", "wall area > 100 sq ft", "--limit", "wall area < 150 sq ft"]));
    let said = said
        .exits(1)
        .says("to settle  nothing")
        .says("coated 180.0 sq ft (16.72 m2)")
        .says("foam 288.0 cu ft (8.155 m3)");
    let said =
        said.says("wall area > 100.0 sq ft (9.29 m2): OVER, 144.0 sq ft").says("sq ft (13.94 m2): UNDER, 144.0 sq ft");
    let json = at.json(&words("takeoff", &["--json"]));
    let lines: Vec<&str> = said.out.lines().collect();
    assert!(lines.len() <= 25 && lines.iter().all(|line| line.chars().count() <= 110), "{}", said.out);
    let first = lines[..15].join("\n");
    let bags = line(&json, "order", "mix")["packages"].as_u64().unwrap();
    let sheets = line(&json, "order", "lath")["packages"].as_u64().unwrap();
    let wet = line(&json, "weights", "total, wet on the day")["exact"].as_f64().unwrap();
    let load = line(&json, "weights", "floor load, wet on the day")["exact"].as_f64().unwrap();
    for figure in [
        format!("mix        {bags} bags"),
        format!("lath       {sheets} sheets for 144.0 sq ft (13.38 m2)"),
        format!("wet on the day {wet:.0} lb"),
        format!("floor      {load:.2} lb/sq ft"),
        "two lifts  or more on 0.0 sq ft".to_owned(),
        "W1 wall 144.0 sq ft".to_owned(),
    ] {
        assert!(first.contains(&figure), "no `{figure}` in\n{first}");
    }
    assert!(!said.out.contains('='), "sums stand in the full text: {}", said.out);
    at.run(&words("takeoff", &["--full"])).exits(0).says(" = ").says("CAUTIONS");
    let full = at.run(&words("takeoff", &["--full", "--limit", "wall area > 100 sq ft"])).exits(1);
    full.says("LIMITS SET FOR THIS JOB OVER wall area > 100.0 sq ft");
}

/// What is open stands on the screen in full: both sides, 36 and 96 sq ft, and that figures are bounds for it.
#[test]
fn what_is_open_stands_on_the_screen() {
    let at = wall();
    let said = at.run(&[&["takeoff", "wall.obj"], &WORDS[..]].concat()).exits(0);
    said.says("to settle 2 open questions of scope, 2 figures in doubt: see below")
        .says("coated 312.0 sq ft (28.99 m2) (upper bound) of 312.0 sq ft (28.99 m2) as modelled; 180.0 sq ft (16.72 m2) if the floor")
        .says("? the floor is flat, 36.0 sq ft (3.34 m2): coated or bare? Say --floor bare or --floor coated.")
        .says("? the back is flat and large, 96.0 sq ft")
        .says("! area: upper bound: nobody has said")
        .says("for 276.0 sq ft (25.64 m2), 834 fixings (upper bound)")
        .never_says("F1 soffit");
    // Nor is it a place where the edge of the floor is a chamfer.
    let foot = frustum(32, 2.0, 2.1, 0.1).append(&frustum(32, 2.1, 2.1, 6.0).translate([0.0, 0.0, 0.1]));
    let at = Folder::new().with("foot.obj", foot.to_obj()).with("wide.toml", WIDE);
    at.run(&[&["takeoff", "foot.obj", "--back", "coated"], &WORDS[..]].concat())
        .exits(0)
        .says("? the floor is flat")
        .never_says("F1 soffit");
    // Four-cornered faces are no finding to settle.
    let quads = "v 0 0 0\nv 6 0 0\nv 6 3 0\nv 0 3 0\nv 0 0 5\nv 6 0 5\nv 6 3 5\nv 0 3 5\n\
        f 4 3 2 1\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n";
    let at = Folder::new().with("wall.obj", quads).with("wide.toml", WIDE);
    at.run(&words("takeoff", &[]))
        .exits(0)
        .says("to settle nothing; 1 note below")
        .says("6 polygons with more than three corners");
}

/// Commands that write say what and where: every path printed is a file, and every file is printed.
#[test]
fn what_was_written_is_said() {
    let at = wall();
    at.run(&words("takeoff", &["--out", "t"])).exits(0).says("written t: takeoff.txt, takeoff.json, takeoff.csv");
    assert_eq!(at.read("t/takeoff.txt"), at.run(&words("takeoff", &["--full"])).exits(0).out);
    let compare = [&["compare", "wall.obj", "wall.obj", "--out", "c"], &WORDS[..], &SETTLED].concat();
    let batch = [&["batch", "wall.obj", "--out", "b", "--no-store"], &WORDS[..], &SETTLED].concat();
    for (folder, words) in [
        ("f", words("flag", &["--out", "f"])),
        ("s", words("sheets", &["--out", "s"])),
        ("r", words("report", &["--csv", "r/r.csv", "--xlsx", "r/r.xlsx"])),
        ("c", compare),
        ("b", batch),
    ] {
        let said = at.run(&words).exits(0);
        let mut told: Vec<&str> =
            said.out.lines().map(|line| line.strip_prefix(&format!("{folder}/")).unwrap()).collect();
        told.sort_unstable();
        assert_eq!(told, at.names(folder), "{}", said.out);
    }
    // A limit is heard of by every command that takes one.
    let over = |command: &str, more: &[&str]| {
        let said = at.run(&[&words(command, more)[..], &["--limit", "wall area > 100 sq ft"]].concat()).exits(1);
        said.says("OVER").says("wall area > 100.0 sq ft");
    };
    over("takeoff", &["--out", "t"]);
    over("flag", &["--out", "f"]);
    over("sheets", &["--out", "s"]);
    over("report", &["--csv", "r/r.csv"]);
    over("core", &["--out", "k"]);
    over("set", &["--out", "a"]);
    over("batch", &["--out", "b", "--no-store"]);
    at.run(&words("core", &["--out", "k"])).exits(0).says("k/core.stl").says("k/no_foam.csv");
}

/// Manual pages and completions come from the flags: each command has its page with its flags, and no page is empty.
#[test]
fn the_shell_learns_the_flags() {
    let at = wall();
    let said = at.run(&["man", "--out", "man"]).exits(0);
    assert_eq!(said.out.lines().count(), at.names("man").len());
    for command in ["look", "takeoff", "set", "flag", "sheets", "core", "compare", "batch", "report", "book", "job"] {
        let page = at.read(&format!("man/cragskin-{command}.1"));
        assert!(page.starts_with(".ie") && page.contains(&format!("cragskin\\-{command}")), "{command}: {page}");
    }
    assert!(at.read("man/cragskin-takeoff.1").contains("\\-\\-full"));
    for shell in ["bash", "zsh", "fish"] {
        at.run(&["completions", shell]).exits(0).says("takeoff").says("full").says("scale-to");
    }
}

/// A dome of facets, 8 ft over: its three-lift cap is told by its own area, and what takes more than one lift adds up to the two-lift area.
/// Without a book of one's own nothing is settled enough to order by.
#[test]
fn lifts_are_told_by_their_own_areas_and_an_invented_book_is_said() {
    let cave = icosphere(4.0, 3).translate([0.0, 0.0, 6.0]);
    let at = Folder::new().with("cave.obj", cave.to_obj()).with("wide.toml", WIDE);
    let base = ["takeoff", "cave.obj", "--units", "ft", "--face", "core", "--floor", "coated", "--back", "coated"];
    let words = [&base[..], &["--book", "wide.toml", "--skin", "1-9/16 in"]].concat();
    let json = at.json(&[&words[..], &["--json"]].concat());
    let said = at.run(&words).exits(0);
    let mut several = 0.0;
    for zone in json["zones"].as_array().unwrap() {
        let areas: Vec<(u64, f64)> = (zone["lift_areas"].as_array().unwrap().iter())
            .map(|area| (area["lifts"].as_u64().unwrap(), area["area_m2"].as_f64().unwrap()))
            .collect();
        let (all, two) =
            areas.iter().fold((0.0, 0.0), |(all, two), (n, m2)| (all + m2, if *n > 1 { two + m2 } else { two }));
        // The same faces summed in another order: rounding.
        assert!((all - zone["area_m2"].as_f64().unwrap()).abs() < 1e-9 && zone["lifts"] == areas.last().unwrap().0);
        assert!((two - zone["two_lift_area_m2"].as_f64().unwrap()).abs() < 1e-9);
        several += two;
        if zone["class"] == "soffit" {
            let told: Vec<String> = areas
                .iter()
                .filter(|area| area.0 > 1)
                .map(|(n, m2)| format!("{n} on {:.1}", m2 / 0.3048_f64.powi(2)))
                .collect();
            assert!(told.len() > 1, "{areas:?}");
            let first = told[0].replace(" on", " lifts on");
            assert!(said.out.contains(&format!("{first}, {}", told[1])), "{told:?}\n{}", said.out);
        }
    }
    assert!((several - json["two_lift_area_m2"].as_f64().unwrap()).abs() < 1e-9);
    said.never_says("NONE OF YOURS").says("values of the book are not yours");
    at.run(&base).exits(0).says("book NONE OF YOURS").never_says("to settle  nothing\n");
}

/// A model is kept where a limit was set, and only there.
#[test]
fn kept_is_said_where_a_limit_was_set() {
    let at = wall();
    let batch = [&["batch", "wall.obj", "--no-store"], &WORDS[..], &SETTLED].concat();
    at.run(&batch).exits(0).says("1 models: no limit set, 0 failed").never_says("kept");
    let with = |limit: &str, words: &str, code: i32| {
        at.run(&[&batch[..], &["--limit", limit]].concat()).exits(code).says(words);
    };
    with("wall area > 150 sq ft", "1 models: 1 kept, 0 beyond a limit, 0 not known, 0 failed", 0);
    with("wall area > 100 sq ft", "1 models: 0 kept, 1 beyond a limit, 0 not known, 0 failed", 1);
}
