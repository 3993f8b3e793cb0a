//! What is left for foam under the skin of a finished model, and where there is none or too little.

use crate::failure::Failure;
use crate::job::Face;
use crate::request::Request;
use crate::takeoff::{Takeoff, closing_plane};
use cragskin_geom::mesh::Mesh;
use cragskin_geom::skin::{Coat, CoreMesh, Crevices, Face as Side, Place, core_mesh, crevices, places};
use cragskin_geom::solid::Solid;
use cragskin_geom::units::Length;
use cragskin_geom::zones::ThinCore;

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
#[derive(Clone, Debug, PartialEq)]
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
/// A takeoff looks for places where that is a matter of a second: so many cells of half the thickness, and triangles.
const QUICK: (f64, usize) = (400_000.0, 200_000);

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
        let cut = |solid: &Mesh, surface: &Mesh, coat: &Coat, grid| core_mesh(solid, surface, coat, grid, None);
        let (far, drawn, looked) = looked(takeoff, request, cut, |far| Some(&far.mesh))?;
        Ok(Self { far, drawn, looked })
    }
}

/// What `cut` makes of the model, the model itself where foam is cut as drawn, and the places, found with the mesh that `of`
/// picks from what was cut.
fn looked<T>(
    takeoff: &Takeoff,
    request: &Request,
    cut: impl FnOnce(&Mesh, &Mesh, &Coat, Length) -> T,
    of: impl FnOnce(&T) -> Option<&Mesh>,
) -> Result<(T, Option<Mesh>, Looked), Failure> {
    let file = &takeoff.file;
    if !takeoff.closed {
        return Err(Failure::new(format!("{file}: the model is open, so it has no core"))
            .hint("--close back or --close floor closes it against a plane"));
    }
    if !takeoff.steep.looked {
        return Err(Failure::new(format!("{file}: too large to cut a core at this thickness"))
            .hint("look at the size that `cragskin takeoff` prints: is the unit right?"));
    }
    let thickness = takeoff.applied.thickness;
    let mesh = takeoff.checked.model.mesh();
    let solid = Solid::of(mesh, &takeoff.checked.topology, closing_plane(mesh, request));
    let (surface, facets) = takeoff.exposure.surface(&solid);
    let is_coated = takeoff.coated();
    let coated: Vec<bool> = facets
        .iter()
        .map(|facet| facet.coat && is_coated.get(facet.source as usize).copied().unwrap_or(false))
        .collect();
    if !coated.contains(&true) {
        return Err(Failure::new(format!("{file}: nothing is coated, so the core is the model itself")));
    }
    let face = match request.face {
        Face::Finished => Side::Finished,
        Face::Core => Side::Core,
    };
    let coat = Coat { face, coated: &coated, thickness, thickness_of: &[] };
    let grid = if half_cells(takeoff) > FINE { thickness } else { thickness / 2.0 };
    let far = cut(solid.mesh(), &surface, &coat, grid);
    let places = places(solid.mesh(), &surface, &coat, grid, of(&far), request.book.foam.core_min, None);
    let source = |place: &Place| facets.get(place.face as usize).map(|facet| facet.source);
    let thin = places
        .iter()
        .filter_map(|place| Some(ThinCore { face: source(place)?, at: place.at, area: place.area }))
        .filter(|thin| (thin.face as usize) < mesh.triangles().len())
        .collect();
    let crevices = crevices(solid.mesh(), &surface, thickness, grid, None);
    let drawn = (face == Side::Core && takeoff.exposure.is_whole()).then(|| solid.mesh().clone());
    Ok((far, drawn, Looked { places, thin, crevices }))
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
        if half_cells(takeoff) > QUICK.0 || takeoff.checked.model.mesh().triangles().len() > QUICK.1 {
            return Err("not looked for, the model is large: run core".to_owned());
        }
        looked(takeoff, request, |_, _, _, _| (), |()| None)
            .map(|(_, _, looked)| looked)
            .map_err(|failure| failure.to_string())
    }
}
