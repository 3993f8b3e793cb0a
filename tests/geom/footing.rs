//! What a piece stands on, by hand sums, and how feet share a weight, by statics.

use crate::common::{lathe, mesh};
use cragskin_fixtures::Shape;
use cragskin_fixtures::solid::{block, icosphere, prism};
use cragskin_geom::effort::Effort;
use cragskin_geom::footing::{Contact, Foot, middle_of_surface, middle_of_volume, shares};
use cragskin_geom::units::{Area, Length};
use nalgebra::{Vector2, vector};

const REACH: Length = Length::from_inches(0.25);

fn contact(shape: &Shape) -> Contact {
    Contact::of(&mesh(shape), REACH, &Effort::any()).unwrap()
}

fn near(got: f64, want: f64) {
    assert!((got - want).abs() <= 1e-9 * want.abs().max(1.0), "{got} is not {want}");
}

/// An outline in elevation drawn out in depth, standing on z = 0.
fn standing(elevation: &[[f64; 2]], depth: f64) -> Shape {
    prism(elevation, depth).map(|[x, z, y]| [x, y, z]).flip()
}

/// An arch: legs of `left` and `right`, 8 m between them, 6 m under a lintel of 2 m.
fn arch(left: f64, right: f64, depth: f64) -> Shape {
    let [a, b, c] = [left, left + 8.0, left + 8.0 + right];
    standing(&[[0.0, 0.0], [a, 0.0], [a, 6.0], [b, 6.0], [b, 0.0], [c, 0.0], [c, 8.0], [0.0, 8.0]], depth)
}

#[test]
fn an_arch_stands_on_its_legs_alone() {
    let it = contact(&arch(2.0, 2.0, 2.0));
    assert_eq!((it.feet.len(), it.points.len()), (2, 0));
    it.feet.iter().for_each(|foot| near(foot.area.square_metres(), 4.0));
    near(it.hull.area().square_metres(), 24.0);
    assert_eq!(it.feet.iter().map(|foot| foot.middle).collect::<Vec<_>>(), [vector![1.0, 1.0], vector![11.0, 1.0]]);
}

/// A wall in plan: 6 x 1 with a return of 1 x 5 at one end, 11 of a hull of 36 - 5 x 5 / 2 = 23.5.
#[test]
fn a_stepped_plan_counts_without_its_hull() {
    let plan = [[0.0, 0.0], [6.0, 0.0], [6.0, 1.0], [1.0, 1.0], [1.0, 6.0], [0.0, 6.0]];
    for shape in [prism(&plan, 2.0), prism(&plan, 2.0).subdivide().shuffle(7)] {
        let it = contact(&shape);
        assert_eq!(it.feet.len(), 1);
        near(it.feet[0].area.square_metres(), 11.0);
        near(it.hull.area().square_metres(), 23.5);
        // By hand: (6 x 3 + 5 x 0.5) / 11, and the same along the other leg.
        near(it.feet[0].middle.x, (6.0 * 3.0 + 5.0 * 0.5) / 11.0);
        near(it.feet[0].middle.y, (6.0 * 0.5 + 5.0 * 3.5) / 11.0);
    }
}

/// Two blocks that share 1 x 2 of floor count it once: 4 + 4 - 2, in one foot. A third 1 mm away belongs to it, 10 mm away it does not.
#[test]
fn blocks_that_overlap_or_touch_are_one_foot() {
    let at = |x: f64| block(2.0, 2.0, 1.0).translate([x, 0.0, 0.0]);
    let two = contact(&at(0.0).append(&at(1.0)));
    assert_eq!(two.feet.len(), 1);
    near(two.feet[0].area.square_metres(), 6.0);
    near(two.feet[0].middle.x, 1.5);
    for (gap, feet) in [(0.001, 1), (0.010, 2)] {
        assert_eq!(contact(&at(0.0).append(&at(2.0 + gap))).feet.len(), feet);
    }
    // Turned, so that sides cross: a square of 2 and itself at 45 degrees share a regular octagon, 8 (sqrt 2 - 1).
    let square = block(2.0, 2.0, 1.0).translate([-1.0, -1.0, 0.0]);
    let star = contact(&square.clone().append(&square.clone().turn(45.0)));
    near(star.feet[0].area.square_metres(), 8.0 - 8.0 * (2_f64.sqrt() - 1.0));
    // One inside the other.
    let inner = contact(&square.clone().append(&square.scale(0.5)));
    assert_eq!(inner.feet.len(), 1);
    near(inner.feet[0].area.square_metres(), 4.0);
}

/// A ball, a barrel on its side and a dish touch in a point or a line, however fine they are drawn.
#[test]
fn a_round_base_has_no_foot() {
    let ball = |levels| icosphere(1.0, levels).translate([0.0, 0.0, 1.0]);
    let barrel = |n: usize| standing(&cragskin_fixtures::solid::ngon(n, 1.0).map_about(1.0), 3.0);
    let dish: Vec<[f64; 2]> = (0..=60).map(|k| f64::from(k) / 60.0).map(|r| [r, r * r / 4.0]).collect();
    for shape in [ball(4), ball(5), barrel(48), barrel(200), lathe(&dish, 60).flip()] {
        let it = contact(&shape);
        assert_eq!((it.feet.len(), it.points.len()), (0, 1), "{:?}", it.feet);
    }
}

trait Raised {
    fn map_about(self, up: f64) -> Vec<[f64; 2]>;
}

impl Raised for Vec<[f64; 2]> {
    fn map_about(self, up: f64) -> Self {
        self.into_iter().map(|[x, z]| [x, z + up]).collect()
    }
}

/// Three flat feet and a ball: the ball is one place that touches in a point.
#[test]
fn a_point_beside_feet_is_told() {
    let leg = |x, y| block(0.2, 0.2, 1.0).translate([x, y, 0.0]);
    let ball = icosphere(0.2, 4).translate([3.0, 3.0, 0.2]);
    let it = contact(&leg(0.0, 0.0).append(&leg(3.0, 0.0)).append(&leg(0.0, 3.0)).append(&ball));
    assert_eq!((it.feet.len(), it.points.len()), (3, 1));
    near(it.points[0].x, 3.0);
    near(it.points[0].y, 3.0);
}

/// An L of 6 x 1 and 1 x 5: its hull is cut off by the line from (6, 1) to (1, 6), x + y = 7. (4, 4) lies 1 / sqrt 2 outside of it and
/// (3, 3) inside, though on no foot; (-2, 3) lies 2 to the left.
#[test]
fn a_weight_beyond_the_hull_is_told_from_one_within() {
    let plan = [[0.0, 0.0], [6.0, 0.0], [6.0, 1.0], [1.0, 1.0], [1.0, 6.0], [0.0, 6.0]];
    let hull = contact(&prism(&plan, 2.0)).hull;
    for (at, out) in [([3.0, 3.0], 0.0), ([4.0, 4.0], 0.5_f64.sqrt()), ([-2.0, 3.0], 2.0), ([0.0, 0.0], 0.0)] {
        near(hull.outside_by(vector![at[0], at[1]]).metres(), out);
    }
}

fn foot(area: f64, x: f64, y: f64) -> Foot {
    Foot { area: Area::from_square_metres(area), middle: vector![x, y], size: [Length::from_metres(area.sqrt()); 2] }
}

/// Whatever the feet, they carry the weight and its moments; with two or three that is all there is to it (statics).
#[test]
fn feet_carry_the_weight_and_its_moments() {
    let three = [foot(0.1, 0.0, 0.0), foot(0.3, 4.0, 0.0), foot(0.2, 1.0, 3.0)];
    // Barycentric by hand at (2, 1): y = 1 = 3 c, c = 1/3; x = 2 = 4 b + 1/3, b = 5/12; a = 1/4.
    for (got, want) in shares(&three, vector![2.0, 1.0]).into_iter().zip([0.25, 5.0 / 12.0, 1.0 / 3.0]) {
        near(got, want);
    }
    let four = [foot(0.1, 0.0, 0.0), foot(0.3, 4.0, 0.2), foot(0.2, 1.0, 3.0), foot(0.05, 5.0, 5.0)];
    for at in [vector![2.0, 1.0], vector![3.0, 2.5]] {
        let got = shares(&four, at);
        near(got.iter().sum(), 1.0);
        let moment: Vector2<f64> = four.iter().zip(&got).map(|(foot, share)| foot.middle * *share).sum();
        near(moment.x, at.x);
        near(moment.y, at.y);
    }
}

/// Four equal feet on a square of side 2 under a weight off the middle by (0.25, 0): p = W/A + M x/I gives 1/4 (1 + 0.25 x 1 / 1).
#[test]
fn more_than_three_feet_follow_the_plate_formula() {
    let four = [foot(0.1, -1.0, -1.0), foot(0.1, 1.0, -1.0), foot(0.1, -1.0, 1.0), foot(0.1, 1.0, 1.0)];
    let got = shares(&four, vector![0.25, 0.0]);
    for (got, want) in got.into_iter().zip([0.1875, 0.3125, 0.1875, 0.3125]) {
        near(got, want);
    }
    // A weight beyond the feet lifts the far ones.
    assert!(shares(&four, vector![3.0, 0.0])[0] < 0.0);
    // One foot carries all, in line or not.
    assert_eq!(shares(&four[..1], vector![7.0, 7.0]), [1.0]);
}

/// Legs of 2 and 4 under one lintel, in elevation: 12 at 1, 24 at 12, 28 at 7, so 488 / 64 = 7.625 (hand sum).
#[test]
fn the_middle_of_a_volume_and_of_a_surface() {
    let it = mesh(&arch(2.0, 4.0, 2.0));
    near(middle_of_volume(&it).unwrap().x, (12.0 + 24.0 * 12.0 + 28.0 * 7.0) / 64.0);
    let cube = mesh(&block(2.0, 2.0, 2.0).subdivide());
    near(middle_of_surface(&cube, |_| 1.0).unwrap().z, 1.0);
    // Without its top: four sides at 1 and the bottom at 0.
    let up = |face: usize| cube.area_vector(face).z > 0.0;
    near(middle_of_surface(&cube, |face| if up(face) { 0.0 } else { 1.0 }).unwrap().z, 0.8);
    assert_eq!(middle_of_surface(&cube, |_| 0.0), None);
}

/// Thirty bars of 10 x 1/4 m laid across one another every six degrees: what they cover is found in a limit of work that suffices, and
/// is by hand their outline's area; below that there is no answer rather than one that takes long.
#[test]
fn an_answer_that_takes_too_much_work_is_none() {
    let bar = prism(&[[-5.0, -0.125], [5.0, -0.125], [5.0, 0.125], [-5.0, 0.125]], 0.5);
    let bars = (1..30).fold(bar.clone(), |all, k| all.append(&bar.clone().turn(6.0 * f64::from(k))));
    let of = |steps: u64| Contact::of(&mesh(&bars), REACH, &Effort::of(steps));
    assert_eq!(of(10_000), None);
    let whole = of(10_000_000).unwrap();
    assert_eq!(Some(&whole), of(u64::MAX).as_ref());
    // Beyond the circle where neighbours part, each of the 60 arms is as wide as the bar; within, all is covered but notches.
    // An arm from where it meets its neighbour, at `w / 2 / tan(3 deg)` of its middle line, and the kite of it within.
    let (half, reach) = (0.125, 0.125 / f64::to_radians(3.0).tan());
    let arm = (5.0 - reach) * 2.0 * half + reach * half;
    near(whole.feet[0].area.square_metres(), 60.0 * arm);
}
