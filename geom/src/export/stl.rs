//! Binary STL.

use crate::mesh::Mesh;

/// Binary STL in millimetres (the format has no unit of its own). The header names what it holds; it never begins with
/// `solid`, which some readers take for text.
#[must_use]
pub fn stl(mesh: &Mesh, name: &str) -> Vec<u8> {
    let mut header = format!("millimetres, Z up: {name}").into_bytes();
    header.resize(80, b' ');
    let mut out = Vec::with_capacity(84 + 50 * mesh.triangles().len());
    out.extend(header);
    out.extend((mesh.triangles().len() as u32).to_le_bytes());
    for face in 0..mesh.triangles().len() {
        let normal = mesh.area_vector(face).try_normalize(0.0).unwrap_or_default();
        let corners = mesh.corners(face).map(|p| p.coords * 1000.0);
        for c in std::iter::once(&normal).chain(&corners).flat_map(|v| v.iter()) {
            out.extend((*c as f32).to_le_bytes());
        }
        out.extend([0; 2]);
    }
    out
}

/// Wavefront OBJ in millimetres, an object for each piece: its name and its triangles.
#[must_use]
pub fn plain_obj(mesh: &Mesh, pieces: &[(String, Vec<u32>)]) -> Vec<u8> {
    use std::fmt::Write;
    let mut out = String::with_capacity(mesh.triangles().len() * 50);
    // Writing to a string cannot fail.
    let _ = writeln!(out, "# millimetres, Z up");
    for p in mesh.positions() {
        let _ = writeln!(out, "v {:.4} {:.4} {:.4}", p.x * 1000.0, p.y * 1000.0, p.z * 1000.0);
    }
    for (name, faces) in pieces {
        let name: String = name.chars().map(|c| if c.is_control() || c == ' ' { '_' } else { c }).collect();
        let _ = writeln!(out, "o {name}");
        for &face in faces {
            let [a, b, c] = mesh.triangles()[face as usize];
            let _ = writeln!(out, "f {} {} {}", a + 1, b + 1, c + 1);
        }
    }
    out.into_bytes()
}
