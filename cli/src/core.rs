//! What is left for foam under the skin of a finished model, and where nothing is.

use crate::failure::Failure;
use crate::job::Face;
use crate::request::Request;
use crate::takeoff::{Takeoff, closing_plane};
use cragskin_geom::skin::{Coat, CoreMesh, Crevices, Face as Side, Place, core_mesh, crevices, places};
use cragskin_geom::solid::Solid;

/// The far side of the skin, and the places to settle before foam is cut.
#[derive(Clone, Debug)]
pub struct Core {
    /// The core of a finished face; of a core face the finished work.
    pub far: CoreMesh,
    /// No foam, or too little.
    pub places: Vec<Place>,
    /// Mix that crevices swallow.
    pub crevices: Crevices,
}

impl Core {
    /// Cells of the grid to a thickness.
    const FINENESS: f64 = 2.0;

    /// Works it out for a measured model.
    ///
    /// # Errors
    /// When the model has no inside, or no skin.
    pub fn new(takeoff: &Takeoff, request: &Request) -> Result<Self, Failure> {
        let file = &takeoff.file;
        if !takeoff.closed {
            return Err(Failure::new(format!("{file}: the model is open, so it has no core"))
                .hint("--close back or --close floor closes it against a plane"));
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
        let grid = thickness / Self::FINENESS;
        Ok(Self {
            far: core_mesh(solid.mesh(), &surface, &coat, grid, None),
            places: places(solid.mesh(), &surface, &coat, request.book.foam.core_min, grid, None),
            crevices: crevices(solid.mesh(), &surface, thickness, grid, None),
        })
    }
}
