//! The surface that zones are found on: what of the model is coated and exposed, in triangles small enough that the
//! size of the designer's triangles does not matter.

use super::flat::facets;
use super::stitch::stitched;
use crate::lean::{lean_of, needs_cutting, refine_for_zones};
use crate::mesh::Mesh;
use crate::solid::{Exposure, Facet, Solid};
use crate::topology::Topology;
use crate::units::Length;
use rayon::prelude::*;
use std::borrow::Cow;

/// Pieces are no longer than this share of the averaging radius: two pieces a patch of the average.
const PIECES: f64 = 8.0;

/// The triangles that zones are found on, and where each comes from.
#[derive(Clone, Debug)]
pub struct Surface<'a> {
    pub(super) mesh: Cow<'a, Mesh>,
    pub(super) topology: Cow<'a, Topology>,
    /// Coated and exposed, a triangle each.
    pub(super) coated: Vec<bool>,
    /// Exposed coated area of each triangle in square metres.
    pub(super) size: Vec<f64>,
    /// The model's triangle that each lies on; empty where the surface is the model's own mesh.
    pub(super) source: Vec<u32>,
    /// Exposed coated area of each of the model's triangles, in square metres.
    pub(super) model_size: Vec<f64>,
    /// The flat facet of each triangle, `NOWHERE` for none.
    pub(super) flat: Vec<u32>,
    model: &'a Mesh,
}

impl<'a> Surface<'a> {
    /// The coated faces of a model, each with the `share` of it, 0 to 1, that lies exposed. Faces longer than an eighth of
    /// `radius` are cut small. Near linear in the triangles and in area / radius^2.
    ///
    /// # Panics
    /// If `coated` has not one entry a face.
    #[must_use]
    pub fn of(
        mesh: &'a Mesh,
        topology: &'a Topology,
        coated: &[bool],
        share: impl Fn(usize) -> f64 + Sync,
        radius: Length,
    ) -> Self {
        let every = || (0..coated.len()).into_par_iter().with_min_len(1 << 12);
        let coated: Vec<bool> = every().map(|f| coated[f] && share(f) > 0.0).collect();
        let size = |f: usize| if coated[f] { mesh.area_vector(f).norm() * share(f) } else { 0.0 };
        let size: Vec<f64> = every().map(size).collect();
        let whole = Self {
            mesh: Cow::Borrowed(mesh),
            topology: Cow::Borrowed(topology),
            coated,
            model_size: size.clone(),
            size,
            source: Vec::new(),
            flat: Vec::new(),
            model: mesh,
        };
        whole.with_facets(radius).refined(radius)
    }

    /// What lies exposed of the coated faces of a model: bodies that overlap or touch within `gap` and go on as one another
    /// are one surface. `solid` is of the model's mesh, and `exposure` of the solid.
    ///
    /// # Panics
    /// If `coated` has not one entry a face.
    #[must_use]
    pub fn exposed(
        mesh: &'a Mesh,
        topology: &'a Topology,
        coated: &[bool],
        (solid, exposure): (&Solid<'_>, &Exposure),
        gap: Length,
        radius: Length,
    ) -> Self {
        let share = |f: usize| exposure.share(f);
        if exposure.is_whole() {
            return Self::of(mesh, topology, coated, share, radius);
        }
        let model_size: Vec<f64> =
            (0..coated.len()).map(|f| if coated[f] { mesh.area_vector(f).norm() * share(f) } else { 0.0 }).collect();
        let (drawn, facets) = exposure.surface(solid);
        let counts =
            |facet: &Facet| facet.coat && model_size.get(facet.source as usize).is_some_and(|&size| size > 0.0);
        let kept = || drawn.triangles().iter().zip(&facets).filter(|(_, facet)| counts(facet));
        let triangles = kept().map(|(t, _)| *t).collect();
        let facet_of: Vec<u32> = kept().map(|(_, facet)| facet.source).collect();
        let one = stitched(
            Mesh::new(drawn.positions().to_vec(), triangles, Vec::new()).with_origin(mesh.origin),
            gap.metres(),
        );
        let source: Vec<u32> = one.from.iter().map(|&f| facet_of[f as usize]).collect();
        // Each of the model's faces keeps its exposed area: joining moves corners by up to the gap.
        let mut size: Vec<f64> = (0..source.len()).map(|f| one.mesh.area_vector(f).norm()).collect();
        let mut sum = vec![0.0; coated.len()];
        source.iter().zip(&size).for_each(|(&f, s)| sum[f as usize] += s);
        for (size, &f) in size.iter_mut().zip(&source) {
            *size *= if sum[f as usize] > 0.0 { model_size[f as usize] / sum[f as usize] } else { 0.0 };
        }
        let topology = Topology::of(&one.mesh);
        let whole = Self {
            coated: size.iter().map(|&s| s > 0.0).collect(),
            mesh: Cow::Owned(one.mesh),
            topology: Cow::Owned(topology),
            size,
            source,
            model_size,
            flat: Vec::new(),
            model: mesh,
        };
        whole.with_facets(radius).refined(radius)
    }

    fn with_facets(mut self, radius: Length) -> Self {
        self.flat = facets(&self.mesh, &self.topology, &self.coated, radius.metres());
        self
    }

    /// Cut small where it is coarse.
    fn refined(self, radius: Length) -> Self {
        let limit = radius.metres() / PIECES;
        if !needs_cutting(&self.mesh, |f| self.coated[f], limit) {
            return self;
        }
        let fine = refine_for_zones(&self.mesh, |f| self.coated[f], limit);
        let of_whole = |f: usize| self.size[f] / self.mesh.area_vector(f).norm().max(f64::MIN_POSITIVE);
        let size = |(piece, &f): (usize, &u32)| fine.mesh.area_vector(piece).norm() * of_whole(f as usize);
        let size: Vec<f64> = fine.parent.par_iter().enumerate().with_min_len(1 << 12).map(size).collect();
        let topology = Topology::of(&fine.mesh);
        let flat = fine.parent.iter().map(|&f| self.flat[f as usize]).collect();
        let source = match &self.source[..] {
            [] => fine.parent,
            from => fine.parent.iter().map(|&f| from[f as usize]).collect(),
        };
        Self {
            coated: vec![true; size.len()],
            mesh: Cow::Owned(fine.mesh),
            topology: Cow::Owned(topology),
            size,
            source,
            model_size: self.model_size,
            model: self.model,
            flat,
        }
    }

    /// The model's triangle that one lies on.
    pub(super) fn source(&self, piece: usize) -> usize {
        self.source.get(piece).map_or(piece, |&f| f as usize)
    }

    /// Lean of one of the model's triangles alone, in radians.
    pub(super) fn raw_lean(&self, face: usize) -> f32 {
        lean_of(&self.model.area_vector(face)).radians() as f32
    }

    /// It is the model's own mesh.
    pub(super) fn is_model(&self) -> bool {
        self.source.is_empty()
    }
}
