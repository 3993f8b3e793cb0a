//! `set`: everything that a job needs on paper and as files, from one measurement.

use super::report::Made;
use super::{core, flag, report, sheets, takeoff};
use crate::args::{Report, Set as Args};
use crate::core::Core;
use crate::failure::{Failure, Outcome};
use crate::output::{self, Files};
use crate::progress::{Progress, Stage};
use crate::report::core::CoreReport;
use crate::report::flag::FlagReport;
use crate::report::limits;
use crate::report::takeoff::TakeoffReport;
use crate::request::Request;

/// Runs it. Each file is what the command for it alone writes.
pub(super) fn run(args: &Args, progress: &Progress) -> Result<Outcome, Failure> {
    let request = Request::new(&args.model, &args.job)?;
    let (out, sheets_in, core_in) = (&args.out, args.out.join("sheets"), args.out.join("core"));
    let pages = pages(args);
    let mut files = Files::beside(&request.reads);
    files.expect(
        [
            takeoff::places(out),
            flag::places(out),
            sheets::places(&sheets_in),
            core::places(&core_in, request.face),
            report::places(&pages),
        ]
        .concat(),
    )?;
    let mut made = Made::new(request, progress, &[Stage::Core, Stage::Pictures])?;
    let told = TakeoffReport::new(&made.takeoff, &made.request);
    takeoff::add(out, &told, &mut files)?;
    progress.stage(Stage::Core);
    let cut = Core::new(&made.takeoff, &made.request);
    if let Ok(cut) = &cut {
        let told = CoreReport::new(&made.takeoff, cut, &made.request);
        core::add(&core_in, made.request.face, cut, &told, &mut files)?;
    }
    progress.stage(Stage::Pictures);
    report::add(&pages, &made, &told, &mut files)?;
    sheets::add(&sheets_in, args.paper, &made.takeoff, &made.request, &mut files);
    let uncut = cut.as_ref().err().map(ToString::to_string);
    flag::look(&mut made.takeoff, |_| cut.map(|cut| cut.looked));
    let fixes = FlagReport::new(&made.takeoff, &made.request);
    flag::add(out, &made.takeoff, &fixes, &mut files)?;
    progress.end();
    let mut written = output::by_folder(&files.write()?);
    written.extend(uncut.map(|why| format!("no core: {why}")));
    output::print(&told.brief(&written))?;
    Ok(if limits::any_exceeded(&told.limits) { Outcome::LimitExceeded } else { Outcome::Done })
}

/// Page, print, workbook, tables and pictures, as the command for them has it.
fn pages(args: &Args) -> Report {
    let at = |name: &str| Some(args.out.join(name));
    Report {
        model: args.model.clone(),
        job: args.job.clone(),
        out: at("page.html"),
        pdf: at("takeoff.pdf"),
        paper: args.paper,
        xlsx: at("takeoff.xlsx"),
        csv: at("tables.csv"),
        pictures: at("pictures"),
        against: None,
        date: args.date.clone(),
    }
}
