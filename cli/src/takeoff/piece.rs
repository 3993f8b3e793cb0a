//! What is measured on a checked piece: its areas, its skin, where it is steep, what it stands on.

use crate::book::PerClass;
use crate::job::Face;
use crate::large;
use crate::notices;
use crate::proposed::Proposed;
use crate::quantities::floor::Footing;
use crate::quantities::skin::Applied;
use crate::quantities::{Measured, Measures};
use crate::report::shared::FindingJson;
use crate::request::Request;
use crate::stands;
use crate::steep::{self, Search, Steep};
use crate::store::{Key, Kind};
use cragskin_geom::drawing::Model;
use cragskin_geom::lean::lean_of;
use cragskin_geom::measure;
use cragskin_geom::projected;
use cragskin_geom::scope::{Cleared, Scoped, State};
use cragskin_geom::skin::{Coat, Face as Side, OpenSkin, Skin, exposed_skin, skin_by_formula};
use cragskin_geom::solid::{Exposure, Solid};
use cragskin_geom::soundness::{Checked, Grade, QualityTable};
use cragskin_geom::stance::OtherUp;
use cragskin_geom::units::{Angle, Area, Length};
use cragskin_geom::zones::{Surface, Zones};

/// A model less than this many skins across in every direction is no work for a skin: a 3 in pebble under 3/4 in.
const SKINS_ACROSS: f64 = 4.0;
/// A face this near a class limit may change class when it is carved.
const NEAR_LIMIT_DEGREES: f64 = 2.0;

/// How the skin of a model is found, by its size.
#[derive(Clone, Copy, Debug)]
pub(super) struct Method {
    /// Too large to measure.
    pub(super) too_large: bool,
    /// The model is nothing beside its skin: mostly a drawing in another unit than was said.
    pub(super) pebble: bool,
    /// By formula: the most that it can be.
    pub(super) by_formula: bool,
}

impl Method {
    pub(super) fn of(checked: &Checked, solid: &Solid<'_>, exposure: &Exposure, thickness: Length) -> Self {
        let across = checked.model.size().into_iter().fold(Length::ZERO, Length::max);
        let too_large = large::is_too_large(solid.mesh(), across, thickness);
        let pebble = across < thickness * SKINS_ACROSS;
        // Bodies that overlap have edges where they meet; no formula knows those.
        let by_formula = exposure.is_settled && (pebble || too_large && exposure.is_whole());
        Self { too_large, pebble, by_formula }
    }
}

/// Areas of what lies exposed.
pub(super) struct Areas {
    /// Coated or not, a face each.
    pub(super) coated_faces: Vec<bool>,
    pub(super) coated: Area,
    pub(super) bare: Area,
    pub(super) by_class: PerClass<Area>,
    pub(super) near_limit: [Area; 4],
    pub(super) coated_by_part: Vec<f64>,
    pub(super) elevation: Area,
}

impl Areas {
    pub(super) fn of(model: &Model, scoped: &Scoped, exposure: &Exposure, request: &Request) -> Self {
        let (mesh, diagonal, limits) = (model.mesh(), model.diagonal(), request.book.classes);
        let share = |face: usize| exposure.share(face);
        let is_coated = |face: usize| scoped.states[face] == State::Coated;
        let lean = |face: usize| lean_of(&mesh.area_vector(face));
        let [coated, bare] = measure::area_by(mesh, diagonal, share, |face| Some(scoped.states[face] as usize));
        let class = |face: usize| is_coated(face).then(|| limits.class(lean(face)) as usize);
        let near_limit = |face: usize| {
            let near = |limit: &Angle| (lean(face) - *limit).abs().degrees() <= NEAR_LIMIT_DEGREES;
            if is_coated(face) { limits.0.iter().position(near) } else { None }
        };
        let coated_share = |face: usize| if is_coated(face) { share(face) } else { 0.0 };
        Self {
            coated,
            bare,
            by_class: PerClass(measure::area_by(mesh, diagonal, share, class)),
            near_limit: measure::area_by(mesh, diagonal, share, near_limit),
            coated_by_part: measure::area_by_part(mesh, diagonal, model.parts().len(), coated_share),
            elevation: projected::elevation(mesh, model.size(), is_coated),
            coated_faces: (0..mesh.triangles().len()).map(is_coated).collect(),
        }
    }
}

/// A checked piece with its solid, ready to be measured.
pub(super) struct Piece<'a> {
    pub(super) checked: &'a Checked,
    /// Coated or not, a face each.
    pub(super) coated: &'a [bool],
    /// The solid, and what of its surface lies exposed.
    pub(super) outside: (&'a Solid<'a>, &'a Exposure),
    pub(super) applied: &'a Applied,
    pub(super) request: &'a Request,
    /// As [`key`] has it.
    pub(super) key: &'a Key,
}

/// What every measure of a piece is worked out from: its mesh, what is coated of it, and what its solid and what lies exposed of that
/// follow from. Nothing of that where nothing is kept, since hashing ten million triangles takes a second.
pub(super) fn key(checked: &Checked, coated: &[bool], request: &Request) -> Key {
    if !request.store.keeps() {
        return Key::new();
    }
    let (mesh, drawn) = (checked.model.mesh(), checked.drawn_faces());
    Key::new().with(mesh).with(&drawn).with(&coated).and(&(request.close, request.book.foam.contact_gap))
}

impl Piece<'_> {
    /// The skin, and how that of open sheets was found. `coated`: the area that stands in where nothing is measured.
    pub(super) fn skin(&self, method: Method, coated: Area) -> (Skin, Option<OpenSkin>) {
        let ((solid, exposure), thickness) = (self.outside, self.applied.thickness);
        let face = match self.request.face {
            Face::Finished => Side::Finished,
            Face::Core => Side::Core,
        };
        let coat = Coat { face, coated: self.coated, thickness, thickness_of: &[] };
        if method.by_formula {
            let (mesh, union) = (self.checked.model.mesh(), solid.is_closed().then_some(exposure.union));
            (skin_by_formula(mesh, &self.checked.topology, &coat, union), None)
        } else if method.too_large || !exposure.is_settled {
            (Skin::stand_in(coated, coated * thickness), None)
        } else {
            let key = || self.key.clone().and(&(face, thickness, self.request.accuracy));
            self.request.store.kept(Kind::Skin, key, || exposed_skin(solid, exposure, &coat, self.request.accuracy))
        }
    }

    /// Zones, lath and lifts; none where area or lean is not defined.
    pub(super) fn steep(&self, method: Method, quality: &QualityTable) -> Steep {
        let (book, thickness) = (&self.request.book, self.applied.thickness);
        let grade = quality.area.clone().and(quality.lean.clone()).grade;
        let no_zones = match grade {
            _ if method.too_large => Some(Search::TooLarge),
            Grade::NotDefined => Some(Search::NotDefined),
            Grade::Good | Grade::LowerBound | Grade::UpperBound | Grade::NotKnown => None,
        };
        if let Some(why) = no_zones {
            return Steep::not_looked_for(why, book, thickness);
        }
        let (mesh, topology) = (self.checked.model.mesh(), &self.checked.topology);
        let (rules, gap) = (steep::zone_rules(book), book.foam.contact_gap);
        let find = || {
            Zones::on(&Surface::exposed(mesh, topology, self.coated, self.outside, gap, rules.smooth_radius), &rules)
        };
        let zones = self.request.store.kept(Kind::Zones, || self.key.clone().and(&rules), find);
        Steep::new(mesh, topology, self.coated, zones, book, thickness)
    }

    /// What the piece stands on.
    pub(super) fn footing(&self, skin: &Skin) -> Measured<Footing> {
        let (solid, exposure) = self.outside;
        let within = (self.request.face == Face::Finished).then_some(skin.volume);
        let diagonal = Length::from_metres(self.checked.model.diagonal());
        stands::footing(solid, exposure, self.coated, within, diagonal)
    }

    /// What stands between the model and the numbers, and is no finding of the check.
    pub(super) fn notices(
        &self,
        (scoped, cleared): (&Scoped, &Cleared),
        (method, coated): (Method, Area),
        (steep, measures): (&Steep, &Measures),
        proposed: &Proposed,
        other_up: Option<&OtherUp>,
    ) -> Vec<FindingJson> {
        let ((_, exposure), request) = (self.outside, self.request);
        let all =
            notices::all(self.checked, request, (scoped, other_up), self.applied, method.too_large, &proposed.first);
        // Of what is buried nobody asks whether a tool reaches it.
        let reach = exposure.is_settled.then_some(steep);
        let unreached = reach.and_then(|steep| notices::unreached(steep, coated, self.applied.thickness));
        let apart = measures.footing.as_ref().and_then(|footing| notices::apart(footing, exposure));
        let proposed = proposed.findings.iter().cloned();
        let others = notices::hidden(exposure, request).into_iter().chain(large::notice(exposure)).chain(apart);
        proposed.chain(all).chain(others).chain(unreached).chain(notices::datum(cleared)).collect()
    }
}
