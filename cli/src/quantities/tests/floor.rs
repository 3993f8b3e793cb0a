//! What stands on the floor, by hand.

use super::*;

// A cone frustum 3 to 2 ft round, 10 ft high, skin 1 in: 78.64 sq ft, 6.77 cu ft, foam 39.74 cu ft on a 3 ft circle;
// and the box wall with 60 gal of water on 36 sq ft.
#[test]
fn floor_loads_by_hand() {
    let book = hand_book();
    let mut cypress = measures(0.0, 78.64, 6.77, 39.74);
    cypress.footing = stands_on(std::f64::consts::PI * 2.25);
    let lines = weights(&book, &cypress);
    assert!((exact(&lines, "total, cured") - 679.0).abs() < 1.0);
    assert!((exact(&lines, "total, wet on the day") - 747.0).abs() < 1.0);
    assert_eq!(exact(&lines, "floor load, cured").round(), 96.0);
    assert_eq!(exact(&lines, "floor load, wet on the day").round(), 106.0);
    assert!(find(&lines, "floor load, cured").sum.contains("ask the engineer"));
    lines.iter().for_each(redo);

    let mut wall = measures(36.0, 144.0, 11.355, 288.0);
    wall.footing = stands_on(36.0);
    wall.standing_water = Some(Volume::from_gallons(60.0));
    let lines = weights(&book, &wall);
    assert_relative_eq!(exact(&lines, "total, cured"), 1864.0, max_relative = 1e-3);
    assert_eq!(exact(&lines, "floor load, cured").round(), 52.0);
    assert!(!find(&lines, "floor load, cured").sum.contains("engineer"));
    lines.iter().for_each(redo);
}

// 100 lb of foam at 6 ft and a skin of 300 lb at 2 ft act together at (600 + 600) / 400 = 3 ft: 1 ft outside a foot that ends at 2 ft, and
// within one that ends at 4 ft.
#[test]
fn a_weight_outside_its_only_foot_tips() {
    let mut book = hand_book();
    book.lath.classes.clear();
    let cu_ft = |pounds: f64, density: Density| pounds / (Volume::from_cubic_feet(1.0) * density).pounds();
    let mut leaning = measures(1.0, 1.0, cu_ft(300.0, book.mix.wet_density), cu_ft(100.0, book.foam.density));
    for (end, tips) in [(2.0, true), (4.0, false)] {
        let mut footing = on(vec![bearing(4.0, 1.0, 1.0, 1.0)], [0.0, end, 2.0]);
        footing.skin_at = vector![2.0, 1.0] * 0.3048;
        footing.foam_at = vector![6.0, 1.0] * 0.3048;
        leaning.footing = Some(Measured::good(footing));
        let load = find(&weights(&book, &leaning), "floor load, wet on the day");
        assert_eq!(load.exact.is_none(), tips, "{}", load.sum);
        if tips {
            assert_eq!(load.quality.grade, Grade::NotDefined);
            assert!(load.sum.contains("1 ft (305 mm) outside its only foot, 3 ft (914 mm) from left"), "{}", load.sum);
            assert!(load.sum.contains("How is it held?"), "{}", load.sum);
        }
    }
}

// A point that touches beside feet which carry the weight alone is named and changes no load.
#[test]
fn a_point_beside_feet_that_carry_is_named() {
    let mut stands = measures(1.0, 1.0, 0.1, 1.0);
    let feet = || on(vec![bearing(4.0, 1.0, 0.5, 0.5), bearing(4.0, 11.0, 0.5, 0.5)], [0.0, 12.0, 2.0]);
    let load = |footing: Footing, stands: &mut Measures| {
        stands.footing = Some(Measured::good(footing));
        find(&weights(&hand_book(), stands), "floor load, cured")
    };
    let alone = load(feet(), &mut stands);
    let touching = load(Footing { touches: vec![vector![0.3048, 0.6096]], ..feet() }, &mut stands);
    assert_eq!((alone.exact, alone.quality.grade), (touching.exact, Grade::Good));
    assert!(touching.sum.contains("1 ft (305 mm) from left and 2 ft (610 mm) from front"), "{}", touching.sum);
    assert!(touching.sum.contains("carry nothing"), "{}", touching.sum);
    // Where the weight acts beyond the feet the point carries some of it, and nothing says how much.
    let at = vector![20.0, 1.0] * 0.3048;
    let beyond = Footing { touches: vec![at], skin_at: at, foam_at: at, ..feet() };
    let beyond = load(beyond, &mut stands);
    assert!(beyond.exact.is_none() && beyond.sum.contains("how is it bedded there?"), "{}", beyond.sum);
}

// The box wall on two feet of 4 and 2 sq ft, half and half, its lath 54.4 lb: wet 1135.5 + 288 + 54.4 = 1477.9 lb, 738.9 lb on 2 sq ft
// is 369.5 psf. Over a hull of 24 sq ft it reads 61.6, below the limit of 80, and must not be passed by that.
#[test]
fn the_worst_foot_is_what_the_floor_feels() {
    let book = hand_book();
    let mut arch = measures(36.0, 144.0, 11.355, 288.0);
    let feet = vec![bearing(4.0, 1.0, 0.5, 0.5), bearing(2.0, 3.0, 0.5, 0.5)];
    arch.footing = Some(Measured::good(on(feet, [0.0, 12.0, 2.0])));
    let lines = weights(&book, &arch);
    let total = exact(&lines, "total, wet on the day");
    let load = find(&lines, "floor load, wet on the day");
    assert_relative_eq!(load.exact.unwrap(), total / 4.0, max_relative = 1e-12);
    for words in ["worst of 2 feet: foot 2", "above it: ask the engineer", "24.000 sq ft", "which no foot feels"] {
        assert!(load.sum.contains(words), "{words}: {}", load.sum);
    }
    lines.iter().for_each(redo);
}

// A weight beyond its feet lifts one: the load is then a lower bound and is never called below the limit.
#[test]
fn a_foot_that_lifts_is_said() {
    let mut tipping = measures(1.0, 1.0, 0.1, 1.0);
    let feet = vec![bearing(40.0, 1.0, 1.5, 1.5), bearing(20.0, 3.0, -0.5, -0.5)];
    tipping.footing = Some(Measured::good(on(feet, [0.0, 40.0, 2.0])));
    let load = find(&weights(&hand_book(), &tipping), "floor load, cured");
    assert_eq!(load.quality.grade, Grade::LowerBound);
    assert!(load.sum.contains("foot 2 lifts off") && load.sum.contains("may be above it"), "{}", load.sum);
}

// A round base has no contact to divide by, whatever it weighs.
#[test]
fn without_a_flat_foot_there_is_no_load() {
    let mut ball = measures(1.0, 1.0, 0.1, 1.0);
    ball.footing = Some(Measured::not_defined("how is it bedded?"));
    let load = find(&weights(&hand_book(), &ball), "floor load, cured");
    assert_eq!((load.exact, load.sum.as_str()), (None, "not defined: how is it bedded?"));
}
