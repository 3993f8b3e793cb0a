//! Sessions with the program, as a fabricator would have them.

use crate::common::{Folder, WIDE, line, number};
use cragskin_fixtures::hostile::SCRIPT_NAME;
use cragskin_fixtures::solid::{block, frustum};
use cragskin_fixtures::{Shape, rocks_overlapping};
use serde_json::Value;
use std::process::Stdio;

const SQ_FT: f64 = 0.3048 * 0.3048;
const CU_FT: f64 = 0.3048 * 0.3048 * 0.3048;
const BOOK: &str = include_str!("../../fixtures/books/hand_check.toml");

/// A wall 12 ft wide, 8 high and 3 deep, back against a building, and a book with round figures.
fn wall() -> Folder {
    let book = plain_book() + WIDE;
    Folder::new().with("wall.obj", block(12.0, 3.0, 8.0).named("wall").to_obj()).with("book.toml", book)
}

/// The hand-check book with 3/4 in applied as it is.
fn plain_book() -> String {
    format!("{BOOK}\n[cover]\nmin = \"3/4 in\"\nspread = \"0 in\"\n\n[carve]\ndepth = \"0 in\"\n")
}

/// A file whose unit nobody knows: 165 x 94 x 43 of something.
fn lobby() -> Folder {
    Folder::new().with("lobby.stl", block(165.0, 94.0, 43.0).to_binary_stl())
}

fn near(got: f64, want: f64, by: f64) {
    assert!((got - want).abs() <= by, "{got} is not {want} to {by}");
}

const SCOPED: [&str; 9] = ["takeoff", "wall.obj", "--units", "ft", "--face", "core", "--book", "book.toml", "--json"];

#[test]
fn a_file_without_a_unit_is_shown_and_not_counted() {
    let lobby = lobby();
    // 165 x 94 x 43 read in each unit, by hand.
    let page = lobby.run(&["look", "lobby.stl"]).exits(0).says("--units").says("--control").says("13.75 ft");
    for words in ["0.54 ft", "5.41 ft", "7.83 ft", "3.58 ft", "165.00 ft", "541.34 ft"] {
        assert!(page.out.contains(words), "{words}:\n{}", page.out);
    }
    page.never_says("sq ft").never_says("cu ft").says("no quantity before the unit is known");
    let json = lobby.json(&["look", "lobby.stl", "--json"]);
    assert!(json["area_m2"].is_null() && json["volume_m3"].is_null() && json["units"].is_null());
    for (row, unit, feet) in [
        (0, "mm", [0.54, 0.31, 0.14]),
        (1, "cm", [5.41, 3.08, 1.41]),
        (2, "in", [13.75, 7.83, 3.58]),
        (3, "ft", [165.0, 94.0, 43.0]),
        (4, "m", [541.34, 308.40, 141.08]),
    ] {
        assert_eq!(json["unit_table"][row]["unit"], unit);
        for (axis, want) in feet.iter().enumerate() {
            near(number(&json, &format!("unit_table.{row}.size_m.{axis}")) / 0.3048, *want, 0.006);
        }
    }
    let refused = lobby.run(&["takeoff", "lobby.stl"]).exits(2).says("13.75 ft").says("--units").never_says("sq ft");
    assert_eq!(refused.out, "", "a refusal prints no report");
}

#[test]
fn a_control_length_finds_the_unit_or_doubts_it() {
    let lobby = lobby();
    let found = lobby.run(&["look", "lobby.stl", "--control", "x=13 ft 9 in"]).exits(0);
    found.says("13 ft 9 in x 7 ft 10 in x 3 ft 7 in").says("unit taken from the control length");
    assert_eq!(lobby.json(&["look", "lobby.stl", "--json", "--control", "x=13 ft 9 in"])["units"], "in");
    // 5.41 / 13.75
    let doubt = ["look", "lobby.stl", "--units", "cm", "--control", "x=13 ft 9 in"];
    lobby.run(&doubt).exits(0).says("WARNING").says("39 % of the control length");
    lobby.run(&["takeoff", "lobby.stl", "--control", "x=20 ft"]).exits(2).says("fits no unit").never_says("sq ft");
}

// 12 x 8 x 3 ft, back and floor bare, 3/4 in: 96 + 48 + 36 = 180 sq ft; 180/16 + 34 ft of quarter rounds = 11.355 cu ft, by Steiner's
// formula at the edges between coated faces; 11.355 x 1.1 / 0.6 = 20.8; 144 x 1.15 / 17.48 = 9.47; 180 / 200 / 2 = 0.45 gal.
#[test]
fn the_plain_box_by_hand() {
    let wall = wall();
    let flags = [&SCOPED[..], &["--floor", "bare", "--back", "bare"]].concat();
    let json = wall.json(&flags);
    near(number(&json, "coated_area_m2") / SQ_FT, 180.0, 1e-6);
    near(number(&json, "bare_area_m2") / SQ_FT, 132.0, 1e-6);
    near(number(&json, "as_modelled_area_m2") / SQ_FT, 312.0, 1e-6);
    near(number(&json, "area_by_class_m2.wall") / SQ_FT, 144.0, 1e-6);
    near(number(&json, "area_by_class_m2.top") / SQ_FT, 36.0, 1e-6);
    near(number(&json, "projected_area_m2") / SQ_FT, 96.0, 1e-9);
    near(number(&json, "skin_mm"), 19.05, 1e-9);
    near(number(&json, "area_times_skin_m3") / CU_FT, 11.25, 1e-6);
    // Square-cut to rounded corners.
    near(number(&json, "skin_volume_m3") / CU_FT, 11.35, 0.10);
    near(number(&json, "core_volume_m3") / CU_FT, 288.0, 1e-6);
    assert_eq!(line(&json, "order", "mix")["packages"], 21);
    assert_eq!(line(&json, "order", "lath")["packages"], 10);
    near(line(&json, "order", "primer concentrate")["exact"].as_f64().unwrap(), 0.45, 1e-6);
    let pounds = |item| line(&json, "weights", item)["exact"].as_f64().unwrap();
    near(pounds("skin, cured"), 1022.0, 9.0);
    near(pounds("foam core"), 288.0, 0.01);
    near(pounds("lath as hung"), 54.4, 0.1);
    for row in json["order"].as_array().unwrap().iter().chain(json["weights"].as_array().unwrap()) {
        assert_eq!(row["quality"], "good", "{row}");
    }
    let words: Vec<&str> = flags.iter().copied().filter(|word| *word != "--json").collect();
    wall.run(&[&words[..], &["--full"]].concat())
        .exits(0)
        .says("180.0 sq ft")
        .says("21 bags")
        .says("10 sheets")
        .says("CORE FACE")
        .says("CAUTIONS")
        .never_says("-0.0");
}

// The whole box under 3 in, by Steiner's formula: 312/4 + pi (12 + 8 + 3)/4^2 + 4/3 pi/4^3 cu ft.
#[test]
fn a_fine_takeoff_knows_the_skin_ten_times_better() {
    let wall = wall();
    let usual_flags = [&SCOPED[..], &["--skin", "3 in"]].concat();
    let fine_flags = [&usual_flags[..], &["--fine"]].concat();
    let (usual, fine) = (wall.json(&usual_flags), wall.json(&fine_flags));
    let want = 312.0 / 4.0 + std::f64::consts::PI * (23.0 / 16.0 + 4.0 / 3.0 / 64.0);
    let bound = |json| number(json, "skin_volume_bound_m3") / CU_FT / want;
    near(number(&usual, "skin_volume_m3") / CU_FT, want, 5e-3 * want);
    near(number(&fine, "skin_volume_m3") / CU_FT, want, 5e-4 * want);
    assert!(
        bound(&fine) <= 5e-4 && bound(&usual) > 5e-4 && bound(&usual) <= 5e-3,
        "{} {}",
        bound(&fine),
        bound(&usual)
    );
}

// The same with nothing said of back and floor: 2 (96 + 36 + 24) = 312 sq ft, and 96 and 36 proposed as bare.
#[test]
fn a_missed_scope_is_asked_for_and_never_settled_silently() {
    let wall = wall();
    let json = wall.json(&SCOPED);
    near(number(&json, "coated_area_m2") / SQ_FT, 312.0, 1e-6);
    near(number(&json, "coated_area_if_open_sides_bare_m2") / SQ_FT, 180.0, 1e-6);
    assert_eq!(json["quality"]["area"], "upper bound");
    assert_eq!(json["quality"]["skin_volume"], "upper bound");
    let sides = json["open_sides"].as_array().unwrap();
    let side = |k: usize| (sides[k]["side"].as_str().unwrap(), (sides[k]["area_m2"].as_f64().unwrap() / SQ_FT).round());
    assert_eq!((sides.len(), side(0), side(1)), (2, ("floor", 36.0), ("back", 96.0)));
    assert_ne!(line(&json, "order", "mix")["quality"], "good", "bags from an open scope are marked");
    let page = &SCOPED[..8];
    wall.run(page).exits(0).says("312.0 sq ft").says("180.0 sq ft").says("upper bound").says("coated or bare?");
    let yes = [page, &["--floor", "bare", "--back", "bare"]].concat();
    wall.run(&yes).exits(0).says("180.0 sq ft").says("312.0 sq ft").never_says("coated or bare?");
    // All said to be coated: the figure stands, and it is no bound any more.
    let no = [&SCOPED[..], &["--floor", "coated", "--back", "coated"]].concat();
    assert_eq!(wall.json(&no)["quality"]["area"], "good");
}

// A cone frustum 3 to 2 ft round, 10 ft high, 1 in of skin: 78.6 sq ft, 6.77 cu ft. Its column is not drawn here, so the foam is
// 49.7 cu ft; on 7.07 sq ft: cured (609 + 49.7 + 30) / 7.07 = 97, wet (677 + 49.7 + 30) / 7.07 = 107 lb a sq ft.
#[test]
fn a_slim_trunk_asks_for_the_engineer_and_a_wide_wall_does_not() {
    let trunk = Folder::new()
        .with("trunk.obj", frustum(48, 1.5, 1.0, 10.0).named("trunk").to_obj())
        .with("book.toml", plain_book())
        .with(
            "trunk.toml",
            "[job]\nmodel = \"trunk.obj\"\nunits = \"ft\"\nbook = \"book.toml\"\n[model]\nface = \"core\"\nskin = \"1 in\"\n\
             [scope]\nfloor = \"bare\"\n[[scope.plane]]\nfacing = \"+z\"\nat = \"10 ft\"\nis = \"bare\"\n",
        );
    let json = trunk.json(&["takeoff", "trunk.toml", "--json"]);
    near(number(&json, "coated_area_m2") / SQ_FT, 78.6, 0.4);
    near(number(&json, "skin_volume_m3") / CU_FT, 6.75, 0.15);
    assert_eq!(line(&json, "order", "mix")["packages"], 13);
    assert_eq!(line(&json, "order", "lath")["packages"], 6);
    let psf = |json: &Value, item| line(json, "weights", item)["exact"].as_f64().unwrap();
    near(psf(&json, "floor load, cured"), 97.0, 2.0);
    near(psf(&json, "floor load, wet on the day"), 107.0, 2.0);
    trunk.run(&["takeoff", "trunk.toml"]).exits(0).says("ask the engineer").never_says("safe").never_says("complies");
    // (1022 + 288 + 54) / 36 without water.
    let wall = wall().json(&[&SCOPED[..], &["--floor", "bare", "--back", "bare"]].concat());
    near(psf(&wall, "floor load, cured"), 37.9, 0.5);
    let sum = line(&wall, "weights", "floor load, cured")["sum"].as_str().unwrap();
    assert!(sum.contains("not above it") && !sum.contains("engineer"), "{sum}");
}

// 28 x 10 ft wall and 28 x 4 ft ledge = 392 sq ft. At 3/4 in 45 bags, at 1-1/4 in 75; 3/4 + 1.645 x 3/16 + 1/2 = 1.558 in makes 94. Flat
// sheets, so that corners add nothing.
#[test]
fn least_cover_is_not_mean_cover() {
    let ledge = Shape::new(
        "ledge",
        [[0.0, 0.0], [0.0, 10.0], [4.0, 10.0]].iter().flat_map(|[y, z]| [[0.0, *y, *z], [28.0, *y, *z]]).collect(),
        vec![[0, 1, 3], [0, 3, 2], [2, 3, 5], [2, 5, 4]],
    );
    let book = format!("{BOOK}\n[cover]\nmin = \"3/4 in\"\nspread = \"3/16 in\"\n\n[carve]\ndepth = \"1/2 in\"\n");
    let room = Folder::new().with("room.obj", ledge.to_obj()).with("book.toml", book);
    let base = ["takeoff", "room.obj", "--units", "ft", "--face", "core", "--book", "book.toml", "--json"];
    let run = |skin: &[&str]| room.json(&[&base[..], skin].concat());
    let bags = |json: &Value| {
        let volume = number(json, "area_times_skin_m3") / CU_FT;
        (volume * 1.1 / 0.6).ceil() as u64
    };
    let (thin, flat, full) = (run(&["--skin", "3/4 in"]), run(&["--skin", "1-1/4 in"]), run(&[]));
    near(number(&full, "coated_area_m2") / SQ_FT, 392.0, 1e-6);
    near(number(&full, "skin_mm") / 25.4, 1.558, 0.001);
    assert_eq!([&thin, &flat, &full].map(bags), [45, 75, 94]);
    near(number(&flat, "cover_at_low_pins_mm") / 25.4, 0.44, 0.005);
    near(number(&full, "cover_at_low_pins_mm") / 25.4, 0.75, 0.005);
    room.run(&[&base[..8], &["--full"]].concat()).exits(0).says("0.75 in + 1.645 x 0.1875 in + 0.5 in = 1.558 in");
    // An open sheet has an area and a skin, but no inside and so no core.
    assert!(full["core_volume_m3"].is_null());
    assert_eq!(full["quality"]["core_volume"], "not defined");
}

#[test]
fn settings_point_at_the_line_and_the_nearest_key() {
    let bad = wall()
        .with("odd.toml", "[mix]\nbag_mas = \"50 lb\"\n")
        .with("minus.toml", "[mix]\nbag_mass = \"50 lb\"\nwater = \"-10 lb\"\n")
        .with("unit.toml", "[cover]\nmin = \"3/4 lb\"\n")
        .with("job.toml", "[job]\nmodel = \"wall.obj\"\nunits = \"ft\"\nupp = \"+z\"\n[scope]\nflor = \"bare\"\n")
        .with("broken.toml", "[job\nmodel = 3\n");
    let book = |file| ["takeoff", "wall.obj", "--units", "ft", "--book", file];
    bad.run(&book("odd.toml"))
        .exits(2)
        .says("odd.toml:2:1")
        .says("did you mean `mix.bag_mass`?")
        .never_says("sq ft of");
    bad.run(&book("minus.toml")).exits(2).says("minus.toml:3:9").says("-10 lb");
    bad.run(&book("unit.toml")).exits(2).says("unit.toml:2:7").says("3/4 lb");
    // All faults of a file at once.
    bad.run(&["takeoff", "job.toml"])
        .exits(2)
        .says("job.toml:4:1")
        .says("job.up")
        .says("job.toml:6:1")
        .says("scope.floor");
    bad.run(&["takeoff", "broken.toml"]).exits(2).says("broken.toml:1");
    bad.run(&book("nowhere.toml")).exits(2).says("nowhere.toml cannot be read");
}

/// The codes as the README tells them.
const EXIT_CODES: [(i32, &str); 3] = [(0, "done"), (1, "done"), (2, "could not do it")];

#[test]
fn exit_codes_are_a_table() {
    let at = wall().with("junk.stl", "this is a letter");
    let base = ["takeoff", "wall.obj", "--units", "ft", "--book", "book.toml", "--floor", "bare", "--back", "bare"];
    let limit = |rule| [&base[..], &["--limit", rule]].concat();
    let cases: Vec<(i32, Vec<&str>)> = vec![
        (0, vec!["--help"]),
        (0, vec!["--version"]),
        (0, vec!["look", "wall.obj"]),
        (0, vec!["look", "wall.obj", "--units", "ft"]),
        (0, vec!["book"]),
        (0, vec!["job", "wall.obj"]),
        (0, base.to_vec()),
        (0, limit("wall area > 145 sq ft")),
        (1, limit("wall area > 143 sq ft")),
        (1, limit("bags > 3")),
        (2, vec!["takeoff", "wall.obj"]),
        (2, vec!["look", "missing.stl"]),
        (2, vec!["look", "junk.stl"]),
        (2, vec!["look"]),
        (2, vec!["look", "wall.obj", "--units", "furlong"]),
        (2, vec!["takeoff", "wall.obj", "--units", "ft", "--skin", "-3/4 in"]),
        (2, vec!["takeoff", "wall.obj", "--units", "ft", "--up", "z", "--front", "-z"]),
        (2, vec!["takeoff", "wall.obj", "--units", "ft", "--limit", "wall colour > 3"]),
        (2, vec!["carve", "wall.obj"]),
    ];
    for (code, words) in &cases {
        let said = at.run(words).exits(*code);
        assert_eq!(
            *code == 2,
            !said.err.is_empty(),
            "errors and nothing else go to standard error: {words:?}\n{}",
            said.err
        );
    }
    for (code, _) in EXIT_CODES {
        assert!(cases.iter().filter(|case| case.0 == code).count() >= 2);
    }
    at.run(&limit("bags > 3")).exits(1).says("OVER");
    for rule in ["weight > 5 lb", "foam > 3"] {
        at.run(&limit(rule)).exits(2).says("cannot be watched; these can:").says("wet mass").never_says("did you mean");
    }
    at.run(&limit("wal area > 3 sq ft")).exits(2).says("did you mean `wall area`?");
    at.run(&limit("bags >")).exits(2).says("`bags >` has no value after the sign; write for example `bags > 20`");
    at.run(&limit("> 5 lb")).exits(2).says("names nothing to watch");
    at.run(&[&base[..], &["--skin", "-1in"]].concat()).exits(2).says("a skin is more than nothing");
    at.run(&["takeoff", "wall.obj", "--units", "ft", "--book", "wall.obj"])
        .exits(2)
        .says("wall.obj is a model, and a book or a job is wanted");
    // The README and the help carry the same table.
    let readme = include_str!("../../README.md");
    let table = readme.split("## Exit codes").nth(1).expect("the README has a section on exit codes");
    let help = at.run(&["--help"]).exits(0).out;
    for (code, meaning) in EXIT_CODES {
        let row =
            table.lines().find(|row| row.contains(&format!("| {code} |")) || row.contains(&format!("| `{code}` |")));
        assert!(row.is_some_and(|row| row.contains(meaning)), "{code}: {row:?}");
        assert!(help.contains(&format!("{code} {meaning}")), "{code} in {help}");
    }
}

#[test]
fn a_starter_job_runs_as_it_is() {
    let wall = wall();
    let job = wall.run(&["job", "wall.obj", "--units", "ft"]).exits(0).out;
    let book = wall.run(&["book"]).exits(0).out;
    let wall = wall.with("job.toml", &job).with("book.toml", book);
    wall.run(&["takeoff", "job.toml"]).exits(0).says("312.0 sq ft").says("coated or bare?");
    let settled = job.replace("floor = \"ask\"", "floor = \"bare\"").replace("back = \"ask\"", "back = \"bare\"");
    let wall = wall.with("job.toml", settled);
    // A flag wins over the file.
    wall.run(&["takeoff", "job.toml"]).exits(0).says("180.0 sq ft");
    wall.run(&["takeoff", "job.toml", "--back", "coated"]).exits(0).says("276.0 sq ft");
}

#[test]
fn a_folder_gets_all_files_or_none() {
    let wall = wall();
    let flags = |folder| ["takeoff", "wall.obj", "--units", "ft", "--book", "book.toml", "--out", folder];
    wall.run(&flags("out")).exits(0);
    let names = wall.names("out");
    for name in ["takeoff.txt", "takeoff.json", "takeoff.csv"] {
        assert!(names.contains(&name.to_owned()), "{names:?}");
        assert!(!wall.read(&format!("out/{name}")).is_empty());
    }
    assert!(!names.iter().any(|name| name.contains("part")), "{names:?}");
    // A second run replaces them whole.
    let first = wall.read("out/takeoff.json");
    wall.run(&flags("out")).exits(0);
    assert_eq!((wall.names("out"), wall.read("out/takeoff.json")), (names, first));
    // One of the places is taken by a folder: none of the files may change.
    std::fs::create_dir_all(wall.path().join("half/takeoff.csv/x")).unwrap();
    wall.run(&flags("half")).exits(2).says("cannot be written");
    assert_eq!(wall.names("half"), ["takeoff.csv"], "no file of a set that is not whole");
    // A file where the folder should be.
    let wall = wall.with("plain", "text");
    wall.run(&flags("plain")).exits(2).says("cannot be written");
    assert_eq!(wall.read("plain"), "text");
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let wall = wall();
    let mut child = wall.command(&["book"]).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let done = child.wait_with_output().unwrap();
    assert_eq!((done.status.code(), String::from_utf8_lossy(&done.stderr).as_ref()), (Some(0), ""));
}

/// Two rocks that overlap, so that every stage of the pipeline has work; small, for a skin of 3 in.
fn rocks() -> Shape {
    rocks_overlapping(4, 2, 2000).scale(0.25)
}

#[test]
fn threads_and_order_of_triangles_leave_every_byte() {
    let shape = rocks();
    // The parts must keep their order of appearance: triangles are shuffled within each.
    let shuffled = {
        let mut one = shape.clone().shuffle(7);
        let mut order: Vec<usize> = (0..one.triangles.len()).collect();
        order.sort_by_key(|&i| one.part_of[i]);
        one.triangles = order.iter().map(|&i| one.triangles[i]).collect();
        one.part_of.sort_unstable();
        one
    };
    let folder = Folder::new().with("rocks.obj", shape.to_obj());
    std::fs::create_dir(folder.path().join("b")).unwrap();
    let folder = folder.with("b/rocks.obj", shuffled.to_obj());
    let run = |file: &str, threads: &str, kind: Option<&str>| {
        let words = ["takeoff", file, "--units", "m", "--floor", "bare", "--back", "coated", "--skin", "3 in"];
        let words: Vec<&str> = words.into_iter().chain(kind).collect();
        let done = folder.command(&words).env("RAYON_NUM_THREADS", threads).output().unwrap();
        assert_eq!(done.status.code(), Some(0), "{}", String::from_utf8_lossy(&done.stderr));
        String::from_utf8(done.stdout).unwrap()
    };
    for kind in [None, Some("--json"), Some("--csv")] {
        let one = run("rocks.obj", "1", kind);
        assert!(one == run("rocks.obj", "2", kind), "{kind:?} depends on the number of threads");
        assert!(one == run("b/rocks.obj", "2", kind), "{kind:?} depends on the order of triangles");
    }
}

#[test]
fn names_in_a_file_are_text_and_nothing_else() {
    let name = format!("{SCRIPT_NAME} \u{1b}[2Jbell\u{7}");
    let shape = block(1.0, 1.0, 1.0).named(&name);
    let evil = Folder::new().with("evil.obj", shape.to_obj()).with("=cmd.stl", {
        let text = String::from_utf8(block(1.0, 1.0, 1.0).named("=2+3").to_ascii_stl()).unwrap();
        text.into_bytes()
    });
    for words in [&["look", "evil.obj", "--units", "ft"][..], &["takeoff", "evil.obj", "--units", "ft"]] {
        let page = evil.run(words).exits(0);
        assert!(!page.out.contains(['\u{1b}', '\u{7}']), "control characters reach the terminal: {:?}", page.out);
    }
    evil.run(&["look", "evil.obj"]).exits(0).says("<img src=x onerror=alert(1)>");
    let json = evil.json(&["takeoff", "evil.obj", "--units", "ft", "--json"]);
    assert!(json["parts"][0]["name"].as_str().unwrap().starts_with(SCRIPT_NAME));
    // A spreadsheet must not take a name for a formula.
    let table = evil.run(&["takeoff", "=cmd.stl", "--units", "ft", "--csv"]).exits(0).out;
    let mut rows = csv::Reader::from_reader(table.as_bytes());
    for record in rows.records() {
        for field in &record.unwrap() {
            assert!(field.parse::<f64>().is_ok() || !field.starts_with(['=', '+', '-', '@']), "{field}");
        }
    }
}

/// Fields of the contract and their types.
#[test]
fn json_keeps_its_contract() {
    let wall = wall();
    let is = |value: &Value, kind: &str| match kind {
        "number" => value.is_number(),
        "count" => value.is_u64(),
        "integer" => value.is_i64() || value.is_u64(),
        "text" => value.is_string(),
        "flag" => value.is_boolean(),
        "list" => value.is_array(),
        _ => value.is_object(),
    };
    let check = |json: &Value, fields: &[(&str, &str)]| {
        for (names, kind) in fields {
            for name in names.split(' ') {
                let at = name.split('.').fold(json, |at, key| &at[key]);
                assert!(is(at, kind), "{name} is {at}, not a {kind}");
            }
        }
    };
    let look = wall.json(&["look", "wall.obj", "--units", "ft", "--json"]);
    check(
        &look,
        &[
            ("file units up", "text"),
            ("schema triangles vertices bodies open_edges non_manifold_edges", "count"),
            ("euler", "integer"),
            ("closed", "flag"),
            ("size_in_file_units unit_table parts findings", "list"),
            ("open_edge_length_m area_m2 volume_m3", "number"),
            ("quality", "object"),
            ("quality.area quality.lean quality.skin_volume quality.core_volume", "text"),
        ],
    );
    assert_eq!(
        (&look["schema"], &look["triangles"], &look["vertices"], &look["euler"]),
        (&1.into(), &12.into(), &8.into(), &2.into())
    );
    let open = block(1.0, 1.0, 1.0).delete(|i, _| i == 0);
    let wall = wall.with("open.obj", open.to_obj());
    let found = wall.json(&["look", "open.obj", "--units", "ft", "--json"]);
    check(&found["findings"][0], &[("code text", "text"), ("count", "count")]);
    assert_eq!((&found["open_edges"], &found["closed"]), (&3.into(), &false.into()));
    let takeoff = wall.json(&SCOPED);
    check(
        &takeoff,
        &[
            ("schema", "count"),
            ("as_modelled_area_m2 coated_area_m2 bare_area_m2 skin_mm skin_volume_m3 skin_volume_bound_m3", "number"),
            ("area_times_skin_m3 core_volume_m3", "number"),
            ("area_by_class_m2.top area_by_class_m2.slope area_by_class_m2.wall", "number"),
            ("area_by_class_m2.undercut area_by_class_m2.soffit", "number"),
            ("order findings", "list"),
            ("quality", "object"),
        ],
    );
    for row in takeoff["order"].as_array().unwrap() {
        check(row, &[("item unit sum", "text"), ("exact", "number")]);
        assert!(row["packages"].is_null() || row["packages"].is_u64());
    }
}

#[test]
fn the_table_carries_every_line_of_the_order() {
    let wall = wall();
    let json = wall.json(&SCOPED);
    let words: Vec<&str> = SCOPED.iter().map(|word| if *word == "--json" { "--csv" } else { *word }).collect();
    let table = wall.run(&words).exits(0).out;
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    let head = reader.headers().unwrap().clone();
    assert_eq!(&head, &vec!["section", "name", "value", "unit", "packages", "sum", "quality"]);
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.unwrap()).collect();
    let mut ran = 0;
    for (section, list) in [("order", "order"), ("weight", "weights")] {
        for want in json[list].as_array().unwrap() {
            let item = want["item"].as_str().unwrap();
            let row = rows.iter().find(|row| &row[0] == section && &row[1] == item).unwrap_or_else(|| panic!("{item}"));
            // The table has 15 significant figures, which is half a unit of the 15th at most.
            let (value, exact) = (row[2].parse::<f64>().unwrap(), want["exact"].as_f64().unwrap());
            near(value, exact, 5e-15 * exact);
            assert_eq!(row[4].parse::<u64>().ok(), want["packages"].as_u64(), "{item}");
            assert_eq!(row[5], *want["sum"].as_str().unwrap());
            ran += 1;
        }
    }
    assert!(ran >= 12, "{ran}");
}
