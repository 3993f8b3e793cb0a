//! One file a command; each reads as its own summary.

mod batch;
mod compare;
mod core;
mod flag;
mod job;
mod look;
mod man;
mod report;
mod set;
mod sheets;
mod takeoff;

use crate::args::Command;
use crate::failure::{Failure, Outcome};
use crate::load;
use crate::ours::check_names;
use crate::output;
use crate::progress::{Progress, Stage};
use crate::request::Request;
use crate::takeoff::Takeoff;

/// Runs a command.
///
/// # Errors
/// When it could not be done.
pub fn run(command: Command, progress: &Progress) -> Result<Outcome, Failure> {
    match command {
        Command::Look(args) => look::run(&args, progress),
        Command::Takeoff(args) => takeoff::run(&args, progress),
        Command::Compare(args) => compare::run(&args, progress),
        Command::Batch(args) => batch::run(&args, progress),
        Command::Report(args) => report::run(&args, progress),
        Command::Set(args) => set::run(&args, progress),
        Command::Flag(args) => flag::run(&args, progress),
        Command::Core(args) => core::run(&args, progress),
        Command::Sheets(args) => sheets::run(&args, progress),
        Command::Book => output::print(crate::book::DEFAULT).map(|()| Outcome::Done),
        Command::Job(args) => job::run(&args),
        Command::Completions(args) => man::completions(args),
        Command::Man(args) => man::pages(&args),
    }
}

/// A report as JSON, one value, ending in a newline.
pub(crate) fn json<T: serde::Serialize>(report: &T) -> Result<String, Failure> {
    serde_json::to_string_pretty(report)
        .map(|text| text + "\n")
        .map_err(|error| Failure::new(format!("the report cannot be written as JSON: {error}")))
}

/// Reads and measures the model of a request; work that follows is told in advance, for the time left.
pub(crate) fn measured(request: &Request, progress: &Progress, follows: &[Stage]) -> Result<Takeoff, Failure> {
    let bytes = read(request, progress, follows)?;
    let loaded = load::parse(&request.model, &bytes, &request.rules(), &request.placing)?;
    drop(bytes);
    check_names(&loaded.name, loaded.drawing.parts(), &request.rules())?;
    let takeoff = Takeoff::observed(loaded, request, &|stage| progress.stage(stage))?;
    if follows.is_empty() {
        progress.end();
    }
    Ok(takeoff)
}

/// The bytes of the model of a request, with which its progress starts.
fn read(request: &Request, progress: &Progress, follows: &[Stage]) -> Result<Vec<u8>, Failure> {
    let length = std::fs::metadata(&request.model).map_or(0, |facts| facts.len());
    progress.start(&[&Stage::TAKEOFF, follows].concat(), length);
    load::bytes(&request.model)
}
