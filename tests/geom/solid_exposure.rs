//! What is solid and what is exposed, against closed forms of boxes, prisms and spheres.

use cragskin_geom::effort::Effort;
use cragskin_geom::mesh::Mesh;
use cragskin_geom::solid::{Exposure, Overlap, Plane, Solid, WindingField};
use cragskin_geom::topology::Topology;
use cragskin_geom::units::Length;
use nalgebra::{Point3, Rotation3, Unit, Vector3};
use std::collections::HashMap;

/// Triangles with a part number each, welded by exact coordinates.
#[derive(Clone, Default)]
struct Shape(Vec<([Point3<f64>; 3], u32)>);

impl Shape {
    fn boxed(lo: [f64; 3], hi: [f64; 3], part: u32) -> Self {
        let p = |k: usize| Point3::from(std::array::from_fn(|i| if k >> i & 1 == 1 { hi[i] } else { lo[i] }));
        let quads = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        Self(quads.iter().flat_map(|q| [[q[0], q[1], q[2]], [q[0], q[2], q[3]]]).map(|t| (t.map(p), part)).collect())
    }

    /// A box whose faces are cut into n x n squares: other triangles, the same shape.
    fn fine_box(lo: [f64; 3], hi: [f64; 3], n: usize, part: u32) -> Self {
        let mut out = Vec::new();
        for (t, _) in Self::boxed(lo, hi, part).0.chunks_exact(2).map(|q| (q[0].0, q[1].0)) {
            let (u, v) = (t[1] - t[0], t[2] - t[1]);
            let at = |i: usize, j: usize| t[0] + u * (i as f64 / n as f64) + v * (j as f64 / n as f64);
            for i in 0..n {
                for j in 0..n {
                    out.push(([at(i, j), at(i + 1, j), at(i + 1, j + 1)], part));
                    out.push(([at(i, j), at(i + 1, j + 1), at(i, j + 1)], part));
                }
            }
        }
        Self(out)
    }

    /// Octahedron, subdivided and blown up onto a ball.
    fn ball(centre: [f64; 3], radius: f64, levels: usize, part: u32) -> Self {
        let (x, y, z) = (Vector3::x(), Vector3::y(), Vector3::z());
        let mut t = Vec::new();
        for (sx, sy, sz) in [(1., 1., 1.), (-1., 1., 1.), (-1., -1., 1.), (1., -1., 1.)] {
            let (a, b, c): (Vector3<f64>, Vector3<f64>, Vector3<f64>) = (x * sx, y * sy, z * sz);
            let up = if sx * sy > 0.0 { [a, b, c] } else { [b, a, c] };
            t.push(up);
            t.push([up[1], up[0], -up[2]]);
        }
        for _ in 0..levels {
            t = t
                .into_iter()
                .flat_map(|[a, b, c]| {
                    let (ab, bc, ca) = ((a + b).normalize(), (b + c).normalize(), (c + a).normalize());
                    [[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]
                })
                .collect();
        }
        Self(t.into_iter().map(|t| (t.map(|v| Point3::from(centre) + v * radius), part)).collect())
    }

    fn and(mut self, other: Self) -> Self {
        self.0.extend(other.0);
        self
    }

    fn turned_over(mut self) -> Self {
        self.0.iter_mut().for_each(|(t, _)| t.swap(1, 2));
        self
    }

    fn part(mut self, part: u32) -> Self {
        self.0.iter_mut().for_each(|t| t.1 = part);
        self
    }

    fn moved(mut self, f: impl Fn(Point3<f64>) -> Point3<f64>) -> Self {
        self.0.iter_mut().for_each(|(t, _)| *t = t.map(&f));
        self
    }

    /// As a file with 24-bit coordinates would hold it.
    fn rounded(self) -> Self {
        self.moved(|p| Point3::from(p.coords.map(|x| f64::from(x as f32))))
    }

    fn mesh(&self) -> Mesh {
        let (mut ids, mut positions, mut triangles) = (HashMap::new(), Vec::new(), Vec::new());
        for (t, _) in &self.0 {
            triangles.push(t.map(|p| {
                *ids.entry(p.coords.map(|x| (x + 0.0).to_bits())).or_insert_with(|| {
                    positions.push(p);
                    positions.len() as u32 - 1
                })
            }));
        }
        Mesh::new(positions, triangles, self.0.iter().map(|t| t.1).collect())
    }
}

fn exposure(shape: &Shape, gap: f64) -> Exposure {
    let mesh = shape.mesh();
    Exposure::of(&Solid::of(&mesh, &Topology::of(&mesh), None), Length::from_metres(gap))
}

/// Relative difference allowed where only rounding and the plane tolerance (2^-21 of the size) act.
const CLOSE: f64 = 2e-6;

#[track_caller]
fn same(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance * want.abs().max(1e-3), "got {got}, want {want}");
}

#[track_caller]
fn measures(e: &Exposure, area: f64, union: f64, sum: f64) {
    same(e.exposed.square_metres(), area, CLOSE);
    same(e.union.cubic_metres(), union, CLOSE);
    same(e.sum_of_parts.cubic_metres(), sum, CLOSE);
}

/// As drawn, turned, and turned then rounded to 24 bits: coplanar faces are then coplanar no longer.
fn poses(shape: &Shape) -> Vec<Shape> {
    let turns =
        [(0.3, 1.0, -0.4), (2.0, -0.7, 0.2), (0.1, 0.0, 0.0)].map(|(a, b, c)| Rotation3::from_euler_angles(a, b, c));
    let mut all = vec![shape.clone()];
    for r in turns {
        all.push(shape.clone().moved(|p| r * p));
        all.push(shape.clone().moved(|p| r * p).rounded());
    }
    all
}

// Two boxes of 100 x 60 x 40 mm, the second shifted 60 mm along the first: together a box of 160 x 60 x 40 mm.
// Four pairs of sides lie in one plane and face the same way.
#[test]
fn boxes_in_line_count_common_sides_once() {
    let two = Shape::boxed([0.0; 3], [0.1, 0.06, 0.04], 0).and(Shape::boxed([0.06, 0.0, 0.0], [0.16, 0.06, 0.04], 1));
    for shape in poses(&two) {
        let e = exposure(&shape, 0.0);
        measures(&e, 0.0368, 384e-6, 480e-6);
        assert_eq!(e.common.len(), 1);
        assert_eq!(e.common[0].kind, Overlap::Partly);
        same(e.common[0].volume.cubic_metres(), 96e-6, 1e-5);
    }
}

// A plus of two bars 120 x 40 x 40 mm: P = 400, B = 6400, H = 40, so area 2B + PH = 28800 mm2, volume BH.
#[test]
fn crossed_bars() {
    let bar = |x: f64, y: f64, part| Shape::boxed([-x, -y, 0.0], [x, y, 0.04], part);
    for shape in poses(&bar(0.05, 0.02, 0).and(bar(0.02, 0.05, 1))) {
        let e = exposure(&shape, 0.0);
        let (long, across) = (0.1, 0.04);
        let base = 2.0 * long * across - across * across;
        measures(&e, 2.0 * base + 4.0 * long * across, base * across, 2.0 * long * across * across);
    }
}

// Corner overlap of unit cubes: nothing coplanar. Each loses 3 quarters of a quarter... of its faces: three squares of 1/4.
#[test]
fn corner_overlap_of_cubes_cut_differently() {
    for n in [1, 2, 7] {
        let two = Shape::boxed([0.0; 3], [1.0; 3], 0).and(Shape::fine_box([0.5; 3], [1.5; 3], n, 1));
        for shape in poses(&two) {
            let e = exposure(&shape, 0.0);
            measures(&e, 12.0 - 6.0 * 0.25, 2.0 - 0.125, 2.0);
            same(e.buried.square_metres(), 1.5, CLOSE);
            same(e.common[0].volume.cubic_metres(), 0.125, 1e-5);
            assert!(e.exposed.square_metres() + e.area_bound.square_metres() >= 10.5);
        }
    }
}

#[test]
fn nested_pieces_are_buried_and_a_cavity_is_not() {
    let cube = |r: f64, part| Shape::boxed([-r; 3], [r; 3], part);
    let nested = cube(3.0, 0).and(cube(2.0, 1)).and(cube(1.0, 2));
    let e = exposure(&nested, 0.0);
    measures(&e, 216.0, 216.0, 216.0 + 64.0 + 8.0);
    same(e.buried.square_metres(), 96.0 + 24.0, CLOSE);
    let kinds: Vec<_> = e.common.iter().map(|c| (c.pieces, c.kind)).collect();
    assert_eq!(kinds, [([0, 1], Overlap::Inside), ([0, 2], Overlap::Inside), ([1, 2], Overlap::Inside)]);
    // The middle one turned over is a cavity, and the inner one stands in it.
    let barrel = cube(3.0, 0).and(cube(2.0, 1).turned_over()).and(cube(1.0, 2));
    let e = exposure(&barrel, 0.0);
    measures(&e, 216.0 + 96.0 + 24.0, 216.0 - 64.0 + 8.0, 216.0 - 64.0 + 8.0);
}

#[test]
fn exact_copies_count_once() {
    let ball = Shape::ball([0.2, 0.1, 0.0], 1.0, 3, 0);
    let alone = exposure(&ball, 0.0);
    for part in [0, 1] {
        let e = exposure(&ball.clone().and(ball.clone().part(part)), 0.0);
        measures(&e, alone.exposed.square_metres(), alone.union.cubic_metres(), 2.0 * alone.union.cubic_metres());
        same(e.doubled.square_metres(), alone.exposed.square_metres(), CLOSE);
        assert_eq!(e.common.iter().map(|c| c.kind).collect::<Vec<_>>(), [Overlap::Copy], "part {part}");
    }
    // A third piece in them is in both.
    let core = Shape::boxed([-0.2; 3], [0.3; 3], 2);
    let e = exposure(&ball.clone().and(ball.part(1)).and(core), 0.0);
    measures(&e, alone.exposed.square_metres(), alone.union.cubic_metres(), 2.0 * alone.union.cubic_metres() + 0.125);
    let kinds: Vec<_> = e.common.iter().map(|c| (c.pieces, c.kind)).collect();
    assert_eq!(kinds, [([0, 1], Overlap::Copy), ([0, 2], Overlap::Inside), ([1, 2], Overlap::Inside)]);
}

// A 1 m cube on a 2 m slab; and on a slab of its own size: 2 m2 of each contact are lost, one on each side.
#[test]
fn stacks_lose_both_sides_of_the_contact() {
    for n in [1, 3] {
        let slab = Shape::boxed([-0.5, -0.5, -1.0], [1.5, 1.5, 0.0], 0);
        for shape in poses(&slab.clone().and(Shape::fine_box([0.0; 3], [1.0; 3], n, 1))) {
            // A gap of 10 micrometres covers the rounding to 24 bits.
            let e = exposure(&shape, 1e-5);
            measures(&e, 16.0 + 6.0 - 2.0, 5.0, 5.0);
            same(e.contact.square_metres() + e.buried.square_metres(), 2.0, 1e-5);
        }
        for part in [0, 1] {
            let pillar =
                Shape::boxed([0.0, 0.0, -1.0], [1.0, 1.0, 0.0], 0).and(Shape::fine_box([0.0; 3], [1.0; 3], n, part));
            let e = exposure(&pillar, 0.0);
            measures(&e, 10.0, 2.0, 2.0);
            same(e.glue().square_metres(), 1.0, CLOSE);
        }
    }
}

#[test]
fn a_gap_within_the_book_value_is_glue_and_a_wider_one_is_coat() {
    let slab = Shape::boxed([-0.5, -0.5, -1.0], [1.5, 1.5, 0.0], 0);
    let on = slab.and(Shape::boxed([0.0, 0.0, 0.003], [1.0, 1.0, 1.003], 1));
    for shape in poses(&on) {
        let e = exposure(&shape, 0.0032);
        measures(&e, 20.0, 5.0, 5.0);
        same(e.contact.square_metres(), 2.0, CLOSE);
        measures(&exposure(&shape, 0.0028), 22.0, 5.0, 5.0);
    }
}

// Two unit balls whose centres are d apart: the lens has two caps of height 1 - d/2 (volume pi h^2 (3 - h) / 3, area 2 pi h).
#[test]
fn balls_overlap_in_a_lens() {
    let d: f64 = 0.8;
    let two = Shape::ball([0.0; 3], 1.0, 5, 0).and(Shape::ball([d * 0.6, d * 0.8, 0.0], 1.0, 5, 1));
    let e = exposure(&two, 0.0);
    let (h, pi) = (1.0 - d / 2.0, std::f64::consts::PI);
    let lens = 2.0 * pi * h * h * (3.0 - h) / 3.0;
    // Facets of level 5 lie within 1e-3 of the ball: that is the tolerance.
    same(e.exposed.square_metres(), 8.0 * pi - 4.0 * pi * h, 1e-3);
    same(e.union.cubic_metres(), 8.0 / 3.0 * pi - lens, 2e-3);
    same(e.common[0].volume.cubic_metres(), lens, 5e-3);
    // And what is told apart adds up to the whole, to rounding. The common volume is the difference but for slivers along
    // the seam, 2^-21 of the size wide.
    let mesh = two.mesh();
    let all: f64 = (0..mesh.triangles().len()).map(|f| mesh.area_vector(f).norm()).sum();
    same((e.exposed + e.buried + e.contact + e.doubled).square_metres(), all, 1e-12);
    same(e.counted_twice().cubic_metres(), e.common[0].volume.cubic_metres(), 1e-7);
    // Every share agrees with the winding number of the other ball at the middle of the face.
    let field = WindingField::of(&mesh);
    let (mut out, mut within) = (0, 0);
    for f in 0..mesh.triangles().len() {
        let c = mesh.corners(f);
        let up = mesh.area_vector(f).normalize() * 0.02;
        let w = field.at(Point3::from((c[0].coords + c[1].coords + c[2].coords) / 3.0) + up);
        if e.share(f) == 1.0 {
            out += usize::from(w < 0.5);
        } else if e.share(f) == 0.0 {
            within += usize::from(w > 0.5);
        }
    }
    let whole = (0..mesh.triangles().len()).filter(|&f| [0.0, 1.0].contains(&e.share(f))).count();
    // The step of 0.02 off the face crosses the other ball near the seam only.
    assert!(whole - out - within < whole / 50, "{out} {within} {whole}");
}

/// Two balls in one another with too little work allowed: nothing is told apart, and that is said. With enough it is as with any.
#[test]
fn what_takes_too_long_to_tell_apart_is_counted_whole() {
    let two = Shape::ball([0.0; 3], 1.0, 4, 0).and(Shape::ball([0.5, 0.0, 0.0], 1.0, 4, 1));
    let mesh = two.mesh();
    let topology = Topology::of(&mesh);
    let solid = Solid::of(&mesh, &topology, None);
    let within = |effort: Effort| Exposure::within(&solid, Length::ZERO, effort);
    let short = within(Effort::of(10_000));
    assert!(!short.is_settled);
    let all: f64 = (0..mesh.triangles().len()).map(|f| mesh.area_vector(f).norm()).sum();
    same(short.exposed.square_metres(), all, 1e-12);
    same(short.union.cubic_metres(), short.sum_of_parts.cubic_metres(), 1e-12);
    let enough = within(Effort::of(1_000_000_000));
    assert!(enough.is_settled && enough.exposed < short.exposed * 0.9);
    let any = within(Effort::any());
    assert_eq!((enough.exposed, enough.union), (any.exposed, any.union));
}

#[test]
fn pin_holes_turned_and_doubled_triangles_do_no_harm() {
    let mut ball = Shape::ball([0.0; 3], 1.0, 4, 0);
    let whole = exposure(&ball, 0.0);
    let n = ball.0.len();
    let area = |t: &[Point3<f64>; 3]| (t[1] - t[0]).cross(&(t[2] - t[0])).norm() / 2.0;
    // Turned.
    let mut turned = ball.clone();
    turned.0.iter_mut().step_by(50).for_each(|(t, _)| t.swap(1, 2));
    measures(
        &exposure(&turned, 0.0),
        whole.exposed.square_metres(),
        whole.union.cubic_metres(),
        whole.union.cubic_metres(),
    );
    // Doubled.
    let doubled = Shape(ball.0.iter().chain(ball.0.iter().step_by(100)).copied().collect());
    measures(
        &exposure(&doubled, 0.0),
        whole.exposed.square_metres(),
        whole.union.cubic_metres(),
        whole.union.cubic_metres(),
    );
    // Missing.
    let lost: f64 = ball.0.iter().step_by(200).map(|t| area(&t.0)).sum();
    ball.0 = (0..n).filter(|k| k % 200 != 0).map(|k| ball.0[k]).collect();
    let mesh = ball.mesh();
    let solid = Solid::of(&mesh, &Topology::of(&mesh), None);
    assert_eq!(solid.holes().count, n.div_ceil(200));
    same(solid.holes().area.square_metres(), lost, 1e-12);
    let e = Exposure::of(&solid, Length::ZERO);
    measures(&e, whole.exposed.square_metres() - lost, whole.union.cubic_metres(), whole.union.cubic_metres());
}

#[test]
fn a_box_without_floor_is_closed_and_a_facade_is_not() {
    let mut open = Shape::boxed([0.0; 3], [1.0, 2.0, 3.0], 0);
    open.0.retain(|(t, _)| t.iter().any(|p| p.z > 0.0));
    let mesh = open.mesh();
    let solid = Solid::of(&mesh, &Topology::of(&mesh), None);
    assert!(solid.is_closed() && solid.is_added(mesh.triangles().len()));
    let holes = solid.holes();
    assert_eq!(holes.count, 1);
    same(holes.longest.metres(), 6.0, 1e-12);
    same(holes.area.square_metres(), 2.0, 1e-12);
    let e = Exposure::of(&solid, Length::ZERO);
    measures(&e, 20.0, 6.0, 6.0);

    // A facade: z(x, y) bumps seen from above, bent rim. Its volume down to a plane at depth d is d + the mean of z.
    let z = |x: f64, y: f64| 0.1 * (5.0 * x).sin() * (4.0 * y).cos();
    let n = 40;
    let at = |i: usize, j: usize| {
        let (x, y) = (i as f64 / n as f64, j as f64 / n as f64);
        Point3::new(x, y, z(x, y))
    };
    let mut facade = Shape::default();
    for i in 0..n {
        for j in 0..n {
            facade.0.push(([at(i, j), at(i + 1, j), at(i + 1, j + 1)], 0));
            facade.0.push(([at(i, j), at(i + 1, j + 1), at(i, j + 1)], 0));
        }
    }
    let mesh = facade.mesh();
    let topology = Topology::of(&mesh);
    let solid = Solid::of(&mesh, &topology, None);
    assert_eq!(solid.sheets().len(), 1);
    assert!(!solid.bounds(0) && !solid.is_closed());
    let e = Exposure::of(&solid, Length::ZERO);
    assert!(e.is_whole() && e.union.cubic_metres() == 0.0);
    let plane = Plane { point: Point3::new(0.0, 0.0, -0.5), outward: -Vector3::z_axis() };
    let closed = Solid::of(&mesh, &topology, Some(plane));
    let back = Exposure::of(&closed, Length::ZERO);
    assert!(closed.is_closed());
    same(back.exposed.square_metres(), e.exposed.square_metres(), 1e-12);
    let below: f64 =
        facade.0.iter().map(|(t, _)| 0.5 / (n * n) as f64 * (0.5 + (t[0].z + t[1].z + t[2].z) / 3.0)).sum();
    same(back.union.cubic_metres(), below, 1e-9);
    // The same sheet twice counts once, beside a solid or not.
    for beside in [Shape::default(), Shape::boxed([0.2, 0.2, -0.4], [0.8, 0.8, -0.3], 1)] {
        let walls: f64 = if beside.0.is_empty() { 0.0 } else { 2.0 * 0.36 + 4.0 * 0.06 };
        let twice = exposure(&facade.clone().and(facade.clone()).and(beside), 0.0);
        same(twice.exposed.square_metres(), e.exposed.square_metres() + walls, 1e-9);
        same(twice.doubled.square_metres(), e.exposed.square_metres(), 1e-9);
    }
    let floor = Plane::behind(&mesh, -Vector3::z_axis());
    assert!((floor.point.z - mesh.positions().iter().map(|p| p.z).fold(1.0, f64::min)).abs() < 1e-15);
}

// A pipe open at both ends: two shells, two ring-shaped openings.
#[test]
fn an_open_pipe_gets_ring_caps() {
    let n = 64;
    let ring = |r: f64, z: f64, k: usize| {
        let a = std::f64::consts::TAU * (k % n) as f64 / n as f64;
        Point3::new(r * a.cos(), r * a.sin(), z)
    };
    let mut pipe = Shape::default();
    for k in 0..n {
        for (r, out) in [(1.0, true), (0.8, false)] {
            let quad = [ring(r, 0.0, k), ring(r, 0.0, k + 1), ring(r, 0.7, k + 1), ring(r, 0.7, k)];
            for mut t in [[quad[0], quad[1], quad[2]], [quad[0], quad[2], quad[3]]] {
                if !out {
                    t.swap(1, 2);
                }
                pipe.0.push((t, 0));
            }
        }
    }
    let mesh = pipe.mesh();
    let solid = Solid::of(&mesh, &Topology::of(&mesh), None);
    // Regular polygon of n corners: area n/2 sin(2 pi/n) r^2.
    let share = n as f64 / 2.0 * (std::f64::consts::TAU / n as f64).sin();
    let end = share * (1.0 - 0.64);
    assert_eq!(solid.holes().count, 2);
    same(solid.holes().area.square_metres(), 2.0 * end, 1e-12);
    let e = Exposure::of(&solid, Length::ZERO);
    same(e.union.cubic_metres(), end * 0.7, 1e-9);
    same(e.exposed.square_metres(), 0.7 * 1.8 * 2.0 * n as f64 * (std::f64::consts::PI / n as f64).sin(), 1e-9);
}

// One surface that passes through itself: a bar of two boxes that share a weld is one piece.
#[test]
fn a_piece_that_overlaps_itself_is_found() {
    let a = Shape::ball([0.0; 3], 1.0, 3, 0);
    // Joined to a second, overlapping ball by leaving out one triangle of each and walling the gap up.
    let b = Shape::ball([0.9, 0.3, 0.2], 1.0, 3, 0);
    let (ta, tb) = (a.0[100].0, b.0[100].0);
    let mut both = a.clone().and(b.clone());
    both.0.retain(|t| t.0 != ta && t.0 != tb);
    for k in 0..3 {
        let m = (k + 1) % 3;
        both.0.push(([ta[k], ta[m], tb[k]], 0));
        both.0.push(([ta[m], tb[m], tb[k]], 0));
    }
    let apart = exposure(&a.clone().and(b.part(1)), 0.0);
    let e = exposure(&both, 0.0);
    assert_eq!(e.pieces.len(), 1);
    assert!(e.pieces[0].overlaps_itself);
    // The joining tube is thin: a hundredth of the ball.
    same(e.exposed.square_metres(), apart.exposed.square_metres(), 0.03);
    same(e.union.cubic_metres(), apart.union.cubic_metres(), 0.03);
}

#[test]
fn winding_number_is_exact_far_off_and_good_to_a_hundredth_near_by() {
    let ball = Shape::ball([0.0; 3], 1.0, 5, 0).mesh();
    let field = WindingField::of(&ball);
    for k in 0..2000 {
        // Points of an additive sequence in the cube [-1.5, 1.5]^3 (golden ratio of three dimensions).
        let g = 1.220_744_084_605_759_5_f64;
        let c = |p: i32| 3.0 * (f64::from(k + 1) / g.powi(p)).fract() - 1.5;
        let p = Point3::new(c(1), c(2), c(3));
        let r = p.coords.norm();
        if (r - 1.0).abs() > 2e-3 {
            let want = f64::from(r < 1.0);
            assert!((field.at(p) - want).abs() < 1e-2, "{p}: {}", field.at(p));
        }
    }
    // A square of side 2 seen from 1 above its middle covers a sixth of the sky.
    let square = Shape::boxed([-1.0; 3], [1.0; 3], 0);
    let lid = Shape(square.0.into_iter().filter(|(t, _)| t.iter().all(|p| p.z == 1.0)).collect()).mesh();
    assert!((WindingField::of(&lid).at(Point3::origin()) - 1.0 / 6.0).abs() < 1e-14);
}

#[test]
fn same_bits_for_any_number_of_threads() {
    let three = Shape::ball([0.0; 3], 1.0, 4, 0).and(Shape::ball([0.9, 0.3, 0.1], 1.0, 4, 1)).and(Shape::boxed(
        [-0.3; 3],
        [0.4, 1.7, 0.2],
        2,
    ));
    let run = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            let e = exposure(&three, 0.001);
            let shares: Vec<u64> = (0..three.0.len()).map(|f| e.share(f).to_bits()).collect();
            (shares, e.exposed, e.buried, e.union, e.common)
        })
    };
    assert_eq!(run(1), run(3));
}

// Nothing finite may make it panic, and no share may leave 0..1.
#[test]
fn hostile_meshes_are_survived() {
    let flat = |t: [[f64; 3]; 3]| (t.map(Point3::from), 0);
    let mut odd = Shape::boxed([0.0; 3], [1.0; 3], 0);
    odd.0.push(flat([[0.0; 3], [0.0; 3], [0.0; 3]]));
    odd.0.push(flat([[0.0; 3], [1.0; 3], [0.5; 3]]));
    odd.0.push(flat([[0.0; 3], [1.0, 1.0, 0.0], [0.0, 0.0, 1.0]]));
    odd.0.push(flat([[0.0; 3], [1.0, 1.0, 0.0], [0.0, 0.0, -1.0]]));
    let spikes = Shape(
        (0..60)
            .map(|k| {
                let c = |m: i32| ((k * m) % 17) as f64 / 4.0;
                flat([[c(3), c(5), c(7)], [c(11), c(2), c(4)], [c(6), c(9), c(1)]])
            })
            .collect(),
    );
    let tiny = Shape::boxed([0.0; 3], [1e-300; 3], 0);
    let huge = Shape::boxed([-1e150; 3], [1e150; 3], 0).and(Shape::boxed([0.0; 3], [2e150; 3], 1));
    let far = Shape::boxed([1e9; 3], [1e9 + 1.0; 3], 0).and(Shape::boxed([1e9 + 0.5; 3], [1e9 + 1.5; 3], 1));
    for shape in [Shape::default(), odd.clone(), odd.clone().and(odd), spikes, tiny, huge, far] {
        let mesh = shape.mesh();
        let topology = Topology::of(&mesh);
        for against in
            [None, Some(Plane { point: Point3::origin(), outward: Unit::new_normalize(Vector3::new(1.0, 2.0, -3.0)) })]
        {
            let e = Exposure::of(&Solid::of(&mesh, &topology, against), Length::from_metres(0.01));
            assert!((0..mesh.triangles().len()).all(|f| (0.0..=1.0).contains(&e.share(f))));
        }
        let _ = WindingField::of(&mesh).at(Point3::new(0.3, 0.4, 0.5));
    }
}

/// Numbers of a linear congruential generator (D. E. Knuth's MMIX constants).
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

// Boxes with whole corners in a 5 x 5 x 5 room: corners, edges and faces coincide in every way there is. The truth is
// counted cell by cell.
#[test]
fn random_boxes_on_a_lattice_agree_with_counted_cells() {
    const N: usize = 5;
    let mut dice = Dice(7);
    for round in 0..60 {
        let mut shape = Shape::default();
        let mut cells = [[[0i32; N + 2]; N + 2]; N + 2];
        let mut sum = 0;
        let one_part = round % 3 == 0;
        for part in 0..2 + dice.below(5) as u32 {
            let pair: [(usize, usize); 3] = std::array::from_fn(|_| {
                let a = dice.below(N as u64) as usize;
                (a, a + 1 + dice.below((N - a) as u64) as usize)
            });
            let (lo, hi) = (pair.map(|p| p.0 as f64), pair.map(|p| p.1 as f64));
            let part = if one_part { 0 } else { part };
            let n = 1 + dice.below(3) as usize;
            shape = shape.and(if n == 1 { Shape::boxed(lo, hi, part) } else { Shape::fine_box(lo, hi, n, part) });
            for x in pair[0].0..pair[0].1 {
                for y in pair[1].0..pair[1].1 {
                    for z in pair[2].0..pair[2].1 {
                        cells[x + 1][y + 1][z + 1] += 1;
                        sum += 1;
                    }
                }
            }
        }
        let (mut area, mut volume) = (0, 0);
        for x in 0..=N {
            for y in 0..=N {
                for z in 0..=N {
                    let here = cells[x][y][z] > 0;
                    volume += i32::from(here);
                    area += [cells[x + 1][y][z], cells[x][y + 1][z], cells[x][y][z + 1]]
                        .iter()
                        .filter(|&&c| (c > 0) != here)
                        .count();
                }
            }
        }
        for (k, pose) in poses(&shape).iter().take(3).enumerate() {
            let e = exposure(pose, 0.0);
            let told =
                || format!("round {round} pose {k}: {e:?}\n{:?}", shape.0.iter().map(|t| t.1).collect::<Vec<_>>());
            assert!((e.exposed.square_metres() - area as f64).abs() < 1e-4, "area {area}, {}", told());
            assert!((e.union.cubic_metres() - f64::from(volume)).abs() < 1e-4, "volume {volume}, {}", told());
            assert!((e.sum_of_parts.cubic_metres() - f64::from(sum)).abs() < 1e-4, "sum {sum}, {}", told());
            let off = (e.exposed.square_metres() - area as f64).abs();
            // The pose itself is rounded to 24 bits: 1e-7 of each length.
            assert!(off <= e.area_bound.square_metres() + 1e-6 * area as f64, "bound, {}", told());
            assert!(e.area_bound.square_metres() < 2e-3 * area as f64, "bound, {}", told());
            let mesh = pose.mesh();
            let (skin, facets) = e.surface(&Solid::of(&mesh, &Topology::of(&mesh), None));
            let (mut coat, mut enclosed) = (0.0, 0.0);
            for (f, facet) in facets.iter().enumerate() {
                coat += if facet.coat { skin.area_vector(f).norm() } else { 0.0 };
                enclosed += skin.corners(f)[0].coords.dot(&skin.area_vector(f)) / 3.0;
            }
            assert!((coat - area as f64).abs() < 1e-4, "surface {coat}, {}", told());
            assert!((enclosed - f64::from(volume)).abs() < 1e-4, "enclosed {enclosed}, {}", told());
        }
    }
}

// A 3 x 2 sheet on the front of a 4 x 4 x 4 m cube, in its plane or 2 mm before or behind it: the cube keeps its 64 m3, of its 96 m2
// the sheet takes over 6.
#[test]
fn what_is_drawn_on_a_face_takes_its_place() {
    for off in [0.0, -0.002, 0.002] {
        let corners = [[0.5, off, 0.5], [3.5, off, 0.5], [3.5, off, 2.5], [0.5, off, 2.5]].map(Point3::from);
        let sheet = Shape([[0, 1, 2], [0, 2, 3]].map(|t: [usize; 3]| (t.map(|k| corners[k]), 1)).to_vec());
        for shape in poses(&Shape::boxed([0.0; 3], [4.0; 3], 0).and(sheet)) {
            let mesh = shape.mesh();
            let drawn: Vec<bool> = (0..mesh.triangles().len()).map(|face| mesh.part_of(face) == 1).collect();
            let solid = Solid::with_drawn(&mesh, &Topology::of(&mesh), None, &drawn);
            assert!(solid.is_sound() && solid.inside().triangles().len() == 12);
            let e = Exposure::of(&solid, Length::from_metres(0.003));
            measures(&e, 96.0, 64.0, 64.0);
            let of = |part: u32| -> f64 {
                let faces = (0..drawn.len()).filter(|face| mesh.part_of(*face) == part);
                faces.map(|face| e.share(face) * mesh.area_vector(face).norm()).sum()
            };
            same(of(1), 6.0, CLOSE);
            same(of(0), 90.0, CLOSE);
            // Farther off it is a sheet by itself, and nothing else.
            let apart = Solid::of(&mesh, &Topology::of(&mesh), None);
            assert!(!apart.is_closed());
        }
    }
}

// Three cubes of 1 m: 1 mm apart within a gap of 3 mm they are one, 5 mm apart they are three; lying on one another, crossing, or
// inside one another they are one again. An edge in common, or an overlap of 1 x 1 mm along one, holds nothing, one of 5 x 5 mm does; 26 x 26 mm of contact
// does.
#[test]
fn solids_that_do_not_hold_together_stand_apart() {
    let cube = |at: [f64; 3]| Shape::boxed(at, at.map(|x| x + 1.0), 0);
    let row = |step: [f64; 3]| cube([0.0; 3]).and(cube(step)).and(cube(step.map(|x| 2.0 * x)));
    let inner = Shape::boxed([0.2; 3], [0.8; 3], 0);
    for (shape, apart) in [
        (cube([0.0; 3]), 1),
        (row([1.001, 0.0, 0.0]), 1),
        (row([1.005, 0.0, 0.0]), 3),
        (row([0.3, 0.0, 1.0]), 1),
        (row([0.5, 0.2, 0.1]), 1),
        (cube([0.0; 3]).and(inner), 1),
        (cube([0.0; 3]).and(cube([0.0; 3])), 1),
        (row([1.0, 0.0, 0.0]).and(cube([0.0, 5.0, 0.0])), 2),
        (cube([0.0; 3]).and(Shape::boxed([1.0, 1.0, 0.0], [2.0, 2.0, 0.5], 0)), 2),
        (cube([0.0; 3]).and(cube([1.0, 1.0, 0.0])), 2),
        (cube([0.0; 3]).and(cube([1.0, 1.0, 1.0])), 2),
        (cube([0.0; 3]).and(cube([1.0, 0.0, 0.0])), 1),
        (cube([0.0; 3]).and(cube([0.995, 0.995, 0.0])), 1),
        (cube([0.0; 3]).and(Shape::boxed([0.999, 0.999, 0.0], [2.0, 2.0, 0.2], 0)), 2),
        (cube([0.0; 3]).and(Shape::boxed([1.0, 0.5, 1.0], [2.0, 2.0, 2.0], 0)), 2),
        (cube([0.0; 3]).and(cube([0.974, 0.974, 1.0])), 1),
        (cube([0.0; 3]).and(cube([0.976, 0.976, 1.0])), 2),
    ] {
        assert_eq!(exposure(&shape, 0.003).apart().len(), apart, "{:?}", shape.0.len());
    }
}
