//! `look`: what is in the file. No book is needed.

use super::json;
use crate::args::Look;
use crate::failure::{Failure, Outcome};
use crate::load::{self, Loaded, PlacingWords};
use crate::output;
use crate::report::look::{LookReport, PartRow, unit_table};
use crate::report::shared::{FindingJson, QualityJson};
use cragskin_geom::measure;
use cragskin_geom::soundness::{Checked, Glimpse, open_length};

/// Runs it.
pub(super) fn run(args: &Look) -> Result<Outcome, Failure> {
    let words = PlacingWords::from(&args.placing);
    let report = report(load::model(&args.model)?, &words)?;
    output::print(&if args.json { json(&report)? } else { report.text() })?;
    Ok(Outcome::Done)
}

/// Looks at a loaded file.
pub(crate) fn report(loaded: Loaded, words: &PlacingWords) -> Result<LookReport, Failure> {
    let Loaded { name, drawing } = loaded;
    let settled = words.settle(&drawing)?;
    let receipt = drawing.receipt().clone();
    let names = drawing.parts().to_vec();
    let (size, low) = (drawing.size(), drawing.low());
    let diagonal = size.iter().map(|s| s * s).sum::<f64>().sqrt();
    let one_m = settled.unit.map(|unit| unit.one().metres());
    let parts = measure::parts(drawing.mesh(), diagonal, names.len())
        .iter()
        .zip(names)
        .enumerate()
        .map(|(k, (part, name))| PartRow {
            tag: format!("P{}", k + 1),
            name: name.name,
            material: name.material,
            triangles: part.triangles,
            size_in_file_units: (part.high - part.low).into(),
            area_m2: one_m.map(|m| part.area * m * m),
        })
        .collect();
    let placing_failed = |error| Failure::new(format!("{name}: {error}"));
    let left_out = drawing.left_out();
    let (glimpse, area_m2, volume_m3) = match settled.placing(words) {
        Some(placing) => {
            let checked = Checked::new(drawing.place(placing).map_err(placing_failed)?, left_out);
            let (area, volume) = (checked.area_as_sent, checked.sum_of_parts_m3());
            let Checked { counts, open_runs, findings, quality, .. } = checked;
            (Glimpse { counts, open_runs, findings, quality }, Some(area), volume)
        }
        None => (Glimpse::new(drawing, words.up(), words.front()).map_err(placing_failed)?, None, None),
    };
    let read = receipt.lines.iter().filter(|line| line.code.key() != "not_a_number");
    let findings = glimpse.findings.iter().map(FindingJson::from).chain(read.map(FindingJson::from)).collect();
    let counts = &glimpse.counts;
    Ok(LookReport {
        schema: 1,
        file: name,
        format: receipt.format.to_owned(),
        triangles: receipt.triangles_in_file,
        vertices: counts.vertices,
        size_in_file_units: size,
        low_corner_in_file_units: low,
        unit_table: unit_table(size),
        units: settled.unit.map(|unit| unit.symbol()),
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
        quality: QualityJson::from(&glimpse.quality),
    })
}
