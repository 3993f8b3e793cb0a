//! `flag`: what to fix before foam is cut.

use super::{json, measured};
use crate::args::Flag as Args;
use crate::core::{Core, Looked};
use crate::failure::{Failure, Outcome};
use crate::output::{self, Files};
use crate::progress::{Progress, Stage};
use crate::report::flag::FlagReport;
use crate::report::limits;
use crate::report::takeoff::ZonesWorth;
use crate::request::Request;
use crate::takeoff::Takeoff;
use cragskin_geom::export;
use std::path::{Path, PathBuf};

/// What `--out` writes.
const NAMES: [&str; 6] = ["flag.txt", "flag.json", "zones.obj", "zones.mtl", "zones.ply", "zones.glb"];

/// Places of the files in a folder.
pub(super) fn places(folder: &Path) -> Vec<PathBuf> {
    NAMES.map(|name| folder.join(name)).into()
}

/// Takes over what a core has found where the takeoff did not look.
pub(super) fn look(takeoff: &mut Takeoff, core: impl FnOnce(&Takeoff) -> Result<Looked, Failure>) {
    if takeoff.looked.is_err() {
        takeoff.looked = core(takeoff).map_err(|failure| failure.to_string());
    }
}

/// Adds the fix list and the model with its zones in colour.
pub(super) fn add(folder: &Path, takeoff: &Takeoff, report: &FlagReport, files: &mut Files) -> Result<(), Failure> {
    let (mesh, worth) = (takeoff.checked.model.mesh(), ZonesWorth::of(takeoff));
    let faces = mesh.triangles().len();
    let groups = match worth.is_defined() {
        true => export::zone_groups(&takeoff.steep.zones, faces, worth.mark()),
        false => export::without_zones(faces),
    };
    let marked = export::obj_of(mesh, &groups, "zones.mtl");
    files.add(folder.join("flag.txt"), report.text());
    files.add(folder.join("flag.json"), json(report)?);
    files.add(folder.join("zones.obj"), marked.obj);
    files.add(folder.join("zones.mtl"), marked.mtl);
    files.add(folder.join("zones.ply"), export::ply_of(mesh, &groups, "zone"));
    files.add(folder.join("zones.glb"), export::glb_of(mesh, &groups));
    Ok(())
}

/// Runs it.
pub(super) fn run(args: &Args, progress: &Progress) -> Result<Outcome, Failure> {
    let request = Request::new(&args.model, &args.job)?;
    let mut files = Files::beside(&request.reads);
    files.expect(args.out.iter().flat_map(|folder| places(folder)))?;
    let mut takeoff = measured(&request, progress, &[Stage::Core])?;
    progress.stage(Stage::Core);
    look(&mut takeoff, |takeoff| Core::new(takeoff, &request).map(|core| core.looked));
    progress.end();
    let report = FlagReport::new(&takeoff, &request);
    let mut written = Vec::new();
    if let Some(folder) = &args.out {
        add(folder, &takeoff, &report, &mut files)?;
        written = files.write()?;
    }
    if args.json {
        output::print(&json(&report)?)?;
    } else if args.out.is_none() {
        output::print(&report.text())?;
    } else {
        output::told(&written)?;
        output::print(&limits::text(&report.limits))?;
    }
    Ok(if limits::any_exceeded(&report.limits) { Outcome::LimitExceeded } else { Outcome::Done })
}
