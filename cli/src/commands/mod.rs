//! One file a command; each reads as its own summary.

mod batch;
mod compare;
mod core;
mod flag;
mod job;
mod look;
mod report;
mod sheets;
mod takeoff;

use crate::args::Command;
use crate::failure::{Failure, Outcome};
use crate::load;
use crate::output;
use crate::progress::Progress;
use crate::request::Request;
use crate::takeoff::Takeoff;

/// Runs a command.
///
/// # Errors
/// When it could not be done.
pub fn run(command: Command) -> Result<Outcome, Failure> {
    match command {
        Command::Look(args) => look::run(&args),
        Command::Takeoff(args) => takeoff::run(&args),
        Command::Compare(args) => compare::run(&args),
        Command::Batch(args) => batch::run(&args),
        Command::Report(args) => report::run(&args),
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

/// Reads and measures the model of a request, with progress on a terminal.
pub(crate) fn measured(request: &Request) -> Result<Takeoff, Failure> {
    let progress = Progress::new();
    progress.stage("reading the model");
    let loaded = load::model(&request.model)?;
    Takeoff::observed(loaded, request, &|words| progress.stage(words))
}
