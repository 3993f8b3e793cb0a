//! How deep a point lies in what the skin leaves: the depth that [`super::core_mesh`] looks for zeros of.

use rayon::prelude::*;

use super::fence::fence;
use super::near::{FINEST, Hit, Patch, Source};
use super::{BLOCK, Coat, Face, Ground};
use crate::distance::{Columns, Disc, Grid, Node, V3, closest};
use crate::effort::Effort;

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
    pub(super) coat: &'a Coat<'a>,
    pub(super) effort: &'a Effort,
    /// Nodes are the centres of its cubes.
    pub(super) grid: Grid,
    columns: Columns,
    discs: Vec<Disc>,
    /// Halvings from the whole to a block of `BLOCK` steps.
    pub(super) levels: u32,
    /// The one thickness of all coated faces.
    one: Option<f64>,
}

impl<'a> Field<'a> {
    pub(super) fn new(ground: &'a Ground<'a>, coat: &'a Coat<'a>, step: f64, effort: &'a Effort) -> Self {
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
        let (columns, discs) = rayon::join(|| Columns::of(ground.inside, &grid), || ground.tree.discs(&ground.surface));
        let faces = 0..ground.surface.triangles.len();
        let one = faces.into_iter().all(|f| coat.on(f).is_none_or(|t| t == ground.thickest)).then_some(ground.thickest);
        Self { ground, coat, effort, grid, columns, discs, levels, one }
    }

    /// Unit normal of a triangle, towards the skin.
    pub(super) fn normal(&self, corners: &[V3; 3]) -> V3 {
        let [a, b, c] = corners;
        let normal = (b - a).cross(&(c - a)).normalize();
        if self.coat.face == Face::Core { normal } else { -normal }
    }

    /// The model's triangles as far as they have a say in the depth at points of cells that its zeros pass through.
    pub(super) fn source(&self) -> Source<'_> {
        self.within(self.ground.farthest)
    }

    /// The same for points as far from the surface as `depth`.
    pub(super) fn within(&self, depth: f64) -> Source<'_> {
        let Ground { ref tree, surface, .. } = *self.ground;
        Source { tree, surface, discs: &self.discs, reach: depth + 2.0 * self.grid.spacing, effort: self.effort }
    }

    /// Thickness of the coat at the foot of a point, nothing at a bare face.
    pub(super) fn coat_under(&self, hit: &Hit) -> f64 {
        self.coat_on(hit.triangle)
    }

    pub(super) fn coat_on(&self, triangle: u32) -> f64 {
        self.coat.on(triangle as usize).unwrap_or(0.0)
    }

    /// Whether a node is on the skin's side of the surface.
    pub(super) fn on_skin_side(&self, node: [usize; 3]) -> bool {
        let at = self.grid.centre(node);
        match self.columns.winding(node[0], node[1], at.z) {
            Some(winding) => (winding >= 1) == (self.coat.face == Face::Finished),
            None => self.seems_on_skin_side(&at),
        }
    }

    /// The same of any point, by the nearest face; of faces equally near, the one seen most squarely.
    fn seems_on_skin_side(&self, p: &V3) -> bool {
        let Ground { surface, tree, .. } = self.ground;
        let Some((_, _, d)) = tree.nearest(surface, p, f64::INFINITY) else { return false };
        let limit = d + 1e-9 * self.grid.spacing;
        let mut ahead = (0.0f64, u32::MAX);
        tree.visit(surface, p, limit, &mut |t, corners| {
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

    /// Too near to tell which way it is.
    fn touches(&self, hit: &Hit) -> bool {
        hit.distance < 1e-8 * self.grid.spacing
    }

    /// Which way a point is from its foot; towards the skin from one that it touches.
    fn away(&self, p: &V3, hit: &Hit) -> V3 {
        if self.touches(hit) {
            self.normal(&self.ground.surface.corners(hit.triangle))
        } else {
            (p - hit.at) / hit.distance
        }
    }

    /// Whether a point is in front of the face that it has its foot on.
    pub(super) fn in_front(&self, p: &V3, foot: &Hit) -> bool {
        let square = self.normal(&self.ground.surface.corners(foot.triangle)).dot(&(p - foot.at));
        square >= -1e-9 * self.grid.spacing
    }

    /// Depth at any point of the skin's side, and its foot; none where no face is in reach and all is deep.
    pub(super) fn look(&self, p: &V3) -> Option<(f64, Hit)> {
        let source = self.source();
        let nodes: Vec<Node> = source.tree.root().into_iter().collect();
        let nodes = source.tree.near(&source.surface, &nodes, p, 0.0, source.reach, source.effort);
        let mut local = Local::new(self, Patch::new(&source, &nodes, (*p, 0.0)));
        let foot = local.patch.nearest(0, p)?;
        Some((local.depth_at(0, p, true, &foot).depth, foot))
    }

    /// All blocks that the first surface is in reach of, in parallel: `each` is given the low node of the block and what of the
    /// trees is in reach. Answers come in the order of the halving.
    pub(super) fn sweep<const N: usize, T: Send>(
        &self,
        sources: &[Source<'_>; N],
        each: &(impl Fn([usize; 3], [Vec<Node>; N]) -> Option<T> + Sync),
    ) -> Vec<T> {
        let roots = sources.each_ref().map(|source| source.tree.root().into_iter().collect());
        self.halve([0; 3], BLOCK << self.levels, sources, &roots, each)
    }

    fn halve<const N: usize, T: Send>(
        &self,
        low: [usize; 3],
        side: usize,
        sources: &[Source<'_>; N],
        from: &[Vec<Node>; N],
        each: &(impl Fn([usize; 3], [Vec<Node>; N]) -> Option<T> + Sync),
    ) -> Vec<T> {
        if self.effort.is_spent() {
            return Vec::new();
        }
        let (centre, half) = self.middle(low, side);
        let nodes: [Vec<Node>; N] = std::array::from_fn(|k| {
            sources[k].tree.near(&sources[k].surface, &from[k], &centre, half, sources[k].reach, self.effort)
        });
        if nodes[0].is_empty() {
            return Vec::new();
        }
        if side == BLOCK {
            return each(low, nodes).into_iter().collect();
        }
        let child = |c: usize| {
            let low = std::array::from_fn(|k| low[k] + (c >> k & 1) * side / 2);
            self.halve(low, side / 2, sources, &nodes, each)
        };
        let parts: Vec<Vec<T>> =
            if side > 2 * BLOCK { (0..8).into_par_iter().map(child).collect() } else { (0..8).map(child).collect() };
        parts.into_iter().flatten().collect()
    }

    /// Centre and half side of a cell with its low node at `low`.
    pub(super) fn middle(&self, low: [usize; 3], side: usize) -> (V3, f64) {
        let middle = self.grid.centre(low.map(|i| i + side / 2));
        (middle, self.grid.spacing * side as f64 / 2.0)
    }
}

/// The field in one block. Levels are those of [`Patch`].
pub(super) struct Local<'f, 'a> {
    pub(super) field: &'f Field<'a>,
    pub(super) patch: Patch<'f>,
    /// The one thickness on every triangle in reach.
    pub(super) even: Option<f64>,
    /// The finest list holds all that has a say within so far of a point.
    kept: (V3, f64),
}

impl<'f, 'a> Local<'f, 'a> {
    pub(super) fn new(field: &'f Field<'a>, patch: Patch<'f>) -> Self {
        let even = if field.ground.any_bare || field.one.is_none() {
            let mut coats = patch.triangles().map(|t| field.coat.on(t as usize));
            coats.next().flatten().filter(|first| coats.all(|coat| coat == Some(*first)))
        } else {
            field.one
        };
        Self { field, patch, even, kept: (V3::zeros(), -1.0) }
    }

    /// Keeps for the next level what has a say within `spread` of `p`, the point last asked about.
    pub(super) fn keep(&mut self, level: usize, p: &V3, hit: &Hit, spread: f64) {
        if level + 1 == FINEST {
            self.kept = (*p, spread);
        }
        if self.even.is_some() {
            self.patch.keep_nearest(level, p, hit, spread);
        } else {
            // A coat may reach over a nearer bare face.
            self.patch.keep(level, (hit.distance + 2.0 * spread).max(self.field.source().reach + spread));
        }
    }

    /// Depth at any point of the block or near it, by its own side.
    pub(super) fn sound(&mut self, p: &V3) -> Depth {
        let level = if (p - self.kept.0).norm() <= self.kept.1 { FINEST } else { 0 };
        match self.patch.nearest(level, p) {
            Some(hit) => {
                let skin_side = self.on_skin_side(level, p, &hit);
                self.depth_at(level, p, skin_side, &hit)
            }
            None => Depth { depth: -1.0, slope: V3::zeros() },
        }
    }

    /// By the nearest face; of faces equally near, the one seen most squarely.
    fn on_skin_side(&mut self, level: usize, p: &V3, hit: &Hit) -> bool {
        let field = self.field;
        let seen = |t: u32, corners: &[V3; 3]| {
            let away = p - closest(p, corners);
            (field.normal(corners).dot(&away), away.norm(), t)
        };
        let first = seen(hit.triangle, &field.ground.surface.corners(hit.triangle));
        if first.0.abs() > (1.0 - 1e-9) * first.1 {
            return first.0 >= 0.0;
        }
        let limit = hit.distance + 1e-9 * field.grid.spacing;
        let mut ahead = first;
        self.patch.visit(level, p, limit, |_, t, corners| {
            let one = seen(t, corners);
            let square = one.0.abs().total_cmp(&ahead.0.abs());
            if one.1 <= limit && (square.is_gt() || (square.is_eq() && t < ahead.2)) {
                ahead = one;
            }
            limit
        });
        ahead.0 >= 0.0
    }

    /// Depth at a point whose side is known, by the candidates of a level.
    pub(super) fn depth(&mut self, level: usize, p: &V3, skin_side: bool) -> Depth {
        match self.patch.nearest(level, p) {
            Some(hit) => self.depth_at(level, p, skin_side, &hit),
            None => Depth { depth: -1.0, slope: V3::zeros() },
        }
    }

    /// The same when the nearest point is known.
    pub(super) fn depth_at(&mut self, level: usize, p: &V3, skin_side: bool, hit: &Hit) -> Depth {
        let field = self.field;
        let d = hit.distance;
        let away = |hit: &Hit| field.away(p, hit);
        if !skin_side {
            // Past a coated face the depth goes on falling as it does in the coat.
            let (depth, hit) = self.shallowest(level, p, hit);
            return Depth { depth: -depth, slope: if self.field.touches(&hit) { away(&hit) } else { -away(&hit) } };
        }
        if let Some(t) = self.even {
            return Depth { depth: d - t, slope: away(hit) };
        }
        let bare = Depth { depth: d, slope: away(hit) };
        let own = field.coat.on(hit.triangle as usize).is_some();
        let Some((depth, coat)) = self.coat_at(level, p, d, own) else { return bare };
        if depth > 2.0 * field.grid.spacing || self.fence(level, &coat, p).is_none() {
            return Depth { depth, slope: away(&coat) };
        }
        self.fenced_coat(level, p, d, own).unwrap_or(bare)
    }

    /// From the other side: the way out through the nearest face and its coat.
    fn shallowest(&mut self, level: usize, p: &V3, hit: &Hit) -> (f64, Hit) {
        let field = self.field;
        let mut best = (hit.distance + field.coat_under(hit), *hit);
        if self.even.is_none() && best.0 > hit.distance {
            self.patch.visit(level, p, best.0, |_, t, corners| {
                let at = closest(p, corners);
                let hit = Hit { triangle: t, at, distance: (p - at).norm() };
                let depth = hit.distance + field.coat_on(t);
                if depth < best.0 || (depth == best.0 && t < best.1.triangle) {
                    best = (depth, hit);
                }
                best.0 * (1.0 + 1e-12)
            });
        }
        best
    }

    /// How deep the coated faces leave a point, if not deeper than `d`, and the face and point of it that say so. A coat
    /// reaches no farther back than the plane of its own face, unless that face is the nearest.
    fn coat_at(&mut self, level: usize, p: &V3, d: f64, own: bool) -> Option<(f64, Hit)> {
        let mut best: Option<(f64, Hit)> = None;
        self.coats(level, p, d, own, |_, hit, depth| {
            if best.is_none_or(|(e, b)| depth < e || (depth == e && hit.triangle < b.triangle)) {
                best = Some((depth, hit));
            }
            best.map_or(d, |b| b.0)
        });
        best
    }

    /// The same, each coat cut where it ends at a bare face.
    fn fenced_coat(&mut self, level: usize, p: &V3, d: f64, own: bool) -> Option<Depth> {
        let field = self.field;
        let mut best: Option<(f64, u32, V3)> = None;
        self.coats(level, p, d, own, |patch, hit, depth| {
            // Where another face of the same coat is nearer, that one says where the coat ends.
            let (tie, touch) = (1e-9 * field.grid.spacing, 1e-6 * field.ground.thickest);
            let mut nearer = false;
            patch.visit(level, &hit.at, touch, |_, t, corners| {
                nearer |= field.coat.on(t as usize).is_some()
                    && (p - closest(p, corners)).norm() < hit.distance - tie
                    && (hit.at - closest(&hit.at, corners)).norm() < touch;
                if nearer { -1.0 } else { touch }
            });
            if nearer {
                return best.map_or(d, |b| b.0);
            }
            let (mut depth, mut slope) = (depth, field.away(p, &hit));
            if let Some((front, normal)) = fence(field, patch, level, &hit, p) {
                (depth, slope) = (front, normal);
            }
            if depth < d && best.is_none_or(|(e, t, _)| depth < e || (depth == e && hit.triangle < t)) {
                best = Some((depth, hit.triangle, slope));
            }
            best.map_or(d, |b| b.0)
        });
        best.map(|(depth, _, slope)| Depth { depth, slope })
    }

    /// Coats that leave a point less deep than a limit, which is `d` first and then what `each` gives.
    fn coats(
        &mut self,
        level: usize,
        p: &V3,
        d: f64,
        own: bool,
        mut each: impl FnMut(&mut Patch<'f>, Hit, f64) -> f64,
    ) {
        let field = self.field;
        let (thickest, tie) = (field.ground.thickest, 1e-9 * field.grid.spacing);
        let mut limit = d;
        self.patch.visit(level, p, d + thickest, |patch, t, corners| {
            if let Some(thick) = field.coat.on(t as usize) {
                let at = closest(p, corners);
                let hit = Hit { triangle: t, at, distance: (p - at).norm() };
                let depth = hit.distance - thick;
                if depth < d
                    && depth <= limit
                    && ((own && hit.distance <= d + tie) || field.normal(corners).dot(&(p - at)) >= -tie)
                {
                    limit = each(patch, hit, depth);
                }
            }
            (limit + thickest) * (1.0 + 1e-12)
        });
    }

    fn fence(&mut self, level: usize, coat: &Hit, p: &V3) -> Option<(f64, V3)> {
        fence(self.field, &mut self.patch, level, coat, p)
    }
}
