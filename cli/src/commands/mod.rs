//! One file a command; each reads as its own summary.

mod core;
mod flag;
mod job;
mod look;
mod sheets;
mod takeoff;

use crate::args::Command;
use crate::failure::{Failure, Outcome};
use crate::output;

/// Runs a command.
///
/// # Errors
/// When it could not be done.
pub fn run(command: Command) -> Result<Outcome, Failure> {
    match command {
        Command::Look(args) => look::run(&args),
        Command::Takeoff(args) => takeoff::run(&args),
        Command::Flag(args) => flag::run(&args),
        Command::Core(args) => core::run(&args),
        Command::Sheets(args) => sheets::run(&args),
        Command::Book => output::print(crate::book::DEFAULT).map(|()| Outcome::Done),
        Command::Job(args) => job::run(&args),
    }
}

/// A report as JSON, one value, ending in a newline.
pub(crate) fn json<T: serde::Serialize>(report: &T) -> Result<String, Failure> {
    serde_json::to_string_pretty(report)
        .map(|text| text + "\n")
        .map_err(|error| Failure::new(format!("the report cannot be written as JSON: {error}")))
}
