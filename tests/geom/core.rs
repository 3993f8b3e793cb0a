//! The core that a finished face leaves: closed, as large as hand sums say, and the places where there is none.

mod common;

use common::mesh;
use cragskin_fixtures::rock;
use cragskin_fixtures::solid::{block, frustum, icosphere, ngon, prism};
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
const FT3: f64 = FT * FT * FT;

/// Every edge has two triangles that run along it in opposite directions, and so does every point of it after rounding
/// to the single precision of an STL file.
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
    let single = mesh.positions().iter().map(|p| [p.x, p.y, p.z].map(|c| (c as f32).to_bits()));
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
    core_mesh(mesh, mesh, coat, grid, None)
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
    // Its planes and arrises are met by the vertices: what is left is a few corners.
    assert!((cubic_feet(&core) - want).abs() < 0.05, "{} is not {want}", cubic_feet(&core));
    assert!(core.volume().cubic_metres() - want * FT3 < core.within.metres() * core.area().square_metres());
    let low = core.mesh.positions().iter().fold(f64::INFINITY, |low, p| low.min(p.z));
    assert!(low.abs() < core.within.metres(), "the bare bottom keeps its plane, not {low}");
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
    assert!((core.volume().cubic_metres() - want).abs() < 5e-4 * want, "{}", core.volume().cubic_metres());
    let skin = skin(&model, &coat, Accuracy::USUAL, None);
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

/// Of a ball faceted finely the core is a ball of radius r - t, and the finished work one of r + t.
#[test]
fn both_sides_of_a_ball() {
    let model = mesh(&icosphere(0.5, 4));
    for (face, radius) in [(Face::Finished, 0.48), (Face::Core, 0.52)] {
        let core = core_of(&model, &Coat::everywhere(face, Length::from_metres(0.02)), Length::from_metres(0.02));
        assert_closed("ball", &core.mesh);
        let want = 4.0 / 3.0 * PI * f64::powi(radius, 3);
        // Chords of 20 mm on 480 mm, and the facets of the model itself: both below 4e-4 of r in sag.
        assert!((core.volume().cubic_metres() / want - 1.0).abs() < 4e-3, "{}", core.volume().cubic_metres() / want);
        assert!(core.found < core.within * 0.2, "{:?}", core.found);
    }
}

/// A rough rock: the mesh of the core encloses what the solid holds beside the skin. Coarse grids make the most awkward cells.
#[test]
fn core_of_a_rock_at_several_grids() {
    let shape = rock(5, 20_000, 1.0);
    let model = mesh(&shape);
    let coat = Coat::everywhere(Face::Finished, Length::from_millimetres(19.0));
    let skin = skin(&model, &coat, Accuracy::USUAL, None);
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
    places(model, model, &coat, &core_of(model, &coat, inches(0.375)), inches(2.0), None)
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
    let core = core_mesh(solid.mesh(), &surface, &coat, Length::from_metres(0.01), None);
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
    let at = |t: f64| crevices(&model, &model, Length::from_metres(t), Length::from_metres(t / 4.0), None);
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
    let none = crevices(&plain, &plain, Length::from_metres(0.019), Length::from_metres(0.0095), None);
    assert_eq!(none.volume.cubic_metres(), 0.0);
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
            let places = places(&model, &model, &coat, &core, inches(6.0), None);
            (core.mesh, places)
        })
    };
    assert_eq!(run(1), run(2));
}
