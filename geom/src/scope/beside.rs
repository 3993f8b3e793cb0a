//! A side of which one flat is drawn straight and another, beside it, is turned.

use super::flat::{Flat, LEAST_BESIDE, Outermost, Search};
use super::{NOBODY, Scoped, Settled, State, WORTH_ASKING};
use crate::measure;
use crate::units::{Angle, Area, Length};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// Two flats at one side. Shape does not tell whether the piece stands, or leans, on the turned one too.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beside {
    /// `floor` or `back`.
    pub side: &'static str,
    /// Area of the straight one; of whole faces, as the next.
    pub straight: Area,
    /// Area of the turned one that no rule has decided, without what the straight one and larger turned ones hold.
    pub turned: Area,
    /// How far that is turned.
    pub angle: Angle,
    /// How far it gets away from the outermost place of the side.
    pub off: Length,
    /// Both are taken for the side; otherwise the straight one alone is.
    pub counts: bool,
    /// The side is bare by an answer; otherwise nobody has said.
    pub is_bare: bool,
    /// Low and high corner of the box of the middles of the turned faces, from where rules measure: a box rule goes by middles, and those
    /// of faces about this flat lie outside.
    pub middles: [Point3<f64>; 2],
    /// What else has its middle in that box and would be another than it is, if the box said that the turned one is.
    pub with_it: Area,
}

/// A side, where it looks, what was said of it and who has decided its faces.
pub(super) struct Side<'a> {
    pub(super) name: &'static str,
    pub(super) direction: Vector3<f64>,
    pub(super) settled: Settled,
    pub(super) outermost: &'a Outermost,
    pub(super) by: u32,
}

impl Side<'_> {
    /// The straight flat with each turned one, once all rules are applied: none where the answer changes nothing, where a rule has decided
    /// what is turned, and where that is too little to be asked about. O(n) a flat.
    pub(super) fn beside(&self, scoped: &Scoped, search: &Search<'_>, datum: &Vector3<f64>) -> Vec<Beside> {
        let (straight, turned) = self.outermost.straight_and_turned();
        if self.settled == Settled::Coated || turned.is_empty() {
            return Vec::new();
        }
        let (mesh, diagonal) = (search.model.mesh(), search.model.diagonal());
        // A face is of the largest flat that holds it.
        let owner = |face: usize| {
            let is_open = [self.by, NOBODY].contains(&scoped.decided[face]) && !straight.holds(mesh, face);
            if is_open { turned.iter().position(|(flat, _)| flat.holds(mesh, face)) } else { None }
        };
        let owner: Vec<Option<usize>> = (0..mesh.triangles().len()).into_par_iter().map(owner).collect();
        let area = |is: &(dyn Fn(usize) -> bool + Sync)| measure::area(mesh, diagonal, is);
        let (whole, level) = (area(&|_| true), area(&|face| straight.holds(mesh, face)));
        let middle = |face: usize| mesh.corners(face).iter().map(|p| p.coords).sum::<Vector3<f64>>() / 3.0;
        let pair = |(k, &(flat, counts)): (usize, &(Flat, bool))| {
            let size = area(&|face| owner[face] == Some(k));
            if size <= whole * WORTH_ASKING || size < level * LEAST_BESIDE {
                return None;
            }
            let (mut low, mut high) = (Vector3::repeat(f64::INFINITY), Vector3::repeat(f64::NEG_INFINITY));
            let mut inmost = f64::INFINITY;
            for face in (0..owner.len()).filter(|face| owner[*face] == Some(k)) {
                (low, high) = (low.inf(&middle(face)), high.sup(&middle(face)));
                inmost = mesh.corners(face).iter().map(|p| p.coords.dot(&self.direction)).fold(inmost, f64::min);
            }
            let told = if counts { State::Coated } else { State::Bare };
            let with_it = |face: usize| {
                let middle = middle(face);
                let is_in = (0..3).all(|k| low[k] <= middle[k] && middle[k] <= high[k]);
                is_in && owner[face] != Some(k) && scoped.states[face] != told
            };
            Some(Beside {
                side: self.name,
                straight: level,
                turned: size,
                angle: flat.turned(&self.direction)?,
                off: Length::from_metres(search.reach(&self.direction) - inmost),
                counts,
                is_bare: self.settled == Settled::Bare,
                middles: [low, high].map(|corner| (corner + datum).into()),
                with_it: area(&with_it),
            })
        };
        turned.iter().enumerate().filter_map(pair).collect()
    }
}
