//! One file a command; each reads as its own summary.

mod look;

use crate::args::Command;
use crate::failure::{Failure, Outcome};

/// Runs a command.
///
/// # Errors
/// When it could not be done.
pub fn run(command: Command) -> Result<Outcome, Failure> {
    match command {
        Command::Look(args) => look::run(&args),
        _ => Err(Failure::new("unfinished")),
    }
}

/// A report as JSON, one value, ending in a newline.
pub(crate) fn json<T: serde::Serialize>(report: &T) -> Result<String, Failure> {
    serde_json::to_string_pretty(report)
        .map(|text| text + "\n")
        .map_err(|error| Failure::new(format!("the report cannot be written as JSON: {error}")))
}
