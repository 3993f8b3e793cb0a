//! The whole set of papers and files from one measurement.

use crate::common::{Folder, WIDE};
use cragskin_fixtures::solid::{block, frustum};
use std::collections::BTreeMap;
use std::path::Path;

const WORDS: [&str; 8] = ["--units", "ft", "--book", "wide.toml", "--floor", "bare", "--back", "coated"];

/// Every file below a folder, by its path.
fn files(at: &Folder, below: &str) -> BTreeMap<String, Vec<u8>> {
    let root = at.path().join(below);
    let mut found = BTreeMap::new();
    let mut folders = vec![root.clone()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
            match entry.is_dir() {
                true => folders.push(entry),
                false => {
                    let name = entry.strip_prefix(&root).unwrap().to_string_lossy().into_owned();
                    found.insert(name, std::fs::read(&entry).unwrap());
                }
            }
        }
    }
    found
}

/// A cone of 4 to 2 ft and 5 ft high on a plinth: zones of two classes and a core.
fn piece() -> Folder {
    let shape = block(5.0, 5.0, 1.0)
        .translate([-2.5, -2.5, 0.0])
        .append(&frustum(24, 2.0, 1.0, 5.0).translate([0.0, 0.0, 1.0]));
    Folder::new().with("piece.obj", shape.to_obj()).with("wide.toml", WIDE)
}

#[test]
fn every_file_of_a_set_is_what_its_own_command_writes() {
    let at = piece();
    let run = |command: &str, more: &[&str]| at.run(&[&[command, "piece.obj"], &WORDS[..], more].concat()).exits(0);
    let said = run("set", &["--out", "s"])
        .says("s: ")
        .says("s/sheets: front.svg")
        .says("s/core: core.txt")
        .says("s/pictures: 36 files");
    assert!(said.out.starts_with(&run("takeoff", &[]).out[..600]), "{}", said.out);
    run("takeoff", &["--out", "t"]);
    run("flag", &["--out", "t"]);
    run("sheets", &["--out", "t/sheets"]);
    run("core", &["--out", "t/core"]);
    let pages = ["--out", "t/page.html", "--pdf", "t/takeoff.pdf", "--xlsx", "t/takeoff.xlsx", "--csv", "t/tables.csv"];
    run("report", &[&pages[..], &["--pictures", "t/pictures"]].concat());
    let (set, single) = (files(&at, "s"), files(&at, "t"));
    assert_eq!(set.keys().collect::<Vec<_>>(), single.keys().collect::<Vec<_>>());
    for (name, bytes) in &single {
        assert!(set[name] == *bytes, "{name} of the set is another one");
    }
    assert_eq!(set.len(), 9 + 4 + 5 + 5 + 36);
}

/// An open piece has no core: the set has the rest, and says why. A set over its own inputs is refused before anything is written.
#[test]
fn a_set_without_a_core_says_so_and_one_over_its_inputs_is_refused() {
    let sheet = "v 0 0 0\nv 6 0 0\nv 6 0 5\nv 0 0 5\nf 1 2 3 4\n";
    let at = piece().with("sheet.obj", sheet).with("takeoff.txt", WIDE);
    let said = at.run(&["set", "sheet.obj", "--units", "ft", "--book", "wide.toml", "--out", "s"]).exits(0);
    said.says("no core: ").says("the model is open, so it has no core");
    assert!(!Path::new(&at.path().join("s/core")).exists() && at.path().join("s/takeoff.xlsx").exists());
    let before = at.names("");
    at.run(&["set", "piece.obj", "--units", "ft", "--book", "takeoff.txt", "--out", "."]).exits(2).says("takeoff.txt");
    assert_eq!(at.names(""), before);
}
