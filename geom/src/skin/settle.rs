//! Where a vertex goes: onto the surface, and where planes of it meet near by, into their arris or corner (T. Ju,
//! F. Losasso, S. Schaefer, J. Warren, *Dual Contouring of Hermite Data*, 2002). The planes are those seen from points
//! around it: first from the corners of the cell, then from nearer and nearer.

use super::BLOCK;
use super::cell::corner_of;
use super::field::{Depth, Field, Local};
use super::near::Patch;
use super::quadric::Quadric;
use crate::distance::{Node, V3};

/// A vertex, and the planes of the surface about it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Settled {
    pub(super) at: V3,
    pub(super) planes: Quadric,
    /// Away from the rest.
    pub(super) out: V3,
}

/// Cosine of the angle from their mean up to which slopes are those of a smooth place.
const SMOOTH: f64 = 0.97;
/// In steps: how far around a vertex its planes are looked for, in turn.
const AROUND: [f64; 2] = [0.25, 0.04];
/// Steps down the slope at most; two bring all but one vertex in a thousand there.
const STEPS: usize = 6;
/// In steps: nearer to the surface than this, one step more leads onto it.
const NEAR_ENOUGH: f64 = 1.0 / 32.0;
/// In steps: a vertex in a smooth place keeps so far inside its cell, so that no two fall together.
const MARGIN: f64 = 1e-4;
/// In steps: a corner may lie so far outside the cell that sees its planes.
const BEYOND: f64 = 0.75;
/// Planes that meet at so small an angle are one: of the sum over all.
const PULL: f64 = 0.01;

impl Local<'_, '_> {
    /// The vertex of a sheet in the cell at `low`: `beside` are the corners that it passes between, `mean` the mean of its
    /// crossings of edges in a cell of side one.
    pub(super) fn settled_in(&mut self, low: &V3, corners: &[Depth; 8], beside: u8, mean: &V3) -> Settled {
        let step = self.field.grid.spacing;
        let mean = low + mean * step;
        let mut planes = Quadric::NONE;
        let mut slopes = [V3::zeros(); 8];
        let mut count = 0;
        for (c, corner) in corners.iter().enumerate().filter(|(c, _)| beside >> c & 1 == 1) {
            let from = low + corner_of(c) * step;
            if corner.depth.abs() <= (from - mean).norm() + step {
                planes += Quadric::plane(&corner.slope, &(from - corner.slope * corner.depth), 1.0);
                slopes[count] = corner.slope;
                count += 1;
            }
        }
        let start = planes.least(&mean, PULL);
        let toward: V3 = slopes.iter().sum::<V3>().try_normalize(0.0).unwrap_or_else(V3::zeros);
        let within = |x: V3, by: f64| low + ((x - low) / step).map(|c| c.clamp(-by, 1.0 + by)) * step;
        if slopes[..count].iter().all(|slope| slope.dot(&toward) > SMOOTH) {
            let (x, here) = self.descended(within(start, -MARGIN), &|x| within(x, -MARGIN));
            if here.depth.abs() < NEAR_ENOUGH * step {
                let at = within(x - here.slope * here.depth, -MARGIN);
                let planes = Quadric::plane(&here.slope, &(x - here.slope * here.depth), 1.0);
                return Settled { at, planes, out: -here.slope };
            }
        }
        self.settled_from([start, mean], &|x| within(x, BEYOND))
    }

    /// The better of the vertices that two starts lead to, not to leave `room`.
    fn settled_from(&mut self, starts: [V3; 2], room: &dyn Fn(V3) -> V3) -> Settled {
        let step = self.field.grid.spacing;
        let (mut best, mut least) = (Settled { at: starts[0], planes: Quadric::NONE, out: V3::zeros() }, f64::INFINITY);
        for start in starts {
            let (settled, off) = self.settled_about(room(start), room);
            if off < least {
                (best, least) = (settled, off);
            }
            if least < 1e-3 * step {
                break;
            }
        }
        best
    }

    fn settled_about(&mut self, start: V3, room: &dyn Fn(V3) -> V3) -> (Settled, f64) {
        let step = self.field.grid.spacing;
        let (mut x, mut planes, mut out) = (start, Quadric::NONE, V3::zeros());
        let mut here = self.sound(&x);
        for around in AROUND {
            let r = around * step;
            planes = Quadric::plane(&here.slope, &(x - here.slope * here.depth), 0.2);
            out = -here.slope;
            let mut bent = false;
            for c in 0..8 {
                let from = x + (corner_of(c) - V3::repeat(0.5)) * (r * 2.0 / 3f64.sqrt());
                let seen = self.sound(&from);
                // What is deeper says nothing about this place.
                if seen.depth.abs() <= 1.1 * r + here.depth.abs() {
                    planes += Quadric::plane(&seen.slope, &(from - seen.slope * seen.depth), 0.2);
                    out -= seen.slope;
                    bent |= seen.slope.dot(&here.slope) < SMOOTH;
                }
            }
            let way = planes.least(&x, PULL / 10.0) - x;
            let most = 2.0 * r + here.depth.abs();
            let next = room(x + if way.norm() > most { way * (most / way.norm()) } else { way });
            let there = self.sound(&next);
            if there.depth.abs() <= here.depth.abs().max(r) {
                (x, here) = (next, there);
            }
            if !bent {
                break;
            }
        }
        if here.depth.abs() > 1e-3 * step {
            (x, here) = self.descended(x, room);
        }
        (Settled { at: x, planes, out: out.try_normalize(0.0).unwrap_or(out) }, here.depth.abs())
    }

    /// Down the slope from a start, as long as it leads nearer; and the depth where that ends.
    fn descended(&mut self, start: V3, room: &dyn Fn(V3) -> V3) -> (V3, Depth) {
        let step = self.field.grid.spacing;
        let (mut x, mut here) = (start, self.sound(&start));
        for _ in 0..STEPS {
            if here.depth.abs() < NEAR_ENOUGH * step {
                break;
            }
            let next = room(x - here.slope * here.depth);
            let there = self.sound(&next);
            if there.depth.abs() >= here.depth.abs() {
                break;
            }
            (x, here) = (next, there);
        }
        (x, here)
    }
}

impl Field<'_> {
    /// A vertex near a point, by itself.
    pub(super) fn settled(&self, p: &V3) -> Settled {
        let source = self.source();
        let nodes: Vec<Node> = source.tree.root().into_iter().collect();
        let half = BLOCK as f64 * self.grid.spacing / 2.0;
        let nodes = source.tree.near(&source.surface, &nodes, p, half, source.reach, source.effort);
        let mut local = Local::new(self, Patch::new(&source, &nodes, (*p, half)));
        let reach = 1.5 * self.grid.spacing;
        local.settled_from([*p, *p], &|x| p + (x - p).map(|c| c.clamp(-reach, reach)))
    }
}
