//! Where a coat ends beside a bare face that the surface runs smoothly on to: cut square to its own face.
//!
//! All truths by plane geometry, worked out beside each check. The bound printed must hold them.

use crate::common::mesh;
use cragskin_fixtures::solid::{IsBare, block, ngon, prism, tiles};
use cragskin_fixtures::{Shape, SplitMix};
use cragskin_geom::mesh::Mesh;
use cragskin_geom::skin::{Accuracy, Coat, Face, OpenSkin, Skin, core_mesh, exposed_skin, skin, skin_on_grid};
use cragskin_geom::solid::{Exposure, Solid};
use cragskin_geom::topology::Topology;
use cragskin_geom::units::Length;
use nalgebra::Point3;

fn posed(shape: &Shape, pose: u32) -> Mesh {
    mesh(&shape.clone().rotate([0.3, 0.5, 0.8], 37.0 * f64::from(pose)))
}

/// A column of 48 flats, lids and some flats bare.
struct Column {
    shape: Shape,
    coated: Vec<bool>,
    flat: f64,
    turn: f64,
}

const FLATS: usize = 48;
const RADIUS: f64 = 1.2;
const HEIGHT: f64 = 0.9;
const T: f64 = 0.04;

fn column(is_bare: impl Fn(usize) -> bool) -> Column {
    let shape = prism(&ngon(FLATS, RADIUS), HEIGHT);
    let drawn = mesh(&shape);
    let turn = std::f64::consts::TAU / FLATS as f64;
    // Flats by the direction they face; the corners of the polygon lie at whole turns or half ones.
    let way = |f: usize| {
        let n = drawn.area_vector(f);
        (n.z.abs() < 1e-9).then(|| (n.y.atan2(n.x).rem_euclid(std::f64::consts::TAU) / turn).floor() as usize % FLATS)
    };
    let coated = (0..drawn.triangles().len()).map(|f| way(f).is_some_and(|k| !is_bare(k))).collect();
    Column { shape, coated, flat: 2.0 * RADIUS * (turn / 2.0).sin(), turn }
}

/// One flat of 48 bare. Outside: a slab on each of 47 flats and a wedge at each of the 46 joints between them. Inside: each joint
/// takes off the kite that both slabs fill, and at the two ends the slab is whole. With the plane of the bare flat carried on
/// through the coat it would be shaved for sqrt(2 R t) = 310 mm on each side, two flats.
#[test]
fn a_round_column_with_a_bare_flat() {
    let Column { shape, coated, flat, turn } = column(|k| k == 0);
    assert_eq!(coated.iter().filter(|c| **c).count(), 2 * (FLATS - 1));
    let slabs = 47.0 * flat * T;
    let outside = HEIGHT * (slabs + 46.0 * turn * T * T / 2.0);
    let inside = HEIGHT * (slabs - 46.0 * (turn / 2.0).tan() * T * T);
    for pose in 0..2 {
        let drawn = posed(&shape, pose);
        for (face, want) in [(Face::Core, outside), (Face::Finished, inside)] {
            let coat = Coat { coated: &coated, ..Coat::everywhere(face, Length::from_metres(T)) };
            let skin = skin(&drawn, &coat, Accuracy::USUAL);
            let (volume, bound) = (skin.volume.cubic_metres(), skin.bound.cubic_metres());
            assert!((volume - want).abs() <= bound, "{face:?} {pose}: {volume} is not {want} within {bound}");
            assert!(bound <= 0.005 * volume, "{face:?} {pose}: bound {bound} of {volume}");
        }
    }
}

/// What the foam shop cuts of it: foam in front of the bare flat up to the edge, mix behind the coated one. Turned into the plane of
/// the bare flat, a point so far past the edge and so deep is foam; the same before the edge is mix.
#[test]
fn the_core_of_a_round_column_with_a_bare_flat() {
    let Column { shape, coated, flat, turn } = column(|k| k == 0);
    let drawn = mesh(&shape);
    let coat = Coat { coated: &coated, ..Coat::everywhere(Face::Finished, Length::from_metres(T)) };
    let core = core_mesh(&drawn, &drawn, &coat, Length::from_metres(T / 2.0));
    assert_eq!(core.open_edges(), 0);
    let way = |angle: f64| Point3::new(angle.cos(), angle.sin(), 0.0).coords;
    let apothem = RADIUS * (turn / 2.0).cos();
    // Of the flat number `k`, `along` from its middle and `deep` under it, half way up.
    let place = |k: f64, along: f64, deep: f64| {
        let (out, left) = (way((k + 0.5) * turn), way((k + 0.5) * turn + std::f64::consts::FRAC_PI_2));
        Point3::from(out * (apothem - deep) + left * along + nalgebra::Vector3::z() * (HEIGHT / 2.0))
    };
    for past in [0.25 * T, 0.5 * T, 0.75 * T] {
        for side in [-1.0, 1.0] {
            let deep = 0.4 * T;
            let bare = place(0.0, side * (flat / 2.0 - past), deep);
            assert!(is_inside(&core.mesh, &bare), "{past} past the edge is foam");
            let coated = place(side, -side * (flat / 2.0 - past), deep);
            assert!(!is_inside(&core.mesh, &coated), "{past} before the edge is mix");
        }
    }
}

/// What the foam shop cuts behind a front of tiles of which every other one is bare: pockets as deep as the coat, square on every
/// side. Block less coated area times thickness.
#[test]
fn the_core_behind_a_checker_of_tiles() {
    const TILES: usize = 6;
    const SIZE: f64 = 0.6;
    let shape = tiles(TILES, SIZE, 0.0, |i, j, _| (i + j) % 2 == 1);
    let coated: Vec<bool> = shape.part_of.iter().map(|&part| shape.parts[part as usize] == "coated").collect();
    let coat = Coat { coated: &coated, ..Coat::everywhere(Face::Finished, Length::from_metres(T)) };
    let drawn = posed(&shape, 1);
    let core = core_mesh(&drawn, &drawn, &coat, Length::from_metres(T / 2.0));
    assert_eq!(core.open_edges(), 0);
    let (mix, pockets) = (SIZE * SIZE / 2.0 * T, volume_of(&drawn) - core.volume().cubic_metres());
    // Pockets one tenth of a millimetre too wide or too narrow on each side would be 0.4 % of the mix.
    assert!((pockets - mix).abs() < 0.002 * mix, "{pockets} of {mix}");
}

/// By the divergence theorem.
fn volume_of(mesh: &Mesh) -> f64 {
    let six = |t: usize| {
        let [a, b, c] = mesh.corners(t).map(|p| p.coords);
        a.dot(&b.cross(&c))
    };
    (0..mesh.triangles().len()).map(six).sum::<f64>() / 6.0
}

/// By the sum of solid angles. Source: A. van Oosterom, J. Strackee, *The solid angle of a plane triangle*, IEEE Transactions on
/// Biomedical Engineering, 1983.
fn is_inside(mesh: &Mesh, p: &Point3<f64>) -> bool {
    let angle = |t: usize| {
        let [a, b, c] = mesh.corners(t).map(|q| q - p);
        let [x, y, z] = [a, b, c].map(|v| v.norm());
        2.0 * a.dot(&b.cross(&c)).atan2(x * y * z + a.dot(&b) * z + b.dot(&c) * x + c.dot(&a) * y)
    };
    (0..mesh.triangles().len()).map(angle).sum::<f64>() > std::f64::consts::TAU
}

/// A hatch in the middle of a flat front stays bare: front less hatch, times the thickness, whether it is the front of a block or
/// a sheet. Nothing lies in front of the hatch.
#[test]
fn a_bare_hatch_in_a_flat_front() {
    let (width, height) = (1.6, 1.2);
    let shape = block(width, 0.5, height).subdivide().subdivide();
    let drawn = mesh(&shape);
    let [low, high] = shape.bounds();
    let front = |f: usize| drawn.area_vector(f).normalize().y < -0.9;
    let inside = |f: usize| {
        let middle = drawn.corners(f).iter().map(|p| p.coords).sum::<nalgebra::Vector3<f64>>() / 3.0;
        [0, 2].iter().all(|&k| {
            let share = (middle[k] - low[k]) / (high[k] - low[k]);
            share > 0.25 && share < 0.75
        })
    };
    let faces = 0..drawn.triangles().len();
    let coated: Vec<bool> = faces.clone().map(|f| front(f) && !inside(f)).collect();
    let area: f64 = faces.filter(|&f| coated[f]).map(|f| drawn.area_vector(f).norm()).sum();
    assert!((area - 0.75 * width * height).abs() < 1e-12);
    for face in [Face::Core, Face::Finished] {
        let coat = Coat { coated: &coated, ..Coat::everywhere(face, Length::from_metres(T)) };
        let skin = skin(&posed(&shape, 1), &coat, Accuracy::USUAL);
        let (volume, bound) = (skin.volume.cubic_metres(), skin.bound.cubic_metres());
        assert!((volume - area * T).abs() <= bound, "{face:?}: {volume} is not {} within {bound}", area * T);
    }

    let sheet = shape.delete(|f, _| !front(f));
    let drawn = mesh(&sheet);
    let solid_topology = Topology::of(&drawn);
    let solid = Solid::of(&drawn, &solid_topology, None);
    let exposure = Exposure::of(&solid, Length::ZERO);
    let bare = |f: usize| {
        let middle = drawn.corners(f).iter().map(|p| p.coords).sum::<nalgebra::Vector3<f64>>() / 3.0;
        [0, 2].iter().all(|&k| {
            let share = (middle[k] - low[k]) / (high[k] - low[k]);
            share > 0.25 && share < 0.75
        })
    };
    let coated: Vec<bool> = (0..drawn.triangles().len()).map(|f| !bare(f)).collect();
    let coat = Coat { coated: &coated, ..Coat::everywhere(Face::Core, Length::from_metres(T)) };
    let (skin, open) = exposed_skin(&solid, &exposure, &coat, Accuracy::USUAL);
    assert!(open.is_some_and(|open| open.agrees()));
    let (volume, bound) = (skin.volume.cubic_metres(), skin.bound.cubic_metres());
    assert!((volume - area * T).abs() <= bound, "sheet: {volume} is not {} within {bound}", area * T);
}

/// The skin of a body, turned askew, lies within its bound of what plane geometry says, and is known to a share of it.
pub(crate) fn assert_skin(what: &str, shape: &Shape, coat: &Coat, want: f64, known: f64) {
    let skin = skin(&posed(shape, 1), coat, Accuracy::USUAL);
    let (volume, bound) = (skin.volume.cubic_metres(), skin.bound.cubic_metres());
    assert!((volume - want).abs() <= bound, "{what}: {volume} is not {want} within {bound}");
    assert!(bound <= known * volume, "{what}: bound {bound} of {volume}");
}

/// The same of those of its faces that are in a sheet, coated outside: square cut all round.
fn assert_sheet(what: &str, shape: &Shape, coat: &Coat, is_in: impl Fn(usize) -> bool, want: f64) {
    let coated: Vec<bool> = (0..coat.coated.len()).filter(|f| is_in(*f)).map(|f| coat.coated[f]).collect();
    let sheet = mesh(&shape.clone().delete(|f, _| !is_in(f)));
    let (skin, open) = skin_of_sheet(&sheet, &coated, coat.thickness.metres());
    assert!(open.agrees(), "sheet, {what}: {:?} and {:?}", open.by_feet, open.by_points);
    let (volume, bound) = (skin.volume.cubic_metres(), skin.bound.cubic_metres());
    assert!((volume - want).abs() <= bound, "sheet, {what}: {volume} is not {want} within {bound}");
    assert!(bound <= 0.005 * volume, "sheet, {what}: bound {bound} of {volume}");
}

pub(crate) fn skin_of_sheet(sheet: &Mesh, coated: &[bool], thick: f64) -> (Skin, OpenSkin) {
    let topology = Topology::of(sheet);
    let solid = Solid::of(sheet, &topology, None);
    let exposure = Exposure::of(&solid, Length::ZERO);
    let coat = Coat { coated, ..Coat::everywhere(Face::Core, Length::from_metres(thick)) };
    let (skin, open) = exposed_skin(&solid, &exposure, &coat, Accuracy::USUAL);
    (skin, open.expect("a sheet"))
}

/// The front of a block, in square tiles of two triangles with their corners moved about in it, of which some stay bare. It is
/// flat, and nothing of the coat hangs over: the coated area times the thickness, whatever the border looks like.
#[test]
fn a_coat_that_ends_at_a_ragged_border() {
    const TILES: usize = 20;
    const SIZE: f64 = 0.6;
    const THICK: f64 = 0.031;
    let patterns: [(&str, IsBare); 5] = [
        ("half", |i, _, _| i < TILES / 2),
        ("stripes", |i, _, _| i % 2 == 0),
        ("squares", |i, j, _| (i + j) % 2 == 0),
        ("teeth", |i, j, _| i < TILES / 2 || (i == TILES / 2 && j % 2 == 0)),
        ("scattered", |i, j, k| SplitMix((2 * (i * TILES + j) + k) as u64).unit() < 0.5),
    ];
    for (name, is_bare) in patterns {
        for moved in [0.0, 0.3] {
            let shape = tiles(TILES, SIZE, moved, is_bare);
            assert_eq!(shape.unmatched_sides(), Vec::<[u32; 2]>::new());
            let drawn = mesh(&shape);
            let coated: Vec<bool> = shape.part_of.iter().map(|part| shape.parts[*part as usize] == "coated").collect();
            let area: f64 = (0..coated.len()).filter(|&f| coated[f]).map(|f| drawn.area_vector(f).norm()).sum();
            let coat = |face: Face| Coat { coated: &coated, ..Coat::everywhere(face, Length::from_metres(THICK)) };
            let faces: &[Face] = if moved > 0.0 { &[Face::Core, Face::Finished] } else { &[Face::Core] };
            for &face in faces {
                // Four times what is asked for: the work allowed ends before a border this ragged is known any better.
                assert_skin(&format!("{name} {moved} {face:?}"), &shape, &coat(face), area * THICK, 4.0 * 0.005);
            }
            if moved > 0.0 {
                let is_front = |face: usize| face < 2 * TILES * TILES;
                assert_sheet(&format!("{name} {moved}"), &shape, &coat(Face::Core), is_front, area * THICK);
            }
        }
    }
}

/// The same in the mesh that foam is cut by, or that the finished work is: what lies between it and the drawn one is the coat.
#[test]
fn the_core_behind_a_ragged_border() {
    const TILES: usize = 12;
    const SIZE: f64 = 0.5;
    const THICK: f64 = 0.031;
    let patterns: [(&str, IsBare); 2] = [
        ("teeth", |i, j, _| i < TILES / 2 || (i == TILES / 2 && j % 2 == 0)),
        ("scattered", |i, j, k| SplitMix((2 * (i * TILES + j) + k) as u64).unit() < 0.5),
    ];
    for (name, is_bare) in patterns {
        let shape = tiles(TILES, SIZE, 0.3, is_bare);
        let drawn = mesh(&shape);
        let coated: Vec<bool> = shape.part_of.iter().map(|part| shape.parts[*part as usize] == "coated").collect();
        let area: f64 = (0..coated.len()).filter(|&f| coated[f]).map(|f| drawn.area_vector(f).norm()).sum();
        for face in [Face::Core, Face::Finished] {
            let coat = Coat { coated: &coated, ..Coat::everywhere(face, Length::from_metres(THICK)) };
            let far = core_mesh(&drawn, &drawn, &coat, Length::from_metres(THICK / 6.0));
            let between = (volume_of(&far.mesh) - volume_of(&drawn)).abs();
            let share = between / (area * THICK);
            // The net rounds the arrises along the border by a part of its cells, a sixth of the thickness each.
            assert!((share - 1.0).abs() < 0.03, "{name} {face:?}: {share} of the coat lies between the meshes");
        }
    }
}

/// A flat band between two bare faces that turn away from it by less than a right angle, as beside a chamfer or over the floor under a
/// wall that leans out. The planes of the bare faces lean over the coat: it is a trapezoid (a triangle where they meet below the
/// coat's height), by plane geometry `W h - h^2 cot(turn)` with `h = min(t, W tan(turn) / 2)`. The other way round the band is
/// the floor of a valley, coated inside.
#[test]
fn a_coat_that_bare_planes_lean_over() {
    const THICK: f64 = 0.031;
    const LONG: f64 = 0.8;
    for (degrees, wide) in [(90.0, 0.1), (75.0, 0.1), (45.0, 0.4), (45.0, 0.05), (40.0, 0.1)] {
        let turn = f64::to_radians(degrees);
        let [high, aside] = [0.25, 0.25 / turn.tan()];
        let h = f64::min(THICK, wide * turn.tan() / 2.0);
        let want = LONG * (wide * h - h * h / turn.tan());
        let ridge = [[wide, 0.0], [0.0, 0.0], [-aside, -high], [wide + aside, -high]];
        let (left, right) = (-aside - 0.1, wide + aside + 0.1);
        let valley = [
            [left, -high],
            [right, -high],
            [right, high],
            [wide + aside, high],
            [wide, 0.0],
            [0.0, 0.0],
            [-aside, high],
            [left, high],
        ];
        for (face, section) in [(Face::Core, &ridge[..]), (Face::Finished, &valley[..])] {
            let what = format!("{face:?}, {degrees} degrees, {wide} wide");
            let shape = prism(section, LONG);
            let drawn = mesh(&shape);
            let is_band =
                |f: usize| drawn.area_vector(f).normalize().y > 0.9 && drawn.corners(f).iter().all(|p| p.y == 0.0);
            let coated: Vec<bool> = (0..drawn.triangles().len()).map(is_band).collect();
            assert_eq!(coated.iter().filter(|c| **c).count(), 2, "{what}");
            let coat = Coat { coated: &coated, ..Coat::everywhere(face, Length::from_metres(THICK)) };
            // Twice what is asked for: of a band of 50 mm under 31 mm most of the coat is its ends.
            assert_skin(&what, &shape, &coat, want, 2.0 * 0.005);

            let far = core_mesh(&drawn, &drawn, &coat, Length::from_metres(THICK / 4.0));
            let between = (volume_of(&far.mesh) - volume_of(&drawn)).abs();
            // Where two sides of the coat meet in an arris the net rounds it by a part of its cells, a quarter of the thickness each.
            assert!((between / want - 1.0).abs() < 0.03, "{what}: {between} between the meshes, {want}");

            if face == Face::Core {
                let is_sheet = |f: usize| drawn.area_vector(f).normalize().y > -0.1 && drawn.area_vector(f).z == 0.0;
                assert_sheet(&what, &shape, &coat, is_sheet, want);
            }
        }
    }
}

/// A groove between two coated flats, one side plumb and one leaning over the flat that it belongs to, both bare: the leaning plane
/// reaches back over the other flat too, and cuts nothing there. By plane geometry `2 W t - t^2 / 2` for a turn of 45 degrees.
/// And a stair with coated treads and bare risers lower than the coat is thick: each slab runs up to the riser, `3 W t`.
#[test]
fn a_coat_that_no_plane_of_another_ends() {
    const THICK: f64 = 0.031;
    const LONG: f64 = 0.5;
    let groove = [[0.505, 0.0], [0.255, 0.0], [0.25, -0.005], [0.25, 0.0], [0.0, 0.0], [0.0, -0.3], [0.505, -0.3]];
    let stair = |count: u32, tread: f64, rise: f64| {
        let step = |k: u32| [f64::from(k), f64::from(k + 1)].map(|x| [tread * x, rise * f64::from(k)]);
        let far = tread * f64::from(count);
        let up: Vec<[f64; 2]> = (0..count).flat_map(step).chain([[far, -0.3], [0.0, -0.3]]).collect();
        (up.into_iter().rev().collect::<Vec<_>>(), LONG * far * THICK)
    };
    let of_groove = LONG * (2.0 * 0.25 * THICK - THICK * THICK / 2.0);
    // Where treads are not much wider than the coat is thick, every cube has ends in it.
    let wide = [(3, 0.2, 0.02, 0.005), (3, 0.2, 0.03, 0.005)];
    // The last number is the bound as printed, rounded up to half a percent: 2.03 % of the first of these.
    let narrow = [(6, 0.06, 0.012, 0.025), (10, 0.04, 0.01, 0.04), (10, 0.04, 0.025, 0.04)];
    let stairs = wide.into_iter().chain(narrow).map(|(count, tread, rise, known)| {
        let (section, want) = stair(count, tread, rise);
        (format!("{count} of {tread} x {rise} m"), section, want, known)
    });
    let cases = [("groove".to_owned(), groove.to_vec(), of_groove, 0.005)].into_iter().chain(stairs);
    for (what, section, want, known) in cases {
        let shape = prism(&section, LONG);
        let drawn = mesh(&shape);
        let coated: Vec<bool> =
            (0..drawn.triangles().len()).map(|f| drawn.area_vector(f).normalize().y > 0.9).collect();
        let coat = Coat { coated: &coated, ..Coat::everywhere(Face::Core, Length::from_metres(THICK)) };
        assert_skin(&what, &shape, &coat, want, known);
        let is_sheet = |f: usize| drawn.area_vector(f).z == 0.0 && drawn.area_vector(f).normalize().y >= -0.9;
        assert_sheet(&what, &shape, &coat, is_sheet, want);
    }
}

/// A coat that ends at a bare face of its own plane, with the coat of another side within reach: that one goes on past the end, whatever
/// is nearest. A side 0.2 m high with a return of less than the coat's thickness, about an arris and in a corner: `0.2 t`. A plate of
/// 40 mm, its back coated and half of its front: the whole plate over that half, `t` over the other.
#[test]
fn past_an_end_the_coat_of_another_side_goes_on() {
    const THICK: f64 = 0.03;
    const LONG: f64 = 0.5;
    let block = |e: f64| vec![[0.0, 0.0], [e, 0.0], [0.3, 0.0], [0.3, 0.2], [0.0, 0.2]];
    let corner = |e: f64| vec![[0.0, 0.2], [-0.1, 0.2], [-0.1, -0.1], [0.3, -0.1], [0.3, 0.0], [e, 0.0], [0.0, 0.0]];
    let plate = vec![[0.0, 0.0], [0.1, 0.0], [0.2, 0.0], [0.2, 0.04], [0.0, 0.04]];
    let mut cases = vec![("plate", Face::Finished, plate, 0.1, true, 0.1 * (0.04 + THICK))];
    for e in [0.01, 0.025] {
        cases.push(("return", Face::Finished, block(e), e, false, 0.2 * THICK));
        cases.push(("corner", Face::Core, corner(e), e, false, 0.2 * THICK));
    }
    for (what, face, section, e, is_plate, want) in cases {
        let shape = prism(&section, LONG);
        let drawn = mesh(&shape);
        let is_coated = |f: usize| {
            let corners = drawn.corners(f);
            let all = |holds: &dyn Fn(f64, f64) -> bool| corners.iter().all(|p| holds(p.x, p.y));
            let flat = all(&|x, y| y == 0.0 && x <= e);
            let other = if is_plate { all(&|_, y| y == 0.04) } else { all(&|x, y| x == 0.0 && y >= 0.0) };
            drawn.area_vector(f).z == 0.0 && (flat || other)
        };
        let coated: Vec<bool> = (0..drawn.triangles().len()).map(is_coated).collect();
        let coat = Coat { coated: &coated, ..Coat::everywhere(face, Length::from_metres(THICK)) };
        assert_skin(&format!("{what}, {e} m"), &shape, &coat, want * LONG, 0.005);
    }
}

/// A finished column of which every other flat is bare. Square on its own flat each coat is whole, though
/// deep in it the bare flats beside it are nearer: coated area times thickness.
#[test]
fn a_coat_between_bare_flats_of_a_hollow() {
    const THICK: f64 = 0.03;
    let Column { shape, coated, flat, .. } = column(|k| k.is_multiple_of(2));
    assert_eq!(coated.iter().filter(|c| **c).count(), FLATS);
    let coat = Coat { coated: &coated, ..Coat::everywhere(Face::Finished, Length::from_metres(THICK)) };
    // The flats beside it would take t tan(turn / 2) / flat, 1.25 %: the bound must tell that apart.
    assert_skin("hollow", &shape, &coat, FLATS as f64 / 2.0 * flat * HEIGHT * THICK, 0.01);
}

/// The top of a block is coated, its sides are bare: planes everywhere, so cubes as large as the skin is thick are exact but for the
/// four corners, where two ends meet: of those no more than a cube each.
#[test]
fn a_slab_between_bare_sides_is_exact_on_large_cubes() {
    let shape = block(1.6, 1.1, 0.5);
    let drawn = mesh(&shape);
    let coated: Vec<bool> = (0..drawn.triangles().len()).map(|f| drawn.area_vector(f).z > 0.5).collect();
    let coat = Coat { coated: &coated, ..Coat::everywhere(Face::Core, Length::from_metres(T)) };
    let skin = skin_on_grid(&posed(&shape, 1), &coat, Length::from_metres(T));
    let off = skin.volume.cubic_metres() - 1.6 * 1.1 * T;
    assert!(off.abs() < 4.0 * T.powi(3), "off by {} cubes", off / T.powi(3));
}
