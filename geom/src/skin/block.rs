//! A block of 8 x 8 x 8 cubes: the nearest triangle to each centre, and what part of each cube is skin.

use super::{BLOCK, Coat, Job};
use crate::distance::{Disc, Discs, Node, Surface, Tree, V3, below, closest, section, single};

/// Half the diagonal of a cube over its side.
pub(super) const HALF_DIAGONAL: f64 = 0.866_025_403_784_438_6;

/// Steps of work, by trial: for a cell beside those for its candidates, a candidate of an uneven cube, one that a place may lie on, a
/// plane that cuts a cube.
const CELL_WORK: u64 = 50;
pub(super) const HIT_WORK: u64 = 25;
pub(super) const TOUCH_WORK: u64 = 5;
pub(super) const PLANE_WORK: u64 = 2000;
/// So many steps are counted together.
const COUNTED: u64 = 10_000_000;

/// What a cell adds up to.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sums {
    /// Skin volume on the fine grid.
    pub(super) fine: f64,
    /// What the coarse grid has less, weighed in [`Sums::of_block`].
    pub(super) difference: f64,
    /// Sum over blocks of its square.
    pub(super) squares: f64,
    pub(super) far_area: f64,
    pub(super) middle_area: f64,
    /// Blocks with skin in them.
    pub(super) blocks: usize,
}

impl Sums {
    pub(super) fn plus(&self, o: &Self) -> Self {
        Self {
            fine: self.fine + o.fine,
            difference: self.difference + o.difference,
            squares: self.squares + o.squares,
            far_area: self.far_area + o.far_area,
            middle_area: self.middle_area + o.middle_area,
            blocks: self.blocks + o.blocks,
        }
    }

    /// Of a method of second order the fine grid errs by a third of what the grids differ by. The difference as a whole may
    /// be small by chance; the blocks' own, taken as independent, are not. The factors 1.5 and 4 are room found by trial.
    pub(super) fn bound(&self) -> f64 {
        (1.5 * self.difference.abs() + 4.0 * self.squares.sqrt()) / 3.0 + 1e-6 * self.fine
    }

    /// The sums of a block with what the coarse grid found, whose fine grid errs by `order` thirds of what they differ by.
    fn of_block(self, coarse: f64, order: f64) -> Self {
        let difference = (self.fine - coarse) * order;
        let blocks = usize::from(self.fine != 0.0 || coarse != 0.0);
        Self { difference, squares: difference.powi(2), blocks, ..self }
    }
}

/// Where a coat ends at a ragged border the method is of first order: the fine grid errs by three thirds of what the grids differ by.
pub(super) const RAGGED: f64 = 3.0;
/// The edge of a shadow is cut by no plane, a cube is in it or not, and the cubes along it may all err to one side. Of slats that hang
/// over a floor they erred by up to 1.6 times the bound for ragged borders.
pub(super) const SHADOW: f64 = 6.0;

/// A triangle as a block sees it: corners from the centre of the block.
pub(super) struct Tri {
    pub(super) corners: [V3; 3],
    /// Unit normal, towards the skin.
    pub(super) normal: V3,
    /// Thickness of the coat on it.
    pub(super) coat: Option<f64>,
}

/// The coat of a leaf of the tree.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum LeafCoat {
    Bare,
    /// One thickness on all its triangles.
    Even(f64),
    Mixed,
}

impl LeafCoat {
    pub(super) fn of(coat: Option<f64>) -> Self {
        coat.map_or(Self::Bare, Self::Even)
    }
    pub(super) fn with(self, other: Self) -> Self {
        if self == other { self } else { Self::Mixed }
    }
}

/// What a block needs to know of the leaves of the tree.
pub(super) struct Leaves {
    discs: Vec<Disc>,
    coats: Vec<LeafCoat>,
}

impl Leaves {
    pub(super) fn of(tree: &Tree, surface: &Surface, coat: &Coat) -> Self {
        let on = |t: u32| LeafCoat::of(coat.on(t as usize));
        let coats = tree.of_leaves(|some| some.iter().fold(on(some[0]), |all, &t| all.with(on(t))));
        Self { discs: tree.discs(surface), coats }
    }
}

/// The nearest point of some triangle.
#[derive(Clone, Copy)]
pub(super) struct Hit {
    pub(super) tri: u32,
    /// From the nearest point to the point asked about.
    pub(super) away: V3,
    pub(super) distance: f64,
}

/// Marks the items of a list that are leaves of the tree; the others are triangles of the block.
const LEAF: u32 = 1 << 31;

/// A leaf of the tree as a block sees it.
#[derive(Clone, Copy)]
struct Leaf {
    leaf: u32,
    /// Its first triangle in `tris`, once it has been opened.
    first: Option<u32>,
}

/// Room for the lists of a block, used again for the next.
#[derive(Default)]
pub(super) struct Room {
    leaves: Vec<Leaf>,
    /// Triangles that had to be looked at, and their discs.
    pub(super) tris: Vec<Tri>,
    pub(super) discs: Vec<Disc>,
    /// Candidates of the cells on the way down: those of the block, of a 4-, a 2- and a 1-cube cell.
    pub(super) lists: [Discs; 4],
    /// Squares of the distances from the point last asked about.
    gaps: Vec<f32>,
}

pub(super) struct Block<'r, 'a> {
    pub(super) job: &'r Job<'a>,
    pub(super) room: &'r mut Room,
    /// First cube of the block.
    at: [usize; 3],
    middle: V3,
    half: f64,
    /// Rounding of a distance in single precision.
    slack: f32,
    /// The one thickness on every triangle in reach.
    even: Option<f64>,
    sums: Sums,
    /// Skin volume on the coarse grid.
    coarse: f64,
    /// The fine grid errs by so many thirds of what the grids differ by: [`RAGGED`] where the eighths of some cube do not agree on where
    /// the coat ends, [`SHADOW`] where a face that stands free hides some of it.
    pub(super) order: f64,
    /// Steps of work.
    pub(super) work: u64,
}

impl<'r, 'a> Block<'r, 'a> {
    /// `None` when no coated triangle is in reach.
    pub(super) fn new(
        job: &'r Job<'a>,
        room: &'r mut Room,
        at: [usize; 3],
        nodes: &[Node],
        middle: V3,
        half: f64,
    ) -> Option<Self> {
        room.leaves.clear();
        room.tris.clear();
        room.discs.clear();
        room.lists[0].clear();
        let (at, slack) = (at.map(|i| i * BLOCK), (2e-6 * half) as f32);
        let mut it = Self {
            job,
            room,
            at,
            middle,
            half,
            slack,
            even: None,
            sums: Sums::default(),
            coarse: 0.0,
            order: 1.0,
            work: 0,
        };
        // The box of long slanting triangles says little; their disc says more.
        let limit = ((job.reach + 2.0 * HALF_DIAGONAL * half) * 1.000_01) as f32;
        let mut coat = LeafCoat::Bare;
        job.tree.leaves(nodes, &middle, half, job.reach, |leaf| {
            let disc = job.leaves.discs[leaf as usize].seen_from(&middle, half);
            if disc.gap_squared([0.0; 3]) <= limit * limit {
                let own = job.leaves.coats[leaf as usize];
                coat = if it.room.leaves.is_empty() { own } else { coat.with(own) };
                it.room.lists[0].push(&disc, LEAF | it.room.leaves.len() as u32);
                it.room.leaves.push(Leaf { leaf, first: None });
            }
        });
        match coat {
            LeafCoat::Bare => return None,
            LeafCoat::Even(t) => it.even = Some(t),
            // Every triangle must be known, as a coat may reach over a nearer bare face.
            LeafCoat::Mixed => {
                it.room.lists[0].clear();
                for leaf in 0..it.room.leaves.len() as u32 {
                    for tri in it.open(leaf) {
                        if it.room.discs[tri as usize].gap_squared([0.0; 3]) <= limit * limit {
                            it.room.lists[0].push(&it.room.discs[tri as usize], tri);
                        }
                    }
                }
                let coats = || it.room.lists[0].item.iter().map(|&tri| it.room.tris[tri as usize].coat);
                let first = coats().flatten().next()?;
                it.even = coats().all(|coat| coat == Some(first)).then_some(first);
            }
        }
        Some(it)
    }

    /// The triangles of a leaf.
    fn open(&mut self, leaf: u32) -> std::ops::Range<u32> {
        let Leaf { leaf, first } = &mut self.room.leaves[leaf as usize];
        let tris = self.job.tree.leaf(*leaf);
        let start = *first.get_or_insert_with(|| {
            let start = self.room.tris.len() as u32;
            let outwards = self.job.outwards();
            for &t in tris {
                let corners = self.job.surface.corners(t).map(|c| c - self.middle);
                let [a, b, c] = corners;
                let normal = (b - a).cross(&(c - a)).try_normalize(0.0).unwrap_or_else(V3::zeros) * outwards;
                self.room.discs.push(Disc::of(&corners, &normal, self.half));
                self.room.tris.push(Tri { corners, normal, coat: self.job.coat.on(t as usize) });
            }
            start
        });
        start..start + tris.len() as u32
    }

    pub(super) fn sums(&mut self) -> Sums {
        self.cell([0; 3], BLOCK, 0);
        self.job.effort.spend(self.work);
        self.sums.of_block(self.coarse, self.order)
    }

    /// Centre of a cell of `size` cubes a side, from the centre of the block.
    fn centre(&self, low: [usize; 3], size: usize) -> V3 {
        V3::from(low.map(|i| i as f64 + size as f64 / 2.0 - BLOCK as f64 / 2.0)) * self.job.fine.spacing
    }

    /// Adds the cell of `size` cubes a side; its candidates are in `lists[level]`.
    fn cell(&mut self, low: [usize; 3], size: usize, level: usize) {
        if self.work > COUNTED {
            self.job.effort.spend(std::mem::take(&mut self.work));
        }
        if self.job.effort.is_spent() {
            return;
        }
        let h = self.job.fine.spacing;
        let centre = self.centre(low, size);
        let Some(least) = self.measure(level, &centre) else { return };
        // Corners of the cell lie this far from its centre.
        let corner = HALF_DIAGONAL * h * size as f64;
        let thickest = self.even.unwrap_or(self.job.thickest);
        if least > self.rounded_up(thickest + corner).powi(2) {
            return;
        }
        // No surface in the cell: all of it is on one side.
        let clear = least > self.rounded_up(corner).powi(2);
        let winding = if clear { self.job.winding_number(true, self.cube_at(low)) } else { None };
        if winding.is_some_and(|winding| !self.job.is_skin_side(winding)) {
            return;
        }
        let Some(hit) = self.nearest(level, &centre, least) else { return };
        if hit.distance > thickest + corner {
            return;
        }
        if size > 1 && hit.distance > corner {
            if winding.is_none() && !self.on_skin_side(true, low, &hit) {
                return;
            }
            if let Some(t) = self.even
                && hit.distance + corner < t
            {
                let volume = (size as f64 * h).powi(3);
                self.sums.fine += volume;
                self.coarse += volume;
                if hit.distance - corner < t / 2.0 && hit.distance + corner > t / 2.0 {
                    self.middle(low, size, level, &centre, &hit);
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
        self.keep(level, &centre, &hit, size);
        let half = size / 2;
        for c in 0..8 {
            self.cell(std::array::from_fn(|k| low[k] + (c >> k & 1) * half), half, level + 1);
        }
        if size == 2 {
            self.coarse += coarse;
        }
    }

    fn middle(&mut self, low: [usize; 3], size: usize, level: usize, p: &V3, hit: &Hit) {
        let h = self.job.fine.spacing;
        if size <= 2 || hit.distance < 1e-9 * h {
            let (normal, side) = (hit.away / hit.distance, size as f64 * h);
            let t = self.even.unwrap_or(0.0);
            self.sums.middle_area += side * side * section(&normal, (t / 2.0 - hit.distance) / side);
            return;
        }
        self.keep(level, p, hit, size);
        let half = size / 2;
        for c in 0..8 {
            let low = std::array::from_fn(|k| low[k] + (c >> k & 1) * half);
            let centre = self.centre(low, half);
            let least = self.measure(level + 1, &centre);
            if let Some(hit) = least.and_then(|least| self.nearest(level + 1, &centre, least)) {
                self.middle(low, half, level + 1, &centre, &hit);
            }
        }
    }

    /// Works out `gaps` of the candidates of a level; the square of the least.
    fn measure(&mut self, level: usize, p: &V3) -> Option<f32> {
        let Room { lists, gaps, .. } = &mut *self.room;
        lists[level].gaps_squared(single(p), gaps);
        self.work += CELL_WORK + gaps.len() as u64;
        // None is negative, and such numbers are in order as their bits are: a sum of integers is done several at once.
        gaps.iter().map(|g| g.to_bits() as i32).min().map(|bits| f32::from_bits(bits as u32))
    }

    /// The nearest point among the candidates of a level, whose `gaps` are known. Of triangles that share it, the one seen
    /// most squarely, whose side is the side of the surface that the point is on; then the first that was looked at.
    fn nearest(&mut self, level: usize, p: &V3, least: f32) -> Option<Hit> {
        let first = self.room.gaps.iter().position(|&g| g == least)?;
        let mut best = None;
        self.look(self.room.lists[level].item[first], p, &mut best);
        for i in 0..self.room.gaps.len() {
            if i != first && best.is_none_or(|best: (Hit, f32)| self.room.gaps[i] <= best.1) {
                self.look(self.room.lists[level].item[i], p, &mut best);
            }
        }
        best.map(|best| best.0)
    }

    /// Takes the triangles of an item into account: the best hit and the square of what still matters.
    fn look(&mut self, item: u32, p: &V3, best: &mut Option<(Hit, f32)>) {
        let tris = if item & LEAF == 0 { item..item + 1 } else { self.open(item ^ LEAF) };
        for tri in tris {
            if best.is_some_and(|best| self.room.discs[tri as usize].gap_squared(single(p)) > best.1) {
                continue;
            }
            let hit = self.hit(tri, p);
            if best.is_none_or(|best| self.better(&hit, &best.0)) {
                *best = Some((hit, self.rounded_up(hit.distance).powi(2)));
            }
        }
    }

    /// A distance with the room that single precision needs.
    pub(super) fn rounded_up(&self, distance: f64) -> f32 {
        distance as f32 * 1.000_01 + self.slack
    }

    pub(super) fn better(&self, a: &Hit, b: &Hit) -> bool {
        let tie = 1e-9 * self.job.fine.spacing;
        if (a.distance - b.distance).abs() > tie {
            return a.distance < b.distance;
        }
        let square = |h: &Hit| self.room.tris[h.tri as usize].normal.dot(&h.away).abs();
        square(a) > square(b) + tie
    }

    pub(super) fn hit(&self, tri: u32, p: &V3) -> Hit {
        let away = p - closest(p, &self.room.tris[tri as usize].corners);
        Hit { tri, away, distance: away.norm() }
    }

    /// Of the candidates of a level, keeps for the next those that can be nearest anywhere within `spread` of the point
    /// `p` that `gaps` were measured from. Leaves larger than the cells to come are opened.
    fn keep(&mut self, level: usize, p: &V3, hit: &Hit, size: usize) {
        let side = self.job.fine.spacing;
        let spread = HALF_DIAGONAL * side * (size - 1) as f64;
        let limit = match self.even {
            Some(t) => (hit.distance + 2.0 * spread).min(t + HALF_DIAGONAL * side * size as f64),
            // A coat may reach over a nearer bare face.
            None => (hit.distance + 2.0 * spread).max(self.job.reach + spread),
        };
        let limit = self.rounded_up(limit);
        let (limit, large) = (limit * limit, (side * size as f64 / 2.0) as f32);
        self.room.lists[level + 1].clear();
        for i in 0..self.room.gaps.len() {
            if self.room.gaps[i] > limit {
                continue;
            }
            let (disc, item) = (self.room.lists[level].get(i), self.room.lists[level].item[i]);
            if item & LEAF == 0 || disc.radius <= large {
                self.room.lists[level + 1].push(&disc, item);
                continue;
            }
            for tri in self.open(item ^ LEAF) {
                let disc = &self.room.discs[tri as usize];
                if disc.gap_squared(single(p)) <= limit {
                    self.room.lists[level + 1].push(disc, tri);
                }
            }
        }
    }

    fn cube_at(&self, low: [usize; 3]) -> [usize; 3] {
        std::array::from_fn(|k| self.at[k] + low[k])
    }

    /// Whether the centre of a cube is on the side of the surface where the skin is.
    fn on_skin_side(&self, fine: bool, low: [usize; 3], hit: &Hit) -> bool {
        let at = self.cube_at(low).map(|i| if fine { i } else { i / 2 });
        let winding = self.job.winding_number(fine, at);
        winding.map_or_else(
            || self.room.tris[hit.tri as usize].normal.dot(&hit.away) >= 0.0,
            |winding| self.job.is_skin_side(winding),
        )
    }

    /// Volume of skin, far area and middle area in one cube of a side.
    fn cube(&mut self, fine: bool, low: [usize; 3], side: f64, p: &V3, hit: &Hit, level: usize) -> (f64, f64, f64) {
        let (cell, face) = (side * side * side, side * side);
        let skin_side = self.on_skin_side(fine, low, hit);
        let Some(t) = self.even else { return self.uneven_cube(side, p, skin_side, level) };
        let (normal, distance) = self.plane(hit, skin_side);
        let height = |level: f64| (level - distance) / side;
        let volume = below(&normal, height(t)) - below(&normal, height(0.0));
        (cell * volume, face * section(&normal, height(t)), face * section(&normal, height(t / 2.0)))
    }

    /// The surface near a point as a plane: its normal towards the skin and the signed distance of the point from it.
    pub(super) fn plane(&self, hit: &Hit, skin_side: bool) -> (V3, f64) {
        if hit.distance < 1e-9 * self.job.fine.spacing {
            return (self.room.tris[hit.tri as usize].normal, 0.0);
        }
        let sign = if skin_side { 1.0 } else { -1.0 };
        (hit.away * (sign / hit.distance), sign * hit.distance)
    }
}
