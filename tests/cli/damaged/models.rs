//! The models of the sweep: a shape, one to three damages, a unit and flags, all from the number of the case.

use cragskin_fixtures::solid::{block, frustum, groove_plate, step_wall, torus};
use cragskin_fixtures::{Shape, SplitMix, rock, rocks_overlapping};
use std::f64::consts::TAU;
use std::fmt;

/// A model file and how it is to be measured.
pub(super) struct Case {
    pub(super) number: u64,
    /// What it was before it was damaged.
    pub(super) family: &'static str,
    damages: Vec<&'static str>,
    triangles: usize,
    /// Size of a unit of the shape, about half its height, in metres.
    scale: f64,
    pub(super) ending: &'static str,
    pub(super) bytes: Vec<u8>,
    pub(super) flags: Vec<&'static str>,
}

impl fmt::Display for Case {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { number, family, damages, triangles, scale, flags, .. } = self;
        write!(
            f,
            "{number} {family} {}, {triangles} triangles, x {scale:.3} m, {}",
            damages.join(", "),
            flags.join(" ")
        )
    }
}

/// Numbers by chance that are the same each time.
struct Chance(SplitMix);

impl Chance {
    fn of(&mut self, n: usize) -> usize {
        (self.0.next_u64() % n as u64) as usize
    }

    fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.of(of.len())]
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.unit()
    }

    /// Even over the orders of magnitude.
    fn magnitude(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    fn direction(&mut self) -> [f64; 3] {
        let (z, (sin, cos)) = (self.between(-1.0, 1.0), (TAU * self.0.unit()).sin_cos());
        let r = (1.0 - z * z).sqrt();
        [r * cos, r * sin, z]
    }
}

impl Case {
    pub(super) fn new(number: u64) -> Self {
        let mut chance = Chance(SplitMix(0xDA3A_6ED0 + number));
        // One in forty is large.
        let large = number % 40 == 39;
        let n = if large { chance.magnitude(2e4, 1e5) } else { chance.magnitude(300.0, 3000.0) };
        let (family, mut shape) = base(&mut chance, n);
        let mut damages = Vec::new();
        for _ in 0..1 + chance.of(3) {
            let damage = chance.pick(&DAMAGES);
            damages.push(damage.0);
            shape = damage.1(shape, &mut chance);
        }
        // One in ten is of a size that nobody builds.
        let unusual = chance.of(10) == 0;
        let scale = if unusual { chance.magnitude(1e-3, 1e4) } else { chance.magnitude(0.15, 2.0) };
        let (unit, metres) = chance.pick(&[("m", 1.0), ("ft", 0.3048), ("in", 0.0254), ("mm", 0.001)]);
        let shape = shape.scale(scale / metres);
        let (ending, bytes) = if chance.of(2) == 0 { ("obj", shape.to_obj()) } else { ("stl", shape.to_binary_stl()) };
        let flags = flags(&mut chance, unit);
        Self { number, family, damages, triangles: shape.triangles.len(), scale, ending, bytes, flags }
    }
}

fn flags(chance: &mut Chance, unit: &'static str) -> Vec<&'static str> {
    let mut flags = vec!["--units", unit];
    let choices: [&[&[&str]]; 5] = [
        &[&["--face", "core"], &["--face", "finished"]],
        &[&[], &["--floor", "bare"], &["--floor", "coated"]],
        &[&[], &["--back", "bare"], &["--back", "coated"]],
        &[&[], &[], &[], &["--close", "back"], &["--close", "floor"]],
        &[&[], &[], &[], &["--skin", "1/4 in"], &["--skin", "3 in"]],
    ];
    choices.iter().for_each(|choice| flags.extend(chance.pick(choice)));
    flags
}

/// A shape of about `n` triangles and about two units high.
fn base(chance: &mut Chance, n: f64) -> (&'static str, Shape) {
    let seed = chance.0.next_u64();
    match chance.of(10) {
        0..=3 => ("rock", rock(seed, n as usize, 2.0)),
        4 => ("rocks", rocks_overlapping(seed, 2 + chance.of(3), n as usize)),
        5 => ("barrel", barrel(chance.between(60.0, 360.0), n)),
        6 => {
            let (w, thick) = (chance.between(1.0, 4.0), chance.magnitude(0.01, 0.2));
            ("fin", finer(block(w, thick, 2.0), n))
        }
        7 => ("leaves", leaves(chance, n)),
        8 => ("form", form(chance, n)),
        _ => ("box", finer(block(chance.between(0.5, 3.0), chance.between(0.5, 3.0), 2.0), n)),
    }
}

/// Divided until it has about `n` triangles.
fn finer(shape: Shape, n: f64) -> Shape {
    if (shape.triangles.len() as f64) * 2.0 < n { finer(shape.subdivide(), n) } else { shape }
}

fn form(chance: &mut Chance, n: f64) -> Shape {
    let k = ((n / 2.0).sqrt() as u32).max(4);
    match chance.of(4) {
        0 => torus(1.0, chance.between(0.1, 0.9), k, k),
        1 => step_wall(2.0, 2 + chance.of(20), 0.1, 0.1),
        2 => finer(groove_plate(2.0, 1.0, 0.5, 0.2, 0.4), n),
        _ => frustum(64, 1.0, chance.between(0.05, 1.5), 2.0),
    }
}

/// Part of a barrel, open at its ends.
fn barrel(degrees: f64, n: f64) -> Shape {
    let k = ((n / 2.0).sqrt() as u32).max(3);
    let at = |i: u32, j: u32| i * (k + 1) + j;
    let place = |v: u32| {
        let (sin, cos) = (degrees.to_radians() * f64::from(v / (k + 1)) / f64::from(k)).sin_cos();
        [cos, sin, 2.0 * f64::from(v % (k + 1)) / f64::from(k)]
    };
    let quads = (0..k * k).flat_map(|q| {
        let (i, j) = (q / k, q % k);
        [[at(i, j), at(i + 1, j), at(i + 1, j + 1)], [at(i, j), at(i + 1, j + 1), at(i, j + 1)]]
    });
    Shape::new("barrel", (0..(k + 1) * (k + 1)).map(place).collect(), quads.collect())
}

/// A heap of bent leaves, each of six triangles, that lie across one another every way.
fn leaves(chance: &mut Chance, n: f64) -> Shape {
    let size = chance.magnitude(0.05, 0.5);
    let (mut positions, mut triangles) = (Vec::new(), Vec::new());
    for _ in 0..(n / 6.0) as u32 {
        let (axis, turn, bend) = (chance.direction(), chance.between(0.0, 360.0), chance.between(-0.5, 0.5));
        let to = [chance.between(-1.0, 1.0), chance.between(-1.0, 1.0), chance.between(0.0, 1.0)];
        let rim: Vec<[f64; 3]> = (0..6)
            .map(|k| (TAU * f64::from(k) / 6.0).sin_cos())
            .map(|(sin, cos)| [size * cos, 0.4 * size * sin, bend * size * cos * cos])
            .chain([[0.0; 3]])
            .collect();
        let first = positions.len() as u32;
        triangles.extend((0..6).map(|k| [first + 6, first + k, first + (k + 1) % 6]));
        positions.extend(Shape::new("leaf", rim, vec![]).rotate(axis, turn).translate(to).positions);
    }
    Shape::new("leaves", positions, triangles)
}

type Damage = (&'static str, fn(Shape, &mut Chance) -> Shape);

const DAMAGES: [Damage; 16] = [
    ("cut ragged", cut_ragged),
    ("cut clean", cut_clean),
    ("cut twice", |shape, chance| cut_clean(cut_clean(shape, chance), chance)),
    ("holes", holes),
    ("some turned", some_turned),
    ("inside out", |shape, _| shape.flip()),
    ("some doubled", some_doubled),
    ("all doubled", |shape, _| shape.clone().append(&shape)),
    ("apart at every edge", apart),
    ("two far apart", two_far_apart),
    ("lined", lined),
    ("thin", thin),
    ("leant", |shape, chance| {
        let (axis, degrees) = (chance.direction(), chance.between(0.0, 180.0));
        shape.rotate(axis, degrees)
    }),
    ("rough", rough),
    ("collapsed", collapsed),
    ("a corner far off", corner_far_off),
];

/// Distance in front of a plane through the shape's box, seldom through its middle.
fn plane(shape: &Shape, chance: &mut Chance) -> impl Fn([f64; 3]) -> f64 + use<> {
    let [low, high] = shape.bounds();
    let at = [0, 1, 2].map(|k| low[k] + (high[k] - low[k]) * chance.between(0.2, 0.8));
    let normal = chance.direction();
    move |p| (0..3).map(|k| normal[k] * (p[k] - at[k])).sum()
}

fn cut_ragged(shape: Shape, chance: &mut Chance) -> Shape {
    let ahead = plane(&shape, chance);
    shape.delete(|_, corners| corners.iter().any(|p| ahead(*p) > 0.0))
}

/// What is behind a plane, each triangle clipped by it.
fn cut_clean(shape: Shape, chance: &mut Chance) -> Shape {
    let ahead = plane(&shape, chance);
    let mut cut = Shape::new("cut", shape.positions.clone(), vec![]);
    for triangle in &shape.triangles {
        let mut ring = Vec::new();
        for k in 0..3 {
            let [a, b] = [triangle[k], triangle[(k + 1) % 3]];
            let [p, q] = [a, b].map(|v| shape.positions[v as usize]);
            let (d, e) = (ahead(p), ahead(q));
            if d <= 0.0 {
                ring.push(a);
            }
            if (d < 0.0 && e > 0.0) || (d > 0.0 && e < 0.0) {
                // From the lower corner, so that both triangles at an edge get the same point.
                let (p, q, d, e) = if a < b { (p, q, d, e) } else { (q, p, e, d) };
                cut.positions.push([0, 1, 2].map(|k| p[k] + (q[k] - p[k]) * d / (d - e)));
                ring.push(cut.positions.len() as u32 - 1);
            }
        }
        for k in 2..ring.len() {
            cut.triangles.push([ring[0], ring[k - 1], ring[k]]);
            cut.part_of.push(0);
        }
    }
    cut
}

fn holes(shape: Shape, chance: &mut Chance) -> Shape {
    let share = chance.magnitude(0.01, 0.2);
    shape.delete(|_, _| chance.0.unit() < share)
}

fn some_turned(mut shape: Shape, chance: &mut Chance) -> Shape {
    let share = chance.magnitude(0.005, 0.5);
    shape.triangles.iter_mut().filter(|_| chance.0.unit() < share).for_each(|t| t.swap(0, 1));
    shape
}

fn some_doubled(shape: Shape, chance: &mut Chance) -> Shape {
    let share = chance.magnitude(0.005, 0.5);
    let again = shape.clone().delete(|_, _| chance.0.unit() > share);
    shape.append(&if chance.of(2) == 0 { again } else { again.flip() })
}

/// Every triangle with corners of its own, a little off.
fn apart(shape: Shape, chance: &mut Chance) -> Shape {
    let by = chance.magnitude(1e-9, 1e-2);
    let corners: Vec<[f64; 3]> = (0..shape.triangles.len()).flat_map(|k| shape.corners(k)).collect();
    let positions: Vec<_> = corners.iter().map(|p| p.map(|x| x + by * chance.between(-1.0, 1.0))).collect();
    let triangles = (0..shape.triangles.len() as u32).map(|k| [3 * k, 3 * k + 1, 3 * k + 2]).collect();
    Shape::new("apart", positions, triangles)
}

fn two_far_apart(shape: Shape, chance: &mut Chance) -> Shape {
    let (far, way) = (chance.magnitude(3.0, 1e6), chance.direction());
    let other = shape.clone().translate(way.map(|x| far * x));
    shape.append(&other)
}

/// A second sheet behind the first that faces the other way.
fn lined(shape: Shape, chance: &mut Chance) -> Shape {
    let (by, way) = (chance.magnitude(1e-6, 0.1), chance.direction());
    let lining = shape.clone().translate(way.map(|x| by * x));
    shape.append(&if chance.of(3) == 0 { lining } else { lining.flip() })
}

fn thin(shape: Shape, chance: &mut Chance) -> Shape {
    let (axis, by) = (chance.of(3), chance.magnitude(1e-4, 0.05));
    shape.map(|mut p| {
        p[axis] *= by;
        p
    })
}

/// Corners off their place, so far that the surface crosses itself.
fn rough(mut shape: Shape, chance: &mut Chance) -> Shape {
    let by = chance.magnitude(1e-3, 0.3);
    shape.positions.iter_mut().for_each(|p| *p = p.map(|x| x + by * chance.between(-1.0, 1.0)));
    shape
}

/// Corners moved onto others: triangles that are lines and points, edges of many triangles.
fn collapsed(mut shape: Shape, chance: &mut Chance) -> Shape {
    let n = shape.positions.len();
    for _ in 0..1 + n / 50 {
        let (to, from) = (chance.of(n), chance.of(n));
        shape.positions[to] = shape.positions[from];
    }
    shape
}

fn corner_far_off(mut shape: Shape, chance: &mut Chance) -> Shape {
    let (k, far, way) = (chance.of(shape.positions.len()), chance.magnitude(3.0, 1e5), chance.direction());
    shape.positions[k] = way.map(|x| far * x);
    shape
}
