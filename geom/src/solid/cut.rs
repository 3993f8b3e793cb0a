//! Cutting one triangle by segments that lie in its plane.
//!
//! A binary partition: each segment splits the convex cells that it runs through, all the way across. Cells more than
//! needed cost a query each; in exchange nothing has to be joined up, so gaps and doubled segments do no harm. Segments
//! are taken in a shuffled order, which keeps the expected number of cells near n log n (M. de Berg, O. Cheong, M. van
//! Kreveld, M. Overmars, *Computational Geometry*, 2008, section 12.3).

pub(super) type P2 = [f64; 2];

/// A convex cell of a cut triangle.
pub(super) struct Cell {
    pub(super) area: f64,
    pub(super) centre: P2,
    /// Length around.
    pub(super) edge: f64,
}

enum Node {
    Cell(Vec<P2>),
    Split { origin: P2, normal: P2, front: usize, back: usize },
}

/// The partition of a convex polygon.
pub(super) struct Cut {
    nodes: Vec<Node>,
    /// What is nearer than this to a line is on it.
    eps: f64,
}

fn side(origin: P2, normal: P2, p: P2) -> f64 {
    (p[0] - origin[0]) * normal[0] + (p[1] - origin[1]) * normal[1]
}

fn between(p: P2, q: P2, t: f64) -> P2 {
    [p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t]
}

/// The part of a segment inside a convex polygon with counter-clockwise corners, the polygon grown by `eps`.
pub(super) fn clip(polygon: &[P2], segment: [P2; 2], eps: f64) -> Option<[P2; 2]> {
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    let [p, q] = segment;
    for (k, a) in polygon.iter().enumerate() {
        let b = polygon[(k + 1) % polygon.len()];
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let length = dx.hypot(dy);
        if length == 0.0 {
            continue;
        }
        let normal = [-dy / length, dx / length];
        let (dp, dq) = (side(*a, normal, p) + eps, side(*a, normal, q) + eps);
        if dp < 0.0 && dq < 0.0 {
            return None;
        }
        if dp < 0.0 {
            from = from.max(dp / (dp - dq));
        } else if dq < 0.0 {
            to = to.min(dp / (dp - dq));
        }
    }
    (from <= to).then(|| [between(p, q, from), between(p, q, to)])
}

/// Both halves of a convex polygon.
pub(super) fn split(polygon: &[P2], origin: P2, normal: P2) -> (Vec<P2>, Vec<P2>) {
    let (mut front, mut back) = (Vec::with_capacity(polygon.len() + 1), Vec::with_capacity(polygon.len() + 1));
    for (k, &a) in polygon.iter().enumerate() {
        let b = polygon[(k + 1) % polygon.len()];
        let (da, db) = (side(origin, normal, a), side(origin, normal, b));
        if da >= 0.0 {
            front.push(a);
        }
        if da <= 0.0 {
            back.push(a);
        }
        if da * db < 0.0 {
            let cross = between(a, b, da / (da - db));
            front.push(cross);
            back.push(cross);
        }
    }
    (front, back)
}

impl Cut {
    pub(super) fn new(polygon: Vec<P2>, eps: f64) -> Self {
        Self { nodes: vec![Node::Cell(polygon)], eps }
    }

    pub(super) fn by(&mut self, segment: [P2; 2]) {
        let mut stack = vec![(0, segment)];
        while let Some((node, s)) = stack.pop() {
            match &self.nodes[node] {
                &Node::Split { origin, normal, front, back } => {
                    let (da, db) = (side(origin, normal, s[0]), side(origin, normal, s[1]));
                    if da.abs() <= self.eps && db.abs() <= self.eps {
                        continue;
                    }
                    let mid = if da * db < 0.0 { between(s[0], s[1], da / (da - db)) } else { s[1] };
                    if da * db < 0.0 {
                        let (near, far) = if da > 0.0 { (front, back) } else { (back, front) };
                        stack.push((near, [s[0], mid]));
                        stack.push((far, [mid, s[1]]));
                    } else {
                        stack.push((if da + db > 0.0 { front } else { back }, s));
                    }
                }
                Node::Cell(polygon) => {
                    let Some([p, q]) = clip(polygon, s, 0.0) else { continue };
                    let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
                    let length = dx.hypot(dy);
                    if length <= self.eps {
                        continue;
                    }
                    let normal = [-dy / length, dx / length];
                    let reach = |sign: f64| polygon.iter().map(|&c| sign * side(p, normal, c)).fold(0.0, f64::max);
                    if reach(1.0) <= self.eps || reach(-1.0) <= self.eps {
                        continue;
                    }
                    let (front, back) = split(polygon, p, normal);
                    self.nodes.push(Node::Cell(front));
                    self.nodes.push(Node::Cell(back));
                    let n = self.nodes.len();
                    self.nodes[node] = Node::Split { origin: p, normal, front: n - 2, back: n - 1 };
                }
            }
        }
    }

    pub(super) fn cells(&self) -> impl Iterator<Item = (Cell, &[P2])> {
        self.nodes.iter().filter_map(|n| if let Node::Cell(p) = n { Some((cell(p), &p[..])) } else { None })
    }
}

/// Area and centroid.
fn cell(polygon: &[P2]) -> Cell {
    let o = polygon.first().copied().unwrap_or([0.0; 2]);
    let (mut area, mut x, mut y) = (0.0, 0.0, 0.0);
    for w in polygon.windows(2).skip(1) {
        let (a, b) = ([w[0][0] - o[0], w[0][1] - o[1]], [w[1][0] - o[0], w[1][1] - o[1]]);
        let twice = a[0] * b[1] - a[1] * b[0];
        area += 0.5 * twice;
        x += twice * (a[0] + b[0]) / 6.0;
        y += twice * (a[1] + b[1]) / 6.0;
    }
    let centre = if area > 0.0 { [o[0] + x / area, o[1] + y / area] } else { o };
    let edge = (0..polygon.len())
        .map(|k| (polygon[k], polygon[(k + 1) % polygon.len()]))
        .map(|(a, b)| (b[0] - a[0]).hypot(b[1] - a[1]))
        .sum();
    Cell { area: area.max(0.0), centre, edge }
}
