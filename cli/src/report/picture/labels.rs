//! What each face is, for colouring.

use crate::job::Face;
use crate::request::Request;
use crate::takeoff::{Takeoff, solid};
use cragskin_geom::compare::Comparison;
use cragskin_geom::lean::ClassLimits;
use cragskin_geom::scope::State;
use cragskin_geom::skin::local_thickness_at;
use cragskin_geom::soundness::Grade;
use cragskin_geom::units::{Angle, Length, feet_inches};

/// One entry a face of the takeoff's mesh.
#[derive(Clone, Debug)]
pub struct Labels {
    /// What zones, lean, lath and lifts are worth: where they are not defined there are no colours by them.
    pub worth: Grade,
    /// 0-4 the lean class of a coated face, [`BARE`](Self::BARE) for the rest.
    pub class: Vec<u8>,
    /// 0 coated, 1 bare.
    pub state: Vec<u8>,
    /// The part.
    pub part: Vec<u16>,
    /// The zone; [`NO_ZONE`](Self::NO_ZONE) without one.
    pub zone: Vec<u16>,
    /// Lifts; 0 where not coated.
    pub lifts: Vec<u8>,
    /// Takes lath.
    pub lath: Vec<bool>,
    /// Names of the zones, empty if the takeoff has none.
    pub zone_names: Vec<String>,
    /// Their classes.
    pub zone_classes: Vec<u8>,
    /// How thick the piece is, if asked and if it has an inside.
    pub thickness: Option<Thickness>,
    /// Which numbered change, [`SAME`](Self::SAME) for none; if there is an older revision to compare with.
    pub change: Option<Vec<u16>>,
}

/// How thick the piece is straight in from each face, in bands.
#[derive(Clone, Debug, PartialEq)]
pub struct Thickness {
    /// Where each band but the last ends.
    pub ends: [Length; 4],
    /// The bands hold the skin of both faces and the foam; else foam alone.
    pub with_skin: bool,
    /// The band of each face.
    pub band: Vec<u8>,
}

impl Labels {
    /// Not coated.
    pub const BARE: u8 = 5;
    /// In no zone.
    pub const NO_ZONE: u16 = u16::MAX;
    /// As in the older revision.
    pub const SAME: u16 = u16::MAX;

    /// From a takeoff.
    #[must_use]
    pub fn of(takeoff: &Takeoff, limits: &ClassLimits) -> Self {
        let mesh = takeoff.checked.model.mesh();
        let n = mesh.triangles().len();
        let steep = &takeoff.steep;
        let zone = |face| steep.zones.of(face).and_then(|zone| u16::try_from(zone).ok()).unwrap_or(Self::NO_ZONE);
        let lifts = |face| match steep.zones.of(face) {
            Some(_) => u8::try_from(steep.lift_rules.on(steep.zones.lean(face)).lifts).unwrap_or(u8::MAX),
            None => 0,
        };
        let class = |face: usize| match takeoff.scoped.states[face] {
            State::Coated => {
                let up = mesh.area_vector(face).normalize().z.clamp(-1.0, 1.0);
                limits.class(Angle::from_radians(up.acos())) as u8
            }
            State::Bare | State::LeftOut => Self::BARE,
        };
        let mut laths = vec![false; steep.zones.zones.len()];
        steep.lath.zones.iter().for_each(|lath| laths[lath.zone] = true);
        Self {
            worth: takeoff.lean_quality().grade,
            class: (0..n).map(class).collect(),
            state: takeoff.scoped.states.iter().map(|state| u8::from(*state != State::Coated)).collect(),
            part: (0..n).map(|face| u16::try_from(mesh.part_of(face)).unwrap_or(u16::MAX)).collect(),
            zone: (0..n).map(zone).collect(),
            lifts: (0..n).map(lifts).collect(),
            lath: (0..n).map(|face| steep.zones.of(face).is_some_and(|zone| laths[zone])).collect(),
            zone_names: steep.zones.zones.iter().map(|zone| zone.name.to_string()).collect(),
            zone_classes: steep.zones.zones.iter().map(|zone| zone.name.class as u8).collect(),
            thickness: None,
            change: None,
        }
    }

    /// With the thickness of the piece at these faces, where the model has an inside: one ray a face.
    ///
    /// Of a finished face the first band has no foam, as the skins of both sides meet, and the second less than the book's
    /// `core.min`; of a core face the first is foam thinner than that. Faces not asked for are in the last band.
    #[must_use]
    pub fn with_thickness(self, takeoff: &Takeoff, request: &Request, faces: &[u32]) -> Self {
        if takeoff.quality.core_volume.grade == Grade::NotDefined {
            return self;
        }
        let solid = solid(&takeoff.checked, request);
        let mut straight = vec![Length::from_metres(f64::INFINITY); self.class.len()];
        if takeoff.exposure.is_whole() {
            let all = faces.iter().zip(local_thickness_at(solid.mesh(), faces));
            all.for_each(|(face, through)| straight[*face as usize] = through);
        } else {
            // Blocks that overlap are one piece; what is buried in it has no thickness.
            let mut asked = vec![false; solid.mesh().triangles().len()];
            faces.iter().for_each(|face| asked[*face as usize] = true);
            let (surface, facets) = takeoff.exposure.surface(&solid);
            let looked: Vec<u32> =
                (0..facets.len() as u32).filter(|k| asked[facets[*k as usize].source as usize]).collect();
            for (k, through) in looked.iter().zip(local_thickness_at(&surface, &looked)) {
                let least = &mut straight[facets[*k as usize].source as usize];
                *least = least.min(through);
            }
        }
        let with_skin = request.face == Face::Finished;
        let least = request.book.foam.core_min;
        let skins = takeoff.applied.thickness * 2.0;
        let [first, second] = if with_skin { [skins, skins + least] } else { [least, least * 2.0] };
        let foot = Length::from_feet(1.0).max(second * 2.0);
        let ends = [first, second, foot, foot * 2.0];
        let band = straight.iter().map(|t| ends.iter().filter(|end| *t >= **end).count() as u8).collect();
        Self { thickness: Some(Thickness { ends, with_skin, band }), ..self }
    }

    /// With the places that changed since an older revision.
    #[must_use]
    pub fn with_changes(self, comparison: &Comparison) -> Self {
        let change = comparison.change_of_face.iter();
        Self { change: Some(change.map(|k| u16::try_from(*k).unwrap_or(Self::SAME)).collect()), ..self }
    }
}

impl Thickness {
    /// What each band is called.
    #[must_use]
    pub fn names(&self) -> [String; 5] {
        let to = |k: usize| format!("to {}", feet_inches(self.ends[k]));
        let [first, second] = if self.with_skin { [", no foam", ", thin foam"] } else { [", thin foam", ""] };
        [to(0) + first, to(1) + second, to(2), to(3), "more".to_owned()]
    }
}
