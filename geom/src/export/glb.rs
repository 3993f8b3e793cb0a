//! glTF 2.0 binary: one mesh, node and material a zone.

use super::{Group, zone_groups};
use crate::mesh::Mesh;
use crate::zones::Zones;
use std::collections::HashMap;

/// Every zone a node with its own points, named like `W1_wall`. Y up and metres, as glTF asks.
///
/// Layout after the Khronos Group's *glTF 2.0 Specification*, section 4.4 (GLB container).
#[must_use]
pub fn glb(mesh: &Mesh, zones: &Zones) -> Vec<u8> {
    glb_of(mesh, &zone_groups(zones, mesh.triangles().len(), ""))
}

/// The same by groups.
#[must_use]
pub fn glb_of(mesh: &Mesh, groups: &[Group]) -> Vec<u8> {
    let mut data: Vec<u8> = Vec::new();
    let (mut nodes, mut meshes, mut materials, mut views, mut accessors) = (vec![], vec![], vec![], vec![], vec![]);
    for (k, Group { name, colour, faces, .. }) in groups.iter().enumerate() {
        let mut number: HashMap<u32, u32> = HashMap::new();
        let mut points: Vec<[f32; 3]> = Vec::new();
        let start = data.len();
        for &f in faces {
            for v in mesh.triangles()[f as usize] {
                let index = *number.entry(v).or_insert_with(|| {
                    let p = mesh.positions()[v as usize];
                    points.push([p.x as f32, p.z as f32, -p.y as f32]);
                    points.len() as u32 - 1
                });
                data.extend(index.to_le_bytes());
            }
        }
        let middle = data.len();
        points.iter().flatten().for_each(|x| data.extend(x.to_le_bytes()));
        let bound = |pick: fn(f32, f32) -> f32| {
            [0, 1, 2].map(|i| points.iter().map(|p| p[i]).reduce(pick).unwrap_or(0.0).to_string()).join(",")
        };
        let index = |start, end, target| {
            format!(r#"{{"buffer":0,"byteOffset":{start},"byteLength":{},"target":{target}}}"#, end - start)
        };
        views.extend([index(start, middle, 34963), index(middle, data.len(), 34962)]);
        accessors.push(format!(
            r#"{{"bufferView":{},"componentType":5125,"count":{},"type":"SCALAR"}}"#,
            2 * k,
            3 * faces.len()
        ));
        accessors.push(format!(
            r#"{{"bufferView":{},"componentType":5126,"count":{},"type":"VEC3","min":[{}],"max":[{}]}}"#,
            2 * k + 1,
            points.len(),
            bound(f32::min),
            bound(f32::max)
        ));
        // Stored colours are for the eye; glTF wants them linear.
        let [r, g, b] = colour.map(|c| (f64::from(c) / 255.0).powf(2.2));
        materials.push(format!(
            r#"{{"name":"{name}","doubleSided":true,"pbrMetallicRoughness":{{"baseColorFactor":[{r:.4},{g:.4},{b:.4},1],"metallicFactor":0,"roughnessFactor":1}}}}"#
        ));
        meshes.push(format!(
            r#"{{"name":"{name}","primitives":[{{"attributes":{{"POSITION":{}}},"indices":{},"material":{k}}}]}}"#,
            2 * k + 1,
            2 * k
        ));
        nodes.push(format!(r#"{{"name":"{name}","mesh":{k}}}"#));
    }
    let all: Vec<String> = (0..nodes.len()).map(|k| k.to_string()).collect();
    // Without a single zone the lists would be empty, which glTF forbids: then only the frame is written.
    let body = if nodes.is_empty() {
        String::new()
    } else {
        format!(
            r#","scene":0,"scenes":[{{"nodes":[{}]}}],"nodes":[{}],"meshes":[{}],"materials":[{}],"bufferViews":[{}],"accessors":[{}],"buffers":[{{"byteLength":{}}}]"#,
            all.join(","),
            nodes.join(","),
            meshes.join(","),
            materials.join(","),
            views.join(","),
            accessors.join(","),
            data.len()
        )
    };
    let mut json = format!(r#"{{"asset":{{"version":"2.0"}}{body}}}"#).into_bytes();
    json.resize(json.len().next_multiple_of(4), b' ');
    data.resize(data.len().next_multiple_of(4), 0);
    let mut out = Vec::with_capacity(28 + json.len() + data.len());
    let total = 12 + 8 + json.len() + if data.is_empty() { 0 } else { 8 + data.len() };
    out.extend(b"glTF");
    out.extend(2_u32.to_le_bytes());
    out.extend((total as u32).to_le_bytes());
    for (kind, chunk) in [(b"JSON", &json), (b"BIN\0", &data)] {
        if !chunk.is_empty() {
            out.extend((chunk.len() as u32).to_le_bytes());
            out.extend(kind);
            out.extend(chunk);
        }
    }
    out
}
