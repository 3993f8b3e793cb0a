//! Sessions with `compare`.

use crate::common::WIDE;
use crate::revisions::Scratch;
use cragskin_fixtures::Shape;
use cragskin_fixtures::pairs::{ledge, pairs, wall_block_b, wall_block_c};
use cragskin_fixtures::solid::{block, boxed_wall};
use serde_json::Value;

const BLOCK: [&str; 8] = ["--face", "core", "--floor", "bare", "--back", "bare", "--skin", "3/4 in"];

fn line<'a>(report: &'a Value, section: &str, name: &str) -> &'a Value {
    let lines = report["lines"].as_array().unwrap();
    lines.iter().find(|line| line["section"] == section && line["name"] == name).unwrap()
}

/// A wall of 1 x 0.125 x 0.625 m with two boulders of 0.15 m: a takeoff costs by the area.
fn wall_with_boulders() -> Shape {
    cragskin_fixtures::pairs::wall_with_boulders().scale(SMALL)
}

/// How much smaller than the fixture what is drawn in metres is compared.
const SMALL: f64 = 0.25;

/// The hand-check book, for flat faces.
fn flat_book() -> String {
    include_str!("../../fixtures/books/hand_check.toml").to_owned() + WIDE
}

/// Old and new in square feet.
fn square_feet(report: &Value, section: &str, name: &str) -> [f64; 2] {
    ["old", "new"].map(|key| line(report, section, name)[key].as_f64().unwrap() / (0.3048 * 0.3048))
}

fn packages(report: &Value, name: &str) -> [i64; 2] {
    ["old_packages", "new_packages"].map(|key| line(report, "order", name)[key].as_i64().unwrap())
}

/// 12 x 8 x 3 ft becomes 12 x 9 x 3, floor and back bare. Area 96 + 48 + 36 = 180, then 108 + 54 + 36 = 198; wall 144,
/// then 162; lath 162 x 1.15 / 17.48 = 10.66 sheets; bags 198 x 0.75 / 12 x 1.1 / 0.6 = 22.7 and the corners.
#[test]
fn a_wall_a_foot_higher_in_feet_inches_and_millimetres() {
    for (unit, scale) in [("ft", 1.0), ("in", 12.0), ("mm", 304.8)] {
        let scratch = Scratch::new(&format!("wall-{unit}"));
        scratch.write("b.stl", wall_block_b().scale(scale).to_binary_stl());
        scratch.write("c.stl", wall_block_c().scale(scale).to_binary_stl());
        scratch.write("book.toml", flat_book());
        let words = [&["compare", "b.stl", "c.stl", "--units", unit, "--book", "book.toml"][..], &BLOCK].concat();
        let said = scratch.run(&[&words[..], &["--json", "--limit", "area change > 5 %"]].concat());
        assert_eq!(said.code, 1, "{}", said.err);
        let report: Value = serde_json::from_str(&said.out).unwrap();
        // Coordinates are single precision: 1e-7 of 12 ft a side.
        let near = |found: [f64; 2], wanted: [f64; 2]| (0..2).all(|k| (found[k] - wanted[k]).abs() < 1e-3);
        assert!(
            near(square_feet(&report, "area", "coated"), [180.0, 198.0]),
            "{:?}",
            square_feet(&report, "area", "coated")
        );
        assert!(near(square_feet(&report, "class", "wall"), [144.0, 162.0]));
        assert_eq!(packages(&report, "mix"), [21, 23]);
        assert_eq!(packages(&report, "lath"), [10, 11]);
        assert_eq!(report["verdict"], "changed");
        assert_eq!(report["changes"].as_array().unwrap().len(), 1);
        assert!((report["area_change"].as_f64().unwrap() - 0.1).abs() < 1e-6);
    }
}

/// Skin 1.25 in on a ledge at 120 deg holds in one lift (1.258 in with plumb 2 in and ceiling 0.75 in), at 125 deg (1.153 in) not.
#[test]
fn a_ledge_that_hangs_out_five_degrees_more_takes_a_second_lift() {
    let scratch = Scratch::new("ledge");
    scratch.write("b.stl", ledge(120.0).to_binary_stl());
    scratch.write("c.stl", ledge(125.0).to_binary_stl());
    scratch.write("book.toml", include_str!("../../fixtures/books/hand_check.toml"));
    let words = ["compare", "b.stl", "c.stl", "--units", "ft", "--face", "core", "--skin", "1.25 in"];
    let said = scratch.run(&[&words[..], &["--book", "book.toml", "--out", "x"]].concat());
    assert_eq!(said.code, 0, "{}", said.err);
    let report: Value = serde_json::from_str(&scratch.read("x/compare.json")).unwrap();
    let zones = report["zones"].as_array().unwrap();
    let eight = 8.0 * 0.3048 * 0.3048;
    let front = zones.iter().filter(|zone| {
        zone["new"].as_str().is_some_and(|letter| letter.starts_with('U'))
            && (zone["new_area_m2"].as_f64().unwrap() - eight).abs() < 1e-3 * eight
    });
    let lifts: Vec<_> = front.map(|zone| (zone["old_lifts"].as_i64(), zone["new_lifts"].as_i64())).collect();
    assert_eq!(lifts, [(Some(1), Some(2))], "{zones:?}");
    assert!(scratch.read("x/compare.txt").contains("went from one lift to 2 lifts"));
}

#[test]
fn tell_tales_are_told_for_what_they_are() {
    let scratch = Scratch::new("tell-tales");
    let all = pairs();
    for (name, verdict, words) in [
        ("same", "same_bytes", "byte for byte"),
        ("re_triangulated", "same_shape", "another export of the same shape"),
        ("shuffled", "same_shape", "another export of the same shape"),
        ("inches_for_millimetres", "unit_slip", "unit slip, not growth: every length is 25.4 times what it was"),
        ("feet_for_millimetres", "unit_slip", "304.8 times"),
        ("shifted", "moved", "shifted 8 ft 2-7/16 in (2.500 m) right"),
        ("turned", "moved", "turned about up by 37.0 deg to the left"),
        ("up_changed", "up_changed", "another axis is up"),
        ("mirrored", "mirrored", "left and right exchanged"),
    ] {
        let pair = all.iter().find(|pair| pair.name == name).unwrap();
        let scale = if pair.unit == "m" { SMALL } else { 1.0 };
        scratch.write("a.obj", pair.old.clone().scale(scale).to_obj());
        scratch.write("b.obj", pair.new.clone().scale(scale).to_obj());
        let said = scratch.run(&["compare", "a.obj", "b.obj", "--units", pair.unit, "--out", "x"]);
        assert_eq!(said.code, 0, "{name}: {}", said.err);
        let text = scratch.read("x/compare.txt");
        assert!(text.contains(words), "{name}: {text}");
        let report: Value = serde_json::from_str(&scratch.read("x/compare.json")).unwrap();
        assert_eq!(report["verdict"], verdict, "{name}");
    }
}

#[test]
fn parts_are_followed_and_rules_that_find_nothing_are_told() {
    let scratch = Scratch::new("parts");
    for name in ["part_renamed", "part_deleted", "boulder_moved"] {
        let pair = pairs().into_iter().find(|pair| pair.name == name).unwrap();
        scratch.write("old.obj", pair.old.scale(SMALL).to_obj());
        scratch.write(&format!("{name}.obj"), pair.new.scale(SMALL).to_obj());
    }
    let job = "[job]\nname = \"alcove\"\nmodel = \"old.obj\"\nunits = \"m\"\n[scope]\nfloor = \"bare\"\nback = \"bare\"\n\
        [[scope.part]]\nname = \"right boulder\"\nis = \"bare\"\n[limits]\nrules = [\"area change > 50 %\"]\n";
    scratch.write("alcove.toml", job);
    let compared = |new: &str| scratch.run(&["compare", "alcove.toml", new]);
    let said = compared("part_renamed.obj");
    assert!(said.out.contains("right boulder -> Group#47: same"), "{}{}", said.out, said.err);
    assert!(
        said.out.contains("part right boulder: no part or material of that name in part_renamed.obj"),
        "{}",
        said.out
    );
    let said = compared("part_deleted.obj");
    assert!(said.out.contains("right boulder: gone"), "{}", said.out);
    let said = compared("boulder_moved.obj");
    assert!(said.out.contains("left boulder: moved 1/2 in (13 mm) right"), "{}", said.out);
    assert!(said.code == 0 && said.out.contains("kept       area change > 50 %"), "{}", said.out);
}

/// A boulder taken away leaves no new surface: its own, all but what touches, is what changed. The rock of 1200 triangles and 0.15 m
/// stands free, so its whole area is gone.
#[test]
fn what_is_taken_away_is_a_change_and_is_drawn() {
    let scratch = Scratch::new("compare-gone");
    let pair = pairs().into_iter().find(|pair| pair.name == "part_deleted").unwrap();
    let [old, new] = [pair.old, pair.new].map(|shape| shape.scale(SMALL));
    scratch.write("old.obj", old.to_obj());
    scratch.write("new.obj", new.to_obj());
    let area = |i: usize| {
        let [p, q, r] = old.corners(i).map(nalgebra::Vector3::from);
        (q - p).cross(&(r - p)).norm() / 2.0
    };
    let of_it = |i: &usize| old.parts[old.part_of[*i] as usize] == "right boulder";
    let boulder: f64 = (0..old.triangles.len()).filter(of_it).map(area).sum();
    let words = ["compare", "old.obj", "new.obj", "--units", "m", "--floor", "bare", "--back", "bare"];
    let said = scratch.run(&[&words[..], &["--json", "--out", "x"]].concat());
    let report: Value = serde_json::from_str(&said.out).unwrap();
    let of = |key: &str| report[key].as_f64().unwrap();
    assert!(
        of("new_off_old_m2") == 0.0 && (of("old_off_new_m2") / boulder - 1.0).abs() < 1e-3,
        "{boulder}: {}",
        said.out
    );
    assert_eq!(of("changed_area_m2"), of("old_off_new_m2"));
    let said = scratch.run(&words);
    let feet = boulder / (0.3048 * 0.3048);
    let words_of_it =
        format!("0.0 sq ft (0.00 m2) of surface is new and {feet:.1} sq ft ({boulder:.2} m2) of the old is gone");
    assert!(said.out.contains(&words_of_it), "{words_of_it}: {}", said.out);
    for (limit, code) in [("changed area > 0.1 sq ft", 1), ("changed area > 1000 sq ft", 0)] {
        assert_eq!(scratch.run(&[&words[..], &["--limit", limit]].concat()).code, code, "{limit}");
        let batch = ["batch", "new.obj", "--baseline", "old.obj", "--units", "m", "--jsonl", "--limit", limit];
        let said = scratch.run(&[&batch[..], &["--floor", "bare", "--back", "bare"]].concat());
        let row: Value = serde_json::from_str(&said.out).unwrap();
        assert!((row["changed_area_m2"].as_f64().unwrap() / boulder - 1.0).abs() < 1e-3, "{row}");
        assert_eq!((row["new_surface_m2"].as_f64(), said.code), (Some(0.0), code), "{row}");
    }
    // In every file in colour, and in none where nothing is gone.
    let read =
        |name: &str| String::from_utf8_lossy(&std::fs::read(scratch.0.join("x").join(name)).unwrap()).into_owned();
    assert!(read("changed.obj").contains("\ng gone\nusemtl gone\n") && read("changed.mtl").contains("newmtl gone\n"));
    assert!(read("changed.glb").contains(r#""name":"gone""#));
    let faces = read("changed.obj").lines().filter(|line| line.starts_with("f ")).count();
    assert!(read("changed.ply").contains(&format!("element face {faces}\n")) && faces == old.triangles.len());
    assert_eq!(scratch.run(&["compare", "old.obj", "old.obj", "--units", "m", "--out", "y"]).code, 0);
    assert!(!String::from_utf8(std::fs::read(scratch.0.join("y/changed.obj")).unwrap()).unwrap().contains("g gone"));
}

/// A side that nobody has settled is coated in both revisions or bare in both: the limit is judged on the larger change. Block 12 x 8 x 3
/// to 12 x 9 x 3 ft: 312 to 342 sq ft coated all round, 9.6 %; 180 to 198 without floor and back, 10 %; 276 to 306
/// without the floor, 10.9 %; 216 to 234 without the back, 8.3 %. A quarter of that size has the same shares.
#[test]
fn the_change_of_an_open_scope_is_the_largest_of_all_answers() {
    let scratch = Scratch::new("compare-open");
    scratch.write("b.stl", wall_block_b().scale(SMALL).to_binary_stl());
    scratch.write("c.stl", wall_block_c().scale(SMALL).to_binary_stl());
    for (limit, verdict, code) in [
        ("area change > 10.9 %", "kept     ", 0),
        ("area change > 10.1 %", "NOT KNOWN", 1),
        ("area change > 5 %", "NOT KNOWN", 1),
        ("area change < 11 %", "UNDER    ", 1),
    ] {
        let said = scratch.run(&["compare", "b.stl", "c.stl", "--units", "ft", "--limit", limit]);
        assert!(said.code == code && said.out.contains(&format!("{verdict}  {limit}")), "{limit}: {}", said.out);
    }
    let said = scratch.run(&["compare", "b.stl", "c.stl", "--units", "ft", "--limit", "area change > 5 %"]);
    assert!(said.out.contains("8.3 to 10.9 %, by which of the sides are bare"), "{}", said.out);
    let settled = ["compare", "b.stl", "c.stl", "--units", "ft", "--floor", "bare", "--back", "bare"];
    let said = scratch.run(&[&settled[..], &["--limit", "area change > 5 %"]].concat());
    assert!(said.code == 1 && said.out.contains("OVER       area change > 5 %"), "{}", said.out);
}

/// 12 ft is 3.658 m, 144 sq ft is 13.38 m2: what a person reads is in both.
#[test]
fn the_page_is_in_us_and_metric_units() {
    let scratch = Scratch::new("compare-units");
    scratch.write("b.stl", wall_block_b().to_binary_stl());
    scratch.write("c.stl", wall_block_c().to_binary_stl());
    let said = scratch.run(&["compare", "b.stl", "c.stl", "--units", "ft", "--floor", "bare", "--back", "bare"]);
    let lines: Vec<String> =
        said.out.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" ")).collect();
    let line = |start: &str| {
        let line = lines.iter().find(|line| line.trim_start_matches("* ").starts_with(start));
        line.unwrap_or_else(|| panic!("{start}: {}", said.out)).clone()
    };
    assert_eq!(line("class wall"), "* class wall 144.00 162.00 +18.00 sq ft 13.38 15.05 +1.67 m2");
    assert!(line("order mixing water").contains(" gal ") && line("order mixing water").ends_with(" L"));
    assert!(line("weight total, cured").contains(" lb ") && line("weight total, cured").ends_with(" kg"));
    assert!(line("farthest apart").ends_with("1 ft (305 mm); same means within 1/8 in (3.2 mm)"));
    assert!(line("1 0 in 0 in").contains("12 ft x 3 ft x 1 ft"), "{}", said.out);
    assert!(line("0 mm 0 mm").contains("3.658 m x 914 mm x 30"), "{}", said.out);
}

#[test]
fn all_files_or_none_and_failures_end_with_2() {
    let scratch = Scratch::new("compare-out");
    scratch.write("a.obj", wall_with_boulders().to_obj());
    scratch.write("b.obj", wall_with_boulders().shuffle(1).to_obj());
    scratch.write("empty.stl", "");
    let said = scratch.run(&["compare", "a.obj", "b.obj", "--units", "m", "--out", "page"]);
    assert!(said.code == 0 && said.out.starts_with("page/compare.txt\n"), "{}{}", said.out, said.err);
    let mut names: Vec<_> = std::fs::read_dir(scratch.0.join("page"))
        .unwrap()
        .map(|f| f.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let views = ["back", "front", "left", "right", "top"].map(|view| format!("changed_{view}.svg"));
    let rest =
        ["changed.glb", "changed.mtl", "changed.obj", "changed.ply", "compare.csv", "compare.json", "compare.txt"];
    let mut wanted: Vec<String> = views.into_iter().chain(rest.map(str::to_owned)).collect();
    wanted.sort();
    assert_eq!(names, wanted);
    for words in [
        &["compare", "a.obj", "missing.obj", "--units", "m"][..],
        &["compare", "a.obj", "empty.stl", "--units", "m"],
        &["compare", "a.obj", "b.obj"],
        &["compare", "a.obj"],
        &["compare", "a.obj", "b.obj", "--units", "m", "--out", "a.obj/page"],
    ] {
        let said = scratch.run(words);
        assert!(said.code == 2 && said.out.is_empty() && !said.err.is_empty(), "{words:?}: {said:?}");
    }
}

/// The wall a foot higher: in every file that marks the changed place it is the top and the uppermost foot of the walls.
#[test]
fn the_changed_place_is_marked_in_every_file() {
    let scratch = Scratch::new("compare-marked");
    scratch.write("b.stl", wall_block_b().to_binary_stl());
    scratch.write("c.stl", wall_block_c().to_binary_stl());
    let words = ["compare", "b.stl", "c.stl", "--units", "ft", "--floor", "bare", "--back", "bare", "--out", "x"];
    assert_eq!(scratch.run(&words).code, 0);
    let read = |name: &str| std::fs::read(scratch.0.join("x").join(name)).unwrap();
    let text = |name: &str| String::from_utf8(read(name)).unwrap();
    let obj = text("changed.obj");
    let points: Vec<[f64; 3]> = obj
        .lines()
        .filter_map(|line| line.strip_prefix("v "))
        .map(|line| line.split(' ').map(|x| x.parse::<f64>().unwrap() / 0.3048).collect::<Vec<_>>().try_into().unwrap())
        .collect();
    let (mut changed, mut lowest, mut highest_kept, mut marked) = (0.0, f64::INFINITY, 0.0_f64, false);
    for line in obj.lines() {
        if let Some(group) = line.strip_prefix("g ") {
            marked = group == "change_1";
        } else if let Some(face) = line.strip_prefix("f ") {
            let c: Vec<[f64; 3]> = face.split(' ').map(|k| points[k.parse::<usize>().unwrap() - 1]).collect();
            let [p, q, r] = [c[0], c[1], c[2]].map(nalgebra::Vector3::from);
            if marked {
                changed += (q - p).cross(&(r - p)).norm() / 2.0;
                lowest = c.iter().map(|p| p[2]).fold(lowest, f64::min);
            } else {
                highest_kept = c.iter().map(|p| p[2]).fold(highest_kept, f64::max);
            }
        }
    }
    // Less a strip of the tolerance's height, 1/96 ft by 30 ft; half of the finest piece along that edge is 0.1 %.
    assert!((changed - 65.687_5).abs() < 0.1, "{changed}");
    assert!((lowest - 8.0).abs() < 0.02 && (highest_kept - 8.0).abs() < 0.02, "{lowest} {highest_kept}");
    assert!(text("changed.mtl").contains("newmtl change_1") && text("changed.mtl").contains("newmtl unchanged"));
    assert!(read("changed.glb").starts_with(b"glTF") && read("changed.ply").starts_with(b"ply\n"));
    let faces = obj.lines().filter(|line| line.starts_with("f ")).count();
    let head = read("changed.ply");
    let head = String::from_utf8_lossy(&head[..400]).into_owned();
    assert!(head.contains(&format!("element face {faces}\n")) && head.contains("property int change\n"), "{head}");
    let glb = read("changed.glb");
    let json = String::from_utf8_lossy(&glb).into_owned();
    assert!(json.contains(r#""name":"change_1""#) && json.contains(r#""name":"unchanged""#));
    // The front elevation: one hatched place with its number, from 8 ft up.
    let front = text("changed_front.svg");
    assert!(front.contains("url(#outward)") && front.contains(">1</text>"), "{front}");
    // The floor seen from below has no sheet; from behind the same strip of the back is hatched.
    assert!(text("changed_back.svg").matches("url(#outward)").count() == 2, "the place and the legend");
    // Nothing changed: nothing hatched but the legend.
    assert_eq!(scratch.run(&["compare", "b.stl", "b.stl", "--units", "ft", "--out", "y"]).code, 0);
    let same = std::fs::read_to_string(scratch.0.join("y/changed_front.svg")).unwrap();
    assert_eq!(same.matches("url(#outward)").count(), 1);
}

#[test]
fn exit_codes_as_a_table() {
    let scratch = Scratch::new("compare-codes");
    scratch.write("b.stl", wall_block_b().scale(SMALL).to_binary_stl());
    scratch.write("c.stl", wall_block_c().scale(SMALL).to_binary_stl());
    scratch.write(
        "job.toml",
        "[job]\nname = \"wall\"\nmodel = \"b.stl\"\nunits = \"ft\"\n[limits]\nrules = [\"area change > 5 %\"]\n",
    );
    scratch.write("wrong.toml", "[job]\nmodle = \"b.stl\"\n");
    scratch.write("bad.stl", "");
    for (words, code) in [
        (&["b.stl", "c.stl", "--units", "ft"][..], 0),
        (&["b.stl", "b.stl", "--units", "ft", "--limit", "area change > 0 %"], 0),
        (&["b.stl", "c.stl", "--units", "ft", "--limit", "area change > 5 %"], 1),
        (&["b.stl", "c.stl", "--units", "ft", "--limit", "area change > 50 %"], 0),
        (&["b.stl", "c.stl", "--units", "ft", "--limit", "coated area > 1 sq ft"], 1),
        (&["job.toml", "c.stl"], 1),
        (&["job.toml", "b.stl"], 0),
        (&["c.stl", "job.toml"], 1),
        (&["b.stl", "c.stl"], 2),
        (&["b.stl", "bad.stl", "--units", "ft"], 2),
        (&["bad.stl", "b.stl", "--units", "ft"], 2),
        (&["b.stl", "missing.stl", "--units", "ft"], 2),
        (&["wrong.toml", "c.stl"], 2),
        (&["b.stl", "c.stl", "--units", "ft", "--book", "missing.toml"], 2),
        (&["b.stl", "c.stl", "--units", "ft", "--limit", "area chance > 5 %"], 2),
        (&["b.stl"], 2),
    ] {
        let said = scratch.run(&[&["compare"], words].concat());
        assert_eq!(said.code, code, "{words:?}: {}{}", said.out, said.err);
    }
}

#[test]
fn threads_change_no_byte() {
    let scratch = Scratch::new("compare-threads");
    let old: Shape = wall_with_boulders();
    scratch.write("a.obj", old.to_obj());
    scratch.write("b.obj", old.map(|p| if p[2] > 1.5 * SMALL { [p[0], p[1], p[2] * 1.1] } else { p }).to_obj());
    let on = |threads: &str| {
        let mut command = scratch.command(&["compare", "a.obj", "b.obj", "--units", "m", "--json", "--no-store"]);
        command.env("RAYON_NUM_THREADS", threads).output().unwrap().stdout
    };
    let one = on("1");
    assert!(one.len() > 1000 && one == on("4"));
}

/// A wall of 8 x 8 ft, 1 ft deep, with a box of 1.7 x 1.8 ft that stands 6 in out of its front.
fn wall_with_a_box() -> Shape {
    boxed_wall([8.0, 1.0, 8.0], [3.0, 4.7], [3.0, 4.8], 0.5)
}

/// A box of 1.7 x 1.8 ft, 6 in deep, set on a wall of 8 x 8 ft: 2 x 6 in x (1.7 + 1.8) ft = 3.5 sq ft more, all of it in the wall's zone at lath
/// scale, for its underside of 0.85 sq ft is smaller than a zone. Fixings stand one to 8 x 8 in: 3.5 x 144 / 64 = 7.9, so 8 more, and the
/// edges of the zone are what they were.
#[test]
fn a_box_on_a_wall_adds_no_undercut() {
    let scratch = Scratch::new("compare-bump");
    scratch.write("flat.obj", block(8.0, 1.0, 8.0).to_obj());
    scratch.write("bump.obj", wall_with_a_box().to_obj());
    let words = ["compare", "flat.obj", "bump.obj", "--units", "ft", "--json"];
    let json: Value = serde_json::from_str(&scratch.run(&[&words[..], &BLOCK].concat()).out).unwrap();
    let [flat, bump] = packages(&json, "lath fixings");
    assert_eq!(bump - flat, 8);
    let [flat, bump] = square_feet(&json, "area", "coated");
    assert!((bump - flat - 3.5).abs() < 1e-6, "{flat} {bump}");
    let zones: Vec<&str> = json["zones"].as_array().unwrap().iter().filter_map(|zone| zone["new"].as_str()).collect();
    assert_eq!(zones, ["T1", "W1"]);
}

/// A difference within what both figures are known to is no change: no star, no growth; a foot more is one.
#[test]
fn what_lies_within_the_bounds_is_no_change() {
    let scratch = Scratch::new("noise");
    let fine = wall_block_b().subdivide().subdivide().subdivide();
    scratch.write("b.stl", wall_block_b().to_binary_stl());
    scratch.write("fine.stl", fine.shuffle(3).to_binary_stl());
    // A nib of 0.1 x 0.1 ft stands out by 0.02 ft.
    scratch.write("nib.stl", boxed_wall([12.0, 3.0, 8.0], [6.0, 6.1], [4.0, 4.1], 0.02).to_binary_stl());
    scratch.write("c.stl", wall_block_c().to_binary_stl());
    scratch.write("flat.toml", flat_book());
    for face in ["core", "finished"] {
        let compared = |new: &str, more: &[&str]| {
            let words =
                ["compare", "b.stl", new, "--units", "ft", "--book", "flat.toml", "--face", face, "--floor", "bare"];
            let said = scratch.run(&[&words[..], &["--back", "bare", "--skin", "3/4 in"], more].concat());
            assert_eq!(said.code, 0, "{}", said.err);
            said.out
        };
        let out = compared("fine.stl", &[]);
        assert!(out.contains("no change") && !out.contains("\n  * "), "{out}");
        let out = compared("nib.stl", &[]);
        for unchanged in ["skin volume", "order mix", "weight skin, wet"] {
            assert!(!out.contains(&format!("\n  * {unchanged}  ")), "{unchanged}: {out}");
        }
        let report: Value = serde_json::from_str(&compared("nib.stl", &["--json"])).unwrap();
        // Otherwise this tests nothing.
        let wet = line(&report, "weight", "skin, wet");
        let [difference, known_to] = ["difference", "known_to"].map(|name| wet[name].as_f64().unwrap());
        assert!(difference != 0.0 && known_to > difference.abs(), "{wet}");
        let out = compared("c.stl", &[]);
        for changed in
            ["skin volume", "order mix", "weight skin, wet", "weight total, cured", "weight floor load, cured"]
        {
            assert!(out.contains(&format!("\n  * {changed}  ")), "{changed}: {out}");
        }
    }
}
