//! Files that a run reads and writes: none replaces another, what is no file is refused, and names cannot act on the terminal.

use crate::common::Folder;
use cragskin_fixtures::solid::block;
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

const JOB: &str = "[job]\nmodel = \"block.obj\"\nbook = \"book.toml\"\nunits = \"ft\"\n[model]\nface = \"core\"\n\
    [scope]\nfloor = \"bare\"\nback = \"bare\"\n";
const BOOK: &str = include_str!("../../fixtures/books/hand_check.toml");

/// A job, its model and book, links to the job, and models under the names that commands write.
fn shop() -> Folder {
    let model = block(2.0, 1.0, 1.0).named("block").to_obj();
    let mut at = Folder::new().with("j.toml", JOB).with("book.toml", BOOK).with("takeoff.txt", BOOK);
    for name in ["block.obj", "old.obj", "zones.obj", "core.obj", "changed.obj", "front.svg"] {
        at = at.with(name, &model);
    }
    at.with("batch.txt", "[limits]\nrules = [\"coated area > 900 sq ft\"]\n")
}

fn contents(at: &Folder) -> BTreeMap<String, String> {
    at.names(".").into_iter().map(|name| (name.clone(), at.read(&name))).collect()
}

#[test]
fn no_output_replaces_a_file_that_is_read() {
    let at = shop();
    std::fs::hard_link(at.path().join("j.toml"), at.path().join("hard.toml")).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink("j.toml", at.path().join("soft.html")).unwrap();
    #[cfg(not(unix))]
    std::fs::hard_link(at.path().join("j.toml"), at.path().join("soft.html")).unwrap();
    let before = contents(&at);
    for words in [
        &["report", "j.toml", "--out", "j.toml"][..],
        &["report", "j.toml", "--out", "./new/../j.toml"],
        &["report", "./j.toml", "--pdf", "block.obj"],
        &["report", "j.toml", "--csv", "book.toml"],
        &["report", "j.toml", "--xlsx", "hard.toml"],
        &["report", "j.toml", "--out", "soft.html"],
        &["report", "j.toml", "--against", "old.obj", "--out", "old.obj"],
        &["takeoff", "block.obj", "--units", "ft", "--picture", "block.obj"],
        &["takeoff", "block.obj", "--units", "ft", "--book", "takeoff.txt", "--out", "."],
        &["flag", "zones.obj", "--units", "ft", "--out", "."],
        &["core", "core.obj", "--units", "ft", "--out", "."],
        &["sheets", "front.svg", "--units", "ft", "--out", "."],
        &["compare", "changed.obj", "block.obj", "--units", "ft", "--out", "."],
        &["compare", "j.toml", "changed.obj", "--units", "ft", "--out", "."],
        &["batch", "block.obj", "--units", "ft", "--limits", "batch.txt", "--out", "."],
    ] {
        at.run(words).exits(2).says("is read by this run").says("nothing was written");
        assert_eq!(contents(&at), before, "{words:?}");
    }
    // A place of its own is written as ever.
    at.run(&["report", "j.toml", "--out", "j.html"]).exits(0);
    assert!(at.read("j.html").starts_with("<!"));
}

/// The model cannot be read, and yet the place to write is what is told: nothing was begun.
#[test]
fn a_bad_place_is_told_before_the_model_is_read() {
    let at = Folder::new().with("broken.obj", "v 0 0 zero\nf 1 1 1\n").with("file", "");
    let words = |out| ["report", "broken.obj", "--units", "ft", "--out", out];
    at.run(&words("broken.obj")).exits(2).says("is read by this run");
    at.run(&words("file/page.html")).exits(2).says("cannot be written: file is no folder");
    at.run(&words(".")).exits(2).says("cannot be written: it is a folder");
}

#[test]
fn two_outputs_of_a_run_have_two_places() {
    let at = shop();
    let before = contents(&at);
    for words in [
        &["--csv", "x", "--xlsx", "x"][..],
        &["--csv", "x", "--xlsx", "./x"],
        &["--out", "x", "--pdf", "new/../x"],
        &["--out", "x", "--pictures", "x"],
    ] {
        at.run(&[&["report", "j.toml"][..], words].concat()).exits(2).says("would be written twice");
        assert_eq!(contents(&at), before, "{words:?}");
    }
    let words = ["takeoff", "j.toml", "--picture", "new/takeoff.csv", "--out", "new"];
    at.run(&words).exits(2).says("would be written twice");
    assert_eq!(contents(&at), before);
}

/// A pipe with no writer and a device without an end are refused at once, not waited for.
#[cfg(unix)]
#[test]
fn what_is_no_file_is_refused_at_once() {
    let at = shop();
    let pipe = at.path().join("pipe.obj");
    assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    for (words, why) in [
        (&["takeoff", "pipe.obj", "--units", "ft"][..], "a device or a pipe"),
        (&["look", "pipe.obj"], "a device or a pipe"),
        (&["look", "/dev/zero"], "a device or a pipe"),
        (&["takeoff", "block.obj", "--units", "ft", "--book", "pipe.obj"], "a device or a pipe"),
        (&["compare", "block.obj", "pipe.obj", "--units", "ft"], "a device or a pipe"),
        (&["batch", "pipe.obj", "--units", "ft"], "a device or a pipe"),
        (&["look", "."], "it is a folder"),
    ] {
        let said = at.path().join("said");
        let told = std::fs::File::create(&said).unwrap();
        let mut child = at.command(words).stdout(told.try_clone().unwrap()).stderr(told).spawn().unwrap();
        let start = Instant::now();
        let code = loop {
            match child.try_wait().unwrap() {
                Some(status) => break status.code(),
                None if start.elapsed() > Duration::from_secs(30) => {
                    child.kill().unwrap();
                    child.wait().unwrap();
                    break None;
                }
                None => std::thread::sleep(Duration::from_millis(20)),
            }
        };
        assert_eq!(code, Some(2), "{words:?}");
        assert!(at.read("said").contains(why), "{words:?}: {}", at.read("said"));
    }
}

/// Names of parts, files, jobs and rules with a terminal's own characters in them: none reaches the terminal as it is.
#[test]
fn names_do_not_act_on_the_terminal() {
    let evil = "a\u{1b}[31mb\u{7}\u{202e}c";
    let file = format!("m{evil}.obj");
    let other = block(1.0, 1.0, 1.0).named("other").translate([4.0, 0.0, 0.0]);
    let shape = block(2.0, 1.0, 1.0).named(evil).append(&other);
    let quoted = "a\\u001B[31mb\\u0007\\u202Ec";
    let job = format!(
        "[job]\nname = \"{quoted}\"\nmodel = \"m{quoted}.obj\"\nunits = \"ft\"\n[model]\nface = \"core\"\n\
        [[scope.part]]\nname = \"{quoted}\"\nis = \"bare\"\n"
    );
    let at = Folder::new().with(&file, shape.to_obj()).with("j.toml", &job).with(
        "wrong.toml",
        job.replace(&format!("name = \"{quoted}\"\nis"), &format!("name = \"{quoted}x\"\nis"))
            + "what = \"\u{202e}\"\n",
    );
    let missing = format!("{evil}.obj");
    for words in [
        &["look", &file][..],
        &["look", &missing],
        &["job", &file],
        &["takeoff", &file],
        &["takeoff", "j.toml"],
        &["takeoff", "wrong.toml"],
        &["takeoff", "j.toml", "--leave-out", evil, "--leave-out", "other"],
        &["takeoff", "j.toml", "--bare-part", &format!("{evil}x")],
        &["takeoff", "j.toml", "--csv"],
        &["flag", "j.toml"],
        &["core", "j.toml"],
        &["compare", "j.toml", &file],
        &["batch", &file, "j.toml", "--units", "ft", "--no-store"],
        &["batch", &file, &missing, "--units", "ft", "--no-store", "--csv"],
        &["sheets", "j.toml", "--out", evil],
        &["report", &file, "--units", "ft", "--out", &file],
    ] {
        let said = at.run(words);
        let all = said.out.clone() + &said.err;
        let bad = |c: char| (c.is_control() && c != '\n') || c == '\u{202e}';
        assert!(!all.contains(bad), "{words:?}: {}", all.escape_debug());
        assert!(!all.contains("panicked"), "{all}");
    }
    at.run(&["look", &file]).exits(0).says("a\\u{1b}[31mb\\u{7}\\u{202e}c");
}

/// Bare meshes with a unit are rows; without one the cause is told once, with the count.
#[test]
fn one_cause_of_many_files_is_told_once() {
    let mut at = Folder::new().with("broken.obj", "v 0 0 zero\nf 1 1 1\n");
    std::fs::create_dir(at.path().join("m")).unwrap();
    for k in 0..7 {
        at = at.with(&format!("m/{k}.obj"), block(1.0 + f64::from(k), 1.0, 1.0).to_obj());
    }
    at.run(&["batch", "m", "--units", "ft", "--no-store"]).exits(0).says("7 models: no limit set, 0 failed");
    let said = at.run(&["batch", "m", "broken.obj", "--no-store"]).exits(2);
    let said =
        said.says("7 files: the unit is not known, so nothing is counted").says("m/0.obj, m/1.obj").says("and 2 more");
    assert_eq!(said.out.matches("the unit is not known").count(), 1, "{}", said.out);
    assert_eq!(said.out.matches("broken.obj: ").count(), 1, "{}", said.out);
    assert!(said.out.lines().all(|line| line.chars().count() <= 160), "{}", said.out);
    // A file by itself still shows its sizes.
    at.run(&["takeoff", "m/0.obj"]).exits(2).says("if drawn in");
}

#[test]
fn a_book_key_without_effect_says_so() {
    let set = format!("{BOOK}\n[foam]\nkerf = \"1/8 in\"\n");
    let set = if BOOK.contains("[foam]") { BOOK.replace("[foam]", "[foam]\nkerf = \"1/8 in\"") } else { set };
    let at = shop().with("set.toml", set);
    let words = |book| ["takeoff", "block.obj", "--units", "ft", "--book", book];
    at.run(&words("set.toml")).exits(0).says("the book sets foam.kerf; nothing is reckoned with it yet");
    at.run(&words("book.toml")).exits(0).never_says("reckoned with it yet");
}

/// 1.1 gal of water is 9.1799 lb, and 6 ft are 72 in: neither is printed with the noise of its conversion.
#[test]
fn numbers_are_printed_without_noise() {
    let at = Folder::new().with("m.obj", block(8.0, 4.0, 6.0).to_obj());
    at.run(&["takeoff", "m.obj", "--full", "--units", "ft"]).exits(0).never_says("9.17994").says("(50 lb + 9.1799 lb)");
    at.run(&["report", "m.obj", "--units", "ft", "--csv", "t.csv"]).exits(0);
    at.run(&["takeoff", "m.obj", "--units", "ft", "--out", "t"]).exits(0);
    at.run(&["batch", "m.obj", "--units", "ft", "--no-store", "--out", "b"]).exits(0);
    for file in ["t.csv", "t/takeoff.csv", "b/batch.csv"] {
        let digits =
            |field: &&str| field.trim_start_matches(['0', '.', '-']).bytes().filter(u8::is_ascii_digit).count() > 15;
        let long = at.read(file).split([',', '\n', ' ', '"']).find(digits).map(str::to_owned);
        assert_eq!(long, None, "{file}");
    }
    assert!(at.read("t.csv").contains(",72,in,"), "{}", at.read("t.csv"));
}
