//! `compare`: two revisions, one page.

use super::json;
use crate::args::Compare as Args;
use crate::failure::{Failure, Outcome};
use crate::load;
use crate::output::{self, Files};
use crate::report::compare::CompareReport;
use crate::revisions::{Measured, Revisions, requests};
use std::borrow::Cow;

/// Runs it.
pub(super) fn run(args: &Args) -> Result<Outcome, Failure> {
    let [old, new] = requests(&args.old, &args.new, &args.job)?;
    let measured = Cow::Owned(Measured::read(&old)?);
    let bytes = load::bytes(&new.model)?;
    let (loaded, hash) = (load::parse(&new.model, &bytes)?, blake3::hash(&bytes));
    drop(bytes);
    let revisions = Revisions::new(measured, loaded, hash, &new)?;
    let report = CompareReport::new(&revisions, &old, &new);
    if let Some(folder) = &args.out {
        let mut files = Files::default();
        files.add(folder.join("compare.txt"), report.text());
        files.add(folder.join("compare.json"), json(&report)?);
        files.add(folder.join("compare.csv"), report.csv()?);
        files.write()?;
    }
    if args.json {
        output::print(&json(&report)?)?;
    } else if args.csv {
        output::print(&report.csv()?)?;
    } else if args.out.is_none() {
        output::print(&report.text())?;
    }
    Ok(if report.limit_passed() { Outcome::LimitPassed } else { Outcome::Done })
}
