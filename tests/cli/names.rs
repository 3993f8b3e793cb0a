//! Names of files, parts, materials, jobs and rules are data: none of them acts on a terminal.

use crate::common::Folder;
use cragskin_fixtures::solid::block;

/// A file name that would begin a line of its own, and names that would colour, retitle or turn round what follows.
const FILE: &str = "a\nerror: b.obj";
const NAMES: [&str; 3] = ["na\u{1b}[31mme", "two\u{1b}]0;x\u{7}", "back\u{202e}ward"];

#[test]
fn no_name_acts_on_a_terminal_in_any_command() {
    let parts = NAMES.iter().enumerate().map(|(k, name)| {
        let x = 3.0 * k as f64;
        block(2.0, 1.0, 1.5).translate([x, 0.0, 0.0]).named(name)
    });
    let model = parts.reduce(|all, part| all.append(&part)).unwrap().to_obj();
    let job = "[job]\nname = \"j\\nerror: x\\u001b[31m\"\nmodel = \"a\\nerror: b.obj\"\nunits = \"ft\"\nbook = \"b\\nerror: k.toml\"\n\
        [[scope.part]]\nname = \"na\\u001b[31mme\"\nis = \"bare\"\n[[scope.part]]\nname = \"gone\\nerror: \\u001b[1m\"\nis = \"bare\"\n";
    let at = Folder::new()
        .with(FILE, &model)
        .with("c\nerror: d.obj", &model)
        .with("e\nerror: empty.obj", "")
        .with("b\nerror: k.toml", "[reach]\ntrowel = \"7 in\"\n")
        .with("job\nerror: j.toml", job)
        .with("bad\nerror: j.toml", "[job\u{1b}[31m]\nx = 1\n");
    let ft = ["--units", "ft"];
    let runs: &[&[&str]] = &[
        &["look", FILE],
        &["look", FILE, "--units", "ft"],
        &["look", "e\nerror: empty.obj"],
        &["look", "none\nerror: here.obj"],
        &["look", FILE, "--up", "-y", "--front", "+y", "--units", "ft"],
        &["look", FILE, "--leave-out", "na\u{1b}[31mm"],
        &["job", FILE],
        &["job", FILE, "--up", "+y", "--front", "+y"],
        &["takeoff", FILE],
        &["takeoff", FILE, "--units", "ft"],
        &["takeoff", FILE, "--units", "ft", "--csv"],
        &["takeoff", FILE, "--units", "ft", "--full"],
        &["takeoff", FILE, "--units", "ft", "--picture", "pic\u{1b}[31m\nerror: ture.png", "--out", "ta\nerror: keoff"],
        &["takeoff", FILE, "--units", "ft", "--leave-out", "two\u{1b}]0;x"],
        &["takeoff", FILE, "--units", "ft", "--book", "job\nerror: j.toml"],
        &["takeoff", "job\nerror: j.toml"],
        &["takeoff", "bad\nerror: j.toml"],
        &["takeoff", FILE, "c\nerror: d.obj"],
        &["takeoff", "--units=f\u{1b}[31mt", FILE],
        &["flag", "job\nerror: j.toml"],
        &["core", "job\nerror: j.toml"],
        &["core", FILE, "--units", "mm"],
        &["sheets", "job\nerror: j.toml", "--out", "sh\nerror: eets"],
        &["compare", FILE, "c\nerror: d.obj", "--units", "ft"],
        &["compare", "job\nerror: j.toml", "c\nerror: d.obj"],
        &["report", "job\nerror: j.toml", "--out", "page.html", "--csv", "page.csv"],
        &["report", FILE, "--units", "ft", "--out", FILE],
        &[
            "batch",
            FILE,
            "job\nerror: j.toml",
            "e\nerror: empty.obj",
            "bad\nerror: j.toml",
            "--units",
            "ft",
            "--no-store",
        ],
        &["batch", FILE, "--units", "ft", "--csv", "--no-store"],
    ];
    for words in runs {
        let said = at.run(words);
        harmless(&said.out, words);
        harmless(&said.err, words);
        // The line of an error is the program's own, and there is one.
        let errors = said.err.lines().filter(|line| line.starts_with("error:")).count();
        assert!(errors <= 1, "{words:?}:\n{}", said.err);
        assert!(!said.out.lines().any(|line| line.starts_with("error:")), "{words:?}:\n{}", said.out);
    }
    at.run(&["report", "job\nerror: j.toml", "--out", "page.html", "--csv", "page.csv"]).exits(0);
    harmless(&at.read("page.csv"), &["page.csv"]);
    harmless(&at.read("page.html").replace("\u{2028}", ""), &["page.html"]);
    harmless(&at.read("sh\nerror: eets/front.svg"), &["front.svg"]);
    // Every character of a name can still be told: it is escaped, not dropped.
    at.run(&["look", FILE, ft[0], ft[1]])
        .exits(0)
        .says("a\\nerror: b.obj")
        .says("na\\u{1b}[31mme")
        .says("back\\u{202e}ward");
}

fn harmless(text: &str, words: &[&str]) {
    let acts = |c: char| {
        c.is_control() && !matches!(c, '\n' | '\r' | '\t') || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2028}')
    };
    let line = text.lines().find(|line| line.contains(acts));
    assert!(line.is_none(), "{words:?}: {line:?}");
}
