//! What each piece is by itself: count, volume, box, and whether it passes through itself.

use super::Solid;
use super::exposure::Piece;
use super::field::crossing;
use super::tree::Aabb;
use crate::numeric::FixedSum;
use crate::units::{Area, Volume};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// A piece while its triangles are gone through.
#[derive(Clone, Copy)]
struct Tally {
    face: u32,
    faces: usize,
    volume: FixedSum,
    bounds: Aabb,
}

/// Count, volume and box of each piece, and the area of the modelled triangles.
pub(super) fn survey(solid: &Solid<'_>, centre: Point3<f64>, diagonal: f64) -> (Vec<Piece>, Vec<Aabb>, Area) {
    let mesh = solid.mesh();
    let volume = FixedSum::with_terms_up_to(diagonal.powi(3));
    let empty = Tally { face: u32::MAX, faces: 0, volume, bounds: Aabb::EMPTY };
    let none = || (vec![empty; solid.pieces()], FixedSum::with_terms_up_to(diagonal.powi(2)));
    let add = |(mut all, mut area): (Vec<Tally>, FixedSum), f: usize| {
        let it = &mut all[solid.piece[f] as usize];
        let c = mesh.corners(f);
        let [x, y, z]: [Vector3<f64>; 3] = c.map(|p| p - centre);
        it.face = it.face.min(f as u32);
        it.faces += 1;
        it.bounds = it.bounds.join(&Aabb::around(&c));
        it.volume.add(x.dot(&y.cross(&z)) / 6.0);
        if !solid.is_added(f) {
            area.add(mesh.area_vector(f).norm());
        }
        (all, area)
    };
    let join = |mut a: (Vec<Tally>, FixedSum), b: (Vec<Tally>, FixedSum)| {
        for (x, y) in a.0.iter_mut().zip(b.0) {
            x.face = x.face.min(y.face);
            x.faces += y.faces;
            x.bounds = x.bounds.join(&y.bounds);
            x.volume += y.volume;
        }
        a.1 += b.1;
        a
    };
    let faces = mesh.triangles().len();
    let (all, area) = if solid.pieces() < 1 << 10 {
        (0..faces).into_par_iter().with_min_len(1 << 14).fold(none, add).reduce(none, join)
    } else {
        (0..faces).fold(none(), add)
    };
    let closed = |p: usize, t: &Tally| if solid.sheet[p] { 0.0 } else { t.volume.value() };
    let piece = |(p, t): (usize, &Tally)| Piece {
        face: t.face,
        faces: t.faces,
        volume: Volume::from_cubic_metres(closed(p, t)),
        overlaps_itself: false,
    };
    let pieces = all.iter().enumerate().map(piece).collect();
    (pieces, all.iter().map(|t| t.bounds).collect(), Area::from_square_metres(area.value()))
}

/// Closed pieces that wrap a point more than once, or the wrong way, found by columns of rays: overlaps narrower than
/// a 64th of the piece may be missed.
pub(super) fn self_overlaps(solid: &Solid<'_>, pieces: &[Piece], boxes: &[Aabb], plane: f64) -> Vec<u32> {
    let mesh = solid.mesh();
    let grid = |p: usize| ((pieces[p].faces as f64 / 8.0).sqrt() as i64).clamp(3, 64);
    let mut hits: Vec<(u32, u32, f64, i32)> = (0..mesh.triangles().len())
        .into_par_iter()
        .with_min_len(1 << 12)
        .fold(Vec::new, |mut hits, f| {
            let p = solid.piece[f];
            if solid.sheet[p as usize] || pieces[p as usize].faces < 5 {
                return hits;
            }
            let (n, b, c) = (grid(p as usize), &boxes[p as usize], mesh.corners(f));
            // Columns stand off the middle of their cells: models like to have edges there.
            let off = [0.381_966, 0.618_034];
            let step = [0, 1].map(|k| (b.hi[k] - b.lo[k]) / n as f64);
            let range = [0, 1].map(|k| {
                let (lo, hi) = (c[0][k].min(c[1][k]).min(c[2][k]), c[0][k].max(c[1][k]).max(c[2][k]));
                let cell = |x: f64| (x - b.lo[k]) / step[k] - off[k];
                (cell(lo).ceil().max(0.0) as i64, (cell(hi).floor().min(n as f64 - 1.0)) as i64)
            });
            for i in range[0].0..=range[0].1 {
                for j in range[1].0..=range[1].1 {
                    let x = [b.lo[0] + (i as f64 + off[0]) * step[0], b.lo[1] + (j as f64 + off[1]) * step[1]];
                    if let Some((z, up)) = crossing(&c, 2, x) {
                        hits.push((p, (i * n + j) as u32, z, up));
                    }
                }
            }
            hits
        })
        .reduce(Vec::new, |mut a, b| {
            a.extend(b);
            a
        });
    hits.par_sort_unstable_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2)).then(a.3.cmp(&b.3)));
    let mut found = Vec::new();
    for piece in hits.chunk_by(|a, b| a.0 == b.0) {
        let inner = if pieces[piece[0].0 as usize].volume < Volume::ZERO { -1 } else { 1 };
        let odd = piece.chunk_by(|a, b| a.1 == b.1).any(|column| {
            let mut winding = 0;
            column.windows(2).any(|w| {
                winding -= w[0].3;
                winding != 0 && winding != inner && w[1].2 - w[0].2 > 4.0 * plane
            })
        });
        if odd {
            found.push(piece[0].0);
        }
    }
    found
}
