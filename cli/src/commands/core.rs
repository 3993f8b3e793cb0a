//! `core`: what the foam shop cuts.

use super::{json, measured};
use crate::args::Core as Args;
use crate::core::Core;
use crate::failure::{Failure, Outcome};
use crate::job::Face;
use crate::output::{self, Files};
use crate::progress::{Progress, Stage};
use crate::report::core::CoreReport;
use crate::report::limits;
use crate::request::Request;
use cragskin_geom::export;
use std::path::{Path, PathBuf};

/// What the mesh that is cut is called.
const fn name(face: Face) -> &'static str {
    match face {
        Face::Finished => "core",
        Face::Core => "finished",
    }
}

/// Places of the files in a folder.
pub(super) fn places(folder: &Path, face: Face) -> Vec<PathBuf> {
    let mut names = vec!["core.txt".to_owned(), "core.json".into(), "no_foam.csv".into()];
    names.extend([format!("{}.stl", name(face)), format!("{}.obj", name(face))]);
    names.extend((face == Face::Core).then(|| "core.stl".to_owned()));
    names.into_iter().map(|name| folder.join(name)).collect()
}

/// Adds the meshes, and what is said of them.
pub(super) fn add(
    folder: &Path,
    face: Face,
    core: &Core,
    report: &CoreReport,
    files: &mut Files,
) -> Result<(), Failure> {
    let name = name(face);
    files.add(folder.join("core.txt"), report.text());
    files.add(folder.join("core.json"), json(report)?);
    files.add(folder.join("no_foam.csv"), report.csv()?);
    files.add(folder.join(format!("{name}.stl")), export::stl(&core.far.mesh, name));
    let pieces: Vec<(String, Vec<u32>)> =
        core.far.pieces().into_iter().zip(1..).map(|((_, faces), k)| (format!("{name}_{k}"), faces)).collect();
    files.add(folder.join(format!("{name}.obj")), export::plain_obj(&core.far.mesh, &pieces));
    if let Some(drawn) = &core.drawn {
        files.add(folder.join("core.stl"), export::stl(drawn, "core"));
    }
    Ok(())
}

/// Runs it.
pub(super) fn run(args: &Args, progress: &Progress) -> Result<Outcome, Failure> {
    let request = Request::new(&args.model, &args.job)?;
    let mut files = Files::beside(&request.reads);
    files.expect(args.out.iter().flat_map(|folder| places(folder, request.face)))?;
    let takeoff = measured(&request, progress, &[Stage::Core])?;
    progress.stage(Stage::Core);
    let core = Core::new(&takeoff, &request)?;
    progress.end();
    let report = CoreReport::new(&takeoff, &core, &request);
    let mut written = Vec::new();
    if let Some(folder) = &args.out {
        add(folder, request.face, &core, &report, &mut files)?;
        written = files.write()?;
    }
    if args.json {
        output::print(&json(&report)?)?;
    } else {
        output::print(&report.text())?;
        output::told(&written)?;
    }
    Ok(if limits::any_exceeded(&report.limits) { Outcome::LimitExceeded } else { Outcome::Done })
}
