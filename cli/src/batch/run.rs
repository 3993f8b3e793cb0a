//! Models side by side within a memory budget, rows in input order.

use super::{Cache, Input, Memory, Row, Summary};
use crate::args::JobFlags;
use crate::failure::Failure;
use crate::job::Limit;
use crate::request::Request;
use crate::revisions::{Measured, Revisions, requests};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::{Condvar, Mutex, MutexGuard, mpsc};
use std::time::SystemTime;

/// All that every model of a run shares.
#[derive(Debug)]
pub struct Plan {
    /// Flags for every model.
    pub flags: JobFlags,
    /// Limits for every model, beside those of its own job.
    pub limits: Vec<Limit>,
    /// The approved model and its request.
    pub baseline: Option<(std::path::PathBuf, Measured)>,
    /// Memory for models worked on at once.
    pub memory: Memory,
    /// Kept results.
    pub cache: Cache,
    /// Models worked on at once, at most.
    pub workers: usize,
}

/// What happens while it runs.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// A row, in input order.
    Row(Box<Row>),
    /// One more is done, whatever its place; bytes of its file.
    Done(u64),
    /// Something to tell once.
    Note(String),
}

/// Works through numbered inputs and hands over events; stops early when `tell` fails.
///
/// # Errors
/// That of `tell`.
pub fn run(
    plan: &Plan,
    inputs: &[(usize, Input)],
    mut tell: impl FnMut(Event) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let budget = Budget { free: Mutex::new((plan.memory.0, 0)), changed: Condvar::new(), whole: plan.memory.0 };
    let next = Mutex::new(0);
    let (send, events) = mpsc::channel::<(usize, Row, u64, Option<String>)>();
    std::thread::scope(|scope| {
        for _ in 0..plan.workers.max(1) {
            let (send, budget, next) = (send.clone(), &budget, &next);
            scope.spawn(move || {
                loop {
                    // Room is asked for in the order of the list, so a large model waits its turn but not for ever.
                    let mut at = lock(next);
                    let Some((number, input)) = inputs.get(*at) else { break };
                    let place = *at;
                    let size = std::fs::metadata(&input.path).map_or(0, |facts| facts.len());
                    let room = budget.take(need(&input.path, size));
                    *at += 1;
                    drop(at);
                    let work = AssertUnwindSafe(|| one(plan, input));
                    let (result, note) = catch_unwind(work).unwrap_or_else(|_| {
                        (Err("the program failed on this model: please report it, with the model".to_owned()), None)
                    });
                    budget.give(room);
                    let row = Row::new(*number, input.path.display().to_string(), result);
                    // A closed channel: whoever reads the rows has stopped.
                    if send.send((place, row, size, note)).is_err() {
                        break;
                    }
                }
            });
        }
        drop(send);
        let mut waiting = BTreeMap::new();
        let mut due = 0;
        let mut noted = false;
        let told = events.iter().try_for_each(|(place, row, size, note)| {
            waiting.insert(place, row);
            if let Some(note) = note.filter(|_| !std::mem::replace(&mut noted, true)) {
                tell(Event::Note(note))?;
            }
            while let Some(row) = waiting.remove(&due) {
                due += 1;
                tell(Event::Row(Box::new(row)))?;
            }
            tell(Event::Done(size))
        });
        // Rows that nobody can be told of need not be worked out.
        if told.is_err() {
            *lock(&next) = inputs.len();
        }
        told
    })
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // A worker that panicked has left plain numbers behind, which are still right.
    mutex.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
}

/// Memory that models may take together.
struct Budget {
    /// Bytes left, and models at work.
    free: Mutex<(u64, usize)>,
    changed: Condvar,
    whole: u64,
}

impl Budget {
    /// Waits until there is room. A model too large for the budget runs alone.
    fn take(&self, bytes: u64) -> u64 {
        let bytes = bytes.min(self.whole);
        let mut free = lock(&self.free);
        while free.0 < bytes && free.1 > 0 {
            free = self.changed.wait(free).unwrap_or_else(std::sync::PoisonError::into_inner);
        }
        *free = (free.0 - bytes, free.1 + 1);
        bytes
    }

    fn give(&self, bytes: u64) {
        let mut free = lock(&self.free);
        *free = (free.0 + bytes, free.1 - 1);
        self.changed.notify_all();
    }
}

/// Memory that a model is likely to need at its worst, by the length of its file. Measured: a binary STL
/// of a million triangles (50 MB) takes 250 MB, three overlapping shells of as many 360 MB, text of 180 MB takes 330 MB; these are
/// rounded up to nine times the length of a binary file and six of a text.
fn need(path: &Path, length: u64) -> u64 {
    let is_job = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("toml"));
    // The model behind a job file is not known before it is read.
    let length = if is_job { 50 << 20 } else { length };
    (16 << 20) + 9 * length
}

type Done = Result<(Summary, Vec<Limit>), String>;

/// One model: its figures, or why there are none; and a note about the cache.
fn one(plan: &Plan, input: &Input) -> (Done, Option<String>) {
    if let Some(fault) = &input.fault {
        return (Err(fault.clone()), None);
    }
    match figures(plan, &input.path) {
        Ok((summary, limits, note)) => (Ok((summary, limits)), note),
        Err(failure) => (Err(reason(&failure)), None),
    }
}

fn reason(failure: &Failure) -> String {
    failure.to_string().trim_start_matches("error: ").replace('\n', "; ")
}

fn figures(plan: &Plan, path: &Path) -> Result<(Summary, Vec<Limit>, Option<String>), Failure> {
    let request = match &plan.baseline {
        // The approved job's rules are replayed on every model.
        Some((approved, _)) => requests(approved, path, &plan.flags)?[1].clone(),
        None => Request::new(path, &plan.flags)?,
    };
    let bytes = steady(&request.model)?;
    let hash = blake3::hash(&bytes);
    let limits: Vec<Limit> = request.limits.iter().chain(&plan.limits).copied().collect();
    // Neither the name nor the limits change a figure.
    let Request { placing, face, close, skin, accuracy, scope, book, .. } = &request;
    let told = (placing, face, close, skin, accuracy, scope, book);
    let baseline = plan.baseline.as_ref().map(|(_, measured)| measured.hash);
    let key = Cache::key(hash, &format!("{told:?}"), baseline);
    if let Some(summary) = plan.cache.find(key) {
        return Ok((summary, limits, None));
    }
    let loaded = crate::load::parse(&request.model, &bytes)?;
    drop(bytes);
    let summary = match &plan.baseline {
        Some((_, approved)) => Summary::compared(&Revisions::new(Cow::Borrowed(approved), loaded, hash, &request)?),
        None => Summary::of(&Measured::new(loaded, hash, &request)?),
    };
    let note = plan
        .cache
        .keep(key, &summary)
        .err()
        .map(|failure| format!("results are not kept, so a rerun starts over: {}", reason(&failure)));
    Ok((summary, limits, note))
}

/// A file's bytes, read while it did not change. The hash is taken of what was read, so a row never mixes two versions.
fn steady(path: &Path) -> Result<Vec<u8>, Failure> {
    let facts =
        || std::fs::metadata(path).ok().map(|facts| (facts.len(), facts.modified().unwrap_or(SystemTime::UNIX_EPOCH)));
    for _ in 0..3 {
        let before = facts();
        let bytes = crate::load::bytes(path)?;
        if before == facts() {
            return Ok(bytes);
        }
    }
    Err(Failure::new(format!("{} changes while it is read", path.display())).hint("run again when its export is done"))
}
