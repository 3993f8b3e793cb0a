//! Area and its kin, in sums that do not depend on order or on the number of threads.

use crate::mesh::Mesh;
use crate::numeric::FixedSum;
use crate::units::{Area, Length};
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

/// Area of the convex hull, in plan, of everything within `reach` of the floor (z = 0): what the piece stands on.
/// `None` when that is a point or a line. O(n log n) in the corners near the floor.
#[must_use]
pub fn footprint(mesh: &Mesh, reach: Length) -> Option<Area> {
    let mut points: Vec<[f64; 2]> =
        mesh.positions().iter().filter(|p| p.z <= reach.metres()).map(|p| [p.x, p.y]).collect();
    points.sort_unstable_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    points.dedup();
    // Andrew's monotone chain: lower hull left to right, upper hull back.
    let turn = |o: [f64; 2], a: [f64; 2], b: [f64; 2]| (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
    let chain = |points: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut hull: Vec<[f64; 2]> = Vec::new();
        for p in points {
            while hull.len() > 1 && turn(hull[hull.len() - 2], hull[hull.len() - 1], p) <= 0.0 {
                hull.pop();
            }
            hull.push(p);
        }
        hull.pop();
        hull
    };
    let mut hull = chain(&mut points.iter().copied());
    hull.extend(chain(&mut points.iter().rev().copied()));
    let first = *hull.first()?;
    let area: f64 = hull.windows(2).map(|pair| turn(first, pair[0], pair[1]) / 2.0).sum();
    (area > 0.0).then(|| Area::from_square_metres(area))
}

/// Width, depth and height once a skin is on the coated faces. A corner whose faces are all coated grows by the thickness every
/// way, one at a bare face as far as its coated faces carry it. O(n), one thread.
///
/// A box of 8 x 4 x 6 ft with its floor bare under 3/4 in: 8 ft 1-1/2 in, 4 ft 1-1/2 in, 6 ft 3/4 in.
#[must_use]
pub fn finished_size(mesh: &Mesh, coated: &[bool], thickness: Length) -> [Length; 3] {
    let t = thickness.metres();
    let mut whole = vec![true; mesh.positions().len()];
    for (triangle, coated) in mesh.triangles().iter().zip(coated) {
        triangle.iter().for_each(|corner| whole[*corner as usize] &= *coated);
    }
    let far = Vector3::repeat(f64::INFINITY);
    let (mut low, mut high) = (far, -far);
    for (face, triangle) in mesh.triangles().iter().enumerate() {
        let carried =
            mesh.area_vector(face).try_normalize(0.0).unwrap_or_default() * if coated[face] { t } else { 0.0 };
        for corner in triangle {
            let p = mesh.positions()[*corner as usize].coords;
            let grown = if whole[*corner as usize] { Vector3::repeat(t) } else { Vector3::zeros() };
            low = low.inf(&(p - grown)).inf(&(p + carried));
            high = high.sup(&(p + grown)).sup(&(p + carried));
        }
    }
    (high - low).map(|span| span.max(0.0)).map(Length::from_metres).into()
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
