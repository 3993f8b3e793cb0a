//! `core`: what the foam shop cuts.

use super::{json, measured};
use crate::args::Core as Args;
use crate::core::Core;
use crate::failure::{Failure, Outcome};
use crate::job::Face;
use crate::output::{self, Files};
use crate::progress::{Progress, Stage};
use crate::report::core::CoreReport;
use crate::request::Request;
use cragskin_geom::export;

/// Runs it.
pub(super) fn run(args: &Args, progress: &Progress) -> Result<Outcome, Failure> {
    let request = Request::new(&args.model, &args.job)?;
    let name = match request.face {
        Face::Finished => "core",
        Face::Core => "finished",
    };
    let mut files = Files::beside(&request.reads);
    if let Some(folder) = &args.out {
        let mut names = vec!["core.txt".to_owned(), "core.json".into(), "no_foam.csv".into()];
        names.extend([format!("{name}.stl"), format!("{name}.obj")]);
        names.extend((request.face == Face::Core).then(|| "core.stl".to_owned()));
        files.expect(names.iter().map(|name| folder.join(name)))?;
    }
    let takeoff = measured(&request, progress, &[Stage::Core])?;
    progress.stage(Stage::Core);
    let core = Core::new(&takeoff, &request)?;
    progress.end();
    let report = CoreReport::new(&takeoff, &core, &request);
    let mut written = Vec::new();
    if let Some(folder) = &args.out {
        files.add(folder.join("core.txt"), report.text());
        files.add(folder.join("core.json"), json(&report)?);
        files.add(folder.join("no_foam.csv"), report.csv()?);
        files.add(folder.join(format!("{name}.stl")), export::stl(&core.far.mesh, name));
        let pieces: Vec<(String, Vec<u32>)> =
            core.far.pieces().into_iter().zip(1..).map(|((_, faces), k)| (format!("{name}_{k}"), faces)).collect();
        files.add(folder.join(format!("{name}.obj")), export::plain_obj(&core.far.mesh, &pieces));
        if let Some(drawn) = &core.drawn {
            files.add(folder.join("core.stl"), export::stl(drawn, "core"));
        }
        written = files.write()?;
    }
    if args.json {
        output::print(&json(&report)?)?;
    } else {
        output::print(&report.text())?;
        output::told(&written)?;
    }
    Ok(if report.limits.iter().any(|limit| limit.exceeded) { Outcome::LimitExceeded } else { Outcome::Done })
}
