//! What becomes of faces, and the sums of it.

use super::exposure::Facet;
use crate::numeric::FixedSum;
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;

/// What became of a face, or of a patch for a face of area 1.
#[derive(Clone, Debug, Default)]
pub(super) struct Fate {
    pub(super) exposed: f64,
    pub(super) buried: f64,
    pub(super) contact: f64,
    pub(super) doubled: f64,
    pub(super) hidden: f64,
    /// Area that bounds the union, positive where the solid is below.
    pub(super) bounding: f64,
    /// The same for what two pieces share.
    pub(super) common: Vec<([u32; 2], f64)>,
    /// Length of the edges of its cells.
    pub(super) edges: f64,
    /// What is kept of it.
    pub(super) kept: Kept,
    /// Area that a triangle drawn on it takes the place of.
    pub(super) handed: Vec<(u32, f64)>,
    /// Area of it against other pieces.
    pub(super) against: Vec<(u32, f64)>,
}

/// What of a face is part of the exposed surface.
#[derive(Clone, Debug, Default)]
pub(super) enum Kept {
    #[default]
    Nothing,
    Whole(Facet),
    Cells(Vec<(Facet, Vec<Point3<f64>>)>),
}

impl Fate {
    /// Adds a cell; `glued`: the piece that lies against it within the contact gap.
    pub(super) fn add(&mut self, verdict: &Verdict, area: f64, glued: Option<u32>) {
        match verdict.kind {
            Kind::Exposed if glued.is_some() => self.contact += area,
            Kind::Exposed => self.exposed += area,
            Kind::Buried => self.buried += area,
            Kind::Contact => self.contact += area,
            Kind::Doubled => self.doubled += area,
            Kind::Hidden => self.hidden += area,
        }
        let touches = matches!(verdict.kind, Kind::Exposed | Kind::Contact);
        self.against.extend(glued.or(verdict.against).filter(|_| touches).map(|q| (q, area)));
        self.bounding += f64::from(verdict.bounding) * area;
        for &(pair, sign) in &verdict.common {
            let signed = f64::from(sign) * area;
            match self.common.iter_mut().find(|c| c.0 == pair) {
                Some(c) => c.1 += signed,
                None => self.common.push((pair, signed)),
            }
        }
    }

    pub(super) fn scaled(&self, by: f64) -> Self {
        let common = self.common.iter().map(|&(pair, x)| (pair, x * by)).collect();
        Self {
            against: self.against.iter().map(|&(q, x)| (q, x * by)).collect(),
            exposed: self.exposed * by,
            buried: self.buried * by,
            contact: self.contact * by,
            doubled: self.doubled * by,
            hidden: self.hidden * by,
            bounding: self.bounding * by,
            common,
            edges: self.edges,
            kept: self.kept.clone(),
            handed: self.handed.clone(),
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Exposed,
    Buried,
    Contact,
    Doubled,
    /// It bounds nothing of what its own piece was closed to.
    Hidden,
}

pub(super) struct Verdict {
    pub(super) kind: Kind,
    pub(super) bounding: i32,
    pub(super) common: Vec<([u32; 2], i32)>,
    /// The piece that it lies against, if its kind is contact.
    pub(super) against: Option<u32>,
}

#[derive(Clone)]
pub(super) struct Totals {
    /// Exposed, buried, contact, doubled, hidden.
    pub(super) areas: [FixedSum; 5],
    pub(super) union: FixedSum,
    pub(super) common: BTreeMap<[u32; 2], FixedSum>,
    pub(super) edges: FixedSum,
    /// Area vectors of what bounds the union: nothing, if all is right.
    pub(super) closing: [FixedSum; 3],
}

impl Totals {
    pub(super) fn add(&mut self, fate: &Fate, lift: f64, normal: Vector3<f64>, modelled: bool, empty: FixedSum) {
        if modelled {
            let areas = [fate.exposed, fate.buried, fate.contact, fate.doubled, fate.hidden];
            for (sum, x) in self.areas.iter_mut().zip(areas) {
                sum.add(x);
            }
        }
        self.union.add(fate.bounding * lift);
        self.closing.iter_mut().zip(normal.iter()).for_each(|(sum, n)| sum.add(fate.bounding * n));
        for &(pair, signed) in &fate.common {
            self.common.entry(pair).or_insert(empty).add(signed * lift);
        }
        self.edges.add(fate.edges);
    }
}
