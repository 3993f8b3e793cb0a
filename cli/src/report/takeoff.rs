//! The report of `takeoff`, in the words that stand on the shop wall.

use super::look::{PartRow, findings_text};
use super::shared::{FindingJson, QualityJson};
use super::table::{columns, plain, wrapped};
use super::zones::{self, ZoneRow};
use crate::book::Class;
use crate::job::{Face, Limit};
use crate::quantities::{OrderLine, cautions::cautions};
use crate::request::Request;
use crate::takeoff::Takeoff;
use cragskin_geom::scope::State;
use cragskin_geom::units::{Area, Length, Volume, feet_inches, metric_length};
use schemars::JsonSchema;
use serde::Serialize;

/// A takeoff. SI; each name carries its unit. Null means not defined for this model.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TakeoffReport {
    /// Version of this layout.
    pub schema: u32,
    /// Name of the job.
    pub job: String,
    /// The model file's name.
    pub file: String,
    /// The material book.
    pub book: String,
    /// Keys that the book leaves out; the default book's values stand in.
    pub book_defaults_used: Vec<&'static str>,
    /// Triangles in the file.
    pub triangles: usize,
    /// The unit of the file.
    pub units: &'static str,
    /// The file axis that points up.
    pub up: String,
    /// The file axis that points at the visitor.
    pub front: String,
    /// Which face was drawn: `finished` or `core`.
    pub face: String,
    /// Width, depth and height as placed.
    pub size_m: [f64; 3],
    /// How the unit came to be, and whether it fits the control length.
    pub notes: Vec<String>,
    /// Parts in order of first appearance.
    pub parts: Vec<ScopedPart>,
    /// Area of everything in the file.
    pub as_modelled_area_m2: f64,
    /// Area that gets the skin. While a side is not settled it is counted here, and marked an upper bound.
    pub coated_area_m2: f64,
    /// The coated area if every side not settled stays bare.
    pub coated_area_if_open_sides_bare_m2: f64,
    /// Area of the piece that gets no skin.
    pub bare_area_m2: f64,
    /// Area of parts that are not ours.
    pub left_out_area_m2: f64,
    /// Scope rules and what each found.
    pub scope: Vec<ScopeRow>,
    /// Sides that look as if they stay bare, while nobody has said so.
    pub open_sides: Vec<OpenSide>,
    /// Coated area by lean class.
    pub area_by_class_m2: ByClass,
    /// Coated area within two degrees of the limit between two neighbouring classes.
    pub near_limit_area_m2: Vec<NearLimit>,
    /// Coated area whose class is another one at lath scale than face by face.
    pub changed_by_smoothing_m2: f64,
    /// Joined patches of one class at lath scale; their areas add up to the coated area.
    pub zones: Vec<ZoneRow>,
    /// Area under lath.
    pub lath_area_m2: f64,
    /// Area that takes two lifts or more.
    pub two_lift_area_m2: f64,
    /// What the coated faces cover seen from the front.
    pub projected_area_m2: f64,
    /// Thickness as placed.
    pub skin_mm: f64,
    /// How that is reckoned.
    pub skin_sum: String,
    /// Cover left after carving where the hand was low.
    pub cover_at_low_pins_mm: f64,
    /// Volume of the skin.
    pub skin_volume_m3: Option<f64>,
    /// The volume is known to within this.
    pub skin_volume_bound_m3: Option<f64>,
    /// Coated area times thickness.
    pub area_times_skin_m3: f64,
    /// The far side of the skin.
    pub skin_outer_area_m2: Option<f64>,
    /// Volume of the foam core.
    pub core_volume_m3: Option<f64>,
    /// What the piece stands on.
    pub footprint_m2: Option<f64>,
    /// What to buy.
    pub order: Vec<OrderRow>,
    /// What it weighs.
    pub weights: Vec<OrderRow>,
    /// Limits that the user set, and whether each was passed.
    pub limits: Vec<LimitRow>,
    /// How far each kind of number can be trusted.
    pub quality: QualityJson,
    /// Everything found.
    pub findings: Vec<FindingJson>,
    /// The usual cautions.
    pub cautions: Vec<String>,
}

/// A part and how much of it is coated.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ScopedPart {
    /// The part.
    #[serde(flatten)]
    pub part: PartRow,
    /// Coated area.
    pub coated_area_m2: f64,
}

/// A scope rule and what it found.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ScopeRow {
    /// The rule in words.
    pub rule: String,
    /// `coated`, `bare` or `left out`.
    pub is: &'static str,
    /// Triangles found; none means that the rule finds nothing in this revision.
    pub triangles: usize,
    /// Their area.
    pub area_m2: f64,
}

/// A side not settled.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct OpenSide {
    /// `floor` or `back`.
    pub side: &'static str,
    /// Its area.
    pub area_m2: f64,
}

/// Coated area by lean class.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[expect(missing_docs, reason = "the five classes")]
pub struct ByClass {
    pub top: f64,
    pub slope: f64,
    pub wall: f64,
    pub undercut: f64,
    pub soffit: f64,
}

/// Area near a class limit.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct NearLimit {
    /// The lean that parts the two classes.
    pub limit_deg: f64,
    /// The class below it.
    pub below: &'static str,
    /// The class above it.
    pub above: &'static str,
    /// Coated area within two degrees of it.
    pub area_m2: f64,
}

/// One line of the order or of the weights.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct OrderRow {
    /// What it is.
    pub item: String,
    /// The figure before rounding, in `unit`.
    pub exact: Option<f64>,
    /// Whole packages to buy, rounded up once for the job.
    pub packages: Option<u64>,
    /// Unit of `exact`, and the package if there are packages.
    pub unit: String,
    /// How it is reckoned, in one line.
    pub sum: String,
    /// `good`, or a bound and why.
    pub quality: String,
}

impl From<&OrderLine> for OrderRow {
    fn from(line: &OrderLine) -> Self {
        Self {
            item: line.item.to_owned(),
            exact: line.exact,
            packages: line.packages,
            unit: line.unit.to_owned(),
            sum: line.sum.clone(),
            quality: line.quality.to_string(),
        }
    }
}

/// A limit and what became of it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LimitRow {
    /// As written.
    pub rule: String,
    /// What was measured; none when the model does not define it.
    pub measured: Option<String>,
    /// True when the limit is passed.
    pub passed: bool,
}

impl TakeoffReport {
    /// Puts a takeoff into the shape that leaves the program.
    #[must_use]
    pub fn new(takeoff: &Takeoff, request: &Request) -> Self {
        let Takeoff { checked, scoped, by_class, skin, .. } = takeoff;
        let m2 = Area::square_metres;
        let unit_m = takeoff.placing.unit.one().metres();
        let parts = takeoff.parts.iter().zip(checked.model.parts()).zip(&takeoff.coated_by_part).enumerate();
        let open: f64 = scoped.questions.iter().map(|question| question.area_m2).sum();
        let skin_defined = takeoff.skin_defined();
        Self {
            schema: 1,
            job: request.name.clone(),
            file: takeoff.file.clone(),
            book: request.book_name.clone(),
            book_defaults_used: request.book.omitted.clone(),
            triangles: takeoff.receipt.triangles_in_file,
            units: takeoff.placing.unit.symbol(),
            up: takeoff.placing.up.to_string(),
            front: takeoff.placing.front.to_string(),
            face: request.face.to_string(),
            size_m: checked.model.size().map(Length::metres),
            notes: takeoff.notes.clone(),
            parts: parts
                .map(|(k, ((part, name), coated))| ScopedPart {
                    part: PartRow {
                        tag: format!("P{}", k + 1),
                        name: name.name.clone(),
                        material: name.material.clone(),
                        triangles: part.triangles,
                        size_in_file_units: ((part.high - part.low) / unit_m).into(),
                        area_m2: Some(part.area),
                    },
                    coated_area_m2: *coated,
                })
                .collect(),
            as_modelled_area_m2: checked.area_as_sent,
            coated_area_m2: m2(takeoff.coated_area),
            coated_area_if_open_sides_bare_m2: m2(takeoff.coated_area) - open,
            bare_area_m2: m2(takeoff.bare_area),
            left_out_area_m2: m2(takeoff.left_out_area),
            scope: scoped
                .found
                .iter()
                .map(|found| ScopeRow {
                    rule: found.rule.clone(),
                    is: state_word(found.is),
                    triangles: found.faces,
                    area_m2: found.area_m2,
                })
                .collect(),
            open_sides: scoped
                .questions
                .iter()
                .map(|question| OpenSide { side: question.side, area_m2: question.area_m2 })
                .collect(),
            area_by_class_m2: ByClass {
                top: m2(by_class[Class::Top]),
                slope: m2(by_class[Class::Slope]),
                wall: m2(by_class[Class::Wall]),
                undercut: m2(by_class[Class::Undercut]),
                soffit: m2(by_class[Class::Soffit]),
            },
            near_limit_area_m2: (0..4)
                .map(|k| NearLimit {
                    limit_deg: (request.book.classes.0[k].degrees() * 1e6).round() / 1e6,
                    below: Class::ALL[k].name(),
                    above: Class::ALL[k + 1].name(),
                    area_m2: m2(takeoff.near_limit[k]),
                })
                .collect(),
            changed_by_smoothing_m2: m2(takeoff.steep.zones.changed_by_smoothing),
            zones: zones::rows(&takeoff.steep),
            lath_area_m2: m2(takeoff.steep.lath.area),
            two_lift_area_m2: m2(takeoff.steep.lifts.two_or_more),
            projected_area_m2: m2(takeoff.elevation),
            skin_mm: takeoff.applied.thickness.millimetres(),
            skin_sum: takeoff.applied.sum.clone(),
            cover_at_low_pins_mm: takeoff.applied.at_low_pins.millimetres(),
            skin_volume_m3: skin_defined.then(|| skin.volume.cubic_metres()),
            skin_volume_bound_m3: skin_defined.then(|| skin.bound.cubic_metres()),
            area_times_skin_m3: (takeoff.coated_area * takeoff.applied.thickness).cubic_metres(),
            skin_outer_area_m2: skin_defined.then(|| m2(skin.far_area)),
            core_volume_m3: takeoff.core.map(Volume::cubic_metres),
            footprint_m2: takeoff.footprint.map(m2),
            order: takeoff.order.iter().map(OrderRow::from).collect(),
            weights: takeoff.weights.iter().map(OrderRow::from).collect(),
            limits: request.limits.iter().map(|limit| limit_row(limit, takeoff)).collect(),
            quality: QualityJson::from(&takeoff.quality),
            findings: takeoff.findings(),
            cautions: cautions(&request.book),
        }
    }

    /// True when a limit that the user set was passed.
    #[must_use]
    pub fn limit_passed(&self) -> bool {
        self.limits.iter().any(|limit| limit.passed)
    }

    /// The page.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = format!("TAKEOFF   {}   ({})\n", plain(&self.job), plain(&self.file));
        out += &wrapped("  ", &format!("book: {}", self.book));
        if !self.book_defaults_used.is_empty() {
            out +=
                &wrapped("  ", &format!("keys the book leaves to the default: {}", self.book_defaults_used.join(", ")));
        }
        out += "\nWHAT WE WERE SENT\n";
        let size = self.size_m.map(Length::from_metres);
        out += &format!(
            "  {} triangles, file unit {}, up is {}, visitors stand at {}\n",
            self.triangles, self.units, self.up, self.front
        );
        out += &format!(
            "  {} wide, {} deep, {} high  ({})\n",
            feet_inches(size[0]),
            feet_inches(size[1]),
            feet_inches(size[2]),
            size.map(metric_length).join(" x ")
        );
        self.notes.iter().for_each(|note| out += &wrapped("  ", note));
        out += &wrapped("  ", self.face_words());
        out += "\nHOW FAR THE NUMBERS CAN BE TRUSTED\n";
        out += &self.quality.text();
        out += "\nWHAT WE COAT\n";
        out += &self.scope_text();
        out += "\nWHERE IT IS STEEP   (coated area by lean; 0 faces up, 90 is plumb, 180 faces down)\n";
        out += &self.class_text();
        out += "\nWHERE LATH GOES AND HOW MANY LIFTS   (joined patches; by tape from the low left corner)\n";
        out += &zones::text(&self.zones);
        out += &format!(
            "  under lath {}; two lifts or more {}; {} changes class at lath scale\n",
            Area::from_square_metres(self.lath_area_m2),
            Area::from_square_metres(self.two_lift_area_m2),
            Area::from_square_metres(self.changed_by_smoothing_m2)
        );
        out += "\nHOW THICK\n";
        let thickness = Length::from_millimetres(self.skin_mm);
        out += &format!("  applied  {thickness}   = {}\n", self.skin_sum);
        let low = Length::from_millimetres(self.cover_at_low_pins_mm);
        out += &format!("  left after carving where the hand was low (one pin in twenty)  {}\n", signed(low));
        out += &format!("  area x thickness  {}\n", Volume::from_cubic_metres(self.area_times_skin_m3));
        match (self.skin_volume_m3, self.skin_volume_bound_m3) {
            (Some(volume), Some(bound)) => {
                let more = 100.0 * (volume / self.area_times_skin_m3 - 1.0);
                out += &format!(
                    "  with corners and hollows  {}, known to {:.2} %, {more:+.1} % on area x thickness\n",
                    Volume::from_cubic_metres(volume),
                    100.0 * bound / volume.max(f64::MIN_POSITIVE)
                );
            }
            _ => out += "  with corners and hollows  not defined\n",
        }
        out += "\nHOW MUCH   (exact, then packages rounded up once for the whole job)\n";
        out += &order_text(&self.order);
        out += "\nWEIGHT\n";
        out += &order_text(&self.weights);
        if !self.limits.is_empty() {
            out += "\nLIMITS SET FOR THIS JOB\n";
            for limit in &self.limits {
                let measured = limit.measured.as_deref().unwrap_or("not defined for this model");
                out += &format!(
                    "  {}  {}   measured {measured}\n",
                    if limit.passed { "PASSED " } else { "kept   " },
                    limit.rule
                );
            }
        }
        out += "\nWHAT WE DO NOT KNOW\n";
        out += &self.questions_text();
        out += "\nCAUTIONS\n";
        self.cautions.iter().for_each(|caution| out += &wrapped("  - ", caution));
        out
    }

    pub(crate) fn face_words(&self) -> &'static str {
        if self.face == Face::Core.to_string() {
            "the model is taken as the CORE FACE, what the foam shop cuts; the skin comes on top, so the finished piece is bigger by \
             the skin on every coated side. If it is what visitors see, say --face finished: the foam is then smaller."
        } else {
            "the model is taken as the FINISHED FACE, what visitors see; the foam is cut smaller by the skin. If it is what the foam \
             shop cuts, say --face core: the finished piece is then bigger by the skin on every coated side."
        }
    }

    fn scope_text(&self) -> String {
        let area = |m2: f64| Area::from_square_metres(m2).to_string();
        let mut rows = vec![
            vec!["as modelled".to_owned(), area(self.as_modelled_area_m2), String::new()],
            vec!["coated".to_owned(), area(self.coated_area_m2), self.quality.mark("area")],
        ];
        if !self.open_sides.is_empty() {
            let sides: Vec<&str> = self.open_sides.iter().map(|open| open.side).collect();
            rows.push(vec![
                format!("coated, if the {} stays bare", sides.join(" and the ")),
                area(self.coated_area_if_open_sides_bare_m2),
                String::new(),
            ]);
        }
        rows.push(vec!["bare".to_owned(), area(self.bare_area_m2), String::new()]);
        if self.left_out_area_m2 > 0.0 {
            rows.push(vec!["left out".to_owned(), area(self.left_out_area_m2), String::new()]);
        }
        rows.push(vec!["front elevation of it".to_owned(), area(self.projected_area_m2), String::new()]);
        let mut out = columns(&rows);
        for found in &self.scope {
            let nothing = if found.triangles == 0 { "   FINDS NOTHING IN THIS MODEL" } else { "" };
            out += &format!("  rule: {} is {}: {}{nothing}\n", plain(&found.rule), found.is, area(found.area_m2));
        }
        for open in &self.open_sides {
            out += &wrapped(
                "  ? ",
                &format!(
                    "the {side} is flat and large, {}: coated or bare? Say --{side} bare or --{side} coated.",
                    area(open.area_m2),
                    side = open.side
                ),
            );
        }
        if self.parts.len() > 1 {
            let header = ["part", "name", "material", "area", "coated"].map(str::to_owned).to_vec();
            let rows = self.parts.iter().map(|row| {
                let part = &row.part;
                let modelled = part.area_m2.map_or_else(String::new, area);
                vec![part.tag.clone(), plain(&part.name), plain(&part.material), modelled, area(row.coated_area_m2)]
            });
            out += &columns(&std::iter::once(header).chain(rows).collect::<Vec<_>>());
        }
        out
    }

    fn class_text(&self) -> String {
        let ByClass { top, slope, wall, undercut, soffit } = self.area_by_class_m2;
        let limit = |k: usize| self.near_limit_area_m2[k].limit_deg;
        let ends = [0.0, limit(0), limit(1), limit(2), limit(3), 180.0];
        let rows: Vec<Vec<String>> = [top, slope, wall, undercut, soffit]
            .iter()
            .zip(Class::ALL)
            .enumerate()
            .map(|(k, (m2, class))| {
                let share = if self.coated_area_m2 > 0.0 { 100.0 * m2 / self.coated_area_m2 } else { 0.0 };
                vec![
                    class.name().to_owned(),
                    format!("{}-{} deg", ends[k], ends[k + 1]),
                    Area::from_square_metres(*m2).to_string(),
                    format!("{share:.1} %"),
                ]
            })
            .collect();
        let mut out = columns(&rows);
        for near in self.near_limit_area_m2.iter().filter(|near| near.area_m2 > 1e-3 * self.coated_area_m2) {
            let area = Area::from_square_metres(near.area_m2);
            out += &format!("  {area} lies within 2 degrees of the {}/{} limit\n", near.below, near.above);
        }
        out
    }

    fn questions_text(&self) -> String {
        findings_text(&self.findings)
    }
}

/// One line a row: item, packages, exact figure; the sum below.
fn order_text(rows: &[OrderRow]) -> String {
    let cells: Vec<Vec<String>> = rows
        .iter()
        .map(|row| {
            let exact = row.exact.map_or_else(|| "not defined".to_owned(), |exact| format!("{exact:.2}"));
            let buy = match row.packages {
                Some(1) => format!("1 {}", row.unit),
                Some(n) => format!("{n} {}s", row.unit).replace("eachs", "each"),
                None if row.exact.is_some() => format!("{exact} {}", row.unit),
                None => "not defined".to_owned(),
            };
            vec![row.item.clone(), buy, if row.quality == "good" { String::new() } else { row.quality.clone() }]
        })
        .collect();
    let heads = columns(&cells.iter().map(|row| row[..2].to_vec()).collect::<Vec<_>>());
    heads
        .lines()
        .zip(rows)
        .zip(&cells)
        .map(|((head, row), cell)| {
            // The reason stands once, in the table of trust.
            let grade = cell[2].split(": ").next().unwrap_or_default();
            let mark = if grade.is_empty() { String::new() } else { format!("   ({grade})") };
            let sum = if row.exact.is_some() { wrapped("      ", &row.sum) } else { String::new() };
            format!("{head}{mark}\n{sum}")
        })
        .collect()
}

fn state_word(state: State) -> &'static str {
    match state {
        State::Coated => "coated",
        State::Bare => "bare",
        State::LeftOut => "left out",
    }
}

/// A length that may be below nothing.
fn signed(length: Length) -> String {
    if length < Length::ZERO {
        format!("less than nothing ({}): foam shows", metric_length(length))
    } else {
        length.to_string()
    }
}

fn limit_row(limit: &Limit, takeoff: &Takeoff) -> LimitRow {
    let measured = takeoff.watched(limit.watched);
    LimitRow {
        rule: limit.to_string(),
        measured: measured.map(|value| value.to_string()),
        passed: measured.and_then(|value| limit.is_hit(value)).unwrap_or(false),
    }
}
