//! Flags and job file to one checked request; a flag wins over the file.

use crate::args::JobFlags;
use crate::book::{Book, Sides};
use crate::failure::Failure;
use crate::job::{Close, Face, Faces, Job, Limit, Rule, Scope, Sheets, State};
use crate::load::{self, PlacingWords};
use crate::store::Store;
use cragskin_geom::scope as geom;
use cragskin_geom::skin::Accuracy;
use cragskin_geom::units::Length;
use std::path::{Path, PathBuf};

/// All that a takeoff needs beside the model's own bytes.
#[derive(Clone, Debug)]
pub struct Request {
    /// Name for the page.
    pub name: String,
    /// The model file.
    pub model: PathBuf,
    /// Every file that is read: job, model and book. No output may replace one.
    pub reads: Vec<PathBuf>,
    /// How it is to be placed.
    pub placing: PlacingWords,
    /// Which face was drawn.
    pub face: Face,
    /// The plane that open sheets are closed against.
    pub close: Option<Close>,
    /// Which side of open sheets is coated.
    pub sheets: Sheets,
    /// Thickness set by hand.
    pub skin: Option<Length>,
    /// How exactly the skin is to be measured.
    pub accuracy: Accuracy,
    /// What is coated and what is bare.
    pub scope: Scope,
    /// What must not be passed.
    pub limits: Vec<Limit>,
    /// The book's file name, for the page.
    pub book_name: String,
    /// The book.
    pub book: Book,
    /// Where what was measured is kept.
    pub store: Store,
}

impl Request {
    /// From a model or job file and the flags.
    ///
    /// # Errors
    /// When a file cannot be read or holds a fault; all faults of a file are told at once.
    pub fn new(path: &Path, flags: &JobFlags) -> Result<Self, Failure> {
        let is_job = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("toml"));
        let job = if is_job { Some(read_job(path)?) } else { None };
        let beside = |name: &str| path.parent().unwrap_or(Path::new("")).join(name);
        let mut scope = job.as_ref().map(|job| job.scope.clone()).unwrap_or_default();
        scope.floor = flags.floor.unwrap_or(scope.floor);
        scope.back = flags.back.unwrap_or(scope.back);
        scope.underside = flags.underside.unwrap_or(scope.underside);
        let rule = |is| move |name: &String| Rule { faces: Faces::Part(name.clone()), is };
        scope.rules.extend(flags.bare_part.iter().map(rule(State::Bare)));
        scope.rules.extend(flags.leave_out.iter().map(rule(State::LeftOut)));
        let placing = PlacingWords::from(&flags.placing);
        let book_file = flags.book.clone().or_else(|| job.as_ref().and_then(|job| job.book.as_deref()).map(beside));
        let (book_name, book) = read_book(book_file.as_deref())?;
        let stem = || path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let name = job.as_ref().map(|job| job.name.clone()).filter(|name| !name.is_empty());
        let model = job.as_ref().map_or_else(|| path.to_owned(), |job| beside(&job.model));
        let reads = [Some(path.to_owned()), Some(model.clone()), book_file].into_iter().flatten().collect();
        let placing = job.as_ref().map_or(placing, |job| placing.or(PlacingWords::from(job)));
        let scaled = placing.scale_to.filter(|_| placing.unit.is_none());
        let scaled = scaled.map_or_else(String::new, |length| format!(" (scaled so that {length})"));
        Ok(Self {
            name: name.unwrap_or_else(stem) + &scaled,
            model,
            reads,
            placing,
            face: flags.face.or(job.as_ref().map(|job| job.face)).unwrap_or_default(),
            close: flags.close.or(job.as_ref().and_then(|job| job.close)),
            sheets: flags.sheets.side().or(job.as_ref().map(|job| job.sheets)).unwrap_or_default(),
            skin: flags.skin.map(|skin| skin.0).or(job.as_ref().and_then(|job| job.skin)),
            accuracy: if flags.fine { Accuracy::FINE } else { Accuracy::USUAL },
            scope,
            limits: job.map(|job| job.limits).unwrap_or_default().into_iter().chain(flags.limit.clone()).collect(),
            book_name,
            book,
            store: flags.store.store(),
        })
    }

    /// The scope with what the book says of it.
    #[must_use]
    pub fn rules(&self) -> geom::Scope {
        let Scope { floor, back, underside, rules } = self.scope.clone();
        let Sides { within_angle, near_floor, tool_reach } = self.book.scope;
        geom::Scope { floor, back, underside, within_angle, near_floor, tool_reach, rules }
    }
}

fn read_job(path: &Path) -> Result<Job, Failure> {
    let job = Job::read(&load::text(path)?, &load::shown(path));
    job.map_err(|faults| {
        Failure::of_settings(&faults).hint("`cragskin job MODEL` prints a starter job to compare with")
    })
}

fn read_book(path: Option<&Path>) -> Result<(String, Book), Failure> {
    let wrong = |faults: crate::settings::Faults| {
        Failure::of_settings(&faults).hint("`cragskin book` prints the default book with every key explained")
    };
    match path {
        None => Ok(("the default book (invented values)".to_owned(), Book::built_in().map_err(wrong)?)),
        Some(path) => {
            let name = load::shown(path);
            let book = Book::read(&load::text(path)?, &name).map_err(wrong)?;
            Ok((path.file_name().unwrap_or_default().to_string_lossy().into_owned(), book))
        }
    }
}
