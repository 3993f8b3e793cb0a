//! `report`: the takeoff for people: page, print, workbook, tables, pictures.

use super::read;
use crate::args::Report as Args;
use crate::failure::{Failure, Outcome};
use crate::load;
use crate::ours::check_names;
use crate::output::{self, Files};
use crate::progress::{Progress, Stage};
use crate::report::compare::CompareReport;
use crate::report::content::Content;
use crate::report::limits;
use crate::report::page::{self, Stamp};
use crate::report::picture::{Colouring, Labels, Scene};
use crate::report::takeoff::TakeoffReport;
use crate::report::{csv, pdf, xlsx};
use crate::request::Request;
use crate::revisions::{Measured, Revisions, requests};
use crate::takeoff::Takeoff;
use cragskin_geom::compare::Comparison;
use cragskin_geom::display::Display;
use cragskin_geom::view::View;
use rayon::prelude::*;
use std::borrow::Cow;
use std::path::PathBuf;

/// Pixels of a still picture.
pub(super) const STILL: [usize; 2] = [1400, 1000];

/// Runs it.
pub(super) fn run(args: &Args, progress: &Progress) -> Result<Outcome, Failure> {
    if [&args.out, &args.pdf, &args.xlsx, &args.csv, &args.pictures].iter().all(|path| path.is_none()) {
        return Err(Failure::new("nothing to write")
            .hint("say --out page.html, --pdf, --xlsx, --csv or --pictures, or several"));
    }
    let (requests, mut files) = planned(args)?;
    let made = match requests {
        (request, None) => Made::new(request, progress, &[Stage::Pictures])?,
        (request, Some(old)) => Made::against(request, &old, progress)?,
    };
    progress.stage(Stage::Pictures);
    let report = TakeoffReport::new(&made.takeoff, &made.request);
    add(args, &made, &report, &mut files)?;
    output::told(&files.write()?)?;
    output::print(&limits::text(&report.limits))?;
    Ok(if limits::any_exceeded(&report.limits) { Outcome::LimitExceeded } else { Outcome::Done })
}

/// Adds what the flags ask for.
pub(super) fn add(args: &Args, made: &Made, report: &TakeoffReport, files: &mut Files) -> Result<(), Failure> {
    let Made { request, key, takeoff, against } = &made;
    let stamp = Stamp { date: args.date.clone(), key: key.clone() };
    let content = Content::new(report, against.as_ref().map(|(report, _)| report));
    let mut labels = Labels::of(takeoff, &request.book.classes);
    let mesh = takeoff.checked.model.mesh();
    let display = args.out.is_some().then(|| Display::of(mesh, page::MOST_TRIANGLES));
    let every_face = || (0..mesh.triangles().len() as u32).collect::<Vec<_>>();
    if args.pictures.is_some() {
        labels = labels.with_thickness(takeoff, request, &every_face());
    } else if let Some(display) = &display {
        labels = labels.with_thickness(takeoff, request, &display.stands_for);
    }
    if let Some((_, shape)) = against {
        labels = labels.with_changes(shape);
    }
    let scene = Scene::of(takeoff, &labels);
    if let (Some(path), Some(display)) = (&args.out, &display) {
        files.add(path, page::html(&content, &scene, display, &stamp)?);
    }
    if let Some(path) = &args.pdf {
        files.add(path, pdf::print(&content, &scene, &stamp, args.paper)?);
    }
    if let Some(path) = &args.xlsx {
        files.add(path, xlsx::workbook(&content, &takeoff.figures, &request.book, &stamp)?);
    }
    if let Some(path) = &args.csv {
        files.add(path, csv::content(&content)?);
    }
    if let Some(folder) = &args.pictures {
        let colourings = Colouring::of(&labels);
        let stills: Vec<_> = View::ALL.into_par_iter().map(|view| scene.stills(view, &colourings, STILL)).collect();
        for (view, stills) in View::ALL.iter().zip(stills) {
            for (colouring, still) in colourings.iter().zip(stills) {
                files.add(folder.join(still_name(*view, *colouring)), still.png()?);
            }
        }
    }
    Ok(())
}

/// The requests for the model and for the revision to compare it with, and the files to write, whose places are checked.
fn planned(args: &Args) -> Result<((Request, Option<Request>), Files), Failure> {
    let (request, old) = match &args.against {
        None => (Request::new(&args.model, &args.job)?, None),
        Some(old) => {
            let [request, old] = requests(&args.model, old, &args.job)?;
            (request, Some(old))
        }
    };
    let reads = request.reads.iter().chain(old.iter().flat_map(|old| &old.reads));
    let mut files = Files::beside(&reads.cloned().collect::<Vec<_>>());
    files.expect(places(args))?;
    Ok(((request, old), files))
}

/// Places of what the flags ask for.
pub(super) fn places(args: &Args) -> Vec<PathBuf> {
    let pages = [&args.out, &args.pdf, &args.xlsx, &args.csv].into_iter().flatten().cloned();
    let stills = args.pictures.iter().flat_map(|folder| {
        let of = move |view: View| Colouring::ALL.map(|colouring| folder.join(still_name(view, colouring)));
        View::ALL.into_iter().flat_map(of)
    });
    pages.chain(stills).collect()
}

fn still_name(view: View, colouring: Colouring) -> String {
    format!("{}-{}.png", view.name(), colouring.name())
}

/// What the writers need.
pub(super) struct Made {
    pub(super) request: Request,
    key: String,
    pub(super) takeoff: Takeoff,
    against: Option<(CompareReport, Comparison)>,
}

impl Made {
    /// Of one model; work that follows is told in advance.
    pub(super) fn new(request: Request, progress: &Progress, follows: &[Stage]) -> Result<Self, Failure> {
        let bytes = read(&request, progress, follows)?;
        let (key, loaded) = (
            content_key(blake3::hash(&bytes)),
            load::parse(&request.model, &bytes, &request.rules(), &request.placing)?,
        );
        drop(bytes);
        check_names(&loaded.name, loaded.drawing.parts(), &request.rules())?;
        let takeoff = Takeoff::observed(loaded, &request, &|stage| progress.stage(stage))?;
        Ok(Self { request, key, takeoff, against: None })
    }

    /// The new revision by its own rules, and the old one by the same.
    fn against(request: Request, old: &Request, progress: &Progress) -> Result<Self, Failure> {
        let bytes = load::bytes(&request.model)?;
        progress.start(&[Stage::Comparing, Stage::Pictures], bytes.len() as u64);
        let (loaded, hash) =
            (load::parse(&request.model, &bytes, &request.rules(), &request.placing)?, blake3::hash(&bytes));
        drop(bytes);
        let measured = Cow::Owned(Measured::read(old)?);
        let revisions = Revisions::new(measured, loaded, hash, &request)?;
        let report = CompareReport::new(&revisions, old, &request);
        let Revisions { new, shape, .. } = revisions;
        Ok(Self { request, key: content_key(hash), takeoff: new.takeoff, against: Some((report, shape)) })
    }
}

/// The first 16 digits of the file's BLAKE3 hash: the same file has the same key, another file another one.
fn content_key(hash: blake3::Hash) -> String {
    hash.to_hex()[..16].to_owned()
}
