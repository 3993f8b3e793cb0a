//! What of a file is ours: the model without all that the rules leave out, which is no part of any size, place or count.

use crate::failure::Failure;
use crate::settings::nearest;
use cragskin_geom::drawing::{Drawing, Model, Placing};
use cragskin_geom::intake::PartName;
use cragskin_geom::measure::{self, PartMeasure};
use cragskin_geom::scope::{Cleared, Faces, Scope, Scoped};
use cragskin_geom::soundness::{Checked, Code, Finding, Sheets};
use cragskin_geom::units::Length;
use nalgebra::{Point3, Vector3};

/// A checked model of what is ours and its scope.
#[derive(Clone, Debug)]
pub struct Ours {
    /// The model.
    pub checked: Checked,
    /// Coated and bare.
    pub scoped: Scoped,
    /// What was taken out.
    pub cleared: Cleared,
}

/// Places a drawing, takes out what the rules leave out, checks what is left and applies the scope to it. Sheets face as
/// said; one that lies within the contact gap on a body is drawn on it.
///
/// # Errors
/// When up and front are the same axis, or nothing is left.
pub fn ours(
    file: &str,
    drawing: Drawing,
    placing: Placing,
    scope: &Scope,
    (sheets, gap): (Sheets, Length),
) -> Result<Ours, Failure> {
    let unread = drawing.left_out();
    let mut model = drawing.place(placing).map_err(|error| Failure::of_file(file, error))?;
    let mut cleared = Cleared::of(&model);
    if let Some(keep) = scope.keeps(&model, false, &mut cleared) {
        let (left, low) = model.keeping(&keep);
        cleared.moved(low);
        model = left;
        some_left(file, &model)?;
    }
    let mut checked = Checked::with_sheets(model, unread, sheets, gap);
    if let Some(keep) = scope.keeps(&checked.model, true, &mut cleared) {
        let (left, low) = checked.keeping(&keep);
        cleared.moved(low);
        checked = with_open_edges_of_its_own(left, sheets, gap);
        some_left(file, &checked.model)?;
    }
    let scoped = scoped(scope, &cleared, &checked);
    Ok(Ours { checked, scoped, cleared })
}

/// The scope of what is left; walls of closed hollows are bare.
#[must_use]
pub fn scoped(scope: &Scope, cleared: &Cleared, checked: &Checked) -> Scoped {
    let hollow = |face: usize| checked.body_facts[checked.bodies.by_face()[face] as usize].cavity;
    scope.apply(cleared, &checked.model, hollow)
}

/// Open edges counted anew: those of what was left out are no findings of ours.
fn with_open_edges_of_its_own(mut checked: Checked, sheets: Sheets, gap: Length) -> Checked {
    let fresh = Checked::with_sheets(checked.model.clone(), 0, sheets, gap);
    let is_open = |finding: &Finding| finding.code == Code::OpenEdges;
    checked.findings.retain(|finding| !is_open(finding));
    checked.findings.extend(fresh.findings.into_iter().filter(is_open));
    checked.findings.sort_by_key(|finding| finding.code);
    checked.counts.open_edges = fresh.counts.open_edges;
    checked.open_runs = fresh.open_runs;
    checked
}

fn some_left(file: &str, model: &Model) -> Result<(), Failure> {
    if model.mesh().triangles().is_empty() { Err(nothing_left(file)) } else { Ok(()) }
}

/// The refusal of a model of which nothing is ours.
#[must_use]
pub fn nothing_left(file: &str) -> Failure {
    Failure::of_file(file, "every part is left out, so there is nothing to take off")
        .hint("look at the rules with `is = \"left out\"` and at --leave-out")
}

/// Triangles, area and box of each part; of a part left out as it was in the file, its box from its own low corner.
#[must_use]
pub fn parts(model: &Model) -> Vec<PartMeasure> {
    let mut parts = measure::parts(model.mesh(), model.diagonal(), model.parts().len());
    for absent in model.absent_parts() {
        let (low, high) = (Point3::origin(), Point3::from(Vector3::from(absent.size)));
        parts[absent.part as usize] = PartMeasure { triangles: absent.triangles, area: absent.area, low, high };
    }
    parts
}

/// Refuses a rule that names a part almost as one of the file is called: it is mistyped, and what it is to leave out or bare would
/// be counted. A name that is like none may be of a part that this revision has no more; that is told with the figures.
///
/// # Errors
/// When a rule names such a part.
pub fn check_names(file: &str, parts: &[PartName], scope: &Scope) -> Result<(), Failure> {
    let names: Vec<String> = parts.iter().flat_map(|part| [part.name.clone(), part.material.clone()]).collect();
    for rule in &scope.rules {
        let Faces::Part(name) = &rule.faces else { continue };
        if parts.iter().any(|part| part.is_called(name)) {
            continue;
        }
        if let Some(meant) = nearest(name, &names) {
            return Err(Failure::of_file(
                file,
                format!("no part or material is called `{name}`. Did you mean `{meant}`?"),
            )
            .hint("correct the name in the job or flag; `cragskin look` lists the parts as they are written"));
        }
    }
    Ok(())
}
