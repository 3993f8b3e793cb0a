//! A disc of some thickness that holds a few triangles: a bound on distances to them that follows a slanting surface, as a
//! box does not. In single precision, eight or so worked out at once.

use super::V3;

/// In single precision.
#[inline]
pub(crate) fn single(v: &V3) -> [f32; 3] {
    [v.x as f32, v.y as f32, v.z as f32]
}

/// A flat disc that holds some triangles. No triangle is nearer than its disc.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Disc {
    pub(crate) centre: [f32; 3],
    /// Of length one.
    pub(crate) normal: [f32; 3],
    pub(crate) radius: f32,
    /// Half the thickness.
    pub(crate) half: f32,
}

impl Disc {
    /// The disc about triangles, at right angles to their mean normal.
    pub(crate) fn around(triangles: &[[V3; 3]]) -> Self {
        let double = |[x, y, z]: [f32; 3]| V3::new(f64::from(x), f64::from(y), f64::from(z));
        let corners = || triangles.iter().flatten();
        let normal: V3 = triangles.iter().map(|[a, b, c]| (b - a).cross(&(c - a))).sum();
        let normal = single(&normal.try_normalize(0.0).unwrap_or_else(V3::z));
        let centre = single(&(corners().sum::<V3>() / (3 * triangles.len()) as f64));
        // About centre and normal as rounded: nothing is lost by rounding these.
        let (mut radius, mut half) = (0.0f64, 0.0f64);
        for p in corners() {
            let from = p - double(centre);
            let off = from.dot(&double(normal)).abs();
            half = half.max(off);
            radius = radius.max((from.norm_squared() - off * off).max(0.0));
        }
        let up = |x: f64| (x as f32).next_up() * (1.0 + 1e-6);
        Self { centre, normal, radius: up(radius.sqrt()), half: up(half) }
    }

    /// The disc about one triangle of known unit normal, for positions of up to `far`.
    pub(crate) fn of([a, b, c]: &[V3; 3], normal: &V3, far: f64) -> Self {
        let middle = (a + b + c) / 3.0;
        let reach = |p: &V3| (p - middle).norm_squared();
        let radius = reach(a).max(reach(b)).max(reach(c)).sqrt();
        let slack = (2e-6 * (radius + far + middle.norm())) as f32;
        Self { centre: single(&middle), normal: single(normal), radius: radius as f32 + slack, half: slack }
    }

    /// The same disc seen from elsewhere, for positions of up to `far` from there.
    pub(crate) fn seen_from(&self, origin: &V3, far: f64) -> Self {
        let [x, y, z] = self.centre;
        let centre = V3::new(f64::from(x), f64::from(y), f64::from(z)) - origin;
        let slack = 2e-6 * (self.radius + self.half + (far + centre.norm()) as f32);
        let (centre, radius) = (single(&centre), self.radius + slack);
        Self { centre, normal: self.normal, radius, half: self.half + slack }
    }

    /// Square of the distance from `p`.
    #[inline(always)]
    pub(crate) fn gap_squared(&self, p: [f32; 3]) -> f32 {
        let d = [p[0] - self.centre[0], p[1] - self.centre[1], p[2] - self.centre[2]];
        let off = d[0] * self.normal[0] + d[1] * self.normal[1] + d[2] * self.normal[2];
        let along = (d[0] * d[0] + d[1] * d[1] + d[2] * d[2] - off * off).max(0.0).sqrt();
        let (off, along) = ((off.abs() - self.half).max(0.0), (along - self.radius).max(0.0));
        off * off + along * along
    }
}

/// Discs laid out so that several are worked out at once, each with a number of its own.
#[derive(Default)]
pub(crate) struct Discs {
    centre: [Vec<f32>; 3],
    normal: [Vec<f32>; 3],
    radius: Vec<f32>,
    half: Vec<f32>,
    pub(crate) item: Vec<u32>,
}

impl Discs {
    pub(crate) fn clear(&mut self) {
        self.centre.iter_mut().chain(&mut self.normal).chain([&mut self.radius, &mut self.half]).for_each(Vec::clear);
        self.item.clear();
    }

    pub(crate) fn push(&mut self, disc: &Disc, item: u32) {
        for k in 0..3 {
            self.centre[k].push(disc.centre[k]);
            self.normal[k].push(disc.normal[k]);
        }
        self.radius.push(disc.radius);
        self.half.push(disc.half);
        self.item.push(item);
    }

    pub(crate) fn get(&self, i: usize) -> Disc {
        Disc {
            centre: self.centre.each_ref().map(|c| c[i]),
            normal: self.normal.each_ref().map(|c| c[i]),
            radius: self.radius[i],
            half: self.half[i],
        }
    }

    /// Square of the distance from `p` to each disc.
    pub(crate) fn gaps_squared(&self, p: [f32; 3], out: &mut Vec<f32>) {
        let count = self.item.len();
        let [x, y, z] = self.centre.each_ref().map(|c| &c[..count]);
        let [u, v, w] = self.normal.each_ref().map(|c| &c[..count]);
        let (radius, half) = (&self.radius[..count], &self.half[..count]);
        out.resize(count, 0.0);
        for (i, gap) in out.iter_mut().enumerate() {
            let disc =
                Disc { centre: [x[i], y[i], z[i]], normal: [u[i], v[i], w[i]], radius: radius[i], half: half[i] };
            *gap = disc.gap_squared(p);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::distance::closest;

    #[test]
    fn no_triangle_is_nearer_than_its_disc() {
        let mut state = 7u64;
        let mut random = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 40) as f64 / f64::from(1 << 24) - 0.5
        };
        for _ in 0..500 {
            let mut point = || V3::new(random(), random(), 0.2 * random());
            let triangles: Vec<[V3; 3]> = (0..3).map(|_| [point(), point(), point()]).collect();
            let (p, origin) = (point() * 4.0, point());
            let disc = Disc::around(&triangles).seen_from(&origin, 4.0);
            let near = triangles.iter().map(|t| (p - closest(&p, t)).norm()).fold(f64::INFINITY, f64::min);
            let mut discs = Discs::default();
            discs.push(&disc, 0);
            let (mut gaps, from) = (Vec::new(), p - origin);
            discs.gaps_squared([from.x as f32, from.y as f32, from.z as f32], &mut gaps);
            let gap = f64::from(gaps[0].sqrt());
            assert!(gap <= near * 1.000_01 + 1e-5, "{gap} {near}");
            // It is a tight one when looked at from afar.
            assert!(near - gap < 1.5, "{gap} {near}");
        }
    }
}
