//! Skin: the mix on (or in) a model at any thickness, corners, hollows and crevices counted as they are.
//!
//! The **skin** of a model is every point on the skin's side of its surface, within the thickness of a coated face:
//!
//! * outside, when the model is what the foam shop cuts ([`Face::Core`]);
//! * inside, when it is what visitors see ([`Face::Finished`]).
//!
//! The solid is where the winding number of the closed bodies is one half or more, so stacked and overlapping bodies count
//! as their union and a cavity with walls that face inwards is empty. Walls buried in another body bound nothing.
//!
//! **Where a coat ends at a bare face it is cut square.** At a convex edge the plane of the bare face goes on through the
//! coat, as if a board stood there, also where it leans over the coat; at a concave edge the coat runs up to the bare face at full
//! thickness, and past the far edge of one that is lower than that. If that face leans away, the wedge before it is filled as far as
//! the coat is thick from their edge; where a strip of it is coated, the coat of the strip lies there in its place, as far as it goes. Where the two faces are one smooth surface, turning by less
//! than 35 degrees, the coat is cut square to its own face along their edge.
//!
//! # How
//! Space is halved eightfold down to cubes, only where a triangle is near. In every cube that the surface or the far side
//! of the skin passes through, the two are planes at right angles to the line to the nearest point of the surface, and what
//! lies between them has a closed form. That is of second order in the side of the cubes: half the side, a quarter of the
//! error; where a coat ends at a ragged border it is of first order only. Each run works on two grids at once, one twice as
//! coarse; what the two disagree by in each block of cubes gives the bound, and the side is halved until the bound is as
//! small as asked.

mod block;
mod cell;
mod core;
mod crevices;
mod ends;
mod exposed;
mod fence;
mod field;
mod flip;
mod formula;
mod hidden;
mod merge;
mod near;
mod net;
mod open;
mod places;
mod plain;
mod quadric;
mod scale;
mod settle;
mod truth;
mod uneven;

pub use self::core::{CoreMesh, core_mesh, local_thickness, local_thickness_at};
pub use crevices::{Crevices, crevices};
pub use exposed::exposed_skin;
pub use formula::skin_by_formula;
pub use open::{Estimate, OpenSkin, skin_of_open};
pub use places::{Lack, Place, places};
pub use scale::skin_scale_area;

use nalgebra::{Matrix3, Point3};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::distance::{Columns, Grid, Node, Surface, Tree, V3};
use crate::effort::Effort;
use crate::mesh::Mesh;
use crate::units::{Area, Length, Volume};
use block::{Block, Leaves, Room, Sums};
use ends::farthest;

/// Which face of the finished work a model shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// The foam as cut: the skin is outside it.
    Core,
    /// What visitors see: the skin is inside it, the foam smaller.
    Finished,
}

/// What is coated, how thick, and on which side.
#[derive(Clone, Copy, Debug)]
pub struct Coat<'a> {
    /// The side.
    pub face: Face,
    /// Coated or bare, one a triangle; empty when all are coated.
    pub coated: &'a [bool],
    /// Thickness.
    pub thickness: Length,
    /// Thickness of each triangle; empty when it is the same everywhere.
    pub thickness_of: &'a [Length],
}

impl Coat<'_> {
    /// One thickness on every face.
    #[must_use]
    pub fn everywhere(face: Face, thickness: Length) -> Self {
        Self { face, coated: &[], thickness, thickness_of: &[] }
    }

    /// Thickness on a face in metres, nothing when it is bare.
    fn on(&self, face: usize) -> Option<f64> {
        let t = self.thickness_of.get(face).copied().unwrap_or(self.thickness).metres();
        (t > 0.0 && self.coated.get(face).copied().unwrap_or(true)).then_some(t)
    }
}

/// How exact an answer must be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy(f64);

impl Accuracy {
    /// 0.5 % of the skin volume.
    pub const USUAL: Self = Self(0.005);
    /// 0.05 % of the skin volume.
    pub const FINE: Self = Self(0.0005);

    /// Squares of the grid on the coated area beyond which nobody waits for a smaller bound. Along a ragged border of bare
    /// faces, cut square face by face, the bound falls by two a halving only.
    fn most_squares(self) -> f64 {
        2e4 / self.0
    }

    /// Steps of work beyond which nobody waits either. Squares say little of it where bare faces are everywhere: each cube
    /// within the skin's thickness of one is cut by planes.
    fn most_work(self) -> f64 {
        2500.0 * self.most_squares()
    }

    fn times(self, factor: f64) -> Self {
        Self(self.0 * factor)
    }

    /// A share of the skin volume, say 0.01.
    #[must_use]
    pub const fn of(share: f64) -> Self {
        Self(share)
    }
}

/// Steps of the first and coarsest measure, and as many for a triangle of a large model: what takes longer is not measured. A rock of
/// ten million triangles takes 30 a triangle, three of them in one another 270.
const FIRST: u64 = 2_000_000_000;
const FIRST_A_TRIANGLE: u64 = 800;

/// Of fewer blocks the two grids may agree by chance.
const FEWEST_BLOCKS: usize = 30;

/// Halving the cubes makes four times the work on the surface and eight times in the thick of the skin; so much more than four.
const MORE_WORK: f64 = 1.5;

/// A skin and how exactly it is known.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Skin {
    /// Volume of the skin.
    pub volume: Volume,
    /// The volume is known to within this.
    pub bound: Volume,
    /// Coated area (as the triangles are, buried ones included) times thickness: what one would order without looking.
    pub area_times_skin: Volume,
    /// The far side of the skin: what visitors see for [`Face::Core`], what the foam shop cuts for [`Face::Finished`].
    pub far_area: Area,
    /// The surface half way through the skin: the area at the scale of the skin, with texture finer than it smoothed out.
    pub middle_area: Area,
    /// Side of the cubes.
    pub grid: Length,
    /// Measuring would have taken minutes: area x thickness stands in the place of the volume, which may be wrong by as much again.
    pub is_stand_in: bool,
}

impl Skin {
    fn none() -> Self {
        Self { is_stand_in: false, ..Self::stand_in(Area::ZERO, Volume::ZERO) }
    }

    /// Area x thickness in the place of a skin that was not measured.
    #[must_use]
    pub fn stand_in(coated: Area, naive: Volume) -> Self {
        let (volume, area) = (naive, coated);
        Self {
            volume,
            bound: volume,
            area_times_skin: volume,
            far_area: area,
            middle_area: area,
            grid: Length::ZERO,
            is_stand_in: true,
        }
    }
}

/// The skin of a model in metres with closed bodies.
///
/// Cost: for a given thickness and accuracy near linear in area; a rock of 33 m2 and a million triangles at 19 mm takes
/// about a second a core. Where bare faces are everywhere every cube costs more; beyond a number of steps the bound grows and the time
/// does not, and where the coarsest cubes alone take more, area x thickness [stands in](Skin::stand_in). Memory: 32 bytes a triangle and 16 bytes for every square of the grid on the surface.
/// The answer is the same to the last bit for any number of threads.
///
/// Of a cube with sides of 1 m under 19 mm, by Steiner's formula `6 t + 3 pi t^2 + 4/3 pi t^3` = 0.117431 m3:
/// ```
/// use cragskin_geom::{mesh::Mesh, skin::*, units::Length};
/// use nalgebra::{Matrix3, Point3};
/// let corner = |i: u32| Point3::new(f64::from(i & 1), f64::from(i >> 1 & 1), f64::from(i >> 2));
/// let faces = [[0, 2, 3], [0, 3, 1], [4, 5, 7], [4, 7, 6], [0, 1, 5], [0, 5, 4]];
/// let others = [[2, 6, 7], [2, 7, 3], [0, 4, 6], [0, 6, 2], [1, 3, 7], [1, 7, 5]];
/// let cube = Mesh::new((0..8).map(corner).collect(), [faces, others].concat(), vec![]);
/// let skin = skin(&cube, &Coat::everywhere(Face::Core, Length::from_millimetres(19.0)), Accuracy::USUAL);
/// assert!((skin.volume.cubic_metres() - 0.117431).abs() < skin.bound.cubic_metres());
/// assert!(skin.bound / skin.volume < 0.005);
/// ```
#[must_use]
pub fn skin(mesh: &Mesh, coat: &Coat, accuracy: Accuracy) -> Skin {
    skin_between(mesh, mesh, coat, accuracy)
}

/// The same where bodies overlap: `inside` says what is solid (all bodies, closed), `surface` holds the part of its triangles that
/// bounds the solid, faces outward, and is what `coat` speaks of. Walls buried in another body must not be in `surface`.
#[must_use]
pub fn skin_between(inside: &Mesh, surface: &Mesh, coat: &Coat, accuracy: Accuracy) -> Skin {
    let triangles = inside.triangles().len() as u64;
    skin_within(inside, surface, coat, accuracy, Effort::of(FIRST.max(FIRST_A_TRIANGLE * triangles)))
}

/// The same with so much work for the coarsest cubes.
fn skin_within(inside: &Mesh, surface: &Mesh, coat: &Coat, accuracy: Accuracy, mut effort: Effort) -> Skin {
    let solid = turned(inside);
    let bounds = if std::ptr::eq(inside, surface) { None } else { Some(turned(surface)) };
    let ground = Ground::of(&solid, bounds.as_ref().unwrap_or(&solid), coat);
    let leaves = Leaves::of(&ground.tree, &ground.surface, coat);
    let mut spacing = ground.thickest;
    loop {
        let (skin, blocks) = ground.measure(&leaves, coat, spacing, &effort);
        if effort.is_spent() {
            return Skin::stand_in(Area::from_square_metres(ground.naive / ground.thickest), skin.area_times_skin);
        }
        let work = effort.spent();
        effort = Effort::any();
        let asked = accuracy.0 * skin.volume.cubic_metres();
        let enough =
            (skin.bound.cubic_metres() <= asked && blocks >= FEWEST_BLOCKS) || spacing < ground.thickest / 30.0;
        let too_much = |finer: f64| {
            let work = work as f64 * finer.powi(2) * MORE_WORK.powf(finer.log2());
            ground.squares(spacing / finer) > accuracy.most_squares()
                || ground.plan / (spacing / finer).powi(2) > 2.0 * accuracy.most_squares()
                || work > accuracy.most_work()
        };
        if enough || too_much(2.0) {
            return skin;
        }
        // The bound falls by four a halving: go straight to where it will be small enough.
        let twice = skin.bound.cubic_metres() > 4.0 * asked && !too_much(4.0);
        spacing /= if twice { 4.0 } else { 2.0 };
    }
}

/// The skin measured once, in cubes of a given side, whatever the bound comes to. For studies of how exact it is.
#[must_use]
pub fn skin_on_grid(mesh: &Mesh, coat: &Coat, grid: Length) -> Skin {
    let solid = turned(mesh);
    let ground = Ground::of(&solid, &solid, coat);
    ground.measure(&Leaves::of(&ground.tree, &ground.surface, coat), coat, grid.metres(), &Effort::any()).0
}

/// The turn of [`turned`]: of the quaternion (5, 1, 1, 2), so that all nine numbers are exact in thirty-firsts.
fn turn() -> Matrix3<f64> {
    Matrix3::new(21.0, -18.0, 14.0, 22.0, 21.0, -6.0, -6.0, 14.0, 27.0) / 31.0
}

/// The mesh turned askew. Along an edge that runs with the grid every cube errs alike, and models are full of upright and
/// level edges; askew, the errors even out and the two grids disagree where they should.
fn turned(mesh: &Mesh) -> Mesh {
    let turn = turn();
    let positions = mesh.positions().par_iter().map(|p| Point3::from(turn * p.coords)).collect();
    Mesh::new(positions, mesh.triangles().to_vec(), Vec::new())
}

/// What is solid and what distances are taken to, ready to be asked.
struct Ground<'a> {
    inside: &'a Mesh,
    surface: Surface<'a>,
    tree: Tree,
    thickest: f64,
    naive: f64,
    any_bare: bool,
    /// Faces farther from a point than this have no say in whether it is coated.
    farthest: f64,
    /// Area of the solid's triangles seen from above, what is buried and bare included: a crossing a square is kept of it.
    plan: f64,
}

impl<'a> Ground<'a> {
    fn of(inside: &'a Mesh, bounds: &'a Mesh, coat: &Coat) -> Self {
        let surface = Surface::of(bounds);
        let tree = Tree::of(&surface);
        // In chunks, added in order: the same sum for any number of threads.
        let of_chunk = |chunk: &[[u32; 3]], first: usize| {
            (first..first + chunk.len())
                .filter_map(|f| coat.on(f).map(|t| (f, t)))
                .fold((0.0f64, 0.0f64), |(most, sum), (f, t)| (most.max(t), sum + t * bounds.area_vector(f).norm()))
        };
        const CHUNK: usize = 1 << 14;
        let chunks = bounds.triangles().par_chunks(CHUNK).enumerate().map(|(i, chunk)| of_chunk(chunk, i * CHUNK));
        let sums: Vec<(f64, f64)> = chunks.collect();
        let thickest = sums.iter().fold(0.0, |most: f64, sum| most.max(sum.0));
        let naive = sums.iter().map(|sum| sum.1).sum();
        let plan = (0..inside.triangles().len()).map(|f| inside.area_vector(f).z.abs()).sum();
        let any_bare = (0..bounds.triangles().len()).any(|f| coat.on(f).is_none());
        let farthest = thickest * farthest(&surface, |t| coat.on(t as usize).is_none());
        Self { inside, surface, tree, thickest, naive, any_bare, farthest, plan }
    }

    /// Squares of a grid on the coated area.
    fn squares(&self, spacing: f64) -> f64 {
        self.naive / self.thickest / (spacing * spacing)
    }

    /// The skin on cubes of a side, and how many blocks of cubes hold some of it.
    fn measure(&self, leaves: &Leaves, coat: &Coat, spacing: f64, effort: &Effort) -> (Skin, usize) {
        if self.thickest == 0.0 {
            return (Skin::none(), usize::MAX);
        }
        Job::new(self, leaves, coat, spacing, effort).measure()
    }
}

/// Cubes to the side of a block.
const BLOCK: usize = 8;

/// All that stays the same while space is halved.
struct Job<'a> {
    naive: f64,
    surface: &'a Surface<'a>,
    tree: &'a Tree,
    leaves: &'a Leaves,
    coat: &'a Coat<'a>,
    effort: &'a Effort,
    /// Greatest thickness.
    thickest: f64,
    /// A triangle farther than this from a cell has no say in it.
    reach: f64,
    fine: Grid,
    coarse: Grid,
    fine_columns: Columns,
    coarse_columns: Columns,
    /// Halvings from the whole to a block.
    depth: u32,
}

impl<'a> Job<'a> {
    fn new(ground: &'a Ground<'a>, leaves: &'a Leaves, coat: &'a Coat<'a>, spacing: f64, effort: &'a Effort) -> Self {
        let &Ground { inside, ref surface, ref tree, thickest, .. } = ground;
        let (mut low, mut high) = (V3::repeat(f64::INFINITY), V3::repeat(f64::NEG_INFINITY));
        for p in inside.positions() {
            low = low.inf(&p.coords);
            high = high.sup(&p.coords);
        }
        let margin = thickest + 2.0 * spacing;
        // No plane of a drawing falls on a centre: an odd share of the side is added.
        low -= V3::new(0.317, 0.434, 0.273) * spacing + V3::repeat(margin);
        let blocks = ((high - low).add_scalar(margin).max() / (spacing * BLOCK as f64)).ceil().max(1.0) as usize;
        let depth = blocks.next_power_of_two().trailing_zeros();
        let fine = Grid { low, spacing, count: [BLOCK << depth; 3] };
        let coarse = fine.coarser();
        let (fine_columns, coarse_columns) =
            rayon::join(|| Columns::of(inside, &fine), || Columns::of(inside, &coarse));
        Self {
            naive: ground.naive,
            surface,
            tree,
            leaves,
            coat,
            effort,
            thickest,
            reach: ground.farthest + 2.0 * spacing,
            fine,
            coarse,
            fine_columns,
            coarse_columns,
            depth,
        }
    }

    fn measure(&self) -> (Skin, usize) {
        let root: Vec<Node> = self.tree.root().into_iter().collect();
        let sums = self.halve([0; 3], self.depth, &root, &mut Room::default());
        let skin = Skin {
            volume: Volume::from_cubic_metres(sums.fine),
            bound: Volume::from_cubic_metres(sums.bound()),
            area_times_skin: Volume::from_cubic_metres(self.naive),
            far_area: Area::from_square_metres(sums.far_area),
            middle_area: Area::from_square_metres(sums.middle_area),
            grid: Length::from_metres(self.fine.spacing),
            is_stand_in: false,
        };
        (skin, sums.blocks)
    }

    /// The sums of a cell of `2^level` blocks a side with its low corner at block `at`. Children are added in a fixed order.
    fn halve(&self, at: [usize; 3], level: u32, from: &[Node], room: &mut Room) -> Sums {
        if self.effort.is_spent() {
            return Sums::default();
        }
        let half = self.fine.spacing * (BLOCK << level) as f64 / 2.0;
        let centre = self.fine.low + V3::from(at.map(|i| (i * BLOCK) as f64)) * self.fine.spacing + V3::repeat(half);
        let nodes = self.tree.near(self.surface, from, &centre, half, self.reach, self.effort);
        if nodes.is_empty() {
            return Sums::default();
        }
        if let Some(sums) = self.plain(&nodes, level, &centre, half) {
            return sums;
        }
        if level == 0 {
            let block = Block::new(self, room, at, &nodes, centre, half);
            return block.map_or(Sums::default(), |mut block| block.sums());
        }
        let step = 1 << (level - 1);
        let child = |room: &mut Room, c: usize| {
            let at = std::array::from_fn(|k| at[k] + (c >> k & 1) * step);
            self.halve(at, level - 1, &nodes, room)
        };
        // A thread takes 64 blocks at a time.
        let parts: Vec<Sums> = if level > 2 {
            (0..8).into_par_iter().map(|c| child(&mut Room::default(), c)).collect()
        } else {
            (0..8).map(|c| child(room, c)).collect()
        };
        parts.iter().fold(Sums::default(), |a, b| a.plus(b))
    }

    /// +1 where the skin lies before the faces as drawn, -1 where it lies behind.
    fn outwards(&self) -> f64 {
        if self.coat.face == Face::Core { 1.0 } else { -1.0 }
    }

    /// Whether a winding number is that of the skin's side.
    fn is_skin_side(&self, winding: i32) -> bool {
        (winding >= 1) == (self.coat.face == Face::Finished)
    }

    /// How often the centre of a cube is inside a body; `None` when the surface is not closed there and nobody knows.
    fn winding_number(&self, fine: bool, [i, j, k]: [usize; 3]) -> Option<i32> {
        let (grid, columns) =
            if fine { (&self.fine, &self.fine_columns) } else { (&self.coarse, &self.coarse_columns) };
        columns.winding(i, j, grid.centre([i, j, k]).z)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cube(side: f64) -> Mesh {
        let points = (0..8_u32).map(|k| Point3::from(std::array::from_fn(|i| side * f64::from(k >> i & 1)))).collect();
        let sides: [[u32; 4]; 6] = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let triangles: Vec<_> = sides.iter().flat_map(|q| [[q[0], q[1], q[2]], [q[0], q[2], q[3]]]).collect();
        Mesh::new(points, triangles, Vec::new())
    }

    /// Of a cube eight times as long the edges take eight times the work, its sides would take 64 times. Both skins by their closed forms:
    /// outside sides, quarter rods and a ball, inside a cube less a smaller one.
    #[test]
    fn a_flat_costs_by_its_edges() {
        use std::f64::consts::PI;
        let t = Length::from_metres(0.02);
        for face in [Face::Core, Face::Finished] {
            let [work, more] = [0.5, 4.0].map(|side: f64| {
                let cube = cube(side);
                let coat = Coat::everywhere(face, t);
                let solid = turned(&cube);
                let ground = Ground::of(&solid, &solid, &coat);
                let leaves = Leaves::of(&ground.tree, &ground.surface, &coat);
                let effort = Effort::any();
                let (skin, _) = ground.measure(&leaves, &coat, t.metres() / 4.0, &effort);
                let t = t.metres();
                let want = match face {
                    Face::Core => 6.0 * side * side * t + 3.0 * side * PI * t * t + 4.0 / 3.0 * PI * t.powi(3),
                    Face::Finished => side.powi(3) - (side - 2.0 * t).powi(3),
                };
                let far = match face {
                    Face::Core => 6.0 * side * side + 6.0 * side * PI * t + 4.0 * PI * t * t,
                    Face::Finished => 6.0 * (side - 2.0 * t).powi(2),
                };
                let off = (skin.volume.cubic_metres() - want).abs();
                assert!(off <= skin.bound.cubic_metres(), "{face:?} {side}: {skin:?} is not {want}");
                // Sections of cubes know the far side to second order along the edges alone.
                assert!((skin.far_area.square_metres() / far - 1.0).abs() < 2e-3, "{face:?} {side}: {skin:?} {far}");
                effort.spent() as f64
            });
            assert!(more / work < 10.0, "{face:?}: {more} is {} times {work}", more / work);
        }
    }

    /// The skin on a cube of 1 m, 0.1 m thick, by its closed form: 0.6 on the sides, twelve quarter rods, one ball. With too little work
    /// allowed area x thickness stands in for it and is said to.
    #[test]
    fn what_takes_too_long_to_measure_is_area_by_thickness() {
        use std::f64::consts::PI;
        let cube = cube(1.0);
        let coat = Coat::everywhere(Face::Core, Length::from_metres(0.1));
        let short = skin_within(&cube, &cube, &coat, Accuracy::USUAL, Effort::of(10));
        assert!(short.is_stand_in && short.bound == short.volume);
        assert!((short.volume.cubic_metres() - 0.6).abs() < 1e-12, "{:?}", short.volume);
        let whole = skin(&cube, &coat, Accuracy::USUAL);
        let want = 0.6 + 12.0 * PI * 0.01 / 4.0 + 4.0 / 3.0 * PI * 0.001;
        assert!(!whole.is_stand_in && (whole.volume.cubic_metres() - want).abs() <= whole.bound.cubic_metres());
    }
}
