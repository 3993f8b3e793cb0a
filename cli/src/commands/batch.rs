//! `batch`: a row for every model.

use crate::args::Batch as Args;
use crate::batch::{self, Baseline, Event, Input, Memory, Plan, Row, Shard};
use crate::failure::{Failure, Outcome};
use crate::job::Limit;
use crate::load;
use crate::output::{self, Files};
use crate::progress;
use crate::request::Request;
use crate::revisions::Measured;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// What `--out` writes.
const NAMES: [&str; 3] = ["batch.txt", "batch.csv", "batch.jsonl"];

/// Runs it.
pub(super) fn run(args: &Args, progress: &progress::Progress) -> Result<Outcome, Failure> {
    let shard = args.shard.unwrap_or(Shard::WHOLE);
    let all = batch::collect(&args.paths)?.into_iter().enumerate().filter(|(index, _)| shard.holds(*index));
    let inputs: Vec<_> = all.map(|(index, input)| (index + 1, input)).collect();
    if inputs.is_empty() && shard == Shard::WHOLE {
        return Err(
            Failure::new("no model was found there").hint("models end in .stl or .obj; job files are named one by one")
        );
    }
    let mut files = Files::beside(&reads(args, inputs.iter().map(|(_, input)| input)));
    files.expect(args.out.iter().flat_map(|folder| NAMES.map(|name| folder.join(name))))?;
    let baseline = args.baseline.as_ref().map(|path| {
        let request = Request::new(path, &args.job)?;
        let measured = Measured::read(&request)?;
        Ok::<_, Failure>(Baseline { path: path.clone(), request, measured })
    });
    let plan = Plan {
        flags: args.job.clone(),
        limits: args.limits.as_deref().map_or(Ok(Vec::new()), limits)?,
        baseline: baseline.transpose()?,
        memory: args.memory.unwrap_or_else(Memory::half_of_free),
        workers: std::thread::available_parallelism().map_or(2, usize::from),
    };
    let sizes = inputs.iter().map(|(_, input)| std::fs::metadata(&input.path).map_or(0, |facts| facts.len()));
    let mut progress = Progress::new(progress.is_shown(), inputs.len(), sizes.sum());
    let mut rows: Vec<Row> = Vec::with_capacity(inputs.len());
    batch::run(&plan, &inputs, |event| {
        match event {
            Event::Row(row) => {
                if args.jsonl {
                    output::print(&row.json_line()?)?;
                }
                rows.push(*row);
            }
            Event::Done(bytes) => progress.step(bytes),
            Event::Note(note) => progress.note(&note),
        }
        Ok(())
    })?;
    progress.end();
    let mut written = Vec::new();
    if let Some(folder) = &args.out {
        let lines = rows.iter().map(Row::json_line).collect::<Result<String, _>>()?;
        let texts = [batch::text(&rows), batch::table(&rows)?, lines];
        NAMES.iter().zip(texts).for_each(|(name, text)| files.add(folder.join(name), text));
        written = files.write()?;
    }
    if args.csv {
        output::print(&batch::table(&rows)?)?;
    } else if !args.jsonl && args.out.is_none() {
        output::print(&batch::text(&rows))?;
    } else if !args.jsonl {
        output::told(&written)?;
        output::print(&batch::beyond(&rows))?;
    }
    let any = |state: &str| rows.iter().any(|row| row.state == state);
    Ok(if any("failed") {
        Outcome::SomeFailed
    } else if any("exceeded") || any("unknown") {
        Outcome::LimitExceeded
    } else {
        Outcome::Done
    })
}

/// Every file that the run reads, if it writes any: jobs with their models and books, limits, the approved model. A job that
/// cannot be read becomes a row that says so.
fn reads<'a>(args: &'a Args, inputs: impl Iterator<Item = &'a Input>) -> Vec<PathBuf> {
    if args.out.is_none() {
        return Vec::new();
    }
    let of = |path: &PathBuf| match Request::new(path, &args.job) {
        Ok(request) if request.model != *path => request.reads,
        _ => vec![path.clone()],
    };
    let models = inputs.map(|input| &input.path).chain(&args.baseline);
    models.flat_map(of).chain(args.limits.clone()).chain(args.job.book.clone()).collect()
}

fn limits(path: &Path) -> Result<Vec<Limit>, Failure> {
    let text = load::text(path)?;
    crate::job::read_limits(&text, &load::shown(path)).map_err(|faults| {
        Failure::of_settings(&faults).hint("write for example: [limits] rules = [\"undercut area > 20 sq ft\"]")
    })
}

/// How far it is, on a terminal only: a log wants no progress.
struct Progress {
    shown: bool,
    start: Instant,
    models: usize,
    bytes: u64,
    done: usize,
    done_bytes: u64,
}

impl Progress {
    fn new(shown: bool, models: usize, bytes: u64) -> Self {
        let progress = Self { shown, start: Instant::now(), models, bytes, done: 0, done_bytes: 0 };
        if shown {
            progress.say(&format!("\r\x1b[K0 of {models} models, the first at work"));
        }
        progress
    }

    fn step(&mut self, bytes: u64) {
        self.done += 1;
        self.done_bytes += bytes;
        if self.shown {
            let spent = self.start.elapsed().as_secs_f64();
            let left = spent * (self.bytes - self.done_bytes.min(self.bytes)) as f64 / self.done_bytes.max(1) as f64;
            self.say(&format!("\r\x1b[K{} of {} models, about {left:.0} s left", self.done, self.models));
        }
    }

    fn note(&self, note: &str) {
        self.say(&format!("{}note: {note}\n", if self.shown { "\r\x1b[K" } else { "" }));
    }

    fn end(&self) {
        if self.shown {
            self.say("\r\x1b[K");
        }
    }

    fn say(&self, text: &str) {
        // If standard error is gone there is nobody to tell.
        let mut to = std::io::stderr().lock();
        let _ = to.write_all(text.as_bytes()).and_then(|()| to.flush());
    }
}
