//! What is left for foam under the skin of a finished model, and where there is none or too little.

use crate::failure::Failure;
use crate::job::Face;
use crate::quantities::Grade;
use crate::request::Request;
use crate::steep::Search;
use crate::store::{Key, Kind};
use crate::takeoff::{Takeoff, solid};
use cragskin_geom::effort::Effort;
use cragskin_geom::mesh::Mesh;
use cragskin_geom::skin::{
    Coat, CoreMesh, Crevices, Face as Side, Place, core_mesh, crevices, local_thickness_at, places,
};
use cragskin_geom::solid::{Facet, Solid};
use cragskin_geom::units::Length;
use cragskin_geom::zones::ThinCore;
use serde::{Deserialize, Serialize};

/// The far side of the skin, and what to settle before foam is cut.
#[derive(Clone, Debug)]
pub struct Core {
    /// The core of a finished face; of a core face the finished work.
    pub far: CoreMesh,
    /// Of a core face: the model itself, closed, which foam is cut as. None where bodies overlap.
    pub drawn: Option<Mesh>,
    /// What was found on the way.
    pub looked: Looked,
}

/// Places to settle before foam is cut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Looked {
    /// No foam, or too little.
    pub places: Vec<Place>,
    /// The same as the fix list wants them.
    pub thin: Vec<ThinCore>,
    /// Mix that crevices swallow.
    pub crevices: Crevices,
}

/// Cells of half the skin's thickness on the surface: up to so many they are that small, above that twice the size. By trial,
/// for a second or so of work on a plain model.
const FINE: f64 = 100_000.0;
/// A takeoff looks for places where that is a matter of seconds: up to so many cells of half the thickness,
const QUICK_CELLS: f64 = 400_000.0;
/// and with so many steps of work a cell (the demo takes 92,000), but no less and no more than these in all.
const QUICK_WORK: (f64, f64, f64) = (150_000.0, 3e9, 16e9);

fn half_cells(takeoff: &Takeoff) -> f64 {
    let cell = takeoff.applied.thickness.metres() / 2.0;
    (takeoff.coated_area + takeoff.bare_area).square_metres() / (cell * cell)
}

impl Core {
    /// Works it out for a measured model.
    ///
    /// # Errors
    /// When the model has no inside, or no skin.
    pub fn new(takeoff: &Takeoff, request: &Request) -> Result<Self, Failure> {
        let foam = Foam::of(takeoff, request)?;
        let inside = foam.solid.inside();
        let far = request.store.kept(
            Kind::Core,
            || foam.key(),
            || core_mesh(&inside, &foam.surface, &foam.coat(), foam.grid),
        );
        // What the takeoff has found is not looked for again.
        let looked = match &takeoff.looked {
            Ok(looked) => looked.clone(),
            Err(_) => request.store.kept(
                Kind::CorePlaces,
                || foam.key().and(&foam.least),
                || foam.look(Some(&far.mesh), &Effort::any()),
            ),
        };
        let drawn = (foam.face == Side::Core && takeoff.exposure.is_whole()).then(|| inside.into_owned());
        Ok(Self { far, drawn, looked })
    }
}

/// What the core is found from.
struct Foam<'a> {
    takeoff: &'a Takeoff,
    solid: Solid<'a>,
    /// Of the solid, with what of it is coated.
    surface: Mesh,
    facets: Vec<Facet>,
    coated: Vec<bool>,
    face: Side,
    thickness: Length,
    /// Side of the cells.
    grid: Length,
    /// The least that foam may be.
    least: Length,
}

impl<'a> Foam<'a> {
    fn of(takeoff: &'a Takeoff, request: &Request) -> Result<Self, Failure> {
        let file = &takeoff.file;
        if !takeoff.closed {
            return Err(Failure::of_file(file, "the model is open, so it has no core")
                .hint("--close back or --close floor closes it against a plane"));
        }
        let quality = takeoff.measures.core.quality();
        if quality.grade == Grade::NotDefined {
            return Err(Failure::of_file(
                file,
                format!("the core is not defined, so no mesh is cut: {}", quality.reason),
            )
            .hint("--close back or --close floor closes it against a plane; else have the piece drawn closed"));
        }
        if takeoff.steep.search == Search::TooLarge {
            return Err(Failure::of_file(file, "too large to cut a core at this thickness")
                .hint("look at the size that `cragskin takeoff` prints: is the unit right?"));
        }
        if !takeoff.exposure.is_settled {
            return Err(Failure::of_file(file, "bodies overlap in so many places that no core can be cut")
                .hint("have the bodies joined into one where the model is drawn"));
        }
        let solid = solid(&takeoff.checked, request);
        let (surface, facets) = takeoff.exposure.surface(&solid);
        let is_coated = takeoff.coated();
        let coated: Vec<bool> = facets
            .iter()
            .map(|facet| facet.coat && is_coated.get(facet.source as usize).copied().unwrap_or(false))
            .collect();
        if !coated.contains(&true) {
            return Err(Failure::of_file(file, "nothing is coated, so the core is the model itself"));
        }
        let face = match request.face {
            Face::Finished => Side::Finished,
            Face::Core => Side::Core,
        };
        let thickness = takeoff.applied.thickness;
        let grid = if half_cells(takeoff) > FINE { thickness } else { thickness / 2.0 };
        Ok(Self { takeoff, solid, surface, facets, coated, face, thickness, grid, least: request.book.foam.core_min })
    }

    /// What it is worked out from.
    fn key(&self) -> Key {
        self.takeoff.key.clone().and(&(self.face, self.thickness, self.grid))
    }

    fn coat(&self) -> Coat<'_> {
        Coat { face: self.face, coated: &self.coated, thickness: self.thickness, thickness_of: &[] }
    }

    /// Places without foam and crevices; `core` if it is cut already.
    fn look(&self, core: Option<&Mesh>, effort: &Effort) -> Looked {
        let (inside, coat) = (self.solid.inside(), self.coat());
        let places = places(&inside, &self.surface, &coat, self.grid, core, self.least, effort);
        let source = |place: &Place| self.facets.get(place.face as usize).map(|facet| facet.source);
        let faces = self.solid.modelled();
        let thin = places
            .iter()
            .filter_map(|place| Some(ThinCore { face: source(place)?, at: place.at, area: place.area }))
            .filter(|thin| (thin.face as usize) < faces)
            .collect();
        let crevices = crevices(&inside, &self.surface, self.thickness, self.grid, effort);
        Looked { places, thin, crevices }
    }
}

/// Rays shot where nobody looks for single places, and the fewest that say anything.
const RAYS: usize = 20_000;
const FEWEST: usize = 1_000;

/// How much of the coated surface has too little behind it for foam, straight through a sample of its triangles;
/// none when they are too few to tell.
fn thin_by_rays(takeoff: &Takeoff, request: &Request) -> Option<String> {
    let solid = solid(&takeoff.checked, request);
    let (surface, facets) = takeoff.exposure.surface(&solid);
    let coated = takeoff.coated();
    let is_coated = |face: &u32| {
        let facet = facets[*face as usize];
        facet.coat && coated.get(facet.source as usize).copied().unwrap_or(false)
    };
    let all: Vec<u32> = (0..facets.len() as u32).filter(is_coated).collect();
    let sample: Vec<u32> = all.iter().copied().step_by(all.len().div_ceil(RAYS).max(1)).collect();
    let (skins, words) = match request.face {
        Face::Finished => (takeoff.applied.thickness * 2.0, "less than two skins through: no foam there"),
        Face::Core => (request.book.foam.core_min, "foam thinner than the book's least"),
    };
    let (mut thin, mut whole) = (0.0, 0.0);
    for (face, through) in sample.iter().zip(local_thickness_at(&surface, &sample)) {
        let area = surface.area_vector(*face as usize).norm();
        whole += area;
        if through < skins {
            thin += area;
        }
    }
    if sample.len() < FEWEST || whole == 0.0 {
        return None;
    }
    let area = takeoff.coated_area * (thin / whole);
    Some(format!("By rays at {} triangles about {area} of the coated surface is {words}", sample.len()))
}

impl Looked {
    /// Looks, if that takes no time worth speaking of.
    ///
    /// # Errors
    /// Why nobody looked.
    pub fn quickly(takeoff: &Takeoff, request: &Request) -> Result<Self, String> {
        if !takeoff.closed {
            return Err("the model is open, so it has no core".to_owned());
        }
        if takeoff.measures.core.value().is_none() {
            return Err("the core is not defined".to_owned());
        }
        let (cells, (a_cell, least, most)) = (half_cells(takeoff), QUICK_WORK);
        if !takeoff.skin.is_stand_in && cells <= QUICK_CELLS {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between the two")]
            let most = (a_cell * cells).clamp(least, most) as u64;
            let foam = Foam::of(takeoff, request).map_err(|failure| failure.to_string())?;
            let key = || foam.key().and(&(foam.least, most));
            let look = || {
                let effort = Effort::of(most);
                let looked = foam.look(None, &effort);
                (!effort.is_spent()).then_some(looked)
            };
            if let Some(looked) = request.store.kept(Kind::Places, key, look) {
                return Ok(looked);
            }
        }
        let sampled = thin_by_rays(takeoff, request).map_or_else(String::new, |words| format!(". {words}"));
        Err(format!("that takes long here, run core{sampled}"))
    }
}
