//! One clear message: what, where, and what to type next. Every failure ends the program with exit code 2.

use crate::report::table::plain;
use crate::settings::Faults;
use std::fmt;

/// Why the program could not do it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failure {
    /// A line each, as it is shown: names in them may come from a file, so what would act on the terminal is escaped, line ends too.
    message: Vec<String>,
    detail: Vec<String>,
    hint: Option<String>,
}

impl Failure {
    /// What went wrong and where, in one line.
    pub fn new(message: impl AsRef<str>) -> Self {
        Self { message: vec![plain(message.as_ref())], detail: Vec::new(), hint: None }
    }

    /// What is wrong with a file.
    pub fn of_file(name: &str, what: impl fmt::Display) -> Self {
        Self::new(format!("{name}: {what}"))
    }

    /// All faults of a settings file, each with the line that it stands in.
    #[must_use]
    pub fn of_settings(faults: &Faults) -> Self {
        // Tabs of the file stand in the lines that carets point at.
        let line = |line: &str| line.split('\t').map(plain).collect::<Vec<_>>().join("\t");
        Self { message: faults.lines().iter().map(|text| line(text)).collect(), detail: Vec::new(), hint: None }
    }

    /// Lines below the message, such as a table; left away where many files are told of together.
    #[must_use]
    pub fn detail(mut self, lines: &str) -> Self {
        self.detail = lines.trim_end().lines().map(plain).collect();
        self
    }

    /// Message and hint in one line.
    #[must_use]
    pub fn brief(&self) -> String {
        Self { detail: Vec::new(), ..self.clone() }.to_string().trim_start_matches("error: ").replace('\n', "; ")
    }

    /// The next thing to type or to ask.
    #[must_use]
    pub fn hint(mut self, hint: impl AsRef<str>) -> Self {
        self.hint = Some(plain(hint.as_ref()));
        self
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "error: {}", self.message.join("\n"))?;
        self.detail.iter().try_for_each(|line| write!(f, "\n{line}"))?;
        match &self.hint {
            Some(hint) => write!(f, "\nhint: {hint}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for Failure {}

/// How the program ends when it did not fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Done: exit code 0.
    Done,
    /// Done, and a limit that the user set is exceeded or not known to be kept: exit code 1.
    LimitExceeded,
    /// Some of many could not be done, and each has said why: exit code 2.
    SomeFailed,
}
