//! The report of `core`.

use super::limits::{self, LimitRow};
use super::shared::{Kind, QualityJson};
use super::table::{columns, plain, wrapped};
use crate::core::Core;
use crate::failure::Failure;
use crate::job::Face;
use crate::request::Request;
use crate::takeoff::Takeoff;
use cragskin_geom::skin::{Lack, Place};
use cragskin_geom::units::{Area, Length, Volume, feet_inches};
use schemars::JsonSchema;
use serde::Serialize;

/// The core and where there is none. SI; each name carries its unit.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CoreReport {
    /// Version of this layout.
    pub schema: u32,
    /// Name of the job.
    pub job: String,
    /// The model file's name.
    pub file: String,
    /// The material book.
    pub book: String,
    /// Which face was drawn: `finished` or `core`.
    pub face: String,
    /// Thickness as placed.
    pub skin_mm: f64,
    /// Volume of the foam: all bodies counted once, less the skin of a finished face.
    pub core_volume_m3: Option<f64>,
    /// The volume is known to within this.
    pub core_volume_bound_m3: Option<f64>,
    /// Area of the coated core face, which takes the primer.
    pub core_area_m2: Option<f64>,
    /// Thinnest core that is cut, by the book.
    pub core_min_mm: f64,
    /// Places with no foam, or with foam thinner than the book's least; of a core face where the model itself is.
    pub no_foam: Vec<NoFoam>,
    /// Outside that no ball of the skin's thickness gets into: it fills with mix.
    pub crevice_fill_m3: f64,
    /// The fill is known to within this.
    pub crevice_fill_bound_m3: f64,
    /// The mesh written: the core of a finished face, the finished work of a core face.
    pub mesh: MeshRow,
    /// Limits that the user set, and whether each is kept.
    pub limits: Vec<LimitRow>,
    /// How far each kind of number can be trusted.
    pub quality: QualityJson,
}

/// A place to make in solid mix on a rod, or to thicken.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct NoFoam {
    /// `no foam` or `thin`.
    pub kind: &'static str,
    /// From left, from front, up, from the low left front corner of the model as placed.
    pub at_m: [f64; 3],
    /// From end to end.
    pub length_m: f64,
    /// Volume of mix, or of thin foam.
    pub volume_m3: f64,
}

impl From<&Place> for NoFoam {
    fn from(place: &Place) -> Self {
        Self {
            kind: match place.lack {
                Lack::NoFoam => "no foam",
                Lack::Thin => "thin",
            },
            at_m: place.at.coords.into(),
            length_m: place.length.metres(),
            volume_m3: place.volume.cubic_metres(),
        }
    }
}

/// The mesh written, and how true it is.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct MeshRow {
    /// Triangles.
    pub triangles: usize,
    /// Edges that have not two triangles in opposite directions: 0 when the mesh is closed.
    pub open_edges: usize,
    /// Enclosed volume.
    pub volume_m3: f64,
    /// Side of the grid's cells: what is thinner may be missing.
    pub grid_mm: f64,
    /// The farthest that a measured point is from the true face: every corner, and `points_sampled` on the triangles. A sample, not a
    /// bound. None where a triangle cuts so deep that the face was not found about it.
    pub within_mm: Option<f64>,
    /// Points measured on the triangles.
    pub points_sampled: usize,
    /// The same of the corners alone, all of which are measured: a bound for them.
    pub vertices_within_mm: Option<f64>,
    /// Where the worst corner is, where it is off by more than half a cell: from left, from front, up.
    pub worst_corner_at_m: Option<[f64; 3]>,
    /// The foam's volume less that of the mesh; none of a core face, where the mesh is no foam.
    pub less_than_foam_m3: Option<f64>,
    /// The same of 999 in 1000 of the points on triangles.
    pub mostly_within_mm: Option<f64>,
}

/// A volume that prints with so many decimals of a cubic metre is told apart from another from here on.
const TOLD_APART_M3: f64 = 5e-5;

impl MeshRow {
    /// Why the mesh holds another volume than the foam's figure.
    fn volume_words(&self) -> Option<String> {
        let less = self.less_than_foam_m3.filter(|less| less.abs() >= TOLD_APART_M3)?;
        let way = if less > 0.0 { "less" } else { "more" };
        Some(format!(
            "It holds {} {way} than the foam above: that figure is measured, and the mesh is sampled on a grid of {:.1} mm, which cuts \
             round places by chords and loses what is thinner.",
            Volume::from_cubic_metres(less.abs()),
            self.grid_mm
        ))
    }

    /// Where its worst corner is.
    fn worst_words(&self) -> Option<String> {
        let [x, y, z] = self.worst_corner_at_m?.map(tape);
        Some(format!(
            "The worst corner is {x} from the left, {y} back, {z} up: look at the mesh there before it is cut."
        ))
    }
}

impl CoreReport {
    /// Gathers it.
    #[must_use]
    pub fn new(takeoff: &Takeoff, core: &Core, request: &Request) -> Self {
        let finished = request.face == Face::Finished;
        let foam = takeoff.measures.core.value();
        let area = match request.face {
            Face::Finished => takeoff.skin_defined().then_some(takeoff.skin.far_area),
            Face::Core => takeoff.measures.coated.value().copied(),
        };
        let bound = if finished { takeoff.skin.bound } else { Volume::ZERO };
        Self {
            schema: 2,
            job: request.name.clone(),
            file: takeoff.file.clone(),
            book: request.book_name.clone(),
            face: request.face.to_string(),
            skin_mm: takeoff.applied.thickness.millimetres(),
            core_volume_m3: foam.map(|volume| volume.cubic_metres()),
            core_volume_bound_m3: foam.map(|_| bound.cubic_metres()),
            core_area_m2: area.map(|area| area.square_metres()),
            core_min_mm: request.book.foam.core_min.millimetres(),
            no_foam: core.looked.places.iter().map(NoFoam::from).collect(),
            crevice_fill_m3: core.looked.crevices.volume.cubic_metres(),
            crevice_fill_bound_m3: core.looked.crevices.bound.cubic_metres(),
            mesh: MeshRow {
                triangles: core.far.mesh.triangles().len(),
                open_edges: core.far.open_edges(),
                volume_m3: core.far.volume().cubic_metres(),
                grid_mm: core.far.grid.millimetres(),
                within_mm: known(core.far.within),
                points_sampled: core.far.points,
                vertices_within_mm: known(core.far.vertices_within),
                worst_corner_at_m: core
                    .far
                    .worst_vertex
                    .filter(|_| core.far.vertices_within > core.far.grid * 0.5)
                    .map(|at| at.coords.into()),
                less_than_foam_m3: foam.filter(|_| finished).map(|foam| (*foam - core.far.volume()).cubic_metres()),
                mostly_within_mm: known(core.far.mostly_within),
            },
            limits: limits::rows(&request.limits, takeoff),
            quality: QualityJson::from(&takeoff.quality),
        }
    }

    /// The page.
    #[must_use]
    pub fn text(&self) -> String {
        let finished = self.face == Face::Finished.to_string();
        let volume = |m3: f64| Volume::from_cubic_metres(m3).to_string();
        let mut out = format!("CORE   {}   ({})\n", plain(&self.job), plain(&self.file));
        out += &wrapped(
            "  ",
            if finished {
                "the model is taken as the FINISHED FACE; the core below is smaller by the skin on every coated side, bare sides keep \
                 their plane, and a coat ends square at a bare side"
            } else {
                "the model is taken as the CORE FACE: foam is cut as drawn (core.stl, where no bodies overlap); the mesh below is the finished face over it"
            },
        );
        let is_unknown = finished && !self.quality.unknown_skin().is_empty();
        let primed = if is_unknown { Kind::SkinVolume } else { Kind::Area };
        let mut rows = vec![
            vec!["skin".to_owned(), Length::from_millimetres(self.skin_mm).to_string(), String::new()],
            vec![
                "foam".to_owned(),
                self.core_volume_m3.map_or_else(|| "not defined".to_owned(), volume),
                self.quality.mark(Kind::CoreVolume),
            ],
            vec![
                "core face, primed".to_owned(),
                self.core_area_m2
                    .map_or_else(|| "not defined".to_owned(), |m2| Area::from_square_metres(m2).to_string()),
                self.quality.mark(primed),
            ],
        ];
        rows.push(vec!["mix lost in crevices".to_owned(), volume(self.crevice_fill_m3), String::new()]);
        out += &columns(&rows);
        out += &format!("\nNO FOAM, OR THINNER THAN {}\n", Length::from_millimetres(self.core_min_mm));
        if self.no_foam.is_empty() {
            out += "  none\n";
        } else {
            out += &wrapped(
                "  ",
                "no foam: make in solid mix on a rod; thin: thicken, or make in solid mix. Volumes by a grid, about.",
            );
        }
        out += &places_text(&self.no_foam);
        out += "\nMESH\n";
        if self.mesh.triangles == 0 {
            out += "  none: no foam is left\n";
        } else {
            out += &wrapped(
                "  ",
                &format!(
                    "{} triangles, {}, {}; millimetres, Z up. Off the true face: {} at the worst corner, all of them measured; on the \
                     triangles, sampled at {} points, no more than {} at 999 in 1000 of them and {} at the worst one, which is no \
                     bound for what lies between. What is thinner than {:.1} mm may be missing from it.",
                    self.mesh.triangles,
                    match self.mesh.open_edges {
                        0 => "closed".to_owned(),
                        open => format!("NOT CLOSED at {open} edges: mend it before it is cut"),
                    },
                    volume(self.mesh.volume_m3),
                    shown(self.mesh.vertices_within_mm),
                    self.mesh.points_sampled,
                    shown(self.mesh.mostly_within_mm),
                    shown(self.mesh.within_mm),
                    self.mesh.grid_mm
                ),
            );
            for words in [self.mesh.volume_words(), self.mesh.worst_words()].into_iter().flatten() {
                out += &wrapped("  ", &words);
            }
        }
        out += &limits::text(&self.limits);
        out
    }

    /// The places as CSV (RFC 4180).
    ///
    /// # Errors
    /// None in practice: the table is written to memory.
    pub fn csv(&self) -> Result<String, Failure> {
        let failed = |error: &dyn std::fmt::Display| Failure::new(format!("the table cannot be written: {error}"));
        let mut table = csv::Writer::from_writer(Vec::new());
        let mut row = |cells: [String; 7]| table.write_record(&cells).map_err(|error| failed(&error));
        row(["number", "kind", "left_m", "back_m", "up_m", "length_m", "volume_m3"].map(str::to_owned))?;
        for (place, number) in self.no_foam.iter().zip(1..) {
            let [x, y, z] = place.at_m.map(|m| m.to_string());
            row([
                number.to_string(),
                place.kind.to_owned(),
                x,
                y,
                z,
                place.length_m.to_string(),
                place.volume_m3.to_string(),
            ])?;
        }
        let bytes = table.into_inner().map_err(|error| failed(&error))?;
        String::from_utf8(bytes).map_err(|error| failed(&error))
    }
}

/// A distance in millimetres, where one was found.
fn known(off: Length) -> Option<f64> {
    Some(off.millimetres()).filter(|mm| mm.is_finite())
}

fn shown(mm: Option<f64>) -> String {
    mm.map_or_else(|| "a distance not known".to_owned(), |mm| format!("{mm:.1} mm"))
}

/// A line for each place.
pub(super) fn places_text(places: &[NoFoam]) -> String {
    let line = |(place, number): (&NoFoam, usize)| {
        let [x, y, z] = place.at_m.map(tape);
        let (length, volume) = (tape(place.length_m), Volume::from_cubic_metres(place.volume_m3));
        format!("  {number:>3}  {:<8} {length} long, {volume}, at {x}, {y}, {z}\n", place.kind)
    };
    places.iter().zip(1..).map(line).collect()
}

/// Feet and whole inches.
fn tape(m: f64) -> String {
    feet_inches(Length::from_inches(Length::from_metres(m).inches().round()))
}
