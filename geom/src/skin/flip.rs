//! Edges that cut a corner of the surface, between triangles on two of its planes, are turned to run along its arris.

use rayon::prelude::*;

use super::net::Net;

/// Times all edges are looked at.
const PASSES: usize = 2;

/// Turns edges whose middle is farther than `most` from the planes at their ends, where the other way it is not.
pub(super) fn flip(net: &mut Net, most: f64) {
    let Some(twins) = twins(&net.triangles) else { return };
    let mut flip = Flip { net, twins };
    for _ in 0..PASSES {
        for side in 0..flip.twins.len() as u32 {
            flip.turn(side, most * most);
        }
    }
}

/// Side `3 t + k` of a triangle runs from its corner `k` to the next. For each, the side that runs back along it.
fn twins(triangles: &[[u32; 3]]) -> Option<Vec<u32>> {
    let key = |(t, corners): (usize, &[u32; 3])| {
        let (t, [a, b, c]) = (3 * t as u32, *corners);
        [(a, b, t), (b, c, t + 1), (c, a, t + 2)].map(|(a, b, side)| (a.min(b), a.max(b), side))
    };
    let mut sides: Vec<(u32, u32, u32)> = triangles.par_iter().enumerate().flat_map_iter(key).collect();
    sides.par_sort_unstable();
    let mut twins = vec![0; sides.len()];
    for pair in sides.chunks(2) {
        let [a, b] = pair else { return None };
        if (a.0, a.1) != (b.0, b.1) {
            return None;
        }
        (twins[a.2 as usize], twins[b.2 as usize]) = (b.2, a.2);
    }
    Some(twins)
}

struct Flip<'n> {
    net: &'n mut Net,
    twins: Vec<u32>,
}

fn next(side: u32) -> u32 {
    side / 3 * 3 + (side + 1) % 3
}

impl Flip<'_> {
    /// The corner that a side starts at.
    fn start(&self, side: u32) -> u32 {
        self.net.triangles[side as usize / 3][side as usize % 3]
    }

    fn price(&self, a: u32, b: u32) -> f64 {
        let [a, b] = [a, b].map(|v| &self.net.vertices[v as usize]);
        let middle = (a.at + b.at) / 2.0;
        a.planes.at(&middle) + b.planes.at(&middle)
    }

    fn faces_out(&self, corners: [u32; 3]) -> bool {
        let [a, b, c] = corners.map(|v| &self.net.vertices[v as usize]);
        (b.at - a.at).cross(&(c.at - a.at)).dot(&(a.out + b.out + c.out)) > 0.0
    }

    /// Two corners have an edge in common, or it is not known: more than 64 sides at the first, or edges of four triangles about it.
    fn meet(&self, c: u32, from: u32, d: u32) -> bool {
        // Around `c` from a side that starts there.
        let mut side = from;
        for _ in 0..64 {
            if self.start(next(side)) == d {
                return true;
            }
            side = next(self.twins[side as usize]);
            if side == from {
                return false;
            }
            if self.start(side) != c {
                return true;
            }
        }
        true
    }

    fn turn(&mut self, side: u32, most: f64) {
        let twin = self.twins[side as usize];
        if twin < side {
            return;
        }
        let (a, b) = (self.start(side), self.start(twin));
        let (bc, ad) = (next(side), next(twin));
        let (ca, db) = (next(bc), next(ad));
        let (c, d) = (self.start(ca), self.start(db));
        if c == d || self.price(a, b) <= most || self.price(c, d) > most {
            return;
        }
        let (one, other) = ([a, d, c], [d, b, c]);
        if !self.faces_out(one) || !self.faces_out(other) || self.meet(c, ca, d) {
            return;
        }
        let outer = [ad, ca, db, bc].map(|s| self.twins[s as usize]);
        let (t, u) = (side / 3, twin / 3);
        if outer.iter().any(|s| s / 3 == t || s / 3 == u) {
            return;
        }
        self.net.triangles[t as usize] = one;
        self.net.triangles[u as usize] = other;
        let own = [3 * t, 3 * t + 2, 3 * u, 3 * u + 1];
        for (own, outer) in own.into_iter().zip(outer) {
            (self.twins[own as usize], self.twins[outer as usize]) = (outer, own);
        }
        let (cross, back) = (3 * t + 1, 3 * u + 2);
        (self.twins[cross as usize], self.twins[back as usize]) = (back, cross);
    }
}
