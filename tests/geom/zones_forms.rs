//! Zones of shapes whose answer is known without a computer.

use crate::zones_shapes::{
    FT, Form, areas, ball, block, bumpy_wall, check, fin, frustum, half_barrel, names, plate, rules,
};
use cragskin_geom::lean::{Class, Leans};
use cragskin_geom::topology::Topology;
use cragskin_geom::units::Length;

fn near(a: f64, b: f64, by: f64) {
    assert!((a - b).abs() <= by, "{a} is not {b} to {by}");
}

/// A leaning plate is one zone of its class, whatever its triangles; on a limit it is of the class below.
#[test]
fn plates_at_every_five_degrees() {
    let class = |lean: i32| match lean {
        ..=30 => Class::Top,
        31..=75 => Class::Slope,
        76..=100 => Class::Wall,
        101..=135 => Class::Undercut,
        _ => Class::Soffit,
    };
    for lean in (0..=180).step_by(5) {
        for cell in [10.0, 0.21] {
            for turn in [0.0, 33.0] {
                let form = plate(4.0, 3.0, f64::from(lean), cell).turned(turn);
                let (mesh, zones) = form.zones();
                check(&form, &mesh, &zones);
                assert_eq!(zones.zones.len(), 1, "lean {lean}");
                let z = &zones.zones[0];
                assert_eq!((z.name.class, z.name.number), (class(lean), 1), "lean {lean}");
                // Leans are kept in single precision.
                near(z.lean_mean.degrees(), f64::from(lean), 1e-4);
                near(z.lean_worst.degrees(), f64::from(lean), 1e-4);
                near(z.area.square_feet(), 12.0, 1e-6);
                let limits: [f64; 4] = [30.0, 75.0, 100.0, 135.0];
                let close = limits.iter().any(|l| (l - f64::from(lean)).abs() < 2.0);
                near(z.near_limit.square_feet(), if close { 12.0 } else { 0.0 }, 1e-6);
                if (30..=150).contains(&lean) {
                    near(z.height.feet(), 3.0, 1e-6);
                    near(z.width.feet(), 4.0, 1e-6);
                } else {
                    // Too flat to have a height: the shorter way in plan, along the surface.
                    let flat = 3.0 * f64::from(lean).to_radians().cos().abs();
                    near(z.height.feet(), if flat < 4.0 { 3.0 } else { 4.0 }, 1e-6);
                }
                near(z.outline.length.feet(), 14.0, 1e-6);
            }
        }
    }
}

/// 36 facets of 5 degrees, radius 6 ft, 10 ft long: each facet is 2 * 6 sin 2.5 deg = 0.5234 ft wide.
/// 4 facets below 100 degrees, 14 below 135, 18 above.
#[test]
fn half_barrel_from_inside() {
    let facet = 12.0 * 2.5_f64.to_radians().sin() * 10.0;
    for form in [half_barrel(), half_barrel().split(), half_barrel().split().split().turned(20.0)] {
        let (mesh, zones) = form.zones();
        check(&form, &mesh, &zones);
        assert_eq!(names(&zones), ["W1", "W2", "U1", "U2", "F1"]);
        let [_, _, wall, undercut, soffit] = areas(&zones);
        near(wall, 4.0 * facet, 1e-6);
        near(undercut, 14.0 * facet, 1e-6);
        near(soffit, 18.0 * facet, 1e-6);
        near(wall, 20.9, 0.05);
        near(undercut, 73.3, 0.05);
        near(soffit, 94.2, 0.05);
        // The soffit unrolls across its arc: 18 facets, 10 ft long.
        near(zones.zones[4].height.feet(), 1.8 * facet, 1e-6);
        near(zones.zones[4].width.feet(), 10.0, 1e-6);
    }
}

/// Equal-area zones of Archimedes: the share of a ball's area within 15 degrees of plumb is sin 15 = 0.2588.
#[test]
fn ball_shares() {
    let mut r = rules();
    r.limits.0 = [30.0, 75.0, 105.0, 135.0].map(cragskin_geom::units::Angle::from_degrees);
    let form = ball(3.0, 40);
    let (mesh, zones) = form.zones_by(&r);
    check(&form, &mesh, &zones);
    assert_eq!(names(&zones), ["T1", "S1", "W1", "U1", "F1"]);
    let a = areas(&zones);
    let share = |low: f64, high: f64| (low.to_radians().cos() - high.to_radians().cos()) / 2.0;
    let whole: f64 = a.iter().sum();
    // A face is a sixtieth of the girth long and falls wholly on one side of a limit: half of that along each limit.
    for (got, [low, high]) in a.iter().zip([[0.0, 30.0], [30.0, 75.0], [75.0, 105.0], [105.0, 135.0], [135.0, 180.0]]) {
        near(got / whole, share(low, high), 0.01);
    }
    near(a[2] / whole, 0.258_819, 0.01);
}

#[test]
fn a_box_is_wall_and_top_to_the_inch() {
    let coarse = block(12.0, 3.0, 8.0);
    for form in [coarse.clone(), coarse.split().split(), (0..6).fold(coarse, |f, _| f.split()).turned(40.0)] {
        let (mesh, zones) = form.zones();
        check(&form, &mesh, &zones);
        assert_eq!(names(&zones), ["T1", "W1"]);
        // The mean passes through `slope` along the top edge, yet that strip is no zone: areas are exact.
        near(zones.zones[0].area.square_feet(), 36.0, 1e-6);
        near(zones.zones[1].area.square_feet(), 144.0, 1e-6);
        near(zones.zones[1].height.feet(), 8.0, 1e-6);
        near(zones.zones[1].width.feet(), 18.0, 1e-6);
        near(zones.zones[1].outline.outer.feet(), 18.0, 1e-6);
    }
}

#[test]
fn bumps_do_not_break_a_wall() {
    let form = bumpy_wall(6.0, 5.0);
    let (mesh, zones) = form.zones();
    check(&form, &mesh, &zones);
    assert_eq!(names(&zones), ["W1"]);
    near(zones.zones[0].lean_mean.degrees(), 90.0, 0.5);
    // Half of the area faces up or down by 45 degrees: that much changes class.
    let share = zones.changed_by_smoothing / zones.zones[0].area;
    near(share, 0.5, 0.05);
}

#[test]
fn a_fin_keeps_two_sides() {
    let coarse = fin(6.0, 4.0, 2.0 / 12.0);
    for form in [coarse.clone(), coarse.split().split(), (0..6).fold(coarse, |f, _| f.split())] {
        let (mesh, zones) = form.zones();
        check(&form, &mesh, &zones);
        assert_eq!(names(&zones), ["W1", "W2"]);
        let leans = zones.zones.iter().map(|z| z.lean_mean.degrees());
        leans.for_each(|l| near(l, 90.0, 5.0));
        // Front and back of 24 sq ft; the rim of 2 in (2.33 sq ft) goes to either.
        for z in &zones.zones {
            assert!((24.0 - 1e-6..26.4).contains(&z.area.square_feet()), "{}", z.area.square_feet());
        }
        let side = |f: usize| mesh.area_vector(f).y / mesh.area_vector(f).norm();
        let faces = |z: usize, sign: f64| zones.zones[z].faces().iter().any(|&f| side(f as usize) * sign > 0.9);
        assert!(faces(0, 1.0) != faces(0, -1.0) && faces(1, 1.0) != faces(1, -1.0), "sides mixed");
    }
}

/// Risers of 3 ft and treads of 2 ft: three walls, three tops.
#[test]
fn a_step_wall() {
    let mut form = Form::default();
    for k in 0..3 {
        let (y, z) = (2.0 * f64::from(k), 3.0 * f64::from(k));
        form = form.quad([[0.0, y, z], [8.0, y, z], [8.0, y, z + 3.0], [0.0, y, z + 3.0]], true);
        form =
            form.quad([[0.0, y, z + 3.0], [8.0, y, z + 3.0], [8.0, y + 2.0, z + 3.0], [0.0, y + 2.0, z + 3.0]], true);
    }
    for form in [form.clone(), (0..5).fold(form, |f, _| f.split())] {
        let (mesh, zones) = form.zones();
        check(&form, &mesh, &zones);
        assert_eq!(names(&zones), ["T1", "T2", "T3", "W1", "W2", "W3"]);
        zones.zones[..3].iter().for_each(|z| near(z.area.square_feet(), 16.0, 1e-6));
        zones.zones[3..].iter().for_each(|z| near(z.area.square_feet(), 24.0, 1e-6));
        // Equal sizes are numbered from the lowest.
        assert!(zones.zones[3].centre.z < zones.zones[4].centre.z && zones.zones[4].centre.z < zones.zones[5].centre.z);
    }
}

/// A groove 2 in wide and 3 in deep across a wall: narrower than the book's gap, one wall.
#[test]
fn a_groove_does_not_part_a_wall() {
    let (w, d, g) = (8.0, 3.0 / 12.0, 2.0 / 12.0);
    let profile = [[0.0, 0.0], [0.0, 3.0], [d, 3.0], [d, 3.0 + g], [0.0, 3.0 + g], [0.0, 6.0]];
    let mut form = Form::default();
    for p in profile.windows(2) {
        form = form.quad(
            [[0.0, p[0][0], p[0][1]], [w, p[0][0], p[0][1]], [w, p[1][0], p[1][1]], [0.0, p[1][0], p[1][1]]],
            true,
        );
    }
    for form in [form.clone(), (0..5).fold(form, |f, _| f.split())] {
        let (mesh, zones) = form.zones();
        check(&form, &mesh, &zones);
        assert_eq!(names(&zones), ["W1"]);
    }
}

/// A cylinder unrolls to its girth, a cone frustum to its slant height: 48 flat sides, so the girth is that of the 48-gon.
#[test]
fn round_things_unroll() {
    let gon = 2.0 * 48.0 * (std::f64::consts::PI / 48.0).sin();
    let (_, zones) = frustum(2.0, 2.0, 6.0, 48, 30).zones();
    assert_eq!(names(&zones), ["W1"]);
    near(zones.zones[0].height.feet(), 6.0, 1e-9);
    near(zones.zones[0].width.feet(), 2.0 * gon, 1e-9);

    let (_, zones) = frustum(1.5, 1.0, 10.0, 48, 1).zones();
    assert_eq!(names(&zones), ["W1"]);
    let apothem = 0.5 * (std::f64::consts::PI / 48.0).cos();
    near(zones.zones[0].height.feet(), 10.0_f64.hypot(apothem), 1e-9);
    near(zones.zones[0].area.square_feet(), 78.64, 0.002 * 78.64);
}

/// Noise of 1 mm on a scan of a wall with a ledge must not change the zones.
#[test]
fn scan_noise_changes_nothing() {
    let profile = [[0.0, 0.0], [0.0, 3.0], [1.2, 3.3], [1.2, 7.0]];
    let mut form = Form::default();
    for p in profile.windows(2) {
        let cells = (f64::hypot(p[1][0] - p[0][0], p[1][1] - p[0][1]) / 0.04) as usize;
        form = form.patch([150, cells], true, |u, v| {
            [6.0 * u, p[0][0] + (p[1][0] - p[0][0]) * v, p[0][1] + (p[1][1] - p[0][1]) * v]
        });
    }
    let (_, clean) = form.zones();
    let noise = |x: f64| ((x.sin() * 43_758.545_3).fract() - 0.5) * 2.0 * 0.001 / FT;
    let noisy = form.clone().map(|p| {
        let p = p.map(|x| (x * 1e6).round() / 1e6);
        let seed = p[0] * 12.9898 + p[1] * 78.233 + p[2] * 37.719;
        [p[0] + noise(seed), p[1] + noise(seed + 1.0), p[2] + noise(seed + 2.0)]
    });
    let (mesh, rough) = noisy.zones();
    check(&noisy, &mesh, &rough);
    assert_eq!(names(&clean), names(&rough));
    assert_eq!(names(&clean), ["T1", "W1", "W2"]);
    let moved = (0..form.coated.len())
        .filter(|&f| clean.zones[clean.of(f).unwrap()].name != rough.zones[rough.of(f).unwrap()].name)
        .map(|f| mesh.area_vector(f).norm())
        .sum::<f64>();
    // The edge may wander by half a face: 0.02 ft along 12 ft of edge.
    assert!(moved / FT / FT < 0.25, "{} sq ft changed zone", moved / FT / FT);
}

#[test]
fn order_of_triangles_changes_no_name_and_no_area() {
    let form = (0..4).fold(block(7.0, 2.0, 5.0), |f, _| f.split());
    let (_, zones) = form.zones();
    let mut back = form.clone();
    back.triangles.reverse();
    back.coated.reverse();
    let (_, again) = back.zones();
    assert_eq!(names(&zones), names(&again));
    for (a, b) in zones.zones.iter().zip(&again.zones) {
        near(a.area.square_feet(), b.area.square_feet(), 1e-6);
    }
}

/// A revision with one bump, its triangles sent in another order: away from the bump zones are what they were.
#[test]
fn a_bump_changes_no_zone_elsewhere() {
    use nalgebra::Point3;
    let shape = cragskin_fixtures::rock(7, 200_000, 2.5);
    let old: Vec<Point3<f64>> = shape.positions.iter().map(|p| Point3::from(*p)).collect();
    let at = old.iter().copied().max_by(|p, q| p.x.total_cmp(&q.x)).unwrap();
    let bumped = |p: &Point3<f64>| {
        let near = 1.0 - (p - at).norm() / 0.3;
        if near > 0.0 { p - nalgebra::Vector3::x() * (0.06 * near) } else { *p }
    };
    let new = old.iter().map(bumped).collect();
    let zones = |positions: Vec<Point3<f64>>, triangles: Vec<[u32; 3]>| {
        let mesh = cragskin_geom::mesh::Mesh::new(positions, triangles, Vec::new());
        let (topology, all) = (Topology::of(&mesh), vec![true; mesh.triangles().len()]);
        let leans = Leans::measure(&mesh, &topology, &all, Length::from_inches(6.0));
        cragskin_geom::zones::Zones::find(&mesh, &topology, &all, &leans, &rules()).zones
    };
    let was = zones(old, shape.triangles.clone());
    let is = zones(new, shape.triangles.into_iter().rev().collect());
    let [mut kept, mut all] = [0, 0];
    for z in &was {
        let gap = (z.bounds[0] - at).sup(&(at - z.bounds[1])).map(|g| g.max(0.0)).norm();
        // The bump, the block it lies in (16 patches of 30 mm), and how far a mean and a border reach.
        if gap > 0.3 + 0.9 + 0.3 {
            all += 1;
            let same = |n: &&cragskin_geom::zones::Zone| {
                n.name.class == z.name.class && (n.area.square_metres() - z.area.square_metres()).abs() < 1e-9
            };
            kept += usize::from(is.iter().any(|n| same(&n)));
        }
    }
    // One may hang together with what changed, through a patch that only just stands.
    assert!(all >= 4 && kept + 1 >= all, "{kept} of {all} zones far from the bump are what they were");
    assert!(was.iter().map(|z| z.area).collect::<Vec<_>>() != is.iter().map(|z| z.area).collect::<Vec<_>>());
}

/// Two threads or one, the same bits.
#[test]
fn threads_change_no_bit() {
    let form = ball(2.0, 30);
    let mesh = form.mesh();
    let topology = Topology::of(&mesh);
    let run = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let leans = Leans::measure(&mesh, &topology, &form.coated, Length::from_inches(6.0));
            (Zones::find(&mesh, &topology, &form.coated, &leans, &rules()), leans)
        })
    };
    use cragskin_geom::zones::Zones;
    assert!(run(1) == run(4));
}

/// Where rocks overlap, zones share out what lies exposed, and nothing else.
#[test]
fn zones_of_overlapping_rocks_add_up_to_the_exposed_area() {
    use cragskin_geom::solid::{Exposure, Solid};
    use cragskin_geom::zones::{LiftRules, Lifts, Zones};
    let shape = cragskin_fixtures::rocks_overlapping(3, 2, 6_000);
    let positions = shape.positions.iter().map(|p| nalgebra::Point3::from(*p)).collect();
    let mesh = cragskin_geom::mesh::Mesh::new(positions, shape.triangles, Vec::new());
    let topology = Topology::of(&mesh);
    let solid = Solid::of(&mesh, &topology, None);
    let exposure = Exposure::of(&solid, Length::from_inches(0.125));
    let share = |f: usize| exposure.share(f);
    let coated = vec![true; mesh.triangles().len()];
    let open: Vec<bool> = (0..coated.len()).map(|f| share(f) > 0.0).collect();
    let leans = Leans::measure(&mesh, &topology, &open, Length::from_inches(6.0));
    let zones = Zones::find_exposed(&mesh, &topology, &coated, share, &leans, &rules());
    let exposed = exposure.exposed.square_metres();
    let whole: f64 = (0..coated.len()).map(|f| mesh.area_vector(f).norm()).sum();
    // The case is one: much is buried, and some faces in part.
    assert!(exposed < 0.9 * whole);
    assert!((0..coated.len()).any(|f| share(f) > 0.0 && share(f) < 1.0));
    let sum: f64 = zones.zones.iter().map(|z| z.area.square_metres()).sum();
    near(sum, exposed, 1e-9 * exposed);
    for (f, &open) in open.iter().enumerate() {
        assert_eq!(zones.of(f).is_some(), open);
    }
    let inch = Length::from_inches;
    let lifts = Lifts::count(&mesh, &zones, &LiftRules { plumb: inch(2.0), ceiling: inch(0.75), applied: inch(1.25) });
    let by_lifts: f64 = lifts.zones.iter().flat_map(|z| &z.areas).map(|(_, a)| a.square_metres()).sum();
    near(by_lifts, exposed, 1e-9 * exposed);
}
