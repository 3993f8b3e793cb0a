//! Wavefront OBJ and MTL.

use super::{Group, zone_groups};
use crate::mesh::Mesh;
use crate::zones::Zones;
use std::fmt::Write;

/// Two files that belong together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ObjFiles {
    /// The model.
    pub obj: Vec<u8>,
    /// The materials.
    pub mtl: Vec<u8>,
}

/// One group and one material a zone, named like `W1_wall`; `bare` for the rest. `mtl_name` is the file name that the
/// model refers to: it is written without line breaks.
#[must_use]
pub fn obj(mesh: &Mesh, zones: &Zones, mtl_name: &str) -> ObjFiles {
    obj_of(mesh, &zone_groups(zones, mesh.triangles().len(), ""), mtl_name)
}

/// The same by groups.
#[must_use]
pub fn obj_of(mesh: &Mesh, groups: &[Group], mtl_name: &str) -> ObjFiles {
    let mut obj = String::with_capacity(mesh.triangles().len() * 60);
    let mut mtl = String::new();
    let name: String = mtl_name.chars().filter(|c| !c.is_control()).collect();
    // Writing to a string cannot fail.
    let _ = writeln!(obj, "# metres, Z up\nmtllib {name}");
    for p in mesh.positions() {
        let _ = writeln!(obj, "v {} {} {}", p.x, p.y, p.z);
    }
    for Group { name: group, colour, faces, .. } in groups {
        let [r, g, b] = colour.map(|c| f64::from(c) / 255.0);
        let _ = writeln!(mtl, "newmtl {group}\nKd {r:.4} {g:.4} {b:.4}\nKa 0 0 0\nKs 0 0 0\nd 1\nillum 1\n");
        let _ = writeln!(obj, "g {group}\nusemtl {group}");
        for &f in faces {
            let [a, b, c] = mesh.triangles()[f as usize].map(|v| v + 1);
            let _ = writeln!(obj, "f {a} {b} {c}");
        }
    }
    ObjFiles { obj: obj.into_bytes(), mtl: mtl.into_bytes() }
}
