//! What is left out is as if it were not in the file; bodies in the shape of people; which way is up.

use crate::common::{checked, drawing, soup};
use cragskin_fixtures::Shape;
use cragskin_fixtures::solid::{block, icosphere};
use cragskin_geom::drawing::{Axis, Drawing, Placing};
use cragskin_geom::figure::{people, slender};
use cragskin_geom::soundness::Checked;
use cragskin_geom::stance::{other_up, stances};
use cragskin_geom::units::ModelUnit;

/// The same bits as the file without that part, wherever it stands and in whatever order.
#[test]
fn a_part_left_out_leaves_no_trace() {
    let rock = cragskin_fixtures::rock(3, 300, 2.0).named("rock");
    let figure = block(0.5, 0.4, 1.7).named("figure");
    for at in [[-9.3, 2.0, -1.0], [0.1, 0.2, 0.3], [0.0, 40.0, 0.0]] {
        for both in [figure.clone().translate(at).append(&rock), rock.clone().append(&figure.clone().translate(at))] {
            let out: Vec<bool> = both.parts.iter().map(|name| name == "figure").collect();
            let got = Drawing::without_parts(soup(&both.shuffle(5)), &out).unwrap();
            let want = drawing(&rock);
            assert_eq!((got.size(), got.low()), (want.size(), want.low()));
            assert_eq!(got.mesh().positions(), want.mesh().positions());
            assert_eq!(got.mesh().triangles(), want.mesh().triangles());
            let absent = got.absent_parts();
            assert_eq!((absent.len(), absent[0].triangles), (1, 12));
            // 2 (0.5 x 0.4 + 0.4 x 1.7 + 1.7 x 0.5), by hand.
            assert!((absent[0].area - 3.46).abs() < 1e-12, "{}", absent[0].area);
        }
    }
    assert!(Drawing::without_parts(soup(&rock), &[true]).is_err(), "nothing is left");
}

/// People stand upright, are 5 to 6-1/2 ft high, and are not most of the model.
#[test]
fn a_person_is_told_from_a_post_and_a_table() {
    let wall = block(12.0, 3.0, 8.0);
    let count = |w: f64, d: f64, h: f64| {
        let body = block(w, d, h).translate([20.0, 0.0, 0.0]);
        people(&checked(&wall.clone().append(&body), ModelUnit::Foot)).len()
    };
    for (sides, found) in [
        ([1.5, 1.0, 5.75], 1),
        ([1.5, 1.0, 4.9], 0),
        ([1.5, 1.0, 6.6], 0),
        ([0.3, 0.3, 6.0], 0),
        ([5.0, 2.0, 5.75], 0),
        ([5.75, 1.0, 1.5], 0),
    ] {
        let [w, d, h] = sides;
        assert_eq!(count(w, d, h), found, "{sides:?}");
    }
    assert!(people(&checked(&block(1.5, 1.0, 5.75), ModelUnit::Foot)).is_empty(), "the model itself");
    let row =
        (0..6).fold(wall, |all, k| all.append(&block(1.5, 1.0, 5.75).translate([20.0 + 4.0 * f64::from(k), 0.0, 0.0])));
    assert!(slender(&checked(&row, ModelUnit::Foot)).is_empty(), "a row of piers");
}

/// A ball overhangs alike whichever way is up: the zone between 100 and 175 degrees has (cos 80 - cos 5) / 2 of its area, by
/// Archimedes' hat box. Facets of 2 degrees keep the share to a hundredth.
#[test]
fn a_ball_has_no_up() {
    let ball = checked(&icosphere(1.0, 5), ModelUnit::Metre);
    let want = (5.0_f64.to_radians().cos() - 80.0_f64.to_radians().cos()) / 2.0;
    for stance in stances(&ball) {
        assert!((stance.overhang - want).abs() < 0.01, "{}: {}, not {want}", stance.up, stance.overhang);
        assert_eq!((stance.rim, other_up(&ball).is_some()), (0.0, false));
    }
}

/// Half a ball's shell on its rim has no overhang, and its whole rim at the foot; on its side it is asked about, by the file's axis.
#[test]
fn a_bowl_on_its_side_is_asked_about_by_the_axis_of_the_file() {
    let dome = icosphere(1.0, 5).delete(|_, corners| corners.iter().map(|p| p[2]).sum::<f64>() < 0.0);
    let upright = checked(&dome, ModelUnit::Metre);
    let stance = stances(&upright).into_iter().find(|stance| stance.up == Axis::PLUS_Z).unwrap();
    assert!(stance.overhang < 0.01 && stance.rim > 0.99, "{stance:?}");
    assert_eq!(other_up(&upright), None);
    let back: Shape = dome.map(|[x, y, z]| [x, z, -y]);
    for (front, up) in [(Axis::MINUS_Y, Axis::PLUS_Z), (Axis::PLUS_X, Axis::PLUS_Z)] {
        let model = drawing(&back).place(Placing { unit: ModelUnit::Metre, up, front }).unwrap();
        let other = other_up(&Checked::new(model, 0)).unwrap();
        assert_eq!((other.file_axis, other.is_sheet), (Axis::PLUS_Y, true), "front {front}");
    }
}
