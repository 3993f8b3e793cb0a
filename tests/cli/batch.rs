//! Sessions with `batch`.
#![allow(clippy::unwrap_used, reason = "a test may")]

mod revisions;

use cragskin_fixtures::{hostile, rock, solid};
use revisions::{Said, Scratch};
use serde_json::Value;
use std::io::Write;
use std::process::Stdio;
use std::time::Duration;

fn rows(said: &Said) -> Vec<Value> {
    said.out.lines().map(|line| serde_json::from_str(line).unwrap_or_else(|_| panic!("half a line: {line}"))).collect()
}

/// Blocks of 1 x 1 x n in among every hostile file: each row stands in its place, and says why where it failed.
#[test]
fn rows_come_in_input_order_and_a_bad_file_is_a_row_with_its_reason() {
    let scratch = Scratch::new("batch-mixed");
    let mut wanted = Vec::new();
    for (k, bad) in hostile().iter().enumerate() {
        let end = if bad.format == cragskin_fixtures::Format::Stl { "stl" } else { "obj" };
        scratch.write(&format!("models/{k:03}-a.stl"), solid::block(1.0, 1.0, 1.0 + k as f64).to_binary_stl());
        scratch.write(&format!("models/{k:03}-b.{end}"), &bad.bytes);
        wanted.extend([Some(6.0 + 4.0 * k as f64), None]);
    }
    scratch.write("models/notes.txt", "not a model");
    let words = ["batch", "models", "--units", "in", "--jsonl"];
    let said = scratch.run(&words);
    let rows = rows(&said);
    assert_eq!(rows.len(), wanted.len());
    assert!(rows.iter().enumerate().all(|(k, row)| row["number"] == k + 1));
    for (row, area) in rows.iter().zip(&wanted) {
        if let Some(area) = area {
            let found = row["coated_area_m2"].as_f64().unwrap() / (0.0254 * 0.0254);
            assert!((found - area).abs() < 1e-6 * area, "{row}");
        }
        let failed = row["state"] == "failed";
        assert_eq!(failed, !row["reason"].is_null(), "{row}");
        assert!(!failed || row["reason"].as_str().unwrap().len() > 10, "{row}");
    }
    let refused = hostile().iter().filter(|bad| bad.owes == cragskin_fixtures::Owes::Refusal).count();
    assert!(rows.iter().filter(|row| row["state"] == "failed").count() >= refused && refused > 0);
    assert_eq!(said.code, 2, "some failed");
    // Kept results print the same bytes.
    assert_eq!(scratch.run(&words).out, said.out);
}

#[test]
fn exit_codes_are_the_worst_of_the_rows() {
    let scratch = Scratch::new("batch-codes");
    scratch.write("good/a.stl", solid::block(1.0, 1.0, 1.0).to_binary_stl());
    scratch.write("good/b.stl", solid::block(1.0, 1.0, 2.0).to_binary_stl());
    scratch.write("bad/c.stl", "");
    scratch.write("tight.toml", "[limits]\nrules = [\"coated area > 8 sq ft\"]\n");
    scratch.write("wide.toml", "[limits]\nrules = [\"coated area > 100 sq ft\"]\n");
    scratch.write("wrong.toml", "[limits]\nrule = [\"coated area > 100 sq ft\"]\n");
    for (words, code) in [
        (&["good"][..], 0),
        (&["good", "--limits", "wide.toml"], 0),
        (&["good", "--limits", "tight.toml"], 1),
        (&["good", "--limit", "coated area > 8 sq ft"], 1),
        (&["good", "bad", "--limits", "wide.toml"], 2),
        (&["good", "bad", "--limits", "tight.toml"], 2),
        (&["missing.stl"], 2),
        (&["nothing-here", "good"], 2),
        (&["good", "--limits", "wrong.toml"], 2),
        (&["good", "--limits", "missing.toml"], 2),
        (&["good", "--shard", "3/2"], 2),
        (&["good", "--memory", "1 KB"], 2),
        (&["good", "--memory", "1 MiB"], 0),
        (&["good", "--baseline", "good/a.stl"], 0),
        (&["good", "--baseline", "good/a.stl", "--limit", "area change > 1 %"], 1),
        (&["good", "--baseline", "bad/c.stl"], 2),
    ] {
        let said = scratch.run(&[&["batch", "--units", "ft"], words].concat());
        assert_eq!(said.code, code, "{words:?}: {}{}", said.out, said.err);
    }
}

#[test]
fn limits_are_judged_on_kept_results_too() {
    let scratch = Scratch::new("batch-limits");
    scratch.write("a.stl", solid::block(1.0, 1.0, 1.0).to_binary_stl());
    let words = ["batch", "a.stl", "--units", "ft", "--jsonl"];
    assert_eq!(scratch.run(&words).code, 0);
    let said = scratch.run(&[&words[..], &["--limit", "coated area >= 5 sq ft"]].concat());
    assert!(said.code == 1 && rows(&said)[0]["limits"][0]["passed"] == true, "{}", said.out);
    // Another unit is another result.
    let inches = scratch.run(&["batch", "a.stl", "--units", "in", "--jsonl"]);
    let area = |said: &Said| rows(said)[0]["coated_area_m2"].as_f64().unwrap();
    assert!((area(&said) / area(&inches) - 144.0).abs() < 1e-6);
    // A damaged result is worked out again.
    for file in files(&scratch.0.join("cache")) {
        std::fs::write(file, "{\"triangles\": 1").unwrap();
    }
    assert_eq!(scratch.run(&words).code, 0);
}

fn files(folder: &std::path::Path) -> Vec<std::path::PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries.flat_map(|path| if path.is_dir() { files(&path) } else { vec![path] }).collect()
}

#[test]
fn shards_put_together_are_the_whole() {
    let scratch = Scratch::new("batch-shards");
    for k in 0..7 {
        scratch.write(&format!("m/{k}.stl"), solid::block(1.0, 1.0, 1.0 + f64::from(k)).to_binary_stl());
    }
    let words = ["batch", "m", "--units", "ft", "--jsonl", "--no-cache"];
    let whole = scratch.run(&words).out;
    let mut lines: Vec<String> = Vec::new();
    for shard in ["3/3", "1/3", "2/3"] {
        let said = scratch.run(&[&words[..], &["--shard", shard]].concat());
        lines.extend(said.out.lines().map(str::to_owned));
    }
    lines.sort_by_key(|line| serde_json::from_str::<Value>(line).unwrap()["number"].as_u64());
    assert_eq!(lines.join("\n") + "\n", whole);
    assert!(!scratch.0.join("cache").exists(), "--no-cache keeps nothing");
}

/// A list on standard input, a folder met twice, a loop of links, a link that leads nowhere, a file nobody may read.
#[cfg(unix)]
#[test]
fn odd_paths_are_rows_or_are_passed_over() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let scratch = Scratch::new("batch-paths");
    let model = solid::block(1.0, 1.0, 1.0).to_binary_stl();
    scratch.write("m/a.stl", &model);
    scratch.write("m/deep/B.STL", &model);
    let locked = scratch.write("m/locked.stl", &model);
    std::fs::set_permissions(&locked, std::fs::Permissions::from_mode(0o0)).unwrap();
    symlink("..", scratch.0.join("m/deep/up")).unwrap();
    symlink("nowhere.stl", scratch.0.join("m/lost.stl")).unwrap();
    symlink("itself.stl", scratch.0.join("m/itself.stl")).unwrap();
    let mut child = scratch
        .command(&["batch", "-", "--units", "ft", "--jsonl"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(b"m\nm/deep\nm/a.stl\n\n").unwrap();
    let said = Said::from(child.wait_with_output().unwrap());
    let found: Vec<(String, bool)> =
        rows(&said).iter().map(|row| (row["path"].as_str().unwrap().to_owned(), row["state"] == "failed")).collect();
    // Whoever runs as root may read everything.
    let may = std::fs::read(&locked).is_ok();
    let wanted = [
        ("m/a.stl", false),
        ("m/deep/B.STL", false),
        ("m/itself.stl", true),
        ("m/locked.stl", !may),
        ("m/lost.stl", true),
        ("m/a.stl", false),
    ];
    assert_eq!(found, wanted.map(|(path, failed)| (path.to_owned(), failed)), "{}", said.err);
    assert_eq!(said.code, 2);
}

#[test]
fn a_full_disk_is_one_clear_message() {
    let scratch = Scratch::new("batch-full");
    scratch.write("a.stl", solid::block(1.0, 1.0, 1.0).to_binary_stl());
    scratch.write("b.stl", solid::block(1.0, 1.0, 2.0).to_binary_stl());
    // A cache that cannot be written: every row is there, one note is told, the exit code is that of the rows.
    let said = scratch.run(&["batch", "a.stl", "b.stl", "--units", "ft", "--jsonl", "--cache", "a.stl/cache"]);
    assert_eq!((said.code, rows(&said).len()), (0, 2));
    assert_eq!(said.err.matches("results are not kept").count(), 1, "{}", said.err);
    let full = std::path::Path::new("/dev/full");
    if full.exists() {
        let out = std::fs::OpenOptions::new().write(true).open(full).unwrap();
        let output = scratch.command(&["batch", "a.stl", "--units", "ft", "--jsonl"]).stdout(out).output().unwrap();
        let err = String::from_utf8(output.stderr).unwrap();
        assert!(output.status.code() == Some(2) && err.contains("standard output cannot be written"), "{err}");
    }
    let said = scratch.run(&["batch", "a.stl", "--units", "ft", "--out", "b.stl/x"]);
    assert!(said.code == 2 && said.err.contains("cannot be written"), "{}", said.err);
}

/// A file that grows while it is read is refused or read as one version, never as a mix; the run goes on.
#[test]
fn a_file_that_changes_while_read() {
    let scratch = Scratch::new("batch-changing");
    let versions = [1.0, 2.0].map(|h| rock(3, 20_000, h).to_binary_stl());
    let triangles = (versions[0].len() - 84) / 50;
    let path = scratch.write("a.stl", &versions[0]);
    let stop = std::sync::atomic::AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut k = 0;
            while !stop.load(std::sync::atomic::Ordering::Relaxed) {
                k += 1;
                // In place, as a careless exporter does.
                let _ = std::fs::write(&path, &versions[k % 2]);
            }
        });
        for _ in 0..4 {
            let said = scratch.run(&["batch", "a.stl", "--units", "m", "--jsonl"]);
            let row = &rows(&said)[0];
            assert!(
                said.code == 2 && row["state"] == "failed" || said.code == 0 && row["triangles"] == triangles,
                "{row}"
            );
        }
        stop.store(true, std::sync::atomic::Ordering::Relaxed);
    });
}

/// Killed at any moment: the lines printed are whole, and a rerun prints what an undisturbed run prints, to the byte.
#[test]
fn killed_and_resumed_gives_the_same_bytes() {
    let scratch = Scratch::new("batch-killed");
    for k in 0..8 {
        scratch.write(&format!("m/{k:02}.stl"), rock(k, 400, 2.0).to_binary_stl());
    }
    let words = ["batch", "m", "--units", "m", "--jsonl"];
    let start = std::time::Instant::now();
    let whole = scratch.run(&[&words[..], &["--no-cache"]].concat()).out;
    let spent = start.elapsed().as_secs_f64();
    assert_eq!(whole.lines().count(), 8);
    let mut random = cragskin_fixtures::SplitMix(7);
    for _ in 0..20 {
        let mut child = scratch.command(&words).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        std::thread::sleep(Duration::from_secs_f64(0.5 * spent * random.unit()));
        child.kill().unwrap();
        let output = child.wait_with_output().unwrap();
        let said = String::from_utf8(output.stdout).unwrap();
        assert!(whole.starts_with(&said), "a row that differs");
        assert!(said.is_empty() || said.ends_with('\n'), "half a line");
        let kept = scratch.0.join("cache");
        if kept.exists() {
            for file in files(&kept).iter().filter(|file| file.extension().is_some_and(|end| end == "json")) {
                let text = std::fs::read(file).unwrap();
                assert!(serde_json::from_slice::<Value>(&text).is_ok(), "half a result: {}", file.display());
            }
        }
        if random.next_u64().is_multiple_of(5) {
            let _ = std::fs::remove_dir_all(&kept);
        }
    }
    assert_eq!(scratch.run(&words).out, whole);
    assert_eq!(scratch.run(&words).out, whole);
}

#[test]
#[ignore = "ten thousand files, run by hand in release"]
fn ten_thousand_tiny_files() {
    let scratch = Scratch::new("batch-many");
    for k in 0..10_000_u32 {
        scratch.write(&format!("m/{k:05}.stl"), solid::block(1.0, 1.0, 1.0 + f64::from(k)).to_binary_stl());
    }
    let words = ["batch", "m", "--units", "in", "--jsonl"];
    for _ in 0..2 {
        let start = std::time::Instant::now();
        let said = scratch.run(&words);
        assert_eq!((said.code, said.out.lines().count()), (0, 10_000), "{}", said.err);
        println!("{:?}", start.elapsed());
    }
}
