//! The fix list, joints, marked-up models and sheets.

use crate::zones_shapes::{Form, ball, block, bumpy_wall, frustum, plate};
use cragskin_geom::export::{Paper, SheetText, elevation, glb, obj, ply};
use cragskin_geom::lean::Leans;
use cragskin_geom::mesh::Mesh;
use cragskin_geom::topology::Topology;
use cragskin_geom::units::{Angle, Area, Length};
use cragskin_geom::view::Side;
use cragskin_geom::zones::{
    Flag, FlagCode, FlagInput, FlagRules, FlagSize, JointRules, LiftRules, Lifts, ThinCore, Zones, flags, joints, pools,
};
use nalgebra::Point3;

fn near(a: f64, b: f64, by: f64) {
    assert!((a - b).abs() <= by, "{a} is not {b} to {by}");
}

fn inch(x: f64) -> Length {
    Length::from_inches(x)
}

fn list(form: &Form, thin_core: &[ThinCore]) -> (Mesh, Zones, Vec<Flag>) {
    listed(form, thin_core, inch(1.25), |_| 1.0)
}

fn listed(
    form: &Form,
    thin_core: &[ThinCore],
    applied: Length,
    share: impl Fn(usize) -> f64 + Sync,
) -> (Mesh, Zones, Vec<Flag>) {
    let mesh = form.mesh();
    let topology = Topology::of(&mesh);
    let zone_rules = crate::zones_shapes::rules();
    let leans = Leans::measure(&mesh, &topology, &form.coated, zone_rules.smooth_radius);
    let zones = Zones::find_exposed(&mesh, &topology, &form.coated, share, &leans, &zone_rules);
    let rules = LiftRules { plumb: inch(2.0), ceiling: inch(0.75), applied };
    let lifts = Lifts::count(&mesh, &zones, &rules);
    let input =
        FlagInput { mesh: &mesh, topology: &topology, coated: &form.coated, zones: &zones, lifts: &lifts, thin_core };
    let rules = FlagRules {
        skin: inch(1.25),
        sharp_turn: Angle::from_degrees(45.0),
        min_edge: inch(6.0),
        trowel: inch(6.0),
        nozzle: inch(12.0),
        min_area: Area::from_square_feet(0.25),
        water_depth: inch(0.25),
    };
    let flags = flags(&input, &rules);
    (mesh, zones, flags)
}

fn only(flags: &[Flag], code: FlagCode) -> Vec<&Flag> {
    flags.iter().filter(|f| f.code == code).collect()
}

fn square_feet(flag: &Flag) -> f64 {
    match flag.size {
        FlagSize::Area(a) => a.square_feet(),
        FlagSize::Length(_) => f64::NAN,
    }
}

/// Outer edges between coated faces: front-top 12, side-tops 3 and 3, uprights 8 and 8: 34 ft, one line.
#[test]
fn edges_of_a_box() {
    for form in [block(12.0, 3.0, 8.0), (0..4).fold(block(12.0, 3.0, 8.0), |f, _| f.split())] {
        let (_, _, flags) = list(&form, &[]);
        assert_eq!(flags.iter().map(|f| f.code).collect::<Vec<_>>(), [FlagCode::SharpEdge]);
        let FlagSize::Length(length) = flags[0].size else { panic!("a length") };
        near(length.feet(), 34.0, 1e-6);
        assert_eq!(flags[0].number, 1);
    }
}

#[test]
fn round_and_bumpy_things_have_no_sharp_edge_at_skin_scale() {
    assert!(only(&list(&frustum(2.0, 2.0, 6.0, 24, 8), &[]).2, FlagCode::SharpEdge).is_empty(), "turns of 15 degrees");
    assert!(only(&list(&ball(2.0, 30), &[]).2, FlagCode::SharpEdge).is_empty());
    // Bumps of 1 in are texture under a skin of 1.25 in.
    assert!(only(&list(&bumpy_wall(2.0, 2.0), &[]).2, FlagCode::SharpEdge).is_empty());
    // A ridge of two plates: the turn decides.
    for (turn, sharp) in [(40.0_f64, false), (50.0, true)] {
        let back = 2.0 * (turn / 2.0).to_radians().tan();
        let ridge = Form::default()
            .quad([[0.0, back, 0.0], [5.0, back, 0.0], [5.0, 0.0, 2.0], [0.0, 0.0, 2.0]], true)
            .quad([[0.0, 0.0, 2.0], [5.0, 0.0, 2.0], [5.0, back, 4.0], [0.0, back, 4.0]], true);
        for form in [ridge.clone(), (0..5).fold(ridge, |f, _| f.split())] {
            let found = list(&form, &[]).2;
            let edges = only(&found, FlagCode::SharpEdge);
            assert_eq!(edges.len(), usize::from(sharp), "turn {turn}");
            edges.iter().for_each(|e| assert!(matches!(e.size, FlagSize::Length(l) if (l.feet() - 5.0).abs() < 1e-6)));
        }
    }
}

/// A ledge of 8 sq ft hanging out 35 degrees takes two lifts; its place is its middle.
#[test]
fn a_two_lift_undercut() {
    let (_, zones, flags) = list(&plate(4.0, 2.0, 125.0, 0.3), &[]);
    let two = only(&flags, FlagCode::TwoLift);
    assert_eq!(two.len(), 1);
    assert_eq!(two[0].zone, Some(zones.zones[0].name));
    near(square_feet(two[0]), 8.0, 1e-6);
    near(two[0].at[0].feet(), 2.0, 0.2);
    near(two[0].at[2].feet(), 35.0_f64.to_radians().cos(), 0.2);
    assert!(only(&list(&plate(4.0, 2.0, 120.0, 0.3), &[]).2, FlagCode::TwoLift).is_empty());
    assert_eq!(only(&list(&plate(4.0, 2.0, 170.0, 0.3), &[]).2, FlagCode::Soffit).len(), 1);
    near(square_feet(only(&list(&plate(4.0, 2.0, 134.0, 0.3), &[]).2, FlagCode::NearLimit)[0]), 8.0, 1e-6);
}

/// 2-1/2 in on a plumb wall that holds 2: two lifts on all of its 8 sq ft. A wall is listed like an undercut.
#[test]
fn a_two_lift_wall() {
    let (_, _, flags) = listed(&plate(4.0, 2.0, 90.0, 0.3), &[], inch(2.5), |_| 1.0);
    near(square_feet(only(&flags, FlagCode::TwoLift)[0]), 8.0, 1e-6);
}

/// One of the two triangles of a ledge lies inside another rock: its place, and half of the area, are not listed.
#[test]
fn what_is_buried_is_not_listed() {
    let (mesh, _, flags) = listed(&plate(4.0, 2.0, 125.0, 5.0), &[], inch(1.25), |f| if f == 0 { 0.0 } else { 1.0 });
    let two = only(&flags, FlagCode::TwoLift);
    near(square_feet(two[0]), 4.0, 1e-6);
    let low = mesh.positions().iter().fold(Point3::from([f64::INFINITY; 3]), |l, p| l.inf(p));
    let middle = mesh.corners(1).iter().map(|p| p.x - low.x).sum::<f64>() / 3.0;
    near(two[0].at[0].metres(), middle, 1e-9);
    // All of it buried: nothing.
    assert!(listed(&plate(4.0, 2.0, 125.0, 5.0), &[], inch(1.25), |_| 0.0).2.is_empty());
}

/// Slots 1 ft deep across a block, 2, 5, 9 and 14 in wide: filled, no trowel, no nozzle, nothing.
#[test]
fn slots_by_width() {
    for (wide, code) in
        [(2.0, Some(FlagCode::Crevice)), (5.0, Some(FlagCode::NoTrowel)), (9.0, Some(FlagCode::NoNozzle)), (14.0, None)]
    {
        let w = wide / 12.0;
        let profile = [[0.0, 2.0], [2.0, 2.0], [2.0, 1.0], [2.0 + w, 1.0], [2.0 + w, 2.0], [4.0 + w, 2.0]];
        let mut form = Form::default();
        for p in profile.windows(2) {
            let [a, b] = [p[0], p[1]];
            form = form.quad([[a[0], 0.0, a[1]], [a[0], 3.0, a[1]], [b[0], 3.0, b[1]], [b[0], 0.0, b[1]]], true);
            let n = form.triangles.len();
            form.triangles[n - 2..].iter_mut().for_each(|t| t.swap(1, 2));
        }
        let (_, _, flags) = list(&form, &[]);
        for c in [FlagCode::Crevice, FlagCode::NoTrowel, FlagCode::NoNozzle] {
            let found = only(&flags, c);
            assert_eq!(found.len(), if Some(c) == code { found.len().max(1) } else { 0 }, "{wide} in, {c:?}");
            // Both walls of the slot, 3 ft long and 1 ft deep. Patches blur the ends: 1 %.
            if Some(c) == code {
                near(found.iter().map(|f| square_feet(f)).sum(), 6.0, 0.06);
            }
        }
    }
}

/// A pit of 2 x 2 ft, 3 in deep, in a top of 6 x 6 ft: 4 sq ft of water.
#[test]
fn water_stands_in_a_pit() {
    let pit = |depth: f64| {
        let dip = |x: f64, y: f64| if [x, y].iter().all(|c| (1.999_95..4.000_05).contains(c)) { -depth } else { 0.0 };
        let mut form = Form::default();
        let line = [0.0, 1.0, 2.0 - 1e-4, 2.0, 3.0, 4.0, 4.0 + 1e-4, 5.0, 6.0];
        for i in 0..8 {
            for j in 0..8 {
                let p = |i: usize, j: usize| [line[i], line[j], dip(line[i], line[j])];
                form = form.quad([p(i, j), p(i + 1, j), p(i + 1, j + 1), p(i, j + 1)], true);
            }
        }
        form
    };
    // The walls of the pit stand on a strip of 1e-4 ft.
    let form = pit(0.25);
    let mesh = form.mesh();
    let found = pools(&mesh, &Topology::of(&mesh), inch(0.25));
    assert_eq!(found.len(), 1);
    near(found[0].depth.inches(), 3.0, 1e-6);
    near(found[0].area.square_feet(), 4.0, 0.01);
    let flat = pit(0.0).mesh();
    assert!(pools(&flat, &Topology::of(&flat), inch(0.25)).is_empty());
    assert_eq!(only(&list(&pit(0.25), &[]).2, FlagCode::StandingWater).len(), 1);
}

#[test]
fn thin_core_is_handed_in() {
    let plate = plate(4.0, 2.0, 90.0, 5.0);
    let low = plate.mesh().positions().iter().fold(Point3::from([f64::INFINITY; 3]), |l, p| l.inf(p));
    let at = low + nalgebra::Vector3::new(0.3048, 0.0, 0.1524);
    let (_, _, flags) = list(&plate, &[ThinCore { face: 0, at, area: Area::from_square_feet(2.0) }]);
    let thin = only(&flags, FlagCode::ThinCore);
    assert_eq!(thin.len(), 1);
    // At its own middle, not at that of a triangle.
    near(thin[0].at[0].inches(), 12.0, 1e-9);
    near(thin[0].at[2].inches(), 6.0, 1e-9);
}

/// 144 sq ft, 18 ft, 2.5 to 1. A wall of 30 x 10 ft is 300 sq ft: three fields of 10 x 10.
#[test]
fn joints_of_a_long_wall() {
    let rules = JointRules {
        area_wall: Area::from_square_feet(144.0),
        area_other: Area::from_square_feet(100.0),
        length: Length::from_feet(18.0),
        ratio: 2.5,
    };
    let plan = |form: &Form| {
        let (mesh, zones) = form.zones();
        joints(&mesh, &Topology::of(&mesh), &zones, &rules)
    };
    let long = plan(&plate(30.0, 10.0, 90.0, 40.0));
    assert_eq!((long.len(), long[0].fields, long[0].kept), (1, [3, 1], [true; 3]));
    near(long[0].upright[0].feet(), 10.0, 1e-6);
    near(long[0].length.feet(), 20.0, 1e-6);
    assert!(plan(&plate(16.0, 9.0, 90.0, 40.0)).is_empty(), "144 sq ft is one field");
    assert_eq!(plan(&plate(16.0, 9.0, 180.0, 40.0))[0].fields.iter().product::<usize>(), 2, "a ceiling is not");
    // 20 ft high with a crease at 9 ft: the joint across moves there from 10 ft.
    let bent = Form::default()
        .quad([[0.0, 0.0, 0.0], [9.0, 0.0, 0.0], [9.0, 1.6, 9.0], [0.0, 1.6, 9.0]], true)
        .quad([[0.0, 1.6, 9.0], [9.0, 1.6, 9.0], [9.0, 0.0, 20.0], [0.0, 0.0, 20.0]], true);
    let bent = plan(&bent);
    assert_eq!((bent[0].fields, bent[0].in_crease), ([1, 2], 1));
    near(bent[0].across[0].feet(), 9.0, 0.1);
    assert_eq!(bent[0].kept, [true; 3]);
}

#[test]
fn models_open_in_other_libraries() {
    let form = block(12.0, 3.0, 8.0).split();
    let (mesh, zones) = form.zones();
    let files = obj(&mesh, &zones, "zones.mtl");
    let (models, materials) = tobj::load_obj_buf(&mut files.obj.as_slice(), &tobj::LoadOptions::default(), |_| {
        tobj::load_mtl_buf(&mut files.mtl.as_slice())
    })
    .unwrap();
    let names: Vec<&str> = models.iter().map(|m| m.name.as_str()).collect();
    assert_eq!(names, ["T1_top", "W1_wall", "bare"]);
    assert_eq!(models.iter().map(|m| m.mesh.indices.len() / 3).collect::<Vec<_>>(), [8, 24, 16]);
    let materials = materials.unwrap();
    assert_eq!(materials.len(), 3);
    assert!(models.iter().all(|m| materials[m.mesh.material_id.unwrap()].name == m.name));

    let glb = glb(&mesh, &zones);
    let model = gltf::Gltf::from_slice(&glb).unwrap();
    assert_eq!(model.nodes().map(|n| n.name().unwrap().to_string()).collect::<Vec<_>>(), names);
    let blob = model.blob.clone().unwrap();
    let counts: Vec<usize> = model
        .meshes()
        .map(|m| {
            let p = m.primitives().next().unwrap();
            let reader = p.reader(|_| Some(&blob));
            let points = reader.read_positions().unwrap().len();
            let indices: Vec<u32> = reader.read_indices().unwrap().into_u32().collect();
            assert!(indices.iter().all(|&i| (i as usize) < points));
            indices.len() / 3
        })
        .collect();
    assert_eq!(counts, [8, 24, 16]);

    let bytes = ply(&mesh, &zones);
    let parsed =
        ply_rs_bw::parser::Parser::<ply_rs_bw::ply::DefaultElement>::new().read_ply(&mut bytes.as_slice()).unwrap();
    assert_eq!(parsed.payload["vertex"].len(), mesh.positions().len());
    assert_eq!(parsed.payload["face"].len(), 48);
}

#[test]
fn sheets_are_well_formed_and_stay_on_the_paper() {
    let form = block(12.0, 3.0, 8.0);
    let (mesh, zones) = form.zones();
    let length = |l: Length| format!("{:.1} ft", l.feet());
    for paper in [Paper::Letter, Paper::A4] {
        for side in Side::ALL {
            let text = SheetText { title: "<Otter & Cliff>", note: "", length: &length };
            let svg = elevation(&mesh, Some(&zones), &[], side, paper, &text);
            assert!(svg.contains("&lt;Otter &amp; Cliff&gt;") && !svg.contains("<Otter"));
            let seen = ["W1", "bare", "W1", "W1", "T1"][side as usize];
            assert_eq!(svg.contains(">W1<"), seen == "W1", "{side:?}");
            assert_eq!(svg.contains(">T1<"), seen == "T1", "{side:?}");
            assert_eq!(svg, elevation(&mesh, Some(&zones), &[], side, paper, &text));
        }
    }
}

/// Without zones the outline stands alone, and says why; a note of 300 letters stands in lines within the paper.
#[test]
fn a_sheet_without_zones_draws_no_class() {
    let (mesh, _) = block(12.0, 3.0, 8.0).zones();
    let length = |l: Length| format!("{:.1} ft", l.feet());
    let note = "zones are not defined, ask ".repeat(12);
    let text = SheetText { title: "wall", note: &note, length: &length };
    let svg = elevation(&mesh, None, &[], Side::Front, Paper::Letter, &text);
    assert!(!svg.contains("url(#") && !svg.contains(">W1<") && !svg.contains("movement joint"));
    let lines = svg.lines().filter(|line| line.contains("zones are not defined"));
    let longest = lines.map(|line| line.split(['<', '>']).nth(2).unwrap().len()).max().unwrap();
    assert!((100..=128).contains(&longest), "{longest}");
}

/// A wall of 30 x 10 ft has two joints, 10 and 20 ft along: both are drawn and numbered on the front, on no other sheet.
#[test]
fn joints_are_drawn_where_the_wall_faces() {
    let form = plate(30.0, 10.0, 90.0, 40.0);
    let (mesh, zones) = form.zones();
    let rules = JointRules {
        area_wall: Area::from_square_feet(144.0),
        area_other: Area::from_square_feet(100.0),
        length: Length::from_feet(18.0),
        ratio: 2.5,
    };
    let joints = joints(&mesh, &Topology::of(&mesh), &zones, &rules);
    let length = |l: Length| format!("{:.1} ft", l.feet());
    let text = SheetText { title: "wall", note: "", length: &length };
    for view in Side::ALL {
        let svg = elevation(&mesh, Some(&zones), &joints, view, Paper::Letter, &text);
        let drawn = [">J1<", ">J2<", ">J3<"].map(|name| svg.contains(name));
        assert_eq!(drawn, [view == Side::Front, view == Side::Front, false], "{view:?}");
        // The legend, and two lines.
        assert_eq!(svg.matches("stroke-dasharray").count(), if view == Side::Front { 3 } else { 1 });
    }
}
