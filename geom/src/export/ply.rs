//! Binary PLY with a colour a face.

use super::{Group, zone_groups};
use crate::mesh::Mesh;
use crate::zones::Zones;

/// Little-endian, double coordinates, faces in the order of the mesh, colours by zone; property `zone` is the index of
/// the zone, -1 for bare.
#[must_use]
pub fn ply(mesh: &Mesh, zones: &Zones) -> Vec<u8> {
    ply_of(mesh, &zone_groups(zones, mesh.triangles().len(), ""), "zone")
}

/// The same by groups: each face in the colour and with the number of the last group that it is in. `property`, one word,
/// names the number.
#[must_use]
pub fn ply_of(mesh: &Mesh, groups: &[Group], property: &str) -> Vec<u8> {
    let n = mesh.triangles().len();
    let mut paint = vec![([0; 3], -1); n];
    for group in groups {
        group.faces.iter().for_each(|&f| paint[f as usize] = (group.colour, group.number));
    }
    let mut out = format!(
        "ply\nformat binary_little_endian 1.0\ncomment metres, Z up\nelement vertex {}\nproperty double x\nproperty double y\n\
         property double z\nelement face {n}\nproperty list uchar int vertex_indices\nproperty uchar red\n\
         property uchar green\nproperty uchar blue\nproperty int {property}\nend_header\n",
        mesh.positions().len()
    )
    .into_bytes();
    out.reserve(mesh.positions().len() * 24 + n * 20);
    for p in mesh.positions() {
        for k in 0..3 {
            out.extend(p[k].to_le_bytes());
        }
    }
    for (t, (colour, number)) in mesh.triangles().iter().zip(&paint) {
        out.push(3);
        t.iter().for_each(|v| out.extend((*v as i32).to_le_bytes()));
        out.extend(colour);
        out.extend(number.to_le_bytes());
    }
    out
}
