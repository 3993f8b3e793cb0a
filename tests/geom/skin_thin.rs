//! A coat beside a wall that is thinner than the coat is thick: none of it shows behind the wall. Truths by plane geometry, worked out
//! beside each check.

use crate::common::mesh;
use crate::skin_ends::assert_skin;
use cragskin_fixtures::solid::{block, prism};
use cragskin_geom::skin::{Coat, Face};
use cragskin_geom::units::Length;

const LONG: f64 = 0.2;
/// How well every skin is to be known: the accuracy asked for by default.
const KNOWN: f64 = 0.005;
const INCH: f64 = 0.0254;

/// The coat on the sides of an upright prism that follow some corners of its section, which is in inches as the thickness is: so much in
/// each section. `cuts`: the model's triangles are halved so many times.
pub(crate) fn assert_sides(what: &str, section: &[[f64; 2]], sides: &[usize], thick: f64, want: f64, cuts: usize) {
    assert_sides_within(KNOWN, what, section, sides, thick, want, cuts);
}

/// The same known to another share of the skin.
pub(crate) fn assert_sides_within(
    known: f64,
    what: &str,
    section: &[[f64; 2]],
    sides: &[usize],
    thick: f64,
    want: f64,
    cuts: usize,
) {
    let metres: Vec<[f64; 2]> = section.iter().map(|p| p.map(|x| x * INCH)).collect();
    let shape = prism(&metres, LONG);
    for (cuts, shape) in (0..=cuts).map(|n| (n, (0..n).fold(shape.clone(), |shape, _| shape.subdivide()))) {
        let drawn = mesh(&shape);
        let is_on = |f: usize, k: usize| {
            let ([x, y], [u, v]) = (metres[k], metres[(k + 1) % metres.len()]);
            let off =
                |p: &nalgebra::Point3<f64>| ((p.x - x) * (v - y) - (p.y - y) * (u - x)).abs() / (u - x).hypot(v - y);
            let (low, high) = (x.min(u) - 1e-9, x.max(u) + 1e-9);
            let [below, above] = [y.min(v) - 1e-9, y.max(v) + 1e-9];
            drawn
                .corners(f)
                .iter()
                .all(|p| off(p) < 1e-9 && (low..=high).contains(&p.x) && (below..=above).contains(&p.y))
        };
        let coated: Vec<bool> = (0..drawn.triangles().len()).map(|f| sides.iter().any(|k| is_on(f, *k))).collect();
        let coat = Coat { coated: &coated, ..Coat::everywhere(Face::Core, Length::from_metres(thick * INCH)) };
        assert_skin(&format!("{what}, cut {cuts} times"), &shape, &coat, want * INCH * INCH * LONG, known);
    }
}

/// A trough with thin rims, of which the floor alone is coated: width x thickness. With the tops of the rims coated too, rim x thickness for
/// each. And with rims that the coat stands higher than: it ends above them as above a board.
#[test]
fn a_floor_between_thin_rims() {
    // (width, rim, depth, thickness, tops coated)
    for (wide, rim, deep, thick, tops) in [
        (3.6, 1.2, 3.6, 2.0, false),
        (12.0, 1.2, 3.6, 2.0, false),
        (6.0, 1.0, 4.0, 1.5, true),
        (6.0, 0.3, 4.0, 0.75, true),
        (12.0, 0.5, 0.8, 2.0, false),
    ] {
        let all = wide + 2.0 * rim;
        let section = [
            [0.0, -deep],
            [all, -deep],
            [all, deep],
            [all - rim, deep],
            [all - rim, 0.0],
            [rim, 0.0],
            [rim, deep],
            [0.0, deep],
        ];
        let sides: &[usize] = if tops { &[2, 4, 6] } else { &[4] };
        let want = thick * (wide + if tops { 2.0 * rim } else { 0.0 });
        assert_sides(&format!("{wide} in between rims of {rim} in"), &section, sides, thick, want, 1);
    }
}

/// A ledge before one thin wall, whose top is coated or not; a floor and the inner sides of its rims; slots between thin lands.
#[test]
fn ledges_and_slots_beside_thin_walls() {
    let ledge = [[0.0, -4.0], [8.0, -4.0], [8.0, 5.0], [7.0, 5.0], [7.0, 0.0], [0.0, 0.0]];
    assert_sides("ledge", &ledge, &[4], 1.206, 7.0 * 1.206, 1);
    assert_sides("ledge and wall top", &ledge, &[2, 4], 1.206, 8.0 * 1.206, 0);
    let trough = [[0.0, -4.0], [10.0, -4.0], [10.0, 5.0], [9.0, 5.0], [9.0, 0.0], [1.0, 0.0], [1.0, 5.0], [0.0, 5.0]];
    // The coats of the sides stand on that of the floor.
    assert_sides("floor and sides", &trough, &[3, 4, 5], 1.5, 8.0 * 1.5 + 2.0 * 3.5 * 1.5, 0);
    let (slots, wide, land, deep) = (4, 3.6, 1.2, 3.6);
    let mut section = vec![[0.0, -4.0], [f64::from(slots) * (wide + land) + land, -4.0]];
    for k in (0..slots).rev() {
        let x = f64::from(k) * (wide + land) + land;
        section.extend([[x + wide + land, deep], [x + wide, deep], [x + wide, 0.0], [x, 0.0], [x, deep]]);
    }
    section.push([0.0, deep]);
    section.dedup();
    let is_bottom = |k: &usize| [*k, *k + 1].iter().all(|k| section[k % section.len()][1] == 0.0);
    let bottoms: Vec<usize> = (0..section.len()).filter(is_bottom).collect();
    assert_sides("slots between thin lands", &section, &bottoms, 2.5, 4.0 * 3.6 * 2.5, 0);
}

/// A thin wall that leans over the floor by 30 degrees from plumb: the coat goes on under it up to the wall, `t² tan 30 / 2` less than the
/// floor's width x thickness, and not behind it. Where the wall is lower than the coat is thick there is none above its lean either.
#[test]
fn a_thin_wall_that_leans_over_a_coated_floor() {
    let (wide, wall, high, lean) = (8.0, 0.8, 5.0, f64::to_radians(30.0));
    let thick = 2.0;
    let over = high * lean.tan();
    let along = wall / lean.cos();
    let section = [
        [0.0, -4.0],
        [wide + along, -4.0],
        [wide + along, 0.0],
        [wide + along - over, high],
        [wide - over, high],
        [wide, 0.0],
        [0.0, 0.0],
    ];
    let want = wide * thick - thick * thick * lean.tan() / 2.0;
    assert_sides("under a leaning wall", &section, &[5], thick, want, 0);
    for (high, lean) in [(1.0_f64, 30.0_f64), (1.2, 50.0)] {
        let over = high * lean.to_radians().tan();
        let section =
            [[0.0, -4.0], [9.0, -4.0], [9.0, 0.0], [9.0 - over, high], [8.0 - over, high], [8.0, 0.0], [0.0, 0.0]];
        let want = 8.0 * thick - high * over / 2.0 - over * (thick - high);
        assert_sides("under a low leaning wall", &section, &[5], thick, want, 0);
    }
}

/// Bare slats that hang a little over a coated floor of 6 x 4 in: each hides from the floor what lies over it, slat x (thickness - gap).
#[test]
fn slats_that_hang_over_a_coated_floor() {
    let inches = |size: [f64; 3], at: [f64; 3]| {
        let [size, at] = [size, at].map(|v| v.map(|x| x * INCH));
        block(size[0], size[1], size[2]).translate(at)
    };
    for (slats, wide, gap, plate) in
        [(6, 0.2, 0.2, 0.02), (10, 0.2, 0.2, 0.02), (4, 0.2, 0.2, 0.02), (6, 0.1, 0.15, 0.02)]
    {
        let pitch = 6.0 / f64::from(slats);
        let slat = |k: i32| inches([wide, 3.0, plate], [(f64::from(k) + 0.5) * pitch - wide / 2.0, 0.5, gap]);
        let floor = inches([6.0, 4.0, 3.0], [0.0, 0.0, -3.0]);
        let shape = (0..slats).fold(floor, |shape, k| shape.append(&slat(k)));
        let drawn = mesh(&shape);
        let is_floor = |f: usize| drawn.corners(f).iter().all(|p| p.z.abs() < 1e-9);
        let coated: Vec<bool> = (0..drawn.triangles().len()).map(is_floor).collect();
        let thick = 0.75;
        let coat = Coat { coated: &coated, ..Coat::everywhere(Face::Core, Length::from_metres(thick * INCH)) };
        let want = 24.0 * thick - f64::from(slats) * wide * 3.0 * (thick - gap);
        assert_skin(&format!("{slats} slats of {wide} in"), &shape, &coat, want * INCH.powi(3), KNOWN);
    }
}
