//! The report of `look`: what we were sent.

use super::shared::{FindingJson, QualityJson};
use super::table::{columns, plain, wrapped};
use cragskin_geom::units::{Area, Length, ModelUnit, Volume, feet_inches, metric_length};
use schemars::JsonSchema;
use serde::Serialize;

/// What is in a file. Fields without a value are null: not known without a unit, or not defined for this model.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LookReport {
    /// Version of this layout.
    pub schema: u32,
    /// The file's name.
    pub file: String,
    /// What kind of file it is.
    pub format: String,
    /// Triangles in the file, polygons counted as split.
    pub triangles: usize,
    /// Distinct positions (-0 equals 0).
    pub vertices: usize,
    /// Size of the whole along the file's axes.
    pub size_in_file_units: [f64; 3],
    /// The low corner in the file's own coordinates.
    pub low_corner_in_file_units: [f64; 3],
    /// The size of the whole in every unit.
    pub unit_table: Vec<UnitRow>,
    /// The unit, if it is known; `scaled` when the file has none and was scaled to a length.
    pub units: Option<&'static str>,
    /// Size of the whole along the file's axes, if the unit is known.
    pub size_m: Option<[f64; 3]>,
    /// The file axis that points up.
    pub up: String,
    /// The file axis that points at the visitor.
    pub front: String,
    /// How the unit came to be, and whether it fits the control length.
    pub notes: Vec<String>,
    /// Named parts in order of first appearance.
    pub parts: Vec<PartRow>,
    /// Bodies joined by edges.
    pub bodies: usize,
    /// Edges with a single triangle.
    pub open_edges: usize,
    /// Their length.
    pub open_edge_length_m: Option<f64>,
    /// Runs of open edges that hang together: holes and rims.
    pub open_edge_runs: usize,
    /// Edges with three triangles or more.
    pub non_manifold_edges: usize,
    /// Vertices - edges + faces.
    pub euler: i64,
    /// No open edge and none with three triangles or more.
    pub closed: bool,
    /// Area as modelled.
    pub area_m2: Option<f64>,
    /// Sum of the volumes of all bodies, hollows taken off.
    pub volume_m3: Option<f64>,
    /// Everything found.
    pub findings: Vec<FindingJson>,
    /// How far each kind of number can be trusted.
    pub quality: QualityJson,
}

/// The whole size if the file were drawn in one unit.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct UnitRow {
    /// The unit.
    pub unit: &'static str,
    /// Along the file's x, y and z.
    pub size_m: [f64; 3],
    /// The longest side lies between 4 and 40 ft, as most pieces do.
    pub likely: bool,
}

/// A part of the file.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PartRow {
    /// Our tag: names by designers are not to be relied on.
    pub tag: String,
    /// Name in the file, if any.
    pub name: String,
    /// Material in the file, if any.
    pub material: String,
    /// Triangles.
    pub triangles: usize,
    /// Size along the file's axes.
    pub size_in_file_units: [f64; 3],
    /// Area.
    pub area_m2: Option<f64>,
}

/// Size of a model in every unit.
#[must_use]
pub fn unit_table(size: [f64; 3]) -> Vec<UnitRow> {
    let longest = size.iter().copied().fold(0.0, f64::max);
    ModelUnit::ALL
        .iter()
        .map(|unit| {
            let metres = unit.one().metres();
            let likely = (4.0..=40.0).contains(&Length::from_metres(longest * metres).feet());
            UnitRow { unit: unit.symbol(), size_m: size.map(|s| s * metres), likely }
        })
        .collect()
}

/// The unit table as text.
#[must_use]
pub fn unit_table_text(rows: &[UnitRow]) -> String {
    let mut cells =
        vec![vec!["if drawn in".to_owned(), "x".into(), "y".into(), "z".into(), "metric".into(), String::new()]];
    for row in rows {
        let lengths = row.size_m.map(Length::from_metres);
        let feet = lengths.map(|l| format!("{:.2} ft", l.feet()));
        let metric = lengths.map(|l| format!("{:.2}", l.metres())).join(" x ") + " m";
        let [x, y, z] = feet;
        cells.push(vec![
            row.unit.to_owned(),
            x,
            y,
            z,
            metric,
            if row.likely { "<- a likely size".into() } else { String::new() },
        ]);
    }
    columns(&cells)
}

/// How to choose a unit.
pub const HOW_TO_CHOOSE: &str = "STL and OBJ carry no unit. Say which line is right with --units, or give a length that you know along a \
     file axis, for example --control \"x=13 ft 9 in\". Ask the designer: length of the longest wall?";

impl LookReport {
    /// The page.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = format!("WHAT WE WERE SENT   {}\n", plain(&self.file));
        let [x, y, z] = self.size_in_file_units;
        out += &format!("  {}, {} triangles, {} distinct corners\n", self.format, self.triangles, self.vertices);
        out += &format!("  size in file units  x {x:.4}  y {y:.4}  z {z:.4}\n\n");
        match self.units {
            Some(unit) => {
                let size = self.size_m.unwrap_or_default().map(Length::from_metres);
                out += &format!("  file unit {unit}: {}\n", size.map(feet_inches).join(" x "));
                out += &format!("  {:width$}  {}\n", "", size.map(metric_length).join(" x "), width = 10 + unit.len());
            }
            None => {
                out += &unit_table_text(&self.unit_table);
                out += &wrapped("  ", HOW_TO_CHOOSE);
            }
        }
        for note in &self.notes {
            out += &wrapped("  ", note);
        }
        out += &format!("  up is {}, visitors stand at {} (change with --up, --front)\n", self.up, self.front);
        out += "\nPARTS\n";
        out += &self.parts_text();
        out += "\nAS MODELLED\n";
        if let Some(area) = self.area_m2 {
            out += &format!("  area    {}\n", Area::from_square_metres(area));
        }
        match (self.volume_m3, self.units) {
            (Some(volume), _) => out += &format!("  volume  {}\n", Volume::from_cubic_metres(volume)),
            (None, Some(_)) => out += "  volume  not defined (see below)\n",
            (None, None) => out += "  no quantity before the unit is known\n",
        }
        out += &format!(
            "  bodies {}, open edges {} (in {} runs), edges with three faces or more {}\n",
            self.bodies, self.open_edges, self.open_edge_runs, self.non_manifold_edges
        );
        out += "\nHOW FAR THE NUMBERS CAN BE TRUSTED\n";
        out += &self.quality.text();
        out += "\nFOUND\n";
        out += &findings_text(&self.findings);
        out
    }

    fn parts_text(&self) -> String {
        const SHOWN: usize = 30;
        let header = ["tag", "name", "material", "triangles", "size in file units", "area"].map(str::to_owned).to_vec();
        let rows = self.parts.iter().take(SHOWN).map(|part| {
            let name = |text: &str| if text.is_empty() { "(no name)".to_owned() } else { plain(text) };
            vec![
                part.tag.clone(),
                name(&part.name),
                plain(&part.material),
                part.triangles.to_string(),
                part.size_in_file_units.map(|s| format!("{s:.2}")).join(" x "),
                part.area_m2.map_or_else(String::new, |m2| format!("{}", Area::from_square_metres(m2))),
            ]
        });
        let mut text = columns(&std::iter::once(header).chain(rows).collect::<Vec<_>>());
        if self.parts.len() > SHOWN {
            text += &format!("  and {} more (all are in --json)\n", self.parts.len() - SHOWN);
        }
        text
    }
}

/// Findings as a list; says so when there are none.
#[must_use]
pub fn findings_text(findings: &[FindingJson]) -> String {
    if findings.is_empty() {
        return "  nothing that touches the numbers\n".to_owned();
    }
    let one = |finding: &FindingJson| {
        let rule: String = finding.rule.iter().map(|line| format!("        {}\n", plain(line))).collect();
        wrapped("  - ", &plain(&finding.text)) + &rule
    };
    findings.iter().map(one).collect()
}
