//! The program: arguments in, report out.

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(cragskin::run(std::env::args_os()))
}
