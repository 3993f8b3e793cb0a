//! The grain that zones are grown at, and averages over it.

use super::gather::NOWHERE;
use super::patch;
use super::pieces::{Clusters, Faces, Pieces};
use super::{COARSE, Leans, lean_of, lean_of_mean};
use crate::units::{Angle, Length};
use nalgebra::Vector3;
use rayon::prelude::*;

/// Clusters along the radius that zones are made of: an inch, for a radius of six. Edges of zones are straightened that
/// much anyway.
const GRAIN: f64 = 6.0;

/// To tell classes apart, one part in ten may stay coarse.
const SOME: u64 = 10;

/// Averages over clusters of faces.
pub(crate) struct Smoothed {
    pub(crate) mean: Vec<Vector3<f32>>,
    pub(crate) fold: Vec<bool>,
    /// Lean of the mean; raw lean where the mean has no direction.
    lean: Vec<f32>,
}

impl Smoothed {
    fn new(clusters: &Clusters, mean: Vec<Vector3<f32>>, fold: Vec<bool>) -> Self {
        let lean = |(k, mean)| {
            let lean = lean_of_mean(mean);
            if lean.is_nan() { lean_of(&clusters.vector(k)).radians() as f32 } else { lean }
        };
        let lean = mean.par_iter().with_min_len(1 << 12).enumerate().map(lean).collect();
        Self { mean, fold, lean }
    }

    pub(crate) fn lean(&self, k: usize) -> Angle {
        Angle::from_radians(f64::from(self.lean[k]))
    }

    /// These, but `anew` where it says so.
    pub(crate) fn but(mut self, anew: &Self, here: &[bool]) -> Self {
        for k in (0..here.len()).filter(|&k| here[k]) {
            (self.mean[k], self.fold[k], self.lean[k]) = (anew.mean[k], anew.fold[k], anew.lean[k]);
        }
        self
    }
}

/// A surface at the grain of its zones, and how to average over it.
pub(crate) struct Grain<'a> {
    faces: Faces<'a>,
    leans: &'a Leans,
    /// Area of each face that counts.
    size: &'a [f64],
    step: f64,
    /// Clusters that lie in a flat facet: their own direction is their mean.
    flat: Vec<bool>,
    pub(crate) clusters: Clusters,
}

impl<'a> Grain<'a> {
    /// Gathers the faces that count, each with its `size` and the flat facet that it lies in, `NOWHERE` for none.
    pub(crate) fn of(
        faces: Faces<'a>,
        counts: &[bool],
        size: &'a [f64],
        leans: &'a Leans,
        radius: Length,
        facet: &[u32],
    ) -> Self {
        let step = radius.metres() / GRAIN;
        // Clusters do not reach over the edge of a facet.
        let apart = |f: usize| if !counts[f] { NOWHERE } else { facet[f].wrapping_add(1) };
        let label: Vec<u32> = (0..counts.len()).map(apart).collect();
        let clusters = Clusters::gather(&faces, &label, step);
        let mut flat = vec![false; clusters.count()];
        for (&k, &facet) in clusters.of.iter().zip(facet).filter(|(k, _)| **k != NOWHERE) {
            flat[k as usize] = facet != NOWHERE;
        }
        Self { faces, leans, size, step, flat, clusters }
    }

    fn smoothed(&self, mut mean: Vec<Vector3<f32>>, mut fold: Vec<bool>) -> Smoothed {
        for k in (0..mean.len()).filter(|&k| self.flat[k]) {
            if let Some(own) = self.clusters.vector(k).try_normalize(0.0) {
                (mean[k], fold[k]) = (own.cast(), false);
            }
        }
        Smoothed::new(&self.clusters, mean, fold)
    }

    /// The means that faces have, by cluster.
    pub(crate) fn measured(&self) -> Smoothed {
        self.gathered(self.leans)
    }

    fn gathered(&self, leans: &Leans) -> Smoothed {
        let mut sums = vec![(Vector3::<f64>::zeros(), 0.0, 0.0); self.clusters.count()];
        for (f, &k) in self.clusters.of.iter().enumerate().filter(|(_, k)| **k != NOWHERE) {
            let (size, sum) = (self.size[f], &mut sums[k as usize]);
            sum.0 += leans.mean[f].cast::<f64>() * size;
            sum.1 += if leans.fold[f] { size } else { 0.0 };
            sum.2 += size;
        }
        let mean = sums.iter().map(|(mean, _, size)| (mean / size.max(f64::MIN_POSITIVE)).cast()).collect();
        let fold = sums.iter().map(|(_, folded, size)| 2.0 * folded > *size).collect();
        self.smoothed(mean, fold)
    }

    /// Faces are too large for a neighbourhood and have to be cut for it.
    pub(crate) fn is_coarse(&self, radius: Length) -> bool {
        self.leans.coarse.beyond(radius.metres() / 2.0, SOME)
    }

    /// Means anew, over clusters of one label only, for those that are `wanted`. Coarse: enough to tell classes apart.
    pub(crate) fn means(&self, label: &[u32], radius: Length, wanted: &[bool]) -> Smoothed {
        let of = &self.clusters.of;
        let Faces { mesh, topology } = self.faces;
        if self.is_coarse(radius) {
            let labels: Vec<u32> = of.iter().map(|&k| if k == NOWHERE { k } else { label[k as usize] }).collect();
            let wanted = |f: usize| of[f] != NOWHERE && wanted[of[f] as usize];
            return self.gathered(&self.leans.within(mesh, topology, &labels, radius, COARSE, wanted));
        }
        let sizes = [radius.metres(), (radius.metres() / COARSE).max(self.step)];
        let means = patch::means(&self.clusters, label, sizes, |k| wanted[k]);
        self.smoothed(means.normal, means.fold)
    }
}
