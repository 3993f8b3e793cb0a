//! One clear message: what, where, and what to type next. Every failure ends the program with exit code 2.

use std::fmt;

/// Why the program could not do it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failure {
    message: String,
    hint: Option<String>,
}

impl Failure {
    /// What went wrong and where.
    pub fn new(message: impl Into<String>) -> Self {
        Self { message: message.into(), hint: None }
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
        write!(f, "error: {}", self.message)?;
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
    /// Done, and a limit that the user set was passed: exit code 1.
    LimitPassed,
    /// Some of many could not be done, and each has said why: exit code 2.
    SomeFailed,
}
