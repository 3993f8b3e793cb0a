//! From a fixture to what the library reads.

use cragskin_fixtures::Shape;
use cragskin_geom::drawing::{Axis, Drawing, Model, Placing};
use cragskin_geom::intake::{Corners, PartName, Receipt, Soup};
use cragskin_geom::mesh::Mesh;
use cragskin_geom::scope::{Cleared, Scope};
use cragskin_geom::soundness::Checked;
use cragskin_geom::units::ModelUnit;
use nalgebra::Point3;
use std::collections::HashMap;

/// Equal positions joined, the order of the shape kept; nothing else is touched.
pub(crate) fn mesh(shape: &Shape) -> Mesh {
    let mut seen = HashMap::new();
    let mut positions = Vec::new();
    let weld: Vec<u32> = (shape.positions.iter())
        .map(|p| {
            *seen.entry(p.map(|c| (c + 0.0).to_bits())).or_insert_with(|| {
                positions.push(Point3::from(*p));
                positions.len() as u32 - 1
            })
        })
        .collect();
    Mesh::new(positions, shape.triangles.iter().map(|t| t.map(|v| weld[v as usize])).collect(), Vec::new())
}

pub(crate) fn soup(shape: &Shape) -> Soup<'static> {
    Soup {
        corners: Corners::Indexed { positions: shape.positions.clone(), triangles: shape.triangles.clone() },
        part_of: if shape.parts.len() > 1 { shape.part_of.clone() } else { Vec::new() },
        parts: shape.parts.iter().map(|name| PartName { name: name.clone(), material: String::new() }).collect(),
        receipt: Receipt { format: "OBJ", triangles_in_file: shape.triangles.len(), lines: Vec::new() },
    }
}

pub(crate) fn drawing(shape: &Shape) -> Drawing {
    Drawing::from_soup(soup(shape)).unwrap()
}

pub(crate) fn placed(shape: &Shape, unit: ModelUnit) -> Model {
    drawing(shape).place(Placing { unit, up: Axis::PLUS_Z, front: Axis::MINUS_Y }).unwrap()
}

pub(crate) fn checked(shape: &Shape, unit: ModelUnit) -> Checked {
    Checked::new(placed(shape, unit), 0)
}

/// The model without what the rules leave out.
pub(crate) fn clear(sound: Checked, scope: &Scope) -> (Checked, Cleared) {
    let mut cleared = Cleared::of(&sound.model);
    let Some(keep) = scope.keeps(&sound.model, true, &mut cleared) else { return (sound, cleared) };
    let (left, low) = sound.keeping(&keep);
    cleared.moved(low);
    (left, cleared)
}

/// A body turned about the vertical: the profile `[radius, height]` runs from the apex on the axis to the rim, and the rim is closed
/// by a flat disc.
pub(crate) fn lathe(profile: &[[f64; 2]], n: u32) -> Shape {
    let rings = profile.len() as u32 - 1;
    let mut positions = vec![[0.0, 0.0, profile[0][1]]];
    for [r, z] in &profile[1..] {
        let at = |i: u32| (2.0 * std::f64::consts::PI * f64::from(i) / f64::from(n)).sin_cos();
        positions.extend((0..n).map(at).map(|(s, c)| [r * c, r * s, *z]));
    }
    let on = |ring: u32, i: u32| 1 + ring * n + i % n;
    let mut triangles: Vec<[u32; 3]> = (0..n).map(|i| [0, on(0, i), on(0, i + 1)]).collect();
    for ring in 1..rings {
        for i in 0..n {
            let [a, b, c, d] = [on(ring - 1, i), on(ring, i), on(ring, i + 1), on(ring - 1, i + 1)];
            triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    let middle = positions.len() as u32;
    positions.push([0.0, 0.0, profile[rings as usize][1]]);
    triangles.extend((0..n).map(|i| [middle, on(rings - 1, i + 1), on(rings - 1, i)]));
    Shape::new("lathe", positions, triangles)
}

/// The five regular bodies with side 1, from coordinates: tetrahedron, cube, octahedron, dodecahedron, icosahedron.
pub(crate) fn platonic() -> Vec<Shape> {
    let golden = (1.0 + 5_f64.sqrt()) / 2.0;
    let signs = |p: [f64; 3]| {
        (0..8_u32)
            .map(|s| [0, 1, 2].map(|k| if s >> k & 1 == 1 { -p[k] } else { p[k] }))
            .filter(|q| (0..3).all(|k| p[k] != 0.0 || q[k].is_sign_positive()))
            .collect::<Vec<_>>()
    };
    let cyclic =
        |p: [f64; 3]| [p, [p[1], p[2], p[0]], [p[2], p[0], p[1]]].into_iter().flat_map(signs).collect::<Vec<_>>();
    let (cube, axes) = (signs([1.0; 3]), cyclic([1.0, 0.0, 0.0]));
    let even = |p: &[f64; 3]| p[0] * p[1] * p[2] > 0.0;
    let (four, other): (Vec<_>, Vec<_>) = cube.iter().copied().partition(even);
    let dodecahedron = [cube.clone(), cyclic([0.0, 1.0 / golden, golden])].concat();
    let icosahedron = cyclic([0.0, 1.0, golden]);
    let dual = cyclic([1.0, 0.0, golden]);
    vec![
        convex("tetrahedron", &four, &other, 8_f64.sqrt()),
        convex("cube", &cube, &axes, 2.0),
        convex("octahedron", &axes, &cube, 2_f64.sqrt()),
        convex("dodecahedron", &dodecahedron, &dual, 2.0 / golden),
        convex("icosahedron", &icosahedron, &[cube, cyclic([0.0, golden, 1.0 / golden])].concat(), 2.0),
    ]
}

/// A convex body from its corners and the directions of its faces, scaled so that `side` becomes 1.
fn convex(name: &str, corners: &[[f64; 3]], faces: &[[f64; 3]], side: f64) -> Shape {
    let dot = |a: &[f64; 3], b: &[f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
    let mut triangles = Vec::new();
    for n in faces {
        let far = corners.iter().map(|p| dot(p, n)).fold(f64::MIN, f64::max);
        let mut rim: Vec<u32> =
            (0..corners.len() as u32).filter(|&i| dot(&corners[i as usize], n) > far - 1e-9).collect();
        let u = if n[0].abs() < 0.5 { [0.0, n[2], -n[1]] } else { [-n[2], 0.0, n[0]] };
        let v = [n[1] * u[2] - n[2] * u[1], n[2] * u[0] - n[0] * u[2], n[0] * u[1] - n[1] * u[0]];
        let length = |a: &[f64; 3]| dot(a, a).sqrt();
        let turn = |i: &u32| {
            let p = &corners[*i as usize];
            (dot(p, &v) / length(&v)).atan2(dot(p, &u) / length(&u))
        };
        rim.sort_by(|a, b| turn(a).total_cmp(&turn(b)));
        triangles.extend(rim.windows(2).skip(1).map(|pair| [rim[0], pair[0], pair[1]]));
    }
    Shape::new(name, corners.iter().map(|p| p.map(|c| c / side)).collect(), triangles)
}
