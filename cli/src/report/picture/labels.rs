//! What each face is, for colouring.

use crate::takeoff::Takeoff;
use cragskin_geom::lean::ClassLimits;
use cragskin_geom::scope::State;
use cragskin_geom::units::Angle;

/// One entry a face of the takeoff's mesh.
#[derive(Clone, Debug)]
pub struct Labels {
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
    /// Names of the zones, empty if the takeoff has none.
    pub zone_names: Vec<String>,
    /// Their classes.
    pub zone_classes: Vec<u8>,
}

impl Labels {
    /// Not coated.
    pub const BARE: u8 = 5;
    /// In no zone.
    pub const NO_ZONE: u16 = u16::MAX;

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
        Self {
            class: (0..n).map(class).collect(),
            state: takeoff.scoped.states.iter().map(|state| u8::from(*state != State::Coated)).collect(),
            part: (0..n).map(|face| u16::try_from(mesh.part_of(face)).unwrap_or(u16::MAX)).collect(),
            zone: (0..n).map(zone).collect(),
            lifts: (0..n).map(lifts).collect(),
            zone_names: steep.zones.zones.iter().map(|zone| zone.name.to_string()).collect(),
            zone_classes: steep.zones.zones.iter().map(|zone| zone.name.class as u8).collect(),
        }
    }
}
