//! What is kept of a model: all that reading and measuring it gave, and nothing that the book's coverages, densities and
//! wastes merely multiply.
//!
//! Two kinds of book values:
//!
//! * *measured with*, part of the key: `class.limits`, the thickness to place (from `cover.*` and `carve.*`, or set by hand),
//!   `build.*`, `contact.gap`, `scope.*`, `zone.*`, `edge.*`, `reach.*`, `joint.*`, and `lath.*` but for its weight; with an approved model
//!   also `revision.tolerance`;
//! * *reckoned with*, applied to what is kept on every run: `mix.*`, `waste.*`, `primer.*`, `colour.*`, `sealer.*`, `coating.*`,
//!   `lath.weight`, `foam.*`, `core.min`, `glue.*`, `floor.ask_limit`. A change of these reads and measures nothing again.

use super::Summary;
use super::row::grade_of;
use crate::book::{Book, Foam, Lath, PerClass, Thickness};
use crate::quantities::floor::{Bearing, Footing};
use crate::quantities::skin::Applied;
use crate::quantities::{Grade, Measured as Figure, Measures, Quality, lath::Laid};
use crate::request::Request;
use crate::revisions::{Measured, Revisions};
use cragskin_geom::footing::{Foot, Hull};
use cragskin_geom::units::{Area, Length, Volume};
use serde::{Deserialize, Serialize};

/// A measured model, as it is kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Facts {
    summary: Summary,
    coated: Kept<f64>,
    under_lath: Kept<[f64; 5]>,
    laid: Option<(f64, f64, usize, u64)>,
    primed: Kept<f64>,
    skin: Kept<f64>,
    core: Kept<f64>,
    whole: Option<Kept<f64>>,
    closed_as_asked: bool,
    footing: Option<Kept<KeptFooting>>,
    standing_water: Option<f64>,
}

/// A figure in SI with its grade.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Kept<T> {
    value: Option<T>,
    grade: String,
    reason: String,
}

impl<T> Kept<T> {
    fn of<F>(figure: &Figure<F>, si: impl FnOnce(&F) -> T) -> Self {
        let quality = figure.quality();
        Self { value: figure.value().map(si), grade: quality.grade.words().to_owned(), reason: quality.reason.clone() }
    }

    /// None when the grade is no word of ours: the file is damaged.
    fn figure<F>(&self, typed: impl FnOnce(&T) -> F) -> Option<Figure<F>> {
        let grade = grade_of(&self.grade)?;
        match &self.value {
            Some(value) => Some(Figure::new(typed(value), Quality { grade, reason: self.reason.clone() })),
            None => (grade == Grade::NotDefined).then(|| Figure::not_defined(self.reason.clone())),
        }
    }
}

impl Facts {
    /// Of a measured model.
    #[must_use]
    pub fn of(measured: &Measured, request: &Request) -> Self {
        // Taken apart, so that a new measure cannot be forgotten.
        let Measures { coated, under_lath, laid, primed, skin, core, whole, closed_as_asked, footing, standing_water } =
            &measured.takeoff.measures;
        let area = |area: &Area| area.square_metres();
        let volume = |volume: &Volume| volume.cubic_metres();
        Self {
            summary: Summary::of(&measured.takeoff, request),
            coated: Kept::of(coated, area),
            under_lath: Kept::of(under_lath, |areas| areas.0.map(|a| a.square_metres())),
            laid: laid
                .as_ref()
                .map(|laid| (laid.pieces.metres(), laid.from_offcuts.metres(), laid.courses, laid.edge_fixings)),
            primed: Kept::of(primed, area),
            skin: Kept::of(skin, volume),
            core: Kept::of(core, volume),
            whole: whole.as_ref().map(|whole| Kept::of(whole, volume)),
            closed_as_asked: *closed_as_asked,
            footing: footing.as_ref().map(|figure| Kept::of(figure, kept_feet)),
            standing_water: standing_water.as_ref().map(volume),
        }
    }

    /// Of a model compared with the approved one.
    #[must_use]
    pub fn compared(revisions: &Revisions<'_>, request: &Request) -> Self {
        let mut facts = Self::of(&revisions.new, request);
        facts.summary.compared(revisions);
        facts
    }

    /// What the model comes to by the book of a request; none when what was kept is damaged.
    #[must_use]
    pub fn summary(&self, request: &Request) -> Option<Summary> {
        let measures = Measures {
            coated: self.coated.figure(|a| Area::from_square_metres(*a))?,
            under_lath: self.under_lath.figure(|areas| PerClass(areas.map(Area::from_square_metres)))?,
            laid: self.laid.map(|(pieces, from_offcuts, courses, edge_fixings)| Laid {
                pieces: Length::from_metres(pieces),
                from_offcuts: Length::from_metres(from_offcuts),
                courses,
                edge_fixings,
            }),
            primed: self.primed.figure(|a| Area::from_square_metres(*a))?,
            skin: self.skin.figure(|v| Volume::from_cubic_metres(*v))?,
            core: self.core.figure(|v| Volume::from_cubic_metres(*v))?,
            whole: match &self.whole {
                Some(kept) => Some(kept.figure(|v| Volume::from_cubic_metres(*v))?),
                None => None,
            },
            closed_as_asked: self.closed_as_asked,
            footing: match &self.footing {
                Some(kept) => Some(kept.figure(feet)?),
                None => None,
            },
            standing_water: self.standing_water.map(Volume::from_cubic_metres),
        };
        let mut summary = self.summary.clone();
        summary.reckon(request, &measures);
        Some(summary)
    }
}

/// What a piece stands on. SI.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct KeptFooting {
    /// Area, middle, size, share of the skin and of the foam of each foot.
    feet: Vec<[f64; 7]>,
    hull: Vec<[f64; 2]>,
    skin_at: [f64; 2],
    foam_at: [f64; 2],
    touches: Vec<[f64; 2]>,
}

fn kept_feet(footing: &Footing) -> KeptFooting {
    let row = |Bearing { foot: Foot { area, middle, size }, of_skin, of_foam }: &Bearing| {
        let [w, d] = size.map(Length::metres);
        [area.square_metres(), middle.x, middle.y, w, d, *of_skin, *of_foam]
    };
    let all = |places: &[nalgebra::Vector2<f64>]| places.iter().map(|at| (*at).into()).collect();
    KeptFooting {
        feet: footing.feet.iter().map(row).collect(),
        hull: all(&footing.hull.corners),
        skin_at: footing.skin_at.into(),
        foam_at: footing.foam_at.into(),
        touches: all(&footing.touches),
    }
}

fn feet(kept: &KeptFooting) -> Footing {
    let foot = |&[area, x, y, w, d, of_skin, of_foam]: &[f64; 7]| {
        let size = [w, d].map(Length::from_metres);
        let foot = Foot { area: Area::from_square_metres(area), middle: nalgebra::Vector2::new(x, y), size };
        Bearing { foot, of_skin, of_foam }
    };
    let all = |places: &[[f64; 2]]| places.iter().map(|at| (*at).into()).collect();
    Footing {
        feet: kept.feet.iter().map(foot).collect(),
        hull: Hull { corners: all(&kept.hull) },
        skin_at: kept.skin_at.into(),
        foam_at: kept.foam_at.into(),
        touches: all(&kept.touches),
    }
}

/// All that a model is measured with beside its own bytes, as text for a key. `compared` asks for what a comparison needs too.
#[must_use]
pub fn measured_with(request: &Request, compared: bool) -> String {
    let Request {
        name: _,
        model: _,
        reads: _,
        placing,
        face,
        close,
        sheets,
        skin,
        accuracy,
        scope,
        limits: _,
        book_name: _,
        book,
        store: _,
    } = request;
    // The book is taken apart, so that a new value has to be put on one side or the other.
    let Book {
        classes,
        thickness,
        mix: _,
        coatings: _,
        lath,
        foam,
        zones,
        scope: sides,
        revision_tolerance,
        floor_ask_limit: _,
        omitted: _,
        unread: _,
    } = book;
    let Foam { density: _, billet: _, kerf: _, core_min: _, glue: _, contact_gap } = foam;
    let Thickness { cover_min: _, cover_spread: _, carve_depth: _, build_plumb, build_ceiling } = thickness;
    let Lath {
        classes: lathed,
        sheet,
        side_lap,
        end_lap,
        waste,
        weight: _,
        fixing_grid,
        min_area,
        min_height,
        return_past_edge,
    } = lath;
    let applied = Applied::new(book, *skin).thickness;
    let lath = (lathed, sheet, side_lap, end_lap, waste, fixing_grid, min_area, min_height, return_past_edge);
    let tolerance = compared.then_some(revision_tolerance);
    let thickness = (applied, build_plumb, build_ceiling);
    let scope = (scope, sides, sheets);
    format!("{:?}", (placing, face, close, accuracy, scope, (classes, thickness, contact_gap, zones, lath, tolerance)))
}
