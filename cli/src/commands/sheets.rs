//! `sheets`: elevations for the wall.

use super::measured;
use crate::args::{PaperSize, Sheets as Args};
use crate::failure::{Failure, Outcome};
use crate::output::{self, Files};
use crate::progress::Progress;
use crate::report::limits;
use crate::report::table::plain;
use crate::report::takeoff::ZonesWorth;
use crate::request::Request;
use crate::steep::joint_rules;
use crate::takeoff::Takeoff;
use cragskin_geom::export::{Paper, SheetText, elevation};
use cragskin_geom::units::feet_inches;
use cragskin_geom::view::Side;
use cragskin_geom::zones::joints;
use std::path::{Path, PathBuf};

/// Places of the files in a folder.
pub(super) fn places(folder: &Path) -> Vec<PathBuf> {
    Side::ALL.iter().map(|side| place(folder, *side)).collect()
}

fn place(folder: &Path, side: Side) -> PathBuf {
    folder.join(format!("{}.svg", side.name()))
}

/// Runs it.
pub(super) fn run(args: &Args, progress: &Progress) -> Result<Outcome, Failure> {
    let request = Request::new(&args.model, &args.job)?;
    let mut files = Files::beside(&request.reads);
    files.expect(places(&args.out))?;
    let takeoff = measured(&request, progress, &[])?;
    add(&args.out, args.paper, &takeoff, &request, &mut files);
    output::told(&files.write()?)?;
    let limits = limits::rows(&request.limits, &takeoff);
    output::print(&limits::text(&limits))?;
    Ok(if limits::any_exceeded(&limits) { Outcome::LimitExceeded } else { Outcome::Done })
}

/// Adds the elevations.
pub(super) fn add(folder: &Path, paper: PaperSize, takeoff: &Takeoff, request: &Request, files: &mut Files) {
    let title = format!("{} ({})", plain(&request.name), plain(&takeoff.file));
    let worth = ZonesWorth::of(takeoff);
    let words = worth.words().map(|words| words + ".");
    let note = words.into_iter().chain(worth.questions.iter().cloned()).collect::<Vec<_>>().join(" ");
    let text = SheetText { title: &title, note: &plain(&note), length: &feet_inches };
    let paper = match paper {
        PaperSize::Letter => Paper::Letter,
        PaperSize::A4 => Paper::A4,
    };
    let (mesh, zones) = (takeoff.checked.model.mesh(), &takeoff.steep.zones);
    let joints = joints(mesh, &takeoff.checked.topology, zones, &joint_rules(&request.book));
    for side in Side::ALL {
        let svg = elevation(mesh, worth.is_defined().then_some(zones), &joints, side, paper, &text);
        files.add(place(folder, side), svg);
    }
}
