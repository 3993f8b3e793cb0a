//! `man` and `completions`: the flags for the shell, made from the flags themselves.

use crate::args::{Arguments, Completions, Man};
use crate::failure::{Failure, Outcome};
use crate::output::{self, Files};
use clap::CommandFactory;
use std::path::PathBuf;

/// Writes a page for the program and one for each command.
pub(super) fn pages(args: &Man) -> Result<Outcome, Failure> {
    let mut program = Arguments::command();
    program.build();
    let mut files = Files::beside(&[]);
    let commands = program.get_subcommands().filter(|command| command.get_name() != "help");
    let all: Vec<(PathBuf, clap::Command)> = std::iter::once(&program)
        .chain(commands)
        .map(|command| {
            let name = command.get_display_name().unwrap_or(command.get_name()).to_owned();
            (args.out.join(format!("{name}.1")), command.clone())
        })
        .collect();
    files.expect(all.iter().map(|(path, _)| path.clone()))?;
    for (path, command) in all {
        let mut page = Vec::new();
        clap_mangen::Man::new(command)
            .render(&mut page)
            .map_err(|error| Failure::new(format!("a manual page cannot be made: {error}")))?;
        files.add(path, page);
    }
    output::told(&files.write()?)?;
    Ok(Outcome::Done)
}

/// Prints the script of a shell.
pub(super) fn completions(args: Completions) -> Result<Outcome, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Arguments::command(), "cragskin", &mut script);
    let script = String::from_utf8(script).map_err(|error| Failure::new(format!("no script can be made: {error}")))?;
    output::print(&script).map(|()| Outcome::Done)
}
