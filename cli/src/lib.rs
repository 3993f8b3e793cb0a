//! The program behind the `cragskin` command, as a library so that tests can call what `main` calls.

pub mod answers;
pub mod args;
pub mod batch;
pub mod book;
pub mod claims;
pub mod commands;
pub mod core;
pub mod failure;
pub mod figure;
pub mod job;
mod large;
pub mod load;
pub mod notices;
pub mod ours;
pub mod output;
pub mod progress;
pub mod proposed;
pub mod quantities;
pub mod report;
pub mod request;
pub mod revisions;
pub mod settings;
mod stands;
pub mod steep;
pub mod store;
pub mod takeoff;

use clap::Parser;
use failure::{Failure, Outcome};
use progress::Progress;
use report::table::plain;
use std::ffi::OsString;
use std::io::Write;

/// Runs one command line and gives the exit code: 0 done, 1 a limit set by the user is exceeded or not known to be kept, 2 could not do it.
pub fn run(words: impl IntoIterator<Item = OsString>) -> u8 {
    let words: Vec<OsString> = words.into_iter().collect();
    let arguments = match args::Arguments::try_parse_from(&words) {
        Ok(arguments) => arguments,
        Err(error) => return answer(&error, &words),
    };
    let progress = Progress::new(arguments.quiet);
    let outcome = commands::run(arguments.command, &progress);
    progress.end();
    match outcome {
        Ok(Outcome::Done) => 0,
        Ok(Outcome::LimitExceeded) => 1,
        Ok(Outcome::SomeFailed) => 2,
        Err(failure) => {
            complain(&failure);
            2
        }
    }
}

/// Prints what the words themselves ask for: help and version are answers, all else is a mistake in them.
fn answer(error: &clap::Error, words: &[OsString]) -> u8 {
    let code = if error.use_stderr() { 2 } else { 0 };
    let words: Vec<String> = words.iter().map(|word| word.to_string_lossy().into_owned()).collect();
    if words.iter().all(|word| plain(word) == *word) {
        let _ = error.print();
        return code;
    }
    // A shell may have put in the names of files, which may hold line ends and worse.
    let values = words.iter().filter_map(|word| word.split_once('=')).map(|(_, value)| value.to_owned());
    let named = words.iter().cloned().chain(values).filter(|word| plain(word) != *word);
    let text = named.fold(error.render().to_string(), |text, word| text.replace(&word, &plain(&word)));
    let lines: Vec<String> = text.lines().map(plain).collect();
    let _ = writeln!(std::io::stderr(), "{}", lines.join("\n"));
    code
}

fn complain(failure: &Failure) {
    // If standard error is gone there is nobody to tell.
    let _ = writeln!(std::io::stderr(), "{failure}");
}
