//! `takeoff`: the main job on one model.

use super::{json, measured};
use crate::args::Takeoff as Args;
use crate::failure::{Failure, Outcome};
use crate::output::{self, Files};
use crate::progress::Progress;
use crate::report::csv;
use crate::report::limits;
use crate::report::picture::{Colouring, Labels, Scene};
use crate::report::takeoff::TakeoffReport;
use crate::request::Request;
use cragskin_geom::view::View;
use std::path::{Path, PathBuf};

/// What `--out` writes.
const NAMES: [&str; 3] = ["takeoff.txt", "takeoff.json", "takeoff.csv"];

/// Places of the files in a folder.
pub(super) fn places(folder: &Path) -> Vec<PathBuf> {
    NAMES.map(|name| folder.join(name)).into()
}

/// Adds the takeoff as text, JSON and CSV.
pub(super) fn add(folder: &Path, report: &TakeoffReport, files: &mut Files) -> Result<(), Failure> {
    let texts = [report.text(), json(report)?, csv::takeoff(report)?];
    NAMES.iter().zip(texts).for_each(|(name, text)| files.add(folder.join(name), text));
    Ok(())
}

/// Runs it.
pub(super) fn run(args: &Args, progress: &Progress) -> Result<Outcome, Failure> {
    let request = Request::new(&args.model, &args.job)?;
    let mut files = Files::beside(&request.reads);
    files.expect(args.picture.iter().cloned().chain(args.out.iter().flat_map(|folder| places(folder))))?;
    let takeoff = measured(&request, progress, &[])?;
    let report = TakeoffReport::new(&takeoff, &request);
    if let Some(path) = &args.picture {
        let labels = Labels::of(&takeoff, &request.book.classes);
        // By lean; where that is not defined, what is coated and what is bare.
        let first = &Colouring::of(&labels)[..1];
        let stills = Scene::of(&takeoff, &labels).stills(View::ThreeQuarter, first, super::report::STILL);
        for still in stills {
            files.add(path, still.png()?);
        }
    }
    if let Some(folder) = &args.out {
        add(folder, &report, &mut files)?;
    }
    let written = files.write()?;
    if args.json {
        output::print(&json(&report)?)?;
    } else if args.csv {
        output::print(&csv::takeoff(&report)?)?;
    } else if args.full {
        output::print(&report.text())?;
        output::told(&written)?;
    } else {
        output::print(&report.brief(&output::by_folder(&written)))?;
    }
    Ok(if limits::any_exceeded(&report.limits) { Outcome::LimitExceeded } else { Outcome::Done })
}
