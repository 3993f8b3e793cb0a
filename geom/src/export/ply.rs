//! Binary PLY with a colour a face.

use super::groups;
use crate::mesh::Mesh;
use crate::zones::Zones;

/// Little-endian, double coordinates, faces in the order of the mesh, colours by zone; property `zone` is the index of
/// the zone, -1 for bare.
#[must_use]
pub fn ply(mesh: &Mesh, zones: &Zones) -> Vec<u8> {
    let n = mesh.triangles().len();
    let mut colours = vec![[0; 3]; n];
    for (_, colour, faces) in groups(zones, n) {
        faces.iter().for_each(|&f| colours[f as usize] = colour);
    }
    let mut out = format!(
        "ply\nformat binary_little_endian 1.0\ncomment metres, Z up\nelement vertex {}\nproperty double x\nproperty double y\n\
         property double z\nelement face {n}\nproperty list uchar int vertex_indices\nproperty uchar red\n\
         property uchar green\nproperty uchar blue\nproperty int zone\nend_header\n",
        mesh.positions().len()
    )
    .into_bytes();
    out.reserve(mesh.positions().len() * 24 + n * 20);
    for p in mesh.positions() {
        for k in 0..3 {
            out.extend(p[k].to_le_bytes());
        }
    }
    for (f, t) in mesh.triangles().iter().enumerate() {
        out.push(3);
        t.iter().for_each(|v| out.extend((*v as i32).to_le_bytes()));
        out.extend(colours[f]);
        out.extend(zones.of(f).map_or(-1, |k| k as i32).to_le_bytes());
    }
    out
}
