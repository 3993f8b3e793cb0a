//! What was measured is not measured again, and never in the place of what has changed.

use crate::common::Folder;
use cragskin_fixtures::solid::block;
use cragskin_fixtures::{Shape, rock};
use std::path::{Path, PathBuf};

fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().map(|entry| entry.unwrap().path());
    let mut all: Vec<PathBuf> =
        entries.flat_map(|path| if path.is_dir() { files(&path) } else { vec![path] }).collect();
    all.sort();
    all
}

/// A block 3 ft wide with a leaning back and a boulder beside it, in two parts.
fn piece() -> Shape {
    let lean = |p: [f64; 3]| if p[1] > 0.0 { [p[0], p[1] + 0.3 * p[2], p[2]] } else { p };
    let block = block(0.9, 0.4, 0.7).map(lean).named("block");
    block.append(&rock(3, 500, 0.5).translate([2.0, 0.0, 0.3]).named("boulder"))
}

/// Whatever is asked for after the same model was measured otherwise is what a run of its own gives.
#[test]
fn what_was_kept_is_what_would_be_measured() {
    let at = Folder::new().with("m.obj", piece().to_obj());
    let base = ["m.obj", "--units", "m", "--floor", "bare", "--back", "coated"];
    let mut different = std::collections::BTreeSet::new();
    for more in [
        &[][..],
        &["--skin", "2 in"],
        &["--face", "core"],
        &["--bare-part", "boulder"],
        &["--leave-out", "boulder"],
        &["--underside", "bare"],
        &["--up", "+y"],
        &["--close", "floor"],
        &["--fine", "--leave-out", "boulder"],
    ] {
        for command in ["takeoff", "flag"] {
            let words = [&[command][..], &base, more, &["--json", "--quiet"]].concat();
            let fresh = at.run(&[&words[..], &["--no-store"]].concat()).exits(0).out;
            // The first of them may keep, the second finds.
            for _ in 0..2 {
                let kept = at.run(&[&words[..], &["--store", "kept"]].concat()).exits(0).out;
                assert!(kept == fresh, "{command} {more:?}");
            }
            different.insert(fresh);
        }
    }
    assert!(different.len() >= 14, "the words change something: {}", different.len());
}

#[test]
fn what_was_measured_is_not_measured_again() {
    let at = Folder::new().with("m.obj", piece().to_obj()).with("moved.obj", piece().scale(1.001).to_obj());
    let words = |command, model| [command, model, "--units", "m", "--floor", "bare", "--back", "coated", "--quiet"];
    let run = |words: &[&str]| at.run(&[words, &["--store", "kept"]].concat()).exits(0).out;
    let kept = || files(&at.path().join("kept"));
    let stages = || {
        let stage =
            |path: &PathBuf| path.strip_prefix(at.path().join("kept")).unwrap().iter().next().unwrap().to_owned();
        kept().iter().map(stage).collect::<Vec<_>>()
    };
    let first = run(&words("takeoff", "m.obj"));
    assert_eq!(stages(), ["places", "skin", "zones"]);
    let entries = kept();
    for more in [&["takeoff"][..], &["flag"], &["sheets", "--out", "o"], &["report", "--out", "page.html"]] {
        run(&[&words(more[0], "m.obj"), &more[1..]].concat());
        assert_eq!(kept(), entries, "{more:?} measures nothing again");
    }
    run(&[&words("core", "m.obj")[..], &["--out", "c"]].concat());
    assert_eq!(stages(), ["core", "places", "skin", "zones"]);

    // Another shape, and another build of the program, are another key; the second cannot be tried here.
    run(&words("takeoff", "moved.obj"));
    assert_eq!(kept().len(), 7);

    // Damaged at any place, empty, or of another stage: measured again, and mended.
    let before: Vec<Vec<u8>> = entries.iter().map(|path| std::fs::read(path).unwrap()).collect();
    for (k, path) in entries.iter().enumerate() {
        let mut flipped = before[k].clone();
        let last = flipped.len() - 1;
        flipped[last] ^= 1;
        for damaged in [flipped, before[k][..last].to_vec(), Vec::new(), before[(k + 1) % 3].clone()] {
            std::fs::write(path, &damaged).unwrap();
            assert!(run(&words("takeoff", "m.obj")) == first, "{} damaged", path.display());
            if damaged != before[(k + 1) % 3] {
                assert!(std::fs::read(path).unwrap() == before[k], "{} is kept again", path.display());
            }
            std::fs::write(path, &before[k]).unwrap();
        }
    }

    // A pipe that nobody writes to, or a folder, in the place of an entry.
    #[cfg(unix)]
    for path in &entries {
        std::fs::remove_file(path).unwrap();
        assert!(std::process::Command::new("mkfifo").arg(path).status().unwrap().success());
    }
    #[cfg(unix)]
    assert!(run(&words("takeoff", "m.obj")) == first && kept().len() == 7, "a pipe gives way");
    for path in &entries {
        std::fs::remove_file(path).unwrap();
        std::fs::create_dir(path).unwrap();
    }
    assert!(run(&words("takeoff", "m.obj")) == first, "a folder stays, and nothing is kept");
    entries.iter().for_each(|path| std::fs::remove_dir(path).unwrap());
    assert!(run(&words("takeoff", "m.obj")) == first && kept().len() == 7);

    // Nothing is kept, and where nothing can be kept nothing is amiss.
    let there = at.with("file", "");
    for more in [&["--no-store"][..], &["--store", "file/below"]] {
        let said = there.run(&[&words("takeoff", "m.obj")[..], more].concat()).exits(0);
        assert!(said.out == first && said.err.is_empty(), "{more:?}: {}", said.err);
    }
    assert_eq!(files(&there.path().join("kept")).len(), 7);
}

/// Four at once on one store that is empty.
#[test]
fn processes_side_by_side_say_the_same() {
    let at = Folder::new().with("m.obj", piece().to_obj());
    let words = ["takeoff", "m.obj", "--units", "m", "--floor", "bare", "--back", "coated", "--store", "kept"];
    let start = |_| at.command(&words).stdout(std::process::Stdio::piped()).spawn().unwrap();
    let started: Vec<_> = (0..4).map(start).collect();
    let said: Vec<_> = started.into_iter().map(|child| child.wait_with_output().unwrap().stdout).collect();
    assert!(said[0].len() > 500 && said.iter().all(|one| *one == said[0]));
    let kept = files(&at.path().join("kept"));
    assert_eq!(kept.len(), 3, "{kept:?}");
}
