//! The report of `takeoff`.

mod brief;
mod feet;
mod text;
mod worth;

pub use feet::FootRow;
pub(crate) use worth::ZonesWorth;

use super::core::NoFoam;
use super::limits::{self, LimitRow};
use super::look::PartRow;
use super::shared::{FindingJson, QualityJson};

use super::zones::{self, ZoneRow};
use crate::book::{Book, Class};
use crate::figure::{Figure, FigureId, Section};
use crate::job::Face;
use crate::quantities::{Grade, Quality, cautions::cautions};
use crate::request::Request;
use crate::steep::Search;
use crate::takeoff::Takeoff;
use cragskin_geom::scope::{Question, Scoped, State};
use cragskin_geom::skin::OpenSkin;
use cragskin_geom::solid::Overlap;
use cragskin_geom::units::{Angle, Area, Length};
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
    /// Every value is that of the default book, which is invented.
    #[serde(skip)]
    pub book_is_default: bool,
    /// Triangles in the file.
    pub triangles: usize,
    /// The unit of the file; `scaled` when it has none and was scaled to a length.
    pub units: &'static str,
    /// The file axis that points up.
    pub up: String,
    /// The file axis that points at the visitor.
    pub front: String,
    /// Which face was drawn: `finished` or `core`.
    pub face: String,
    /// Width, depth and height as placed.
    pub size_m: [f64; 3],
    /// Width, depth and height of the finished piece: as placed for a finished face, with the skin on for a core face.
    pub finished_size_m: [f64; 3],
    /// How the unit came to be, and whether it fits the control length.
    pub notes: Vec<String>,
    /// Parts in order of first appearance.
    pub parts: Vec<ScopedPart>,
    /// Area of everything in the file.
    pub as_modelled_area_m2: f64,
    /// Area that gets the skin. While a side is not settled it is counted here, and marked an upper bound.
    pub coated_area_m2: Option<f64>,
    /// The coated area if every side not settled stays bare.
    pub coated_area_if_open_sides_bare_m2: Option<f64>,
    /// The coated area if what is proposed for leaving out is left out. Null where nothing is proposed, and where no rule says it.
    pub coated_area_if_left_out_m2: Option<f64>,
    /// Area of the piece that gets no skin.
    pub bare_area_m2: Option<f64>,
    /// Area of parts that are not ours.
    pub left_out_area_m2: f64,
    /// Area of triangles that lie exactly on others and are counted once.
    pub drawn_again_area_m2: f64,
    /// Area of ours that is in the open, coated or bare.
    pub exposed_area_m2: f64,
    /// Area inside another body, which nobody sees or coats.
    pub buried_area_m2: f64,
    /// Area in one plane with a face of another body that looks the same way, and counted there: under blocks that overlap.
    pub flush_area_m2: f64,
    /// Area of open sheets that closing them as asked leaves with no foam behind: not coated.
    pub hidden_area_m2: f64,
    /// Area to glue: one side of every contact between blocks.
    pub glue_area_m2: f64,
    /// Volume of all bodies together, counted once.
    pub union_volume_m3: Option<f64>,
    /// Sum of the volumes of the bodies, hollows taken off.
    pub sum_of_parts_volume_m3: Option<f64>,
    /// Pairs of bodies that share volume, largest first.
    pub counted_twice: Vec<SharedVolume>,
    /// Scope rules and what each found.
    pub scope: Vec<ScopeRow>,
    /// What may be no part of the work, while nobody has said so.
    pub proposed: Vec<String>,
    /// Sides that look as if they stay bare, while nobody has said so.
    pub open_sides: Vec<OpenSide>,
    /// Coated area by lean class.
    pub area_by_class_m2: Option<ByClass>,
    /// Coated area within two degrees of the limit between two neighbouring classes.
    pub near_limit_area_m2: Vec<NearLimit>,
    /// Coated area whose class is another one at lath scale than face by face.
    pub changed_by_smoothing_m2: Option<f64>,
    /// False for a model too large to look for zones: what follows of zones and lifts is then null or empty, and lath is
    /// counted by lean, face by face.
    pub zones_found: bool,
    /// Joined patches of one class at lath scale; their areas add up to the coated area.
    pub zones: Vec<ZoneRow>,
    /// What zones, lath and lifts are worth.
    #[serde(skip)]
    pub zones_quality: Quality,
    /// Of each zone, whether it lies for the larger part on sides, or on things, of which nobody has said that they are coated.
    #[serde(skip)]
    pub undecided_zones: Vec<bool>,
    /// Area under lath.
    pub lath_area_m2: Option<f64>,
    /// Area that takes two lifts or more.
    pub two_lift_area_m2: Option<f64>,
    /// What the coated faces cover seen from the front.
    pub projected_area_m2: Option<f64>,
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
    /// How the volume was found: `grid`, `sampled` (open sheets), `formula` (the most it can be) or `area_x_thickness`, which stands in its
    /// place where it was not measured.
    pub skin_by: &'static str,
    /// How the skin of open sheets was found; null where every body is closed.
    pub open_skin: Option<OpenSkinJson>,
    /// Coated area times thickness.
    pub area_times_skin_m3: Option<f64>,
    /// The far side of the skin: what visitors see of a core, the core of a finished face.
    pub skin_outer_area_m2: Option<f64>,
    /// Area at the scale of the skin, by `skin_scale_by`: texture that the skin bridges no longer counts.
    pub skin_scale_area_m2: Option<f64>,
    /// `closing`: the surface moved outward by the skin and back; of a core face where crevices were looked for. `half way`: the area half
    /// way through the skin, a hint; elsewhere.
    pub skin_scale_by: &'static str,
    /// Coated area over that: well above 1 where fine texture or narrow crevices would fool area x thickness.
    pub texture_ratio: Option<f64>,
    /// Area of the coated core face, which takes the primer.
    pub core_area_m2: Option<f64>,
    /// Volume of the foam core.
    pub core_volume_m3: Option<f64>,
    /// Places with no foam, or with foam thinner than the book's least, the largest first. Null when not looked for.
    pub no_foam: Option<Vec<NoFoam>>,
    /// Mix that fills crevices. Null when not looked for.
    pub crevice_fill_m3: Option<f64>,
    /// The fill is known to within this.
    pub crevice_fill_bound_m3: Option<f64>,
    /// Why `no_foam` and `crevice_fill_m3` are null.
    pub no_foam_reason: Option<String>,
    /// Flat contact with the floor. Null where the piece touches it in points or lines.
    pub footprint_m2: Option<f64>,
    /// Area of the convex hull of that contact.
    pub footprint_hull_m2: Option<f64>,
    /// Why `footprint_m2` is null.
    pub footprint_reason: Option<String>,
    /// The feet it stands on, from left to right.
    pub feet: Vec<FootRow>,
    /// What to buy.
    pub order: Vec<OrderRow>,
    /// What it weighs.
    pub weights: Vec<OrderRow>,
    /// Limits that the user set, and whether each is kept.
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
    pub coated_area_m2: Option<f64>,
}

/// Volume that two bodies share.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SharedVolume {
    /// The two parts, by tag and name.
    pub parts: [String; 2],
    /// `overlap`, `inside` or `exact copy`.
    pub how: &'static str,
    /// The volume.
    pub volume_m3: f64,
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
    /// Exposed area of those that this rule decides and no later one.
    pub area_m2: f64,
    /// How far the flat that was found is turned from the direction asked for, if it is.
    pub turned_deg: Option<f64>,
}

/// A side not settled.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct OpenSide {
    /// `floor`, `back` or `underside`.
    pub side: &'static str,
    /// Exposed area that the answer decides.
    pub area_m2: f64,
    /// How far the flat that was found is turned from the direction asked for, if it is.
    pub turned_deg: Option<f64>,
}

impl OpenSide {
    /// What is asked.
    pub(crate) fn question(&self) -> String {
        let area = Area::from_square_metres(self.area_m2);
        let about = match self.side {
            "underside" => {
                format!("what faces down near the floor, {area}, goes farther in under the edge than a tool reaches")
            }
            // Soles of legs are small.
            "floor" => format!("the floor is flat, {area}{}", turned_words(self.turned_deg)),
            side => format!("the {side} is flat and large, {area}{}", turned_words(self.turned_deg)),
        };
        format!("{about}: coated or bare? Say --{side} bare or --{side} coated.", side = self.side)
    }
}

/// `a is`, `a and b are`.
pub(crate) fn are(names: &[String]) -> String {
    format!("{} {}", names.join(" and "), if names.len() > 1 { "are" } else { "is" })
}

/// `, turned by 5.0 deg`, or nothing.
pub(crate) fn turned_words(turned_deg: Option<f64>) -> String {
    turned_deg.map_or_else(String::new, |deg| format!(", turned by {deg:.1} deg"))
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
    pub area_m2: Option<f64>,
}

/// One line of the order or of the weights.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct OrderRow {
    /// Which figure it is.
    #[serde(skip)]
    pub id: FigureId,
    /// What it is.
    pub item: &'static str,
    /// The figure before rounding, in `unit`.
    pub exact: Option<f64>,
    /// Whole packages to buy, rounded up once for the job.
    pub packages: Option<u64>,
    /// Unit of `exact`, and the package if there are packages.
    pub unit: &'static str,
    /// How it is reckoned, in one line.
    pub sum: String,
    /// What is said after the sum, which has it too.
    #[serde(skip)]
    pub note: String,
    /// `good`, or a bound and why.
    #[serde(serialize_with = "quality_words")]
    #[schemars(with = "String")]
    pub quality: Quality,
}

fn quality_words<S: serde::Serializer>(quality: &Quality, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(quality)
}

impl From<&Figure> for OrderRow {
    fn from(figure: &Figure) -> Self {
        Self {
            id: figure.id,
            item: figure.id.row().name,
            exact: figure.exact,
            packages: figure.packages,
            unit: figure.id.unit().word(),
            sum: figure.sum.clone(),
            note: figure.note.clone(),
            quality: figure.quality.clone(),
        }
    }
}

impl TakeoffReport {
    /// Puts a takeoff into the shape that leaves the program.
    #[must_use]
    pub fn new(takeoff: &Takeoff, request: &Request) -> Self {
        let Takeoff { checked, scoped, skin, .. } = takeoff;
        let si = |id: FigureId| takeoff.figures.quantity(id).value().map(|value| value.si());
        let class = |class: Class| si(FigureId::ClassArea(class));
        let m2 = Area::square_metres;
        // A figure that is not defined is absent from every writer.
        let area_defined = takeoff.quality.area.grade != Grade::NotDefined;
        let area = |area: Area| area_defined.then(|| m2(area));
        let lean_defined = takeoff.lean_quality().grade != Grade::NotDefined;
        let facing = |area: Area| lean_defined.then(|| m2(area));
        let zoned = |area: Area| facing(area).filter(|_| takeoff.steep.search == Search::Done);
        let (scale, by) = feet::skin_scale(takeoff, request);
        let unit_m = takeoff.file_unit.metres();
        let parts = takeoff.parts.iter().zip(checked.model.parts()).zip(&takeoff.coated_by_part).enumerate();
        let skin_defined = takeoff.skin_defined();
        let measured = skin_defined && !takeoff.skin.is_stand_in;
        let looked = takeoff.looked.as_ref().ok();
        let footing = takeoff.footing();
        Self {
            schema: 2,
            job: request.name.clone(),
            file: takeoff.file.clone(),
            book: request.book_name.clone(),
            book_defaults_used: request.book.omitted.clone(),
            book_is_default: Book::built_in().is_ok_and(|default| default == request.book),
            triangles: takeoff.receipt.triangles_in_file,
            units: request.placing.unit_word(takeoff.placing.unit),
            up: takeoff.placing.up.to_string(),
            front: takeoff.placing.front.to_string(),
            face: request.face.to_string(),
            size_m: checked.model.size().map(Length::metres),
            finished_size_m: takeoff.finished_size.map(Length::metres),
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
                    coated_area_m2: area_defined.then_some(*coated),
                })
                .collect(),
            as_modelled_area_m2: checked.area_as_sent + m2(takeoff.cleared.area),
            coated_area_m2: si(FigureId::CoatedArea),
            coated_area_if_open_sides_bare_m2: area(takeoff.coated_area_with_bare(|_| true)),
            coated_area_if_left_out_m2: takeoff.proposed.coated_area_without.and_then(area),
            bare_area_m2: area(takeoff.bare_area),
            left_out_area_m2: m2(takeoff.cleared.area),
            drawn_again_area_m2: m2(takeoff.drawn_again_area).max(0.0),
            exposed_area_m2: m2(takeoff.exposure.exposed),
            buried_area_m2: m2(takeoff.exposure.buried),
            flush_area_m2: m2(takeoff.exposure.doubled),
            hidden_area_m2: m2(takeoff.exposure.hidden),
            glue_area_m2: m2(takeoff.exposure.glue()),
            union_volume_m3: takeoff.closed.then(|| takeoff.exposure.union.cubic_metres()),
            sum_of_parts_volume_m3: takeoff.closed.then(|| takeoff.exposure.sum_of_parts.cubic_metres()),
            counted_twice: shared_volumes(takeoff),
            scope: scoped
                .found
                .iter()
                .map(|found| ScopeRow {
                    rule: found.rule.clone(),
                    is: state_word(found.is),
                    triangles: found.faces,
                    area_m2: found.area_m2,
                    turned_deg: found.turned.map(Angle::degrees),
                })
                .collect(),
            proposed: takeoff.proposed.names.clone(),
            open_sides: open_sides(scoped),
            area_by_class_m2: by_class(class),
            near_limit_area_m2: (0..4)
                .map(|k| NearLimit {
                    limit_deg: (request.book.classes.0[k].degrees() * 1e6).round() / 1e6,
                    below: Class::ALL[k].name(),
                    above: Class::ALL[k + 1].name(),
                    area_m2: facing(takeoff.near_limit[k]),
                })
                .collect(),
            changed_by_smoothing_m2: zoned(takeoff.steep.zones.changed_by_smoothing),
            zones_found: takeoff.steep.search == Search::Done,
            zones: if lean_defined { zones::rows(&takeoff.steep) } else { Vec::new() },
            zones_quality: takeoff.zones_quality(),
            undecided_zones: takeoff.undecided_zones(),
            lath_area_m2: si(FigureId::LathArea),
            two_lift_area_m2: si(FigureId::TwoLiftArea),
            projected_area_m2: facing(takeoff.elevation),
            skin_mm: takeoff.applied.thickness.millimetres(),
            skin_sum: takeoff.applied.sum.clone(),
            cover_at_low_pins_mm: takeoff.applied.at_low_pins.millimetres(),
            skin_volume_m3: si(FigureId::SkinVolume),
            skin_volume_bound_m3: skin_defined.then(|| skin.bound.cubic_metres()),
            skin_by: skin_by(takeoff),
            open_skin: takeoff.open.as_ref().filter(|_| skin_defined).map(OpenSkinJson::from),
            area_times_skin_m3: area_defined.then(|| (takeoff.coated_area * takeoff.applied.thickness).cubic_metres()),
            skin_outer_area_m2: measured.then(|| m2(skin.far_area)),
            skin_scale_area_m2: measured.then(|| m2(scale)),
            skin_scale_by: by,
            texture_ratio: (measured && area_defined && scale > Area::ZERO).then(|| takeoff.coated_area / scale),
            core_area_m2: match request.face {
                Face::Core => area(takeoff.coated_area),
                Face::Finished => skin_defined.then(|| m2(skin.far_area)),
            },
            core_volume_m3: si(FigureId::CoreVolume),
            no_foam: looked.map(|looked| looked.places.iter().map(NoFoam::from).collect()),
            crevice_fill_m3: looked.map(|looked| looked.crevices.volume.cubic_metres()),
            crevice_fill_bound_m3: looked.map(|looked| looked.crevices.bound.cubic_metres()),
            no_foam_reason: takeoff.looked.as_ref().err().cloned(),
            footprint_m2: footing.value().map(|it| m2(it.feet.iter().map(|bearing| bearing.foot.area).sum())),
            footprint_hull_m2: footing.value().map(|it| m2(it.hull.area())),
            footprint_reason: footing.value().is_none().then(|| footing.quality().reason.clone()),
            feet: feet::rows(takeoff),
            order: takeoff.figures.of(Section::Order).map(OrderRow::from).collect(),
            weights: takeoff.figures.of(Section::Weight).map(OrderRow::from).collect(),
            limits: limits::rows(&request.limits, takeoff),
            quality: QualityJson::from(&takeoff.quality),
            findings: takeoff.findings(),
            cautions: cautions(&request.book),
        }
    }
}

/// None where one of them is not defined.
fn by_class(of: impl Fn(Class) -> Option<f64>) -> Option<ByClass> {
    Some(ByClass {
        top: of(Class::Top)?,
        slope: of(Class::Slope)?,
        wall: of(Class::Wall)?,
        undercut: of(Class::Undercut)?,
        soffit: of(Class::Soffit)?,
    })
}

fn open_sides(scoped: &Scoped) -> Vec<OpenSide> {
    let side = |question: &Question| OpenSide {
        side: question.side,
        area_m2: question.area_m2,
        turned_deg: question.turned.map(Angle::degrees),
    };
    scoped.questions.iter().map(side).collect()
}

fn skin_by(takeoff: &Takeoff) -> &'static str {
    match &takeoff.open {
        _ if takeoff.skin.is_stand_in => "area_x_thickness",
        Some(_) => "sampled",
        None if takeoff.skin.grid > Length::ZERO => "grid",
        None => "formula",
    }
}

/// How the skin of open sheets was found.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct OpenSkinJson {
    /// By feet drawn on the surface.
    pub by_feet_m3: f64,
    /// Four standard errors of that, and what it leaves out.
    pub by_feet_bound_m3: f64,
    /// Feet asked about.
    pub feet: u64,
    /// By points drawn in space, without regard to the first.
    pub by_points_m3: f64,
    /// Four standard errors of that, and what could not be decided.
    pub by_points_bound_m3: f64,
    /// Points asked about.
    pub points: u64,
    /// What rounding the coat over at open rims would add; it is cut square there and not counted.
    pub rim_round_m3: f64,
}

impl From<&OpenSkin> for OpenSkinJson {
    fn from(open: &OpenSkin) -> Self {
        let OpenSkin { by_feet, by_points, rim, .. } = open;
        Self {
            by_feet_m3: by_feet.volume.cubic_metres(),
            by_feet_bound_m3: by_feet.bound.cubic_metres(),
            feet: by_feet.samples,
            by_points_m3: by_points.volume.cubic_metres(),
            by_points_bound_m3: by_points.bound.cubic_metres(),
            points: by_points.samples,
            rim_round_m3: rim.cubic_metres(),
        }
    }
}

fn shared_volumes(takeoff: &Takeoff) -> Vec<SharedVolume> {
    let (mesh, parts) = (takeoff.checked.model.mesh(), takeoff.checked.model.parts());
    let exposure = &takeoff.exposure;
    let name = |piece: u32| {
        let part = mesh.part_of(exposure.pieces[piece as usize].face as usize);
        format!("P{} {}", part + 1, parts[part as usize].name).trim_end().to_owned()
    };
    exposure
        .common
        .iter()
        .map(|common| SharedVolume {
            parts: common.pieces.map(name),
            how: match common.kind {
                Overlap::Partly => "overlap",
                Overlap::Inside => "inside",
                Overlap::Copy => "exact copy",
            },
            volume_m3: common.volume.cubic_metres(),
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
