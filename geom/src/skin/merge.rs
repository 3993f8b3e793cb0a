//! Fewer triangles where the surface is plain: edges are drawn together, those that take the vertices least far from the
//! planes about them first, as long as they stay within a distance (M. Garland, P. S. Heckbert, *Surface Simplification
//! Using Quadric Error Metrics*, 1997). The mesh stays closed: an edge goes only if the vertices at its ends have no
//! neighbours in common but the two across it (T. K. Dey, H. Edelsbrunner, S. Guha, D. V. Nekhayev, *Topology Preserving
//! Edge Contraction*, 1999).

use rayon::prelude::*;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::field::Field;
use super::net::Net;
use super::settle::Settled;
use crate::distance::{V3, single};

/// Draws edges together until none can go; every vertex stays within some `most` of the planes of those that went into it, by
/// their weighted mean square.
pub(super) fn merge(field: &Field<'_>, net: Net, most: f64) -> Net {
    if net.triangles.is_empty() {
        return net;
    }
    let mut merge = Merge::new(field, net, most);
    merge.run();
    merge.rest()
}

const NONE: u32 = u32::MAX;
/// Height of a triangle over its longest side below which it is a sliver: its side cannot be told.
const SLIVER: f64 = 1e-3;
/// Cosine of the angle up to which a triangle may turn unseen.
const ALIKE: f64 = 0.998;

/// An edge that may go, the best first: its price as bits (prices are not negative), its ends and their ages.
type Offer = Reverse<(u64, [u32; 2], [u32; 2])>;

struct Merge<'f, 'a> {
    field: &'f Field<'a>,
    vertices: Vec<Settled>,
    triangles: Vec<[u32; 3]>,
    /// Unit normals of the triangles as they came, nothing for those that cannot be told.
    normals: Vec<[f32; 3]>,
    gone: Vec<bool>,
    /// Lists of the corners (three times the triangle and which) at each vertex.
    first: Vec<u32>,
    last: Vec<u32>,
    next: Vec<u32>,
    age: Vec<u32>,
    offers: BinaryHeap<Offer>,
    most: f64,
    /// Room for the triangles at the ends of an edge.
    around: [Vec<u32>; 2],
    /// Who has seen a vertex last.
    seen: Vec<u32>,
    time: u32,
}

impl<'f, 'a> Merge<'f, 'a> {
    fn new(field: &'f Field<'a>, net: Net, most: f64) -> Self {
        let Net { vertices, triangles } = net;
        let (count, corners) = (vertices.len(), 3 * triangles.len());
        let (mut first, mut last, mut next) = (vec![NONE; count], vec![NONE; count], vec![NONE; corners]);
        for (corner, &v) in triangles.iter().flatten().enumerate() {
            let v = v as usize;
            if first[v] == NONE {
                first[v] = corner as u32;
            } else {
                next[last[v] as usize] = corner as u32;
            }
            last[v] = corner as u32;
        }
        let offers: Vec<Offer> = triangles
            .par_iter()
            .flat_map_iter(|t| (0..3).map(|k| [t[k], t[(k + 1) % 3]]).filter(|[a, b]| a < b))
            .filter_map(|ends| Some(Reverse((price(&vertices, most, ends)?.to_bits(), ends, [0; 2]))))
            .collect();
        let normals = triangles.par_iter().map(|t| first_normal(&t.map(|v| vertices[v as usize]))).collect();
        Self {
            field,
            normals,
            gone: vec![false; triangles.len()],
            age: vec![0; count],
            seen: vec![0; count],
            vertices,
            triangles,
            first,
            last,
            next,
            offers: offers.into(),
            most,
            around: Default::default(),
            time: 0,
        }
    }

    fn run(&mut self) {
        while let Some(Reverse((_, ends, ages))) = self.offers.pop() {
            let [u, v] = ends.map(|v| v as usize);
            if ages == [self.age[u], self.age[v]] {
                self.draw(ends);
            }
        }
    }

    /// The living triangles at a vertex; its list is rid of the others.
    fn gather(&mut self, v: u32, out: &mut Vec<u32>) {
        out.clear();
        let (mut corner, mut before) = (self.first[v as usize], NONE);
        while corner != NONE {
            let next = self.next[corner as usize];
            if self.gone[corner as usize / 3] {
                if before == NONE {
                    self.first[v as usize] = next;
                } else {
                    self.next[before as usize] = next;
                }
                if next == NONE {
                    self.last[v as usize] = before;
                }
            } else {
                out.push(corner / 3);
                before = corner;
            }
            corner = next;
        }
    }

    /// Draws an edge together if the surface stays whole and no triangle turns over.
    fn draw(&mut self, ends: [u32; 2]) {
        let mut around = std::mem::take(&mut self.around);
        self.gather(ends[0], &mut around[0]);
        self.gather(ends[1], &mut around[1]);
        if let Some(settled) = self.drawn(ends, &around) {
            self.collapse(ends, settled, &around);
        }
        self.around = around;
    }

    fn drawn(&mut self, ends @ [u, v]: [u32; 2], around: &[Vec<u32>; 2]) -> Option<Settled> {
        if around[0].len() <= 3 && around[1].len() <= 3 {
            return None;
        }
        self.time += 1;
        for w in around[0].iter().flat_map(|&t| self.triangles[t as usize]) {
            self.seen[w as usize] = self.time;
        }
        (self.seen[u as usize], self.seen[v as usize]) = (0, 0);
        let mut shared = 0;
        for w in around[1].iter().flat_map(|&t| self.triangles[t as usize]) {
            if self.seen[w as usize] == self.time {
                self.seen[w as usize] = 0;
                shared += 1;
            }
        }
        let across = around[0].iter().filter(|&&t| self.triangles[t as usize].contains(&v)).count();
        if shared != 2 || across != 2 {
            return None;
        }
        let settled = together(&self.vertices, ends);
        let stays = |&t: &u32| {
            let corners = self.triangles[t as usize];
            if corners.contains(&u) && corners.contains(&v) {
                return true;
            }
            let old = corners.map(|w| self.vertices[w as usize]);
            let new = corners.map(|w| if w == u || w == v { settled } else { self.vertices[w as usize] });
            let now = Form::of(&new);
            if now.is_sliver() {
                let before = Form::of(&old);
                return before.is_sliver() && (now.height >= before.height || before.height <= 1e-6 * before.longest);
            }
            let first = V3::from(self.normals[t as usize].map(f64::from));
            if now.cross.dot(&first) > ALIKE * now.cross.norm() {
                return true;
            }
            // It leans otherwise than it did: it has to lie on the surface then.
            let middle = (new[0].at + new[1].at + new[2].at) / 3.0;
            now.faces_out(&new) && self.field.off(&middle) <= self.most
        };
        around.iter().flatten().all(stays).then_some(settled)
    }

    /// The second end goes into the first.
    fn collapse(&mut self, [u, v]: [u32; 2], settled: Settled, around: &[Vec<u32>; 2]) {
        for &t in &around[1] {
            let corners = &mut self.triangles[t as usize];
            if corners.contains(&u) {
                self.gone[t as usize] = true;
            } else {
                corners.iter_mut().filter(|w| **w == v).for_each(|w| *w = u);
            }
        }
        let (a, b) = (u as usize, v as usize);
        self.vertices[a] = settled;
        self.next[self.last[a] as usize] = self.first[b];
        self.last[a] = self.last[b];
        self.age[b] = NONE;
        self.age[a] += 1;
        self.time += 1;
        for t in around.iter().flatten().map(|&t| t as usize) {
            if self.gone[t] {
                continue;
            }
            for w in self.triangles[t] {
                let c = w as usize;
                if w != u && self.seen[c] != self.time {
                    self.seen[c] = self.time;
                    let ends = [u.min(w), u.max(w)];
                    if let Some(price) = price(&self.vertices, self.most, ends) {
                        self.offers.push(Reverse((price.to_bits(), ends, ends.map(|e| self.age[e as usize]))));
                    }
                }
            }
        }
    }

    fn rest(self) -> Net {
        let mut number = vec![NONE; self.vertices.len()];
        let mut vertices = Vec::new();
        let living = self.triangles.into_iter().zip(self.gone).filter(|(_, gone)| !gone);
        let triangles = living
            .map(|(t, _)| {
                t.map(|v| {
                    let own = &mut number[v as usize];
                    if *own == NONE {
                        *own = vertices.len() as u32;
                        vertices.push(self.vertices[v as usize]);
                    }
                    *own
                })
            })
            .collect();
        Net { vertices, triangles }
    }
}

/// Of the sum over all planes: what does not grow by so much along an edge is level.
const LEVEL: f64 = 1e-9;

/// The vertex that the ends of an edge become: the point of it nearest to their planes, the middle where that is all one.
/// Off the edge two planes of a round place would meet outside it.
fn together(vertices: &[Settled], ends: [u32; 2]) -> Settled {
    let [a, b] = ends.map(|v| &vertices[v as usize]);
    let mut planes = a.planes;
    planes += b.planes;
    Settled { at: planes.least_between(&a.at, &b.at, LEVEL), planes, out: a.out + b.out }
}

/// What an edge costs to go, short ones first where all lies in planes; none when it would lead too far.
fn price(vertices: &[Settled], most: f64, ends: [u32; 2]) -> Option<f64> {
    let settled = together(vertices, ends);
    let cost = settled.planes.at(&settled.at);
    let [a, b] = ends.map(|v| vertices[v as usize].at);
    (cost <= most * most).then(|| cost + 1e-4 * most * most * (a - b).norm_squared())
}

/// A triangle's cross product, longest side and the height over that.
struct Form {
    cross: V3,
    longest: f64,
    height: f64,
}

impl Form {
    fn of(corners: &[Settled; 3]) -> Self {
        let [a, b, c] = corners.map(|v| v.at);
        let cross = (b - a).cross(&(c - a));
        let longest = (b - a).norm_squared().max((c - b).norm_squared()).max((a - c).norm_squared()).sqrt();
        let height = if longest > 0.0 { cross.norm() / longest } else { 0.0 };
        Self { cross, longest, height }
    }

    fn is_sliver(&self) -> bool {
        self.height <= SLIVER * self.longest
    }

    fn faces_out(&self, corners: &[Settled; 3]) -> bool {
        self.cross.dot(&corners.iter().map(|v| v.out).sum()) > 0.0
    }
}

fn first_normal(corners: &[Settled; 3]) -> [f32; 3] {
    let form = Form::of(corners);
    if form.is_sliver() || !form.faces_out(corners) { [0.0; 3] } else { single(&form.cross.normalize()) }
}
