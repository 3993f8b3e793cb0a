//! What the program is at, on standard error when that is a terminal; silent otherwise.

use std::io::{IsTerminal, Write, stderr};
use std::time::Instant;

/// One line that is overwritten from stage to stage and wiped at the end.
#[derive(Debug)]
pub struct Progress {
    shown: bool,
    start: Instant,
}

impl Progress {
    /// Shows only on a terminal.
    #[must_use]
    pub fn new() -> Self {
        Self { shown: stderr().is_terminal(), start: Instant::now() }
    }

    /// Says what begins now.
    pub fn stage(&self, words: &str) {
        if self.shown {
            // Nobody is told when the terminal is gone.
            let _ = write!(stderr(), "\r\x1b[K{:.0} s  {words} ...", self.start.elapsed().as_secs_f64());
            let _ = stderr().flush();
        }
    }
}

impl Default for Progress {
    fn default() -> Self {
        Self::new()
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.shown {
            let _ = write!(stderr(), "\r\x1b[K");
        }
    }
}
