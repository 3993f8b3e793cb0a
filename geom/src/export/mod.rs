//! The model with its zones as coloured, named parts, in open formats. Bytes out; nothing is written here.
//!
//! Wavefront OBJ with its material file, binary PLY with face colours, and glTF 2.0 binary (GLB). Coordinates are metres;
//! OBJ and PLY keep Z up, glTF has Y up as its specification asks. Cores go out in millimetres, as STL and plain OBJ.

mod glb;
mod obj;
mod ply;
mod sheet;
mod stl;

pub use glb::{glb, glb_of};
pub use obj::{ObjFiles, obj, obj_of};
pub use ply::{ply, ply_of};
pub use sheet::{Paper, SheetText, changed_elevation, elevation, joint_numbers};
pub use stl::{plain_obj, stl};

use crate::lean::Class;
use crate::zones::Zones;

/// Colours that stay apart for the colour-blind (after M. Okabe and K. Ito, *Color universal design*, 2008), by class in
/// order of lean; grey for bare. Shades within a class tell neighbouring zones apart.
pub(crate) const COLOURS: [[u8; 3]; 5] = [[0, 158, 115], [240, 228, 66], [86, 180, 233], [230, 159, 0], [213, 94, 0]];
const BARE: [u8; 3] = [160, 160, 160];
pub(crate) const PALE: [u8; 3] = [215, 215, 215];

/// Faces of one name and colour.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// One word, for OBJ.
    pub name: String,
    /// Red, green, blue.
    pub colour: [u8; 3],
    /// A number for PLY, which has no names.
    pub number: i32,
    /// Its faces.
    pub faces: Vec<u32>,
}

/// The colour of a zone.
#[must_use]
pub fn colour(class: Class, number: u32) -> [u8; 3] {
    let shade = [1.0, 0.8, 0.65, 0.9, 0.72][(number.saturating_sub(1) % 5) as usize];
    COLOURS[class as usize].map(|c| (f64::from(c) * shade).round() as u8)
}

/// Groups in order: every zone with its index, then what is bare as -1. `worth`: what the zones are worth, to stand in each name;
/// empty when good.
#[must_use]
pub fn zone_groups(zones: &Zones, faces: usize, worth: &str) -> Vec<Group> {
    let worth = if worth.is_empty() { String::new() } else { format!("_{}", worth.replace(' ', "_")) };
    let zone = |(k, z): (usize, &crate::zones::Zone)| Group {
        name: format!("{}_{}{worth}", z.name, z.name.class),
        colour: colour(z.name.class, z.name.number),
        number: k as i32,
        faces: z.faces().to_vec(),
    };
    let mut groups: Vec<Group> = zones.zones.iter().enumerate().map(zone).collect();
    let bare: Vec<u32> = (0..faces).filter(|&f| zones.of(f).is_none()).map(|f| f as u32).collect();
    if !bare.is_empty() {
        groups.push(Group { name: "bare".into(), colour: BARE, number: -1, faces: bare });
    }
    groups
}

/// The whole as one group, of a model whose zones are not defined.
#[must_use]
pub fn without_zones(faces: usize) -> Vec<Group> {
    vec![Group { name: "zones_not_defined".into(), colour: PALE, number: -1, faces: (0..faces as u32).collect() }]
}
