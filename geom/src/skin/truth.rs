//! How far a mesh is from the surface that it stands for, measured.

use rayon::prelude::*;
use std::collections::HashSet;

use super::BLOCK;
use super::field::{Depth, Field, Local};
use super::near::Patch;
use super::net::Net;
use crate::distance::{Node, V3};

/// The farthest that vertices, and points all over the triangles, are from the surface of the rest.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Off {
    pub(super) vertices: f64,
    /// The vertex that is the farthest, the first of equals.
    pub(super) worst: Option<u32>,
    pub(super) triangles: f64,
    /// All but one in a thousand of the points on triangles.
    pub(super) most: f64,
    /// Points on triangles.
    pub(super) points: usize,
}

/// In steps: points on a triangle are no farther apart.
const APART: f64 = 4.0;
/// In steps: what a point is moved by to be past the surface.
const PAST: f64 = 1e-4;
/// Steps towards the surface at most.
const STEPS: usize = 24;

/// Measures a net.
pub(super) fn off(field: &Field<'_>, net: &Net) -> Off {
    let at = |v: u32| net.vertices[v as usize].at;
    let apart = APART * field.grid.spacing;
    let over = |t: &[u32; 3]| {
        let [a, b, c] = t.map(at);
        let longest = (b - a).norm_squared().max((c - b).norm_squared()).max((a - c).norm_squared()).sqrt();
        let n = (longest / apart).ceil().max(1.0) as u32;
        let share = 1.0 / f64::from(n);
        // Middles of the small triangles that stand like the large one.
        (0..n).flat_map(move |i| (0..n - i).map(move |j| (i, j))).map(move |(i, j)| {
            a + (b - a) * ((f64::from(i) + 1.0 / 3.0) * share) + (c - a) * ((f64::from(j) + 1.0 / 3.0) * share)
        })
    };
    let middles: Vec<V3> = net.triangles.par_iter().flat_map_iter(over).collect();
    let vertices: Vec<V3> = net.vertices.iter().map(|v| v.at).collect();
    let mut middles: Vec<f64> = apart_from(field, &middles).into_iter().map(|(off, _)| off).collect();
    let most = middles.len() - middles.len() / 1000;
    let most = if middles.is_empty() { 0.0 } else { *middles.select_nth_unstable_by(most - 1, f64::total_cmp).1 };
    let points = middles.len();
    let farther = |a: &(f64, u32), b: &(f64, u32)| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1));
    let worst = apart_from(field, &vertices).into_iter().max_by(farther);
    Off {
        vertices: worst.map_or(0.0, |(off, _)| off),
        worst: worst.map(|(_, vertex)| vertex),
        triangles: middles.into_iter().fold(0.0, f64::max),
        most,
        points,
    }
}

/// How far some points are from the surface, each with its number, in no order that matters.
fn apart_from(field: &Field<'_>, points: &[V3]) -> Vec<(f64, u32)> {
    let block = |p: &V3| {
        let at = (p - field.grid.low) / field.grid.spacing - V3::repeat(0.5);
        [at.x, at.y, at.z].map(|c| (c / BLOCK as f64).floor().max(0.0) as u32)
    };
    let mut keyed: Vec<([u32; 3], u32)> =
        points.par_iter().zip(0..points.len() as u32).map(|(p, i)| (block(p), i)).collect();
    keyed.par_sort_unstable();
    let source = field.source();
    let measured = field.sweep(&[source], &|low, [nodes]| {
        let key = low.map(|i| (i / BLOCK) as u32);
        let first = keyed.partition_point(|(k, _)| *k < key);
        let count = keyed[first..].partition_point(|(k, _)| *k == key);
        if count == 0 {
            return None;
        }
        let mut local = Local::new(field, Patch::new(&source, &nodes, field.middle(low, BLOCK)));
        Some((
            key,
            keyed[first..first + count].iter().map(|&(_, i)| (local.off(&points[i as usize]), i)).collect::<Vec<_>>(),
        ))
    });
    let known: HashSet<[u32; 3]> = measured.iter().map(|(key, _)| *key).collect();
    let strays =
        keyed.iter().filter(|(key, _)| !known.contains(key)).map(|&(_, i)| (field.off(&points[i as usize]), i));
    measured.iter().flat_map(|(_, all)| all.iter().copied()).chain(strays).collect()
}

impl Local<'_, '_> {
    /// How far a point is from the surface of the rest at most: as far as to a point found on its other side.
    fn off(&mut self, p: &V3) -> f64 {
        let past = PAST * self.field.grid.spacing;
        let here = self.sound(p);
        // In the rest the depth is the way out.
        if here.depth >= 0.0 {
            return here.depth;
        }
        let (mut x, mut there) = (*p, here);
        for _ in 0..STEPS {
            x -= there.slope * (there.depth - past);
            there = self.sound(&x);
            if there.depth >= 0.0 {
                return (x - p).norm();
            }
            if there.slope == V3::zeros() {
                break;
            }
        }
        self.felt(p, &here)
    }

    /// The same by feeling around, farther and farther; infinite when nothing is felt within four steps.
    fn felt(&mut self, p: &V3, here: &Depth) -> f64 {
        let step = self.field.grid.spacing;
        let mut far = here.depth.abs().min(step).max(step / 8.0);
        while far < 4.0 * step {
            for k in (0..27).filter(|k| *k != 13) {
                let way = V3::new((k % 3) as f64, (k / 3 % 3) as f64, (k / 9) as f64).add_scalar(-1.0).normalize();
                if self.sound(&(p + way * far)).depth >= 0.0 {
                    return far;
                }
            }
            far *= 1.5;
        }
        f64::INFINITY
    }
}

impl Field<'_> {
    /// How far a point is from the surface of the rest at most, asked by itself.
    pub(super) fn off(&self, p: &V3) -> f64 {
        let source = self.source();
        let nodes: Vec<Node> = source.tree.root().into_iter().collect();
        let half = self.grid.spacing;
        let nodes = source.tree.near(&source.surface, &nodes, p, half, source.reach, source.effort);
        Local::new(self, Patch::new(&source, &nodes, (*p, half))).off(p)
    }
}
