//! Mix that crevices swallow: the outside that no ball of the skin's thickness gets into.
//!
//! A point is swallowed when the middle of no clear ball (one that no face gets into) lies within the thickness of it. The
//! nearest middle is sought by the faces in its way: the nearest point that is clear of the faces known so far is found
//! exactly; if it is too far away the point is swallowed, if it is clear of all faces the point is not, else the face in
//! its way is one more to know.

use super::field::{Field, Local};
use super::near::{FINEST, HALF_DIAGONAL, Hit, Patch, level_of};
use super::{BLOCK, Coat, Face, Ground, turned};
use crate::distance::V3;
use crate::effort::Effort;
use crate::mesh::Mesh;
use crate::units::{Length, Volume};
use serde::{Deserialize, Serialize};

/// Mix that crevices swallow.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Crevices {
    /// The outside that no ball of the skin's thickness gets into: the closing by the thickness, less the solid.
    pub volume: Volume,
    /// The volume is known to within this.
    pub bound: Volume,
}

/// How much mix crevices swallow under a skin of one thickness: the closing of the solid by it, less the solid. Counted by
/// the nodes of a grid, each decided exactly; the bound is twice the scatter of such a count.
///
/// Cost: a few looks at a block's triangles for each node in the skin. Where `effort` is spent the answer is not whole.
#[must_use]
pub fn crevices(inside: &Mesh, surface: &Mesh, thickness: Length, grid: Length, effort: &Effort) -> Crevices {
    let (solid, bounds) = (turned(inside), turned(surface));
    let coat = Coat::everywhere(Face::Core, thickness);
    let ground = Ground::of(&solid, &bounds, &coat);
    if ground.thickest == 0.0 {
        return Crevices::default();
    }
    let field = Field::new(&ground, &coat, grid.metres(), effort);
    let source = field.within(2.0 * ground.thickest);
    let counts = field.sweep(&[source], &|low, [nodes]| {
        let local = Local::new(&field, Patch::new(&source, &nodes, field.middle(low, BLOCK)));
        let mut count = Count { local, low, swallowed: 0, open: 0 };
        count.halve([0; 3], BLOCK, None);
        Some([count.swallowed, count.open])
    });
    let [swallowed, open] = counts.iter().fold([0; 2], |sum, some| [sum[0] + some[0], sum[1] + some[1]]).map(f64::from);
    let (count, cell) = (swallowed + open / 2.0, grid.metres().powi(3));
    Crevices {
        volume: Volume::from_cubic_metres(count * cell),
        bound: Volume::from_cubic_metres((open / 2.0 + 2.0 * count.sqrt()) * cell),
    }
}

struct Count<'f, 'a> {
    local: Local<'f, 'a>,
    low: [usize; 3],
    swallowed: u32,
    /// Nodes not decided.
    open: u32,
}

/// Faces in the way that are looked at for one node.
const FEET: usize = 24;
/// Steps of work for what two feet and one more offer, by trial.
const OFFER_WORK: u64 = 60;
/// Of the thickness: a ball is clear if nothing gets farther into it.
const CLEAR: f64 = 1e-3;

impl Count<'_, '_> {
    /// Of a cell of `side` nodes a side.
    fn halve(&mut self, at: [usize; 3], side: usize, skin_side: Option<bool>) {
        let field = self.local.field;
        let low = std::array::from_fn(|k| self.low[k] + at[k]);
        let half = field.grid.spacing * (side - 1) as f64 / 2.0;
        let centre = field.grid.centre(low) + V3::repeat(half);
        let corner = 2.0 * HALF_DIAGONAL * half;
        let level = level_of(side);
        let Some(hit) = self.local.patch.nearest(level, &centre) else { return };
        if hit.distance >= field.ground.thickest + corner {
            return;
        }
        let skin_side = skin_side.or_else(|| (hit.distance > corner).then(|| field.on_skin_side(low)));
        if skin_side == Some(false) {
            return;
        }
        if side == 1 {
            if skin_side.unwrap_or_else(|| field.on_skin_side(low)) {
                match self.swallowed(&centre, &hit) {
                    Some(true) => self.swallowed += 1,
                    Some(false) => {}
                    None => self.open += 1,
                }
            }
            return;
        }
        if level < FINEST {
            self.local.keep(level, &centre, &hit, corner);
        }
        for c in 0..8 {
            self.halve(std::array::from_fn(|k| at[k] + (c >> k & 1) * side / 2), side / 2, skin_side);
        }
    }

    /// Whether no clear ball reaches a point; `None` when too many faces are in the way.
    fn swallowed(&mut self, p: &V3, foot: &Hit) -> Option<bool> {
        let t = self.local.field.ground.thickest;
        let mut middles = Middles { p: *p, t, feet: Vec::new(), found: Vec::new() };
        middles.add(foot.at);
        while middles.feet.len() < FEET {
            let Some(middle) = middles.nearest() else { return Some(true) };
            match self.local.patch.nearest(0, &middle) {
                Some(hit) if hit.distance < t * (1.0 - CLEAR) => middles.add(hit.at),
                _ => return Some(false),
            }
            self.local.patch.spend(OFFER_WORK * (middles.feet.len() as u64).pow(2));
        }
        None
    }
}

/// Points at `t` or more from all `feet` and within `t` of `p`: of those the nearest to `p` touches the ball about one foot,
/// two or three.
struct Middles {
    p: V3,
    t: f64,
    feet: Vec<V3>,
    found: Vec<V3>,
}

impl Middles {
    fn nearest(&self) -> Option<V3> {
        let gap = |x: &&V3| (*x - self.p).norm_squared();
        self.found.iter().min_by(|a, b| gap(a).total_cmp(&gap(b))).copied()
    }

    fn add(&mut self, foot: V3) {
        let (p, t) = (self.p, self.t);
        let is_clear = |x: &V3, foot: &V3| (x - foot).norm_squared() >= t * t * (1.0 - 1e-9);
        self.found.retain(|x| is_clear(x, &foot));
        let mut offers = Vec::new();
        offers.extend((p - foot).try_normalize(0.0).map(|away| foot + away * t));
        for (i, a) in self.feet.iter().enumerate() {
            // The circle in which the two balls meet.
            let (middle, axis) = ((a + foot) / 2.0, foot - a);
            let Some(unit) = axis.try_normalize(1e-9 * t) else { continue };
            let square = t * t - axis.norm_squared() / 4.0;
            if square <= 0.0 {
                continue;
            }
            let flat = |v: V3| v - unit * unit.dot(&v);
            offers.extend(flat(p - middle).try_normalize(0.0).map(|away| middle + away * square.sqrt()));
            for b in &self.feet[..i] {
                // Of the circle what is at `t` from the third.
                let from = b - middle;
                let across = flat(from);
                let Some(toward) = across.try_normalize(1e-9 * t) else { continue };
                let share = (square + from.norm_squared() - t * t) / (2.0 * across.norm());
                let rest = square - share * share;
                if rest >= 0.0 {
                    let side = unit.cross(&toward) * rest.sqrt();
                    offers.extend([middle + toward * share + side, middle + toward * share - side]);
                }
            }
        }
        self.feet.push(foot);
        offers.retain(|x| (x - p).norm_squared() <= t * t && self.feet.iter().all(|foot| is_clear(x, foot)));
        self.found.extend(offers);
    }
}
