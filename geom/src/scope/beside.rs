//! A side of which one flat is drawn straight and another, beside it, is turned.

use super::flat::{Flat, Outermost, Search};
use super::{NOBODY, Scoped, Settled, State, WORTH_ASKING};
use crate::measure;
use crate::units::{Angle, Area, Length};
use nalgebra::{Point3, Vector3};

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
    /// What else has its middle in that box, and is coated or asked about.
    pub with_it: Area,
}

/// A turned flat of less than this share of the straight one is the facets beside a base, which nobody would stand it on.
/// Common practice, no source.
const HALF_AS_MUCH: f64 = 0.5;

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
        if self.settled == Settled::Coated {
            return Vec::new();
        }
        let (straight, turned) = self.outermost.straight_and_turned();
        let pair = |k: usize| self.pair(straight, &turned[..=k], (scoped, search, datum));
        (0..turned.len()).filter_map(pair).collect()
    }

    /// The straight flat and the last of some turned ones, without what the others hold.
    fn pair(
        &self,
        straight: Flat,
        turned: &[(Flat, bool)],
        (scoped, search, datum): (&Scoped, &Search<'_>, &Vector3<f64>),
    ) -> Option<Beside> {
        let (&(turned, counts), larger) = turned.split_last()?;
        let (mesh, diagonal) = (search.model.mesh(), search.model.diagonal());
        let is_open = |face: usize| [self.by, NOBODY].contains(&scoped.decided[face]);
        let holds = |flat: Flat, face: usize| flat.holds(mesh, face);
        let beside = |face: usize| {
            is_open(face)
                && holds(turned, face)
                && !holds(straight, face)
                && !larger.iter().any(|(larger, _)| holds(*larger, face))
        };
        let area = |holds: &(dyn Fn(usize) -> bool + Sync)| measure::area(mesh, diagonal, holds);
        let (size, level) = (area(&beside), area(&|face| holds(straight, face)));
        if size <= area(&|_| true) * WORTH_ASKING || size < level * HALF_AS_MUCH {
            return None;
        }
        let (mut low, mut high) = (Vector3::repeat(f64::INFINITY), Vector3::repeat(f64::NEG_INFINITY));
        let mut inmost = f64::INFINITY;
        for face in (0..mesh.triangles().len()).filter(|face| beside(*face)) {
            let corners = mesh.corners(face).map(|p| p.coords);
            let middle = corners.iter().sum::<Vector3<f64>>() / 3.0;
            (low, high) = (low.inf(&middle), high.sup(&middle));
            inmost = corners.iter().map(|p| p.dot(&self.direction)).fold(inmost, f64::min);
        }
        let middle = |face: usize| mesh.corners(face).iter().map(|p| p.coords).sum::<Vector3<f64>>() / 3.0;
        let with_it = |face: usize| {
            let middle = middle(face);
            let is_in = (0..3).all(|k| low[k] <= middle[k] && middle[k] <= high[k]);
            is_in && !beside(face) && !holds(straight, face) && scoped.states[face] == State::Coated
        };
        let with_it = area(&with_it);
        Some(Beside {
            with_it,
            side: self.name,
            straight: level,
            turned: size,
            angle: turned.turned(&self.direction)?,
            off: Length::from_metres(search.reach(&self.direction) - inmost),
            counts,
            is_bare: self.settled == Settled::Bare,
            middles: [low, high].map(|corner| (corner + datum).into()),
        })
    }
}
