//! `look`: what is in the file. No book is needed.

use super::json;
use crate::args::Look;
use crate::failure::{Failure, Outcome};
use crate::load::{self, Loaded, PlacingWords};
use crate::notices::{lean_unsettled, scale_figures, unit_witnesses, which_up};
use crate::ours::check_names;
use crate::output;
use crate::progress::{Progress, Stage};
use crate::report::look::{LookReport, PartRow, unit_table};
use crate::report::shared::{FindingJson, QualityJson};
use cragskin_geom::figure::Figure;
use cragskin_geom::glimpse::Glimpse;
use cragskin_geom::intake::{AbsentPart, PartName};
use cragskin_geom::measure::{self, PartMeasure};
use cragskin_geom::scope::{Faces, Rule, Scope, State};
use cragskin_geom::soundness::{CONTACT, Checked, Code, QualityTable, Sheets, open_length};
use cragskin_geom::units::Length;
use nalgebra::{Point3, Vector3};

/// Runs it.
pub(super) fn run(args: &Look, progress: &Progress) -> Result<Outcome, Failure> {
    let words = PlacingWords::from(&args.placing);
    let left_out = |name: &String| Rule { faces: Faces::Part(name.clone()), is: State::LeftOut };
    let scope = Scope { rules: args.leave_out.iter().map(left_out).collect(), ..Scope::default() };
    progress.start(&[Stage::Reading, Stage::Checking], std::fs::metadata(&args.model).map_or(0, |facts| facts.len()));
    let loaded = load::model(&args.model, &scope, &words)?;
    check_names(&loaded.name, loaded.drawing.parts(), &scope)?;
    progress.stage(Stage::Checking);
    let report = report(loaded, &words, args.sheets.side().unwrap_or_default())?;
    progress.end();
    output::print(&if args.json { json(&report)? } else { report.text() })?;
    Ok(Outcome::Done)
}

/// Looks at a loaded file; `sheets` says which side of open sheets is coated.
pub(crate) fn report(loaded: Loaded, words: &PlacingWords, sheets: Sheets) -> Result<LookReport, Failure> {
    let Loaded { name, drawing } = loaded;
    let settled = words.settle(&drawing)?;
    let receipt = drawing.receipt().clone();
    let names = drawing.parts().to_vec();
    let (scale, absent) = (drawing.scale(), drawing.absent_parts().to_vec());
    let in_file_units = |lengths: [f64; 3]| lengths.map(|length| length / scale);
    let (size, low) = (drawing.size(), drawing.low());
    let size_m = settled.unit.map(|unit| size.map(|length| length * unit.one().metres()));
    let diagonal = size.iter().map(|s| s * s).sum::<f64>().sqrt();
    let one_m = settled.unit.map(|unit| unit.one().metres());
    let mut measured = measure::parts(drawing.mesh(), diagonal, names.len());
    for part in &absent {
        let (low, high) = (Point3::origin(), Point3::from(Vector3::from(part.size)));
        measured[part.part as usize] = PartMeasure { triangles: part.triangles, area: part.area, low, high };
    }
    let parts = measured
        .iter()
        .zip(names.clone())
        .enumerate()
        .map(|(k, (part, name))| PartRow {
            tag: format!("P{}", k + 1),
            name: name.name,
            material: name.material,
            triangles: part.triangles,
            size_in_file_units: in_file_units((part.high - part.low).into()),
            area_m2: one_m.map(|m| part.area * m * m),
        })
        .collect();
    let placing_failed = |error| Failure::of_file(&name, error);
    let left_out = drawing.left_out();
    let (glimpse, area_m2, volume_m3) = match settled.placing(words) {
        Some(placing) => {
            let checked =
                Checked::with_sheets(drawing.place(placing).map_err(placing_failed)?, left_out, sheets, CONTACT);
            let (area, volume) = (checked.area_as_sent, checked.sum_of_parts_m3());
            (Glimpse::of(checked), Some(area), volume)
        }
        None => (Glimpse::new(drawing, words.up(), words.front(), sheets).map_err(placing_failed)?, None, None),
    };
    let read = receipt.lines.iter().filter(|line| line.code.key() != "not_a_number");
    let other_up = glimpse.other_up.as_ref().filter(|_| words.up.is_none());
    let quality = other_up.iter().fold(glimpse.quality.clone(), |table, other| QualityTable {
        lean: table.lean.and(lean_unsettled(other)),
        ..table
    });
    let figures = match settled.unit {
        Some(_) => figures_to_settle(&glimpse.figures, &names),
        None => unit_witnesses(&glimpse.figures, &names),
    };
    let asked = words.up.is_some() || other_up.is_some();
    let found = glimpse.findings.iter().filter(|finding| finding.code != Code::OtherWayUp || !asked);
    let findings = other_up.map(which_up).into_iter().chain(figures).chain(found.map(FindingJson::from));
    let findings = findings.chain(left_out_line(&absent)).chain(read.map(FindingJson::from)).collect();
    let counts = &glimpse.counts;
    Ok(LookReport {
        schema: 1,
        file: name,
        format: receipt.format.to_owned(),
        triangles: receipt.triangles_in_file,
        vertices: counts.vertices,
        size_in_file_units: in_file_units(size),
        low_corner_in_file_units: in_file_units(low),
        unit_table: unit_table(in_file_units(size)),
        units: settled.unit.map(|unit| words.unit_word(unit)),
        size_m,
        up: words.up().to_string(),
        front: words.front().to_string(),
        notes: settled.notes,
        parts,
        bodies: counts.bodies,
        open_edges: counts.open_edges,
        open_edge_length_m: settled.unit.map(|_| open_length(&glimpse.open_runs)),
        open_edge_runs: glimpse.open_runs.len(),
        non_manifold_edges: counts.many_edges,
        euler: counts.euler,
        closed: counts.closed(),
        area_m2,
        volume_m3,
        findings,
        quality: QualityJson::from(&quality),
    })
}

/// Figures as high as people, to be settled.
fn figures_to_settle(figures: &[Figure], names: &[PartName]) -> Vec<FindingJson> {
    let people = figures.iter().filter(|f| Figure::is_as_high_as_a_person(Length::from_metres(f.height())));
    scale_figures(&people.cloned().collect::<Vec<_>>(), names)
}

/// What was left out, in one line.
fn left_out_line(absent: &[AbsentPart]) -> Option<FindingJson> {
    let triangles: usize = absent.iter().map(|part| part.triangles).sum();
    let text =
        format!("{triangles} triangles in {} parts are left out, and nothing else is said of them.", absent.len());
    (!absent.is_empty()).then(|| FindingJson { count: absent.len(), ..FindingJson::new("left_out", text) })
}
