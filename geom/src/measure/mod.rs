//! Area and its kin, in sums that do not depend on order or on the number of threads.

mod finished;

pub use finished::finished_size;

use crate::mesh::Mesh;
use crate::numeric::FixedSum;
use crate::units::Area;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// Area of the triangles that `counts`. Rounding is that of the single triangles, about 1e-16 each; the sum adds none.
///
/// `diagonal` is the length of the box diagonal in metres. O(n).
#[must_use]
pub fn area(mesh: &Mesh, diagonal: f64, counts: impl Fn(usize) -> bool + Sync) -> Area {
    let [total] = area_by(mesh, diagonal, |_| 1.0, |face| counts(face).then_some(0));
    total
}

/// Area of each of `N` bins, of the share of each face that counts; a face in no bin is not counted. O(n).
#[must_use]
pub fn area_by<const N: usize>(
    mesh: &Mesh,
    diagonal: f64,
    share: impl Fn(usize) -> f64 + Sync,
    bin: impl Fn(usize) -> Option<usize> + Sync,
) -> [Area; N] {
    let empty = || [FixedSum::with_terms_up_to(diagonal * diagonal); N];
    (0..mesh.triangles().len())
        .into_par_iter()
        .with_min_len(1 << 14)
        .fold(empty, |mut sums, face| {
            if let Some(k) = bin(face) {
                sums[k].add(mesh.area_vector(face).norm() * share(face));
            }
            sums
        })
        .reduce(empty, |mut a, b| {
            a.iter_mut().zip(b).for_each(|(x, y)| *x += y);
            a
        })
        .map(|sum| Area::from_square_metres(sum.value()))
}

/// What one part of the file amounts to, in the mesh's unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PartMeasure {
    /// Triangles.
    pub triangles: usize,
    /// Area.
    pub area: f64,
    /// Low corner of its box.
    pub low: Point3<f64>,
    /// High corner of its box.
    pub high: Point3<f64>,
}

/// Triangles, area and box of each of `parts` parts. O(n), one thread.
#[must_use]
pub fn parts(mesh: &Mesh, diagonal: f64, parts: usize) -> Vec<PartMeasure> {
    let far = Point3::from(Vector3::repeat(f64::INFINITY));
    let mut sums = vec![(FixedSum::with_terms_up_to(diagonal * diagonal), 0_usize, far, -far); parts];
    for face in 0..mesh.triangles().len() {
        let (sum, triangles, low, high) = &mut sums[mesh.part_of(face) as usize];
        sum.add(mesh.area_vector(face).norm());
        *triangles += 1;
        for p in mesh.corners(face) {
            *low = low.inf(&p);
            *high = high.sup(&p);
        }
    }
    sums.into_iter()
        .map(|(sum, triangles, low, high)| {
            let (low, high) = if triangles == 0 { (Point3::origin(), Point3::origin()) } else { (low, high) };
            PartMeasure { triangles, area: sum.value(), low, high }
        })
        .collect()
}

/// Area of each part in square metres, of the share of each face that counts. O(n), one thread.
#[must_use]
pub fn area_by_part(mesh: &Mesh, diagonal: f64, parts: usize, share: impl Fn(usize) -> f64) -> Vec<f64> {
    let mut sums = vec![FixedSum::with_terms_up_to(diagonal * diagonal); parts];
    for face in 0..mesh.triangles().len() {
        sums[mesh.part_of(face) as usize].add(mesh.area_vector(face).norm() * share(face));
    }
    sums.iter().map(FixedSum::value).collect()
}
