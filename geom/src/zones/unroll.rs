//! A patch laid out flat, as height along the surface against girth.
//!
//! For a height x along a fixed direction d, the area between two levels is the integral of girth over the way along
//! the surface, and the integral of |grad x| over the area is the integral of girth over the level (co-area formula,
//! Federer, *Curvature measures*, 1959). Sums over bands therefore give the girth of every band and the way across it
//! without any unfolding: exact for plates, cylinders and cones.

use crate::mesh::Mesh;
use nalgebra::{Matrix2, Point3, Vector2, Vector3};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One band of the patch between two levels.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Band {
    /// Length of the level line, mean over the band.
    pub(crate) girth: f64,
    /// Way across the band along the surface.
    pub(crate) way: f64,
}

/// A patch unrolled.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Unrolled {
    pub(crate) direction: Vector3<f64>,
    pub(crate) low: f64,
    pub(crate) step: f64,
    pub(crate) bands: Vec<Band>,
    /// Girth of each band by tile in plan: where along a course the patch is present.
    pub(crate) tiles: Vec<Tile>,
}

/// The girths of some bands in a row.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(crate) struct Tile {
    first: usize,
    girths: Vec<f64>,
}

impl Tile {
    fn add(&mut self, band: usize, girth: f64) {
        if self.girths.is_empty() {
            self.first = band;
        }
        if band < self.first {
            self.girths.splice(0..0, std::iter::repeat_n(0.0, self.first - band));
            self.first = band;
        }
        let at = band - self.first;
        if at >= self.girths.len() {
            self.girths.resize(at + 1, 0.0);
        }
        self.girths[at] += girth;
    }

    /// Bands and their girths.
    pub(crate) fn bands(&self) -> impl Iterator<Item = (usize, f64)> {
        (self.first..).zip(self.girths.iter().copied())
    }
}

/// Tiles are this wide: a shorter piece of lath is not worth keeping. Common practice, no source.
const TILE: f64 = 0.6096;

/// Makes every tile's number positive, so that cutting off is rounding down.
const SHIFT: f64 = 1_073_741_824.0;

/// Faces measured at a time.
const CHUNK: usize = 1 << 16;

/// Bands are at most this high: the girth of a course is the largest of its bands.
const BAND: f64 = 0.0254;

impl Unrolled {
    /// Unrolls upward where the patch is steep, else along its shorter way in plan.
    ///
    /// `laid` says of a face, given its outward direction, the area that counts and the direction that lath has there.
    pub(crate) fn of(
        mesh: &Mesh,
        faces: &[u32],
        laid: impl Fn(usize, Vector3<f64>) -> (f64, Vector3<f64>) + Sync,
    ) -> Self {
        let Frame { direction, centre, ways } = frame(mesh, faces);
        let level = |f: u32| mesh.corners(f as usize).map(|p| p.coords.dot(&direction));
        let (low, high) = faces
            .iter()
            .flat_map(|&f| level(f))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
        let span = (high - low).max(1e-9);
        let count = (span / BAND).ceil().clamp(1.0, 1e6) as usize;
        let step = span / count as f64;
        // In tiles from the centre; the middle one has it in its middle.
        let place = |p: &Point3<f64>| ways.map(|way| (p.xy().coords - centre).dot(&way) / TILE + 0.5);
        let whole = |x: f64| (x + SHIFT) as i64 - SHIFT as i64;
        let measured = |faces: &[u32]| {
            let mut areas = vec![(0.0, 0.0); count];
            let mut tiles: BTreeMap<[i64; 2], Tile> = BTreeMap::new();
            let mut pieces: Vec<([i64; 2], Vec<Point3<f64>>)> = Vec::new();
            for &f in faces {
                let a = mesh.area_vector(f as usize);
                let area = a.norm();
                if area <= 0.0 {
                    continue;
                }
                let (counts, facing) = laid(f as usize, a / area);
                let slope = (1.0 - facing.dot(&direction).powi(2)).max(0.0).sqrt();
                let share = counts / area;
                let mut file = |tile: [i64; 2], [p, q, r]: [Point3<f64>; 3]| {
                    let tile = tiles.entry(tile).or_default();
                    let size = 0.5 * (q - p).cross(&(r - p)).norm() * share;
                    let mut x = [p, q, r].map(|p| p.coords.dot(&direction));
                    x.sort_by(f64::total_cmp);
                    let [first, last] = [x[0], x[2]].map(|x| (((x - low) / step).max(0.0) as usize).min(count - 1));
                    let mut below = 0.0;
                    for (k, sum) in areas.iter_mut().enumerate().take(last + 1).skip(first) {
                        let up_to = if k == last { 1.0 } else { share_below(x, low + step * (k + 1) as f64) };
                        let part = size * (up_to - below);
                        below = up_to;
                        sum.0 += part;
                        sum.1 += part * slope;
                        tile.add(k, part * slope / step);
                    }
                };
                let corners = mesh.corners(f as usize);
                let [x, y, z] = corners.map(|p| place(&p).map(whole));
                if x == y && y == z {
                    file(x, corners);
                    continue;
                }
                pieces.clear();
                pieces.push(([0, 0], corners.to_vec()));
                for axis in 0..2 {
                    for (mut tile, mut rest) in std::mem::take(&mut pieces) {
                        // A corner that only touches a line leaves nothing beyond it.
                        if rest.is_empty() {
                            continue;
                        }
                        let at = |p: &Point3<f64>| place(p)[axis];
                        let (low, high) = rest
                            .iter()
                            .map(at)
                            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
                        let [first, last] = [low, high].map(whole);
                        for own in first..=last {
                            tile[axis] = own;
                            let below = if own == last {
                                std::mem::take(&mut rest)
                            } else {
                                cut(&mut rest, at, (own + 1) as f64)
                            };
                            pieces.push((tile, below));
                        }
                    }
                }
                for (tile, piece) in &pieces {
                    (2..piece.len()).for_each(|k| file(*tile, [piece[0], piece[k - 1], piece[k]]));
                }
            }
            (areas, tiles)
        };
        // A large zone is most of a model: chunks of fixed size, a few at a time, added in their order.
        let mut areas = vec![(0.0, 0.0); count];
        let mut tiles: BTreeMap<[i64; 2], Tile> = BTreeMap::new();
        for some in faces.chunks(8 * CHUNK) {
            for (more, others) in some.par_chunks(CHUNK).map(measured).collect::<Vec<_>>() {
                areas.iter_mut().zip(more).for_each(|(a, b)| *a = (a.0 + b.0, a.1 + b.1));
                for (name, girths) in others {
                    let tile = tiles.entry(name).or_default();
                    girths.bands().for_each(|(band, girth)| tile.add(band, girth));
                }
            }
        }
        let bands = areas
            .into_iter()
            .map(|(area, risen)| Band { girth: risen / step, way: if risen > 0.0 { step * area / risen } else { 0.0 } })
            .collect();
        Self { direction, low, step, bands, tiles: tiles.into_values().collect() }
    }

    /// Way along the surface from the lowest to the highest level.
    pub(crate) fn height(&self) -> f64 {
        self.bands.iter().map(|b| b.way).sum()
    }

    /// The longest girth.
    pub(crate) fn widest(&self) -> f64 {
        self.bands.iter().map(|b| b.girth).fold(0.0, f64::max)
    }
}

/// Share of a triangle's area below a level; `x` are the levels of its corners, rising.
fn share_below(x: [f64; 3], level: f64) -> f64 {
    if level <= x[0] {
        0.0
    } else if level >= x[2] {
        1.0
    } else if level < x[1] {
        (level - x[0]).powi(2) / ((x[1] - x[0]) * (x[2] - x[0]))
    } else {
        1.0 - (x[2] - level).powi(2) / ((x[2] - x[1]) * (x[2] - x[0]))
    }
}

/// Cuts off what of a convex piece lies below `end`.
fn cut(piece: &mut Vec<Point3<f64>>, at: impl Fn(&Point3<f64>) -> f64, end: f64) -> Vec<Point3<f64>> {
    let (mut below, mut above) = (Vec::new(), Vec::new());
    for k in 0..piece.len() {
        let (p, q) = (piece[k], piece[(k + 1) % piece.len()]);
        let (from, to) = (at(&p) - end, at(&q) - end);
        (if from < 0.0 { &mut below } else { &mut above }).push(p);
        if (from < 0.0) != (to < 0.0) {
            let middle = p + (q - p) * (from / (from - to));
            below.push(middle);
            above.push(middle);
        }
    }
    *piece = above;
    below
}

/// The way up a patch, its centre in plan, and its long and short way in plan.
struct Frame {
    direction: Vector3<f64>,
    centre: Vector2<f64>,
    ways: [Vector2<f64>; 2],
}

fn frame(mesh: &Mesh, faces: &[u32]) -> Frame {
    let (mut area, mut risen, mut first, mut second) = (0.0, 0.0, Vector2::zeros(), Matrix2::zeros());
    for &f in faces {
        let a = mesh.area_vector(f as usize);
        let size = a.norm();
        area += size;
        risen += a.xy().norm();
        // Second moment of a triangle: area / 12 (sum p p' + (sum p)(sum p)').
        let corners = mesh.corners(f as usize).map(|p| p.xy().coords);
        let sum: Vector2<f64> = corners.iter().sum();
        first += sum * (size / 3.0);
        second += corners.iter().map(|p| p * p.transpose()).fold(sum * sum.transpose(), |m, p| m + p) * (size / 12.0);
    }
    if area <= 0.0 {
        return Frame { direction: Vector3::z(), centre: Vector2::zeros(), ways: [Vector2::x(), Vector2::y()] };
    }
    let centre = first / area;
    let spread = (second / area - centre * centre.transpose()).symmetric_eigen();
    let short = if spread.eigenvalues[0] <= spread.eigenvalues[1] { 0 } else { 1 };
    let d = spread.eigenvectors.column(short);
    // Away from the visitor, so that a turn of the axes by rounding does not swap first and last course.
    let sign = if d.y < 0.0 || (d.y == 0.0 && d.x < 0.0) { -1.0 } else { 1.0 };
    let short = Vector2::new(d.x, d.y) * sign;
    let direction = if risen >= 0.5 * area { Vector3::z() } else { Vector3::new(short.x, short.y, 0.0) };
    Frame { direction, centre, ways: [Vector2::new(-short.y, short.x), short] }
}
