//! The core that a finished face leaves: closed, as large as hand sums say, and the places where there is none.

use crate::common::mesh;
use cragskin_fixtures::rock;
use cragskin_fixtures::solid::{block, frustum, icosphere, ngon, prism};
use cragskin_geom::effort::Effort;
use cragskin_geom::mesh::Mesh;
use cragskin_geom::skin::{
    Accuracy, Coat, CoreMesh, Face, Lack, Place, core_mesh, crevices, local_thickness, places, skin,
};
use cragskin_geom::solid::{Exposure, Solid};
use cragskin_geom::topology::Topology;
use cragskin_geom::units::Length;
use nalgebra::Vector3;
use std::collections::HashMap;
use std::f64::consts::PI;

fn inches(n: f64) -> Length {
    Length::from_inches(n)
}

const FT: f64 = 0.3048;

/// Every edge has two triangles that run along it in opposite directions, and so does every point of it after rounding
/// to the single precision of an STL file in millimetres.
fn assert_closed(name: &str, mesh: &Mesh) {
    let mut ways: HashMap<[u32; 2], [u32; 2]> = HashMap::new();
    for t in mesh.triangles() {
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            ways.entry([a.min(b), a.max(b)]).or_default()[usize::from(a < b)] += 1;
        }
    }
    let odd: Vec<_> = ways.iter().filter(|(_, n)| **n != [1, 1]).collect();
    assert!(odd.is_empty(), "{name}: {} of {} edges, say {:?}", odd.len(), ways.len(), odd[0]);
    let single = mesh.positions().iter().map(|p| [p.x, p.y, p.z].map(|c| ((c * 1000.0) as f32).to_bits()));
    let places: std::collections::HashSet<[u32; 3]> = single.collect();
    assert_eq!(places.len(), mesh.positions().len(), "{name}: vertices that fall together in single precision");
}

fn coat(face: Face, t: Length, coated: &[bool]) -> Coat<'_> {
    Coat { face, coated, thickness: t, thickness_of: &[] }
}

/// Faces whose normal is along one of the directions are bare.
fn bare(mesh: &Mesh, along: &[[f64; 3]]) -> Vec<bool> {
    (0..mesh.triangles().len())
        .map(|f| {
            let n = mesh.area_vector(f).normalize();
            !along.iter().any(|d| n.dot(&Vector3::from(*d)) > 0.999)
        })
        .collect()
}

fn core_of(mesh: &Mesh, coat: &Coat, grid: Length) -> CoreMesh {
    core_mesh(mesh, mesh, coat, grid)
}

fn cubic_feet(core: &CoreMesh) -> f64 {
    core.volume().cubic_feet()
}

/// Finished 8 x 4 x 6 ft, bottom bare, under 3/4 in: 7.875 x 3.875 x 5.9375 ft = 181.19 cu ft, by hand.
#[test]
fn core_of_a_finished_boulder() {
    let model = mesh(&block(8.0 * FT, 4.0 * FT, 6.0 * FT));
    let coated = bare(&model, &[[0.0, 0.0, -1.0]]);
    let core = core_of(&model, &coat(Face::Finished, inches(0.75), &coated), inches(0.75));
    assert_closed("boulder", &core.mesh);
    let want = 7.875 * 3.875 * 5.9375;
    // A tenth of a millimetre on all of its 12 m2 would be 0.04.
    assert!((cubic_feet(&core) - want).abs() < 0.01, "{} is not {want}", cubic_feet(&core));
    let low = core.mesh.positions().iter().fold(f64::INFINITY, |low, p| low.min(p.z));
    assert!(low.abs() < 1e-4, "the bare bottom keeps its plane, not {low}");
}

/// Two bare faces that meet: floor and back. The core keeps both planes, and the skin and the core make up the solid.
#[test]
fn bare_floor_and_back() {
    let model = mesh(&block(1.0, 0.6, 0.4).rotate([0.2, 0.1, 1.0], 20.0));
    let flat = mesh(&block(1.0, 0.6, 0.4));
    let coated = bare(&flat, &[[0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]);
    let coat = coat(Face::Finished, Length::from_metres(0.02), &coated);
    // Arrises at bare faces are sharp on grids up to half the thickness.
    let core = core_of(&model, &coat, Length::from_metres(0.01));
    assert_closed("floor and back", &core.mesh);
    let want = 0.96 * 0.58 * 0.38;
    assert!((core.volume().cubic_metres() - want).abs() < 1e-4 * want, "{}", core.volume().cubic_metres());
    let skin = skin(&model, &coat, Accuracy::USUAL);
    let both = skin.volume.cubic_metres() + core.volume().cubic_metres();
    assert!((both - 0.24).abs() < skin.bound.cubic_metres() + 5e-4 * want, "{both}");
}

/// A wall that stands on a wide bare plinth: its coat ends square at the plinth's top. Wall 1.0 x 0.2 x 0.5 coated on all
/// but its top, plinth bare: the core is the plinth and 0.96 x 0.16 x 0.5 of wall.
#[test]
fn a_coat_ends_square_at_a_concave_edge() {
    let profile = [[-0.4, 0.0], [0.4, 0.0], [0.4, 0.2], [0.1, 0.2], [0.1, 0.7], [-0.1, 0.7], [-0.1, 0.2], [-0.4, 0.2]];
    let model = mesh(&prism(&profile, 1.0));
    let coated: Vec<bool> = (0..model.triangles().len())
        .map(|f| {
            let n = model.area_vector(f).normalize();
            let x = model.corners(f).iter().map(|p| p.x.abs()).fold(0.0, f64::max);
            n.x.abs() > 0.9 && x < 0.2
        })
        .collect();
    assert_eq!(coated.iter().filter(|c| **c).count(), 4);
    let core = core_of(&model, &coat(Face::Finished, Length::from_metres(0.02), &coated), Length::from_metres(0.01));
    assert_closed("plinth", &core.mesh);
    let want = 0.8 * 0.2 + 0.16 * 0.5;
    assert!((core.volume().cubic_metres() - want).abs() < 2e-3 * want, "{}", core.volume().cubic_metres());
}

/// Points all over a mesh: corners, and on every triangle the nodes of a grid of eighths.
fn points_on(mesh: &Mesh) -> Vec<Vector3<f64>> {
    let mut points: Vec<_> = mesh.positions().iter().map(|p| p.coords).collect();
    for f in 0..mesh.triangles().len() {
        let [a, b, c] = mesh.corners(f).map(|p| p.coords);
        let at = |(i, j): (u32, u32)| a + (b - a) * (f64::from(i) / 8.0) + (c - a) * (f64::from(j) / 8.0);
        points.extend((0..=8).flat_map(|i| (0..=8 - i).map(move |j| (i, j))).map(at));
    }
    points
}

/// Half a millimetre: what a foam shop's wire keeps.
const TRUE: f64 = 5e-4;

/// The mesh lies on the true surface, whose farther corners it has. `depth` is the least of smooth depths, the surface
/// where it is nothing; outside a right-angled corner the distance is up to the root of 3 times as much.
fn assert_true(name: &str, core: &CoreMesh, most: f64, corners: &[Vector3<f64>], depth: impl Fn(&Vector3<f64>) -> f64) {
    assert_closed(name, &core.mesh);
    let far = |p: &Vector3<f64>| {
        let d = depth(p);
        if d < 0.0 { -d * 3f64.sqrt() } else { d }
    };
    let vertices = core.mesh.positions().iter().map(|p| depth(&p.coords).abs()).fold(0.0, f64::max);
    let points = points_on(&core.mesh);
    let off = points.iter().map(far).fold(0.0, f64::max);
    let wide = points.iter().filter(|p| far(p) > most).count() as f64 / points.len() as f64;
    let corner =
        |c: &Vector3<f64>| core.mesh.positions().iter().map(|p| (p.coords - c).norm()).fold(f64::INFINITY, f64::min);
    let missed = corners.iter().map(corner).fold(0.0, f64::max);
    assert!(vertices < TRUE, "{name}: a vertex is {} mm off", vertices * 1e3);
    // Here and there a triangle goes across an arris, a third of a cell deep.
    let third = core.grid.metres() / 3.0;
    assert!(off < most.max(third) && wide < 0.005, "{name}: {} mm off, {wide} of it", off * 1e3);
    assert!(missed < TRUE, "{name}: a corner is missed by {} mm", missed * 1e3);
    // What is said was found in the middles of the triangles; elsewhere a chord may sag half as much again.
    let said = 1.5 * 3f64.sqrt() * core.within.metres();
    assert!(off < said + 1e-6, "{name}: {off} is more than the {said} said");
}

/// Fine and coarse grid where nothing is along an axis and something is bare; the coarse one, a quarter of the work, elsewhere.
fn grids(both: &[f64; 2], hardest: bool) -> &[f64] {
    if hardest { both } else { &both[1..] }
}

/// A box of 2.4 x 1.2 x 0.9 m under 19 mm, as it lies and turned, all coated and with a bare floor and back: faces, arrises
/// and corners of the core are where plane geometry puts them, in few triangles.
#[test]
fn the_core_of_a_box_is_a_box() {
    let (size, t) = (Vector3::new(2.4, 1.2, 0.9), 0.019);
    let shape = block(size.x, size.y, size.z);
    let low = Vector3::from(shape.bounds()[0]);
    let (axis, angle) = (Vector3::new(0.3, 1.0, 0.2), 0.7f64);
    let turn = nalgebra::Rotation3::from_axis_angle(&nalgebra::Unit::new_normalize(axis), angle);
    let flat = mesh(&shape);
    for turned in [false, true] {
        let turn = if turned { turn } else { nalgebra::Rotation3::identity() };
        let model =
            Mesh::new(flat.positions().iter().map(|p| turn * p).collect(), flat.triangles().to_vec(), Vec::new());
        for floor_and_back in [false, true] {
            let along: &[[f64; 3]] = if floor_and_back { &[[0.0, 0.0, -1.0], [0.0, 1.0, 0.0]] } else { &[] };
            let coated = bare(&flat, along);
            let (mut a, mut b) = (low.add_scalar(t), low + size.add_scalar(-t));
            if floor_and_back {
                (a.z, b.y) = (low.z, low.y + size.y);
            }
            let corners: Vec<_> =
                (0..8).map(|k| turn * Vector3::from_fn(|i, _| if k >> i & 1 == 1 { b[i] } else { a[i] })).collect();
            for &grid in grids(&[t / 2.0, t], turned && floor_and_back) {
                let core =
                    core_of(&model, &coat(Face::Finished, Length::from_metres(t), &coated), Length::from_metres(grid));
                let depth = |p: &Vector3<f64>| {
                    let p = turn.inverse() * p;
                    (p - a).min().min((b - p).min())
                };
                let name = format!("box, turned {turned}, bare {floor_and_back}, grid {grid}");
                assert_true(&name, &core, TRUE, &corners, depth);
                assert!(core.mesh.triangles().len() < 3_000, "{name}: {}", core.mesh.triangles().len());
                let want = (b - a).product();
                assert!((core.volume().cubic_metres() / want - 1.0).abs() < 1e-4, "{name}");
            }
        }
    }
}

/// The finished work over the same box: rounded arrises where both sides are coated, cut square by the planes of the bare
/// floor and back.
#[test]
fn the_finished_work_over_a_box() {
    let (size, t) = (Vector3::new(2.4, 1.2, 0.9), 0.019);
    let shape = block(size.x, size.y, size.z);
    let low = Vector3::from(shape.bounds()[0]);
    let high = low + size;
    let flat = mesh(&shape);
    let turn = nalgebra::Rotation3::from_axis_angle(&nalgebra::Unit::new_normalize(Vector3::new(0.3, 1.0, 0.2)), 0.7);
    for turned in [false, true] {
        let turn = if turned { turn } else { nalgebra::Rotation3::identity() };
        let model =
            Mesh::new(flat.positions().iter().map(|p| turn * p).collect(), flat.triangles().to_vec(), Vec::new());
        for floor_and_back in [false, true] {
            let along: &[[f64; 3]] = if floor_and_back { &[[0.0, 0.0, -1.0], [0.0, 1.0, 0.0]] } else { &[] };
            let coated = bare(&flat, along);
            for &grid in grids(&[t / 2.0, t], turned && floor_and_back) {
                let core =
                    core_of(&model, &coat(Face::Core, Length::from_metres(t), &coated), Length::from_metres(grid));
                let depth = |p: &Vector3<f64>| {
                    let p = turn.inverse() * p;
                    let grown = t - (p - p.sup(&low).inf(&high)).norm();
                    let inner = (p - low).min().min((high - p).min());
                    let grown = if inner > 0.0 { grown + inner } else { grown };
                    if floor_and_back { grown.min(p.z - low.z).min(high.y - p.y) } else { grown }
                };
                let name = format!("over a box, turned {turned}, bare {floor_and_back}, grid {grid}");
                // The arrises are rounded by 19 mm: a chord of the grid's side falls short by its square over 8 radii, two
                // sides' by four times as much.
                let sag = (2.0 * grid).powi(2) / (8.0 * t);
                assert_true(&name, &core, TRUE.max(1.5 * sag), &[], depth);
                let corners = core.mesh.positions().iter().map(|p| depth(&p.coords).abs()).fold(0.0, f64::max);

                assert!(corners < TRUE, "{name}: a vertex is {} mm off", corners * 1e3);
                if floor_and_back {
                    let [z, y] = [2, 1].map(|k| core.mesh.positions().iter().map(move |p| (turn.inverse() * p)[k]));
                    let (z, y) =
                        (z.fold(f64::INFINITY, f64::min) - low.z, y.fold(f64::NEG_INFINITY, f64::max) - high.y);

                    assert!(z > -2e-4 && y < 2e-4, "{name}: behind the bare planes by {z} and {y}");
                }
                assert!(core.mesh.triangles().len() < 25_000, "{name}: {}", core.mesh.triangles().len());
            }
        }
    }
}

/// An L-shaped prism, turned: sharp arrises outside, and along the inner arris, as far as the ends, a quarter of a round.
#[test]
fn the_core_of_an_l() {
    let t = 0.019;
    let profile = [[0.0, 0.0], [1.2, 0.0], [1.2, 0.4], [0.5, 0.4], [0.5, 0.9], [0.0, 0.9]];
    let shape = prism(&profile, 0.7);
    let turn = nalgebra::Rotation3::from_axis_angle(&nalgebra::Unit::new_normalize(Vector3::new(1.0, 0.4, -0.3)), 1.1);
    let flat = mesh(&shape);
    let low = Vector3::from(shape.bounds()[0]);
    let model = Mesh::new(flat.positions().iter().map(|p| turn * p).collect(), flat.triangles().to_vec(), Vec::new());
    // From its own low corner, where the mesh begins.
    let depth = |p: &Vector3<f64>| {
        let p = turn.inverse() * p - low;
        let outer = p.x.min(1.2 - p.x).min(p.y).min(0.9 - p.y).min(p.z).min(0.7 - p.z);
        let (x, y) = (0.5 - p.x, 0.4 - p.y);
        let notch = if x < 0.0 && y < 0.0 { x.max(y) } else { x.max(0.0).hypot(y.max(0.0)) };
        outer.min(notch) - t
    };
    let mut corners = Vec::new();
    for [x, y] in [[t, t], [1.2 - t, t], [1.2 - t, 0.4 - t], [0.5 - t, 0.9 - t], [t, 0.9 - t]] {
        corners.extend([t, 0.7 - t].map(|z| turn * (Vector3::new(x, y, z) + low)));
    }
    for grid in [t / 2.0, t] {
        let core =
            core_of(&model, &Coat::everywhere(Face::Finished, Length::from_metres(t)), Length::from_metres(grid));
        let sag = (2.0 * grid).powi(2) / (8.0 * t);
        assert_true("L", &core, TRUE.max(1.5 * sag), &corners, depth);
        let vertices = core.mesh.positions().iter().map(|p| depth(&p.coords).abs()).fold(0.0, f64::max);
        assert!(vertices < TRUE, "a vertex is {} mm off", vertices * 1e3);
        assert!(core.mesh.triangles().len() < 2_000, "{}", core.mesh.triangles().len());
    }
}

/// Of a ball faceted finely the core is a ball of radius r - t, and the finished work one of r + t.
#[test]
fn both_sides_of_a_ball() {
    let model = mesh(&icosphere(0.5, 4));
    for (face, radius) in [(Face::Finished, 0.48), (Face::Core, 0.52)] {
        let core = core_of(&model, &Coat::everywhere(face, Length::from_metres(0.02)), Length::from_metres(0.02));
        assert_closed("ball", &core.mesh);
        let want = 4.0 / 3.0 * PI * f64::powi(radius, 3);
        // Chords of 20 mm on 480 mm, and the facets of the model itself: both below 4e-4 of r in sag. Where triangles are
        // saved a tenth of a millimetre goes too, 2e-4.
        assert!((core.volume().cubic_metres() / want - 1.0).abs() < 5e-3, "{}", core.volume().cubic_metres() / want);
        assert!(core.vertices_within.metres() < 2.5e-4, "{:?}", core.vertices_within);
    }
}

/// A rough rock: the mesh of the core encloses what the solid holds beside the skin. Coarse grids make the most awkward cells.
#[test]
fn core_of_a_rock_at_several_grids() {
    let shape = rock(5, 20_000, 1.0);
    let model = mesh(&shape);
    let coat = Coat::everywhere(Face::Finished, Length::from_millimetres(19.0));
    let skin = skin(&model, &coat, Accuracy::USUAL);
    let want = shape.volume() - skin.volume.cubic_metres();
    for (mm, share) in [(9.5, 2e-3), (30.0, 1e-2), (90.0, 1e-1)] {
        let core = core_of(&model, &coat, Length::from_millimetres(mm));
        assert_closed(&format!("rock at {mm}"), &core.mesh);
        let got = core.volume().cubic_metres();
        assert!((got / want - 1.0).abs() < share, "{mm}: {got} is not {want}");
    }
}

/// Noise cut at a coarse grid has all kinds of doubtful cells: spheres that nearly touch at their diagonals.
#[test]
fn doubtful_cells_close() {
    let mut shape = icosphere(0.05, 2);
    for k in 1..60u32 {
        let at = [k % 4, k / 4 % 4, k / 16].map(|c| f64::from(c) * 0.0702);
        shape = shape.append(&icosphere(0.05, 2).translate(at));
    }
    let model = mesh(&shape);
    for mm in [20.0, 31.0, 43.0] {
        let thin = Coat::everywhere(Face::Finished, Length::from_millimetres(8.0));
        let core = core_of(&model, &thin, Length::from_millimetres(mm));
        assert_closed("balls", &core.mesh);
    }
}

fn root(diameter: f64) -> Mesh {
    let radius = inches(diameter / 2.0).metres();
    mesh(&frustum(96, radius, radius, inches(36.0).metres()).rotate([1.0, 0.3, 0.2], 63.0))
}

fn lacks(model: &Mesh) -> Vec<Place> {
    lacks_of(model, Face::Finished)
}

fn lacks_of(model: &Mesh, face: Face) -> Vec<Place> {
    let coat = Coat::everywhere(face, inches(0.75));
    places(model, model, &coat, inches(0.375), None, inches(2.0), &Effort::any())
}

/// Roots 36 in long under 3/4 in. 1-1/4 in has no foam; 2-1/2 in keeps 1 in of it, 34.5 in long, which is under 2 in;
/// 6 in keeps 4-1/2 in.
#[test]
fn roots() {
    let none = lacks(&root(1.25));
    assert_eq!(none.len(), 1, "{none:?}");
    assert_eq!(none[0].lack, Lack::NoFoam);
    let volume = |d: f64, l: f64| inches(d).metres().powi(2) * PI / 4.0 * inches(l).metres();
    let share = none[0].volume.cubic_metres() / volume(1.25, 36.0);
    // Counted in cells of 3/8 in.
    assert!((share - 1.0).abs() < 0.05, "{share}");
    assert!((none[0].length.inches() - 36.0).abs() < 1.0, "{}", none[0].length.inches());

    // Of a twig thinner than the skin is thick the other side is nearer than the skin is deep.
    let twig = lacks(&root(0.5));
    assert!(twig.len() == 1 && twig[0].lack == Lack::NoFoam, "{twig:?}");

    let thin = lacks(&root(2.5));
    assert_eq!(thin.len(), 1, "{thin:?}");
    assert_eq!(thin[0].lack, Lack::Thin);
    let share = thin[0].volume.cubic_metres() / volume(1.0, 34.5);
    assert!((share - 1.0).abs() < 0.05, "{share}");
    assert!((thin[0].length.inches() - 34.5).abs() < 1.0, "{}", thin[0].length.inches());

    assert_eq!(lacks(&root(6.0)), []);
}

/// Foam cut as drawn, 2 in at least: all of a root of 1-1/4 in is thin, with all of its area, none of one of 2-1/2 in.
#[test]
fn roots_as_cut() {
    let thin = lacks_of(&root(1.25), Face::Core);
    assert_eq!(thin.len(), 1, "{thin:?}");
    assert_eq!(thin[0].lack, Lack::Thin);
    let (d, l) = (inches(1.25).metres(), inches(36.0).metres());
    let share = thin[0].volume.cubic_metres() / (PI / 4.0 * d * d * l);
    assert!((share - 1.0).abs() < 0.05, "{share}");
    let share = thin[0].area.square_metres() / (PI * d * l + PI / 2.0 * d * d);
    assert!((share - 1.0).abs() < 0.05, "{share}");
    let twig = lacks_of(&root(0.75), Face::Core);
    assert!(twig.len() == 1 && twig[0].lack == Lack::Thin, "{twig:?}");
    assert_eq!(lacks_of(&root(2.5), Face::Core), []);
}

/// A plate of 2-1/4 in is thick enough though what is 2 in thick of it is thinner than a cell; one of 1-3/4 in is not.
#[test]
fn plates_near_the_limit() {
    let plate = |t: f64| mesh(&block(0.6, 0.5, inches(t).metres()).rotate([1.0, 0.4, 0.2], 25.0));
    assert_eq!(lacks_of(&plate(2.25), Face::Core), []);
    let thin = lacks_of(&plate(1.75), Face::Core);
    assert_eq!(thin.len(), 1, "{thin:?}");
    let share = thin[0].volume.cubic_metres() / (0.6 * 0.5 * inches(1.75).metres());
    assert!((share - 1.0).abs() < 0.05, "{share}");
}

/// A boulder has arrises and corners, yet no place without foam; a fin on it 1-1/4 in thick is one place.
#[test]
fn a_fin_on_a_boulder() {
    let [w, d, h] = [0.5, 0.4, 0.4];
    let boulder = block(w, d, h);
    assert_eq!(lacks(&mesh(&boulder)), []);
    let half = inches(0.625).metres();
    let profile =
        [[-0.25, 0.0], [0.25, 0.0], [0.25, 0.3], [half, 0.3], [half, 0.6], [-half, 0.6], [-half, 0.3], [-0.25, 0.3]];
    let found = lacks(&mesh(&prism(&profile, 0.4)));
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].lack, Lack::NoFoam);
    // 300 mm high, counted from two thicknesses (38 mm) above the core, which ends 19 mm under the fin's foot.
    let want = 2.0 * half * 0.4 * (0.3 - 0.019);
    assert!((found[0].volume.cubic_metres() / want - 1.0).abs() < 0.06, "{}", found[0].volume.cubic_metres() / want);
}

/// Overlapping blocks: walls buried in another block leave no skin inside. 1 x 1 x 1 and the same moved 0.5 along x make
/// 1.5 x 1 x 1.
#[test]
fn overlapping_blocks_have_one_core() {
    let model = mesh(&block(1.0, 1.0, 1.0).append(&block(1.0, 0.8, 0.8).translate([0.5, 0.05, 0.1])));
    let solid = Solid::of(&model, &Topology::of(&model), None);
    let exposure = Exposure::of(&solid, Length::ZERO);
    let (surface, _) = exposure.surface(&solid);
    let coat = Coat::everywhere(Face::Finished, Length::from_metres(0.02));
    let core = core_mesh(solid.mesh(), &surface, &coat, Length::from_metres(0.01));
    assert_closed("overlap", &core.mesh);
    // The second block's own core is open towards the first: 0.5 - 0.02 long beyond it, and 0.02 through the skin that it breaks.
    let want = 0.96f64.powi(3) + 0.76 * 0.76 * 0.5;
    assert!((core.volume().cubic_metres() / want - 1.0).abs() < 5e-4, "{} {want}", core.volume().cubic_metres());
}

/// A slot 20 mm wide and 100 mm deep, open at both ends, is filled under 19 mm but not under 8 mm. A ball of radius t
/// also stays out of the wedge at each of its two inner edges: (1 - pi/4) t^2 a length.
#[test]
fn crevices_swallow_mix() {
    let profile = [[0.0, 0.0], [0.42, 0.0], [0.42, 0.3], [0.22, 0.3], [0.22, 0.2], [0.2, 0.2], [0.2, 0.3], [0.0, 0.3]];
    let model = mesh(&prism(&profile, 0.4));
    let at = |t: f64| crevices(&model, &model, Length::from_metres(t), Length::from_metres(t / 4.0), &Effort::any());
    let (wide, narrow) = (at(0.019), at(0.008));
    let mouth = {
        // A ball on both arrises of the mouth sinks in by t - sqrt(t^2 - 10^2), along a segment.
        let (t, half) = (0.019f64, 0.01f64);
        let angle = (half / t).asin();
        t * t * angle - half * (t * t - half * half).sqrt()
    };
    // At its ends the fill is dished as at the mouth, by less than 2 x 100 x mouth.
    let most = (0.02 * 0.1 - mouth) * 0.4;
    let (got, bound) = (wide.volume.cubic_metres(), wide.bound.cubic_metres());
    assert!(got < most + bound && got > most - 0.2 * mouth - bound, "{got} of {most} within {bound}");
    assert!(bound < 0.1 * got, "{bound}");
    let wedges = 2.0 * (1.0 - PI / 4.0) * 0.008f64.powi(2) * 0.4;
    let (got, bound) = (narrow.volume.cubic_metres(), narrow.bound.cubic_metres());
    assert!((got - wedges).abs() < bound, "{got} is not {wedges} within {bound}");
    let plain = mesh(&block(0.4, 0.4, 0.3));
    let none = crevices(&plain, &plain, Length::from_metres(0.019), Length::from_metres(0.0095), &Effort::any());
    assert_eq!(none.volume.cubic_metres(), 0.0);
}

/// With too few steps an answer says that it is not whole; with as many as it takes it is the answer to the last bit.
#[test]
fn an_answer_that_takes_too_long_is_given_up() {
    let model = mesh(&block(0.4, 0.4, 0.3));
    let within =
        |effort: &Effort| crevices(&model, &model, Length::from_metres(0.019), Length::from_metres(0.0095), effort);
    let (few, many) = (Effort::of(1000), Effort::of(1_000_000_000));
    within(&few);
    assert!(few.is_spent());
    assert_eq!(within(&many), within(&Effort::any()));
    assert!(!many.is_spent());
}

/// From every face of a plate straight through to the other side; through a tube's wall, not across its bore.
#[test]
fn thickness_of_plates_and_tubes() {
    let plate = mesh(&block(1.0, 0.5, 0.03).rotate([1.0, 2.0, 3.0], 40.0));
    let mut found: Vec<i64> = local_thickness(&plate).iter().map(|t| (t.metres() * 1e6).round() as i64).collect();
    found.sort_unstable();
    assert_eq!(found, [30_000; 4].into_iter().chain([500_000; 4]).chain([1_000_000; 4]).collect::<Vec<_>>());
    let tube = mesh(&prism(&ngon(64, 0.5), 1.0).append(&prism(&ngon(64, 0.4), 0.8).translate([0.0, 0.0, 0.1]).flip()));
    let thickness = local_thickness(&tube);
    let outer_cap = |f: usize| tube.corners(f).iter().all(|p| p.z == 0.0) || tube.corners(f).iter().all(|p| p.z == 1.0);
    for (f, t) in thickness.iter().enumerate().filter(|(f, _)| !outer_cap(*f)) {
        assert!(t.metres() < 0.1001 && t.metres() > 0.0994, "{f}: {}", t.metres());
    }
}

/// Straight in from the facets of a ball and of a cylinder to those that lie opposite, with their planes' own distance:
/// twice the height over the middle, `2 r cos(pi / n)` from the side of a cylinder of n facets, its length from the ends.
#[test]
fn thickness_of_balls_and_cylinders() {
    let ball = mesh(&icosphere(0.5, 4));
    for (f, t) in local_thickness(&ball).iter().enumerate() {
        let height = 2.0 * ball.area_vector(f).normalize().dot(&ball.corners(f)[0].coords);
        assert!((t.metres() - height).abs() < 1e-3 * height && t.metres() < 1.0, "{f}: {} {height}", t.metres());
    }
    let (n, r, h) = (48, 0.2, 0.7);
    let cylinder = mesh(&frustum(n, r, r, h).rotate([1.0, 2.0, 0.5], 33.0));
    let across = 2.0 * r * (PI / n as f64).cos();
    let thickness = local_thickness(&cylinder);
    let count = |want: f64| thickness.iter().filter(|t| (t.metres() - want).abs() < 1e-9).count();
    assert_eq!((count(across), count(h)), (2 * n, thickness.len() - 2 * n));
    // An open sheet has no other side.
    let sheet = Mesh::new(cylinder.positions().to_vec(), cylinder.triangles()[..1].to_vec(), Vec::new());
    assert!(local_thickness(&sheet)[0].metres().is_infinite());
}

#[test]
fn the_same_bits_on_any_number_of_threads() {
    let model = mesh(&rock(9, 5_000, 0.8));
    let coated: Vec<bool> = (0..model.triangles().len()).map(|f| model.area_vector(f).z > -0.0001).collect();
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let coat = coat(Face::Finished, Length::from_millimetres(19.0), &coated);
            let core = core_of(&model, &coat, Length::from_millimetres(19.0));
            assert_closed("partly bare rock", &core.mesh);
            let of =
                |core| places(&model, &model, &coat, Length::from_millimetres(19.0), core, inches(6.0), &Effort::any());
            // With the finished mesh and without: the same places.
            let (places, quick) = (of(Some(&core.mesh)), of(None));
            assert_eq!(places.len(), quick.len());
            (core.mesh, places, quick)
        })
    };
    assert_eq!(run(1), run(2));
}
