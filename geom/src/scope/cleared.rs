//! What rules leave out is taken out of the model before anything else is asked of it.

use super::flat::Search;
use super::{Faces, Rule, Scope, State};
use crate::drawing::Model;
use crate::intake::PartName;
use crate::measure;
use crate::units::{Angle, Area};
use nalgebra::Vector3;
use rayon::prelude::*;

/// What rules have left out of a model, and where they measure from: the low corner of all but the parts left out by name.
#[derive(Clone, Debug, PartialEq)]
pub struct Cleared {
    /// What is gone, a rule each; empty when no rule left anything out.
    rules: Vec<Gone>,
    /// The low corner of what is left, in the model that the rules measure on. In metres.
    pub datum: Vector3<f64>,
    /// Area left out, parts that are not in the model included.
    pub area: Area,
}

/// What one rule found among the faces that are gone.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Gone {
    /// Faces that it found, whichever rule left them out.
    pub(super) faces: usize,
    /// Area in square metres of those that it left out.
    pub(super) area: f64,
    /// How far the flat that it left out was turned.
    pub(super) turned: Option<Angle>,
}

impl Scope {
    /// Parts that the rules leave out as a whole: the last rule that names one, by name or material, decides. A rule for a place
    /// finds nothing of them.
    #[must_use]
    pub fn absent_parts(&self, parts: &[PartName]) -> Vec<bool> {
        let is_out = |part| self.last_naming(part).is_some_and(|k| self.rules[k].is == State::LeftOut);
        parts.iter().map(is_out).collect()
    }

    fn last_naming(&self, part: &PartName) -> Option<usize> {
        self.rules.iter().rposition(|rule| matches!(&rule.faces, Faces::Part(name) if part.is_called(name)))
    }

    /// Which faces to keep of a model, and notes in `cleared` what the rules leave out; none when they leave out nothing. Planes ask
    /// which way a face looks, so they are asked on a repaired model only, and so is a rule that a later plane may overrule. The
    /// caller takes the faces out and tells [`Cleared::moved`] where the low corner lay. O(n) a rule.
    pub fn keeps(&self, model: &Model, repaired: bool, cleared: &mut Cleared) -> Option<Vec<bool>> {
        let asked = |k: usize| repaired || !self.waits_for_repair(k);
        let rules = self.rules.len();
        if !(0..rules).any(|k| self.rules[k].is == State::LeftOut && asked(k)) {
            return None;
        }
        let search = Search { model, angle: self.within_angle };
        let aim = |k: usize| asked(k).then(|| self.rules[k].faces.aim(&search, &cleared.datum));
        let aims: Vec<_> = (0..rules).map(aim).collect();
        let finds = |k: usize, face: usize| aims[k].as_ref().is_some_and(|aim| aim.finds(face));
        let last = |face: usize| (0..rules).rev().find(|k| finds(*k, face));
        let faces = model.mesh().triangles().len();
        let out: Vec<Option<usize>> =
            (0..faces).into_par_iter().map(|face| last(face).filter(|k| self.rules[*k].is == State::LeftOut)).collect();
        let area = |f: &(dyn Fn(usize) -> bool + Sync)| measure::area(model.mesh(), model.diagonal(), f);
        cleared.rules.resize(rules, Gone::default());
        for (k, gone) in cleared.rules.iter_mut().enumerate() {
            gone.faces += (0..faces).into_par_iter().filter(|face| out[*face].is_some() && finds(k, *face)).count();
            if out.contains(&Some(k)) {
                gone.area += area(&|face| out[face] == Some(k)).square_metres();
                gone.turned = aims[k].as_ref().and_then(|aim| aim.turned());
            }
        }
        cleared.area += area(&|face| out[face].is_some());
        let keep: Vec<bool> = out.iter().map(Option::is_none).collect();
        keep.contains(&false).then_some(keep)
    }

    /// A plane, or what is left out unless a later plane keeps it.
    fn waits_for_repair(&self, rule: usize) -> bool {
        let is_plane = |rule: &Rule| matches!(rule.faces, Faces::Plane { .. });
        let keeps = |rule: &Rule| is_plane(rule) && rule.is != State::LeftOut;
        let Rule { is, .. } = self.rules[rule];
        is_plane(&self.rules[rule]) || is == State::LeftOut && self.rules[rule + 1..].iter().any(keeps)
    }
}

impl Cleared {
    /// Of a model as placed: nothing but the parts that are not in it any more.
    #[must_use]
    pub fn of(model: &Model) -> Self {
        let absent: f64 = model.absent_parts().iter().map(|part| part.area).sum();
        Self { rules: Vec::new(), datum: Vector3::zeros(), area: Area::from_square_metres(absent) }
    }

    /// The low corner of what is left lies here in the model that faces were taken from.
    pub fn moved(&mut self, low: Vector3<f64>) {
        self.datum += low;
    }

    /// What a rule found that is not in the model any more.
    pub(super) fn gone(&self, scope: &Scope, model: &Model, rule: usize) -> Gone {
        let mut gone = self.rules.get(rule).copied().unwrap_or_default();
        if let Faces::Part(name) = &scope.rules[rule].faces {
            for absent in model.absent_parts() {
                let part = &model.parts()[absent.part as usize];
                gone.faces += if part.is_called(name) { absent.triangles } else { 0 };
                gone.area += if scope.last_naming(part) == Some(rule) { absent.area } else { 0.0 };
            }
        }
        gone
    }
}
