//! Parts of two revisions matched: by name, then by the surface they share.

use super::V3;
use crate::drawing::Model;
use crate::measure::{self, PartMeasure};
use std::collections::{BTreeMap, BTreeSet};

/// What became of a part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fate {
    /// The same within tolerance.
    Same,
    /// The same shape, shifted by so much (metres: right, back, up).
    Moved([f64; 3]),
    /// Another shape.
    Changed,
    /// Only in the new revision.
    New,
    /// Only in the old revision.
    Gone,
}

/// A part of the old revision and the part of the new one that it became.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PartPair {
    /// Index in the old revision's parts.
    pub old: Option<usize>,
    /// Index in the new revision's parts.
    pub new: Option<usize>,
    /// What became of it.
    pub fate: Fate,
    /// Area in the old revision, square metres of the old revision.
    pub old_area_m2: f64,
    /// Area in the new revision, square metres as the new revision is placed.
    pub new_area_m2: f64,
}

/// A part that shares less than this of its surface with another is not that part under another name.
const SHARED: f64 = 0.2;

pub(crate) struct Overlap<'a> {
    pub(crate) models: [&'a Model; 2],
    /// Nearest old triangle of each new triangle.
    pub(crate) partner: &'a [u32],
    /// Change of each new triangle, `u32::MAX` for none.
    pub(crate) change_of_face: &'a [u32],
    /// Changed area of each part, old and new.
    pub(crate) changed: [&'a [f64]; 2],
    pub(crate) there: &'a dyn Fn(&V3) -> V3,
    pub(crate) tolerance: f64,
}

impl Overlap<'_> {
    pub(crate) fn pairs(&self) -> Vec<PartPair> {
        let [old, new] = self.models;
        let measures = self.models.map(|model| measure::parts(model.mesh(), model.diagonal(), model.parts().len()));
        let used = |k: usize| measures[k].iter().enumerate().filter(|(_, m)| m.triangles > 0).map(|(i, _)| i);
        let mut free: [BTreeSet<usize>; 2] = [used(0).collect(), used(1).collect()];
        let mut pairs = Vec::new();
        let take = |free: &mut [BTreeSet<usize>; 2], i: usize, j: usize| free[0].remove(&i) && free[1].remove(&j);
        // A name counts when it is there and stands for one part on each side.
        let names = |model: &Model| {
            let mut names: BTreeMap<(String, String), Vec<usize>> = BTreeMap::new();
            for (k, part) in model.parts().iter().enumerate().filter(|(_, part)| !part.name.is_empty()) {
                names.entry((part.name.clone(), part.material.clone())).or_default().push(k);
            }
            names
        };
        let new_names = names(new);
        for (name, olds) in names(old) {
            if let (&[i], Some(&[j])) = (olds.as_slice(), new_names.get(&name).map(Vec::as_slice))
                && free[0].contains(&i)
                && free[1].contains(&j)
                && take(&mut free, i, j)
            {
                pairs.push((Some(i), Some(j)));
            }
        }
        let mut shared: BTreeMap<(usize, usize), f64> = BTreeMap::new();
        for (face, &partner) in self.partner.iter().enumerate() {
            if partner == u32::MAX || self.change_of_face[face] != u32::MAX {
                continue;
            }
            let key = (old.mesh().part_of(partner as usize) as usize, new.mesh().part_of(face) as usize);
            if free[0].contains(&key.0) && free[1].contains(&key.1) {
                *shared.entry(key).or_default() += new.mesh().area_vector(face).norm();
            }
        }
        let mut shared: Vec<_> = shared.into_iter().collect();
        shared.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        for ((i, j), area) in shared {
            if area >= SHARED * measures[1][j].area && free[0].contains(&i) && free[1].contains(&j) {
                take(&mut free, i, j);
                pairs.push((Some(i), Some(j)));
            }
        }
        // One part on each side that nothing tells apart: the whole of an STL.
        if let (Some(&i), Some(&j)) = (free[0].first(), free[1].first())
            && measures[0].len() == 1
            && measures[1].len() == 1
        {
            take(&mut free, i, j);
            pairs.push((Some(i), Some(j)));
        }
        pairs.extend(free[0].iter().map(|&i| (Some(i), None)));
        pairs.extend(free[1].iter().map(|&j| (None, Some(j))));
        pairs.sort_by_key(|&(i, j)| (j.is_none(), j, i));
        pairs.into_iter().map(|(i, j)| self.pair(i, j, &measures)).collect()
    }

    fn pair(&self, old: Option<usize>, new: Option<usize>, measures: &[Vec<PartMeasure>; 2]) -> PartPair {
        let fate = match (old, new) {
            (Some(i), Some(j)) => self.fate(&measures[0][i], &measures[1][j], self.changed[0][i] + self.changed[1][j]),
            (None, _) => Fate::New,
            (_, None) => Fate::Gone,
        };
        let area = |k: usize, part: Option<usize>| part.map_or(0.0, |part| measures[k][part].area);
        PartPair { old, new, fate, old_area_m2: area(0, old), new_area_m2: area(1, new) }
    }

    /// Moved when box, area and triangles are the same at another place: what a designer who drags a boulder leaves.
    fn fate(&self, old: &PartMeasure, new: &PartMeasure, changed: f64) -> Fate {
        if changed == 0.0 {
            return Fate::Same;
        }
        let (low, high) = ((self.there)(&new.low.coords), (self.there)(&new.high.coords));
        let (a, b) = (low - old.low.coords, high - old.high.coords);
        let same_box = (a - b).amax() <= 1e-3 * self.tolerance.max((old.high - old.low).norm() * 1e-3);
        if same_box && old.triangles == new.triangles && (old.area / new.area - 1.0).abs() < 1e-5 {
            Fate::Moved(a.into())
        } else {
            Fate::Changed
        }
    }
}
