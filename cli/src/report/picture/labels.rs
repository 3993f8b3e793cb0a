//! What each face is, for colouring.

use crate::takeoff::Takeoff;
use cragskin_geom::lean::ClassLimits;
use cragskin_geom::scope::State;
use cragskin_geom::units::Angle;

/// One entry a face of the takeoff's mesh.
#[derive(Clone, Debug)]
pub struct Labels {
    /// 0-4 the lean class of a coated face, then [`BARE`](Self::BARE) and [`LEFT_OUT`](Self::LEFT_OUT).
    pub class: Vec<u8>,
    /// 0 coated, 1 bare, 2 left out.
    pub state: Vec<u8>,
    /// The part.
    pub part: Vec<u16>,
    /// The zone; [`NO_ZONE`](Self::NO_ZONE) without one.
    pub zone: Vec<u16>,
    /// Lifts; 0 where not coated.
    pub lifts: Vec<u8>,
    /// Names of the zones, empty if the takeoff has none.
    pub zone_names: Vec<String>,
}

impl Labels {
    /// Not coated.
    pub const BARE: u8 = 5;
    /// Not ours.
    pub const LEFT_OUT: u8 = 6;
    /// In no zone.
    pub const NO_ZONE: u16 = u16::MAX;

    /// From a takeoff.
    #[must_use]
    pub fn of(takeoff: &Takeoff, limits: &ClassLimits) -> Self {
        let mesh = takeoff.checked.model.mesh();
        let n = mesh.triangles().len();
        let class = |face: usize| match takeoff.scoped.states[face] {
            State::Coated => {
                let up = mesh.area_vector(face).normalize().z.clamp(-1.0, 1.0);
                limits.class(Angle::from_radians(up.acos())) as u8
            }
            State::Bare => Self::BARE,
            State::LeftOut => Self::LEFT_OUT,
        };
        Self {
            class: (0..n).map(class).collect(),
            state: takeoff.scoped.states.iter().map(|state| *state as u8).collect(),
            part: (0..n).map(|face| u16::try_from(mesh.part_of(face)).unwrap_or(u16::MAX)).collect(),
            zone: vec![Self::NO_ZONE; n],
            lifts: vec![0; n],
            zone_names: Vec::new(),
        }
    }
}
