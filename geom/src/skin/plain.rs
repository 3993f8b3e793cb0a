//! Cells of space that one flat of the surface passes through alone: the skin in them is a slab, whatever their size.

use super::Job;
use super::block::Sums;
use crate::distance::{Node, V3, below, closest, section};

/// Leaves of the tree beyond which nobody looks whether all they hold is one flat.
const MOST_LEAVES: usize = 3;
/// A flat is drawn within this share of the side of a cube: corners in single precision on a wall of some metres.
const FLAT: f64 = 1e-4;
/// Steps of work for a cell.
const PLAIN_WORK: u64 = 1000;

impl Job<'_> {
    /// The sums of a cell of `2^level` blocks a side where all that is in reach of it is bare, or one flat with one coat. `None` where it is
    /// not, or where what lies before and behind the flat is not air and solid.
    ///
    /// Exact: the cube cut by two planes. Without it a wall costs by its area over the square of the cubes, with it by the length of its
    /// edges over their side.
    pub(super) fn plain(&self, nodes: &[Node], level: u32, centre: &V3, half: f64) -> Option<Sums> {
        let leaves = self.tree.few_leaves(nodes, MOST_LEAVES)?;
        self.effort.spend(PLAIN_WORK);
        let corner = 3f64.sqrt() * half;
        let round = corner + self.reach;
        let in_reach = |t: &u32| (centre - closest(centre, &self.surface.corners(*t))).norm() <= round;
        let near: Vec<u32> = leaves.flatten().copied().filter(in_reach).collect();
        let Some(coat) = near.iter().find_map(|t| self.coat.on(*t as usize)) else { return Some(Sums::default()) };
        if near.iter().any(|t| self.coat.on(*t as usize) != Some(coat)) {
            return None;
        }
        let (out, place) = self.flat(&near)?;
        if !self.has_no_rim(&near, centre, round) {
            return None;
        }
        let distance = out.dot(&(centre - place));
        let side = 2.0 * half;
        if distance.abs() > coat + corner {
            return Some(Sums::default());
        }
        let foot = centre - out * distance;
        if [1.0, -1.0].map(|sign| self.skin_beside(&(foot + out * (sign * self.fine.spacing))))
            != [Some(true), Some(false)]
        {
            return None;
        }
        let height = |above: f64| (above - distance) / side;
        let fine = side.powi(3) * (below(&out, height(coat)) - below(&out, height(0.0)));
        let area = |above: f64| side * side * section(&out, height(above));
        let blocks = if fine > 0.0 { 1 << (2 * level) } else { 0 };
        Some(Sums { fine, far_area: area(coat), middle_area: area(coat / 2.0), blocks, ..Sums::default() })
    }

    /// Unit normal towards the skin and a place of the plane that all the triangles lie in, facing the same way.
    fn flat(&self, triangles: &[u32]) -> Option<(V3, V3)> {
        let vector = |t: u32| {
            let [a, b, c] = self.surface.corners(t);
            (b - a).cross(&(c - a)) * self.outwards()
        };
        let largest =
            *triangles.iter().max_by(|s, t| vector(**s).norm_squared().total_cmp(&vector(**t).norm_squared()))?;
        let (out, [place, ..]) = (vector(largest).try_normalize(0.0)?, self.surface.corners(largest));
        let off = FLAT * self.fine.spacing;
        let lies_in = |t: &u32| {
            self.surface.corners(*t).iter().all(|p| out.dot(&(p - place)).abs() <= off) && vector(*t).dot(&out) > 0.0
        };
        triangles.iter().all(lies_in).then_some((out, place))
    }

    /// Every edge within `round` of a place has a triangle of the list on both sides.
    fn has_no_rim(&self, triangles: &[u32], centre: &V3, round: f64) -> bool {
        let edges = |t: u32| {
            let [a, b, c] = self.surface.triangles[t as usize];
            [[a, b], [b, c], [c, a]]
        };
        let is_far = |[a, b]: [u32; 2]| {
            let [a, b] = [a, b].map(|v| self.surface.positions[v as usize].coords);
            (centre - closest(centre, &[a, b, b])).norm() > round
        };
        let all: Vec<[u32; 2]> = triangles.iter().flat_map(|t| edges(*t)).collect();
        all.iter().all(|&[a, b]| all.contains(&[b, a]) || is_far([a, b]))
    }

    /// Whether the centre of the cube about a place is on the skin's side of the surface; `None` where nobody knows.
    fn skin_beside(&self, place: &V3) -> Option<bool> {
        let at = (place - self.fine.low) / self.fine.spacing;
        if (0..3).any(|k| at[k] < 0.0 || at[k] >= self.fine.count[k] as f64) {
            return None;
        }
        self.winding_number(true, [at.x, at.y, at.z].map(|i| i as usize)).map(|winding| self.is_skin_side(winding))
    }
}
