//! Cubes near bare faces or several thicknesses: polytopes cut by the solid's plane, the coat's two and those in which the
//! coat ends.
//!
//! One point of a cube knows the ends that are nearest to it. Where the eighths of a cube know others, each is cut by itself:
//! else a border that turns, or two that run side by side, would be taken for one straight line.

use super::block::{Block, HALF_DIAGONAL, HIT_WORK, Hit, PLANE_WORK, Tri};
use super::ends::{Side, cut_within, end, smooth};
use crate::distance::{V3, clipped};

/// The border of a coat may pass through a cube where the places nearest to its centre are no farther apart, in sides.
const NEAR_BORDER: f64 = 3.0 * HALF_DIAGONAL;
/// With more faces near than this a cube is not halved.
const MOST_NEAR: usize = 200;
/// Planes that differ by less than this share of a cube's side cut it alike.
const ALIKE: f64 = 1e-6;

/// What lies at or behind a plane: `normal . x <= height`.
type Plane = (V3, f64);

/// A plane in which a coat ends, and whether the coated face and the bare one are one smooth surface there.
#[derive(Clone, Copy)]
struct End {
    plane: Plane,
    smooth: bool,
}

/// A cube by its centre and side.
#[derive(Clone, Copy)]
struct Cell {
    centre: V3,
    side: f64,
}

/// What is known at a point of the coat that reaches it.
struct Coated {
    /// The solid, towards the skin.
    solid: Plane,
    /// The coated face, towards the skin.
    face: Plane,
    thick: f64,
    /// In what planes the coat ends.
    ends: Vec<End>,
    /// The nearest of all faces is a bare one that goes on smoothly from the coated one, and the point is not square on that.
    over_bare: bool,
    /// How far the nearest place of the coat is from the nearest bare place.
    border: f64,
}

/// What reaches a point.
struct Reach {
    thick: f64,
    coat: Hit,
    /// The nearest of all faces.
    nearest: Hit,
    skin_side: bool,
    /// The nearest bare face.
    bare: Option<Hit>,
}

/// A point, the faces that may matter there, and the side of the surface that a point is on which is `known` away.
#[derive(Clone, Copy)]
struct Asked<'l> {
    at: V3,
    /// Of the cube about the point.
    side: f64,
    faces: &'l [u32],
    skin_side: bool,
    known: f64,
}

impl Cell {
    fn eighth(&self, c: usize) -> Self {
        let offset = |axis: usize| if c >> axis & 1 == 1 { 0.25 } else { -0.25 };
        Self { centre: self.centre + V3::new(offset(0), offset(1), offset(2)) * self.side, side: self.side / 2.0 }
    }

    /// The height of a plane over the centre, in sides.
    fn height(&self, plane: &Plane) -> f64 {
        (plane.1 - plane.0.dot(&self.centre)) / self.side
    }

    /// The border of the coat may pass through the cube, of whose centre something is known.
    fn holds_border(&self, coated: &Coated) -> bool {
        coated.border <= NEAR_BORDER * self.side
    }

    /// Two lists of ends leave the same of the cube; none where no coat reaches.
    fn cut_alike(&self, a: &[End], b: Option<&[End]>) -> bool {
        let height = |end: &End| self.height(&end.plane);
        let is_out = |ends: &[End]| ends.iter().any(|end| height(end) <= -HALF_DIAGONAL);
        let cuts = |end: &&End| height(end) < HALF_DIAGONAL;
        let same = |x: &End, y: &End| (x.plane.0 - y.plane.0).norm() < ALIKE && (height(x) - height(y)).abs() < ALIKE;
        let within = |some: &[End], others: &[End]| some.iter().filter(cuts).all(|x| others.iter().any(|y| same(x, y)));
        match (is_out(a), b.filter(|b| !is_out(b))) {
            (out, None) => out,
            (out, Some(b)) => !out && within(a, b) && within(b, a),
        }
    }
}

impl Block<'_, '_> {
    /// Volume of skin, far area and middle area in a cube of a side about `p`; its faces are in `lists[level]`.
    pub(super) fn uneven_cube(&mut self, side: f64, p: &V3, skin_side: bool, level: usize) -> (f64, f64, f64) {
        let faces = self.room.lists[level].item.clone();
        let asked = Asked { at: *p, side, faces: &faces, skin_side, known: 0.0 };
        let Some(coated) = self.coated(asked) else { return (0.0, 0.0, 0.0) };
        if coated.face.0.dot(p) - coated.face.1 > coated.thick + HALF_DIAGONAL * side {
            return (0.0, 0.0, 0.0);
        }
        let cell = Cell { centre: *p, side };
        if !cell.holds_border(&coated) {
            return self.clip(&cell, &coated);
        }
        let faces = self.near(&cell, coated.border, &faces);
        if faces.len() > MOST_NEAR {
            // The border is finer than eighths would be.
            self.ragged = true;
            return self.clip(&cell, &coated);
        }
        let eighths: [_; 8] = std::array::from_fn(|c| {
            let eighth = cell.eighth(c);
            // What is known of the cube's centre holds as far as no face comes between.
            let known = (eighth.centre - p).norm();
            let coated = self.coated(Asked { at: eighth.centre, side: eighth.side, faces: &faces, skin_side, known });
            (eighth, coated)
        });
        if eighths.iter().all(|(_, other)| cell.cut_alike(&coated.ends, other.as_ref().map(|other| &other.ends[..]))) {
            return self.clip(&cell, &coated);
        }
        self.ragged = true;
        eighths.iter().fold((0.0, 0.0, 0.0), |sum, (eighth, coated)| {
            let part = coated.as_ref().map_or((0.0, 0.0, 0.0), |coated| self.eighth(eighth, coated));
            (sum.0 + part.0, sum.1 + part.1, sum.2 + part.2)
        })
    }

    /// The part of an eighth of a cube that is skin.
    fn eighth(&mut self, cell: &Cell, coated: &Coated) -> (f64, f64, f64) {
        if !cell.holds_border(coated) {
            return self.clip(cell, coated);
        }
        // Of ends that meet at a corner some would cut too much. The centre stands for the whole.
        let mut sharp = coated.ends.iter().filter(|end| !end.smooth);
        if coated.over_bare || sharp.any(|end| cell.height(&end.plane) < 0.0) {
            return (0.0, 0.0, 0.0);
        }
        self.clip(cell, &Coated { ends: Vec::new(), ..*coated })
    }

    /// Of some faces those that may say anywhere in a cube where the coat is and where it ends; the border is so far from its
    /// centre. A coated face that meets the nearest bare place is no farther than that place is.
    fn near(&mut self, cell: &Cell, border: f64, faces: &[u32]) -> Vec<u32> {
        self.work += HIT_WORK * faces.len() as u64;
        let room = border + 2.0 * HALF_DIAGONAL * cell.side;
        let far = |tri: u32| {
            let coat = self.room.tris[tri as usize].coat;
            (coat.is_some(), self.hit(tri, &cell.centre).distance - coat.unwrap_or(0.0))
        };
        let far: Vec<(bool, f64)> = faces.iter().map(|&tri| far(tri)).collect();
        let least = |is_coated: bool| {
            far.iter().filter(|(coated, _)| *coated == is_coated).map(|f| f.1).fold(f64::INFINITY, f64::min)
        };
        let least = [least(false), least(true)];
        let keep = |(coated, gap): &(bool, f64)| *gap <= least[usize::from(*coated)] + room;
        faces.iter().zip(&far).filter(|(_, far)| keep(far)).map(|(tri, _)| *tri).collect()
    }

    fn clip(&mut self, cell: &Cell, coated: &Coated) -> (f64, f64, f64) {
        let under = |plane: &Plane| (-plane.0, -cell.height(plane));
        let mut planes = vec![under(&coated.solid), under(&coated.face)];
        planes.extend(coated.ends.iter().map(|end| (end.plane.0, cell.height(&end.plane))));
        self.work += PLANE_WORK * planes.len() as u64;
        let (face, side) = (cell.height(&coated.face), cell.side);
        let mut with = |height: f64| {
            planes.push((coated.face.0, face + height / side));
            let volume = clipped(&planes);
            planes.pop();
            volume
        };
        let volume = with(coated.thick);
        let step = 1e-4 * side;
        let mut slope = |height: f64| (with(height + step) - with(height - step)) / 2e-4;
        let (far, middle) = (slope(coated.thick), slope(coated.thick / 2.0));
        (side.powi(3) * volume, side * side * far, side * side * middle)
    }

    /// The coat at a point.
    fn coated(&mut self, asked: Asked<'_>) -> Option<Coated> {
        let p = &asked.at;
        let mut reach = self.reach(asked, None)?;
        let (mut ends, mut past) = self.ends(&reach, asked);
        let is_beyond = |ends: &[End]| ends.iter().any(|end| end.plane.0.dot(p) > end.plane.1);
        if past
            && is_beyond(&ends)
            && let Some(other) = self.reach(asked, Some(p - reach.coat.away))
            && other.coat.distance <= other.thick
        {
            // Where one coat has ended another may go on: that of a tread in front of a low riser.
            let (other_ends, other_past) = self.ends(&other, asked);
            if !(other_past && is_beyond(&other_ends)) {
                (reach, ends, past) = (other, other_ends, other_past);
            }
        }
        let through = |(normal, distance): (V3, f64)| (normal, normal.dot(p) - distance);
        let normal = self.room.tris[reach.coat.tri as usize].normal;
        let height = normal.dot(&reach.coat.away);
        let same = reach.coat.tri == reach.nearest.tri;
        let face = if past {
            // A coat is not rounded over past its end: what lies past it has no part in the way from the face.
            let beyond = |end: &End| (end.plane.0.dot(p) > end.plane.1).then_some(end.plane.0);
            let way =
                ends.iter().filter_map(beyond).fold(reach.coat.away, |way, normal| way - normal * normal.dot(&way));
            let front = if height >= 0.0 { 1.0 } else { -1.0 };
            let long = way.norm();
            if long > 1e-9 * asked.side { (way * (front / long), front * long) } else { (normal, 0.0) }
        } else {
            self.plane(&reach.coat, if same { reach.skin_side } else { height >= 0.0 })
        };
        // What is nearest there is another face.
        let solid = if past { face } else { self.plane(&reach.nearest, reach.skin_side) };
        let border = reach.bare.map_or(f64::INFINITY, |bare| (bare.away - reach.coat.away).norm());
        let nearest = &self.room.tris[reach.nearest.tri as usize];
        // Square on its own face a coat stays, though in a hollow the bare face may be nearer.
        let square = height >= reach.coat.distance - ALIKE * asked.side;
        let over_bare = nearest.coat.is_none() && smooth(&nearest.normal, &normal) && !square;
        Some(Coated { solid: through(solid), face: through(face), thick: reach.thick, ends, over_bare, border })
    }

    /// The coat that reaches farthest over a point, the nearest of all faces and the nearest bare one. With `but` only coats on which
    /// the point stands square, and not at that place.
    fn reach(&mut self, asked: Asked<'_>, but: Option<V3>) -> Option<Reach> {
        let Asked { at: p, faces, skin_side, known, .. } = asked;
        self.work += HIT_WORK * faces.len() as u64;
        let (side, touch) = (self.job.fine.spacing, 1e-6 * self.job.thickest);
        let (mut coat, mut bare): (Option<(f64, Hit)>, Option<Hit>) = (None, None);
        let mut nearest: Option<Hit> = None;
        for &tri in faces {
            let here = self.hit(tri, &p);
            let closer = |b: Option<Hit>| b.is_none_or(|b| self.better(&here, &b));
            if closer(nearest) {
                nearest = Some(here);
            }
            let further = |t: f64, (t0, b): (f64, Hit)| {
                let gain = (here.distance - t) - (b.distance - t0);
                gain < -1e-9 * side || (gain <= 1e-9 * side && self.better(&here, &b))
            };
            let Tri { coat: own, normal, .. } = &self.room.tris[tri as usize];
            let is_asked = !but.is_some_and(|but| {
                (p - here.away - but).norm() < touch || normal.dot(&here.away) < here.distance - ALIKE * side
            });
            match *own {
                Some(t) if is_asked && coat.is_none_or(|best| further(t, best)) => coat = Some((t, here)),
                None if closer(bare) => bare = Some(here),
                _ => {}
            }
        }
        let ((mut thick, mut coat), nearest) = coat.zip(nearest)?;
        let normal = |hit: &Hit| self.room.tris[hit.tri as usize].normal;
        let skin_side = if nearest.distance >= known { skin_side } else { normal(&nearest).dot(&nearest.away) >= 0.0 };
        if skin_side && coat.tri != nearest.tri && normal(&coat).dot(&coat.away) < 0.0 {
            // A coat reaches no farther back than the plane of its own face: not through something thin, nor round an arris.
            match self.room.tris[nearest.tri as usize].coat {
                Some(own) => (thick, coat) = (own, nearest),
                // Under the edge of a tread the one before it may go on.
                None if but.is_none() => return self.reach(asked, Some(p - coat.away)),
                None => return None,
            }
        }
        Some(Reach { thick, coat, nearest, skin_side, bare })
    }

    /// The planes in which the coat ends, and whether the point is past one at the coated face itself.
    fn ends(&mut self, reach: &Reach, Asked { at: p, side, faces, .. }: Asked<'_>) -> (Vec<End>, bool) {
        let Some(bare) = &reach.bare else { return (Vec::new(), false) };
        self.work += HIT_WORK * faces.len() as u64;
        let touch = 1e-6 * self.job.thickest;
        let of = |tri: u32| {
            let tri = &self.room.tris[tri as usize];
            Side { corners: &tri.corners, normal: tri.normal }
        };
        let mut ends = Vec::new();
        let on_coat = p - reach.coat.away;
        let mut end = |bare: u32, at: V3, coated: u32| {
            let smooth = smooth(&of(bare).normal, &of(coated).normal);
            // What a sharp end cuts stands on a face behind the plane of the bare one.
            let is_own = smooth || of(bare).normal.dot(&(on_coat - at)) <= touch;
            let normal = end(of(bare), of(coated), &at, touch).filter(|_| is_own);
            ends.extend(normal.map(|normal| End { plane: (normal, normal.dot(&at)), smooth }));
            normal.is_some()
        };
        let mut past = false;
        let is_bare = |tri: u32| self.room.tris[tri as usize].coat.is_none();
        let coated = || faces.iter().copied().filter(|tri| !is_bare(*tri));
        let on_bare = p - bare.away;
        let own = of(reach.coat.tri).normal;
        // The line of a border that passes by ends nothing here, where it would be drawn on past its corners.
        let passes = (on_coat - on_bare).norm() > NEAR_BORDER * side;
        // A bare face that is farther off than the coat is thick cuts it only where its plane leans over it.
        let near = bare.distance <= reach.thick + 2.0 * side;
        for &tri in faces {
            let normal = of(tri).normal;
            if is_bare(tri) && self.hit(tri, &on_coat).distance < touch {
                // At a corner the face of the coat and the bare one may have no edge in common, where others have.
                past |= end(tri, on_coat, reach.coat.tri)
                    || (smooth(&normal, &own)
                        && coated().filter(|t| self.hit(*t, &on_coat).distance < touch).any(|t| end(tri, on_coat, t)));
            } else if is_bare(tri) && normal.dot(&own) > 0.0 && !smooth(&normal, &own) {
                let here = self.hit(tri, &p);
                let at = p - here.away;
                if here.distance <= reach.thick * cut_within(&normal, &own) + HALF_DIAGONAL * side {
                    let beside = |t: &u32| smooth(&of(*t).normal, &own) && self.hit(*t, &at).distance < touch;
                    coated().filter(beside).for_each(|t| {
                        end(tri, at, t);
                    });
                }
            } else if !is_bare(tri)
                && near
                && self.hit(tri, &on_bare).distance < touch
                && !(passes && smooth(&normal, &of(bare.tri).normal))
            {
                end(bare.tri, on_bare, tri);
            }
        }
        (ends, past)
    }
}
