//! Weld, adjacency, bodies, repair and area: closed forms and things that must not matter.

use crate::common::{checked, drawing, placed};
use approx::assert_relative_eq;
use cragskin_fixtures::{Shape, rock, rocks_overlapping};
use cragskin_geom::drawing::{Axis, Placing};
use cragskin_geom::soundness::{Code, Grade, Survey};
use cragskin_geom::units::ModelUnit::{Foot, Inch, Metre, Millimetre};

/// A box with its low corner at the origin.
fn block(w: f64, d: f64, h: f64) -> Shape {
    let positions = (0..8).map(|i| [w * f64::from(i & 1), d * f64::from(i >> 1 & 1), h * f64::from(i >> 2)]).collect();
    let quads = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let triangles = quads.iter().flat_map(|q: &[u32; 4]| [[q[0], q[1], q[2]], [q[0], q[2], q[3]]]).collect();
    Shape::new("block", positions, triangles)
}

fn codes(shape: &Shape) -> Vec<Code> {
    checked(shape, Foot).findings.iter().map(|finding| finding.code).collect()
}

#[test]
fn a_box_is_counted_and_measured() {
    // 12 x 3 x 8 ft: 2 (96 + 36 + 24) = 312 sq ft, 288 cu ft; Euler's formula 8 - 18 + 12 = 2.
    let sound = checked(&block(12.0, 3.0, 8.0), Foot);
    let n = &sound.counts;
    assert_eq!((n.vertices, n.edges, n.triangles, n.euler, n.bodies), (8, 18, 12, 2, 1));
    assert!(n.closed() && sound.findings.is_empty(), "{:?}", sound.findings);
    // One rounding a triangle.
    assert_relative_eq!(sound.area_as_sent, 312.0 * 0.3048 * 0.3048, max_relative = 1e-14);
    assert_relative_eq!(sound.sum_of_parts_m3().unwrap(), 288.0 * 0.3048_f64.powi(3), max_relative = 1e-14);
    assert_eq!(sound.quality.core_volume.grade, Grade::Good);
}

#[test]
fn the_mesh_depends_on_the_shape_and_not_on_the_file() {
    let rock = rock(3, 20_000, 2.0);
    let reference = drawing(&rock);
    for seed in 1..4 {
        let other = drawing(&rock.clone().shuffle(seed));
        assert_eq!(reference.mesh(), other.mesh());
        assert_eq!(
            checked(&rock, Metre).area_as_sent.to_bits(),
            checked(&rock.clone().shuffle(seed), Metre).area_as_sent.to_bits()
        );
    }
}

#[test]
fn threads_do_not_matter() {
    let rock = rocks_overlapping(5, 3, 30_000);
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let sound = checked(&rock, Metre);
            (sound.area_as_sent.to_bits(), sound.sum_of_parts_m3().map(f64::to_bits), format!("{:?}", sound.findings))
        })
    };
    assert_eq!(with(1), with(2));
    assert_eq!(with(1), with(5));
}

#[test]
fn the_weld_agrees_with_a_plain_table_of_positions() {
    let rock = rock(8, 30_000, 2.0);
    let mesh = drawing(&rock).mesh().clone();
    let mut distinct: Vec<_> =
        rock.triangles.iter().flatten().map(|&v| rock.positions[v as usize].map(f64::to_bits)).collect();
    distinct.sort_unstable();
    distinct.dedup();
    assert_eq!(mesh.positions().len(), distinct.len());
    let low = rock.bounds()[0];
    let key = |corners: [[f64; 3]; 3]| {
        let mut corners = corners.map(|p| p.map(f64::to_bits));
        let lowest = (0..3).min_by_key(|&k| corners[k]).unwrap();
        corners.rotate_left(lowest);
        corners
    };
    let mut ours: Vec<_> = (0..mesh.triangles().len()).map(|f| key(mesh.corners(f).map(|p| [p.x, p.y, p.z]))).collect();
    let shifted = |p: [f64; 3]| [p[0] - low[0], p[1] - low[1], p[2] - low[2]];
    let mut theirs: Vec<_> = (0..rock.triangles.len()).map(|t| key(rock.corners(t).map(shifted))).collect();
    ours.sort_unstable();
    theirs.sort_unstable();
    assert!(ours == theirs, "same triangles, same winding, up to order");
}

#[test]
fn a_far_origin_changes_nothing_but_the_place() {
    // 2^20 is exact in binary, so positions on a grid of 1/64 keep all their digits.
    let near = block(12.0, 3.0, 8.0);
    let far = near.clone().translate([1_048_576.0, -2_097_152.0, 524_288.0]);
    assert_eq!(drawing(&near).mesh(), drawing(&far).mesh());
}

#[test]
fn mirroring_turning_and_splitting_change_nothing() {
    let rock = rock(11, 10_000, 2.0);
    let reference = checked(&rock, Metre);
    let (area, volume) = (reference.area_as_sent, reference.sum_of_parts_m3().unwrap());
    for other in [rock.clone().mirror(), rock.clone().turn(33.0), rock.clone().subdivide()] {
        let sound = checked(&other, Metre);
        // Turning and halving round every coordinate once: 1e-16 of 2 m against faces of 30 mm, averaged over 10000 faces.
        assert_relative_eq!(sound.area_as_sent, area, max_relative = 1e-12);
        assert_relative_eq!(sound.sum_of_parts_m3().unwrap(), volume, max_relative = 1e-12);
        assert!(sound.counts.closed());
    }
    // Units scale area by the square and volume by the cube: an inch is 25.4 mm by definition.
    let (inch, mm) = (checked(&rock, Inch), checked(&rock, Millimetre));
    assert_relative_eq!(inch.area_as_sent / mm.area_as_sent, 25.4 * 25.4, max_relative = 1e-12);
    assert_relative_eq!(
        inch.sum_of_parts_m3().unwrap() / mm.sum_of_parts_m3().unwrap(),
        16387.064,
        max_relative = 1e-12
    );
    // A copy elsewhere doubles both.
    let two = checked(&rock.clone().append(&rock.clone().translate([64.0, 0.0, 0.0])), Metre);
    assert_eq!(two.counts.bodies, 2);
    assert_relative_eq!(two.area_as_sent, 2.0 * area, max_relative = 1e-12);
}

#[test]
fn up_and_front_turn_the_model_and_nothing_else() {
    let block = block(12.0, 3.0, 8.0);
    let all = [0, 1, 2].into_iter().flat_map(|index| [Axis { index, negative: false }, Axis { index, negative: true }]);
    let all: Vec<Axis> = all.collect();
    let mut seen = 0;
    for &up in &all {
        for &front in &all {
            let placed = drawing(&block).place(Placing { unit: Metre, up, front });
            if up.index == front.index {
                assert!(placed.is_err());
                continue;
            }
            seen += 1;
            let model = placed.unwrap();
            let sides = [12.0, 3.0, 8.0];
            let width = sides[3 - up.index - front.index];
            assert_eq!(model.size().map(|l| l.metres()), [width, sides[front.index], sides[up.index]]);
            let sound = cragskin_geom::soundness::Checked::new(model, 0);
            // A mirrored placing would turn the volume's sign and be reported as turned over.
            assert!(sound.findings.iter().all(|f| f.code == Code::OtherWayUp), "{:?}", sound.findings);
            assert_relative_eq!(sound.sum_of_parts_m3().unwrap(), 288.0, max_relative = 1e-14);
            assert!(sound.model.mesh().positions().iter().all(|p| p.iter().all(|c| *c >= 0.0)));
        }
    }
    assert_eq!(seen, 24);
}

#[test]
fn flipped_triangles_and_inside_out_bodies_are_turned_and_told() {
    let rock = rock(2, 5_000, 2.0);
    let intact = checked(&rock, Metre);
    let mut some = rock.clone();
    some.triangles.iter_mut().step_by(50).for_each(|t| t.swap(1, 2));
    let flipped = some.triangles.len().div_ceil(50);
    for (shape, code, count) in [(some, Code::TrianglesTurned, flipped), (rock.clone().flip(), Code::BodiesTurned, 1)] {
        let sound = checked(&shape, Metre);
        let finding = sound.findings.iter().find(|f| f.code == code).unwrap();
        assert_eq!(finding.count, count);
        assert_eq!(sound.model.mesh().triangles().len(), rock.triangles.len());
        assert_relative_eq!(sound.sum_of_parts_m3().unwrap(), intact.sum_of_parts_m3().unwrap(), max_relative = 1e-12);
        let again = Survey::of(sound.model.mesh());
        assert_eq!(again.counts.twisted_edges, 0);
        // The table kept up to date through the turns is the table made anew.
        for face in 0..rock.triangles.len() {
            (0..3).for_each(|side| assert_eq!(again.topology.across(face, side), sound.topology.across(face, side)));
        }
    }
}

#[test]
fn repeats_are_left_out_and_told() {
    let rock = rock(2, 5_000, 2.0);
    let intact = checked(&rock, Metre);
    let mut twice = rock.clone();
    twice.triangles.extend_from_slice(&rock.triangles[..300]);
    twice.part_of.extend(std::iter::repeat_n(0, 300));
    let sound = checked(&twice, Metre);
    assert_eq!((sound.counts.repeated, sound.counts.closed()), (300, false));
    assert!(sound.all_closed(), "closed once the repeats are gone");
    assert_eq!(sound.sum_of_parts_m3().map(f64::to_bits), intact.sum_of_parts_m3().map(f64::to_bits));
    assert!(sound.area_as_sent > intact.area_as_sent);
}

#[test]
fn hollows_and_bodies_inside_bodies() {
    let outer = block(10.0, 10.0, 10.0);
    let inner = block(2.0, 2.0, 2.0).translate([4.0, 4.0, 4.0]);
    let volume = |shape: &Shape| placed_volume(shape);
    assert_eq!(codes(&outer.clone().append(&inner.clone().flip())), [Code::Hollow]);
    assert_relative_eq!(volume(&outer.clone().append(&inner.clone().flip())), 992.0, max_relative = 1e-12);
    // The same file sent inside out is turned over as a whole: the hollow stays a hollow.
    assert_eq!(codes(&outer.clone().append(&inner.clone().flip()).flip()), [Code::Hollow, Code::BodiesTurned]);
    assert_eq!(codes(&outer.clone().append(&inner)), [Code::BodyInsideBody]);
    // A body beside another is neither.
    assert_eq!(codes(&outer.append(&inner.translate([20.0, 0.0, 0.0]))), []);
}

fn placed_volume(shape: &Shape) -> f64 {
    checked(shape, Metre).sum_of_parts_m3().unwrap()
}

#[test]
fn open_edges_have_number_length_and_place() {
    // A facade without a back: the 12 x 8 ft rectangle at the rear is missing, 40 ft round.
    let open = block(12.0, 3.0, 8.0).delete(|_, corners| corners.iter().all(|p| p[1] == 3.0));
    let sound = checked(&open, Foot);
    assert_eq!((sound.counts.open_edges, sound.open_runs.len()), (4, 1));
    assert_relative_eq!(cragskin_geom::soundness::open_length(&sound.open_runs), 40.0 * 0.3048, max_relative = 1e-12);
    let at = sound.open_runs[0].at / 0.3048;
    assert_relative_eq!(at.coords.as_slice(), [6.0, 3.0, 4.0].as_slice(), epsilon = 1e-9);
    assert_eq!(sound.quality.core_volume.grade, Grade::NotDefined);
    assert_eq!(sound.quality.area.grade, Grade::Good);
    assert_eq!(sound.sum_of_parts_m3(), None);
    assert!(sound.findings[0].text.contains("40 ft"), "{}", sound.findings[0].text);
}

#[test]
fn a_sheet_faces_the_visitor() {
    let wall = |flip: bool| {
        let sheet = Shape::new(
            "wall",
            vec![[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [4.0, 0.0, 3.0], [0.0, 0.0, 3.0]],
            vec![[0, 1, 2], [0, 2, 3]],
        );
        if flip { sheet.flip() } else { sheet }
    };
    assert_eq!(codes(&wall(false)), [Code::OpenEdges, Code::SheetFacing]);
    assert_eq!(codes(&wall(true)), [Code::OpenEdges, Code::SheetTurned]);
    assert!(placed(&wall(false), Metre).mesh().area_vector(0).y < 0.0);
}

#[test]
fn a_site_grid_is_told_where_single_precision_loses_shape() {
    // At two million feet the step of a 24-bit number is 1/8 ft = 1.5 in (IEEE 754: 2^21 ft / 2^24).
    let told = |by: f64| {
        let bytes = block(12.0, 3.0, 8.0).translate([by, 0.0, 0.0]).to_binary_stl();
        let drawing =
            cragskin_geom::drawing::Drawing::from_soup(cragskin_geom::intake::read(&bytes, None).unwrap()).unwrap();
        drawing.receipt().lines.iter().any(|line| line.code == cragskin_geom::intake::ReceiptCode::FarFromOrigin)
    };
    assert!(told(2_000_000.0));
    assert!(!told(0.0) && !told(100.0));
}
