//! How deep a point lies in what the skin leaves: the depth that [`super::core_mesh`] looks for zeros of.

use nalgebra::Point3;
use rayon::prelude::*;

use super::near::{Hit, Patch, Source};
use super::{BLOCK, Coat, Face, Ground, Winding, turn};
use crate::distance::{Columns, Disc, Grid, Node, V3, closest};

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
    discs: Vec<Disc>,
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
        let (columns, discs) = rayon::join(|| Columns::of(ground.inside, &grid), || ground.tree.discs(&ground.surface));
        let faces = 0..ground.surface.triangles.len();
        let one = faces.clone().all(|f| coat.on(f).is_none_or(|t| t == ground.thickest)).then_some(ground.thickest);
        let any_bare = faces.into_iter().any(|f| coat.on(f).is_none());
        Self { ground, coat, winding, grid, columns, discs, levels, one, any_bare }
    }

    /// Unit normal of a triangle, towards the skin.
    fn normal(&self, corners: &[V3; 3]) -> V3 {
        let [a, b, c] = corners;
        let normal = (b - a).cross(&(c - a)).normalize();
        if self.coat.face == Face::Core { normal } else { -normal }
    }

    /// The model's triangles as far as they have a say in the depth at points of cells that its zeros pass through.
    pub(super) fn source(&self) -> Source<'_> {
        self.within(self.ground.thickest)
    }

    /// The same for points as far from the surface as `depth`.
    pub(super) fn within(&self, depth: f64) -> Source<'_> {
        let Ground { ref tree, surface, .. } = *self.ground;
        Source { tree, surface, discs: &self.discs, reach: depth + 2.0 * self.grid.spacing }
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

    /// Whether a point is in front of the face that it has its foot on.
    pub(super) fn in_front(&self, p: &V3, foot: &Hit) -> bool {
        let square = self.normal(&self.ground.surface.corners(foot.triangle)).dot(&(p - foot.at));
        square >= -1e-9 * self.grid.spacing
    }

    /// Depth at any point of the skin's side, and its foot; none where no face is in reach and all is deep.
    pub(super) fn look(&self, p: &V3) -> Option<(f64, Hit)> {
        let source = self.source();
        let nodes: Vec<Node> = source.tree.root().into_iter().collect();
        let nodes = source.tree.near(&nodes, p, 0.0, source.reach);
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
        let (centre, half) = self.middle(low, side);
        let nodes: [Vec<Node>; N] =
            std::array::from_fn(|k| sources[k].tree.near(&from[k], &centre, half, sources[k].reach));
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
}

impl<'f, 'a> Local<'f, 'a> {
    pub(super) fn new(field: &'f Field<'a>, patch: Patch<'f>) -> Self {
        let even = if field.any_bare || field.one.is_none() {
            let mut coats = patch.triangles().map(|t| field.coat.on(t as usize));
            coats.next().flatten().filter(|first| coats.all(|coat| coat == Some(*first)))
        } else {
            field.one
        };
        Self { field, patch, even }
    }

    /// Keeps for the next level what has a say within `spread` of `p`, the point last asked about.
    pub(super) fn keep(&mut self, level: usize, p: &V3, hit: &Hit, spread: f64) {
        if self.even.is_some() {
            self.patch.keep_nearest(level, p, hit, spread);
        } else {
            // A coat may reach over a nearer bare face.
            self.patch.keep(level, (hit.distance + 2.0 * spread).max(self.field.source().reach + spread));
        }
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
        let away = |hit: &Hit| {
            if hit.distance > 0.0 {
                (p - hit.at) / hit.distance
            } else {
                field.normal(&field.ground.surface.corners(hit.triangle))
            }
        };
        if !skin_side {
            // Past a coated face the depth goes on falling as it does in the coat.
            return Depth { depth: -d - field.coat_under(hit), slope: -away(hit) };
        }
        if let Some(t) = self.even {
            return Depth { depth: d - t, slope: away(hit) };
        }
        let own = field.coat.on(hit.triangle as usize).is_some();
        let coat = self.coat_at(level, p, d, own, false).and_then(|best| {
            if self.ended(level, &best.1, p) { self.coat_at(level, p, d, own, true) } else { Some(best) }
        });
        match coat {
            Some((depth, coat)) if depth < d => Depth { depth, slope: away(&coat) },
            _ => Depth { depth: d, slope: away(hit) },
        }
    }

    /// How deep the coated faces leave a point, and the face and point of it that say so. A coat reaches no farther back
    /// than the plane of its own face, unless that face is the nearest.
    fn coat_at(&mut self, level: usize, p: &V3, d: f64, own: bool, cut: bool) -> Option<(f64, Hit)> {
        let field = self.field;
        let (thickest, tie) = (field.ground.thickest, 1e-9 * field.grid.spacing);
        let mut best: Option<(f64, Hit)> = None;
        self.patch.visit(level, p, d + thickest, |patch, t, corners| {
            if let Some(thick) = field.coat.on(t as usize) {
                let at = closest(p, corners);
                let hit = Hit { triangle: t, at, distance: (p - at).norm() };
                let depth = hit.distance - thick;
                let better = best.is_none_or(|(e, b)| depth < e || (depth == e && t < b.triangle));
                if depth < d
                    && better
                    && ((own && hit.distance <= d + tie) || field.normal(corners).dot(&(p - at)) >= -tie)
                    && !(cut && depth < 0.0 && ended(field, patch, level, &hit, p))
                {
                    best = Some((depth, hit));
                }
            }
            (best.map_or(d, |b| b.0) + thickest) * (1.0 + 1e-12)
        });
        best
    }

    fn ended(&mut self, level: usize, coat: &Hit, p: &V3) -> bool {
        ended(self.field, &mut self.patch, level, coat, p)
    }
}

/// Whether a bare face at the foot of a coat cuts the coat square before it gets to `p`.
fn ended(field: &Field<'_>, patch: &mut Patch<'_>, level: usize, coat: &Hit, p: &V3) -> bool {
    if !field.any_bare {
        return false;
    }
    let touch = 1e-6 * field.ground.thickest;
    let at = coat.at;
    let middle = field.ground.surface.corners(coat.triangle).iter().sum::<V3>() / 3.0;
    let mut ended = false;
    patch.visit(level, &at, touch, |_, t, corners| {
        if !ended && field.coat.on(t as usize).is_none() {
            let normal = field.normal(corners);
            ended = normal.dot(&(p - at)) > touch
                && normal.dot(&(middle - at)) < -touch
                && (at - closest(&at, corners)).norm() < touch;
        }
        if ended { -1.0 } else { touch }
    });
    ended
}
