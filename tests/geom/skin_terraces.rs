//! Steps, terraces and ledges narrower than two skins, of which every other side is coated. Truths by plane geometry in each section.

use crate::skin_thin::{assert_sides, assert_sides_within};

/// Sides of a section in which both corners pass a test.
fn sides(section: &[[f64; 2]], is: impl Fn([f64; 2], [f64; 2]) -> bool) -> Vec<usize> {
    (0..section.len()).filter(|&k| is(section[k], section[(k + 1) % section.len()])).collect()
}

/// A section from the foot of its left side: what lies on top, from left to right, over a base so far down.
fn over_base(top: &[[f64; 2]], base: f64) -> Vec<[f64; 2]> {
    let right = top[top.len() - 1][0];
    [[0.0, base], [right, base]].into_iter().chain(top.iter().rev().copied()).collect()
}

/// Floors that go down in steps, each with a lip at its outer edge that is bare: width x thickness of each, as the coat of a floor ends at
/// its lip and above it as at a board, and that of the next below begins at the other side of the lip.
#[test]
fn floors_on_both_sides_of_a_lip() {
    // (floors, width, step, lip's width and height, thickness)
    for (floors, wide, step, lip, high, thick, cuts) in [
        (2, 4.0, 0.3, 0.3, 0.2, 0.75, 0),
        (2, 4.0, 0.5, 0.05, 2.0, 0.75, 0),
        (3, 2.0, 0.3, 0.2, 0.4, 0.75, 1),
        (5, 1.0, 0.1, 0.1, 0.07, 0.25, 0),
    ] {
        let mut top = Vec::new();
        let mut x = 0.0;
        for k in 0..floors {
            let z = -f64::from(k) * step;
            top.extend([[x, z], [x + wide, z]]);
            x += wide;
            if k + 1 < floors {
                top.extend([[x, z + high], [x + lip, z + high]]);
                x += lip;
            }
        }
        let section = over_base(&top, -4.0 - f64::from(floors) * step);
        let is_floor = |p: [f64; 2], q: [f64; 2]| {
            p[1] == q[1] && (0..floors).any(|k| p[1] == -f64::from(k) * step) && (p[0] - q[0]).abs() > wide - 1e-9
        };
        let on = sides(&section, is_floor);
        assert_eq!(on.len(), floors as usize);
        let what = format!("{floors} floors of {wide} in, lips {lip} x {high} in");
        // Of floors narrower than five skins most cubes have another coat about them, and the bound stays wider than asked.
        let known = if wide < 5.0 * thick { 0.03 } else { 0.005 };
        assert_sides_within(known, &what, &section, &on, thick, f64::from(floors) * wide * thick, cuts);
    }
}

/// Risers between level treads that are bare and narrower than two skins: height x thickness of each.
#[test]
fn risers_between_bare_treads() {
    for (steps, tread, riser, thick) in
        [(8, 1.0, 0.2, 0.75), (8, 1.0, 0.3, 0.75), (8, 0.6, 0.2, 0.75), (6, 2.5, 0.6, 2.0)]
    {
        let corner =
            |k: i32| [[f64::from(k) * tread, f64::from(k) * riser], [f64::from(k + 1) * tread, f64::from(k) * riser]];
        let top: Vec<[f64; 2]> = (0..steps).flat_map(corner).collect();
        let section = over_base(&top, -4.0);
        let right = f64::from(steps) * tread;
        let on = sides(&section, |p, q| p[0] == q[0] && p[0] > 1e-9 && p[0] < right - 1e-9);
        assert_eq!(on.len(), steps as usize - 1);
        let want = f64::from(steps - 1) * riser * thick;
        assert_sides(&format!("risers of {riser} in, treads of {tread} in"), &section, &on, thick, want, 0);
    }
}

/// Risers behind bare ledges that slope up to them by 15 degrees. In front of each: what lies above its foot, under the board that goes on
/// from the ledge above, and below its foot what is within the thickness of it.
#[test]
fn risers_behind_sloping_ledges() {
    let slope = f64::to_radians(15.0).tan();
    for (ledges, wide, rise, thick) in
        [(3, 0.9, 0.35, 0.75), (8, 0.9, 0.5, 0.75), (8, 0.9, 0.35, 0.75), (8, 1.8, 0.6, 0.75)]
    {
        let high = rise - wide * slope;
        let mut top = Vec::new();
        for k in 0..ledges {
            let at = [f64::from(k) * wide, f64::from(k) * rise];
            top.extend([at, [at[0] + wide, at[1] + wide * slope]]);
        }
        let section = over_base(&top, -4.0);
        let right = f64::from(ledges) * wide;
        let on = sides(&section, |p, q| (p[0] - q[0]).abs() < 1e-9 && p[0] > 1e-9 && p[0] < right - 1e-9);
        assert_eq!(on.len(), ledges as usize - 1);
        // By strips upright beside the riser: at the root of the circle's end the midpoints of 20,000 are off by a millionth.
        let strips = 20_000;
        let strip = |k: i32| {
            let out = (f64::from(k) + 0.5) / f64::from(strips) * thick;
            let low = (-out * slope).max(-(thick * thick - out * out).sqrt());
            (high - out * slope - low).max(0.0) * thick / f64::from(strips)
        };
        let want = f64::from(ledges - 1) * (0..strips).map(strip).sum::<f64>();
        assert_sides(&format!("{ledges} ledges of {wide} in, rise {rise} in"), &section, &on, thick, want, 0);
    }
}

/// A half round hollow of so many flats under level land that is bare, its flats shorter and longer than the skin is thick: half the
/// polygon less half the one inset by the thickness. Over the land the coat ends at its plane.
#[test]
fn a_hollow_ends_at_the_land_however_finely_it_is_cut() {
    use std::f64::consts::PI;
    for (flats, radius, thick) in [(24, 4.0, 2.0), (24, 4.0, 1.0), (12, 4.0, 1.0)] {
        let turn = PI / f64::from(flats);
        let corner = |k: i32| {
            let (sin, cos) = (f64::from(k) * turn).sin_cos();
            [8.0 + radius - radius * cos, -radius * sin]
        };
        let mut top = vec![[0.0, 0.0]];
        top.extend((0..=flats).map(corner));
        top.push([16.0 + 2.0 * radius, 0.0]);
        let section = over_base(&top, -2.0 * radius);
        let in_hollow = |p: [f64; 2]| (p[0] - 8.0 - radius).hypot(p[1]) < radius * (1.0 + 1e-9);
        let on = sides(&section, |p, q| in_hollow(p) && in_hollow(q));
        assert_eq!(on.len(), flats as usize);
        let half = |radius: f64| f64::from(flats) * radius * radius * turn.sin() / 2.0;
        let want = half(radius) - half(radius - thick / (turn / 2.0).cos());
        assert_sides(&format!("{flats} flats, {thick} in"), &section, &on, thick, want, 0);
    }
}
