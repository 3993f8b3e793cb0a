//! A side of which one flat is drawn straight and another, beside it, is turned.

use super::flat::{Outermost, Search};
use super::{Settled, Worth};
use crate::measure;
use crate::units::{Angle, Area, Length};
use nalgebra::Vector3;

/// Two flats at one side. Shape does not tell whether the piece stands, or leans, on the turned one too.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beside {
    /// `floor` or `back`.
    pub side: &'static str,
    /// Area of the straight one; of whole faces, as the next.
    pub straight: Area,
    /// Area of the turned one without what the straight one holds.
    pub turned: Area,
    /// How far that is turned.
    pub angle: Angle,
    /// How far it gets away from the straight one.
    pub off: Length,
    /// Both are taken for the side; otherwise the straight one alone is.
    pub counts: bool,
}

impl Beside {
    /// Of a side whose answer changes a figure; a turned flat too small to be asked about is none. O(n).
    pub(super) fn of(
        (side, settled): (&'static str, Settled),
        direction: &Vector3<f64>,
        outermost: &Outermost,
        search: &Search<'_>,
        worth: Worth,
    ) -> Option<Self> {
        let (straight, turned, counts) = outermost.straight_and_turned().filter(|_| settled != Settled::Coated)?;
        let (mesh, diagonal) = (search.model.mesh(), search.model.diagonal());
        let beside = |face: usize| turned.holds(mesh, face) && !straight.holds(mesh, face);
        let area = |holds: &(dyn Fn(usize) -> bool + Sync)| measure::area(mesh, diagonal, holds);
        let found = Self {
            side,
            straight: area(&|face| straight.holds(mesh, face)),
            turned: area(&beside),
            angle: turned.turned(direction)?,
            off: Length::from_metres(off(direction, search, beside)),
            counts,
        };
        let (size, whole) = (found.turned.square_metres(), area(&|_| true).square_metres());
        (size > worth.share * whole && size >= worth.least).then_some(found)
    }
}

/// How far the farthest corner of some faces lies inside the outermost place in a direction.
fn off(direction: &Vector3<f64>, search: &Search<'_>, holds: impl Fn(usize) -> bool) -> f64 {
    let mesh = search.model.mesh();
    let corners = (0..mesh.triangles().len()).filter(|face| holds(*face)).flat_map(|face| mesh.corners(face));
    let inmost = corners.map(|p| p.coords.dot(direction)).fold(f64::INFINITY, f64::min);
    search.reach(direction) - inmost
}
