//! The volume by cubes: those that are in the skin as a whole count whole, those that are out count nothing, and in the
//! others two points are drawn at random. Two points a cube, drawn over the whole cube, leave the sum without bias and tell
//! its error.

use super::feet::{Answer, Feet};
use crate::distance::{Node, V3, closest};
use crate::effort::Effort;
use crate::numeric::unit;
use crate::skin::Accuracy;
use rayon::prelude::*;

/// Half the diagonal of a cube over its side.
const HALF_DIAGONAL: f64 = 0.866_025_403_784_438_6;
/// Cubes that are sampled, for each square of their side on the coated area and on the cut at the rims: both sides of the
/// coat, and some room.
const LAYERS: f64 = 4.0;
/// Beyond so many sampled cubes nobody waits for a smaller bound, and with fewer it says nothing.
const MOST_CUBES: f64 = 4e5;
const FEWEST_CUBES: f64 = 2e4;
/// Standard errors in a bound. Of a million sums one is farther off by chance.
const ERRORS: f64 = 4.0;

/// What a part of space adds up to.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sampled {
    whole: f64,
    drawn: f64,
    variance: f64,
    /// Volume for which points stand that nobody could decide; half of it is counted.
    undecided: f64,
    pub(super) samples: u64,
}

impl Sampled {
    fn plus(self, o: Self) -> Self {
        Self {
            whole: self.whole + o.whole,
            drawn: self.drawn + o.drawn,
            variance: self.variance + o.variance,
            undecided: self.undecided + o.undecided,
            samples: self.samples + o.samples,
        }
    }

    pub(super) fn volume(&self) -> f64 {
        self.whole + self.drawn
    }

    /// Four standard errors, what was not decided, and the rounding of the sum.
    pub(super) fn bound(&self) -> f64 {
        ERRORS * self.variance.sqrt() + self.undecided / 2.0 + 1e-6 * self.volume()
    }
}

/// Samples with cubes small enough for the accuracy, as far as [`MOST_CUBES`] and `most_points` allow. Also gives the side of the
/// cubes.
pub(super) fn measure(feet: &Feet<'_>, accuracy: Accuracy, most_points: f64) -> (Sampled, f64) {
    let most_cubes = (most_points / 2.0).clamp(FEWEST_CUBES, MOST_CUBES);
    let thick = feet.thickest;
    if feet.naive == 0.0 {
        // Coated slivers without area.
        return (Sampled::default(), thick);
    }
    // On small leaves the square cut at the rims is far larger than the leaves.
    let border = feet.naive / thick + feet.cut_at_rims();
    // Two points in each of `2 border / side^2` cubes that a side of the coat passes through: the standard error is about
    // `side^2 sqrt(border) / 2`, and four of them are to be the share of the volume that is asked for.
    let asked = accuracy.0 * feet.naive / border.sqrt() / ERRORS;
    let mut least = (LAYERS * border / most_cubes).sqrt();
    let mut side = (2.0 * asked).sqrt().min(thick).max(least);
    loop {
        let sampled = Walk::new(feet, side).run();
        // In a heap of sheets more cubes are sampled than their area says.
        least = least.max(side * (sampled.samples as f64 / (2.0 * most_cubes)).sqrt());
        let off = sampled.bound() / (accuracy.0 * sampled.volume());
        // Smaller cubes do not help to decide.
        let doubtful = sampled.undecided > sampled.bound();
        if off <= 1.0 || doubtful || side <= least || sampled.volume() == 0.0 {
            return (sampled, side);
        }
        // The error falls as the square of the side.
        side = (side * (0.8 / off.sqrt()).max(0.25)).max(least);
    }
}

struct Walk<'f, 'a> {
    feet: &'f Feet<'a>,
    side: f64,
    low: V3,
    depth: u32,
}

impl<'f, 'a> Walk<'f, 'a> {
    fn new(feet: &'f Feet<'a>, side: f64) -> Self {
        let (mut low, mut high) = (V3::repeat(f64::INFINITY), V3::repeat(f64::NEG_INFINITY));
        for p in feet.surface.positions {
            low = low.inf(&p.coords);
            high = high.sup(&p.coords);
        }
        // No plane of a drawing falls on a side of the cubes.
        low -= V3::repeat(feet.thickest) + V3::new(0.317, 0.434, 0.273) * side;
        let cubes = ((high - low).max() + feet.thickest) / side;
        Self { feet, side, low, depth: cubes.max(1.0).log2().ceil() as u32 }
    }

    fn run(&self) -> Sampled {
        let root: Vec<Node> = self.feet.tree.root().into_iter().collect();
        self.cube([0; 3], self.depth, &root)
    }

    /// The sums of a cube of `2^level` sides. Children are added in a fixed order.
    fn cube(&self, at: [u64; 3], level: u32, from: &[Node]) -> Sampled {
        let half = self.side * (1u64 << level) as f64 / 2.0;
        let corner = self.low + V3::from(at.map(|i| i as f64)) * self.side;
        let centre = corner + V3::repeat(half);
        let nodes = self.feet.tree.near(&self.feet.surface, from, &centre, half, self.feet.thickest, &Effort::any());
        if nodes.is_empty() {
            return Sampled::default();
        }
        let volume = (2.0 * half).powi(3);
        if half < self.feet.thickest {
            match self.settled(&nodes, &centre, half * 2.0 * HALF_DIAGONAL) {
                Some(true) => return Sampled { whole: volume, ..Sampled::default() },
                Some(false) => return Sampled::default(),
                None => {}
            }
        }
        if level == 0 {
            return self.draw(at, &nodes, &corner, volume);
        }
        let child =
            |c: u64| self.cube(std::array::from_fn(|k| at[k] + ((c >> k & 1) << (level - 1))), level - 1, &nodes);
        let parts: Vec<Sampled> = if half > 8.0 * self.side {
            (0..8).into_par_iter().map(child).collect()
        } else {
            (0..8).map(child).collect()
        };
        parts.into_iter().fold(Sampled::default(), Sampled::plus)
    }

    /// Whether all points within `radius` of a point are in the skin, or all are out; none when it is not certain.
    fn settled(&self, nodes: &[Node], centre: &V3, radius: f64) -> Option<bool> {
        let feet = self.feet;
        let reach = feet.thickest + radius;
        let Some(hit) = feet.nearest(nodes, centre, reach) else { return Some(false) };
        if hit.distance <= radius {
            return None;
        }
        let (mut front, mut ends) = (false, feet.may_lean(centre, radius));
        let within = hit.distance + 2.0 * radius;
        feet.tree.visit_from(nodes, &feet.surface, centre, reach, &mut |t, corners| {
            let near = || (centre - closest(centre, &corners)).norm();
            front |= feet.coat[t as usize] > 0.0 && feet.normals[t as usize].dot(&(centre - corners[0])) > -radius;
            ends |= feet.is_end(t) && near() <= within;
            // With both known nothing more can be learnt.
            if front && ends { -1.0 } else { reach }
        });
        if !front {
            return Some(false);
        }
        let coat = feet.coat[hit.triangle as usize];
        (!ends
            && hit.distance + radius <= coat
            && feet.valid(nodes, &feet.around(nodes, &hit, centre), centre).is_some())
        .then_some(true)
    }

    fn draw(&self, at: [u64; 3], nodes: &[Node], corner: &V3, volume: f64) -> Sampled {
        let seed = at[0] ^ at[1].rotate_left(21) ^ at[2].rotate_left(42);
        let drawn = |k: u64| {
            let offset: [f64; 3] =
                std::array::from_fn(|axis| unit(seed.wrapping_mul(6).wrapping_add(3 * k + axis as u64)));
            match self.feet.coats(nodes, &(corner + V3::from(offset) * self.side)) {
                Answer::Foot(_) => 1.0,
                Answer::Undecided => 0.5,
                Answer::Out => 0.0,
            }
        };
        let (first, second) = (drawn(0), drawn(1));
        let undecided = [first, second].iter().filter(|x| **x == 0.5).count() as f64 / 2.0;
        Sampled {
            whole: 0.0,
            undecided: volume * undecided,
            drawn: volume * (first + second) / 2.0,
            variance: volume * volume * (first - second).powi(2) / 4.0,
            samples: 2,
        }
    }
}
