//! Still pictures without a graphics card: which face is seen at each pixel, from six fixed views.
//!
//! Parallel projection, so that a length on the picture is the same everywhere on it and can be taken off with a rule.

use crate::mesh::Mesh;
use crate::view::View;
use nalgebra::{Point3, Vector3};

/// How the room falls onto the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    axes: [Vector3<f64>; 3],
    left: f64,
    top: f64,
    pixels_per_metre: f64,
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
}

impl Frame {
    /// The box `low..high` whole, in the middle of a picture, with `margin` pixels left free on every side.
    ///
    /// # Panics
    /// If the margin leaves no picture.
    #[must_use]
    pub fn around(view: View, [low, high]: [Point3<f64>; 2], [width, height]: [usize; 2], margin: usize) -> Self {
        assert!(2 * margin < width.min(height), "a picture is wider than its margins");
        let axes = view.axes();
        let corner = |k: usize| {
            let pick = |axis: usize| if k >> axis & 1 == 1 { high[axis] } else { low[axis] };
            Vector3::new(pick(0), pick(1), pick(2))
        };
        let span = |axis: &Vector3<f64>| {
            let along = (0..8).map(|k| axis.dot(&corner(k)));
            along.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)))
        };
        let ((u0, u1), (v0, v1)) = (span(&axes[0]), span(&axes[1]));
        let room = |pixels: usize, metres: f64| (pixels - 2 * margin) as f64 / metres.max(1e-9);
        let pixels_per_metre = room(width, u1 - u0).min(room(height, v1 - v0));
        let left = f64::midpoint(u0, u1) - 0.5 * width as f64 / pixels_per_metre;
        let top = f64::midpoint(v0, v1) + 0.5 * height as f64 / pixels_per_metre;
        Self { axes, left, top, pixels_per_metre, width, height }
    }

    /// Pixels right, pixels down, and metres towards the viewer.
    #[must_use]
    pub fn project(&self, p: Point3<f64>) -> [f64; 3] {
        let [u, v, w] = self.axes.map(|axis| axis.dot(&p.coords));
        [(u - self.left) * self.pixels_per_metre, (self.top - v) * self.pixels_per_metre, w]
    }

    /// The scale.
    #[must_use]
    pub const fn pixels_per_metre(&self) -> f64 {
        self.pixels_per_metre
    }
}

/// At each pixel the number of the face seen there.
#[derive(Clone, Debug, PartialEq)]
pub struct Raster {
    frame: Frame,
    seen: Vec<u32>,
    depth: Vec<f64>,
}

/// No face.
pub const NOTHING: u32 = u32::MAX;

impl Raster {
    /// An empty picture.
    #[must_use]
    pub fn new(frame: Frame) -> Self {
        let n = frame.width * frame.height;
        Self { frame, seen: vec![NOTHING; n], depth: vec![f64::NEG_INFINITY; n] }
    }

    /// Draws all triangles of a mesh, numbered from `first`. Of two at one depth the earlier stays.
    pub fn draw(&mut self, mesh: &Mesh, first: u32) {
        let placed: Vec<[f64; 3]> = mesh.positions().iter().map(|p| self.frame.project(*p)).collect();
        for (k, triangle) in mesh.triangles().iter().enumerate() {
            self.triangle(triangle.map(|v| placed[v as usize]), first + k as u32);
        }
    }

    fn triangle(&mut self, [a, b, c]: [[f64; 3]; 3], number: u32) {
        let edge = |p: [f64; 3], q: [f64; 3], x: f64, y: f64| (q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0]);
        let twice = edge(a, b, c[0], c[1]);
        if twice == 0.0 {
            return;
        }
        // Pixel k has its centre at k + 1/2.
        let pixels = |k: usize, end: usize| {
            let (low, high) = (a[k].min(b[k]).min(c[k]), a[k].max(b[k]).max(c[k]));
            let clamp = |x: f64| x.clamp(0.0, end as f64) as usize;
            clamp((low - 0.5).ceil())..clamp((high - 0.5).floor() + 1.0)
        };
        for row in pixels(1, self.frame.height) {
            for column in pixels(0, self.frame.width) {
                let (x, y) = (column as f64 + 0.5, row as f64 + 0.5);
                let [u, v, w] = [edge(b, c, x, y), edge(c, a, x, y), edge(a, b, x, y)].map(|e| e / twice);
                if u < 0.0 || v < 0.0 || w < 0.0 {
                    continue;
                }
                let (at, depth) = (row * self.frame.width + column, u * a[2] + v * b[2] + w * c[2]);
                if depth > self.depth[at] {
                    (self.depth[at], self.seen[at]) = (depth, number);
                }
            }
        }
    }

    /// The frame.
    #[must_use]
    pub const fn frame(&self) -> &Frame {
        &self.frame
    }

    /// The face at each pixel, row by row from the top; [`NOTHING`] where the background is seen.
    #[must_use]
    pub fn seen(&self) -> &[u32] {
        &self.seen
    }

    /// Metres towards the viewer at each pixel.
    #[must_use]
    pub fn depth(&self) -> &[f64] {
        &self.depth
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::view::Side;

    /// A 2 x 1 x 1 box; face numbers by side: two triangles each.
    fn block() -> Mesh {
        let p = |k: usize| Point3::new(2.0 * (k & 1) as f64, (k >> 1 & 1) as f64, (k >> 2 & 1) as f64);
        let quads = [[0, 1, 5, 4], [3, 2, 6, 7], [2, 0, 4, 6], [1, 3, 7, 5], [4, 5, 7, 6], [2, 3, 1, 0]];
        let triangles = quads.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
        Mesh::new((0..8).map(p).collect(), triangles, Vec::new())
    }

    fn seen(view: View) -> Raster {
        let mut raster =
            Raster::new(Frame::around(view, [Point3::origin(), Point3::new(2.0, 1.0, 1.0)], [120, 80], 10));
        raster.draw(&block(), 0);
        raster
    }

    // The six sides of a box, by construction: each straight view sees one side only, and its pixels are the side's area
    // to within a pixel round the rim.
    #[test]
    fn a_straight_view_sees_its_own_side_at_its_own_size() {
        for (from, side, [across, up]) in [
            (Side::Front, 0, [2.0, 1.0]),
            (Side::Back, 1, [2.0, 1.0]),
            (Side::Left, 2, [1.0, 1.0]),
            (Side::Right, 3, [1.0, 1.0]),
            (Side::Top, 4, [2.0, 1.0]),
        ] {
            let raster = seen(View::Straight(from));
            let counts = raster.seen().iter().filter(|&&face| face != NOTHING);
            let scale = raster.frame().pixels_per_metre();
            let mut pixels = 0.0;
            for &face in counts {
                assert_eq!(face / 2, side, "{}", from.name());
                pixels += 1.0;
            }
            let (area, rim) = (across * up * scale * scale, 2.0 * (across + up) * scale);
            assert!((pixels - area).abs() <= rim, "{}: {pixels} of {area}", from.name());
        }
    }

    #[test]
    fn the_three_quarter_view_sees_front_left_and_top() {
        let raster = seen(View::ThreeQuarter);
        let sides: std::collections::BTreeSet<u32> =
            raster.seen().iter().filter(|&&f| f != NOTHING).map(|f| f / 2).collect();
        assert_eq!(sides.into_iter().collect::<Vec<_>>(), [0, 2, 4]);
    }

    #[test]
    fn the_left_of_the_room_is_left_in_front_and_right_from_behind() {
        let low = |side| {
            let frame =
                Frame::around(View::Straight(side), [Point3::origin(), Point3::new(2.0, 1.0, 1.0)], [120, 80], 10);
            frame.project(Point3::new(0.0, 0.5, 0.5))[0]
        };
        assert!(low(Side::Front) < 60.0 && low(Side::Back) > 60.0);
    }
}
