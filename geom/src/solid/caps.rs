//! Closing: where the directed edges of a set of triangles do not cancel, triangles are added until they do, so that a
//! count of signed crossings is a whole number everywhere.

use super::tree::{Aabb, Tree};
use crate::bodies::Forest;
use crate::mesh::Mesh;
use crate::numeric::scramble;
use crate::topology::{Across, Topology};
use earcut::Earcut;
use nalgebra::{Point3, Vector3};
use std::collections::HashMap;

/// A closed run of edges that the surface leaves open, in the direction in which a cap runs around it.
#[derive(Clone, Debug)]
pub(super) struct Loop {
    pub(super) vertices: Vec<u32>,
    /// The triangles on the rim, one an edge.
    pub(super) faces: Vec<u32>,
    /// All its edges have one triangle: a hole. Otherwise it mends a doubled or turned triangle.
    pub(super) hole: bool,
}

impl Loop {
    /// A triangle on the rim.
    pub(super) fn face(&self) -> u32 {
        self.faces[0]
    }
}

/// Directed edges of the rim that want a partner.
struct Want {
    from: u32,
    to: u32,
    face: u32,
    hole: bool,
}

/// Runs of edges that do not cancel, in a fixed order. Linear but for a sort of the edges found.
pub(super) fn loops(mesh: &Mesh, topology: &Topology, many: &[Vec<u32>]) -> Vec<Loop> {
    let ends = |half: u32| {
        let (t, side) = (&mesh.triangles()[half as usize / 3], half as usize % 3);
        (t[side], t[(side + 1) % 3])
    };
    let mut wants = Vec::new();
    let mut want = |half: u32, times: usize, hole: bool| {
        let (from, to) = ends(half);
        wants.extend((0..times).map(|_| Want { from: to, to: from, face: half / 3, hole }));
    };
    for face in 0..mesh.triangles().len() {
        for side in 0..3 {
            let half = (face * 3 + side) as u32;
            match topology.across(face, side) {
                Across::Open => want(half, 1, true),
                Across::Face { face: other, consistent: false, .. } if (other as usize) > face => want(half, 2, false),
                _ => {}
            }
        }
    }
    for edge in many {
        let low = |half: u32| ends(half).0 < ends(half).1;
        let ahead = edge.iter().filter(|&&h| low(h)).count();
        let behind = edge.len() - ahead;
        if let Some(&half) = edge.iter().find(|&&h| low(h) == (ahead > behind)) {
            want(half, ahead.abs_diff(behind), false);
        }
    }
    wants.sort_by_key(|w| (w.from, w.to, w.face));
    let starts: HashMap<u32, usize> = wants.iter().enumerate().rev().map(|(k, w)| (w.from, k)).collect();
    let mut next = starts;
    let mut used = vec![false; wants.len()];
    let mut loops = Vec::new();
    for start in 0..wants.len() {
        if used[start] {
            continue;
        }
        // Walk on; whenever the walk meets itself, what lies between is a loop of its own.
        let mut walk: Vec<usize> = Vec::new();
        let mut place: HashMap<u32, usize> = HashMap::new();
        let mut at = wants[start].from;
        loop {
            if let Some(begin) = place.get(&at).copied() {
                let run = walk.split_off(begin);
                run.iter().for_each(|&k| {
                    place.remove(&wants[k].from);
                });
                loops.push(Loop {
                    vertices: run.iter().map(|&k| wants[k].from).collect(),
                    faces: run.iter().map(|&k| wants[k].face).collect(),
                    hole: run.iter().all(|&k| wants[k].hole),
                });
            }
            // In and out edges balance at every vertex, so a walk ends only where it began.
            let Some(k) = next.get(&at).copied().filter(|&k| k < wants.len() && wants[k].from == at) else { break };
            next.insert(at, k + 1);
            used[k] = true;
            place.insert(at, walk.len());
            walk.push(k);
            at = wants[k].to;
        }
    }
    loops
}

/// What a loop looks like.
#[derive(Clone, Copy, Debug)]
pub(super) struct Form {
    pub(super) length: f64,
    /// Area vector of any cap.
    pub(super) area: Vector3<f64>,
    pub(super) centre: Point3<f64>,
    /// Largest distance from the plane through the centre.
    pub(super) bent: f64,
}

impl Form {
    pub(super) fn of(points: &[Point3<f64>]) -> Self {
        let n = points.len();
        let origin = points[0];
        let edges = (0..n).map(|k| (points[k] - origin, points[(k + 1) % n] - origin));
        let (mut length, mut area, mut middle) = (0.0, Vector3::zeros(), Vector3::zeros());
        for (a, b) in edges {
            let l = (b - a).norm();
            length += l;
            area += a.cross(&b) * 0.5;
            middle += (a + b) * (0.5 * l);
        }
        let centre = origin + if length > 0.0 { middle / length } else { middle };
        let normal = area.try_normalize(0.0).unwrap_or_else(Vector3::zeros);
        let bent = points.iter().map(|p| (p - centre).dot(&normal).abs()).fold(0.0, f64::max);
        Self { length, area, centre, bent }
    }

    /// Flat to 2 % of its length.
    pub(super) fn flat(&self) -> bool {
        self.bent <= 0.02 * self.length
    }
}

/// Loops of one opening: the first is the outline, the others are islands in it (a pipe's end has one).
pub(super) type Opening = Vec<usize>;

/// Puts islands into the outlines they lie in, in the same plane. Bent loops, and those not to `nest`, stay alone.
pub(super) fn openings(points: &[Vec<Point3<f64>>], forms: &[Form], nest: &[bool]) -> Vec<Opening> {
    let mut order: Vec<usize> = (0..points.len()).collect();
    order.sort_by(|&a, &b| forms[b].area.norm().total_cmp(&forms[a].area.norm()).then(a.cmp(&b)));
    let flat: Vec<u32> = (0..points.len() as u32).filter(|&k| nest[k as usize] && forms[k as usize].flat()).collect();
    let bounds = |k: u32| Aabb::around(&points[k as usize]).grown(0.01 * forms[k as usize].length);
    let tree = Tree::over(&flat, bounds);
    let mut openings: Vec<Opening> = Vec::new();
    // The opening that a loop is the outline of.
    let mut outline_of: Vec<Option<usize>> = vec![None; points.len()];
    for k in order {
        let mut home: Option<usize> = None;
        if nest[k] && forms[k].flat() {
            let here = Aabb::around(&points[k][..1]);
            tree.visit(
                |b| b.meets(&here),
                |outer| {
                    let Some(o) = outline_of[outer as usize] else { return };
                    let (outer, inner) = (outer as usize, &forms[k]);
                    let normal = forms[outer].area.normalize();
                    let near = 0.005 * forms[outer].length + forms[outer].bent;
                    // Later openings are smaller: the innermost outline is the one.
                    if home.is_none_or(|h| h < o)
                        && inner.area.normalize().dot(&normal) < -0.99
                        && (inner.centre - forms[outer].centre).dot(&normal).abs() <= near
                        && inside(&points[outer], normal, points[k][0])
                    {
                        home = Some(o);
                    }
                },
            );
        }
        match home {
            Some(o) => openings[o].push(k),
            None => {
                outline_of[k] = Some(openings.len());
                openings.push(vec![k]);
            }
        }
    }
    openings
}

fn inside(outline: &[Point3<f64>], normal: Vector3<f64>, point: Point3<f64>) -> bool {
    let (u, v) = plane_axes(normal);
    let flat: Vec<[f64; 2]> = outline.iter().map(|p| [(p - point).dot(&u), (p - point).dot(&v)]).collect();
    let mut odd = false;
    for (k, a) in flat.iter().enumerate() {
        let b = flat[(k + 1) % flat.len()];
        if (a[1] > 0.0) != (b[1] > 0.0) && a[0] + (b[0] - a[0]) * a[1] / (a[1] - b[1]) > 0.0 {
            odd = !odd;
        }
    }
    odd
}

/// Two unit vectors that make a right-handed frame with `normal`.
pub(super) fn plane_axes(normal: Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
    let away = if normal.x.abs() < 0.6 { Vector3::x() } else { Vector3::y() };
    let u = normal.cross(&away).normalize();
    (u, normal.cross(&u))
}

/// Triangles that close an opening. Their edges always cancel those of the loops, even where the loops cross themselves.
pub(super) fn triangulate(rings: &[&[u32]], points: &[&[Point3<f64>]], normal: Vector3<f64>) -> Vec<[u32; 3]> {
    let fans = || {
        let fan = |r: &&[u32]| (1..r.len().max(2) - 1).map(|k| [r[0], r[k], r[k + 1]]).collect::<Vec<_>>();
        rings.iter().flat_map(fan).collect::<Vec<_>>()
    };
    if rings.len() == 1 && rings[0].len() == 3 || normal == Vector3::zeros() {
        return fans();
    }
    let (u, v) = plane_axes(normal.normalize());
    let origin = points[0][0];
    let flat = points.iter().flat_map(|r| r.iter()).map(|p| [(p - origin).dot(&u), (p - origin).dot(&v)]);
    let mut holes: Vec<u32> = Vec::new();
    let mut count = 0;
    for r in rings {
        if count > 0 {
            holes.push(count);
        }
        count += r.len() as u32;
    }
    let mut cut: Vec<u32> = Vec::new();
    Earcut::new().earcut(flat, &holes, &mut cut);
    let vertex: Vec<u32> = rings.iter().flat_map(|r| r.iter().copied()).collect();
    let mut triangles: Vec<[u32; 3]> =
        cut.chunks_exact(3).map(|t| [t[0], t[1], t[2]].map(|k| vertex[k as usize])).collect();
    let mut out = Vec::new();
    for turn in [false, true] {
        if turn {
            triangles.iter_mut().for_each(|t| t.swap(1, 2));
        }
        if closes(rings, &triangles) {
            out = std::mem::take(&mut triangles);
            break;
        }
    }
    if out.is_empty() { fans() } else { out }
}

/// The directed edges of the triangles are those of the rings and nothing else.
fn closes(rings: &[&[u32]], triangles: &[[u32; 3]]) -> bool {
    let mut sum: HashMap<(u32, u32), i32> = HashMap::new();
    let mut add = |a: u32, b: u32, s: i32| *sum.entry((a.min(b), a.max(b))).or_insert(0) += if a < b { s } else { -s };
    triangles.iter().for_each(|t| (0..3).for_each(|k| add(t[k], t[(k + 1) % 3], 1)));
    rings.iter().for_each(|r| (0..r.len()).for_each(|k| add(r[k], r[(k + 1) % r.len()], -1)));
    sum.values().all(|&s| s == 0)
}

/// Pieces: the closed surfaces that a mesh is made of. Like bodies, but where surfaces only share edges (stacked named
/// blocks, exact copies) each stays whole by itself as far as part names and doubled triangles tell them apart.
pub(super) fn pieces(mesh: &Mesh, topology: &Topology, many: &[Vec<u32>]) -> (Vec<u32>, Vec<Doubt>) {
    let n = mesh.triangles().len();
    let mut forest = Forest::new(n);
    for face in 0..n {
        for side in 0..3 {
            if let Across::Face { face: other, .. } = topology.across(face, side)
                && (other as usize) < face
            {
                forest.join(face as u32, other);
            }
        }
    }
    if many.is_empty() {
        let (piece, count) = forest.numbered();
        return (piece, vec![Doubt::None; count]);
    }
    let mut size: HashMap<u32, usize> = HashMap::new();
    (0..n as u32).for_each(|f| *size.entry(forest.root(f)).or_default() += 1);
    let large: Vec<u32> = (0..n as u32).filter(|f| size.get(f).is_some_and(|&s| s >= 4)).collect();
    let rank = ranks(mesh, many);
    // What ordinary edges join: blocks that touch along an edge and each go on across it by themselves stay apart.
    let block: HashMap<u32, u32> = many.iter().flatten().map(|half| (half / 3, forest.root(half / 3))).collect();
    let layer = |half: u32| (mesh.part_of(half as usize / 3), rank.get(&(half / 3)).copied().unwrap_or(0));
    let mut tangled: Vec<u32> = Vec::new();
    for edge in many {
        let mut halves = edge.clone();
        // A layer that does not go on across this edge by itself goes on in some other one.
        let mut loose: Option<u32> = None;
        let up = |h: u32| {
            let (t, side) = (&mesh.triangles()[h as usize / 3], h as usize % 3);
            t[side] < t[(side + 1) % 3]
        };
        let balance = |halves: &[u32]| halves.iter().map(|&h| if up(h) { 1 } else { -1 }).sum::<i32>();
        halves.sort_by_key(|&h| (layer(h), block[&(h / 3)], h));
        for run in halves.chunk_by(|&a, &b| layer(a) == layer(b)) {
            let blocks: Vec<&[u32]> = run.chunk_by(|a, b| block[&(a / 3)] == block[&(b / 3)]).collect();
            if blocks.len() > 1 && blocks.iter().all(|halves| balance(halves) == 0 && halves.len() == 2) {
                continue;
            }
            run.windows(2).for_each(|w| forest.join(w[0] / 3, w[1] / 3));
            let balanced = balance(run) == 0;
            if !balanced || run.len() > 2 {
                tangled.push(run[0] / 3);
            }
            if !balanced {
                forest.join(loose.unwrap_or(halves[0] / 3), run[0] / 3);
                loose = Some(run[0] / 3);
            }
        }
    }
    let (piece, count) = forest.numbered();
    let mut doubt = vec![Doubt::None; count];
    tangled.iter().for_each(|&f| doubt[piece[f as usize] as usize] = Doubt::Edges);
    let mut seen = vec![false; count];
    for f in large {
        let p = piece[f as usize] as usize;
        if std::mem::replace(&mut seen[p], true) && doubt[p] == Doubt::Edges {
            doubt[p] = Doubt::All;
        }
    }
    (piece, doubt)
}

/// For each piece the earlier piece of which it is an exact copy: the same triangles facing the same way.
pub(super) fn copies(mesh: &Mesh, piece: &[u32], count: usize, many: &[Vec<u32>]) -> Vec<Option<u32>> {
    // Copies share all their edges, so only pieces at edges with more than two triangles are looked at.
    let mut asked = vec![false; count];
    many.iter().flatten().for_each(|h| asked[piece[*h as usize / 3] as usize] = true);
    let mut marks = vec![(0u64, 0u64, 0u64); count];
    for (f, &p) in piece.iter().enumerate().filter(|(_, p)| asked[**p as usize]) {
        let t = from_lowest(mesh.triangles()[f]);
        let mark = t.iter().fold(0, |h, &v| scramble(h ^ u64::from(v)));
        let it = &mut marks[p as usize];
        *it = (it.0 + 1, it.1.wrapping_add(mark), it.2.wrapping_add(scramble(!mark)));
    }
    let mut first: HashMap<(u64, u64, u64), u32> = HashMap::new();
    (0..count)
        .map(|p| {
            if asked[p] {
                first.get(&marks[p]).copied().or_else(|| {
                    first.insert(marks[p], p as u32);
                    None
                })
            } else {
                None
            }
        })
        .collect()
}

fn from_lowest(mut t: [u32; 3]) -> [u32; 3] {
    let low = (0..3).min_by_key(|&k| t[k]).unwrap_or(0);
    t.rotate_left(low);
    t
}

/// Where the faces of one piece may lie on each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Doubt {
    /// Nowhere, as far as edges tell.
    None,
    /// At edges with more than two triangles, and where triangles were added.
    Edges,
    /// Anywhere: surfaces that could each be closed hang together by edges only.
    All,
}

/// How many earlier triangles have the same corners and face the same way; only those with any.
pub(super) fn ranks(mesh: &Mesh, many: &[Vec<u32>]) -> HashMap<u32, u32> {
    let mut faces: Vec<([u32; 3], u32)> =
        many.iter().flatten().map(|h| h / 3).map(|f| (from_lowest(mesh.triangles()[f as usize]), f)).collect();
    faces.sort_unstable();
    faces.dedup();
    faces
        .chunk_by(|a, b| a.0 == b.0)
        .flat_map(|run| run.iter().enumerate().skip(1).map(|(r, f)| (f.1, r as u32)))
        .collect()
}
