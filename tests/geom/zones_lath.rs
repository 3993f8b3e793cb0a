//! Lath and lifts against sums done by hand.

use crate::zones_shapes::{Form, ball, block, frustum, half_barrel, names, plate};
use cragskin_geom::lean::Class;
use cragskin_geom::units::{Angle, Area, Density, Length};
use cragskin_geom::zones::{LathPlan, LathRules, Laying, LiftRules, Lifts, yield_stress_at_plumb};

fn near(a: f64, b: f64, by: f64) {
    assert!((a - b).abs() <= by, "{a} is not {b} to {by}");
}

fn inch(x: f64) -> Length {
    Length::from_inches(x)
}

/// Sheet size of ASTM C847, laps of ASTM C1063, 15 % cutting.
fn lath_rules() -> LathRules {
    LathRules {
        classes: vec![Class::Wall, Class::Undercut, Class::Soffit],
        large_only: vec![Class::Wall],
        min_area: Area::from_square_feet(10.0),
        min_height: inch(24.0),
        sheet: [inch(27.0), inch(96.0)],
        side_lap: inch(0.5),
        end_lap: inch(1.0),
        waste: 0.15,
        past_edge: inch(4.0),
        fixing_grid: [12.0, 12.0, 8.0, 6.0, 6.0].map(inch),
        strips_above: 0.25,
    }
}

fn lift_rules() -> LiftRules {
    LiftRules { plumb: inch(2.0), ceiling: inch(0.75), applied: inch(1.25) }
}

fn plan(form: &Form) -> LathPlan {
    LathPlan::of(&form.zones().1, &lath_rules())
}

/// 26.5 x 95 in / 144 = 17.48 sq ft. 144 x 1.15 / 17.48 = 9.47: ten sheets.
#[test]
fn a_box_of_twelve_by_eight_by_three() {
    near(lath_rules().net_cover().square_feet(), 17.48, 0.005);
    for form in [block(12.0, 3.0, 8.0), (0..5).fold(block(12.0, 3.0, 8.0), |f, _| f.split())] {
        let plan = plan(&form);
        assert_eq!(plan.zones.len(), 1);
        near(plan.area.square_feet(), 144.0, 1e-6);
        near(plan.zones[0].by_area, 144.0 * 1.15 / 17.482_639, 1e-4);
        assert_eq!((plan.by_area, plan.sheets()), (10, 10));
        // Sheets upright, 96 in high: 27 + 7 x 26.5 = 212.5 in of 216 in whole, 3.5 in ripped six from a sheet, and 18 ft
        // of return ripped six from a sheet: 8 + 96 / 95 / 6 + 216 / 95 / 6 = 8.55. Courses would take 9.47.
        assert_eq!((plan.zones[0].laying, plan.zones[0].courses), (Laying::Upright, 9));
        near(plan.zones[0].by_laying, 8.0 + (96.0 + 216.0) / 95.0 / 6.0, 1e-3);
        // 8 in grid: 144 x 144 / 64; edge 2 x (18 + 8) ft.
        assert_eq!((plan.zones[0].fixings_grid, plan.zones[0].fixings_edge), (324, 78));
        assert!(!plan.zones[0].strips);
    }
}

/// One foot higher: 162 x 1.15 / 17.48 = 10.66, eleven sheets.
#[test]
fn a_foot_more_takes_an_eleventh_sheet() {
    assert_eq!(plan(&block(12.0, 3.0, 9.0)).sheets(), 11);
}

/// 3 ft to 2 ft across, 10 ft high: pi (1.5 + 1.0) sqrt(100.25) = 78.64 sq ft (less 0.07 % for 48 flats): six sheets.
#[test]
fn a_cone_frustum() {
    let plan = plan(&frustum(1.5, 1.0, 10.0, 48, 12));
    near(plan.area.square_feet(), 78.64, 0.2);
    assert_eq!(plan.sheets(), 6);
    assert!(!plan.zones[0].strips, "a cone is not curved both ways");
}

/// Two towers of 3 x 8 ft on a base 12 ft wide and 1 ft high. The towers take four courses of 6 ft, the last one 16 in
/// high; the 6 ft of base between them is 12 in high, two strips to a sheet: (4 x 72 + 72 / 2) / 95 = 3.41 sheets. Other
/// heights of the first course may do with less, but never with less than 54 sq ft by net cover, 3.09. The longest girth
/// of each course would make it (144 + 3 x 72) / 95 = 3.79.
#[test]
fn courses_are_cut_where_the_patch_is_not() {
    let wall = |x: [f64; 2], z: [f64; 2]| {
        let [[a, b], [c, d]] = [x, z];
        Form::default().quad([[a, 0.0, c], [b, 0.0, c], [b, 0.0, d], [a, 0.0, d]], true)
    };
    let parts = [
        wall([0.0, 3.0], [0.0, 1.0]),
        wall([3.0, 9.0], [0.0, 1.0]),
        wall([9.0, 12.0], [0.0, 1.0]),
        wall([0.0, 3.0], [1.0, 8.0]),
        wall([9.0, 12.0], [1.0, 8.0]),
    ];
    let mut form = Form::default();
    for part in parts {
        form.triangles.extend(part.triangles);
        form.coated.extend(part.coated);
    }
    for form in [form.clone(), (0..4).fold(form, |f, _| f.split())] {
        let plan = plan(&form);
        let laid = &plan.zones[0];
        assert_eq!((plan.zones.len(), laid.laying), (1, Laying::Courses));
        near(plan.area.square_feet(), 54.0, 1e-6);
        assert!((54.0 / 17.482_639..=(4.0 * 72.0 + 72.0 / 2.0) / 95.0 + 0.01).contains(&laid.by_laying));
        near(laid.laid.inches() - laid.from_offcuts.inches(), laid.by_laying * 95.0, 1e-6);
    }
}

/// Grid of 8 in on 120 sq ft: 120 x 144 / 64 = 270; of 6 in: 480.
#[test]
fn fixings_on_a_grid() {
    let wall = plan(&plate(12.0, 10.0, 90.0, 20.0));
    assert_eq!(wall.zones[0].fixings_grid, 270);
    let under = plan(&plate(12.0, 10.0, 120.0, 20.0));
    assert_eq!(under.zones[0].fixings_grid, 480);
}

#[test]
fn small_or_low_walls_go_without_and_undercuts_never() {
    assert!(plan(&plate(3.0, 3.0, 90.0, 20.0)).zones.is_empty(), "9 sq ft");
    assert!(plan(&plate(9.0, 1.9, 90.0, 20.0)).zones.is_empty(), "under 24 in high");
    assert_eq!(plan(&plate(5.0, 2.1, 90.0, 20.0)).zones.len(), 1);
    assert_eq!(plan(&plate(2.0, 1.0, 120.0, 20.0)).zones.len(), 1);
    assert!(plan(&plate(9.0, 9.0, 60.0, 20.0)).zones.is_empty(), "slopes take none");
}

/// Gauss curvature of a ball of radius r is 1 / r^2.
#[test]
fn a_ball_is_cut_to_strips() {
    let (_, zones) = ball(3.0, 40).zones();
    let exact = 1.0 / (3.0 * crate::zones_shapes::FT).powi(2);
    // Averaging stops at the edge of a zone and flattens the last 6 in, most of the smallest zone.
    zones.zones.iter().for_each(|z| near(z.double_curvature, exact, 0.35 * exact));
    let plan = LathPlan::of(&zones, &lath_rules());
    assert!(!plan.zones.is_empty() && plan.zones.iter().all(|z| z.strips));
    let (_, round) = frustum(2.0, 2.0, 6.0, 96, 60).zones();
    near(round.zones[0].double_curvature, 0.0, 0.02 * exact);
}

/// Columns: lean, and inches that hold at 2.0 in plumb and 0.75 in overhead, by pocket calculator:
/// 2 / sin up to 90, 1 / sqrt((sin / 2)^2 + (cos / 0.75)^2) past it.
#[test]
fn what_holds_on_a_lean() {
    for (lean, holds) in [
        (30.0, 4.0),
        (60.0, 2.3094),
        (90.0, 2.0),
        (105.0, 1.6847),
        (120.0, 1.2579),
        (125.0, 1.1527),
        (135.0, 0.9932),
        (180.0, 0.75),
    ] {
        near(lift_rules().allowed(Angle::from_degrees(lean)).inches(), holds, 5e-4);
    }
    let table = lift_rules().table();
    assert_eq!(table.len(), 37);
    assert!(table[0].1.allowed.metres() > 1e3, "a level top has no limit");
    assert!(table[1..].windows(2).all(|w| w[1].1.allowed < w[0].1.allowed), "the steeper the less");
    assert!(table.windows(2).all(|w| w[1].1.lifts >= w[0].1.lifts));
}

/// A ledge face of 4 x 2 ft, 1.25 in applied: at 120 degrees 1.258 in holds (one lift, at limit), at 125 degrees 1.153.
#[test]
fn a_ledge_goes_from_one_lift_to_two() {
    for cell in [9.0, 0.1] {
        let lifts = |lean: f64| {
            let (mesh, zones) = plate(4.0, 2.0, lean, cell).zones();
            Lifts::count(&mesh, &zones, &lift_rules())
        };
        let (b, c) = (lifts(120.0), lifts(125.0));
        assert_eq!((b.zones[0].most, c.zones[0].most), (1, 2));
        near(b.zones[0].at_limit.square_feet(), 8.0, 1e-6);
        near(b.two_or_more.square_feet(), 0.0, 0.0);
        near(c.two_or_more.square_feet(), 8.0, 1e-6);
        // Lip to root: 2 ft up the face at 30 and 35 degrees from plumb.
        near(b.zones[0].reach.unwrap().feet(), 2.0 * 0.5, 1e-6);
        near(c.zones[0].reach.unwrap().feet(), 2.0 * 35.0_f64.to_radians().sin(), 1e-6);
    }
}

/// The same ledge face in a wall: what lies beyond the crease does not change its lifts.
#[test]
fn a_crease_does_not_blur_a_ledge() {
    let (s, c) = 35.0_f64.to_radians().sin_cos();
    let profile = [[2.0 * s, 0.0], [2.0 * s, 3.0], [0.0, 3.0 + 2.0 * c], [0.0, 7.0]];
    let mut form = Form::default();
    for p in profile.windows(2) {
        let [a, b] = [p[0], p[1]];
        form = form.quad([[0.0, a[0], a[1]], [4.0, a[0], a[1]], [4.0, b[0], b[1]], [0.0, b[0], b[1]]], true);
    }
    for form in [form.clone(), (0..5).fold(form, |f, _| f.split())] {
        let (mesh, zones) = form.zones();
        assert_eq!(names(&zones), ["W1", "W2", "U1"]);
        near(zones.zones[2].lean_mean.degrees(), 125.0, 1e-3);
        near(Lifts::count(&mesh, &zones, &lift_rules()).two_or_more.square_feet(), 8.0, 1e-6);
    }
}

/// Facets leaning 122.5 degrees and more: 12 to a side, 24 x 0.5234 x 10 = 125.6 sq ft.
#[test]
fn half_barrel_lifts() {
    // On small triangles the mean runs evenly from facet to facet; the limit, 120.35 degrees, lies 0.35 degrees (0.07
    // facets) above an edge of two facets, one on each side of the barrel.
    for (form, by) in [(half_barrel(), 0.05), (half_barrel().split().split(), 0.14 * 5.234)] {
        let (mesh, zones) = form.zones();
        near(Lifts::count(&mesh, &zones, &lift_rules()).two_or_more.square_feet(), 125.62, by);
    }
}

/// rho g t: 19 mm at 2000 and at 1200 kg/m3.
#[test]
fn yield_stress() {
    near(yield_stress_at_plumb(Length::from_millimetres(19.0), Density::from_kg_per_m3(2000.0)), 372.65, 0.01);
    near(yield_stress_at_plumb(Length::from_millimetres(19.0), Density::from_kg_per_m3(1200.0)), 223.59, 0.01);
}
