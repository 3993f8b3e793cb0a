//! Area and its kin, in sums that do not depend on order or on the number of threads.

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
    let [total] = sums(mesh, diagonal, |face| if counts(face) { Some(0) } else { None });
    Area::from_square_metres(total)
}

/// Area of each of `N` bins; a face in no bin is not counted. O(n).
#[must_use]
pub fn area_by<const N: usize>(mesh: &Mesh, diagonal: f64, bin: impl Fn(usize) -> Option<usize> + Sync) -> [Area; N] {
    sums(mesh, diagonal, bin).map(Area::from_square_metres)
}

fn sums<const N: usize>(mesh: &Mesh, diagonal: f64, bin: impl Fn(usize) -> Option<usize> + Sync) -> [f64; N] {
    let empty = || [FixedSum::with_terms_up_to(diagonal * diagonal); N];
    (0..mesh.triangles().len())
        .into_par_iter()
        .with_min_len(1 << 14)
        .fold(empty, |mut sums, face| {
            if let Some(k) = bin(face) {
                sums[k].add(mesh.area_vector(face).norm());
            }
            sums
        })
        .reduce(empty, |mut a, b| {
            a.iter_mut().zip(b).for_each(|(x, y)| *x += y);
            a
        })
        .map(|sum| sum.value())
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
