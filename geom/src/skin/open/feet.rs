//! Whether a point is in the skin: the search for a foot that coats it.

use super::{quarter_round, skin_side};
use crate::bodies::Forest;
use crate::distance::{Node, Surface, Tree, V3, closest};
use crate::mesh::Mesh;
use crate::skin::Coat;
use crate::skin::ends::{Side, end, farthest, leans_within, smooth};
use rayon::prelude::*;
use std::collections::HashSet;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

/// A surface with its coats and rims, ready to be asked.
pub(super) struct Feet<'a> {
    pub(super) surface: Surface<'a>,
    pub(super) tree: Tree,
    /// Open edges of each triangle, a bit each.
    pub(super) rim: &'a [u8],
    /// Thickness on each triangle in metres, 0 where it is bare.
    pub(super) coat: Vec<f64>,
    /// Unit normals towards the skin; zero of triangles without area.
    pub(super) normals: Vec<V3>,
    /// +1 when the skin is outside, -1 inside.
    pub(super) side: f64,
    pub(super) thickest: f64,
    /// Coated area times thickness.
    pub(super) naive: f64,
    /// Vertices at an end of an open edge.
    rim_vertices: HashSet<u32>,
    /// The bare triangles, if there are any.
    bare: Option<Bare>,
    /// Faces farther from a point than this, in thicknesses, have no say in whether it is coated.
    farthest: f64,
    /// What hangs together by vertices, a number for each triangle.
    piece: Vec<u32>,
    pieces: usize,
    /// Points closer than this are one.
    touch: f64,
    /// Triangles looked at so far beyond the nearest.
    looked_at: AtomicU64,
}

/// The nearest point of a triangle to a point.
#[derive(Clone, Copy)]
pub(super) struct Foot {
    pub(super) triangle: u32,
    pub(super) at: V3,
    /// From the foot to the point.
    pub(super) away: V3,
    pub(super) distance: f64,
}

/// Whether a point is in the skin.
#[derive(Clone, Copy)]
pub(super) enum Answer {
    /// It is, by this foot.
    Foot(Foot),
    Out,
    /// There were more feet to look at than anybody waits for.
    Undecided,
}

/// The bare triangles of a surface, by themselves.
struct Bare {
    triangles: Vec<[u32; 3]>,
    /// What each is in the surface.
    number: Vec<u32>,
    tree: Tree,
}

impl Bare {
    fn of(surface: &Surface<'_>, coat: &[f64]) -> Option<Self> {
        let number: Vec<u32> = (0..coat.len() as u32).filter(|t| coat[*t as usize] == 0.0).collect();
        let triangles: Vec<[u32; 3]> = number.iter().map(|t| surface.triangles[*t as usize]).collect();
        let tree = Tree::of(&Surface { positions: surface.positions, triangles: &triangles });
        (!number.is_empty()).then_some(Self { triangles, number, tree })
    }

    fn surface<'s>(&'s self, of: &Surface<'s>) -> Surface<'s> {
        Surface { positions: of.positions, triangles: &self.triangles }
    }
}

/// Feet that are looked at for one point. Smooth work needs two or three; a heap of loose triangles has hundreds.
const MOST_FEET: usize = 12;

/// A foot on the face there that is seen most squarely.
#[derive(Clone, Copy)]
pub(super) struct Around {
    seen: Foot,
    /// How squarely: positive in front.
    front: f64,
}

impl<'a> Feet<'a> {
    pub(super) fn of(mesh: &'a Mesh, rim: &'a [u8], coat: &Coat) -> Self {
        let surface = Surface::of(mesh);
        let count = mesh.triangles().len();
        let coat_of: Vec<f64> = (0..count).map(|face| coat.on(face).unwrap_or(0.0)).collect();
        let side = skin_side(coat.face);
        let normal = |face: usize| mesh.area_vector(face).try_normalize(0.0).unwrap_or_else(V3::zeros) * side;
        let normals = (0..count).into_par_iter().map(normal).collect();
        let thickest = coat_of.iter().copied().fold(0.0, f64::max);
        let naive = coat_of.iter().enumerate().map(|(face, t)| t * mesh.area_vector(face).norm()).sum();
        let open = |face: usize, side: usize| rim.get(face).is_some_and(|bits| bits >> side & 1 == 1);
        let ends = |face: usize| {
            let t = mesh.triangles()[face];
            (0..3).filter(move |&side| open(face, side)).flat_map(move |side| [t[side], t[(side + 1) % 3]])
        };
        let mut joined = Forest::new(mesh.positions().len());
        for t in mesh.triangles() {
            joined.join(t[0], t[1]);
            joined.join(t[0], t[2]);
        }
        let (vertex_piece, pieces) = joined.numbered();
        Self {
            surface,
            piece: mesh.triangles().iter().map(|t| vertex_piece[t[0] as usize]).collect(),
            pieces,
            tree: Tree::of(&surface),
            rim,
            bare: Bare::of(&surface, &coat_of),
            farthest: farthest(&surface, |t| coat_of[t as usize] == 0.0),
            coat: coat_of,
            normals,
            side,
            thickest,
            naive,
            rim_vertices: (0..count).flat_map(ends).collect(),
            touch: 1e-6 * thickest,
            looked_at: AtomicU64::new(0),
        }
    }

    /// Triangles looked at so far beyond the nearest: the same for any number of threads.
    pub(super) fn looked_at(&self) -> u64 {
        self.looked_at.load(Relaxed)
    }

    pub(super) fn foot(&self, triangle: u32, p: &V3) -> Foot {
        let at = closest(p, &self.surface.corners(triangle));
        let away = p - at;
        Foot { triangle, at, away, distance: away.norm() }
    }

    /// Volume of the quarter rounds at the rims of coated faces.
    pub(super) fn rim_terms(&self) -> f64 {
        self.along_rims(quarter_round)
    }

    /// Area of the square cut at the rims of coated faces.
    pub(super) fn cut_at_rims(&self) -> f64 {
        self.along_rims(|length, thick| length * thick)
    }

    /// A sum over the faces by the length of rim on each and the thickness there.
    fn along_rims(&self, term: impl Fn(f64, f64) -> f64) -> f64 {
        let of = |face: usize| {
            let [a, b, c] = self.surface.corners(face as u32);
            let bits = self.rim.get(face).copied().unwrap_or(0);
            let length: f64 = [b - a, c - b, a - c]
                .iter()
                .enumerate()
                .filter(|(k, _)| bits >> k & 1 == 1)
                .map(|(_, e)| e.norm())
                .sum();
            term(length, self.coat[face])
        };
        (0..self.coat.len()).map(of).sum()
    }

    /// The triangle is bare or has an open edge or corner: a coat may end at a foot on it.
    pub(super) fn is_end(&self, triangle: u32) -> bool {
        self.coat[triangle as usize] == 0.0
            || self.surface.triangles[triangle as usize].iter().any(|v| self.rim_vertices.contains(v))
    }

    /// A bare face is so near a point, or a ball about it, that its plane may lean over a coat there.
    pub(super) fn may_lean(&self, p: &V3, radius: f64) -> bool {
        let reach = self.thickest * self.farthest + radius;
        let leaning = self.bare.as_ref().filter(|_| self.farthest > 1.0);
        leaning.is_some_and(|bare| bare.tree.nearest(&bare.surface(&self.surface), p, reach).is_some())
    }

    /// The nearest foot within `limit`, on the face seen most squarely of those that share it.
    pub(super) fn nearest(&self, from: &[Node], p: &V3, limit: f64) -> Option<Foot> {
        let (triangle, ..) = self.tree.nearest_from(from, &self.surface, p, limit)?;
        Some(self.foot(triangle, p))
    }

    /// The foot that coats a point: the nearest of all, or where that one is on a rim, on a bare face or on the back of a
    /// sheet, the nearest that coats and has a clear line. What is behind a sheet is not coated by the same piece.
    pub(super) fn coats(&self, from: &[Node], p: &V3) -> Answer {
        let Some(first) = self.nearest(from, p, self.thickest) else { return Answer::Out };
        let around = self.around(from, &first, p);
        if let Some(foot) = self.valid(from, &around, p) {
            return Answer::Foot(foot);
        }
        let behind = (around.front <= 0.0).then(|| self.piece[first.triangle as usize]);
        if behind.is_some() && self.pieces < 2 {
            return Answer::Out;
        }
        let mut seen: Vec<u32> = Vec::new();
        while let Some(foot) = self.next(from, p, behind, &seen) {
            let squarely = Around { seen: foot, front: foot.distance };
            if let Some(found) = self.valid(from, &squarely, p)
                && self.is_clear(from, &found, p)
            {
                return Answer::Foot(found);
            }
            seen.push(foot.triangle);
            if seen.len() > MOST_FEET {
                return Answer::Undecided;
            }
        }
        Answer::Out
    }

    /// The nearest foot inside a coated face that the point is close enough to; faces `seen` and those of the piece `behind`
    /// are passed over.
    fn next(&self, from: &[Node], p: &V3, behind: Option<u32>, seen: &[u32]) -> Option<Foot> {
        let (mut best, mut count): (Option<Foot>, u64) = (None, 0);
        self.tree.visit_from(from, &self.surface, p, self.thickest, &mut |t, corners| {
            count += 1;
            let coat = self.coat[t as usize];
            let asked = coat > 0.0
                && behind != Some(self.piece[t as usize])
                && self.normals[t as usize].dot(&(p - corners[0])) > 0.0
                && !seen.contains(&t);
            if asked {
                let foot = self.foot(t, p);
                let better =
                    best.is_none_or(|b| foot.distance < b.distance || (foot.distance == b.distance && t < b.triangle));
                // On an edge or a corner the point would not stand square on the face.
                let inside = self.normals[t as usize].dot(&foot.away) >= foot.distance - self.touch;
                if foot.distance <= coat && inside && better {
                    best = Some(foot);
                }
            }
            best.map_or(self.thickest, |b| b.distance * (1.0 + 1e-12))
        });
        self.looked_at.fetch_add(count, Relaxed);
        best
    }

    /// The foot as it coats a point by itself; none when it is behind, bare, too far, on a rim or cut off by a bare face.
    pub(super) fn valid(&self, from: &[Node], around: &Around, p: &V3) -> Option<Foot> {
        let Around { seen, front, .. } = *around;
        let coat = self.coat[seen.triangle as usize];
        let coats = front > 0.0 && coat > 0.0 && seen.distance <= coat && !self.on_rim(&seen);
        (coats && !(self.bare.is_some() && self.fenced(from, &seen, p))).then_some(seen)
    }

    /// Which side of the surface a point is on, by the face at its foot that is seen most squarely.
    pub(super) fn around(&self, from: &[Node], foot: &Foot, p: &V3) -> Around {
        let squarely = |t: u32| self.normals[t as usize].dot(&foot.away);
        let mut around = Around { seen: *foot, front: squarely(foot.triangle) };
        if around.front.abs() >= foot.distance * (1.0 - 1e-9) {
            return around;
        }
        self.tree.visit_from(from, &self.surface, &foot.at, self.touch, &mut |t, corners| {
            if t != foot.triangle && (p - closest(p, &corners)).norm() <= foot.distance + self.touch {
                let front = squarely(t);
                let more = front.abs() - around.front.abs();
                if more > self.touch || (more > -self.touch && t < around.seen.triangle) {
                    around = Around { seen: Foot { triangle: t, ..*foot }, front };
                }
            }
            self.touch
        });
        around
    }

    /// The foot lies on an open edge, or on a corner at the end of one.
    fn on_rim(&self, foot: &Foot) -> bool {
        let vertices = self.surface.triangles[foot.triangle as usize];
        let corners = self.surface.corners(foot.triangle);
        let bits = self.rim.get(foot.triangle as usize).copied().unwrap_or(0);
        (0..3).any(|k| {
            let (a, b) = (corners[k], corners[(k + 1) % 3]);
            let at_corner = (foot.at - a).norm() <= self.touch && self.rim_vertices.contains(&vertices[k]);
            let along = b - a;
            let share = ((foot.at - a).dot(&along) / along.norm_squared()).clamp(0.0, 1.0);
            let on_edge = bits >> k & 1 == 1 && (a + along * share - foot.at).norm() <= self.touch;
            at_corner || on_edge
        })
    }

    /// A bare face beside the coat ends it: see [`end`]. One that meets the foot, or one whose plane leans over the coat.
    fn fenced(&self, from: &[Node], foot: &Foot, p: &V3) -> bool {
        self.fenced_at_foot(from, foot, p) || self.leant_over(from, foot, p)
    }

    /// The point, over its foot, is in front of the plane in which the coat of one face ends at a bare one, where both touch `at`.
    fn cuts(&self, bare: u32, coated: u32, at: &V3, foot: &Foot, p: &V3) -> bool {
        let [bare_corners, coated_corners] = [bare, coated].map(|t| self.surface.corners(t));
        let bare = Side { corners: &bare_corners, normal: self.normals[bare as usize] };
        let coated = Side { corners: &coated_corners, normal: self.normals[coated as usize] };
        end(bare, coated, at, &foot.at, self.touch).is_some_and(|normal| normal.dot(&(p - at)) > 0.0)
    }

    /// Triangles that touch a place, bare or coated ones.
    fn touching(&self, from: &[Node], at: &V3, is_bare: bool, mut each: impl FnMut(u32) -> bool) -> bool {
        let (mut found, mut count) = (false, 0);
        self.tree.visit_from(from, &self.surface, at, self.touch, &mut |t, corners| {
            count += 1;
            if !found && (self.coat[t as usize] == 0.0) == is_bare {
                found = (at - closest(at, &corners)).norm() <= self.touch && each(t);
            }
            if found { -1.0 } else { self.touch }
        });
        self.looked_at.fetch_add(count, Relaxed);
        found
    }

    fn fenced_at_foot(&self, from: &[Node], foot: &Foot, p: &V3) -> bool {
        let normal = |t: u32| &self.normals[t as usize];
        self.touching(from, &foot.at, true, |bare| {
            // At a corner the face of the foot and the bare one may have no edge in common, where others have.
            self.cuts(bare, foot.triangle, &foot.at, foot, p)
                || (smooth(normal(bare), normal(foot.triangle))
                    && self.touching(from, &foot.at, false, |t| self.cuts(bare, t, &foot.at, foot, p)))
        })
    }

    /// The plane of a bare face leans over the coat beyond its edge and cuts it where the point is.
    fn leant_over(&self, from: &[Node], foot: &Foot, p: &V3) -> bool {
        let Some(bare) = self.bare.as_ref().filter(|_| self.farthest > 1.0) else { return false };
        let (thick, own) = (self.coat[foot.triangle as usize], &self.normals[foot.triangle as usize]);
        let (mut leaning, mut count): (Vec<Foot>, u64) = (Vec::new(), 0);
        let reach = thick * self.farthest;
        bare.tree.visit(&bare.surface(&self.surface), p, reach, &mut |k, _| {
            count += 1;
            let triangle = bare.number[k as usize];
            if let Some(within) = leans_within(&self.normals[triangle as usize], own) {
                leaning.extend(Some(self.foot(triangle, p)).filter(|bare| bare.distance <= thick * within));
            }
            reach
        });
        self.looked_at.fetch_add(count, Relaxed);
        let beside = |t: u32| smooth(&self.normals[t as usize], own);
        let cuts = |bare: &Foot, t: u32| beside(t) && self.cuts(bare.triangle, t, &bare.at, foot, p);
        leaning.iter().any(|bare| self.touching(from, &bare.at, false, |t| cuts(bare, t)))
    }

    /// Nothing crosses the line from a point to its foot.
    fn is_clear(&self, from: &[Node], foot: &Foot, p: &V3) -> bool {
        let middle = p - foot.away * 0.5;
        let reach = foot.distance * 0.5;
        let (mut clear, mut count) = (true, 0);
        self.tree.visit_from(from, &self.surface, &middle, reach, &mut |t, corners| {
            count += 1;
            if clear && t != foot.triangle && crosses(&corners, p, &-foot.away) {
                // What touches at the foot itself does not stand between.
                clear = (foot.at - closest(&foot.at, &corners)).norm() <= self.touch;
            }
            if clear { reach } else { -1.0 }
        });
        self.looked_at.fetch_add(count, Relaxed);
        clear
    }
}

/// The segment from `p` along `way` passes through the triangle.
///
/// By T. Moeller and B. Trumbore, *Fast, minimum storage ray/triangle intersection*, J. Graphics Tools 2, 1997.
fn crosses([a, b, c]: &[V3; 3], p: &V3, way: &V3) -> bool {
    let (u, v) = (b - a, c - a);
    let cross = way.cross(&v);
    let det = u.dot(&cross);
    if det == 0.0 {
        return false;
    }
    let w = p - a;
    let x = w.dot(&cross) / det;
    let q = w.cross(&u);
    let y = way.dot(&q) / det;
    let far = v.dot(&q) / det;
    x >= 0.0 && y >= 0.0 && x + y <= 1.0 && (0.0..=1.0).contains(&far)
}
