//! How what may be no part of the work is answered for: by the name of a part, by a place, or not yet.
//!
//! Places are measured from the low corner of all but the parts left out by name. So a name goes first, and moves what rules say of places.

use crate::job::{Faces, lines};
use crate::report::shared::FindingJson;
use crate::report::table::plain;

/// Names to be answered for before anything is said of a place, as the corner is another without them; often none.
#[derive(Clone, Debug, Default)]
pub struct First(Vec<String>);

impl First {
    /// These names.
    pub(crate) fn of<'a>(names: impl IntoIterator<Item = &'a str>) -> Self {
        Self(names.into_iter().map(shown).collect())
    }

    /// What to do in place of pasting lines that say something of a place; none where they can be pasted.
    pub(crate) fn words(&self) -> Option<String> {
        (!self.0.is_empty()).then(|| {
            format!(
                "Answer for {} first and run again: places are measured from the corner of what is left, so the lines for this follow then.",
                self.0.join(" and ")
            )
        })
    }
}

/// What rules of the job find once a part is left out.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Moved {
    /// The same.
    Nothing,
    /// Those for places find others.
    Places,
}

/// The question about what a rule would leave out, by its name or by its place, and how it is answered. `what` ends where it is counted as
/// ours until somebody says.
pub(crate) fn question(code: &str, what: &str, rule: Option<&Faces>, first: &First, moved: Moved) -> FindingJson {
    let mut pasted = Vec::new();
    let text = match (rule, first.words()) {
        (Some(Faces::Part(name)), _) => {
            let moved = match moved {
                Moved::Nothing => "",
                Moved::Places => {
                    " Without it places are measured from another corner: set the job's rules for places anew then."
                }
            };
            let (shown, flag) = (shown(name), leave_out(name));
            format!(
                "{shown}: {what} {flag}, or that it is coated or bare with a [[scope.part]] rule in the job.{moved}"
            )
        }
        (Some(_), Some(words)) => format!("{what} so. {words}"),
        (Some(place), None) => {
            pasted = lines(place, "left out");
            format!("{what} so at the end of the job with these lines (is = \"coated\" if it is ours).")
        }
        (None, _) => format!(
            "{what} so. Have it drawn as a part with a name of its own, to leave out or to coat, or ask for the file without it."
        ),
    };
    FindingJson { rule: pasted, ..FindingJson::new(code, text) }
}

/// A name as it stands in a sentence.
pub(crate) fn shown(name: &str) -> String {
    format!("`{}`", plain(name))
}

/// A name that can be typed as it is shown.
pub(crate) fn can_be_typed(name: &str) -> bool {
    !name.is_empty() && plain(name) == name
}

/// The flag that leaves a name out. One that begins as flags do must not stand for itself.
fn leave_out(name: &str) -> String {
    format!("--leave-out{}{}", if name.starts_with('-') { '=' } else { ' ' }, shell_word(name))
}

/// A name as it is typed on a command line (POSIX.1-2017, Shell Command Language, 2.2: nothing acts within single quotes).
fn shell_word(name: &str) -> String {
    let acts = |c: char| matches!(c, '$' | '`' | '"' | '\\' | '!');
    if name.contains(acts) { format!("'{}'", name.replace('\'', "'\\''")) } else { format!("\"{name}\"") }
}

#[cfg(test)]
mod tests {
    use super::{leave_out, shell_word};
    use crate::args::{Arguments, Command as Asked};
    use clap::Parser;
    use std::process::Command;

    /// A shell gives each name back as it was.
    #[test]
    #[cfg(unix)]
    fn a_shell_reads_the_name() {
        for name in ["man", "old man's", "$HOME", "`id`", "a\\b", "\"quoted\"", "it's $5!", "a  b"] {
            let said = Command::new("sh").args(["-c", &format!("printf %s {}", shell_word(name))]).output().unwrap();
            assert_eq!(String::from_utf8(said.stdout).unwrap(), name);
        }
    }

    /// And the program does, one that looks like a flag too.
    #[test]
    #[cfg(unix)]
    fn the_program_reads_the_name() {
        for name in ["man", "-x", "--out", "-- it's"] {
            let typed = format!("printf '%s\\n' cragskin takeoff a.stl {}", leave_out(name));
            let said = Command::new("sh").args(["-c", &typed]).output().unwrap();
            let words = String::from_utf8(said.stdout).unwrap();
            let Asked::Takeoff(args) = Arguments::parse_from(words.lines()).command else { panic!("{words}") };
            assert_eq!(args.job.leave_out, [name]);
        }
    }
}
