//! Pieces that several reports carry.

use super::table::{columns, wrapped};
use cragskin_geom::intake::ReceiptLine;
use cragskin_geom::soundness::{Finding, Grade, Quality, QualityTable};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A kind of number, in the order of the table of trust.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "four kinds")]
pub enum Kind {
    Area,
    Lean,
    SkinVolume,
    CoreVolume,
}

/// How far each kind of number can be trusted: `good`, `lower bound`, `upper bound`, `not defined`.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct QualityJson {
    /// Areas.
    pub area: &'static str,
    /// Lean of faces.
    pub lean: &'static str,
    /// Skin volume.
    pub skin_volume: &'static str,
    /// Volume of the foam core.
    pub core_volume: &'static str,
    /// Why, for each that is not good: `[what, why]`.
    pub reasons: Vec<[String; 2]>,
}

impl From<&QualityTable> for QualityJson {
    fn from(table: &QualityTable) -> Self {
        let rows = [
            ("area", &table.area),
            ("lean", &table.lean),
            ("skin volume", &table.skin_volume),
            ("core volume", &table.core_volume),
        ];
        let reasons = rows
            .iter()
            .filter(|(_, quality)| !quality.reason.is_empty())
            .map(|(name, quality)| [(*name).to_owned(), quality.reason.clone()])
            .collect();
        Self {
            area: table.area.grade.words(),
            lean: table.lean.grade.words(),
            skin_volume: table.skin_volume.grade.words(),
            core_volume: table.core_volume.grade.words(),
            reasons,
        }
    }
}

impl QualityJson {
    /// Name, grade and reason of each row, for the page.
    #[must_use]
    pub fn rows(&self) -> [(&'static str, &'static str, &str); 4] {
        let why = |name: &str| self.reasons.iter().find(|[what, _]| what == name).map_or("", |[_, why]| why.as_str());
        [
            ("area", self.area, why("area")),
            ("lean", self.lean, why("lean")),
            ("skin volume", self.skin_volume, why("skin volume")),
            ("core volume", self.core_volume, why("core volume")),
        ]
    }
}

impl QualityJson {
    /// The small table of the first page.
    #[must_use]
    pub fn text(&self) -> String {
        let rows: Vec<Vec<String>> =
            self.rows().iter().map(|(name, grade, _)| vec![(*name).to_owned(), (*grade).to_owned()]).collect();
        let line = |(line, (_, _, why)): (&str, (_, _, &str))| match why {
            "" => format!("{line}\n"),
            why => wrapped(&format!("{line}   "), why),
        };
        columns(&rows).lines().zip(self.rows()).map(line).collect()
    }

    /// The grade of a row, to stand beside a number; empty when good.
    #[must_use]
    pub fn mark(&self, kind: Kind) -> String {
        let grade = self.rows()[kind as usize].1;
        if grade == "good" { String::new() } else { format!("({grade})") }
    }

    /// The same as a word alone; empty where there is no figure too.
    #[must_use]
    pub fn doubt(&self, kind: Kind) -> &'static str {
        let grade = self.rows()[kind as usize].1;
        if [Grade::Good, Grade::NotDefined].map(Grade::words).contains(&grade) { "" } else { grade }
    }

    /// `not known` where the skin is not; empty otherwise. Its other areas are no better known than its volume, but what bounds the one
    /// says nothing of the others.
    pub(crate) fn unknown_skin(&self) -> &'static str {
        if self.skin_volume == Grade::NotKnown.words() { self.skin_volume } else { "" }
    }

    /// The names of the rows of a grade.
    #[must_use]
    pub fn graded(&self, grade: Grade) -> Vec<&'static str> {
        self.rows().into_iter().filter(|row| row.1 == grade.words()).map(|row| row.0).collect()
    }

    /// What is in doubt and why, for people.
    pub(crate) fn doubts(&self) -> impl Iterator<Item = String> {
        let open = self.rows().into_iter().filter(|(_, grade, _)| *grade != Grade::Good.words());
        open.map(|(name, grade, why)| format!("{name}: {grade}: {why}"))
    }
}

/// A grade to stand beside a figure; empty when good, and where there is no figure.
pub(crate) fn doubt(quality: &Quality) -> &'static str {
    match quality.grade {
        Grade::Good | Grade::NotDefined => "",
        grade => grade.words(),
    }
}

/// One thing found while reading or checking.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FindingJson {
    /// What kind, a fixed word.
    pub code: String,
    /// How many.
    pub count: usize,
    /// In plain words: what was found, what it does to the numbers, what to ask the designer.
    pub text: String,
    /// Lines for the job file that settle it, where there are any.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rule: Vec<String>,
}

impl FindingJson {
    /// One that is found once and proposes no rule.
    #[must_use]
    pub fn new(code: impl Into<String>, text: impl Into<String>) -> Self {
        Self { code: code.into(), count: 1, text: text.into(), rule: Vec::new() }
    }
}

impl From<&Finding> for FindingJson {
    fn from(finding: &Finding) -> Self {
        Self { count: finding.count, ..Self::new(finding.code.key(), &finding.text) }
    }
}

impl From<&ReceiptLine> for FindingJson {
    fn from(line: &ReceiptLine) -> Self {
        Self { count: line.count, ..Self::new(line.code.key(), &line.text) }
    }
}
