//! `compare`: two revisions, one page.

use super::json;
use crate::args::Compare as Args;
use crate::failure::{Failure, Outcome};
use crate::output::{self, Files};
use crate::progress::{Progress, Stage};
use crate::report::compare::CompareReport;
use crate::report::limits;
use crate::report::table::plain;

use crate::revisions::{Revisions, requests};
use cragskin_geom::export::{Paper, SheetText, changed_elevation, glb_of, obj_of, ply_of};
use cragskin_geom::units::feet_inches;
use cragskin_geom::view::Side;
use std::path::{Path, PathBuf};

/// Runs it.
pub(super) fn run(args: &Args, progress: &Progress) -> Result<Outcome, Failure> {
    let [old, new] = requests(&args.old, &args.new, &args.job)?;
    let mut files = Files::beside(&[&old.reads[..], &new.reads[..]].concat());
    files.expect(args.out.iter().flat_map(|folder| written(folder)))?;
    let bytes = [&old.model, &new.model].map(|path| std::fs::metadata(path).map_or(0, |facts| facts.len()));
    progress.start(&[Stage::Comparing], bytes.iter().sum::<u64>() / 2);
    let revisions = Revisions::read(&old, &new)?;
    let report = CompareReport::new(&revisions, &old, &new);
    progress.end();
    let mut done = Vec::new();
    if let Some(folder) = &args.out {
        files.add(folder.join("compare.txt"), report.text());
        files.add(folder.join("compare.json"), json(&report)?);
        files.add(folder.join("compare.csv"), report.csv()?);
        pictures(&revisions, folder, &mut files);
        done = files.write()?;
    }
    if args.json {
        output::print(&json(&report)?)?;
    } else if args.csv {
        output::print(&report.csv()?)?;
    } else if args.out.is_none() {
        output::print(&report.text())?;
    } else {
        output::told(&done)?;
        output::print(&limits::text(&report.limits))?;
    }
    Ok(if limits::any_exceeded(&report.limits) { Outcome::LimitExceeded } else { Outcome::Done })
}

/// What `--out` writes.
fn written(folder: &Path) -> Vec<PathBuf> {
    let pages = ["compare.txt", "compare.json", "compare.csv"].map(str::to_owned);
    let models = ["obj", "mtl", "ply", "glb"].map(|end| format!("changed.{end}"));
    let views = Side::ALL.map(|view| format!("changed_{}.svg", view.name()));
    pages.into_iter().chain(models).chain(views).map(|name| folder.join(name)).collect()
}

/// The new model with its changed places marked and what is gone of the old one beside them, and elevations with them hatched.
fn pictures(revisions: &Revisions<'_>, folder: &Path, files: &mut Files) {
    let takeoff = &revisions.new.takeoff;
    let marked = revisions.shape.marked(takeoff.checked.model.mesh());
    let (mesh, groups) = revisions.shape.with_gone(&marked, revisions.old.takeoff.checked.model.mesh());
    let obj = obj_of(&mesh, &groups, "changed.mtl");
    files.add(folder.join("changed.obj"), obj.obj);
    files.add(folder.join("changed.mtl"), obj.mtl);
    files.add(folder.join("changed.ply"), ply_of(&mesh, &groups, "change"));
    files.add(folder.join("changed.glb"), glb_of(&mesh, &groups));
    let title = format!("{} -> {}", plain(&revisions.old.takeoff.file), plain(&takeoff.file));
    let text = SheetText { title: &title, note: "", length: &feet_inches };
    for view in Side::ALL {
        let svg = changed_elevation(&marked, &revisions.shape, &takeoff.steep.zones, view, Paper::Letter, &text);
        files.add(folder.join(format!("changed_{}.svg", view.name())), svg);
    }
}
