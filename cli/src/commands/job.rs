//! `job`: a starter job file for a model.

use crate::args::Job as Args;
use crate::failure::{Failure, Outcome};
use crate::job::{Starter, starter_job};
use crate::load::{self, PlacingWords};
use crate::output;
use cragskin_geom::drawing::Placing;
use cragskin_geom::scope::Scope;
use cragskin_geom::units::ModelUnit;

/// Runs it.
pub(super) fn run(args: &Args) -> Result<Outcome, Failure> {
    let words = PlacingWords::from(&args.placing);
    let loaded = load::model(&args.model, &Scope::default(), &words)?;
    let units = words.settle(&loaded.drawing)?.unit.filter(|_| words.scale_to.is_none() || words.unit.is_some());
    let (up, front) = (words.up(), words.front());
    loaded
        .drawing
        .clone()
        .place(Placing { unit: ModelUnit::Metre, up, front })
        .map_err(|error| Failure::of_file(&loaded.name, error))?;
    let parts: Vec<String> =
        loaded.drawing.parts().iter().map(|part| part.name.clone()).filter(|name| !name.is_empty()).collect();
    let stem = args.model.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let start = Starter {
        name: &stem,
        model: &loaded.name,
        units,
        up: words.up,
        // A stated up moves the visitors, so the side that follows is written out too.
        front: words.front.or(words.up.map(|_| words.signed_front())),
        control: words.control,
        scale_to: words.scale_to,
        parts: &parts,
    };
    output::print(&starter_job(&start))?;
    Ok(Outcome::Done)
}
