//! A standing figure of 6 ft, to judge size by.

use cragskin_geom::mesh::Mesh;
use nalgebra::Point3;

/// Metres in 6 ft.
const HEIGHT: f64 = 6.0 * cragskin_geom::units::METRES_PER_FOOT;

const SIDES: u32 = 12;
/// Sines of the twelve hours, written out: the same bits on every machine.
const SINES: [f64; 12] = {
    let (h, s) = (0.5, 0.866_025_403_784_438_6);
    [0.0, h, s, 1.0, s, h, 0.0, -h, -s, -1.0, -s, -h]
};

/// The figure, its feet round `at`, facing the visitors' side or away: it is the same both ways.
#[must_use]
pub fn figure(at: Point3<f64>) -> Mesh {
    let (mut positions, mut triangles) = (Vec::new(), Vec::new());
    // From low to high: shift sideways, height and half width and half depth of each ring, in thousandths of the height.
    let limbs: [&[[f64; 4]]; 6] = [
        &[[-55.0, 0.0, 26.0, 55.0], [-55.0, 30.0, 24.0, 30.0], [-52.0, 280.0, 30.0, 34.0], [-48.0, 480.0, 48.0, 48.0]],
        &[[55.0, 0.0, 26.0, 55.0], [55.0, 30.0, 24.0, 30.0], [52.0, 280.0, 30.0, 34.0], [48.0, 480.0, 48.0, 48.0]],
        &[[0.0, 460.0, 92.0, 58.0], [0.0, 620.0, 78.0, 52.0], [0.0, 780.0, 108.0, 60.0], [0.0, 825.0, 90.0, 50.0]],
        &[[-145.0, 430.0, 20.0, 26.0], [-140.0, 620.0, 24.0, 26.0], [-118.0, 815.0, 30.0, 32.0]],
        &[[145.0, 430.0, 20.0, 26.0], [140.0, 620.0, 24.0, 26.0], [118.0, 815.0, 30.0, 32.0]],
        &[
            [0.0, 820.0, 32.0, 34.0],
            [0.0, 870.0, 36.0, 44.0],
            [0.0, 930.0, 46.0, 56.0],
            [0.0, 980.0, 34.0, 42.0],
            [0.0, 1000.0, 12.0, 16.0],
        ],
    ];
    for limb in limbs {
        let first = positions.len() as u32;
        for [shift, height, wide, deep] in limb {
            let scale = HEIGHT / 1000.0;
            positions.extend((0..SIDES as usize).map(|k| {
                let (sine, cosine) = (SINES[k], SINES[(k + 3) % 12]);
                let (x, y) = (shift + wide * cosine, deep * sine);
                Point3::new(at.x + scale * x, at.y + scale * y, at.z + scale * height)
            }));
        }
        let rings = limb.len() as u32;
        let corner = |ring: u32, k: u32| first + ring * SIDES + k % SIDES;
        for ring in 0..rings - 1 {
            for k in 0..SIDES {
                let (a, b) = (corner(ring, k), corner(ring, k + 1));
                let (c, d) = (corner(ring + 1, k + 1), corner(ring + 1, k));
                triangles.extend([[a, b, c], [a, c, d]]);
            }
        }
        for k in 1..SIDES - 1 {
            triangles.push([corner(0, 0), corner(0, k + 1), corner(0, k)]);
            triangles.push([corner(rings - 1, 0), corner(rings - 1, k), corner(rings - 1, k + 1)]);
        }
    }
    Mesh::new(positions, triangles, Vec::new())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_six_feet_tall_and_wound_outward() {
        let mesh = figure(Point3::new(1.0, 2.0, 0.0));
        let top = mesh.positions().iter().map(|p| p.z).fold(0.0, f64::max);
        assert!((top - 1.8288).abs() < 1e-12 && mesh.positions().iter().all(|p| p.z >= 0.0));
        let volume: f64 = (0..mesh.triangles().len())
            .map(|face| {
                let [a, b, c] = mesh.corners(face);
                a.coords.dot(&b.coords.cross(&c.coords)) / 6.0
            })
            .sum();
        // A person displaces about 0.07 m3.
        assert!((0.03..0.15).contains(&volume), "{volume}");
    }
}
