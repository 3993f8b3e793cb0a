//! What the program is at and about how long it will still take, on standard error when that is a terminal; silent
//! otherwise.

use std::io::{IsTerminal, Write, stderr};
use std::sync::{Arc, Mutex, PoisonError, mpsc};
use std::thread::{JoinHandle, spawn};
use std::time::{Duration, Instant};

/// What is worked on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is its work")]
pub enum Stage {
    Reading,
    Checking,
    Exposed,
    SkinAndZones,
    Thin,
    Core,
    Comparing,
    Pictures,
}

impl Stage {
    /// Those of a takeoff.
    pub const TAKEOFF: [Self; 5] = [Self::Reading, Self::Checking, Self::Exposed, Self::SkinAndZones, Self::Thin];

    const fn words(self) -> &'static str {
        match self {
            Self::Reading => "reading the model",
            Self::Checking => "checking the model",
            Self::Exposed => "finding what is exposed",
            Self::SkinAndZones => "measuring the skin, finding zones, lath and lifts",
            Self::Thin => "looking for thin places",
            Self::Core => "finding the core",
            Self::Comparing => "measuring both revisions",
            Self::Pictures => "drawing pictures",
        }
    }

    /// Seconds for a rock of a million triangles on two cores, measured; only their ratios matter once one is done.
    const fn usual(self) -> f64 {
        match self {
            Self::Reading => 0.4,
            Self::Checking => 0.6,
            Self::Exposed => 0.4,
            Self::SkinAndZones => 2.5,
            Self::Thin => 1.5,
            Self::Core => 8.0,
            Self::Comparing => 14.0,
            Self::Pictures => 3.0,
        }
    }
}

/// A line that is drawn again and again and wiped at the end.
#[derive(Debug)]
pub struct Progress {
    shown: bool,
    drawn: Mutex<Option<Drawn>>,
}

#[derive(Debug)]
struct Drawn {
    way: Arc<Mutex<Way>>,
    stop: mpsc::Sender<()>,
    artist: JoinHandle<()>,
}

impl Progress {
    /// Shows only on a terminal, and not when asked to be quiet.
    #[must_use]
    pub fn new(quiet: bool) -> Self {
        Self { shown: !quiet && stderr().is_terminal(), drawn: Mutex::new(None) }
    }

    /// Whether anybody looks.
    #[must_use]
    pub const fn is_shown(&self) -> bool {
        self.shown
    }

    /// Starts on a model of so many bytes that goes through these stages.
    pub fn start(&self, stages: &[Stage], bytes: u64) {
        self.end();
        if self.shown {
            let way = Arc::new(Mutex::new(Way::new(stages, bytes)));
            let (stop, stopped) = mpsc::channel();
            let seen = Arc::clone(&way);
            let artist = spawn(move || {
                // A short job ends before the first stroke.
                let mut wait = Duration::from_millis(400);
                while stopped.recv_timeout(wait) == Err(mpsc::RecvTimeoutError::Timeout) {
                    wait = Duration::from_millis(100);
                    let line = seen.lock().unwrap_or_else(PoisonError::into_inner).line(Instant::now());
                    say(&format!("\r\x1b[K{line}"));
                }
            });
            *self.drawn.lock().unwrap_or_else(PoisonError::into_inner) = Some(Drawn { way, stop, artist });
        }
    }

    /// Says what begins now.
    pub fn stage(&self, stage: Stage) {
        if let Some(drawn) = &*self.drawn.lock().unwrap_or_else(PoisonError::into_inner) {
            drawn.way.lock().unwrap_or_else(PoisonError::into_inner).begin(stage, Instant::now());
        }
    }

    /// Wipes the line.
    pub fn end(&self) {
        if let Some(drawn) = self.drawn.lock().unwrap_or_else(PoisonError::into_inner).take() {
            drop(drawn.stop);
            // It cannot have panicked: it only writes, and does not mind when that fails.
            let _ = drawn.artist.join();
            say("\r\x1b[K");
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.end();
    }
}

fn say(text: &str) {
    // Nobody is told when the terminal is gone.
    let mut to = stderr().lock();
    let _ = to.write_all(text.as_bytes()).and_then(|()| to.flush());
}

/// The way through the stages: what each was expected to take, and how long those behind it did take.
#[derive(Debug)]
struct Way {
    stages: Vec<(Stage, f64)>,
    start: Instant,
    at: usize,
    since: Instant,
}

/// Binary STL: 50 bytes a triangle. Other formats are told by how long the reading took.
const BYTES_OF_THE_USUAL: f64 = 50e6;

impl Way {
    fn new(stages: &[Stage], bytes: u64) -> Self {
        let scale = (bytes as f64 / BYTES_OF_THE_USUAL).max(1e-3);
        let start = Instant::now();
        Self {
            stages: stages.iter().map(|stage| (*stage, scale * stage.usual())).collect(),
            start,
            at: 0,
            since: start,
        }
    }

    fn begin(&mut self, stage: Stage, now: Instant) {
        if let Some(at) = self.stages.iter().position(|(one, _)| *one == stage) {
            (self.at, self.since) = (at, now);
        }
    }

    /// Share done and seconds left. What is behind tells how fast this machine is with this model; a stage that takes
    /// longer than expected creeps on and never comes back.
    fn left(&self, now: Instant) -> (f64, f64) {
        let sum = |stages: &[(Stage, f64)]| stages.iter().map(|(_, seconds)| seconds).sum::<f64>();
        let (behind, whole) = (sum(&self.stages[..self.at]), sum(&self.stages).max(1e-9));
        let took = (self.since - self.start).as_secs_f64();
        // A first stage of a blink says nothing about the others.
        let pace = if took > 0.05 { (took / behind.max(1e-9)).clamp(0.1, 20.0) } else { 1.0 };
        let here = self.stages.get(self.at).map_or(0.0, |(_, seconds)| *seconds);
        let into = (now - self.since).as_secs_f64() / (pace * here).max(1e-9);
        let done = behind + here * (1.0 - (-into).exp());
        (done / whole, pace * (whole - done))
    }

    fn line(&self, now: Instant) -> String {
        let (done, left) = self.left(now);
        let marks = (24.0 * done) as usize;
        let words = self.stages.get(self.at).map_or("", |(stage, _)| stage.words());
        let left = match left {
            s if s < 1.5 => "a second left".to_owned(),
            s if s < 90.0 => format!("about {s:.0} s left"),
            s => format!("about {:.0} min left", s / 60.0),
        };
        format!("[{:.<24}] {:3.0} %  {words}, {left}", "#".repeat(marks), 100.0 * done)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seconds(s: f64) -> Duration {
        Duration::from_secs_f64(s)
    }

    // By hand: a file of the usual size. Reading and checking, 1.0 s by the table, took 2.0 s: this machine takes twice as
    // long, so that the rest, 4.4 s by the table, will take 8.8 s.
    #[test]
    fn the_stages_behind_tell_the_pace_of_those_ahead() {
        let mut way = Way::new(&Stage::TAKEOFF, 50_000_000);
        let start = way.start;
        let (done, left) = way.left(start);
        assert!(done == 0.0 && (left - 5.4).abs() < 1e-9, "{done} {left}");
        way.begin(Stage::Checking, start + seconds(0.8));
        way.begin(Stage::Exposed, start + seconds(2.0));
        let (done, left) = way.left(start + seconds(2.0));
        assert!((done - 1.0 / 5.4).abs() < 1e-9 && (left - 8.8).abs() < 1e-9, "{done} {left}");
        assert_eq!(
            way.line(start + seconds(2.0)),
            "[####....................]  19 %  finding what is exposed, about 9 s left"
        );
    }

    #[test]
    fn it_never_goes_back_and_never_arrives_early() {
        let mut way = Way::new(&Stage::TAKEOFF, 500_000_000);
        let (start, mut last) = (way.start, 0.0);
        for k in 0..400 {
            // Every stage at another pace than expected.
            if k % 80 == 0 {
                way.begin(Stage::TAKEOFF[k / 80], start + seconds(k as f64 * 0.5));
            }
            let (done, left) = way.left(start + seconds(k as f64 * 0.5));
            assert!(done >= last - 1e-12 && done < 1.0 && left > 0.0, "{k}: {done} after {last}, {left} s left");
            last = done;
        }
    }
}
