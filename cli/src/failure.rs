//! One clear message: what, where, and what to type next. Every failure ends the program with exit code 2.

use crate::report::table::is_hidden;
use std::fmt;

/// Why the program could not do it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failure {
    message: String,
    detail: String,
    hint: Option<String>,
}

impl Failure {
    /// What went wrong and where.
    pub fn new(message: impl Into<String>) -> Self {
        Self { message: message.into(), detail: String::new(), hint: None }
    }

    /// Lines below the message, such as a table; left away where many files are told of together.
    #[must_use]
    pub fn detail(mut self, lines: impl Into<String>) -> Self {
        self.detail = lines.into();
        self
    }

    /// Message and hint in one line.
    #[must_use]
    pub fn brief(&self) -> String {
        Self { detail: String::new(), ..self.clone() }.to_string().trim_start_matches("error: ").replace('\n', "; ")
    }

    /// The next thing to type or to ask.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Messages quote names and lines of files; only line ends and tabs of ours are meant to act on the terminal.
        let shown = |text: &str| -> String {
            let keep = |c: char| matches!(c, '\n' | '\t');
            let one = |c: char| if is_hidden(c) && !keep(c) { c.escape_default().to_string() } else { c.to_string() };
            text.chars().map(one).collect()
        };
        write!(f, "error: {}", shown(&self.message))?;
        if !self.detail.is_empty() {
            write!(f, "\n{}", shown(self.detail.trim_end()))?;
        }
        match &self.hint {
            Some(hint) => write!(f, "\nhint: {}", shown(hint)),
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
    /// Done, and a limit that the user set was passed: exit code 1.
    LimitPassed,
    /// Some of many could not be done, and each has said why: exit code 2.
    SomeFailed,
}
