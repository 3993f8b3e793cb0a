//! Polygons to triangles: right areas for concave ones, and an honest word where there is no right answer.
//!
//! Ear clipping (Meisters 1975) on the coordinates themselves: the axis nearest to the polygon's area vector is
//! dropped, which for a flat polygon changes every area by one factor and rounds nothing, and turns are exact
//! (Shewchuk 1997, crate `robust`). Only corners that turn inwards can lie in an ear, and a grid finds those near it.
//! Work is bounded by a budget in proportion to the corners; beyond it ears are cut unchecked. The check is on the
//! outcome: triangles that add up to more than the outline encloses mean that the outline crosses itself, or that no
//! better answer was found.

use std::collections::VecDeque;

use robust::{Coord, orient2d};

use super::text::Tally;
use super::{Receipt, ReceiptCode};

/// Out of its mean plane by more than this share of its width. A bend of 1/1000 changes an area by about 1e-6.
const BENT: f64 = 1e-3;

/// Areas that should agree do so within the rounding of at most some thousand additions.
const AREA_TOLERANCE: f64 = 1e-9;

/// Corners looked at, for each corner of the polygon: a bound for hostile files that ordinary outlines do not come near.
const BUDGET: usize = 256;

/// What was met in a polygon.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Shape {
    pub(super) bent: bool,
    pub(super) crossed: bool,
}

impl Shape {
    pub(super) fn tally(self, at: usize, split: &mut Tally, bent: &mut Tally, crossed: &mut Tally) {
        split.add(at);
        if self.bent {
            bent.add(at);
        }
        if self.crossed {
            crossed.add(at);
        }
    }

    /// Receipt lines from counts and the first lines of `split`, `bent` and `crossed`.
    pub(super) fn note(receipt: &mut Receipt, [split, bent, crossed]: [(usize, usize); 3]) {
        receipt.note(ReceiptCode::PolygonsSplit, split.0, || {
            format!(
                "{} polygons with more than three corners were split into triangles (first at line {})",
                split.0, split.1
            )
        });
        receipt.note(ReceiptCode::PolygonsBent, bent.0, || {
            format!(
                "{} polygons are not flat (first at line {}): their area depends a little on how they were split (quads \
                 along the shorter diagonal)",
                bent.0, bent.1
            )
        });
        receipt.note(ReceiptCode::PolygonsCrossed, crossed.0, || {
            format!(
                "{} polygons cross themselves or are too intricate (first at line {}) and were split as well as can be: their \
                 area is an upper bound",
                crossed.0, crossed.1
            )
        });
    }
}

/// Splits polygons; keeps its working memory between calls.
#[derive(Default)]
pub(super) struct Splitter {
    flat: Vec<Coord<f64>>,
    next: Vec<u32>,
    prev: Vec<u32>,
    reflex: Vec<bool>,
    /// Corners to look at; an entry counts only while its stamp is the corner's own.
    queue: VecDeque<(u32, u32)>,
    stamps: Vec<u32>,
    grid: Grid,
}

impl Splitter {
    /// Appends `ring.len() - 2` triangles with the ring's sense of turning; `ring` has at least four corners, each an
    /// index of a finite position.
    pub(super) fn split(&mut self, ring: &[u32], positions: &[[f64; 3]], out: &mut Vec<[u32; 3]>) -> Shape {
        let at = |k: usize| positions[ring[k] as usize];
        let n = ring.len();
        let vector = area_vector(ring, positions);
        let length = norm(vector);
        let bent = length > 0.0 && is_bent(ring, positions, vector.map(|x| x / length));

        let axis = if vector[0].abs() > vector[1].abs().max(vector[2].abs()) {
            0
        } else if vector[1].abs() > vector[2].abs() {
            1
        } else {
            2
        };
        let (mut u, mut v) = ((axis + 1) % 3, (axis + 2) % 3);
        if vector[axis] < 0.0 {
            (u, v) = (v, u);
        }
        self.flat.clear();
        self.flat.extend((0..n).map(|k| Coord { x: at(k)[u], y: at(k)[v] }));

        let first = out.len();
        if n == 4 {
            let [a, b, c, d] = [ring[0], ring[1], ring[2], ring[3]];
            if self.diagonal_from_second(&[at(0), at(1), at(2), at(3)]) {
                out.extend([[b, c, d], [b, d, a]]);
            } else {
                out.extend([[a, b, c], [a, c, d]]);
            }
        } else if self.is_convex() {
            out.extend((1..n - 1).map(|k| [ring[0], ring[k], ring[k + 1]]));
            return Shape { bent, crossed: false };
        } else {
            self.clip(|k| ring[k as usize], out);
        }

        // Projected areas: every triangle of a sound split turns the same way, so they add up to the outline's own.
        let projected = |t: &[u32; 3]| {
            let [a, b, c] = t.map(|v| positions[v as usize]);
            (b[u] - a[u]) * (c[v] - a[v]) - (b[v] - a[v]) * (c[u] - a[u])
        };
        let (mut sum, mut size, mut surface) = (0.0, 0.0, 0.0);
        for t in &out[first..] {
            sum += projected(t);
            size += projected(t).abs();
            surface += norm(area_vector(t, positions));
        }
        // An outline that encloses nothing has no side to be projected to.
        let encloses_nothing = length < AREA_TOLERANCE * surface;
        let crossed = encloses_nothing || size - sum.abs() > AREA_TOLERANCE * size;
        Shape { bent: bent && !encloses_nothing, crossed }
    }

    fn turn(&self, a: u32, b: u32, c: u32) -> f64 {
        orient2d(self.flat[a as usize], self.flat[b as usize], self.flat[c as usize])
    }

    /// For a quad: whether to join its second and fourth corner rather than its first and third. The diagonal must lie
    /// inside; of two that do, the shorter one, and of two equal ones the one that touches the lowest corner, so that
    /// the answer does not depend on where the ring begins.
    fn diagonal_from_second(&self, corners: &[[f64; 3]; 4]) -> bool {
        let inside_first = self.turn(0, 1, 2) > 0.0 && self.turn(0, 2, 3) > 0.0;
        let inside_second = self.turn(1, 2, 3) > 0.0 && self.turn(1, 3, 0) > 0.0;
        if inside_first != inside_second {
            return inside_second;
        }
        let [a, b, c, d] = corners;
        let (first, second) = (norm(minus(*a, *c)), norm(minus(*b, *d)));
        let lowest = |p: &[f64; 3], q: &[f64; 3]| if p < q { *p } else { *q };
        second < first || (second == first && lowest(b, d) < lowest(a, c))
    }

    /// Turns left at every corner, and once around in all.
    fn is_convex(&self) -> bool {
        let n = self.flat.len();
        let mut turns = 0; // of the direction from leftwards to rightwards
        let mut left = self.flat[0].x < self.flat[n - 1].x;
        for k in 0..n {
            let (a, b, c) = (self.flat[k], self.flat[(k + 1) % n], self.flat[(k + 2) % n]);
            if orient2d(a, b, c) <= 0.0 {
                return false;
            }
            let now = b.x < a.x;
            turns += usize::from(left && !now);
            left = now;
        }
        turns <= 1
    }

    fn clip(&mut self, name: impl Fn(u32) -> u32, out: &mut Vec<[u32; 3]>) {
        // A file of four billion bytes has fewer corners than fit.
        let n = self.flat.len() as u32;
        self.next.clear();
        self.next.extend((1..n).chain([0]));
        self.prev.clear();
        self.prev.extend([n - 1].into_iter().chain(0..n - 1));
        self.reflex.clear();
        for k in 0..n {
            let reflex = self.turn(self.prev[k as usize], k, self.next[k as usize]) <= 0.0;
            self.reflex.push(reflex);
        }
        self.grid.fill(&self.flat, &self.reflex);

        self.stamps.clear();
        self.stamps.resize(n as usize, 0);
        self.queue.clear();
        let mut budget = BUDGET.saturating_mul(n as usize);
        let mut left = n;
        let mut some = 0; // a corner that is still there
        let mut cut = true; // since the last round began
        let mut flat_too = false;
        while left > 3 {
            let Some((ear, stamp)) = self.queue.pop_front() else {
                // A round over all corners. A whole one without an ear does not happen to a sound outline: then a corner
                // without area goes first (a spike, or one on a straight side), and if there is none, any.
                let any = !cut && flat_too;
                flat_too = !cut;
                cut = false;
                for _ in 0..left {
                    self.queue.push_back((some, self.stamps[some as usize]));
                    some = self.next[some as usize];
                }
                if any {
                    let (before, after) = (self.prev[some as usize], self.next[some as usize]);
                    out.push([before, some, after].map(&name));
                    self.unlink(before, some, after);
                    (some, left, cut) = (after, left - 1, true);
                }
                continue;
            };
            if stamp != self.stamps[ear as usize] {
                continue;
            }
            let (before, after) = (self.prev[ear as usize], self.next[ear as usize]);
            let flat = flat_too && self.turn(before, ear, after) == 0.0;
            if flat || self.is_ear(before, ear, after, &mut budget) {
                out.push([before, ear, after].map(&name));
                self.unlink(before, ear, after);
                (some, left, cut, flat_too) = (after, left - 1, true, false);
            }
        }
        out.push([self.prev[some as usize], some, self.next[some as usize]].map(&name));
    }

    /// Takes a corner out. Its neighbours are looked at anew, but last: rounder triangles than a fan, and those next to
    /// an ear are the likely ears, so that a long winding strip does not need a round for each.
    fn unlink(&mut self, before: u32, ear: u32, after: u32) {
        self.next[before as usize] = after;
        self.prev[after as usize] = before;
        self.next[ear as usize] = u32::MAX; // gone
        self.stamps[ear as usize] += 1;
        for k in [before, after] {
            if self.reflex[k as usize] {
                self.reflex[k as usize] = self.turn(self.prev[k as usize], k, self.next[k as usize]) <= 0.0;
            }
            self.stamps[k as usize] += 1;
            self.queue.push_back((k, self.stamps[k as usize]));
        }
    }

    /// Turns left, and no corner that turns inwards lies in the triangle or enters it from its rim.
    fn is_ear(&self, a: u32, b: u32, c: u32, budget: &mut usize) -> bool {
        if *budget == 0 {
            return true;
        }
        *budget -= 1;
        if self.reflex[b as usize] {
            return false;
        }
        let corners = [a, b, c].map(|k| self.flat[k as usize]);
        self.grid.all_near(&corners, budget, |k| {
            if !self.reflex[k as usize] || self.next[k as usize] == u32::MAX || k == a || k == b || k == c {
                return true;
            }
            let p = self.flat[k as usize];
            let [ab, bc, ca] = [(0, 1), (1, 2), (2, 0)].map(|(i, j)| orient2d(corners[i], corners[j], p));
            if ab < 0.0 || bc < 0.0 || ca < 0.0 {
                return true;
            }
            let Some(corner) = corners.iter().position(|&q| q == p) else { return false };
            // The outline touches itself at this corner, as where a hole is joined to the rim: harmless unless one of
            // its two sides there leads into the triangle.
            let (apex, left, right) = (corners[corner], corners[(corner + 1) % 3], corners[(corner + 2) % 3]);
            [self.prev[k as usize], self.next[k as usize]].into_iter().all(|side| {
                let q = self.flat[side as usize];
                !(orient2d(apex, left, q) > 0.0 && orient2d(apex, q, right) > 0.0)
            })
        })
    }
}

/// The corners that turn inwards, sorted into square cells.
#[derive(Default)]
struct Grid {
    low: [f64; 2],
    step: [f64; 2],
    side: usize,
    starts: Vec<u32>,
    members: Vec<u32>,
}

impl Grid {
    fn fill(&mut self, points: &[Coord<f64>], chosen: &[bool]) {
        let count = chosen.iter().filter(|&&c| c).count();
        self.side = ((count as f64).sqrt() as usize).max(1);
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for p in points {
            for (k, x) in [p.x, p.y].into_iter().enumerate() {
                low[k] = low[k].min(x);
                high[k] = high[k].max(x);
            }
        }
        self.low = low;
        self.step = [0, 1].map(|k| (high[k] - low[k]) / self.side as f64);

        let members = || (0_u32..).zip(points).zip(chosen).filter(|(_, chosen)| **chosen).map(|(kp, _)| kp);
        self.starts.clear();
        self.starts.resize(self.side * self.side + 1, 0);
        for (_, p) in members() {
            let cell = self.cell(p.x, p.y);
            self.starts[cell + 1] += 1;
        }
        for k in 1..self.starts.len() {
            self.starts[k] += self.starts[k - 1];
        }
        let mut at = self.starts.clone();
        self.members.clear();
        self.members.resize(count, 0);
        for (k, p) in members() {
            let cell = self.cell(p.x, p.y);
            self.members[at[cell] as usize] = k;
            at[cell] += 1;
        }
    }

    fn place(&self, k: usize, x: f64) -> usize {
        // A float that is too large, or no number because all points have one coordinate, lands in the first or last cell.
        (((x - self.low[k]) / self.step[k]) as usize).min(self.side - 1)
    }

    fn cell(&self, x: f64, y: f64) -> usize {
        self.place(1, y) * self.side + self.place(0, x)
    }

    /// The cells of a row that the triangle may touch. Half a cell more above and below and one to each side are for
    /// rounding. Without this a long thin triangle that lies askew would look at all its box.
    fn row_span(&self, corners: &[Coord<f64>; 3], row: usize) -> (usize, usize) {
        let at = |rows: f64| self.low[1] + rows * self.step[1];
        let (bottom, top) = (at(row as f64 - 0.5), at(row as f64 + 1.5));
        let (mut left, mut right) = (f64::INFINITY, f64::NEG_INFINITY);
        for (i, j) in [(0, 1), (1, 2), (2, 0)] {
            let (p, q) = if corners[i].y < corners[j].y { (corners[i], corners[j]) } else { (corners[j], corners[i]) };
            if q.y < bottom || p.y > top {
                continue;
            }
            let x_at = |y: f64| p.x + (q.x - p.x) * ((y - p.y) / (q.y - p.y));
            let ends = [if p.y < bottom { x_at(bottom) } else { p.x }, if q.y > top { x_at(top) } else { q.x }];
            left = left.min(ends[0]).min(ends[1]);
            right = right.max(ends[0]).max(ends[1]);
        }
        (self.place(0, left).saturating_sub(1), (self.place(0, right) + 1).min(self.side - 1))
    }

    /// Whether `good` holds for every member near the triangle. With the budget spent, it is taken to hold.
    fn all_near(&self, corners: &[Coord<f64>; 3], budget: &mut usize, good: impl Fn(u32) -> bool) -> bool {
        let y = corners.map(|c| c.y);
        let (bottom, top) = (y[0].min(y[1]).min(y[2]), y[0].max(y[1]).max(y[2]));
        for row in self.place(1, bottom)..=self.place(1, top) {
            let (left, right) = self.row_span(corners, row);
            let cells = row * self.side + left..row * self.side + right + 1;
            // A row's cells lie one after the other, so their members do too.
            let members = self.starts[cells.start] as usize..self.starts[cells.end] as usize;
            for &k in &self.members[members] {
                if *budget == 0 {
                    return true;
                }
                *budget -= 1;
                if !good(k) {
                    return false;
                }
            }
            *budget = budget.saturating_sub(8); // what finding a row's cells costs
        }
        true
    }
}

/// Area times direction, about the first corner so that far-out coordinates cancel before they are multiplied.
fn area_vector(ring: &[u32], positions: &[[f64; 3]]) -> [f64; 3] {
    let origin = positions[ring[0] as usize];
    let mut sum = [0.0; 3];
    for pair in ring[1..].windows(2) {
        let [a, b] = [0, 1].map(|k| minus(positions[pair[k] as usize], origin));
        for (k, s) in sum.iter_mut().enumerate() {
            let (i, j) = ((k + 1) % 3, (k + 2) % 3);
            *s += 0.5 * (a[i] * b[j] - a[j] * b[i]);
        }
    }
    sum
}

fn is_bent(ring: &[u32], positions: &[[f64; 3]], up: [f64; 3]) -> bool {
    let origin = positions[ring[0] as usize];
    let (mut low, mut high, mut width) = (0.0_f64, 0.0_f64, 0.0_f64);
    for &v in ring {
        let arm = minus(positions[v as usize], origin);
        let height = arm[0] * up[0] + arm[1] * up[1] + arm[2] * up[2];
        low = low.min(height);
        high = high.max(height);
        width = width.max(norm(arm));
    }
    high - low > BENT * width
}

fn minus(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn norm(v: [f64; 3]) -> f64 {
    (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]).sqrt()
}
