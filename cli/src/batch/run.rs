//! Models side by side within a memory budget, rows in input order.

use super::{Facts, Input, Memory, Row, Summary, measured_with};
use crate::args::JobFlags;
use crate::failure::Failure;
use crate::job::Limit;
use crate::quantities::skin::Applied;
use crate::request::Request;
use crate::revisions::{Measured, Revisions, requests};
use crate::store::{Key, Kind};
use crate::takeoff::MOST_SQUARES;
use cragskin_geom::drawing::Drawing;
use cragskin_geom::measure;
use cragskin_geom::units::{Area, Length};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::io::Read;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Condvar, Mutex, MutexGuard, mpsc};
use std::time::SystemTime;

/// All that every model of a run shares.
#[derive(Debug)]
pub struct Plan {
    /// Flags for every model.
    pub flags: JobFlags,
    /// Limits for every model, beside those of its own job.
    pub limits: Vec<Limit>,
    /// The approved model.
    pub baseline: Option<Baseline>,
    /// Memory for models worked on at once.
    pub memory: Memory,
    /// Models worked on at once, at most.
    pub workers: usize,
}

/// The approved model that every other is compared with.
#[derive(Debug)]
pub struct Baseline {
    /// Model or job file.
    pub path: PathBuf,
    /// How it was measured.
    pub request: Request,
    /// What it came to.
    pub measured: Measured,
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
    let budget = Budget::of(plan.memory);
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
                    let mut room = budget.take(need(plan, input));
                    *at += 1;
                    drop(at);
                    let work = AssertUnwindSafe(|| one(plan, input, &mut room));
                    let (result, note) = catch_unwind(work).unwrap_or_else(|_| {
                        (Err("the program failed on this model: please report it, with the model".to_owned()), None)
                    });
                    drop(room);
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
    state: Mutex<State>,
    changed: Condvar,
    whole: u64,
}

struct State {
    /// Bytes left.
    free: u64,
    /// Models at work, and those of them that wait for more room.
    working: usize,
    waiting: usize,
}

impl Budget {
    const fn of(memory: Memory) -> Self {
        let state = State { free: memory.0, working: 0, waiting: 0 };
        Self { state: Mutex::new(state), changed: Condvar::new(), whole: memory.0 }
    }

    /// Waits until there is room. A model too large for the budget runs alone.
    fn take(&self, bytes: u64) -> Room<'_> {
        let bytes = bytes.min(self.whole);
        let mut state = lock(&self.state);
        // What is begun comes before what is new.
        while (state.free < bytes || state.waiting > 0) && state.working > 0 {
            state = self.wait(state);
        }
        state.free -= bytes;
        state.working += 1;
        drop(state);
        Room { budget: self, bytes }
    }

    fn wait<'a>(&self, state: MutexGuard<'a, State>) -> MutexGuard<'a, State> {
        self.changed.wait(state).unwrap_or_else(std::sync::PoisonError::into_inner)
    }
}

/// Room that a model at work holds.
struct Room<'a> {
    budget: &'a Budget,
    bytes: u64,
}

impl Room<'_> {
    /// Waits for more room, once the model is read and its size is known. When every model at work waits, one goes on without,
    /// for none would ever end.
    fn grow(&mut self, bytes: u64) {
        let budget = self.budget;
        let bytes = bytes.min(budget.whole - self.bytes);
        let mut state = lock(&budget.state);
        state.waiting += 1;
        if state.waiting == state.working {
            budget.changed.notify_all();
        }
        while state.free < bytes && state.waiting < state.working {
            state = budget.wait(state);
        }
        state.waiting -= 1;
        let bytes = bytes.min(state.free);
        state.free -= bytes;
        self.bytes += bytes;
        budget.changed.notify_all();
    }
}

impl Drop for Room<'_> {
    fn drop(&mut self) {
        let mut state = lock(&self.budget.state);
        state.free += self.bytes;
        state.working -= 1;
        self.budget.changed.notify_all();
    }
}

/// Memory that a model is likely to need for its triangles. Measured: 193 MB for a million triangles in a binary STL of 50 MB, 424 MB
/// for three overlapping shells of as many, 335 MB for an STL text of 180 MB, the grid of the skin included. Of a text the triangles
/// are not known before it is read: the shortest lines usual are taken.
fn need(plan: &Plan, input: &Input) -> u64 {
    if input.fault.is_some() {
        return 0;
    }
    let path = &input.path;
    let is_job = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("toml"));
    // A job that cannot be read fails before it needs anything.
    let model = if is_job { Request::new(path, &plan.flags).map(|request| request.model) } else { Ok(path.to_owned()) };
    let Ok(model) = model else { return BASE };
    let length = std::fs::metadata(&model).map_or(0, |facts| facts.len());
    let triangles = binary_count(&model).filter(|count| 84 + 50 * count == length).unwrap_or_else(|| {
        let is_obj = model.extension().is_some_and(|end| end.eq_ignore_ascii_case("obj"));
        length / if is_obj { 40 } else { 150 }
    });
    BASE + length + EACH * triangles
}

const BASE: u64 = 30 << 20;
/// Bytes a triangle, beside the file's own.
const EACH: u64 = 240;

/// Memory for the search for zones and the grid of the skin, which follow the area whatever the triangles: known once the model is
/// read.
fn grid(drawing: &Drawing, request: &Request) -> Result<u64, Failure> {
    let Some(placing) = request.placing.settle(drawing)?.placing(&request.placing) else { return Ok(0) };
    let diagonal = drawing.size().iter().map(|s| s * s).sum::<f64>().sqrt();
    let unit = placing.unit.one().metres();
    let area = measure::area(drawing.mesh(), diagonal, |_| true) * (unit * unit);
    Ok(grid_bytes(area, Applied::new(&request.book, request.skin).thickness))
}

fn grid_bytes(area: Area, thickness: Length) -> u64 {
    let squares = area / (thickness * thickness);
    // Beyond that a formula takes the place of the grid.
    if squares > MOST_SQUARES {
        return 0;
    }
    (BYTES_A_M2 * area.square_metres() + BYTES_A_SQUARE * squares) as u64
}

/// Bytes a square metre, for zones are looked for at the scale of lath. Measured on blocks; see the test.
const BYTES_A_M2: f64 = 320e3;
/// Bytes a square of the skin's thickness.
const BYTES_A_SQUARE: f64 = 16.0;

/// What the head of a binary STL says. A pipe is left alone: what is read of it is gone.
fn binary_count(path: &Path) -> Option<u64> {
    std::fs::metadata(path).ok().filter(std::fs::Metadata::is_file)?;
    let mut head = [0; 84];
    std::fs::File::open(path).and_then(|mut file| file.read_exact(&mut head)).ok()?;
    Some(u64::from(u32::from_le_bytes([head[80], head[81], head[82], head[83]])))
}

type Done = Result<(Summary, Vec<Limit>), String>;

/// One model: its figures, or why there are none; and a note about the store.
fn one(plan: &Plan, input: &Input, room: &mut Room<'_>) -> (Done, Option<String>) {
    if let Some(fault) = &input.fault {
        return (Err(fault.clone()), None);
    }
    match figures(plan, &input.path, room) {
        Ok((summary, limits, note)) => (Ok((summary, limits)), note),
        Err(failure) => (Err(failure.brief()), None),
    }
}

fn figures(plan: &Plan, path: &Path, room: &mut Room<'_>) -> Result<(Summary, Vec<Limit>, Option<String>), Failure> {
    let request = match &plan.baseline {
        // The approved job's rules are replayed on every model.
        Some(baseline) => requests(&baseline.path, path, &plan.flags)?[1].clone(),
        None => Request::new(path, &plan.flags)?,
    };
    let bytes = steady(&request.model)?;
    let hash = blake3::hash(&bytes);
    let limits: Vec<Limit> = request.limits.iter().chain(&plan.limits).copied().collect();
    let told = |request: &Request| measured_with(request, plan.baseline.is_some());
    let (here, there) = (told(&request), plan.baseline.as_ref().map(|baseline| told(&baseline.request)));
    let approved = plan.baseline.as_ref().map(|baseline| baseline.measured.hash).zip(there.as_deref());
    let models = std::iter::once((hash, here.as_str())).chain(approved);
    let key = models.fold(Key::new(), |key, (bytes, told)| key.with(bytes.as_bytes()).with(&told));
    // As JSON: some of it is left out where it is nothing, which only a format with names can tell.
    let facts = request.store.find(Kind::Row, &key).and_then(|text: String| serde_json::from_str::<Facts>(&text).ok());
    if let Some(summary) = facts.and_then(|facts| facts.summary(&request)) {
        return Ok((summary, limits, None));
    }
    let loaded = crate::load::parse(&request.model, &bytes, &request.rules(), &request.placing)?;
    drop(bytes);
    room.grow(grid(&loaded.drawing, &request)?);
    let facts = match &plan.baseline {
        Some(baseline) => {
            Facts::compared(&Revisions::new(Cow::Borrowed(&baseline.measured), loaded, hash, &request)?, &request)
        }
        None => Facts::of(&Measured::new(loaded, hash, &request)?, &request),
    };
    let summary = facts.summary(&request).ok_or_else(|| Failure::new("a figure has no grade"))?;
    let text = serde_json::to_string(&facts)
        .map_err(|error| Failure::new(format!("a result cannot be written as JSON: {error}")))?;
    let note = request
        .store
        .keep(Kind::Row, &key, &text)
        .err()
        .map(|failure| format!("results are not kept, so a rerun starts over: {}", failure.brief()));
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
    Err(Failure::new(format!("{} changes while it is read", crate::load::shown(path)))
        .hint("run again when its export is done"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicU64, Ordering::SeqCst};

    /// Peak memory of `takeoff` on blocks of twelve triangles, measured (kB, the whole program): enough is asked for, and less than
    /// twice as much from 70 MB up.
    #[test]
    fn a_large_block_of_few_triangles_asks_for_its_grid() {
        for (sides, mm, kb) in [
            ([6.0, 4.0, 3.0], 30.6, 34_652),
            ([12.0, 6.0, 4.0], 30.6, 84_672),
            ([12.0, 6.0, 4.0], 19.0, 86_380),
            ([24.0, 12.0, 6.0], 8.0, 487_544),
            ([24.0, 12.0, 6.0], 12.0, 359_448),
            ([24.0, 12.0, 6.0], 19.0, 283_100),
            ([24.0, 12.0, 6.0], 75.0, 267_384),
            ([50.0, 20.0, 10.0], 19.0, 1_167_992),
            ([50.0, 20.0, 10.0], 75.0, 1_074_728),
        ] {
            let [a, b, c]: [f64; 3] = sides;
            let area = Area::from_square_metres(2.0 * (a * b + b * c + c * a));
            let asked = (BASE + grid_bytes(area, Length::from_millimetres(mm))) as f64 / (1024.0 * f64::from(kb));
            assert!(asked >= 1.0 && asked < if kb > 70_000 { 2.0 } else { 3.0 }, "{sides:?} {mm} mm: {asked}");
        }
        assert_eq!(grid_bytes(Area::from_square_metres(1e6), Length::from_millimetres(19.0)), 0, "by formula");
    }

    /// Eight workers take and grow at once: none waits for ever, and together they hold no more than there is.
    #[test]
    fn room_that_grows_stays_within_the_budget_and_never_locks_up() {
        let budget = Budget::of(Memory(100));
        let held = AtomicU64::new(0);
        let more = |bytes: u64| assert!(held.fetch_add(bytes, SeqCst) + bytes <= 100, "more than there is");
        std::thread::scope(|scope| {
            for worker in 0..8_u64 {
                let (budget, held, more) = (&budget, &held, &more);
                scope.spawn(move || {
                    let mut random = cragskin_fixtures::SplitMix(worker);
                    for _ in 0..500 {
                        let mut room = budget.take(random.next_u64() % 120);
                        let first = room.bytes;
                        more(first);
                        room.grow(random.next_u64() % 200);
                        more(room.bytes - first);
                        // Given back before it is free, so the sum never reads too high.
                        held.fetch_sub(room.bytes, SeqCst);
                    }
                });
            }
        });
        let state = lock(&budget.state);
        assert_eq!((state.free, state.working, state.waiting), (100, 0, 0));
    }
}
