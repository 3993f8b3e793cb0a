//! `job`: a starter job file for a model.

use crate::args::Job as Args;
use crate::failure::{Failure, Outcome};
use crate::job::{Starter, starter_job};
use crate::load::{self, PlacingWords};
use crate::output;

/// Runs it.
pub(super) fn run(args: &Args) -> Result<Outcome, Failure> {
    let loaded = load::model(&args.model)?;
    let unit = PlacingWords::from(&args.placing).settle(&loaded.drawing)?.unit;
    let parts: Vec<String> =
        loaded.drawing.parts().iter().map(|part| part.name.clone()).filter(|name| !name.is_empty()).collect();
    let stem = args.model.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let start = Starter { name: &stem, model: &loaded.name, units: unit, parts: &parts };
    output::print(&starter_job(&start))?;
    Ok(Outcome::Done)
}
