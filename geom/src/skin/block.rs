//! A block of 8 x 8 x 8 cubes: the nearest triangle to each centre, and what part of each cube is skin.

use super::{BLOCK, Face, Job};
use crate::distance::{Node, V3, below, clipped, closest, section};

/// Half the diagonal of a cube over its side.
const HALF_DIAGONAL: f64 = 0.866_025_403_784_438_6;

/// What a cell adds up to.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sums {
    /// Skin volume on the fine grid.
    pub(super) fine: f64,
    /// The same on the coarse grid.
    pub(super) coarse: f64,
    /// Sum over blocks of the square of their difference.
    pub(super) squares: f64,
    pub(super) far_area: f64,
    pub(super) middle_area: f64,
}

impl Sums {
    pub(super) fn plus(&self, o: &Self) -> Self {
        Self {
            fine: self.fine + o.fine,
            coarse: self.coarse + o.coarse,
            squares: self.squares + o.squares,
            far_area: self.far_area + o.far_area,
            middle_area: self.middle_area + o.middle_area,
        }
    }

    /// Of a method of second order the fine grid errs by a third of what the grids differ by. The difference as a whole may
    /// be small by chance; the blocks' own, taken as independent, are not. The factors 1.5 and 4 are room found by trial.
    pub(super) fn bound(&self) -> f64 {
        (1.5 * (self.fine - self.coarse).abs() + 4.0 * self.squares.sqrt()) / 3.0 + 1e-6 * self.fine
    }
}

/// A triangle as a block sees it: corners from the centre of the block.
struct Tri {
    corners: [V3; 3],
    /// Unit normal, towards the skin.
    normal: V3,
    /// Thickness of the coat on it.
    coat: Option<f64>,
}

/// Candidates for the nearest triangle, in single precision: a disc about the centroid that holds the triangle.
#[derive(Default)]
struct Discs {
    centre: [Vec<f32>; 3],
    normal: [Vec<f32>; 3],
    radius: Vec<f32>,
    tri: Vec<u32>,
}

impl Discs {
    fn clear(&mut self) {
        self.centre.iter_mut().chain(&mut self.normal).chain([&mut self.radius]).for_each(Vec::clear);
        self.tri.clear();
    }
    fn push(&mut self, centre: [f32; 3], normal: [f32; 3], radius: f32, tri: u32) {
        for k in 0..3 {
            self.centre[k].push(centre[k]);
            self.normal[k].push(normal[k]);
        }
        self.radius.push(radius);
        self.tri.push(tri);
    }
    fn copy(&mut self, from: &Self, i: usize) {
        self.push(
            from.centre.each_ref().map(|c| c[i]),
            from.normal.each_ref().map(|c| c[i]),
            from.radius[i],
            from.tri[i],
        );
    }
    /// Distance from `p` to each disc: no triangle is nearer than its disc.
    fn gaps(&self, p: [f32; 3], out: &mut Vec<f32>) {
        let count = self.tri.len();
        let [x, y, z] = self.centre.each_ref().map(|c| &c[..count]);
        let [u, v, w] = self.normal.each_ref().map(|c| &c[..count]);
        let radius = &self.radius[..count];
        out.resize(count, 0.0);
        for (i, gap) in out.iter_mut().enumerate() {
            let (dx, dy, dz) = (p[0] - x[i], p[1] - y[i], p[2] - z[i]);
            let off = dx * u[i] + dy * v[i] + dz * w[i];
            let along = (dx * dx + dy * dy + dz * dz - off * off).max(0.0).sqrt();
            let beyond = (along - radius[i]).max(0.0);
            *gap = (off * off + beyond * beyond).sqrt();
        }
    }
}

/// The nearest point of some triangle.
#[derive(Clone, Copy)]
struct Hit {
    tri: u32,
    /// From the nearest point to the point asked about.
    away: V3,
    distance: f64,
}

pub(super) struct Block<'j, 'a> {
    job: &'j Job<'a>,
    /// First cube of the block.
    at: [usize; 3],
    tris: Vec<Tri>,
    /// Candidates of the cells on the way down: those of the block, of a 4-, a 2- and a 1-cube cell.
    lists: [Discs; 4],
    gaps: Vec<f32>,
    /// Rounding of a distance in single precision.
    slack: f32,
    /// The one thickness on every triangle in reach.
    even: Option<f64>,
    sums: Sums,
}

impl<'j, 'a> Block<'j, 'a> {
    /// `None` when no coated triangle is in reach.
    pub(super) fn new(job: &'j Job<'a>, at: [usize; 3], nodes: &[Node], centre: V3, half: f64) -> Option<Self> {
        let outwards = if job.coat.face == Face::Core { 1.0 } else { -1.0 };
        let (mut tris, mut discs) = (Vec::new(), Discs::default());
        job.tree.triangles(job.surface, nodes, &centre, half, job.reach(), |t, corners| {
            let corners = corners.map(|c| c - centre);
            let [a, b, c] = corners;
            let normal = (b - a).cross(&(c - a)).normalize() * outwards;
            // The box of a long slanting triangle says little; its plane says more.
            if normal.dot(&a).abs() > job.reach() + 2.0 * HALF_DIAGONAL * half {
                return;
            }
            let middle = (a + b + c) / 3.0;
            let radius = corners.iter().map(|p| (p - middle).norm()).fold(0.0, f64::max) as f32;
            // Distances are compared in single precision: a little more room than rounding needs.
            let slack = 2e-6 * (radius + (middle.norm() + half) as f32);
            let single = |v: V3| [v.x as f32, v.y as f32, v.z as f32];
            discs.push(single(middle), single(normal), radius + slack, tris.len() as u32);
            tris.push(Tri { corners, normal, coat: job.coat.on(t as usize) });
        });
        let first = tris.iter().find_map(|t| t.coat)?;
        let even = tris.iter().all(|t| t.coat == Some(first)).then_some(first);
        Some(Self {
            job,
            at: at.map(|i| i * BLOCK),
            tris,
            lists: [discs, Discs::default(), Discs::default(), Discs::default()],
            gaps: Vec::new(),
            slack: (2e-6 * half) as f32,
            even,
            sums: Sums::default(),
        })
    }

    pub(super) fn sums(&mut self) -> Sums {
        self.cell([0; 3], BLOCK, 0);
        self.sums.squares = (self.sums.fine - self.sums.coarse).powi(2);
        self.sums
    }

    /// Centre of a cell of `size` cubes a side, from the centre of the block.
    fn centre(&self, low: [usize; 3], size: usize) -> V3 {
        V3::from(low.map(|i| i as f64 + size as f64 / 2.0 - BLOCK as f64 / 2.0)) * self.job.fine.spacing
    }

    /// Adds the cell of `size` cubes a side; its candidates are in `lists[level]`.
    fn cell(&mut self, low: [usize; 3], size: usize, level: usize) {
        let h = self.job.fine.spacing;
        let centre = self.centre(low, size);
        let Some(hit) = self.nearest(level, &centre) else { return };
        // Centres of the cubes lie this far from the centre of the cell, their corners that far.
        let spread = HALF_DIAGONAL * h * (size - 1) as f64;
        let corner = HALF_DIAGONAL * h * size as f64;
        let thickest = self.even.unwrap_or(self.job.thickest);
        if hit.distance > thickest + corner {
            return;
        }
        if size > 1 && hit.distance > corner {
            // No surface in the cell: all of it is on one side.
            if !self.on_skin_side(true, low, &hit) {
                return;
            }
            if let Some(t) = self.even
                && hit.distance + corner < t
            {
                let volume = (size as f64 * h).powi(3);
                self.sums.fine += volume;
                self.sums.coarse += volume;
                if hit.distance - corner < t / 2.0 && hit.distance + corner > t / 2.0 {
                    self.middle(low, size, level, &hit);
                }
                return;
            }
        }
        if size == 1 {
            let (volume, far, middle) = self.cube(true, low, h, &centre, &hit, level);
            self.sums.fine += volume;
            self.sums.far_area += far;
            self.sums.middle_area += middle;
            return;
        }
        let coarse = if size == 2 { self.cube(false, low, 2.0 * h, &centre, &hit, level).0 } else { 0.0 };
        self.keep(level, &hit, spread);
        let half = size / 2;
        for c in 0..8 {
            self.cell(std::array::from_fn(|k| low[k] + (c >> k & 1) * half), half, level + 1);
        }
        if size == 2 {
            self.sums.coarse += coarse;
        }
    }

    fn middle(&mut self, low: [usize; 3], size: usize, level: usize, hit: &Hit) {
        let h = self.job.fine.spacing;
        if size <= 2 || hit.distance < 1e-9 * h {
            let (normal, side) = (hit.away / hit.distance, size as f64 * h);
            let t = self.even.unwrap_or(0.0);
            self.sums.middle_area += side * side * section(&normal, (t / 2.0 - hit.distance) / side);
            return;
        }
        self.keep(level, hit, HALF_DIAGONAL * h * (size - 1) as f64);
        let half = size / 2;
        for c in 0..8 {
            let low = std::array::from_fn(|k| low[k] + (c >> k & 1) * half);
            let centre = self.centre(low, half);
            if let Some(hit) = self.nearest(level + 1, &centre) {
                self.middle(low, half, level + 1, &hit);
            }
        }
    }

    /// The nearest point among the candidates of a level. Of triangles that share it, the one seen most squarely, whose
    /// side is the side of the surface that the point is on; then the first in the tree's order. Leaves `gaps` behind.
    fn nearest(&mut self, level: usize, p: &V3) -> Option<Hit> {
        let list = &self.lists[level];
        list.gaps([p.x as f32, p.y as f32, p.z as f32], &mut self.gaps);
        let mut first = 0;
        for (i, g) in self.gaps.iter().enumerate() {
            if *g < self.gaps[first] {
                first = i;
            }
        }
        let mut best = self.hit(*list.tri.get(first)?, p);
        let mut limit = self.rounded_up(best.distance);
        for (i, &tri) in list.tri.iter().enumerate() {
            if i != first && self.gaps[i] <= limit {
                let hit = self.hit(tri, p);
                if self.better(&hit, &best) {
                    best = hit;
                    limit = self.rounded_up(best.distance);
                }
            }
        }
        Some(best)
    }

    /// A distance with the room that single precision needs.
    fn rounded_up(&self, distance: f64) -> f32 {
        distance as f32 * 1.000_01 + self.slack
    }

    fn better(&self, a: &Hit, b: &Hit) -> bool {
        let tie = 1e-9 * self.job.fine.spacing;
        if (a.distance - b.distance).abs() > tie {
            return a.distance < b.distance;
        }
        let square = |h: &Hit| self.tris[h.tri as usize].normal.dot(&h.away).abs();
        square(a) > square(b) + tie
    }

    fn hit(&self, tri: u32, p: &V3) -> Hit {
        let away = p - closest(p, &self.tris[tri as usize].corners);
        Hit { tri, away, distance: away.norm() }
    }

    /// Of the candidates of a level, keeps for the next those that can be nearest anywhere within `spread` of the point
    /// that `gaps` were measured from.
    fn keep(&mut self, level: usize, hit: &Hit, spread: f64) {
        let mut limit = self.rounded_up(hit.distance + 2.0 * spread);
        if self.even.is_none() {
            // A coat may reach over a nearer bare face.
            limit = limit.max(self.rounded_up(self.job.reach() + spread));
        }
        let (from, to) = self.lists.split_at_mut(level + 1);
        to[0].clear();
        for (i, &gap) in self.gaps.iter().enumerate() {
            if gap <= limit {
                to[0].copy(&from[level], i);
            }
        }
    }

    /// Whether the centre of a cube is on the side of the surface where the skin is.
    fn on_skin_side(&mut self, fine: bool, low: [usize; 3], hit: &Hit) -> bool {
        let at = std::array::from_fn(|k| (self.at[k] + low[k]) / if fine { 1 } else { 2 });
        let ahead = self.tris[hit.tri as usize].normal.dot(&hit.away);
        let Some(winding) = self.job.winding_number(fine, at) else { return ahead >= 0.0 };
        (winding >= 1) == (self.job.coat.face == Face::Finished)
    }

    /// Volume of skin, far area and middle area in one cube of a side.
    fn cube(&mut self, fine: bool, low: [usize; 3], side: f64, p: &V3, hit: &Hit, level: usize) -> (f64, f64, f64) {
        let (cell, face) = (side * side * side, side * side);
        let skin_side = self.on_skin_side(fine, low, hit);
        let near = self.plane(hit, skin_side);
        let Some(t) = self.even else {
            return self.uneven_cube(side, p, hit, skin_side, near, level);
        };
        let (normal, distance) = near;
        let height = |level: f64| (level - distance) / side;
        let volume = below(&normal, height(t)) - below(&normal, height(0.0));
        (cell * volume, face * section(&normal, height(t)), face * section(&normal, height(t / 2.0)))
    }

    /// The surface near a point as a plane: its normal towards the skin and the signed distance of the point from it.
    fn plane(&self, hit: &Hit, skin_side: bool) -> (V3, f64) {
        if hit.distance < 1e-9 * self.job.fine.spacing {
            return (self.tris[hit.tri as usize].normal, 0.0);
        }
        let sign = if skin_side { 1.0 } else { -1.0 };
        (hit.away * (sign / hit.distance), sign * hit.distance)
    }

    /// A cube near bare faces or several thicknesses: a polytope cut by the solid's plane, the coat's two and those of the
    /// bare faces where the coat ends.
    fn uneven_cube(
        &self,
        side: f64,
        p: &V3,
        hit: &Hit,
        skin_side: bool,
        near: (V3, f64),
        level: usize,
    ) -> (f64, f64, f64) {
        // The coat that reaches farthest over this point, and the nearest bare face.
        let (mut coat, mut bare): (Option<(f64, Hit)>, Option<Hit>) = (None, None);
        for &tri in &self.lists[level].tri {
            let hit_here = self.hit(tri, p);
            match self.tris[tri as usize].coat {
                Some(t) => {
                    let hit = hit_here;
                    if coat.is_none_or(|(t0, b)| {
                        let gain = (hit.distance - t) - (b.distance - t0);
                        gain < -1e-9 * side || (gain <= 1e-9 * side && self.better(&hit, &b))
                    }) {
                        coat = Some((t, hit));
                    }
                }
                None => {
                    if bare.is_none_or(|b| self.better(&hit_here, &b)) {
                        bare = Some(hit_here);
                    }
                }
            }
        }
        let Some((mut t, mut coat)) = coat else { return (0.0, 0.0, 0.0) };
        if skin_side && coat.tri != hit.tri && self.tris[coat.tri as usize].normal.dot(&coat.away) < 0.0 {
            // A coat reaches no farther back than the plane of its own face: not through something thin, nor round an arris.
            let Some(own) = self.tris[hit.tri as usize].coat else { return (0.0, 0.0, 0.0) };
            (t, coat) = (own, *hit);
        }
        let front = self.tris[coat.tri as usize].normal.dot(&coat.away) >= 0.0;
        let same = coat.tri == hit.tri;
        let (normal, distance) = self.plane(&coat, if same { skin_side } else { front });
        if distance > t + HALF_DIAGONAL * side {
            return (0.0, 0.0, 0.0);
        }
        // Planes as `normal . x <= height` in units of the side, about the centre of the cube.
        let mut planes = vec![(-near.0, near.1 / side), (-normal, distance / side)];
        if let Some(bare) = bare {
            self.ends(p, side, &coat, &bare, level, &mut planes);
        }
        let with = |height: f64| {
            planes.push((normal, (height - distance) / side));
            let volume = clipped(&planes);
            planes.pop();
            volume
        };
        let mut with = with;
        let (cell, face) = (side * side * side, side * side);
        let volume = with(t);
        let step = 1e-4 * side;
        let slope = |a: f64, b: f64| (a - b) / 2e-4;
        let far = slope(with(t + step), with(t - step));
        let middle = slope(with(t / 2.0 + step), with(t / 2.0 - step));
        (cell * volume, face * far, face * middle)
    }

    /// The planes of bare faces that the coat ends at.
    fn ends(&self, p: &V3, side: f64, coat: &Hit, bare: &Hit, level: usize, planes: &mut Vec<(V3, f64)>) {
        let touch = 1e-6 * self.job.thickest;
        let middle = |tri: u32| self.tris[tri as usize].corners.iter().sum::<V3>() / 3.0;
        let mut end = |bare: u32, at: V3, coated: u32| {
            let normal = self.tris[bare as usize].normal;
            if normal.dot(&(middle(coated) - at)) < -touch {
                planes.push((normal, -normal.dot(&(p - at)) / side));
            }
        };
        let (on_coat, on_bare) = (p - coat.away, p - bare.away);
        for &tri in &self.lists[level].tri {
            let is_bare = self.tris[tri as usize].coat.is_none();
            if is_bare && self.hit(tri, &on_coat).distance < touch {
                end(tri, on_coat, coat.tri);
            } else if !is_bare && self.hit(tri, &on_bare).distance < touch {
                end(bare.tri, on_bare, tri);
            }
        }
    }
}
