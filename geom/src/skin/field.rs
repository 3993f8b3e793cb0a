//! How deep a point lies in what the skin leaves: the depth that [`super::core_mesh`] looks for zeros of.

use nalgebra::Point3;

use super::{BLOCK, Coat, Face, Ground, Winding, turn};
use crate::distance::{Columns, Grid, Surface, V3, closest};

/// Depth at a point, positive in the rest, and the direction in which it grows.
#[derive(Clone, Copy, Debug)]
pub(super) struct Depth {
    pub(super) depth: f64,
    pub(super) slope: V3,
}

/// The rest: points on the skin's side of the surface, no nearer to any coated face than its thickness. For a finished
/// model that is the core, for a core all that lies outside the finished work.
pub(super) struct Field<'a> {
    pub(super) ground: &'a Ground<'a>,
    coat: &'a Coat<'a>,
    winding: Option<Winding<'a>>,
    /// Nodes are the centres of its cubes.
    pub(super) grid: Grid,
    columns: Columns,
    /// Halvings from the whole to a block of `BLOCK` steps.
    pub(super) levels: u32,
    /// The one thickness of all coated faces.
    one: Option<f64>,
    any_bare: bool,
}

impl<'a> Field<'a> {
    pub(super) fn new(ground: &'a Ground<'a>, coat: &'a Coat<'a>, winding: Option<Winding<'a>>, step: f64) -> Self {
        let (mut low, mut high) = (V3::repeat(f64::INFINITY), V3::repeat(f64::NEG_INFINITY));
        for p in ground.inside.positions() {
            low = low.inf(&p.coords);
            high = high.sup(&p.coords);
        }
        let margin = ground.thickest + 2.0 * step;
        low -= V3::new(0.317, 0.434, 0.273) * step + V3::repeat(margin);
        let blocks = ((high - low).add_scalar(margin).max() / (step * BLOCK as f64)).ceil().max(1.0) as usize;
        let levels = blocks.next_power_of_two().trailing_zeros();
        let grid = Grid { low, spacing: step, count: [(BLOCK << levels) + 1; 3] };
        let columns = Columns::of(ground.inside, &grid);
        let faces = 0..ground.surface.triangles.len();
        let one = faces.clone().all(|f| coat.on(f).is_none_or(|t| t == ground.thickest)).then_some(ground.thickest);
        let any_bare = faces.into_iter().any(|f| coat.on(f).is_none());
        Self { ground, coat, winding, grid, columns, levels, one, any_bare }
    }

    fn surface(&self) -> &Surface<'a> {
        &self.ground.surface
    }

    /// Unit normal of a triangle, towards the skin.
    fn normal(&self, corners: &[V3; 3]) -> V3 {
        let [a, b, c] = corners;
        let normal = (b - a).cross(&(c - a)).normalize();
        if self.coat.face == Face::Core { normal } else { -normal }
    }

    /// Distance to the surface, if it is at most `limit`.
    pub(super) fn distance(&self, p: &V3, limit: f64) -> Option<f64> {
        self.ground.tree.nearest(self.surface(), p, limit).map(|hit| hit.2)
    }

    /// The thickness that holds wherever the nearest triangle is within `reach`, with no bare face that near.
    pub(super) fn even(&self, p: &V3, reach: f64) -> Option<f64> {
        let one = self.one?;
        if !self.any_bare {
            return Some(one);
        }
        let mut bare = false;
        self.ground.tree.visit(self.surface(), p, reach, &mut |t, corners| {
            bare |= self.coat.on(t as usize).is_none() && (p - closest(p, &corners)).norm() <= reach;
            if bare { -1.0 } else { reach }
        });
        (!bare).then_some(one)
    }

    /// Whether a node is on the skin's side of the surface.
    pub(super) fn on_skin_side(&self, node: [usize; 3]) -> bool {
        let at = self.grid.centre(node);
        let winding = self
            .columns
            .winding(node[0], node[1], at.z)
            .or_else(|| self.winding.map(|w| w(Point3::from(turn().tr_mul(&at))).round() as i32));
        match winding {
            Some(winding) => (winding >= 1) == (self.coat.face == Face::Finished),
            None => self.seems_on_skin_side(&at),
        }
    }

    /// The same of any point, by the nearest face; of faces equally near, the one seen most squarely.
    fn seems_on_skin_side(&self, p: &V3) -> bool {
        let Some((_, _, d)) = self.ground.tree.nearest(self.surface(), p, f64::INFINITY) else { return false };
        let limit = d + 1e-9 * self.grid.spacing;
        let mut ahead = (0.0f64, u32::MAX);
        self.ground.tree.visit(self.surface(), p, limit, &mut |t, corners| {
            let away = p - closest(p, &corners);
            if away.norm() <= limit {
                let square = self.normal(&corners).dot(&away);
                if square.abs() > ahead.0.abs() || (square.abs() == ahead.0.abs() && t < ahead.1) {
                    ahead = (square, t);
                }
            }
            limit
        });
        ahead.0 >= 0.0
    }

    /// Depth at a point whose side is known. `limit` is a distance within which there is some triangle.
    pub(super) fn depth(&self, p: &V3, skin_side: bool, limit: f64) -> Depth {
        let tree = &self.ground.tree;
        let Some((tri, at, d)) =
            tree.nearest(self.surface(), p, limit).or_else(|| tree.nearest(self.surface(), p, f64::INFINITY))
        else {
            return Depth { depth: -1.0, slope: V3::zeros() };
        };
        let away = |at: &V3, d: f64, tri: u32| {
            if d > 0.0 { (p - at) / d } else { self.normal(&self.surface().corners(tri)) }
        };
        if !skin_side {
            // Past a coated face the depth goes on falling as it does in the coat.
            let coat = self.coat.on(tri as usize).unwrap_or(0.0);
            return Depth { depth: -d - coat, slope: -away(&at, d, tri) };
        }
        if let (Some(t), false) = (self.one, self.any_bare) {
            return Depth { depth: d - t, slope: away(&at, d, tri) };
        }
        let own = self.coat.on(tri as usize);
        let bare = Depth { depth: d, slope: away(&at, d, tri) };
        let coat = self.coat_at(p, d, own.is_some(), false).and_then(|best| {
            if self.ended(best.1, &best.2, p) { self.coat_at(p, d, own.is_some(), true) } else { Some(best) }
        });
        match coat {
            Some((depth, tri, at)) if depth < d => Depth { depth, slope: away(&at, (p - at).norm(), tri) },
            _ => bare,
        }
    }

    /// How deep the coated faces leave a point, and the face and point of it that say so. A coat reaches no farther back
    /// than the plane of its own face, unless that face is the nearest.
    fn coat_at(&self, p: &V3, d: f64, own: bool, cut: bool) -> Option<(f64, u32, V3)> {
        let thickest = self.ground.thickest;
        let tie = 1e-9 * self.grid.spacing;
        let mut best: Option<(f64, u32, V3)> = None;
        self.ground.tree.visit(self.surface(), p, d + thickest, &mut |t, corners| {
            if let Some(thick) = self.coat.on(t as usize) {
                let at = closest(p, &corners);
                let gap = (p - at).norm();
                let depth = gap - thick;
                let counts = || {
                    ((own && gap <= d + tie) || self.normal(&corners).dot(&(p - at)) >= -tie)
                        && !(cut && depth < 0.0 && self.ended(t, &at, p))
                };
                if depth < d && best.is_none_or(|(e, u, _)| depth < e || (depth == e && t < u)) && counts() {
                    best = Some((depth, t, at));
                }
            }
            (best.map_or(d, |b| b.0) + thickest) * (1.0 + 1e-12)
        });
        best
    }

    /// Whether a bare face at the foot of a coat cuts the coat square before it gets to `p`.
    fn ended(&self, coated: u32, at: &V3, p: &V3) -> bool {
        if !self.any_bare {
            return false;
        }
        let touch = 1e-6 * self.ground.thickest;
        let middle = self.surface().corners(coated).iter().sum::<V3>() / 3.0;
        let mut ended = false;
        self.ground.tree.visit(self.surface(), at, touch, &mut |t, corners| {
            if !ended && self.coat.on(t as usize).is_none() {
                let normal = self.normal(&corners);
                ended = normal.dot(&(p - at)) > touch
                    && normal.dot(&(middle - at)) < -touch
                    && (at - closest(at, &corners)).norm() < touch;
            }
            if ended { -1.0 } else { touch }
        });
        ended
    }

    /// Depth at a node.
    pub(super) fn at_node(&self, node: [usize; 3], limit: f64) -> Depth {
        self.depth(&self.grid.centre(node), self.on_skin_side(node), limit)
    }

    /// Whether the surface of the rest can pass through a cell of `side` steps with its low node at `low`.
    pub(super) fn may_pass(&self, low: [usize; 3], side: usize) -> Option<f64> {
        let half = self.grid.spacing * side as f64 / 2.0;
        let corner = half * 3f64.sqrt();
        let centre = self.grid.centre(low) + V3::repeat(half);
        let thickest = self.ground.thickest;
        let d = self.distance(&centre, thickest + corner * 1.000_001)?;
        if d > corner * 1.000_001 && !self.on_skin_side(low) {
            return None;
        }
        // Far within an even coat nothing is left, whatever the side.
        if d + corner * 1.000_001 < thickest && self.even(&centre, thickest + corner).is_some() {
            return None;
        }
        Some(d)
    }
}
