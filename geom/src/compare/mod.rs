//! Two revisions of a model: how the new one lies against the old, what of it changed, where, and by how much.
//!
//! Shape is compared, never triangles: another exporter, another order or other triangles on the same surface change
//! nothing. First the new revision is laid on the old one ([`Placement`]), for a wrong unit, a shift, a turn or another up
//! axis is not growth. Then every triangle of each surface is measured against the other, interiors included, and what lies
//! beyond a tolerance is gathered into numbered [`Change`]s. Nothing depends on the number of threads.

mod changes;
mod deviation;
mod marked;
mod near;
mod parts;
mod placement;

pub use marked::Marked;
pub use parts::{Fate, PartPair};
pub use placement::{Placement, Stance};

use crate::distance::V3;
use crate::drawing::{Drawing, Model, Placing};
use crate::units::{Area, Length};
use deviation::{Ruler, Side};
use nalgebra::{Point3, Vector3};
use near::Near;

/// A model and where its low corner lies by the file's own coordinates.
#[derive(Clone, Copy, Debug)]
pub struct Revision<'a> {
    /// The placed model.
    pub model: &'a Model,
    /// The low corner in the file's coordinates, turned into the room: metres, Z up.
    pub low_in_file: Vector3<f64>,
}

/// Where a drawing's low corner lies once it is placed, in metres, axes as in the room.
#[must_use]
pub fn low_in_file(drawing: &Drawing, placing: &Placing) -> Vector3<f64> {
    let (depth, up) = (-placing.front.vector(), placing.up.vector());
    let axes = [depth.cross(&up), depth, up];
    let (low, size) = (V3::from(drawing.low()), V3::from(drawing.size()));
    V3::from_iterator(axes.iter().map(|axis| axis.dot(&low).min(axis.dot(&(low + size))))) * placing.unit.one().metres()
}

/// A place where the revisions differ. Lengths as the new revision is placed, from its low left front corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// Low corner of its box: to the right, back and up from the model's low left front corner.
    pub low: Point3<f64>,
    /// High corner of its box.
    pub high: Point3<f64>,
    /// Area of the new surface that lies off the old one.
    pub new_area: Area,
    /// Area of the old surface that lies off the new one.
    pub old_area: Area,
    /// Largest movement outward, or sideways where a face only grew.
    pub outward: Length,
    /// Largest movement inward.
    pub inward: Length,
}

impl Default for Change {
    fn default() -> Self {
        let (o, a, l) = (Point3::origin(), Area::ZERO, Length::ZERO);
        Self { low: o, high: o, new_area: a, old_area: a, outward: l, inward: l }
    }
}

/// What changed between two revisions.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// How the new revision lies against the old.
    pub placement: Placement,
    /// Largest distance seen between the surfaces, once laid on one another; metres of the old revision.
    pub farthest: Length,
    /// No point of either surface lies farther than this from the other. Where nothing lies beyond the tolerance it says no
    /// more than that: a piece settled as unchanged is not looked at more closely, so on the same surface in other triangles
    /// this may be near the tolerance while `farthest` is near nothing.
    pub bound: Length,
    /// Area of the new surface beyond the tolerance, in metres of the old revision.
    pub new_area: Area,
    /// Area of the old surface beyond the tolerance: what is gone.
    pub old_area: Area,
    /// The changed areas are off by no more than this, but for changes narrower than `smallest` inside one triangle, which
    /// may be missed.
    pub area_within: Area,
    /// Pieces were looked at down to this size.
    pub smallest: Length,
    /// Numbered changes, the largest first.
    pub changes: Vec<Change>,
    /// The change (an index) of each triangle of the new revision, `u32::MAX` for none.
    pub change_of_face: Vec<u32>,
    /// Triangles of the new revision that are changed in part, cut along the outlines of the changes.
    pub cuts: Vec<Piece>,
    /// Triangles of the old revision that are gone whole, ascending.
    pub gone: Vec<u32>,
    /// What is gone of the other triangles of the old revision, as the new revision is placed.
    pub gone_pieces: Vec<[Point3<f64>; 3]>,
    /// The triangle of the old revision nearest to each triangle of the new; `u32::MAX` for one without area.
    pub old_face: Vec<u32>,
    /// Parts matched.
    pub parts: Vec<PartPair>,
}

/// A piece of a triangle of the new revision, as it is placed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// The triangle.
    pub face: u32,
    /// Its corners, wound as the triangle is.
    pub corners: [Point3<f64>; 3],
    /// The change (an index), `u32::MAX` for none.
    pub change: u32,
}

impl Comparison {
    /// Nothing lies beyond the tolerance once the revisions are laid on one another.
    #[must_use]
    pub fn same_shape(&self) -> bool {
        self.changes.is_empty()
    }

    /// Surface that changed: the larger of what is new and what is gone, for of a thing taken away nothing is new.
    #[must_use]
    pub fn changed_area(&self) -> Area {
        self.new_area.max(self.old_area)
    }
}

/// How `new` lies against `old`, without comparing shapes: a scale far from 1 is told before anything is measured in a
/// wrong unit. The cost of two box trees.
#[must_use]
pub fn placement(old: &Revision<'_>, new: &Revision<'_>, tolerance: Length) -> Placement {
    let (old_near, new_near) = rayon::join(|| Near::of(old.model.mesh()), || Near::of(new.model.mesh()));
    placement::place(old, new, [&old_near, &new_near], tolerance_m(old, tolerance))
}

/// Coordinates in single precision are equal to no better than this, far from the origin of the file.
fn tolerance_m(old: &Revision<'_>, tolerance: Length) -> f64 {
    tolerance.metres().max(1e-6 * old.model.diagonal().max(old.low_in_file.amax()))
}

/// Pieces looked at over the whole of a surface, at most, in so many: the smallest piece follows.
const PIECES: f64 = 100_000.0;

/// Compares two revisions. Surfaces closer than `tolerance` are the same.
///
/// Areas of changes are summed from triangles cut along the outlines; how far they are off at most is in
/// [`Comparison::area_within`]. Near linear in the number of triangles of both.
#[must_use]
pub fn compare(old: &Revision<'_>, new: &Revision<'_>, tolerance: Length) -> Comparison {
    let (old_near, new_near) = rayon::join(|| Near::of(old.model.mesh()), || Near::of(new.model.mesh()));
    let tolerance_m = tolerance_m(old, tolerance);
    let placement = placement::place(old, new, [&old_near, &new_near], tolerance_m);
    let areas = [old, new].map(|r| crate::measure::area(r.model.mesh(), r.model.diagonal(), |_| true).square_metres());
    let smallest = (areas[0] / PIECES).sqrt().max(tolerance_m);
    let ruler = |side, other| Ruler { side, other, placement: &placement, tolerance: tolerance_m, smallest };
    let of_new = ruler(Side::New, &old_near).measure(new.model.mesh());
    let of_old = ruler(Side::Old, &new_near).measure(old.model.mesh());
    let gone_pieces = of_old.cuts.iter().map(|cut| cut.corners.map(|p| placement.back(&p).into())).collect();
    let mut gone: Vec<u32> = of_old.spots.iter().map(|spot| spot.face).collect();
    gone.dedup();
    gone.retain(|face| of_old.cuts.binary_search_by_key(face, |cut| cut.face).is_err());
    let mut spots = of_new.spots;
    spots.extend(of_old.spots);
    let (changes, of_spot) = changes::gather(&spots, &placement, tolerance_m);
    // Spots of the new surface come first, so their numbers stand.
    let cuts = of_new.cuts.iter().map(|cut| Piece {
        face: cut.face,
        corners: cut.corners.map(|p| placement.back(&p).into()),
        change: of_spot.get(cut.spot as usize).copied().unwrap_or(u32::MAX),
    });
    let cuts = cuts.collect();
    let mut change_of_face = vec![u32::MAX; new.model.mesh().triangles().len()];
    let mut changed = [old, new].map(|revision| vec![0.0; revision.model.parts().len()]);
    let mut sums = [0.0; 2];
    for (spot, &change) in spots.iter().zip(&of_spot) {
        let (side, model) = match spot.side {
            Side::Old => (0, old.model),
            Side::New => (1, new.model),
        };
        sums[side] += spot.area;
        changed[side][model.mesh().part_of(spot.face as usize) as usize] += spot.area;
        if spot.side == Side::New {
            let slot = &mut change_of_face[spot.face as usize];
            *slot = change.min(*slot);
        }
    }
    let parts = parts::Overlap {
        models: [old.model, new.model],
        partner: &of_new.partner,
        change_of_face: &change_of_face,
        changed: [&changed[0], &changed[1]],
        there: &|p| placement.there(p),
        tolerance: tolerance_m,
    }
    .pairs();
    Comparison {
        placement,
        farthest: Length::from_metres(of_new.farthest.max(of_old.farthest)),
        bound: Length::from_metres(of_new.bound.max(of_old.bound)),
        new_area: Area::from_square_metres(sums[1]),
        old_area: Area::from_square_metres(sums[0]),
        area_within: Area::from_square_metres(of_new.outline.max(of_old.outline)),
        smallest: Length::from_metres(smallest),
        changes,
        change_of_face,
        cuts,
        gone,
        gone_pieces,
        old_face: of_new.partner,
        parts,
    }
}
