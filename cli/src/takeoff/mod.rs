//! The main job: a placed model and a request become measures, and measures become an order list.

mod piece;
mod worth;

use crate::book::{Class, PerClass};
use crate::core::Looked;
use crate::failure::Failure;
use crate::figure::{FigureId, Figures, Quantity};
use crate::job::Close;
use crate::job::Face;
use crate::job::NOT_COMPARED;
use crate::large;
use crate::load::{self, Loaded};
use crate::notices;
use crate::ours::{self, Ours};
use crate::progress::Stage;
use crate::proposed::Proposed;
use crate::quantities::floor::Footing;
use crate::quantities::skin::Applied;
use crate::quantities::{self, Measured, Measures};
use crate::report::shared::FindingJson;
use crate::request::Request;
use crate::steep::{Search, Steep};
use crate::store::Key;
use cragskin_geom::drawing::Placing;
use cragskin_geom::intake::{Receipt, ReceiptCode};
use cragskin_geom::measure::{self, PartMeasure};
use cragskin_geom::mesh::Mesh;
use cragskin_geom::scope::{Cleared, Scoped, State};
use cragskin_geom::skin::{OpenSkin, Skin};
use cragskin_geom::solid::{Exposure, Plane, Solid};
use cragskin_geom::soundness::open_length;
use cragskin_geom::soundness::{Checked, Code, Finding, Grade, Quality, QualityTable};
use cragskin_geom::units::{Area, Length, Volume};
use nalgebra::Vector3;
use piece::{Areas, Method, Piece};

/// Squares of the skin's thickness on the closed model from which nobody waits for an answer: 7 000 m2 under 19 mm. Mostly a
/// drawing in another unit than was said, which wants a question at once instead of hours of measuring.
pub const MOST_SQUARES: f64 = 2e7;

/// Everything measured on one model for one request.
#[derive(Clone, Debug)]
pub struct Takeoff {
    /// The model file's name.
    pub file: String,
    /// What the reader did.
    pub receipt: Receipt,
    /// How the file was placed.
    pub placing: Placing,
    /// Somebody has said which way is up.
    pub up_stated: bool,
    /// How the unit came to be.
    pub notes: Vec<String>,
    /// Size of the whole in file units.
    pub size_in_file_units: [f64; 3],
    /// Length of one file unit.
    pub file_unit: Length,
    /// The checked model.
    pub checked: Checked,
    /// The scope applied.
    pub scoped: Scoped,
    /// Triangles and box of each part.
    pub parts: Vec<PartMeasure>,
    /// Area that gets the skin.
    pub coated_area: Area,
    /// Area of the piece that gets none.
    pub bare_area: Area,
    /// What is not ours, and where the low corner of what is ours lies in the model as placed.
    pub cleared: Cleared,
    /// Area of triangles that lie exactly on others and are counted once.
    pub drawn_again_area: Area,
    /// What is buried, glued and counted twice.
    pub exposure: Exposure,
    /// Coated area by part.
    pub coated_by_part: Vec<f64>,
    /// Coated area by lean class.
    pub by_class: PerClass<Area>,
    /// Coated area within two degrees of each class limit.
    pub near_limit: [Area; 4],
    /// Elevation of the coated faces seen from the front.
    pub elevation: Area,
    /// Width, depth and height of the finished piece.
    pub finished_size: [Length; 3],
    /// Thickness as placed.
    pub applied: Applied,
    /// The skin.
    pub skin: Skin,
    /// How the skin of open sheets was found, where there are any.
    pub open: Option<OpenSkin>,
    /// Zones, lath and lifts.
    pub steep: Steep,
    /// Every body is closed, or was closed as asked.
    pub closed: bool,
    /// Volume of the foam core, if the model has an inside.
    pub core: Option<Volume>,
    /// Places with no foam or too little and what crevices swallow, or why nobody looked.
    pub looked: Result<Looked, String>,
    /// How far the numbers can be trusted, scope included.
    pub quality: QualityTable,
    /// What may be no part of the work, while nobody has said so.
    pub proposed: Proposed,
    /// What else stands between the model and the numbers.
    pub notices: Vec<FindingJson>,
    /// What the order list and the weights are reckoned from.
    pub measures: Measures,
    /// What was measured, what to buy and what it weighs.
    pub figures: Figures,
    /// All that the stages are worked out from.
    pub key: Key,
}

impl Takeoff {
    /// Measures a loaded model.
    ///
    /// # Errors
    /// When the unit is not known, or up and front are the same axis.
    pub fn new(loaded: Loaded, request: &Request) -> Result<Self, Failure> {
        Self::observed(loaded, request, &|_| ())
    }

    /// Measures a loaded model and tells `stage` what begins.
    ///
    /// # Errors
    /// As [`Takeoff::new`].
    pub fn observed(loaded: Loaded, request: &Request, stage: &dyn Fn(Stage)) -> Result<Self, Failure> {
        let Loaded { name: file, drawing } = loaded;
        let settled = request.placing.settle(&drawing)?;
        let Some(placing) = settled.placing(&request.placing) else {
            return Err(load::no_unit(&file, drawing, &request.placing));
        };
        let receipt = drawing.receipt().clone();
        let size_in_file_units = drawing.size().map(|size| size / drawing.scale());
        let file_unit = placing.unit.one() * drawing.scale();
        stage(Stage::Checking);
        let Ours { checked, mut scoped, cleared } =
            ours::ours(&file, drawing, placing, &request.rules(), (request.sheets, request.book.foam.contact_gap))?;
        let diagonal = checked.model.diagonal();
        let once = measure::area(checked.model.mesh(), diagonal, |_| true);
        has_size(&file, once, diagonal)?;
        let drawn_again_area = Area::from_square_metres(checked.area_as_sent) - once;
        let parts = ours::parts(&checked.model);

        stage(Stage::Exposed);
        let solid = solid(&checked, request);
        let exposure = Exposure::of(&solid, request.book.foam.contact_gap);
        encloses_something(&file, &exposure, request, diagonal)?;
        scoped.measure_exposed(checked.model.mesh(), diagonal, |face| exposure.share(face));
        let areas = Areas::of(&checked.model, &scoped, &exposure, request);
        let applied = Applied::new(&request.book, request.skin);
        let method = Method::of(&checked, &solid, &exposure, applied.thickness);
        let other_up = notices::other_up(&checked, request);
        let quality = worth::of_model(&checked, &scoped, &exposure, other_up.as_ref());
        // Neither needs the other, and much of the search for zones goes step by step while the skin takes every thread.
        stage(Stage::SkinAndZones);
        let key = piece::key(&checked, &areas.coated_faces, request);
        let piece = Piece {
            key: &key,
            checked: &checked,
            coated: &areas.coated_faces,
            outside: (&solid, &exposure),
            applied: &applied,
            request,
        };
        let ((skin, open), steep) = rayon::join(|| piece.skin(method, areas.coated), || piece.steep(method, &quality));
        let closed = solid.is_closed();
        let core = closed.then(|| core_volume(request.face, exposure.union, method, &skin));
        let proposed = Proposed::of(&checked, &cleared, request);
        let found = worth::Found {
            method,
            face: request.face,
            exposure: &exposure,
            steep: &steep,
            coated: areas.coated,
            skin: &skin,
            open: open.as_ref(),
            core,
            closed_as_asked: request.close.is_some() && !checked.all_closed() && closed,
        };
        let (mut quality, of_whole) = found.worth(quality);
        proposed.doubt(&mut quality);
        let footing = piece.footing(&skin).doubted(|quality| worth::stance(proposed.either_way(quality), &scoped));
        let whole = (request.face == Face::Finished).then(|| Measured::new(exposure.union, proposed.most(of_whole)));
        let measures = found.measures(areas.by_class, &quality, whole, footing);
        let notices = piece.notices(
            (&scoped, &cleared),
            (method, areas.coated),
            (&steep, &measures),
            &proposed,
            other_up.as_ref(),
        );
        let figures = quantities::figures(&request.book, &measures);
        let finished_size = match request.face {
            Face::Finished => checked.model.size(),
            Face::Core => measure::finished_size(checked.model.mesh(), &areas.coated_faces, applied.thickness),
        };
        let mut takeoff = Self {
            file,
            receipt,
            placing,
            up_stated: request.placing.up.is_some(),
            notes: settled.notes,
            size_in_file_units,
            file_unit,
            scoped,
            parts,
            coated_area: areas.coated,
            bare_area: areas.bare,
            cleared,
            drawn_again_area,
            exposure,
            coated_by_part: areas.coated_by_part,
            by_class: areas.by_class,
            near_limit: areas.near_limit,
            elevation: areas.elevation,
            finished_size,
            applied,
            skin,
            open,
            steep,
            closed,
            core,
            looked: Err(String::new()),
            quality,
            proposed,
            notices,
            measures,
            figures,
            key,
            checked,
        };
        takeoff.measure();
        stage(Stage::Thin);
        takeoff.looked = takeoff.look(method, request);
        Ok(takeoff)
    }

    /// Places to settle before foam is cut, or why nobody looked.
    fn look(&self, method: Method, request: &Request) -> Result<Looked, String> {
        if method.too_large {
            Err("the model is too large to look for thin places".to_owned())
        } else if method.pebble {
            Err(worth::PEBBLE.to_owned())
        } else if !self.exposure.is_settled {
            Err("bodies overlap in too many places to look for thin ones".to_owned())
        } else {
            Looked::quickly(self, request)
        }
    }

    /// Coated or not, a face each.
    #[must_use]
    pub fn coated(&self) -> Vec<bool> {
        self.scoped.states.iter().map(|state| *state == State::Coated).collect()
    }

    /// What figures by lean are worth: areas and facing both count.
    #[must_use]
    pub fn lean_quality(&self) -> Quality {
        self.quality.area.clone().and(self.quality.lean.clone())
    }

    /// What any area is worth before it is said what is coated.
    fn modelled_quality(&self) -> Quality {
        let checked = self.checked.quality.area.clone();
        if self.exposure.is_settled { checked } else { checked.and(large::unsettled()) }
    }

    /// What zones, lath and lifts are worth.
    #[must_use]
    pub fn zones_quality(&self) -> Quality {
        match self.steep.search {
            Search::TooLarge => Quality::new(Grade::NotDefined, "the model is too large to look for zones"),
            Search::Done | Search::NotDefined => large::of_zones(&self.exposure, self.lean_quality()),
        }
    }

    /// Which zones lie for the larger part on sides, or on things, of which nobody has said that they are coated.
    #[must_use]
    pub fn undecided_zones(&self) -> Vec<bool> {
        let (mesh, zones) = (self.checked.model.mesh(), &self.steep.zones);
        let mut open = vec![0.0; zones.zones.len()];
        let is_open = |face: &usize| self.scoped.is_open(*face) || self.proposed.faces[*face];
        for face in (0..mesh.triangles().len()).filter(is_open) {
            if let Some(zone) = zones.of(face) {
                open[zone] += mesh.area_vector(face).norm() * self.exposure.share(face);
            }
        }
        open.iter().zip(&zones.zones).map(|(open, zone)| *open > 0.5 * zone.area.square_metres()).collect()
    }

    /// What the piece stands on.
    #[must_use]
    pub fn footing(&self) -> Measured<Footing> {
        self.measures.footing.clone().unwrap_or_else(|| Measured::not_defined("nobody looked"))
    }

    /// Whether the model says what the skin's volume is.
    #[must_use]
    pub fn skin_defined(&self) -> bool {
        self.quality.skin_volume.grade != Grade::NotDefined
    }

    /// Coated area if those sides are left bare that nobody has settled and that `is_bare`.
    #[must_use]
    pub fn coated_area_with_bare(&self, is_bare: impl Fn(&str) -> bool) -> Area {
        let open = self.scoped.questions.iter().filter(|question| is_bare(question.side));
        let open: f64 = open.map(|question| question.area_m2).sum();
        self.coated_area - Area::from_square_metres(open)
    }

    /// Everything found by the check and by the reader.
    #[must_use]
    pub fn findings(&self) -> Vec<FindingJson> {
        let read = self.receipt.lines.iter().filter(|line| line.code != ReceiptCode::NotANumber);
        let asked = self.up_stated || self.notices.iter().any(|notice| notice.code == notices::WHICH_UP);
        let told = |finding: &&Finding| finding.code != Code::OtherWayUp || !asked;
        let checked = self.checked.findings.iter().filter(told).map(FindingJson::from);
        self.notices.iter().cloned().chain(checked).chain(read.map(FindingJson::from)).collect()
    }

    /// Adds what was measured beside what the order list is reckoned from.
    fn measure(&mut self) {
        let area = |area: Area, quality: Quality| Measured::new(Quantity::Area(area), quality);
        let facing = || self.lean_quality();
        let near = self.near_limit.iter().copied().sum();
        let two_lifts = area(self.steep.lifts.two_or_more, self.zones_quality());
        let length = |length: Length| Measured::new(Quantity::Length(length), self.proposed.most(Quality::good()));
        let classes = Class::ALL.map(|class| (FigureId::ClassArea(class), area(self.by_class[class], facing())));
        let others = [
            (
                FigureId::BareArea,
                area(self.bare_area, self.proposed.either_way(worth::bare(self.modelled_quality(), &self.scoped))),
            ),
            (FigureId::TwoLiftArea, two_lifts),
            (FigureId::NearLimitArea, area(near, facing())),
            (FigureId::OpenEdgeLength, length(Length::from_metres(open_length(&self.checked.open_runs)))),
            (FigureId::Height, length(self.checked.model.size()[2])),
            (FigureId::AreaChange, Measured::not_defined(NOT_COMPARED[0])),
            (FigureId::ChangedArea, Measured::not_defined(NOT_COMPARED[0])),
        ];
        classes.into_iter().chain(others).for_each(|(id, figure)| self.figures.measure(id, &figure));
    }
}

/// Refuses a model that is a point or a line, and one with a corner so far off that the rest is a point beside it.
fn has_size(file: &str, area: Area, diagonal: f64) -> Result<(), Failure> {
    let share = area.square_metres() / (diagonal * diagonal);
    if share > 1e-9 && diagonal > 1e-4 {
        return Ok(());
    }
    let what = if diagonal > 1e-4 && area > Area::ZERO {
        "nearly all of it lies in one point, seen against its farthest corner: that corner's number looks damaged"
    } else {
        "it has no size in the unit given"
    };
    Err(Failure::of_file(file, format!("nothing to take off, {what}"))
        .hint("look at the sizes that `cragskin look` prints, check --units, or ask the designer to export again"))
}

/// Closed as asked the model encloses a volume.
fn encloses_something(file: &str, exposure: &Exposure, request: &Request, diagonal: f64) -> Result<(), Failure> {
    if request.close.is_none() || exposure.union.cubic_metres() > 1e-6 * diagonal.powi(3) {
        return Ok(());
    }
    Err(Failure::of_file(file, "closed as asked it encloses nothing, its farthest point lies on the face itself")
        .hint("draw the sides as far back as the piece is to go, or leave out --close"))
}

/// The volume of the foam core of a closed model.
fn core_volume(face: Face, whole: Volume, method: Method, skin: &Skin) -> Volume {
    match face {
        Face::Core => whole,
        Face::Finished => {
            // What is left of the least skin is the most foam.
            let skin = if method.by_formula { skin.volume - skin.bound } else { skin.volume };
            // Of a twig that is all skin the two agree to within the bound.
            Volume::from_cubic_metres((whole - skin).cubic_metres().max(0.0))
        }
    }
}

/// What of a checked model is solid, closed as the request says.
#[must_use]
pub fn solid<'a>(checked: &'a Checked, request: &Request) -> Solid<'a> {
    let mesh = checked.model.mesh();
    Solid::with_drawn(mesh, &checked.topology, closing_plane(mesh, request), &checked.drawn_faces())
}

/// The plane that the request closes open sheets against.
fn closing_plane(mesh: &Mesh, request: &Request) -> Option<Plane> {
    let outward = match request.close? {
        Close::Back => Vector3::y_axis(),
        Close::Floor => -Vector3::z_axis(),
    };
    Some(Plane::behind(mesh, outward))
}
