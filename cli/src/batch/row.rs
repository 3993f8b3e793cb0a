//! A row: what a model comes to, or why it comes to nothing.

use crate::book::Class;
use crate::failure::Failure;
use crate::figure::{FigureId, Quantity, State};
use crate::job::{Limit, NOT_COMPARED};
use crate::notices::{IDLE_KEYS, THIN_COVER, TOO_LARGE, idle_keys, thin_cover};
use crate::quantities::skin::Applied;
use crate::quantities::{self, Grade, Measured, Measures, Quality};
use crate::report::csv;
use crate::report::limits::LimitRow;
use crate::report::shared::FindingJson;
use crate::report::table::{columns, plain, wrapped};
use crate::request::Request;
use crate::revisions::{Revisions, finds_nothing};
use crate::takeoff::Takeoff;
use cragskin_geom::units::Area;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a model comes to: everything that a limit may watch. SI; null means not defined for this model.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Summary {
    /// Triangles in the file.
    pub triangles: usize,
    /// Grade of the areas: `good`, `lower bound`, `upper bound` or `not defined`, as are the next three.
    pub area_quality: String,
    /// Grade of the leans.
    pub lean_quality: String,
    /// Grade of the skin volume.
    pub skin_quality: String,
    /// Grade of the core volume.
    pub core_quality: String,
    /// Coated area.
    pub coated_area_m2: Option<f64>,
    /// Area that gets no skin.
    pub bare_area_m2: Option<f64>,
    /// Coated area facing up.
    pub top_area_m2: Option<f64>,
    /// Coated sloping area.
    pub slope_area_m2: Option<f64>,
    /// Coated area near plumb.
    pub wall_area_m2: Option<f64>,
    /// Coated area hanging out.
    pub undercut_area_m2: Option<f64>,
    /// Coated area overhead.
    pub soffit_area_m2: Option<f64>,
    /// Area that takes two lifts or more.
    pub two_lift_area_m2: Option<f64>,
    /// Area under lath.
    pub lath_area_m2: Option<f64>,
    /// Coated area near a class limit.
    pub near_limit_area_m2: Option<f64>,
    /// Skin volume.
    pub skin_volume_m3: Option<f64>,
    /// Core volume.
    pub core_volume_m3: Option<f64>,
    /// Wet on the day.
    pub wet_mass_kg: Option<f64>,
    /// Cured.
    pub cured_mass_kg: Option<f64>,
    /// Load under the worst foot, wet on the day.
    pub floor_load_kg_per_m2: Option<f64>,
    /// Total length of open edges.
    pub open_edge_length_m: Option<f64>,
    /// Height.
    pub height_m: Option<f64>,
    /// Bags of mix.
    pub bags: Option<f64>,
    /// Sheets of lath.
    pub sheets: Option<f64>,
    /// Change of the coated area against the approved model, up or down.
    pub area_change: Option<f64>,
    /// What the comparison with the approved model comes to.
    pub verdict: Option<String>,
    /// Surface that is new or gone against the approved model, the larger of the two.
    pub changed_area_m2: Option<f64>,
    /// Area of the new surface off the approved one.
    pub new_surface_m2: Option<f64>,
    /// Area of the approved surface off the new one.
    pub gone_surface_m2: Option<f64>,
    /// Rules of the job that no longer find anything, and why.
    pub rules_that_find_nothing: Vec<String>,
    /// Sides that look bare and are not settled: `floor`, `back`.
    pub open_sides: Vec<String>,
    /// What may be no part of the work, while nobody has said so; counted as coated.
    pub proposed: Vec<String>,
    /// Everything found while reading and checking, as `takeoff` says it.
    pub findings: Vec<FindingJson>,
    /// Figures that are not good, by the name that a limit gives them, and why.
    pub doubts: Vec<Doubt>,
}

/// A figure that is a bound or is not defined.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Doubt {
    /// Its name, as in a limit: `coated area`.
    pub figure: String,
    /// `lower bound`, `upper bound` or `not defined`.
    pub grade: String,
    /// Why.
    pub reason: String,
}

/// A grade by its words; none for others.
pub(super) fn grade_of(words: &str) -> Option<Grade> {
    let grades = [Grade::Good, Grade::LowerBound, Grade::UpperBound, Grade::NotKnown, Grade::NotDefined];
    grades.into_iter().find(|grade| grade.words() == words)
}

/// A figure of a row: which it is, its heading, and where it is kept.
type Column = (FigureId, &'static str, fn(&mut Summary) -> &mut Option<f64>);

/// What a limit may watch, as columns.
const COLUMNS: [Column; FigureId::WATCHED.len()] = [
    (FigureId::CoatedArea, "coated_area_m2", |row| &mut row.coated_area_m2),
    (FigureId::BareArea, "bare_area_m2", |row| &mut row.bare_area_m2),
    (FigureId::ClassArea(Class::Top), "top_area_m2", |row| &mut row.top_area_m2),
    (FigureId::ClassArea(Class::Slope), "slope_area_m2", |row| &mut row.slope_area_m2),
    (FigureId::ClassArea(Class::Wall), "wall_area_m2", |row| &mut row.wall_area_m2),
    (FigureId::ClassArea(Class::Undercut), "undercut_area_m2", |row| &mut row.undercut_area_m2),
    (FigureId::ClassArea(Class::Soffit), "soffit_area_m2", |row| &mut row.soffit_area_m2),
    (FigureId::TwoLiftArea, "two_lift_area_m2", |row| &mut row.two_lift_area_m2),
    (FigureId::LathArea, "lath_area_m2", |row| &mut row.lath_area_m2),
    (FigureId::NearLimitArea, "near_limit_area_m2", |row| &mut row.near_limit_area_m2),
    (FigureId::SkinVolume, "skin_volume_m3", |row| &mut row.skin_volume_m3),
    (FigureId::CoreVolume, "core_volume_m3", |row| &mut row.core_volume_m3),
    (FigureId::TotalWeight(State::Wet), "wet_mass_kg", |row| &mut row.wet_mass_kg),
    (FigureId::TotalWeight(State::Cured), "cured_mass_kg", |row| &mut row.cured_mass_kg),
    (FigureId::FloorLoad(State::Wet), "floor_load_kg_per_m2", |row| &mut row.floor_load_kg_per_m2),
    (FigureId::OpenEdgeLength, "open_edge_length_m", |row| &mut row.open_edge_length_m),
    (FigureId::Height, "height_m", |row| &mut row.height_m),
    (FigureId::Mix, "bags", |row| &mut row.bags),
    (FigureId::Lath, "sheets", |row| &mut row.sheets),
    (FigureId::AreaChange, "area_change", |row| &mut row.area_change),
    (FigureId::ChangedArea, "changed_area_m2", |row| &mut row.changed_area_m2),
];

impl Summary {
    /// Of a takeoff. What is reckoned from the book's rates comes with [`Summary::reckon`].
    #[must_use]
    pub fn of(takeoff: &Takeoff, request: &Request) -> Self {
        let mut out = Self {
            triangles: takeoff.receipt.triangles_in_file,
            area_quality: takeoff.quality.area.grade.words().to_owned(),
            lean_quality: takeoff.quality.lean.grade.words().to_owned(),
            skin_quality: takeoff.quality.skin_volume.grade.words().to_owned(),
            core_quality: takeoff.quality.core_volume.grade.words().to_owned(),
            ..Self::default()
        };
        for watched in FigureId::WATCHED.into_iter().filter(|watched| !watched.is_reckoned() && !watched.is_compared())
        {
            out.take(watched, &takeoff.figures.quantity(watched));
        }
        let nothing = takeoff.scoped.found.iter().filter(|found| found.faces == 0);
        out.rules_that_find_nothing =
            nothing.map(|found| finds_nothing(&found.rule, request.book.scope.within_angle)).collect();
        // What follows from the book alone comes with the book.
        out.findings = takeoff
            .findings()
            .into_iter()
            .filter(|found| ![THIN_COVER, IDLE_KEYS].contains(&found.code.as_str()))
            .collect();
        out.open_sides = takeoff.scoped.questions.iter().map(|question| question.side.to_owned()).collect();
        out.proposed = takeoff.proposed.names.clone();
        out
    }

    fn take(&mut self, watched: FigureId, figure: &Measured<Quantity>) {
        if let Some(slot) = self.slot(watched) {
            *slot = figure.value().copied().map(Quantity::si);
        }
        let Quality { grade, reason } = figure.quality();
        if *grade != Grade::Good {
            let (figure, grade) = (watched.row().limit.unwrap_or_default().to_owned(), grade.words().to_owned());
            self.doubts.push(Doubt { figure, grade, reason: reason.clone() });
        }
    }

    /// Fills in what follows from the measures by the book's rates.
    pub fn reckon(&mut self, request: &Request, measures: &Measures) {
        let book = &request.book;
        let figures = quantities::figures(book, measures);
        for watched in FigureId::WATCHED.into_iter().filter(|watched| watched.is_reckoned()) {
            self.take(watched, &figures.quantity(watched));
        }
        let first = self.findings.iter().take_while(|found| found.code == TOO_LARGE).count();
        let by_the_book = thin_cover(&Applied::new(book, request.skin)).into_iter().chain(idle_keys(book));
        self.findings.splice(first..first, by_the_book);
    }

    /// Fills in what the comparison with the approved model gave.
    pub fn compared(&mut self, revisions: &Revisions<'_>) {
        for watched in FigureId::WATCHED.into_iter().filter(|watched| watched.is_compared()) {
            self.take(watched, &revisions.watched(watched));
        }
        self.verdict = Some(revisions.verdict.key().to_owned());
        self.new_surface_m2 = Some(revisions.shape.new_area.square_metres());
        self.gone_surface_m2 = Some(revisions.shape.old_area.square_metres());
    }

    fn slot(&mut self, watched: FigureId) -> Option<&mut Option<f64>> {
        COLUMNS.iter().find(|column| column.0 == watched).map(|(_, _, slot)| slot(self))
    }

    /// The value that a limit watches, typed again as the limit is, and what it is worth.
    fn figure(&self, limit: &Limit) -> Measured<Quantity> {
        let doubt = self.doubts.iter().find(|doubt| Some(doubt.figure.as_str()) == limit.watched.row().limit);
        let quality = doubt.map_or_else(Quality::good, |doubt| {
            Quality::new(grade_of(&doubt.grade).unwrap_or(Grade::NotDefined), doubt.reason.clone())
        });
        let Some(si) = self.clone().slot(limit.watched).copied().flatten() else {
            return Measured::not_defined(match doubt {
                Some(_) => quality.reason,
                None => NOT_COMPARED[1].to_owned(),
            });
        };
        Measured::new(limit.watched.unit().of_si(si), quality)
    }

    /// Questions of scope: sides and what may be no part of the work.
    fn asked(&self) -> usize {
        self.open_sides.len() + self.proposed.len()
    }

    /// Every doubt in one line.
    fn doubts_in_words(&self) -> String {
        let words = |doubt: &Doubt| format!("{}: {} ({})", doubt.figure, doubt.grade, doubt.reason);
        self.doubts.iter().map(words).collect::<Vec<_>>().join("; ")
    }
}

/// A row of the table. One line of JSON each; rows of several shards may be put together in any order.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Row {
    /// Place in the whole list, from 1, so that rows of shards can be sorted again.
    pub number: usize,
    /// The model or job file.
    pub path: String,
    /// `kept` (every limit kept), `exceeded` (a limit is), `unknown` (none is, but of one it is not known), `measured` (no limit set) or
    /// `failed` (no figures).
    pub state: &'static str,
    /// Why there are no figures.
    pub reason: Option<String>,
    /// The figures.
    #[serde(flatten)]
    pub summary: Option<Summary>,
    /// Limits, each with what was measured.
    pub limits: Vec<LimitRow>,
}

impl Row {
    /// From what a model came to.
    #[must_use]
    pub fn new(number: usize, path: String, result: Result<(Summary, Vec<Limit>), String>) -> Self {
        let (summary, limits) = match result {
            Ok(done) => done,
            Err(reason) => {
                return Self { number, path, state: "failed", reason: Some(reason), summary: None, limits: Vec::new() };
            }
        };
        let limits: Vec<LimitRow> = limits.iter().map(|limit| LimitRow::new(limit, &summary.figure(limit))).collect();
        let stopped = |verdict: &str| limits.iter().any(|limit| limit.exceeded && limit.verdict == verdict);
        let held = if limits.is_empty() { "measured" } else { "kept" };
        let state = ["exceeded", "unknown"].into_iter().find(|verdict| stopped(verdict)).unwrap_or(held);
        Self { number, path, state, reason: None, summary: Some(summary), limits }
    }

    /// A line of JSON with its newline.
    ///
    /// # Errors
    /// None in practice.
    pub fn json_line(&self) -> Result<String, Failure> {
        serde_json::to_string(self)
            .map(|line| line + "\n")
            .map_err(|error| Failure::new(format!("a row cannot be written as JSON: {error}")))
    }

    /// Limits of this verdict that stop a model.
    fn stopped(&self, verdict: &str) -> String {
        let stopped = self.limits.iter().filter(|limit| limit.exceeded && limit.verdict == verdict);
        stopped.map(|limit| format!("{} ({})", limit.rule, limit.measured_words())).collect::<Vec<_>>().join("; ")
    }
}

/// Why rows failed: a cause that several files share is told once.
fn failures(rows: &[Row]) -> String {
    const NAMED: usize = 5;
    let mut causes: Vec<(&str, Vec<&str>)> = Vec::new();
    for row in rows {
        let Some(reason) = &row.reason else { continue };
        let file = row.path.rsplit('/').next().unwrap_or_default();
        let cause = reason.strip_prefix(file).and_then(|rest| rest.strip_prefix(": ")).unwrap_or(reason);
        match causes.iter_mut().find(|(known, _)| *known == cause) {
            Some((_, paths)) => paths.push(&row.path),
            None => causes.push((cause, vec![&row.path])),
        }
    }
    let told = |(cause, paths): &(&str, Vec<&str>)| {
        let mut named = paths.iter().take(NAMED).map(|path| plain(path)).collect::<Vec<_>>().join(", ");
        if paths.len() > NAMED {
            named += &format!(" and {} more", paths.len() - NAMED);
        }
        match paths.len() {
            1 => wrapped("  ", &format!("{named}: {}", plain(cause))),
            count => wrapped("  ", &format!("{count} files: {}", plain(cause))) + &wrapped("      ", &named),
        }
    };
    causes.iter().map(told).collect()
}

/// The rows as a page.
#[must_use]
pub fn text(rows: &[Row]) -> String {
    let headings = [
        "no",
        "state",
        "areas",
        "lean",
        "skin",
        "core",
        "asked",
        "found",
        "coated sq ft",
        "wall",
        "undercut",
        "soffit",
        "two lifts",
        "bags",
        "sheets",
        "verdict",
    ];
    let mut cells = vec![std::iter::once("model").chain(headings).map(str::to_owned).collect::<Vec<_>>()];
    for row in rows {
        let mut line = vec![plain(&row.path), row.number.to_string(), row.state.to_owned()];
        if let Some(s) = &row.summary {
            let feet = |m2: Option<f64>| {
                m2.map_or_else(String::new, |m2| format!("{:.1}", Area::from_square_metres(m2).square_feet()))
            };
            let whole = |n: Option<f64>| n.map_or_else(String::new, |n| n.to_string());
            line.extend([&s.area_quality, &s.lean_quality, &s.skin_quality, &s.core_quality].map(String::clone));
            line.extend([s.asked(), s.findings.len()].map(|n| n.to_string()));
            line.extend(
                [s.coated_area_m2, s.wall_area_m2, s.undercut_area_m2, s.soffit_area_m2, s.two_lift_area_m2].map(feet),
            );
            line.extend([whole(s.bags), whole(s.sheets), s.verdict.clone().unwrap_or_default()]);
        }
        cells.push(line);
    }
    let mut out = columns(&cells);
    out += &failures(rows);
    for row in rows {
        for rule in row.summary.iter().flat_map(|summary| &summary.rules_that_find_nothing) {
            out += &format!("  {}: {}\n", plain(&row.path), plain(rule));
        }
    }
    out += &beyond(rows);
    let count = |state: &str| rows.iter().filter(|row| row.state == state).count();
    let held = match count("measured") {
        all if all + count("failed") == rows.len() => "no limit set".to_owned(),
        none => {
            let [kept, over, unknown] = ["kept", "exceeded", "unknown"].map(count);
            let without = if none > 0 { format!(", {none} without a limit") } else { String::new() };
            format!("{kept} kept, {over} beyond a limit, {unknown} not known{without}")
        }
    };
    out + &format!(
        "  {} models: {held}, {} failed\n  areas, lean, skin, core: what the figures are worth; asked: \
         open questions of scope\n  found: see `cragskin takeoff` of that model, or the JSON lines\n",
        rows.len(),
        count("failed")
    )
}

/// A line for each limit that a model exceeds, or is not known to keep.
#[must_use]
pub fn beyond(rows: &[Row]) -> String {
    let of_row = |row: &Row| {
        let exceeded = row.limits.iter().filter(|limit| limit.exceeded);
        let told = exceeded.map(|limit| {
            let (path, said) = (plain(&row.path), limit.shown());
            format!("  {path}: {said} {} ({})\n", limit.rule, limit.measured_words())
        });
        told.collect::<String>()
    };
    rows.iter().map(of_row).collect()
}

/// The rows as CSV.
///
/// # Errors
/// None in practice.
pub fn table(rows: &[Row]) -> Result<String, Failure> {
    let number = |value: Option<f64>| value.map_or_else(String::new, csv::number);
    let before = [
        "number",
        "path",
        "state",
        "triangles",
        "area_quality",
        "lean_quality",
        "skin_quality",
        "core_quality",
        "open_questions",
        "findings",
    ];
    let after = [
        "new_surface_m2",
        "gone_surface_m2",
        "verdict",
        "rules_that_find_nothing",
        "doubts",
        "limits_exceeded",
        "limits_unknown",
        "reason",
    ];
    let headings = before.into_iter().chain(COLUMNS.map(|(_, heading, _)| heading)).chain(after);
    let mut out: Vec<Vec<String>> = vec![headings.map(str::to_owned).collect()];
    for row in rows {
        let mut s = row.summary.clone().unwrap_or_default();
        let whole = |n: usize| if row.summary.is_some() { n.to_string() } else { String::new() };
        let figures = COLUMNS.map(|(_, _, slot)| number(*slot(&mut s)));
        let (doubts, asked) = (csv::text(&s.doubts_in_words()), whole(s.asked()));
        let before = [
            row.number.to_string(),
            csv::text(&row.path),
            row.state.to_owned(),
            whole(s.triangles),
            s.area_quality,
            s.lean_quality,
            s.skin_quality,
            s.core_quality,
            asked,
            whole(s.findings.len()),
        ];
        let after = [
            number(s.new_surface_m2),
            number(s.gone_surface_m2),
            s.verdict.unwrap_or_default(),
            csv::text(&s.rules_that_find_nothing.join("; ")),
            doubts,
            csv::text(&row.stopped("exceeded")),
            csv::text(&row.stopped("unknown")),
            csv::text(row.reason.as_deref().unwrap_or("")),
        ];
        out.push(before.into_iter().chain(figures).chain(after).collect());
    }
    csv::table(&out)
}
