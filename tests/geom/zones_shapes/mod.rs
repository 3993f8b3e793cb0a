//! Shapes with known zones. Feet in, metres out; the visitor stands on the -Y side.
#![allow(dead_code, unreachable_pub, reason = "each test file uses some")]

use cragskin_geom::lean::{Class, ClassLimits, Leans};
use cragskin_geom::mesh::Mesh;
use cragskin_geom::topology::Topology;
use cragskin_geom::units::{Angle, Area, Length};
use cragskin_geom::zones::{ZoneRules, Zones};
use nalgebra::{Point3, Rotation3, Vector3};
use std::collections::HashMap;

pub const FT: f64 = 0.3048;

pub type Triangle = [[f64; 3]; 3];

/// Triangles in feet, and whether each is coated.
#[derive(Clone, Default)]
pub struct Form {
    pub triangles: Vec<Triangle>,
    pub coated: Vec<bool>,
}

impl Form {
    pub fn quad(mut self, q: [[f64; 3]; 4], coated: bool) -> Self {
        self.triangles.extend([[q[0], q[1], q[2]], [q[0], q[2], q[3]]]);
        self.coated.extend([coated; 2]);
        self
    }

    /// `nu` by `nv` cells of a surface patch; its outward side is that of du x dv.
    pub fn patch(mut self, [nu, nv]: [usize; 2], coated: bool, at: impl Fn(f64, f64) -> [f64; 3]) -> Self {
        for i in 0..nu {
            for j in 0..nv {
                let p = |i: usize, j: usize| at(i as f64 / nu as f64, j as f64 / nv as f64);
                self = self.quad([p(i, j), p(i + 1, j), p(i + 1, j + 1), p(i, j + 1)], coated);
            }
        }
        self
    }

    pub fn map(mut self, f: impl Fn([f64; 3]) -> [f64; 3]) -> Self {
        self.triangles.iter_mut().flatten().for_each(|p| *p = f(*p));
        self
    }

    pub fn turned(self, degrees: f64) -> Self {
        let r = Rotation3::from_axis_angle(&Vector3::z_axis(), degrees.to_radians());
        self.map(|p| (r * Point3::from(p)).into())
    }

    /// Every triangle in four.
    pub fn split(&self) -> Self {
        let mid = |a: [f64; 3], b: [f64; 3]| [0, 1, 2].map(|k| 0.5 * (a[k] + b[k]));
        let triangles = self.triangles.iter().flat_map(|&[a, b, c]| {
            let (x, y, z) = (mid(a, b), mid(b, c), mid(c, a));
            [[a, x, z], [x, b, y], [z, y, c], [x, y, z]]
        });
        Self { triangles: triangles.collect(), coated: self.coated.iter().flat_map(|&c| [c; 4]).collect() }
    }

    pub fn mesh(&self) -> Mesh {
        let mut names: HashMap<[i64; 3], u32> = HashMap::new();
        let mut positions = Vec::new();
        let mut corner = |p: [f64; 3]| {
            *names.entry(p.map(|x| (x * 1e7).round() as i64)).or_insert_with(|| {
                positions.push(Point3::from(p) * FT);
                positions.len() as u32 - 1
            })
        };
        let triangles = self.triangles.iter().map(|t| t.map(&mut corner)).collect();
        Mesh::new(positions, triangles, Vec::new())
    }

    pub fn zones(&self) -> (Mesh, Zones) {
        self.zones_by(&rules())
    }

    pub fn zones_by(&self, rules: &ZoneRules) -> (Mesh, Zones) {
        let mesh = self.mesh();
        let topology = Topology::of(&mesh);
        let leans = Leans::measure(&mesh, &topology, &self.coated, rules.smooth_radius);
        let zones = Zones::find(&mesh, &topology, &self.coated, &leans, rules);
        (mesh, zones)
    }
}

pub fn rules() -> ZoneRules {
    ZoneRules {
        limits: ClassLimits([30.0, 75.0, 100.0, 135.0].map(Angle::from_degrees)),
        smooth_radius: Length::from_inches(6.0),
        min_area: Area::from_square_feet(1.0),
        close_gap: Length::from_inches(3.0),
        near_limit: Angle::from_degrees(2.0),
    }
}

/// Every face coated is in one zone, zones add up, names are unique and by size, each zone is one class by its mean.
pub fn check(form: &Form, mesh: &Mesh, zones: &Zones) {
    let coated: f64 = (0..form.coated.len()).filter(|&f| form.coated[f]).map(|f| mesh.area_vector(f).norm()).sum();
    let sum: f64 = zones.zones.iter().map(|z| z.area.square_metres()).sum();
    assert!((coated - sum).abs() <= 1e-9 * coated, "zones {sum} m2 of {coated} m2");
    for (f, &c) in form.coated.iter().enumerate() {
        assert_eq!(zones.of(f).is_some(), c);
    }
    for (k, z) in zones.zones.iter().enumerate() {
        assert!(z.faces().iter().all(|&f| zones.of(f as usize) == Some(k)));
    }
    for z in &zones.zones {
        assert_eq!(
            rules().limits.class(z.lean_mean),
            z.name.class,
            "{} of mean lean {}",
            z.name,
            z.lean_mean.degrees()
        );
    }
    for w in zones.zones.windows(2) {
        assert!(w[0].name < w[1].name);
        assert!(w[0].name.class != w[1].name.class || w[0].area.square_metres() > w[1].area.square_metres() - 1e-5);
    }
}

pub fn names(zones: &Zones) -> Vec<String> {
    zones.zones.iter().map(|z| z.name.to_string()).collect()
}

pub fn areas(zones: &Zones) -> [f64; 5] {
    Class::ALL.map(|c| zones.area_of(c).square_feet())
}

/// A plate `w` by `h` ft leaning `lean` degrees, as cells of about `cell` ft.
pub fn plate(w: f64, h: f64, lean: f64, cell: f64) -> Form {
    let (s, c) = lean.to_radians().sin_cos();
    let n = |x: f64| (x / cell).ceil().max(1.0) as usize;
    Form::default().patch([n(w), n(h)], true, |u, v| [u * w, c * v * h, s * v * h])
}

/// A block `w` wide, `d` deep, `h` high; back and floor bare.
pub fn block(w: f64, d: f64, h: f64) -> Form {
    let v = |i: usize| [w * (i & 1) as f64, d * (i >> 1 & 1) as f64, h * (i >> 2) as f64];
    let q = |c: [usize; 4]| c.map(v);
    Form::default()
        .quad(q([0, 1, 5, 4]), true)
        .quad(q([2, 0, 4, 6]), true)
        .quad(q([1, 3, 7, 5]), true)
        .quad(q([4, 5, 7, 6]), true)
        .quad(q([3, 2, 6, 7]), false)
        .quad(q([0, 2, 3, 1]), false)
}

/// The inside of half a barrel: 36 facets of 5 degrees, radius 6 ft, 10 ft long, axis along Y.
pub fn half_barrel() -> Form {
    Form::default().patch([36, 1], true, |u, v| {
        let a = std::f64::consts::PI * u;
        [6.0 * a.cos(), 10.0 * v, 6.0 * a.sin()]
    })
}

/// The side of a cone frustum, widest below.
pub fn frustum(low: f64, high: f64, height: f64, sides: usize, up: usize) -> Form {
    Form::default().patch([sides, up], true, |u, v| {
        let a = if u >= 1.0 { 0.0 } else { std::f64::consts::TAU * u };
        let r = low + (high - low) * v;
        [r * a.cos(), r * a.sin(), height * v]
    })
}

/// A ball of radius `r`, `n` cells to a side of the cube it is blown up from.
pub fn ball(r: f64, n: usize) -> Form {
    let mut form = Form::default();
    for axis in 0..3 {
        for sign in [1.0, -1.0] {
            form = form.patch([n, n], true, |u, v| {
                let t = |x: f64| ((2.0 * x - 1.0) * std::f64::consts::FRAC_PI_4).tan();
                let mut p = [0.0; 3];
                p[axis] = sign;
                p[(axis + 1) % 3] = t(u) * sign;
                p[(axis + 2) % 3] = t(v);
                let l = p.iter().map(|x| x * x).sum::<f64>().sqrt();
                p.map(|x| r * x / l)
            });
        }
    }
    form
}

/// A wall with pyramids of 1 in on a pitch of 2 in, cells of a quarter of that.
pub fn bumpy_wall(w: f64, h: f64) -> Form {
    let wave = |x: f64| 1.0 - 2.0 * ((x * 6.0).fract() - 0.5).abs();
    let cells = |x: f64| (x * 24.0).round() as usize;
    Form::default().patch([cells(w), cells(h)], true, |u, v| {
        let (x, z) = (u * w, v * h);
        [x, -wave(x + 1e-9).min(wave(z + 1e-9)) / 12.0, z]
    })
}

/// A fin `w` long, `h` high, `thick` thick, standing free, foot bare.
pub fn fin(w: f64, h: f64, thick: f64) -> Form {
    let mut f = block(w, thick, h);
    f.coated[8..10].fill(true);
    f
}
