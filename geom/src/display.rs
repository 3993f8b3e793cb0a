//! A lighter mesh to look at. No quantity is ever taken from it.

use crate::mesh::Mesh;
use crate::units::Length;
use nalgebra::{Point3, Vector3};
use std::collections::HashMap;

/// A mesh for the screen.
#[derive(Clone, Debug, PartialEq)]
pub struct Display {
    /// Corners.
    pub positions: Vec<Point3<f64>>,
    /// Corner indices.
    pub triangles: Vec<[u32; 3]>,
    /// The face of the true mesh that each triangle stands for: class, zone and part are read from it.
    pub stands_for: Vec<u32>,
    /// No corner lies further than this from where it was; nothing if the mesh is the true one.
    pub moved_at_most: Length,
}

impl Display {
    /// At most `most` triangles: corners that share a cube of a grid become one, at their mean (Rossignac and Borrel,
    /// "Multi-resolution 3D approximations for rendering complex scenes", 1993). The grid is the finest of a rising
    /// series that is light enough. A mesh that is light already stays as it is.
    ///
    /// Linear in the mesh for each grid tried, as a rule two or three. The same bits every time.
    #[must_use]
    pub fn of(mesh: &Mesh, most: usize) -> Self {
        let n = mesh.triangles().len();
        if n <= most {
            return Self {
                positions: mesh.positions().to_vec(),
                triangles: mesh.triangles().to_vec(),
                stands_for: (0..n as u32).collect(),
                moved_at_most: Length::ZERO,
            };
        }
        let area: f64 = (0..n).map(|face| mesh.area_vector(face).norm()).sum();
        // A plain surface through a grid of cubes has about two triangles a cell; a slanting one more.
        let mut cell = (2.0 * area / most.max(1) as f64).sqrt().max(1e-9);
        loop {
            let lighter = Self::on_grid(mesh, cell);
            if lighter.triangles.len() <= most {
                return lighter;
            }
            cell *= 1.15;
        }
    }

    fn on_grid(mesh: &Mesh, cell: f64) -> Self {
        let mut cubes: HashMap<[i32; 3], u32> = HashMap::new();
        let mut sums: Vec<(Vector3<f64>, f64)> = Vec::new();
        let of: Vec<u32> = (mesh.positions().iter())
            .map(|p| {
                let key = [p.x, p.y, p.z].map(|x| (x / cell).floor() as i32);
                let next = sums.len() as u32;
                let k = *cubes.entry(key).or_insert(next);
                if k == next {
                    sums.push((Vector3::zeros(), 0.0));
                }
                let (sum, count) = &mut sums[k as usize];
                *sum += p.coords;
                *count += 1.0;
                k
            })
            .collect();
        let mut kept: Vec<([u32; 3], u32)> = (mesh.triangles().iter().enumerate())
            .filter_map(|(face, triangle)| {
                let [a, b, c] = triangle.map(|v| of[v as usize]);
                let collapsed = a == b || b == c || c == a;
                let first = if a < b && a < c {
                    [a, b, c]
                } else if b < c {
                    [b, c, a]
                } else {
                    [c, a, b]
                };
                (!collapsed).then_some((first, face as u32))
            })
            .collect();
        kept.sort_unstable();
        kept.dedup_by_key(|(triangle, _)| *triangle);
        let positions: Vec<Point3<f64>> = sums.into_iter().map(|(sum, count)| Point3::from(sum / count)).collect();
        let moved =
            of.iter().zip(mesh.positions()).map(|(k, p)| (positions[*k as usize] - p).norm()).fold(0.0, f64::max);
        Self {
            positions,
            triangles: kept.iter().map(|(triangle, _)| *triangle).collect(),
            stands_for: kept.iter().map(|(_, face)| *face).collect(),
            moved_at_most: Length::from_metres(moved),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A flat square of `n` x `n` cells of side 1/n.
    fn sheet(n: u32) -> Mesh {
        let at = |k: u32| f64::from(k) / f64::from(n);
        let positions = (0..=n).flat_map(|y| (0..=n).map(move |x| Point3::new(at(x), at(y), 0.0))).collect();
        let corner = |x, y| y * (n + 1) + x;
        let triangles = (0..n)
            .flat_map(|y| (0..n).map(move |x| (x, y)))
            .flat_map(|(x, y)| {
                let [a, b, c, d] = [corner(x, y), corner(x + 1, y), corner(x + 1, y + 1), corner(x, y + 1)];
                [[a, b, c], [a, c, d]]
            })
            .collect();
        Mesh::new(positions, triangles, Vec::new())
    }

    #[test]
    fn a_light_mesh_stays_as_it_is() {
        let mesh = sheet(10);
        let display = Display::of(&mesh, 200);
        assert_eq!((display.triangles.as_slice(), display.moved_at_most), (mesh.triangles(), Length::ZERO));
    }

    // A plane stays a plane under means, so only the rim can be lost: less than one cube on each side.
    #[test]
    fn a_heavy_sheet_gets_light_stays_flat_and_keeps_its_area() {
        let mesh = sheet(200);
        let display = Display::of(&mesh, 5000);
        assert!(display.triangles.len() <= 5000 && display.triangles.len() > 1500, "{}", display.triangles.len());
        let moved = display.moved_at_most.metres();
        let light = Mesh::new(display.positions.clone(), display.triangles.clone(), Vec::new());
        let area: f64 = (0..display.triangles.len()).map(|f| light.area_vector(f).z).sum();
        assert!(light.positions().iter().all(|p| p.z == 0.0));
        assert!(area <= 1.0 + 1e-12 && area >= (1.0 - 2.0 * moved).powi(2), "{area}");
        for (triangle, face) in display.triangles.iter().zip(&display.stands_for) {
            for (corner, old) in triangle.iter().zip(rotations(mesh.corners(*face as usize), &light, triangle)) {
                assert!((light.positions()[*corner as usize] - old).norm() <= moved);
            }
        }
    }

    /// The old corners in the order of the new ones: the rotation that moves them least.
    fn rotations(old: [Point3<f64>; 3], light: &Mesh, new: &[u32; 3]) -> [Point3<f64>; 3] {
        let away = |k: usize| -> f64 {
            (0..3).map(|i| (light.positions()[new[i] as usize] - old[(i + k) % 3]).norm()).fold(0.0, f64::max)
        };
        let k = (0..3).min_by(|&a, &b| away(a).total_cmp(&away(b))).unwrap_or(0);
        [old[k], old[(k + 1) % 3], old[(k + 2) % 3]]
    }
}
