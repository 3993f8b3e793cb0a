//! How much of the area is texture that lath bridges.
//!
//! The mean of the unit normals over a neighbourhood is shorter than 1 where they differ. They differ for two reasons: the
//! surface turns as a whole, and then the mean turns from place to place, or it is textured, and then the mean stays what
//! it is. What the change of the mean does not explain is texture. The area of a textured plate, times the length of the
//! mean, is the area of the plate without its texture: both are the length of the sum of area vectors.

use crate::lean::{Clusters, NOWHERE, Pieces, Smoothed};
use crate::units::Length;
use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;

/// A mean that changes by g a metre accounts for a shortening of this times g^2 r^2 / 4 over a radius r. On a ball the mean
/// is short by a half of g^2 r^2 / 4; within r of a sharp edge of two planes that turn by up to 180 degrees it is short by
/// 0.4 to 2.5 times that. So no edge is taken for texture.
const TURNING: f64 = 3.0;

/// Up to the first share nothing is taken for texture, from the second on all is: the rest is rounding and noise of patches.
const NOISE: [f64; 2] = [0.02, 0.06];

/// Softening of the least squares, as a share of the squared ways.
const SOFT: f64 = 0.03;

/// Texture by cluster.
pub(super) struct Texture {
    /// Share of the area that lath bridges, and how much of the shortening of the mean that is.
    bridged: Vec<[f32; 2]>,
}

impl Texture {
    pub(super) fn of(clusters: &Clusters, patch_of: &[u32], within: &Smoothed, radius: Length) -> Self {
        let quarter = 0.25 * radius.metres() * radius.metres();
        let one = |k: usize| {
            let short = 1.0 - f64::from(within.mean[k].norm());
            if within.fold[k] || short <= NOISE[0] {
                return [0.0; 2];
            }
            let texture = short - TURNING * quarter * turning(clusters, patch_of, within, k);
            let sure = ((texture - NOISE[0]) / (NOISE[1] - NOISE[0])).clamp(0.0, 1.0);
            [(texture * sure) as f32, (texture * sure / short) as f32]
        };
        Self { bridged: (0..clusters.count()).into_par_iter().with_min_len(1 << 10).map(one).collect() }
    }

    /// Share of the area that is left once its texture is bridged.
    pub(super) fn kept(&self, cluster: u32) -> f64 {
        if cluster == NOWHERE { 1.0 } else { 1.0 - f64::from(self.bridged[cluster as usize][0]) }
    }

    /// The direction of the surface without its texture, where it has the direction `raw` with it.
    pub(super) fn facing(&self, cluster: u32, raw: Vector3<f64>, mean: &Vector3<f32>) -> Vector3<f64> {
        let share = f64::from(self.bridged[cluster as usize][1]);
        if share == 0.0 {
            return raw;
        }
        let mean = mean.cast::<f64>().try_normalize(1e-3).unwrap_or(raw);
        (raw + (mean - raw) * share).try_normalize(1e-3).unwrap_or(mean)
    }
}

/// The square of how much the mean changes a metre, from the clusters beside: least squares, leaning to none.
fn turning(clusters: &Clusters, patch_of: &[u32], within: &Smoothed, k: usize) -> f64 {
    let (mut ways, mut changes) = (Matrix3::<f64>::zeros(), Matrix3::<f64>::zeros());
    for g in clusters.beside(k).map(|g| g as usize).filter(|&g| patch_of[g] == patch_of[k]) {
        let way = clusters.centre(g) - clusters.centre(k);
        ways += way * way.transpose();
        changes += (within.mean[g] - within.mean[k]).cast::<f64>() * way.transpose();
    }
    let soft = SOFT * ways.trace();
    (ways + Matrix3::from_diagonal_element(soft)).try_inverse().map_or(0.0, |i| (changes * i).norm_squared())
}
