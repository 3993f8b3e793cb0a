//! The report of `flag`: places to settle before foam is cut.

use super::limits::{self, LimitRow};
use super::shared::QualityJson;
use super::table::{columns, plain, wrapped};
use super::takeoff::ZonesWorth;
use super::zones::{self, ZoneRow};
use crate::request::Request;
use crate::steep::MIN_PLACE;
use crate::steep::joint_rules;
use crate::takeoff::Takeoff;
use cragskin_geom::units::{Area, Length, feet_inches};
use cragskin_geom::zones::{Flag, FlagInput, FlagRules, FlagSize, ZoneJoints, flags, joints, yield_stress_at_plumb};
use schemars::JsonSchema;
use serde::Serialize;

/// The fix list, zones and joints of a model.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct FlagReport {
    /// Version of this layout.
    pub schema: u32,
    /// Name of the job.
    pub job: String,
    /// The model file's name.
    pub file: String,
    /// The material book.
    pub book: String,
    /// Thickness as placed.
    pub skin_mm: f64,
    /// What zones, lath, lifts and the places to settle are worth: `good`, or another grade and why.
    pub worth: String,
    /// What to answer where `worth` is `not known` or `not defined`.
    pub questions: Vec<String>,
    /// Numbered places to settle; null where zones are not defined.
    pub flags: Option<Vec<FlagRow>>,
    /// Joined patches of one class; null where they are not defined.
    pub zones: Option<Vec<ZoneRow>>,
    /// Area under lath; null where it is not defined.
    pub lath_area_m2: Option<f64>,
    /// Area that takes two lifts or more; null where it is not defined.
    pub two_lift_area_m2: Option<f64>,
    /// Thickest build and lifts at every fifth degree.
    pub lift_table: Vec<LiftRow>,
    /// Yield stress that the tilt-board reading at plumb asks of the mix: a cross-check only.
    pub yield_stress_at_plumb_pa: f64,
    /// Movement joints of zones that need some; null where zones are not defined.
    pub joints: Option<Vec<JointRow>>,
    /// Limits that the user set, and whether each is kept.
    pub limits: Vec<LimitRow>,
    /// How far each kind of number can be trusted.
    pub quality: QualityJson,
}

/// A place to settle.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct FlagRow {
    /// Its number on the list.
    pub number: u32,
    /// What kind, a fixed word.
    pub code: &'static str,
    /// The zone it is in or beside.
    pub zone: Option<String>,
    /// From left, from front, up, from the low left front corner of the model as placed.
    pub at_m: [f64; 3],
    /// Size, when it is an area.
    pub size_m2: Option<f64>,
    /// Size, when it is a length of edge.
    pub size_m: Option<f64>,
    /// Size in words.
    pub size: String,
    /// Why it matters and what a shop usually does.
    pub text: &'static str,
}

impl From<&Flag> for FlagRow {
    fn from(flag: &Flag) -> Self {
        let (size_m2, size_m, size) = match flag.size {
            FlagSize::Area(area) => (Some(area.square_metres()), None, area.to_string()),
            FlagSize::Length(length) => (None, Some(length.metres()), length.to_string()),
        };
        Self {
            number: flag.number,
            code: flag.code.name(),
            zone: flag.zone.map(|zone| zone.to_string()),
            at_m: flag.at.map(Length::metres),
            size_m2,
            size_m,
            size,
            text: flag.code.text(),
        }
    }
}

/// Lifts on one lean.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LiftRow {
    /// The lean.
    pub lean_deg: f64,
    /// Thickest single build; none on a level top, where nothing slides.
    pub allowed_mm: Option<f64>,
    /// Lifts that the applied thickness takes.
    pub lifts: u32,
    /// Within five percent of what holds.
    pub at_limit: bool,
}

/// Movement joints of one zone.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct JointRow {
    /// The zone.
    pub zone: String,
    /// Fields along the girth and up the height.
    pub fields: [usize; 2],
    /// Upright joints: along the girth from the left end of the zone.
    pub upright_m: Vec<f64>,
    /// Joints across: height above the floor of the model.
    pub across_m: Vec<f64>,
    /// All joints together.
    pub length_m: f64,
    /// The largest field.
    pub largest_field_m2: f64,
    /// Area, length and ratio rule kept.
    pub kept: [bool; 3],
}

/// Sharp edges shorter than this are passed over.
const MIN_EDGE: Length = Length::from_inches(12.0);
/// Shallower water dries by itself.
const WATER_DEPTH: Length = Length::from_inches(0.25);

impl FlagReport {
    /// Makes the list.
    #[must_use]
    pub fn new(takeoff: &Takeoff, request: &Request) -> Self {
        let (mesh, topology) = (takeoff.checked.model.mesh(), &takeoff.checked.topology);
        let (steep, book) = (&takeoff.steep, &request.book);
        let rules = FlagRules {
            skin: takeoff.applied.thickness,
            sharp_turn: book.zones.sharp_turn,
            min_edge: MIN_EDGE,
            trowel: book.zones.reach_trowel,
            nozzle: book.zones.reach_nozzle,
            min_area: MIN_PLACE,
            water_depth: WATER_DEPTH,
        };
        let coated = takeoff.coated();
        let thin_core = takeoff.looked.as_ref().map_or(&[][..], |looked| &looked.thin);
        let input = FlagInput { mesh, topology, coated: &coated, zones: &steep.zones, lifts: &steep.lifts, thin_core };
        let joint_row = |joint: &ZoneJoints| JointRow {
            zone: steep.zones.zones[joint.zone].name.to_string(),
            fields: joint.fields,
            upright_m: joint.upright.iter().map(|l| l.metres()).collect(),
            across_m: joint.across.iter().map(|l| l.metres()).collect(),
            length_m: joint.length.metres(),
            largest_field_m2: joint.field_area.square_metres(),
            kept: joint.kept,
        };
        let lift_row = |(lean, lift): (cragskin_geom::units::Angle, cragskin_geom::zones::Lift)| LiftRow {
            lean_deg: lean.degrees().round(),
            allowed_mm: Some(lift.allowed.millimetres()).filter(|mm| mm.is_finite()),
            lifts: lift.lifts,
            at_limit: lift.at_limit,
        };
        let worth = ZonesWorth::of(takeoff);
        let defined = worth.is_defined();
        let joint_rows = || joints(mesh, topology, &steep.zones, &joint_rules(book)).iter().map(joint_row).collect();
        Self {
            schema: 2,
            job: request.name.clone(),
            file: takeoff.file.clone(),
            book: request.book_name.clone(),
            skin_mm: takeoff.applied.thickness.millimetres(),
            flags: defined.then(|| flags(&input, &rules).iter().map(FlagRow::from).collect()),
            zones: defined.then(|| zones::rows(steep)),
            lath_area_m2: defined.then(|| steep.lath.area.square_metres()),
            two_lift_area_m2: defined.then(|| steep.lifts.two_or_more.square_metres()),
            worth: worth.quality.to_string(),
            questions: worth.questions,
            lift_table: steep.lift_rules.table().into_iter().map(lift_row).collect(),
            yield_stress_at_plumb_pa: yield_stress_at_plumb(book.thickness.build_plumb, book.mix.wet_density),
            joints: defined.then(joint_rows),
            limits: limits::rows(&request.limits, takeoff),
            quality: QualityJson::from(&takeoff.quality),
        }
    }

    /// The page.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = format!("FIX LIST   {}   ({})\n", plain(&self.job), plain(&self.file));
        if self.worth != "good" {
            out += &wrapped("  ", &plain(&format!("places, zones, lath and lifts: {}", self.worth)));
            self.questions.iter().for_each(|question| out += &wrapped("  ? ", &plain(question)));
        }
        if let (Some(flags), Some(zones)) = (&self.flags, &self.zones) {
            out += &flags_text(flags);
            out += "\nWHERE LATH GOES AND HOW MANY LIFTS\n";
            out += &zones::text(zones);
        }
        if let (Some(lath), Some(two)) = (self.lath_area_m2, self.two_lift_area_m2) {
            let [lath, two] = [lath, two].map(Area::from_square_metres);
            out += &format!("  under lath {lath}; two lifts or more {two}\n");
        }
        out += &self.builds_text();
        if let Some(joints) = &self.joints {
            out += &joints_text(joints);
        }
        out += &limits::text(&self.limits);
        out
    }

    /// The thickest build at each lean, which follows from the book alone.
    fn builds_text(&self) -> String {
        let thickness = Length::from_millimetres(self.skin_mm);
        let mut out =
            format!("\nTHICKEST BUILD BY LEAN   (applied {thickness}; from the book's two tilt-board readings)\n");
        let cells: Vec<Vec<String>> = self
            .lift_table
            .iter()
            .filter(|row| row.lean_deg >= 30.0)
            .map(|row| {
                let allowed =
                    row.allowed_mm.map_or_else(|| "any".to_owned(), |mm| Length::from_millimetres(mm).to_string());
                let lifts = format!("{} lift{}", row.lifts, if row.lifts == 1 { "" } else { "s" });
                vec![
                    format!("{} deg", row.lean_deg),
                    allowed,
                    lifts,
                    if row.at_limit { "at limit".into() } else { String::new() },
                ]
            })
            .collect();
        out += &columns(&cells);
        out += &wrapped(
            "  ",
            &format!(
                "for information: to hold the book's build at plumb the fresh mix needs a yield stress of {:.0} Pa (density x gravity x \
                 thickness); render at rest is said to have 100 to 1000 Pa (from memory, no source)",
                self.yield_stress_at_plumb_pa
            ),
        );
        out
    }
}

fn flags_text(flags: &[FlagRow]) -> String {
    let mut out = "  places by tape from the low left front corner of the model: from left, back, up\n".to_owned();
    let mut code = "";
    for flag in flags {
        if flag.code != code {
            code = flag.code;
            out += &format!("\n{}\n", code.replace('_', " "));
            out += &wrapped("  ", flag.text);
        }
        let [x, y, z] = flag.at_m.map(|m| feet_inches(Length::from_inches(Length::from_metres(m).inches().round())));
        let zone = flag.zone.as_deref().map_or_else(String::new, |zone| format!(" in {zone}"));
        out += &format!("  {:>3}  {}{zone}, at {x}, {y}, {z}\n", flag.number, flag.size);
    }
    if flags.is_empty() {
        out += "  nothing to settle by the book's limits\n";
    }
    out
}

fn joints_text(joints: &[JointRow]) -> String {
    let mut out = "\nMOVEMENT JOINTS\n".to_owned();
    if joints.is_empty() {
        out += "  no zone is larger than one field by the book's rules\n";
    }
    let mut number = 0;
    for joint in joints {
        let mut tape = |all: &[f64]| {
            let one = |m: &f64| {
                number += 1;
                format!("{} (J{number})", feet_inches(Length::from_metres(*m)))
            };
            all.iter().map(one).collect::<Vec<_>>().join(", ")
        };
        let mut line = format!(
            "{}: {} by {} fields, joints {}",
            joint.zone,
            joint.fields[0],
            joint.fields[1],
            Length::from_metres(joint.length_m)
        );
        if !joint.upright_m.is_empty() {
            line += &format!("; upright at {} along it from its left end", tape(&joint.upright_m));
        }
        if !joint.across_m.is_empty() {
            line += &format!("; across at {} up", tape(&joint.across_m));
        }
        let kept = |k: usize| if joint.kept[k] { "kept" } else { "NOT kept" };
        line += &format!("; area {}, length {}, ratio {}", kept(0), kept(1), kept(2));
        out += &wrapped("  ", &line);
    }
    out
}
