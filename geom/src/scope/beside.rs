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
    /// How far the one that stands in its place is turned, where the piece stands turned as a whole.
    pub all_turned: Option<Angle>,
    /// Area of the turned one that no rule has decided, without faces that are turned less from another flat.
    pub turned: Area,
    /// How far that is turned.
    pub angle: Angle,
    /// How far it gets away from the outermost place of the side.
    pub off: Length,
    /// Both are taken for the side; otherwise the straight one alone is.
    pub counts: bool,
    /// The side is bare by an answer; otherwise nobody has said.
    pub is_bare: bool,
    /// Low and high corner of a box by which a rule finds the turned faces, from where rules measure: nearly that about the faces, which
    /// another drawing of the same shape fills alike, or if it takes others with it, that about their middles.
    pub place: [Point3<f64>; 2],
    /// What else has its middle in that box and would be another than it is, if the box said that the turned one is.
    pub with_it: Area,
}

/// How far within the edge of a flat the middles of its faces lie, in any drawing of it but one of slivers.
const WITHIN_EDGE: Length = Length::from_inches(0.25);
/// All but slivers of a flat.
const ALL_OF_IT: f64 = 0.99;

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
        let turned = self.outermost.beside();
        if self.settled == Settled::Coated || turned.is_empty() {
            return Vec::new();
        }
        let (mesh, diagonal) = (search.model.mesh(), search.model.diagonal());
        let is_ours = |face: usize| [self.by, NOBODY].contains(&scoped.decided[face]);
        // None of the straight one, and none where a rule has decided.
        let owner = |face: usize| {
            let turned = self.outermost.owner(mesh, face)?.checked_sub(1)?;
            (is_ours(face) || scoped.is_open(face)).then_some(turned)
        };
        let owner: Vec<Option<usize>> = (0..mesh.triangles().len()).into_par_iter().map(owner).collect();
        let area = |is: &(dyn Fn(usize) -> bool + Sync)| measure::area(mesh, diagonal, is);
        let (whole, level) = (area(&|_| true), area(&|face| self.outermost.owner(mesh, face) == Some(0)));
        let middle = |face: usize| mesh.corners(face).iter().map(|p| p.coords).sum::<Vector3<f64>>() / 3.0;
        let pair = |(k, &(flat, counts)): (usize, &(Flat, bool))| {
            let size = area(&|face| owner[face] == Some(k));
            // What another question asks about is not asked twice, but told whole where that is about a part of it.
            let asked = area(&|face| owner[face] == Some(k) && !is_ours(face));
            if size <= whole * WORTH_ASKING || size < level * LEAST_BESIDE || asked > size * ALL_OF_IT {
                return None;
            }
            let own = || (0..owner.len()).filter(|face| owner[*face] == Some(k));
            let inmost = own().flat_map(|face| mesh.corners(face)).map(|p| p.coords.dot(&self.direction));
            let inmost = inmost.fold(f64::INFINITY, f64::min);
            let told = if counts { State::Coated } else { State::Bare };
            let with_it = |[low, high]: &[Vector3<f64>; 2]| {
                let is_in = |at: Vector3<f64>| (0..3).all(|k| low[k] <= at[k] && at[k] <= high[k]);
                area(&|face| is_in(middle(face)) && owner[face] != Some(k) && scoped.states[face] != told)
            };
            let middles = bounds(own().map(middle));
            // Of the sides about it the middles lie in the plane of its edge.
            let edge = Vector3::from_fn(|k, _| if k == self.direction.iamax() { 0.0 } else { WITHIN_EDGE.metres() });
            let [low, high] = bounds(own().flat_map(|face| mesh.corners(face)).map(|p| p.coords));
            let whole = [middles[0].inf(&(low + edge)), middles[1].sup(&(high - edge))];
            let [with_whole, with_middles] = [with_it(&whole), with_it(&middles)];
            let (place, with_it) =
                if with_whole <= with_middles { (whole, with_whole) } else { (middles, with_middles) };
            Some(Beside {
                side: self.name,
                straight: level,
                all_turned: self.outermost.first().turned(&self.direction),
                turned: size,
                angle: flat.turned(&self.direction)?,
                off: Length::from_metres(search.reach(&self.direction) - inmost),
                counts,
                is_bare: self.settled == Settled::Bare,
                place: place.map(|corner| (corner + datum).into()),
                with_it,
            })
        };
        turned.iter().enumerate().filter_map(pair).collect()
    }
}

/// Low and high corner of the box about some places.
fn bounds(places: impl Iterator<Item = Vector3<f64>>) -> [Vector3<f64>; 2] {
    let none = Vector3::repeat(f64::INFINITY);
    places.fold([none, -none], |[low, high], p| [low.inf(&p), high.sup(&p)])
}
