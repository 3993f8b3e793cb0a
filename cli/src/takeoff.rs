//! The main job: a placed model and a request become measures, and measures become an order list.

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
use crate::report::table::plain;
use crate::request::Request;
use crate::stands;
use crate::steep::{Search, Steep};
use cragskin_geom::drawing::Placing;
use cragskin_geom::intake::{Receipt, ReceiptCode};
use cragskin_geom::lean::lean_of;
use cragskin_geom::measure::{self, PartMeasure};
use cragskin_geom::mesh::Mesh;
use cragskin_geom::projected;
use cragskin_geom::scope::{Cleared, Scoped, State};
use cragskin_geom::skin::{Coat, Face as Side, OpenSkin, Skin, exposed_skin, skin_by_formula};
use cragskin_geom::solid::{Exposure, Plane, Solid};
use cragskin_geom::soundness::open_length;
use cragskin_geom::soundness::{Checked, Code, Finding, Grade, Quality, QualityTable};
use cragskin_geom::units::{Angle, Area, Length, Volume};
use nalgebra::Vector3;

/// A model less than this many skins across in every direction is no work for a skin: a 3 in pebble under 3/4 in.
const SKINS_ACROSS: f64 = 4.0;
/// Why nothing is measured on such a model.
const PEBBLE: &str = "the whole model is no more than four skins across: is the unit right?";
/// A face this near a class limit may change class when it is carved.
const NEAR_LIMIT_DEGREES: f64 = 2.0;

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

        let (model, mesh) = (&checked.model, checked.model.mesh());
        stage(Stage::Exposed);
        let solid = solid(&checked, request);
        let exposure = Exposure::of(&solid, request.book.foam.contact_gap);
        if request.close.is_some() && exposure.union.cubic_metres() <= 1e-6 * diagonal.powi(3) {
            return Err(Failure::of_file(
                &file,
                "closed as asked it encloses nothing, its farthest point lies on the face itself",
            )
            .hint("draw the sides as far back as the piece is to go, or leave out --close"));
        }
        let share = |face: usize| exposure.share(face);
        scoped.measure_exposed(mesh, diagonal, share);
        let is_coated = |face: usize| scoped.states[face] == State::Coated;
        let [coated_area, bare_area] =
            measure::area_by(mesh, diagonal, share, |face| Some(scoped.states[face] as usize));
        let lean = |face: usize| lean_of(&mesh.area_vector(face));
        let limits = request.book.classes;
        let by_class = PerClass(measure::area_by(mesh, diagonal, share, |face| {
            is_coated(face).then(|| limits.class(lean(face)) as usize)
        }));
        let near_limit = measure::area_by(mesh, diagonal, share, |face| {
            let near = |limit: &Angle| (lean(face) - *limit).abs().degrees() <= NEAR_LIMIT_DEGREES;
            if is_coated(face) { limits.0.iter().position(near) } else { None }
        });
        let coated_by_part =
            measure::area_by_part(
                mesh,
                diagonal,
                model.parts().len(),
                |face| {
                    if is_coated(face) { share(face) } else { 0.0 }
                },
            );
        let elevation = projected::elevation(mesh, model.size(), is_coated);

        let applied = Applied::new(&request.book, request.skin);
        let face = match request.face {
            Face::Finished => Side::Finished,
            Face::Core => Side::Core,
        };
        let coated: Vec<bool> = (0..mesh.triangles().len()).map(is_coated).collect();
        let finished_size = match request.face {
            Face::Finished => model.size(),
            Face::Core => measure::finished_size(mesh, &coated, applied.thickness),
        };
        let closed = solid.is_closed();
        let too_large = large::is_too_large(solid.mesh(), applied.thickness);
        // Bodies that overlap have edges where they meet; no formula knows those.
        let pebble = is_pebble(model.size(), applied.thickness);
        let by_formula = exposure.is_settled && (pebble || too_large && exposure.is_whole());
        let mut quality = graded(checked.quality.clone(), &scoped);
        if !exposure.is_settled {
            quality.area = quality.area.and(large::unsettled());
            quality.core_volume = quality.core_volume.and(large::unsettled());
        }
        let other_up = notices::other_up(&checked, request);
        quality.lean = other_up.iter().fold(quality.lean, |lean, other| lean.and(notices::lean_unsettled(other)));
        let no_zones = match quality.area.clone().and(quality.lean.clone()).grade {
            _ if too_large => Some(Search::TooLarge),
            Grade::NotDefined => Some(Search::NotDefined),
            _ => None,
        };
        // Neither needs the other, and much of the search for zones goes step by step while the skin takes every thread.
        stage(Stage::SkinAndZones);
        let ((skin, open), steep) = rayon::join(
            || {
                if by_formula {
                    let coat = Coat { face, coated: &coated, thickness: applied.thickness, thickness_of: &[] };
                    (skin_by_formula(mesh, &checked.topology, &coat, closed.then_some(exposure.union)), None)
                } else if too_large || !exposure.is_settled {
                    (Skin::stand_in(coated_area, coated_area * applied.thickness), None)
                } else {
                    let coat = Coat { face, coated: &coated, thickness: applied.thickness, thickness_of: &[] };
                    exposed_skin(&solid, &exposure, &coat, request.accuracy)
                }
            },
            || {
                if let Some(why) = no_zones {
                    Steep::not_looked_for(why, &request.book, applied.thickness)
                } else {
                    let outside = (&solid, &exposure);
                    Steep::new(mesh, &checked.topology, &coated, outside, &request.book, applied.thickness)
                }
            },
        );
        let core = closed.then(|| match request.face {
            Face::Core => exposure.union,
            Face::Finished => {
                // What is left of the least skin is the most foam.
                let skin = if by_formula { skin.volume - skin.bound } else { skin.volume };
                // Of a twig that is all skin the two agree to within the bound.
                Volume::from_cubic_metres((exposure.union - skin).cubic_metres().max(0.0))
            }
        });

        quality.skin_volume = of_open(quality.skin_volume, open.as_ref());
        if skin.is_stand_in && !too_large {
            quality.skin_volume = quality.skin_volume.and(large::stand_in(&exposure));
        }
        let is_bounded = !(skin.is_stand_in || too_large || by_formula) && open.as_ref().is_none_or(OpenSkin::agrees);
        let roughly = |volume: Volume| large::roughly(volume, skin.bound).filter(|_| is_bounded);
        let proposed = Proposed::of(&checked, &cleared, request);
        // Of what is buried nobody asks whether a tool reaches it.
        let reach = exposure.is_settled.then_some(&steep);
        let unreached = reach.and_then(|steep| notices::unreached(steep, coated_area, applied.thickness));
        if let Some(doubt) = reach.and_then(|steep| notices::unreached_quality(steep, coated_area)) {
            quality.area = quality.area.and(doubt.clone());
            quality.skin_volume = quality.skin_volume.and(doubt);
        }
        let closed_as_asked = request.close.is_some() && !checked.all_closed() && closed;
        if closed_as_asked && quality.core_volume.grade == Grade::NotDefined {
            quality.core_volume = Quality::good();
        }
        let of_whole = quality.core_volume.clone();
        if request.face == Face::Finished {
            // The core is what the skin leaves: more of one is less of the other.
            let grade = match quality.skin_volume.grade {
                Grade::UpperBound => Grade::LowerBound,
                Grade::LowerBound => Grade::UpperBound,
                same @ (Grade::Good | Grade::NotKnown | Grade::NotDefined) => same,
            };
            if grade != Grade::Good {
                let why = quality.skin_volume.reason.clone();
                quality.core_volume = quality.core_volume.and(Quality::new(grade, why));
            }
        }
        // The same bound is a small share of a large core.
        if let Some(doubt) = roughly(skin.volume) {
            quality.skin_volume = quality.skin_volume.and(doubt);
        }
        if let Some(doubt) = core.and_then(roughly).filter(|_| request.face == Face::Finished) {
            quality.core_volume = quality.core_volume.and(doubt);
        }
        if too_large || by_formula {
            let worth = || if pebble { Quality::new(Grade::UpperBound, PEBBLE) } else { large::quality(by_formula) };
            quality.skin_volume = quality.skin_volume.and(worth());
            if request.face == Face::Finished {
                quality.core_volume = quality.core_volume.and(worth());
            }
        }
        proposed.doubt(&mut quality);
        let (under_lath, laid) = if too_large { (by_class, None) } else { (steep.under_lath(), Some(steep.laid())) };
        let measures = Measures {
            coated: Measured::new(coated_area, quality.area.clone()),
            under_lath: Measured::new(
                under_lath,
                large::of_zones(&exposure, quality.area.clone().and(quality.lean.clone())),
            ),
            laid,
            primed: match request.face {
                Face::Core => Measured::new(coated_area, quality.area.clone()),
                Face::Finished => Measured::new(
                    // The formula knows no far side of a piece that its skin fills.
                    if pebble { skin.far_area.min(coated_area) } else { skin.far_area },
                    far_side(&quality),
                ),
            },
            skin: Measured::new(skin.volume, quality.skin_volume.clone()),
            core: match core {
                Some(volume) => Measured::new(volume, quality.core_volume.clone()),
                None => Measured::not_defined(quality.core_volume.reason.clone()),
            },
            whole: (request.face == Face::Finished).then(|| Measured::new(exposure.union, proposed.most(of_whole))),
            closed_as_asked,
            footing: Some(
                stands::footing(
                    &solid,
                    &exposure,
                    &coated,
                    (request.face == Face::Finished).then_some(skin.volume),
                    Length::from_metres(diagonal),
                )
                .doubted(|quality| proposed.either_way(quality)),
            ),
            standing_water: None,
        };
        let notices = notices::all(&checked, request, (&scoped, other_up.as_ref()), &applied, too_large);
        let hidden = notices::hidden(&exposure, request);
        let unsettled = large::notice(&exposure);
        let apart = measures.footing.as_ref().and_then(|footing| notices::apart(footing, &exposure));
        let notices = proposed
            .findings
            .iter()
            .cloned()
            .chain(notices)
            .chain(hidden)
            .chain(unsettled)
            .chain(apart)
            .chain(unreached)
            .chain(notices::datum(&cleared))
            .collect();
        let figures = quantities::figures(&request.book, &measures);
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
            coated_area,
            bare_area,
            cleared,
            drawn_again_area,
            exposure,
            coated_by_part,
            by_class,
            near_limit,
            elevation,
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
            checked,
        };
        takeoff.measure();
        stage(Stage::Thin);
        takeoff.looked = if too_large {
            Err("the model is too large to look for thin places".to_owned())
        } else if pebble {
            Err(PEBBLE.to_owned())
        } else if !takeoff.exposure.is_settled {
            Err("bodies overlap in too many places to look for thin ones".to_owned())
        } else {
            Looked::quickly(&takeoff, request)
        };
        Ok(takeoff)
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

    /// Which zones lie for the larger part on sides that nobody has settled.
    #[must_use]
    pub fn undecided_zones(&self) -> Vec<bool> {
        let (mesh, zones) = (self.checked.model.mesh(), &self.steep.zones);
        let mut open = vec![0.0; zones.zones.len()];
        for face in (0..mesh.triangles().len()).filter(|face| self.scoped.is_open(*face)) {
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
                area(self.bare_area, self.proposed.either_way(bare(self.modelled_quality(), &self.scoped))),
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

/// The model is nothing beside its skin: mostly a drawing in another unit than was said.
fn is_pebble(size: [Length; 3], thickness: Length) -> bool {
    size.into_iter().fold(Length::ZERO, Length::max) < thickness * SKINS_ACROSS
}

/// What the bare area is worth by that of all areas: a side that nobody has settled is counted as coated, so it may be more.
fn bare(area: Quality, scoped: &Scoped) -> Quality {
    let turned_round = |doubt: Quality| match doubt.grade {
        Grade::UpperBound => Quality::new(Grade::LowerBound, doubt.reason),
        Grade::LowerBound => Quality::new(Grade::UpperBound, doubt.reason),
        Grade::Good | Grade::NotKnown | Grade::NotDefined => doubt,
    };
    scope_doubts(scoped).map(turned_round).fold(area, Quality::and)
}

/// Why areas are not settled, if they are not.
fn open_sides(scoped: &Scoped) -> Option<String> {
    let sides: Vec<&str> = scoped.questions.iter().map(|question| question.side).collect();
    (!sides.is_empty())
        .then(|| format!("nobody has said whether to coat the {}; counted as coated", sides.join(" and the ")))
}

/// What an open question of scope, and a rule that finds nothing, make of the coated area.
fn scope_doubts(scoped: &Scoped) -> impl Iterator<Item = Quality> {
    let open = open_sides(scoped).map(|why| Quality::new(Grade::UpperBound, why));
    let missed = |is_coated: bool| {
        let rules = scoped.found.iter().filter(|found| found.missed && (found.is == State::Coated) == is_coated);
        let rules: Vec<String> = rules.map(|found| format!("`{}`", plain(&found.rule))).collect();
        (!rules.is_empty()).then(|| format!("nothing large was found by the rule {}", rules.join(", ")))
    };
    let most = missed(false).map(|why| Quality::new(Grade::UpperBound, format!("{why}; counted as coated")));
    let least = missed(true).map(|why| Quality::new(Grade::LowerBound, why));
    [open, most, least].into_iter().flatten()
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

/// What a skin without a solid is worth: nothing is known where its two estimates disagree.
fn of_open(skin_volume: Quality, open: Option<&OpenSkin>) -> Quality {
    let Some(open) = open.filter(|open| !open.agrees()) else { return skin_volume };
    skin_volume.and(Quality::new(
        Grade::NotKnown,
        format!(
            "two ways to measure the skin of the open sheets disagree, {} and {}; area x thickness stands in its place",
            open.by_feet.volume, open.by_points.volume
        ),
    ))
}

/// What the area of the far side of the skin is worth: it lies where the skin ends, so it is no better known than on which side that is.
fn far_side(quality: &QualityTable) -> Quality {
    match quality.skin_volume.grade {
        Grade::NotKnown | Grade::NotDefined => quality.area.clone().and(quality.skin_volume.clone()),
        Grade::Good | Grade::LowerBound | Grade::UpperBound => quality.area.clone(),
    }
}

/// The model's grades, and what an open question of scope does to them.
fn graded(mut table: QualityTable, scoped: &Scoped) -> QualityTable {
    for doubt in scope_doubts(scoped) {
        table.area = table.area.and(doubt.clone());
        table.skin_volume = table.skin_volume.and(doubt);
    }
    table
}
