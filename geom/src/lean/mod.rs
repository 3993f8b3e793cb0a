//! Lean: the angle of the outward side of a face from straight up. 0 a top, 90 plumb, 180 a ceiling.
//!
//! Raw lean is that of a single triangle. Lath and mix do not see single triangles: [`Leans`] also holds the mean over
//! a neighbourhood, measured along the surface, so that one-inch bumps do not break a wall into tops and undercuts,
//! while the two sides of a fin stay apart.

mod class;
mod gather;
mod grain;
mod patch;
mod pieces;
mod refine;

pub use class::{Class, ClassLimits};
pub(crate) use gather::NOWHERE;
pub(crate) use grain::{Grain, Smoothed};
pub(crate) use patch::Spots;
pub(crate) use pieces::{Clusters, Faces, Pieces, centroid};

use crate::mesh::Mesh;
use crate::topology::Topology;
use crate::units::{Angle, Area, Length};
use nalgebra::Vector3;
use rayon::prelude::*;
pub(crate) use refine::refine_for_zones;
use refine::{Coarseness, refine};

/// Patches along the radius, where the mean itself is asked for, and where it only tells classes apart.
const FINE: f64 = 5.0;
const COARSE: f64 = 4.0;

/// Coarse faces are left as they are when they are less than one part in so many of the area.
const FEW: u64 = 50;

/// What lies farther off than so many radii along the surface does not enter a mean: the radius, the rim, the patch, and
/// the patches blended.
pub(crate) const REACH: f64 = 1.0 + (0.5 * patch::RIM + gather::ROUND + patch::BLEND) / FINE;

/// Lean of every face, raw and averaged.
#[derive(Clone, Debug, PartialEq)]
pub struct Leans {
    pub(crate) raw: Vec<f32>,
    /// Mean of unit normals over the neighbourhood.
    pub(crate) mean: Vec<Vector3<f32>>,
    pub(crate) fold: Vec<bool>,
    /// Lean of the mean; not a number where the mean has no direction.
    smooth: Vec<f32>,
    coarse: Coarseness,
}

/// More than a few faces that count are coarser than `limit`.
pub(crate) fn needs_cutting(mesh: &Mesh, counts: impl Fn(usize) -> bool + Sync, limit: f64) -> bool {
    Coarseness::of(mesh, counts).beyond(limit, FEW)
}

/// Two sides that cancel have no direction in common.
fn lean_of_mean(mean: &Vector3<f32>) -> f32 {
    let mean = mean.cast::<f64>();
    if mean.norm_squared() > 1e-6 { lean_of(&mean).radians() as f32 } else { f32::NAN }
}

/// The lean of a direction, 0 to 180 degrees; straight up for no direction at all.
#[must_use]
pub fn lean_of(direction: &Vector3<f64>) -> Angle {
    Angle::from_radians(direction.xy().norm().atan2(direction.z))
}

impl Leans {
    /// Measures every face. Only `coated` faces enter a neighbourhood; a bare face keeps its raw lean.
    ///
    /// The mean is that of unit normals, weighted by area, over all faces within `radius` along the surface. A face
    /// larger than the neighbourhood is cut small first and takes the mean of its pieces.
    /// Near linear; the same bits for any number of threads.
    ///
    /// # Panics
    /// If `coated` has not one entry a face.
    #[must_use]
    pub fn measure(mesh: &Mesh, topology: &Topology, coated: &[bool], radius: Length) -> Self {
        Self::of(mesh, topology, coated, radius, Coarseness::of(mesh, |face| coated[face]))
    }

    /// Of faces that have been cut small, as far as that is within reason.
    pub(crate) fn of_pieces(mesh: &Mesh, topology: &Topology, coated: &[bool], radius: Length) -> Self {
        Self::of(mesh, topology, coated, radius, Coarseness::none())
    }

    fn of(mesh: &Mesh, topology: &Topology, coated: &[bool], radius: Length, coarse: Coarseness) -> Self {
        let label: Vec<u32> = coated.iter().map(|&c| if c { 0 } else { NOWHERE }).collect();
        let every = || (0..label.len()).into_par_iter().with_min_len(1 << 12);
        let raw = every().map(|face| lean_of(&mesh.area_vector(face)).radians() as f32).collect();
        let leans = Self { raw, coarse, mean: Vec::new(), fold: Vec::new(), smooth: Vec::new() };
        leans.within(mesh, topology, &label, radius, FINE, |_| true)
    }

    /// Means anew, over faces of one label only, for the faces that are `wanted`, by so many `patches` along the radius.
    fn within(
        &self,
        mesh: &Mesh,
        topology: &Topology,
        label: &[u32],
        radius: Length,
        patches: f64,
        wanted: impl Fn(usize) -> bool + Sync,
    ) -> Self {
        assert_eq!(label.len(), mesh.triangles().len(), "one entry a face");
        let radius = radius.metres();
        let sizes = [radius, radius / patches];

        let (raw, coarse) = (self.raw.clone(), self.coarse.clone());
        if !coarse.beyond(radius / 2.0, FEW) {
            let means = patch::means(&Faces { mesh, topology }, label, sizes, wanted);
            let smooth = means.normal.par_iter().with_min_len(1 << 12).map(lean_of_mean).collect();
            return Self { raw, mean: means.normal, fold: means.fold, smooth, coarse };
        }
        let fine = refine(mesh, |f| label[f] != NOWHERE, radius / 2.0);
        let labels: Vec<u32> = fine.parent.iter().map(|&f| label[f as usize]).collect();
        let pieces = Faces { mesh: &fine.mesh, topology: &Topology::of(&fine.mesh) };
        let means = patch::means(&pieces, &labels, sizes, |f| wanted(fine.parent[f] as usize));
        let n = label.len();
        let (mut mean, mut fold) = (vec![Vector3::zeros(); n], vec![false; n]);
        let mut first = 0;
        for run in fine.parent.chunk_by(|a, b| a == b) {
            let pieces = first..first + run.len();
            first = pieces.end;
            let face = run[0] as usize;
            if run.len() == 1 {
                (mean[face], fold[face]) = (means.normal[pieces.start], means.fold[pieces.start]);
                continue;
            }
            let (mut sum, mut area, mut folded) = (Vector3::zeros(), 0.0, 0.0);
            for piece in pieces {
                let size = fine.mesh.area_vector(piece).norm();
                sum += means.normal[piece].cast::<f64>() * size;
                area += size;
                folded += if means.fold[piece] { size } else { 0.0 };
            }
            mean[face] = (sum / f64::max(area, f64::MIN_POSITIVE)).cast();
            fold[face] = 2.0 * folded > area;
        }
        let smooth = mean.par_iter().with_min_len(1 << 12).map(lean_of_mean).collect();
        Self { raw, mean, fold, smooth, coarse }
    }

    /// Lean of the triangle alone.
    #[must_use]
    pub fn raw(&self, face: usize) -> Angle {
        Angle::from_radians(f64::from(self.raw[face]))
    }

    /// Lean of the neighbourhood.
    #[must_use]
    pub fn smooth(&self, face: usize) -> Angle {
        // Without a direction in common, the face speaks for itself.
        let smooth = self.smooth[face];
        if smooth.is_nan() { self.raw(face) } else { Angle::from_radians(f64::from(smooth)) }
    }

    /// Area of the coated faces whose class is another one after averaging.
    #[must_use]
    pub fn changed_area(&self, mesh: &Mesh, coated: &[bool], limits: &ClassLimits) -> Area {
        let changed = |f: &usize| coated[*f] && limits.class(self.raw(*f)) != limits.class(self.smooth(*f));
        Area::from_square_metres(
            (0..self.raw.len()).filter(changed).map(|f| mesh.area_vector(f).norm()).fold(0.0, |a, b| a + b),
        )
    }
}
