//! How much of a unit cube about the origin lies below a plane.

use super::V3;

/// Components of `normal` ascending and divided by their sum, and that sum.
#[inline]
fn sorted(normal: &V3) -> ([f64; 3], f64) {
    // A component of nothing would divide by zero; 1e-7 of a turn changes no volume that is looked at.
    let [x, y, z] = [normal.x, normal.y, normal.z].map(|c| c.abs().max(1e-7));
    let (lo, hi) = if x < y { (x, y) } else { (y, x) };
    let (m1, m2, m3) = if z < lo {
        (z, lo, hi)
    } else if z < hi {
        (lo, z, hi)
    } else {
        (lo, hi, z)
    };
    let sum = m1 + m2 + m3;
    ([m1 / sum, m2 / sum, m3 / sum], sum)
}

/// The part of the unit cube about the origin where `normal . x <= height`, 0 to 1. `normal` has length one.
///
/// In closed form (R. Scardovelli and S. Zaleski, *Analytical relations connecting linear interfaces and volume fractions
/// in rectangular grids*, J. Comput. Phys. 164, 2000).
#[inline]
pub(crate) fn below(normal: &V3, height: f64) -> f64 {
    if height >= 0.867 {
        return 1.0;
    }
    if height <= -0.867 {
        return 0.0;
    }
    let ([m1, m2, m3], sum) = sorted(normal);
    let level = height / sum + 0.5;
    let a = level.min(1.0 - level);
    if a <= 0.0 {
        return if level > 0.5 { 1.0 } else { 0.0 };
    }
    let m12 = m1 + m2;
    let small = if a < m1 {
        a * a * a / (6.0 * m1 * m2 * m3)
    } else if a < m2 {
        a * (a - m1) / (2.0 * m2 * m3) + m1 * m1 / (6.0 * m2 * m3)
    } else if a < m12.min(m3) {
        (a * a * (3.0 * m12 - a) + m1 * m1 * (m1 - 3.0 * a) + m2 * m2 * (m2 - 3.0 * a)) / (6.0 * m1 * m2 * m3)
    } else if m3 < m12 {
        (a * a * (3.0 - 2.0 * a) + m1 * m1 * (m1 - 3.0 * a) + m2 * m2 * (m2 - 3.0 * a) + m3 * m3 * (m3 - 3.0 * a))
            / (6.0 * m1 * m2 * m3)
    } else {
        (2.0 * a - m12) / (2.0 * m3)
    };
    if level > 0.5 { 1.0 - small } else { small }
}

/// The area that the plane `normal . x = height` cuts out of the unit cube about the origin: the slope of [`below`].
#[inline]
pub(crate) fn section(normal: &V3, height: f64) -> f64 {
    if height.abs() >= 0.867 {
        return 0.0;
    }
    let ([m1, m2, m3], sum) = sorted(normal);
    let level = height / sum + 0.5;
    let a = level.min(1.0 - level);
    if a <= 0.0 {
        return 0.0;
    }
    let m12 = m1 + m2;
    let slope = if a < m1 {
        a * a / (2.0 * m1 * m2 * m3)
    } else if a < m2 {
        (2.0 * a - m1) / (2.0 * m2 * m3)
    } else if a < m12.min(m3) {
        (2.0 * a * m12 - a * a - m1 * m1 - m2 * m2) / (2.0 * m1 * m2 * m3)
    } else if m3 < m12 {
        (2.0 * a - 2.0 * a * a - m1 * m1 - m2 * m2 - m3 * m3) / (2.0 * m1 * m2 * m3)
    } else {
        1.0 / m3
    };
    slope / sum
}

/// Corners of a cube with sides of one, cut a few times, are known to some tens of roundings.
const ON: f64 = 1e-14;

/// Part of the unit cube about the origin: its faces, each a polygon.
///
/// A cut goes through the faces one by one and closes what it leaves open; the volume follows by the divergence theorem. What lies on a
/// plane within [`ON`] is not cut: planes that are nearly the same would double the corners each time.
#[derive(Clone)]
pub(crate) struct Polytope {
    /// One face after another.
    corners: Vec<V3>,
    /// Where each face ends.
    ends: Vec<usize>,
}

impl Polytope {
    /// The part of the cube where `normal . x <= height` for every plane.
    pub(crate) fn below(planes: impl IntoIterator<Item = (V3, f64)>) -> Self {
        const FACES: [[usize; 4]; 6] =
            [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let corner = |i: usize| V3::new((i & 1) as f64 - 0.5, (i >> 1 & 1) as f64 - 0.5, (i >> 2) as f64 - 0.5);
        let corners = FACES.iter().flatten().map(|&i| corner(i)).collect();
        let mut all = Self { corners, ends: (1..=FACES.len()).map(|face| 4 * face).collect() };
        for (normal, height) in planes {
            all.cut(&normal, height);
            if all.corners.is_empty() {
                break;
            }
        }
        all
    }

    /// Its volume where `normal . x <= height`.
    pub(crate) fn volume_below(&self, normal: &V3, height: f64) -> f64 {
        if self.corners.iter().all(|p| normal.dot(p) - height <= ON) {
            return self.volume();
        }
        let mut rest = self.clone();
        rest.cut(normal, height);
        rest.volume()
    }

    fn faces(&self) -> impl Iterator<Item = &[V3]> {
        let starts = std::iter::once(0).chain(self.ends.iter().copied());
        starts.zip(&self.ends).map(|(start, end)| &self.corners[start..*end])
    }

    fn cut(&mut self, normal: &V3, height: f64) {
        let over: Vec<f64> = self.corners.iter().map(|p| normal.dot(p) - height).collect();
        if over.iter().all(|over| *over <= ON) {
            return;
        }
        let mut corners = Vec::with_capacity(self.corners.len() + 8);
        let mut ends = Vec::with_capacity(self.ends.len() + 1);
        let mut edge: Vec<V3> = Vec::new();
        let mut first = 0;
        for &end in &self.ends {
            let start = corners.len();
            for i in first..end {
                let next = if i + 1 < end { i + 1 } else { first };
                let (p, q, dp, dq) = (self.corners[i], self.corners[next], over[i], over[next]);
                if dp <= ON {
                    corners.push(p);
                }
                if (dp <= ON) != (dq <= ON) {
                    let x = p + (q - p) * (dp / (dp - dq)).clamp(0.0, 1.0);
                    corners.push(x);
                    edge.push(x);
                }
            }
            first = end;
            if corners.len() >= start + 3 {
                ends.push(corners.len());
            } else {
                corners.truncate(start);
            }
        }
        if edge.len() >= 3 {
            let middle = edge.iter().sum::<V3>() / edge.len() as f64;
            let u = normal.cross(&if normal.x.abs() < 0.6 { V3::x() } else { V3::y() }).normalize();
            let v = normal.cross(&u);
            let angle = |p: &V3| v.dot(&(p - middle)).atan2(u.dot(&(p - middle)));
            let mut round: Vec<(f64, V3)> = edge.into_iter().map(|p| (angle(&p), p)).collect();
            round.sort_by(|p, q| p.0.total_cmp(&q.0));
            round.dedup_by(|p, q| (p.1 - q.1).norm_squared() < ON * ON);
            corners.extend(round.into_iter().map(|(_, p)| p));
            ends.push(corners.len());
        }
        (self.corners, self.ends) = (corners, ends);
    }

    fn volume(&self) -> f64 {
        let of = |f: &[V3]| (1..f.len().saturating_sub(1)).map(|i| f[0].dot(&f[i].cross(&f[i + 1]))).sum::<f64>();
        self.faces().map(of).sum::<f64>() / 6.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three ways to the same number: the closed form, the polytope, and (for the slope) a difference.
    #[test]
    fn a_cube_below_a_plane() {
        for (i, normal) in [
            V3::new(0.0, 0.0, 1.0),
            V3::new(1.0, 1.0, 0.0),
            V3::new(1.0, 1.0, 1.0),
            V3::new(-0.1, 0.7, 0.2),
            V3::new(0.3, -0.5, -0.9),
        ]
        .iter()
        .map(|n| n.normalize())
        .enumerate()
        {
            for step in -18..=18 {
                let height = f64::from(step) / 20.0 + 0.001;
                let (exact, cut) = (below(&normal, height), Polytope::below([(normal, height)]).volume());
                assert!((exact - cut).abs() < 1e-6, "{i} {height}: {exact} {cut}");
                let slope = (below(&normal, height + 1e-5) - below(&normal, height - 1e-5)) / 2e-5;
                assert!((section(&normal, height) - slope).abs() < 1e-3, "{i} {height}");
            }
        }
    }

    /// A plane that is there again, to within rounding, takes nothing away: between two planes at right angles to one line lies what the
    /// closed form says. A hundred of them do not take for ever either.
    #[test]
    fn planes_that_are_nearly_the_same_cut_once() {
        for k in 0..300 {
            let turn = f64::from(k);
            let normal = V3::new((turn * 0.7).sin(), (turn * 1.3).cos(), (turn * 2.1).sin() + 0.1).normalize();
            let (low, high) = ((turn * 0.37).sin() * 0.5, (turn * 0.37).sin() * 0.5 + 0.3);
            let want = below(&normal, high) - below(&normal, low);
            let copies = |n: i32| {
                (0..n).map(move |i| ((normal * (1.0 + f64::from(i) * 1e-16)).normalize(), f64::from(i) * 1e-16))
            };
            for n in [1, 2, 3, 100] {
                let planes: Vec<(V3, f64)> =
                    copies(n).flat_map(|(normal, off)| [(-normal, off - low), (normal, high - off)]).collect();
                let got = Polytope::below(planes).volume();
                // The closed form loses what lies in a corner of 1e-9 or so.
                assert!((got - want).abs() < 1e-6, "{k}, {n} times: {got} is not {want}");
            }
        }
    }
}
