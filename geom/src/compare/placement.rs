//! How a new revision lies against the old one: moved, turned, mirrored or scaled as a whole, found before shapes are compared.
//!
//! Candidates are tried in the order of how likely they are, and scored by the share of evenly spread samples of each
//! surface that lie within a tolerance of the other. The file's own coordinates win unless another is clearly better.

use super::near::Near;
use super::{Revision, V3};
use crate::units::{Length, ModelUnit};
use nalgebra::{Matrix3, Rotation3};
use rayon::prelude::*;

/// A place in the new revision to the same place in the old: `scale * rotation * p + shift`, both models standing as they
/// are placed (low corner at zero).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placement {
    /// Orthogonal; of determinant -1 when the new revision is mirrored.
    pub rotation: Matrix3<f64>,
    /// Old length by new length: 1 unless the new revision is scaled as a whole.
    pub scale: f64,
    /// In metres of the old revision.
    pub shift: V3,
    /// How far the new revision lies off the old one's place by the files' own coordinates.
    pub moved: V3,
}

/// What a [`Placement`] amounts to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stance {
    /// Where it was.
    Same,
    /// Shifted as a whole.
    Shifted,
    /// Turned about up by so many degrees, anticlockwise seen from above.
    Turned(f64),
    /// Another axis is up.
    UpChanged,
    /// Left and right exchanged.
    Mirrored,
}

impl Placement {
    pub(crate) fn there(&self, p: &V3) -> V3 {
        self.rotation * p * self.scale + self.shift
    }

    pub(crate) fn back(&self, p: &V3) -> V3 {
        self.rotation.transpose() * (p - self.shift) / self.scale
    }

    /// Whether the scale moves any corner of a model with this diagonal by more than `tolerance`.
    #[must_use]
    pub fn is_scaled(&self, diagonal: f64, tolerance: Length) -> bool {
        (self.scale - 1.0).abs() * diagonal > tolerance.metres()
    }

    /// What it amounts to, scale apart. A shift below `tolerance` is none.
    #[must_use]
    pub fn stance(&self, tolerance: Length) -> Stance {
        let r = &self.rotation;
        if r.determinant() < 0.0 {
            Stance::Mirrored
        } else if r[(2, 2)] < 1.0 - 1e-9 {
            Stance::UpChanged
        } else if r[(0, 0)] < 1.0 - 1e-9 {
            Stance::Turned(r[(0, 1)].atan2(r[(0, 0)]).to_degrees())
        } else if self.moved.norm() > tolerance.metres() {
            Stance::Shifted
        } else {
            Stance::Same
        }
    }

    /// The exact factor behind the scale when it comes from a wrong unit, with two units of that ratio: drawn in, read as.
    #[must_use]
    pub fn unit_slip(&self) -> Option<(f64, [ModelUnit; 2])> {
        unit_pairs().find(|(factor, _)| (self.scale / factor - 1.0).abs() < 1e-3)
    }
}

/// Every ratio of two model units.
fn unit_pairs() -> impl Iterator<Item = (f64, [ModelUnit; 2])> {
    let pairs = ModelUnit::ALL.into_iter().flat_map(|a| ModelUnit::ALL.into_iter().map(move |b| (a, b)));
    pairs.filter(|(a, b)| a != b).map(|(a, b)| (a.one().metres() / b.one().metres(), [a, b]))
}

/// Evenly spread points of a surface and what it amounts to.
struct Survey {
    samples: Vec<V3>,
    area: f64,
    middle: V3,
    low: V3,
    high: V3,
    /// Direction of the longest spread in plan.
    plan_angle: f64,
}

impl Survey {
    fn of(revision: &Revision<'_>) -> Self {
        let mesh = revision.model.mesh();
        let faces = mesh.triangles().len();
        let areas: Vec<f64> = (0..faces).into_par_iter().map(|f| mesh.area_vector(f).norm()).collect();
        let area: f64 = areas.iter().sum();
        let step = area / SAMPLES as f64;
        let (mut samples, mut reached, mut sum, mut spread) = (Vec::new(), 0.0, V3::zeros(), Matrix3::zeros());
        let (mut low, mut high) = (V3::repeat(f64::INFINITY), V3::repeat(f64::NEG_INFINITY));
        for (face, &a) in areas.iter().enumerate() {
            let [p, q, r] = mesh.corners(face).map(|c| c.coords);
            let middle = (p + q + r) / 3.0;
            low = low.inf(&p.inf(&q).inf(&r));
            high = high.sup(&p.sup(&q).sup(&r));
            sum += middle * a;
            // Second moments of a triangle: (sum of the corners' products + 9 middle middle') a / 12.
            spread += (p * p.transpose() + q * q.transpose() + r * r.transpose() + 9.0 * middle * middle.transpose())
                * (a / 12.0);
            let first = (reached / step).ceil() as usize;
            reached += a;
            for k in first..((reached / step).ceil() as usize).min(SAMPLES) {
                // Two additive sequences of irrational step spread the points over large triangles.
                let (u, v) = ((k as f64 * 0.754_877_666).fract(), (k as f64 * 0.569_840_291).fract());
                let (u, v) = if u + v > 1.0 { (1.0 - u, 1.0 - v) } else { (u, v) };
                samples.push(p + (q - p) * u + (r - p) * v);
            }
        }
        let middle = sum / area;
        let spread = spread / area - middle * middle.transpose();
        let plan_angle = 0.5 * (2.0 * spread[(0, 1)]).atan2(spread[(0, 0)] - spread[(1, 1)]);
        Self { samples, area, middle, low, high, plan_angle }
    }
}

const SAMPLES: usize = 1500;
/// Samples tried first; a candidate that fits them badly is not looked at again.
const FIRST: usize = 100;
/// With this share in place by the files' coordinates nothing else is tried.
const IN_PLACE: f64 = 0.85;
/// A turned box may differ by this share along each axis, for the revision may have changed as well.
const BOX_WITHIN: f64 = 0.2;
/// A candidate must fit this share better than staying in place.
const CLEARLY: f64 = 0.05;
/// A candidate that leaves more than half of the surfaces off one another is a guess: the revision stays where its file
/// puts it. A ledge tilted by 5 degrees fits no better than that anywhere.
const AT_LEAST: f64 = 0.5;

/// Finds the placement of `new` on `old`.
pub(crate) fn place(old: &Revision<'_>, new: &Revision<'_>, near: [&Near<'_>; 2], tolerance: f64) -> Placement {
    let surveys = [Survey::of(old), Survey::of(new)];
    let score = |placement: &Placement, count: usize| {
        let every = SAMPLES / count;
        let share = |samples: &[V3], hits: &(dyn Fn(&V3) -> f64 + Sync)| {
            let some: Vec<&V3> = samples.iter().step_by(every).collect();
            let within = some.par_iter().filter(|p| hits(p) <= tolerance).count();
            within as f64 / some.len().max(1) as f64
        };
        let distance = |near: &Near<'_>, p: V3| near.nearest(&p, None).map_or(f64::INFINITY, |hit| hit.distance);
        let there = share(&surveys[1].samples, &|p| distance(near[0], placement.there(p)));
        let back = share(&surveys[0].samples, &|p| distance(near[1], placement.back(p)) * placement.scale);
        (there + back) / 2.0
    };
    let moved = |rotation: Matrix3<f64>, scale: f64, shift: V3| {
        let moved = rotation * new.low_in_file * scale - old.low_in_file - shift;
        Placement { rotation, scale, shift, moved }
    };
    // By the files' coordinates, corner on corner, middle on middle.
    let shifts = |rotation: Matrix3<f64>, scale: f64| {
        let turned = box_of(&surveys[1], &rotation, scale);
        let mut shifts = vec![rotation * new.low_in_file * scale - old.low_in_file];
        for corner in 0..8 {
            shifts.push(V3::from_fn(|k, _| {
                let high = corner >> k & 1 == 1;
                if high { surveys[0].high[k] - turned[1][k] } else { surveys[0].low[k] - turned[0][k] }
            }));
        }
        shifts.push(surveys[0].middle - rotation * surveys[1].middle * scale);
        shifts
    };
    let one = Matrix3::identity();
    let at_home = moved(one, 1.0, shifts(one, 1.0)[0]);
    let home = (at_home, score(&at_home, SAMPLES));
    let settled = |score: f64| score > 0.999;
    if home.1 > IN_PLACE {
        return home.0;
    }
    let mut best = home;
    let by_area = (surveys[0].area / surveys[1].area).sqrt();
    let unit = unit_pairs().map(|(factor, _)| factor).filter(|f| (by_area / f).ln().abs() < 0.25);
    let mut scales = vec![1.0];
    scales.extend(unit.min_by(|a, b| (by_area / a).ln().abs().total_cmp(&(by_area / b).ln().abs())));
    // A scale that moves no corner by more than the tolerance is none.
    if (by_area - 1.0).abs() * (surveys[0].high - surveys[0].low).norm() > tolerance {
        scales.push(by_area);
    }
    let turn = |angle: f64| Rotation3::from_axis_angle(&V3::z_axis(), angle).into_inner();
    let principal = surveys[0].plan_angle - surveys[1].plan_angle;
    let mut rotations = vec![one];
    rotations.extend([principal, principal + std::f64::consts::PI].map(turn));
    let free = rotations.len();
    rotations.extend(axis_rotations());
    for (k, rotation) in rotations.into_iter().enumerate() {
        for &scale in &scales {
            let [low, high] = box_of(&surveys[1], &rotation, scale);
            let (size, wanted) = (high - low, surveys[0].high - surveys[0].low);
            if k >= free
                && (0..3).any(|axis| (size[axis] - wanted[axis]).abs() > BOX_WITHIN * size[axis].max(wanted[axis]))
            {
                continue;
            }
            for shift in shifts(rotation, scale) {
                let candidate = moved(rotation, scale, shift);
                if score(&candidate, FIRST) < best.1.max(AT_LEAST) - 0.1 {
                    continue;
                }
                let fit = score(&candidate, SAMPLES);
                // Strictly better, so that of equals the likelier, earlier one stays.
                if fit > AT_LEAST && fit > best.1 + 1e-3 && fit >= home.1 + CLEARLY.min((1.0 - home.1) / 2.0) {
                    best = (candidate, fit);
                }
                if settled(best.1) {
                    return best.0;
                }
            }
        }
    }
    best.0
}

fn box_of(survey: &Survey, rotation: &Matrix3<f64>, scale: f64) -> [V3; 2] {
    let corners = (0..8).map(|corner| {
        let p = V3::from_fn(|k, _| if corner >> k & 1 == 1 { survey.high[k] } else { survey.low[k] });
        rotation * p * scale
    });
    let none = [V3::repeat(f64::INFINITY), V3::repeat(f64::NEG_INFINITY)];
    corners.fold(none, |[low, high], p| [low.inf(&p), high.sup(&p)])
}

/// The turns that carry axes to axes, about up first, then the others, then the mirrored ones, left to right first.
fn axis_rotations() -> Vec<Matrix3<f64>> {
    let mut all: Vec<Matrix3<f64>> = Vec::new();
    for order in [[0, 1, 2], [1, 0, 2], [0, 2, 1], [2, 1, 0], [1, 2, 0], [2, 0, 1]] {
        for signs in 0..8 {
            let mut m = Matrix3::zeros();
            for (row, &column) in order.iter().enumerate() {
                m[(row, column)] = if signs >> row & 1 == 1 { -1.0 } else { 1.0 };
            }
            all.push(m);
        }
    }
    all.sort_by_key(|m| {
        let mirrored = m.determinant() < 0.0;
        let up_stays = m[(2, 2)] == 1.0;
        let left_right = *m == Matrix3::from_diagonal(&V3::new(-1.0, 1.0, 1.0));
        (mirrored, !up_stays, !left_right)
    });
    all
}
