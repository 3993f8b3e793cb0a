//! The mesh of the page: small steps between neighbours, written as bytes, deflated, base64.

use super::super::picture::{Colouring, Labels, Scene, Tag, bounds, figure, figure_place};
use crate::failure::Failure;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use cragskin_geom::display::Display;
use flate2::Compression;
use flate2::write::DeflateEncoder;
use nalgebra::Point3;
use serde_json::{Value, json};
use std::io::Write;

/// Steps across the longest side: 0.15 mm on a piece of 10 m.
const STEPS: f64 = 65_535.0;

/// A whole number as 7-bit groups, low ones first; the sign is the lowest bit.
fn push(bytes: &mut Vec<u8>, value: i64) {
    let mut rest = ((value << 1) ^ (value >> 63)) as u64;
    loop {
        let low = (rest & 127) as u8;
        rest >>= 7;
        bytes.push(if rest == 0 { low } else { low | 128 });
        if rest == 0 {
            return;
        }
    }
}

/// The packed mesh and what the viewer must know beside it.
pub(super) fn pack(display: &Display, scene: &Scene<'_>, colourings: &[Colouring]) -> Result<(String, Value), Failure> {
    let [low, high] = bounds(scene.mesh);
    let step = (high - low).max().max(1e-9) / STEPS;
    let mut bytes = Vec::new();
    for axis in 0..3 {
        let mut last = 0;
        for p in &display.positions {
            let q = ((p[axis] - low[axis]) / step).round() as i64;
            push(&mut bytes, q - last);
            last = q;
        }
    }
    let mut last = 0;
    for triangle in &display.triangles {
        let [a, b, c] = triangle.map(i64::from);
        push(&mut bytes, a - last);
        push(&mut bytes, b - a);
        push(&mut bytes, c - a);
        last = a;
    }
    let faces = || display.stands_for.iter().map(|face| *face as usize);
    let labels = scene.labels;
    for colouring in colourings {
        bytes.extend(faces().map(|face| colouring.entry(labels, face) as u8));
    }
    for (_, two) in wide(labels) {
        bytes.extend(faces().map(|face| two[face].to_le_bytes()[0]));
        bytes.extend(faces().map(|face| two[face].to_le_bytes()[1]));
    }
    let failed = |error: std::io::Error| Failure::new(format!("the mesh cannot be packed: {error}"));
    let mut deflate = DeflateEncoder::new(Vec::new(), Compression::best());
    deflate.write_all(&bytes).map_err(failed)?;
    let packed = STANDARD.encode(deflate.finish().map_err(failed)?);
    Ok((packed, facts(display, scene, colourings, step)))
}

fn facts(display: &Display, scene: &Scene<'_>, colourings: &[Colouring], step: f64) -> Value {
    let [low, high] = bounds(scene.mesh);
    let three = |p: Point3<f64>| json!([p.x, p.y, p.z]);
    let millimetre = |x: f64| (x * 1000.0).round() / 1000.0;
    let person = figure(figure_place([low, high]));
    let corners = (0..person.triangles().len()).flat_map(|face| person.corners(face));
    let legends: serde_json::Map<String, Value> = colourings
        .iter()
        .map(|colouring| {
            let kinds = colouring
                .legend(scene.labels)
                .into_iter()
                .map(|(name, tint)| json!({ "name": name, "rgb": tint.rgb, "pattern": tint.pattern as u8 }));
            (colouring.name().to_owned(), kinds.collect())
        })
        .collect();
    let tag = |tag: &Tag| {
        let out = scene.mesh.area_vector(tag.face as usize).normalize();
        json!({ "name": tag.name, "at": three(tag.at), "out": [out.x, out.y, out.z] })
    };
    json!({
        "vertices": display.positions.len(),
        "triangles": display.triangles.len(),
        "low": three(low),
        "high": three(high),
        "step": step,
        "figure": corners.flat_map(|p| [p.x, p.y, p.z].map(millimetre)).collect::<Vec<_>>(),
        "legends": legends,
        "narrow": colourings.iter().map(|colouring| colouring.name()).collect::<Vec<_>>(),
        "wide": wide(scene.labels).iter().map(|(name, _)| *name).collect::<Vec<_>>(),
        "tags": {
            "zones": scene.zones.iter().map(tag).collect::<Vec<_>>(),
            "changes": scene.changes.iter().map(tag).collect::<Vec<_>>(),
        },
    })
}

/// What is told of each face in two bytes, for the rows that speak of it.
fn wide(labels: &Labels) -> Vec<(&'static str, &[u16])> {
    let mut wide = vec![("part", &labels.part[..]), ("zone", &labels.zone)];
    wide.extend(labels.change.iter().map(|change| ("change", &change[..])));
    wide
}
