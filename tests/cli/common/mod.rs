//! A session with the program: a scratch folder of its own, commands in it, and what they must say.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

/// A book that averages lean over 12 in. Of flat faces that is the same lean, and a takeoff of them costs a quarter of what it does
/// by the default book.
pub(crate) const WIDE: &str = "\n[zone]\nsmooth_radius = \"12 in\"\n";

/// A folder that is removed at the end.
pub(crate) struct Folder {
    path: PathBuf,
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What is left behind lies in the target folder and hurts nobody.
        let _ = std::fs::remove_dir_all(&self.path);
    }
}

/// What a command did.
pub(crate) struct Said {
    line: String,
    pub(crate) out: String,
    pub(crate) err: String,
    code: Option<i32>,
}

impl Folder {
    pub(crate) fn new() -> Self {
        static NEXT: AtomicUsize = AtomicUsize::new(0);
        let name = format!("session-{}-{}", std::process::id(), NEXT.fetch_add(1, Relaxed));
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
        std::fs::create_dir_all(&path).expect("a scratch folder");
        Self { path }
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// Puts a file into the folder.
    pub(crate) fn with(self, name: &str, bytes: impl AsRef<[u8]>) -> Self {
        std::fs::write(self.path.join(name), bytes).expect(name);
        self
    }

    pub(crate) fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path.join(name)).expect(name)
    }

    /// Names in a folder below this one, sorted.
    pub(crate) fn names(&self, below: &str) -> Vec<String> {
        let entries = std::fs::read_dir(self.path.join(below)).expect(below);
        let mut names: Vec<String> =
            entries.map(|entry| entry.expect(below).file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    pub(crate) fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_cragskin"));
        // Without a home nothing is kept but where a test says so.
        command.args(words).current_dir(&self.path).env_remove("HOME").env_remove("XDG_CACHE_HOME");
        command
    }

    /// Runs the program with these words.
    pub(crate) fn run(&self, words: &[&str]) -> Said {
        let Output { status, stdout, stderr } = self.command(words).output().expect("the program starts");
        let text = |bytes| String::from_utf8(bytes).expect("what the program prints is UTF-8");
        Said { line: words.join(" "), out: text(stdout), err: text(stderr), code: status.code() }
    }

    /// Runs and reads the JSON that comes out.
    pub(crate) fn json(&self, words: &[&str]) -> Value {
        self.run(words).exits(0).json()
    }
}

impl Said {
    pub(crate) fn exits(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "cragskin {}\n{}{}", self.line, self.out, self.err);
        assert!(!self.err.contains("panicked"), "{}", self.err);
        self
    }

    /// On the page or in the message, line breaks counted as blanks.
    pub(crate) fn says(self, words: &str) -> Self {
        let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let all = flat(&self.out) + " " + &flat(&self.err);
        assert!(all.contains(&flat(words)), "cragskin {}: no `{words}` in\n{}{}", self.line, self.out, self.err);
        self
    }

    pub(crate) fn never_says(self, words: &str) -> Self {
        let all = self.out.clone() + &self.err;
        assert!(!all.contains(words), "cragskin {}: `{words}` in\n{all}", self.line);
        self
    }

    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}:\n{}", self.out))
    }
}

/// The lines of a job file that a finding proposes.
pub(crate) fn rule(json: &Value, code: &str) -> String {
    let found = json["findings"].as_array().unwrap().iter().find(|finding| finding["code"] == code);
    let lines = found.and_then(|found| found["rule"].as_array()).unwrap_or_else(|| panic!("{code} proposes no rule"));
    lines.iter().map(|line| line.as_str().unwrap().to_owned() + "\n").collect()
}

/// A number of the JSON by its path, `order.0.exact`.
pub(crate) fn number(json: &Value, path: &str) -> f64 {
    let step = |at: &Value, key: &str| key.parse::<usize>().map_or_else(|_| at[key].clone(), |k| at[k].clone());
    let found = path.split('.').fold(json.clone(), |at, key| step(&at, key));
    found.as_f64().unwrap_or_else(|| panic!("{path} is {found}, no number"))
}

/// The line of the order or of the weights for an item.
pub(crate) fn line<'a>(json: &'a Value, table: &str, item: &str) -> &'a Value {
    let rows = json[table].as_array().unwrap_or_else(|| panic!("{table} is no list"));
    rows.iter().find(|row| row["item"] == item).unwrap_or_else(|| panic!("no {item} in {table}: {rows:#?}"))
}
