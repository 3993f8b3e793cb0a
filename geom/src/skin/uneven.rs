//! Cubes near bare faces or several thicknesses: polytopes cut by the solid's plane, the coat's two and those in which the
//! coat ends.
//!
//! One point of a cube knows the ends that are nearest to it. Where the eighths of a cube know others, each is cut by itself:
//! else a border that turns, or two that run side by side, would be taken for one straight line.

use super::block::{Block, HALF_DIAGONAL, HIT_WORK, Hit, PLANE_WORK, RAGGED, TOUCH_WORK};
use super::ends::{Side, end, leans_within, smooth};
use crate::distance::{Polytope, V3, single};

/// The border of a coat may pass through a cube where the places nearest to its centre are no farther apart, in sides.
const NEAR_BORDER: f64 = 3.0 * HALF_DIAGONAL;
/// With more faces near than this a cube is not halved.
const MOST_NEAR: usize = 200;
/// Coats in a cube beside the first, at most; with it these are the three sides of a corner, and up to seven polytopes are cut.
const MOST_OTHERS: usize = 2;
/// Cosine from which on a bare face lies in the plane of the coated one: 1 degree.
const FLUSH: f64 = 0.999_847_695;
/// Planes that differ by less than this share of a cube's side cut it alike.
const ALIKE: f64 = 1e-6;

/// What lies at or behind a plane: `normal . x <= height`.
type Plane = (V3, f64);

/// A plane in which a coat ends, and whether the coated face and the bare one are one smooth surface there.
#[derive(Clone, Copy)]
pub(super) struct End {
    pub(super) plane: Plane,
    pub(super) smooth: bool,
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
    /// The coated face itself.
    tri: u32,
    /// The nearest of all faces is a bare one that goes on smoothly from the coated one, and the point is not square on that.
    over_bare: bool,
    /// Where it may end.
    border: Border,
}

/// A bare place where a coat may end.
#[derive(Clone, Copy)]
struct Border {
    tri: u32,
    at: V3,
    /// How far it is from the place of the coat.
    far: f64,
}

/// The faces about a point.
pub(super) struct Around {
    at: V3,
    /// Of each the nearest place.
    pub(super) hits: Vec<Hit>,
    /// The nearest of all.
    pub(super) nearest: Hit,
    pub(super) skin_side: bool,
    /// The nearest bare one.
    bare: Option<Hit>,
}

/// A coat that reaches a point.
#[derive(Clone, Copy)]
pub(super) struct Reach {
    thick: f64,
    pub(super) coat: Hit,
}

/// How a coat stands to a point.
struct Look {
    /// Of its face.
    normal: V3,
    /// The point is square on its face.
    is_square: bool,
}

/// A point, the faces that may matter there, and the side of the surface that a point is on which is `known` away.
#[derive(Clone, Copy)]
pub(super) struct Asked<'l> {
    pub(super) at: V3,
    /// Of the cube about the point.
    pub(super) side: f64,
    pub(super) faces: &'l [u32],
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
        coated.border.far <= NEAR_BORDER * self.side
    }

    /// The coat has ended before an eighth of a cube. Of ends that meet at a corner some would cut too much: the centre stands for the
    /// whole.
    fn is_past(&self, coated: &Coated) -> bool {
        let mut sharp = coated.ends.iter().filter(|end| !end.smooth);
        self.holds_border(coated) && (coated.over_bare || sharp.any(|end| self.height(&end.plane) < 0.0))
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
    fn face(&self, tri: u32) -> Side<'_> {
        let tri = &self.room.tris[tri as usize];
        Side { corners: &tri.corners, normal: tri.normal }
    }

    /// Volume of skin, far area and middle area in a cube of a side about `p`; its faces are in `lists[level]`.
    pub(super) fn uneven_cube(&mut self, side: f64, p: &V3, skin_side: bool, level: usize) -> (f64, f64, f64) {
        let faces = self.room.lists[level].item.clone();
        let asked = Asked { at: *p, side, faces: &faces, skin_side, known: 0.0 };
        let Some(around) = self.around(asked) else { return (0.0, 0.0, 0.0) };
        let Some(reach) = self.farthest(&around) else { return (0.0, 0.0, 0.0) };
        let coated = self.coated(&around, &reach, asked);
        if coated.face.0.dot(p) - coated.face.1 > coated.thick + HALF_DIAGONAL * side {
            return (0.0, 0.0, 0.0);
        }
        let cell = Cell { centre: *p, side };
        let is_cut = |end: &&End| cell.height(&end.plane) < HALF_DIAGONAL;
        let own = self.room.tris[reach.coat.tri as usize].normal;
        let others = if coated.ends.iter().filter(is_cut).any(|end| !end.smooth) {
            // Beyond a sharp end any other coat may go on: that of a tread before a low riser, of a wall over a chamfer.
            let mut others = self.others(&cell, &around, &reach, asked, |_| true);
            if !others.is_empty() {
                // What is nearest to the centre is the solid of the first; of the others it is their own face, and the walls that rise from it.
                for other in &mut others {
                    other.solid = other.face;
                    other.ends.extend(self.walls(&around, other.tri, asked));
                }
                return self.clip(&cell, &coated, &others);
            }
            others
        } else if coated.ends.iter().any(|end| is_cut(&end)) {
            // Beyond a smooth one a coat of another side may, behind a bare hatch or about a corner, and one that is square on its own flat.
            self.others(&cell, &around, &reach, asked, |other| other.is_square || !smooth(&other.normal, &own))
        } else {
            Vec::new()
        };
        if !cell.holds_border(&coated) {
            return self.clip(&cell, &coated, &others);
        }
        let faces = self.near(&cell, &coated.border, &faces);
        if faces.len() > MOST_NEAR {
            // The border is finer than eighths would be.
            self.order = self.order.max(RAGGED);
            return self.clip(&cell, &coated, &others);
        }
        let eighths: [_; 8] = std::array::from_fn(|c| {
            let eighth = cell.eighth(c);
            // What is known of the cube's centre holds as far as no face comes between.
            let known = (eighth.centre - p).norm();
            let asked = Asked { at: eighth.centre, side: eighth.side, faces: &faces, skin_side, known };
            (eighth, self.reached(asked))
        });
        let ends = |reached: &Option<Coated>| reached.as_ref().map(|coated| coated.ends.clone());
        if eighths.iter().all(|(_, reached)| cell.cut_alike(&coated.ends, ends(reached).as_deref())) {
            return self.clip(&cell, &coated, &others);
        }
        self.order = self.order.max(RAGGED);
        eighths.iter().fold((0.0, 0.0, 0.0), |sum, (eighth, reached)| {
            let part = reached.as_ref().map_or((0.0, 0.0, 0.0), |coated| self.eighth(eighth, coated));
            (sum.0 + part.0, sum.1 + part.1, sum.2 + part.2)
        })
    }

    /// The part of an eighth of a cube that is skin.
    fn eighth(&mut self, cell: &Cell, coated: &Coated) -> (f64, f64, f64) {
        if !cell.holds_border(coated) {
            return self.clip(cell, coated, &[]);
        }
        if cell.is_past(coated) {
            return (0.0, 0.0, 0.0);
        }
        self.clip(cell, &Coated { ends: Vec::new(), ..*coated }, &[])
    }

    /// Of some faces those that may say anywhere in a cube where the coat is and where it ends. A coated face that meets the border is
    /// no farther than that is.
    fn near(&mut self, cell: &Cell, border: &Border, faces: &[u32]) -> Vec<u32> {
        self.work += HIT_WORK * faces.len() as u64;
        let room = border.far + 2.0 * HALF_DIAGONAL * cell.side;
        let at_border = (border.at - cell.centre).norm();
        let far = |tri: u32| {
            let coat = self.room.tris[tri as usize].coat;
            (coat.is_some(), self.hit(tri, &cell.centre).distance - coat.unwrap_or(0.0))
        };
        let far: Vec<(bool, f64)> = faces.iter().map(|&tri| far(tri)).collect();
        let least = |is_coated: bool| {
            far.iter().filter(|(coated, _)| *coated == is_coated).map(|f| f.1).fold(f64::INFINITY, f64::min)
        };
        let least = [least(false).max(at_border), least(true)];
        let keep = |(coated, gap): &(bool, f64)| *gap <= least[usize::from(*coated)] + room;
        faces.iter().zip(&far).filter(|(_, far)| keep(far)).map(|(tri, _)| *tri).collect()
    }

    /// What of a cube is in a coat, and beyond the ends of it in each of others: each counts where all before it have ended.
    fn clip(&mut self, cell: &Cell, first: &Coated, others: &[Coated]) -> (f64, f64, f64) {
        let side = cell.side;
        let under = |plane: &Plane| (-plane.0, -cell.height(plane));
        let ends =
            |coat: &Coated| coat.ends.iter().map(|end| (end.plane.0, cell.height(&end.plane))).collect::<Vec<_>>();
        let planes = |coat: &Coated| [&[under(&coat.solid), under(&coat.face)][..], &ends(coat)].concat();
        let coats: Vec<&Coated> = std::iter::once(first).chain(others).collect();
        let mut parts: Vec<(f64, &Coated, Polytope)> = Vec::new();
        for (k, &coat) in coats.iter().enumerate() {
            // By inclusion and exclusion over the coats before it.
            for before in 0..1_usize << k {
                let ended = (0..k).filter(|j| before >> j & 1 == 1).map(|j| ends(coats[j]));
                let sign = if before.count_ones() % 2 == 0 { 1.0 } else { -1.0 };
                let planes = ended.fold(planes(coat), |all, more| [all, more].concat());
                self.work += PLANE_WORK * planes.len() as u64;
                parts.push((sign, coat, Polytope::below(planes)));
            }
        }
        // Up to a share of the thickness over the face, and some more.
        let with = |share: f64, more: f64| {
            let within = |(sign, coat, part): &(f64, &Coated, Polytope)| {
                let height = cell.height(&coat.face) + (share * coat.thick + more) / side;
                sign * part.volume_below(&coat.face.0, height)
            };
            parts.iter().map(within).sum::<f64>()
        };
        let volume = with(1.0, 0.0);
        let step = 1e-4 * side;
        let slope = |share: f64| (with(share, step) - with(share, -step)) / 2e-4;
        let (far, middle) = (slope(1.0), slope(0.5));
        (side.powi(3) * volume, side * side * far, side * side * middle)
    }

    /// The coat that reaches farthest over the centre of an eighth of a cube.
    fn reached(&mut self, asked: Asked<'_>) -> Option<Coated> {
        let around = self.around(asked)?;
        let reach = self.farthest(&around)?;
        Some(self.coated(&around, &reach, asked))
    }

    /// The coats that reach a cube beyond the ends of the first, each from a place that is the nearest of its own surface and with a look
    /// as asked: those that end in the cube, up to the one that does not.
    fn others(
        &mut self,
        cell: &Cell,
        around: &Around,
        first: &Reach,
        asked: Asked<'_>,
        looks: impl Fn(&Look) -> bool,
    ) -> Vec<Coated> {
        let touch = self.touch();
        let first = asked.at - first.coat.away;
        let place = |hit: &Hit| asked.at - hit.away;
        let look = |reach: &Reach| Look {
            normal: self.room.tris[reach.coat.tri as usize].normal,
            is_square: self.height(&reach.coat) >= reach.coat.distance - ALIKE * asked.side,
        };
        let reaches = |reach: &Reach| {
            reach.coat.distance <= reach.thick + HALF_DIAGONAL * asked.side
                && (place(&reach.coat) - first).norm() > touch
                && looks(&look(reach))
        };
        let mut reached: Vec<Reach> = self.coats(around).filter(reaches).collect();
        reached.sort_by(|a, b| (a.coat.distance - a.thick).total_cmp(&(b.coat.distance - b.thick)));
        let mut others: Vec<Coated> = Vec::new();
        let mut places: Vec<V3> = Vec::new();
        for reach in reached {
            let at = place(&reach.coat);
            if places.iter().any(|other| (other - at).norm() <= touch) {
                continue;
            }
            self.work += TOUCH_WORK * around.hits.len() as u64;
            if self.is_over_joint(around, &reach.coat) {
                continue;
            }
            let other = self.coated(around, &reach, asked);
            places.push(at);
            let height = |end: &End| cell.height(&end.plane);
            if other.ends.iter().any(|end| height(end) <= -HALF_DIAGONAL) {
                continue;
            }
            let is_last = other.ends.iter().all(|end| height(end) >= HALF_DIAGONAL);
            others.push(other);
            if is_last || others.len() == MOST_OTHERS {
                break;
            }
        }
        others
    }

    /// A coat at a point.
    fn coated(&mut self, around: &Around, reach: &Reach, asked: Asked<'_>) -> Coated {
        let p = &asked.at;
        let borders = self.borders(around, reach, asked);
        let (mut ends, past) = self.ends(reach, &borders, asked);
        ends.extend(self.hidden(around, reach, asked));
        let through = |(normal, distance): (V3, f64)| (normal, normal.dot(p) - distance);
        let normal = self.room.tris[reach.coat.tri as usize].normal;
        let height = self.height(&reach.coat);
        let same = reach.coat.tri == around.nearest.tri;
        let face = if past {
            // A coat is not rounded over past its end: what lies past it has no part in the way from the face.
            let beyond = |end: &End| (end.plane.0.dot(p) > end.plane.1).then_some(end.plane.0);
            let way =
                ends.iter().filter_map(beyond).fold(reach.coat.away, |way, normal| way - normal * normal.dot(&way));
            let front = if height >= 0.0 { 1.0 } else { -1.0 };
            let long = way.norm();
            if long > 1e-9 * asked.side { (way * (front / long), front * long) } else { (normal, 0.0) }
        } else {
            self.plane(&reach.coat, if same { around.skin_side } else { height >= 0.0 })
        };
        // What is nearest there is another face.
        let solid = if past { face } else { self.plane(&around.nearest, around.skin_side) };
        let nowhere = Border { tri: 0, at: *p, far: f64::INFINITY };
        let border = borders.into_iter().reduce(|a, b| if b.far < a.far { b } else { a }).unwrap_or(nowhere);
        let nearest = &self.room.tris[around.nearest.tri as usize];
        // Square on its own face a coat stays, though in a hollow the bare face may be nearer.
        let square = height >= reach.coat.distance - ALIKE * asked.side;
        let over_bare = nearest.coat.is_none() && smooth(&nearest.normal, &normal) && !square;
        Coated {
            solid: through(solid),
            face: through(face),
            thick: reach.thick,
            ends,
            tri: reach.coat.tri,
            over_bare,
            border,
        }
    }

    /// The nearest places of the faces about a point; none when there are none.
    fn around(&mut self, Asked { at: p, faces, skin_side, known, .. }: Asked<'_>) -> Option<Around> {
        self.work += HIT_WORK * faces.len() as u64;
        let hits: Vec<Hit> = faces.iter().map(|&tri| self.hit(tri, &p)).collect();
        let nearer = |a: Hit, b: &Hit| if self.better(b, &a) { *b } else { a };
        let nearest = |hits: &mut dyn Iterator<Item = &Hit>| {
            let first = *hits.next()?;
            Some(hits.fold(first, nearer))
        };
        let bare = nearest(&mut hits.iter().filter(|hit| self.room.tris[hit.tri as usize].coat.is_none()));
        let nearest = nearest(&mut hits.iter())?;
        let in_front = || self.room.tris[nearest.tri as usize].normal.dot(&nearest.away) >= 0.0;
        let skin_side = if nearest.distance >= known { skin_side } else { in_front() };
        Some(Around { at: p, hits, nearest, skin_side, bare })
    }

    /// The coats about a point that stand up to it: it is in front of their faces.
    fn coats<'s>(&'s self, around: &'s Around) -> impl Iterator<Item = Reach> + 's {
        around
            .hits
            .iter()
            .filter_map(|hit| self.reach(hit))
            .filter(|reach| !around.skin_side || self.height(&reach.coat) >= 0.0)
    }

    /// The coat of a face by its nearest place; none of a bare one.
    fn reach(&self, hit: &Hit) -> Option<Reach> {
        self.room.tris[hit.tri as usize].coat.map(|thick| Reach { thick, coat: *hit })
    }

    /// How high a point stands over the plane of a face.
    fn height(&self, hit: &Hit) -> f64 {
        self.room.tris[hit.tri as usize].normal.dot(&hit.away)
    }

    /// The coat that reaches farthest over a point.
    fn farthest(&mut self, around: &Around) -> Option<Reach> {
        let first = around.hits.iter().filter_map(|hit| self.reach(hit)).reduce(|a, b| self.further(a, b))?;
        if !around.skin_side || first.coat.tri == around.nearest.tri || self.height(&first.coat) >= 0.0 {
            return Some(first);
        }
        // A coat reaches no farther back than the plane of its own face: not through something thin, nor round an arris. Under the
        // edge of a tread the one before it goes on.
        if let Some(nearest) = self.reach(&around.nearest) {
            return Some(nearest);
        }
        let coats: Vec<Reach> = self.coats(around).collect();
        self.work += TOUCH_WORK * (coats.len() * around.hits.len()) as u64;
        let own = |reach: &Reach| !self.is_over_joint(around, &reach.coat);
        coats.into_iter().filter(own).reduce(|a, b| self.further(a, b))
    }

    /// Of two coats the one that reaches farther.
    fn further(&self, a: Reach, b: Reach) -> Reach {
        let tie = 1e-9 * self.job.fine.spacing;
        let gain = (b.coat.distance - b.thick) - (a.coat.distance - a.thick);
        if gain < -tie || (gain <= tie && self.better(&b.coat, &a.coat)) { b } else { a }
    }

    /// The place of a coat is that of another coated face too, which has one that is nearer: what reaches the point over the joint is the
    /// matter of that face.
    fn is_over_joint(&self, around: &Around, coat: &Hit) -> bool {
        let (at, nearer) = (around.at - coat.away, coat.distance - 1e-9 * self.job.fine.spacing);
        let is_other = |hit: &Hit| hit.distance < nearer && self.reach(hit).is_some() && self.touches(hit.tri, &at);
        around.hits.iter().any(is_other)
    }

    /// Where a coat may end: at the bare place that is nearest to the point; and in a hollow, whose bare face is nearer to a point deep in
    /// the coat than their joint is, at the joint that is nearest to the coat's own place.
    fn borders(&mut self, around: &Around, reach: &Reach, Asked { at: p, faces, .. }: Asked<'_>) -> Vec<Border> {
        let Some(bare) = &around.bare else { return Vec::new() };
        let on_coat = p - reach.coat.away;
        let border = |tri: u32, at: V3| Border { tri, at, far: (at - on_coat).norm() };
        let nearest = border(bare.tri, p - bare.away);
        let touch = self.touch();
        let own = self.face(reach.coat.tri).normal;
        let is_bare = |tri: u32| self.room.tris[tri as usize].coat.is_none();
        let turns = |tri: u32| {
            let normal = self.face(tri).normal;
            is_bare(tri) && smooth(&normal, &own) && normal.dot(&own) < FLUSH
        };
        let turned: Vec<Hit> = faces.iter().filter(|tri| turns(**tri)).map(|tri| self.hit(*tri, &on_coat)).collect();
        if turned.is_empty() {
            return vec![nearest];
        }
        self.work += HIT_WORK * turned.len() as u64 + TOUCH_WORK * faces.len() as u64;
        let is_joint = |hit: &Hit| {
            let at = on_coat - hit.away;
            let ends = |tri: u32| end(self.face(hit.tri), self.face(tri), &at, &on_coat, touch).is_some();
            hit.distance < nearest.far - touch
                && own.dot(&hit.away).abs() < touch
                && faces.iter().any(|&tri| !is_bare(tri) && self.touches(tri, &at) && ends(tri))
        };
        let joint = turned.into_iter().reduce(|a, b| if self.better(&b, &a) { b } else { a }).filter(is_joint);
        let joint = joint.map(|hit| border(hit.tri, on_coat - hit.away));
        std::iter::once(nearest).chain(joint).collect()
    }

    /// The planes in which the coat ends, and whether the point is past one at the coated face itself.
    fn ends(
        &mut self,
        reach: &Reach,
        borders: &[Border],
        Asked { at: p, side, faces, .. }: Asked<'_>,
    ) -> (Vec<End>, bool) {
        if borders.is_empty() {
            return (Vec::new(), false);
        }
        self.work += HIT_WORK * faces.len() as u64;
        let of = |tri: u32| self.face(tri);
        let touch = self.touch();
        let mut ends = Vec::new();
        let on_coat = p - reach.coat.away;
        let mut end = |bare: u32, at: V3, coated: u32| {
            let smooth = smooth(&of(bare).normal, &of(coated).normal);
            let normal = end(of(bare), of(coated), &at, &on_coat, touch);
            ends.extend(normal.map(|normal| End { plane: (normal, normal.dot(&at)), smooth }));
            normal.is_some()
        };
        let own = of(reach.coat.tri).normal;
        let is_bare = |tri: u32| self.room.tris[tri as usize].coat.is_none();
        let coated = || faces.iter().copied().filter(|tri| !is_bare(*tri));
        let (mut past, mut pairs) = (false, 1);
        for tri in faces.iter().copied().filter(|tri| is_bare(*tri)) {
            if self.touches(tri, &on_coat) {
                pairs += 1;
                // At a corner the face of the coat and the bare one may have no edge in common, where others about it have.
                past |= end(tri, on_coat, reach.coat.tri)
                    || coated().filter(|t| self.touches(*t, &on_coat)).any(|t| end(tri, on_coat, t));
                continue;
            }
            let normal = of(tri).normal;
            let at = if let Some(within) = leans_within(&normal, &own) {
                // A bare face that is farther off than the coat is thick cuts it only where its plane leans over it.
                let here = self.hit(tri, &p);
                (here.distance <= reach.thick * within + HALF_DIAGONAL * side).then(|| p - here.away)
            } else if !smooth(&normal, &own) && self.may_be_within(tri, &on_coat, HALF_DIAGONAL * side) {
                // One that is upright on the coat or leans away cuts it square beside the edge, though another may be nearer to the point.
                let here = self.hit(tri, &on_coat);
                let is_beside = here.away.dot(&normal.cross(&own)).abs() <= touch;
                (is_beside && here.distance <= HALF_DIAGONAL * side).then(|| on_coat - here.away)
            } else {
                None
            };
            if let Some(at) = at {
                pairs += 1;
                let beside = |t: &u32| smooth(&of(*t).normal, &own) && self.touches(*t, &at);
                coated().filter(beside).for_each(|t| {
                    end(tri, at, t);
                });
            }
        }
        // The line of a border that passes by ends nothing here, where it would be drawn on past its corners.
        let near =
            |border: &&Border| border.far <= NEAR_BORDER * side && (p - border.at).norm() <= reach.thick + 2.0 * side;
        for border in borders.iter().filter(near) {
            pairs += 1;
            coated().filter(|t| self.touches(*t, &border.at)).for_each(|t| {
                end(border.tri, border.at, t);
            });
        }
        self.work += TOUCH_WORK * pairs * faces.len() as u64;
        (ends, past)
    }

    /// A place lies on a face.
    pub(super) fn touches(&self, tri: u32, at: &V3) -> bool {
        let touch = self.touch();
        self.may_be_within(tri, at, touch) && self.hit(tri, at).distance < touch
    }

    /// A face is no farther from a place than a distance, or its disc is not. Quickly found.
    fn may_be_within(&self, tri: u32, at: &V3, distance: f64) -> bool {
        self.room.discs[tri as usize].gap_squared(single(at)) <= self.rounded_up(distance).powi(2)
    }

    /// Places this close are one.
    pub(super) fn touch(&self) -> f64 {
        1e-6 * self.job.thickest
    }
}
