//! Zones: joined patches of one class, lettered, with what a scaffold needs to know of each.

mod flags;
mod flat;
mod grow;
mod joints;
mod lath;
mod lifts;
mod outline;
mod pocket;
mod stitch;
mod surface;
mod texture;
mod unroll;
mod water;

use crate::lean::{
    Class, ClassLimits, Clusters, Faces, Grain, Leans, NOWHERE, Pieces, REACH, Smoothed, centroid, lean_of,
};
use crate::mesh::Mesh;
use crate::topology::Topology;
use crate::units::{Angle, Area, Length};
use nalgebra::{Matrix2, Matrix2x3, Point3, Vector3};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;
use texture::Texture;
use unroll::Unrolled;

pub use flags::{Flag, FlagCode, FlagInput, FlagRules, FlagSize, ThinCore, crevice_area, flags};
pub use joints::{JointRules, ZoneJoints, joints};
pub use lath::{LathPlan, LathRules, Laying, ZoneLath};
pub use lifts::{AT_LIMIT, Lift, LiftRules, Lifts, ZoneLifts, yield_stress_at_plumb};
pub use outline::Outline;
pub use surface::Surface;
pub use water::{Pool, pools};

/// What makes a zone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ZoneRules {
    /// The leans that part the classes.
    pub limits: ClassLimits,
    /// Lean is averaged this far along the surface.
    pub smooth_radius: Length,
    /// Smaller islands join their neighbour.
    pub min_area: Area,
    /// Gaps up to this width are closed. Strips up to three quarters of `smooth_radius` are closed in any case: that is
    /// how wide averaging blurs an edge.
    pub close_gap: Length,
    /// Area this close to a limit is reported.
    pub near_limit: Angle,
}

/// The name of a zone: class letter and number by size, as painted on the foam.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct ZoneName {
    /// The class.
    pub class: Class,
    /// 1 for the largest of its class.
    pub number: u32,
}

impl fmt::Display for ZoneName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{}{}", self.class.letter(), self.number))
    }
}

/// One joined patch of one class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Zone {
    /// Letter and number.
    pub name: ZoneName,
    /// Coated area.
    pub area: Area,
    /// The same at lath scale: texture finer than the averaging is bridged.
    pub lath_area: Area,
    /// Height along the surface; for a patch too flat to have one, its shorter way in plan along the surface.
    pub height: Length,
    /// Mean width along the surface: area at lath scale / height.
    pub width: Length,
    /// Lowest point.
    pub lowest: Point3<f64>,
    /// Highest point.
    pub highest: Point3<f64>,
    /// Low and high corner of the box round it.
    pub bounds: [Point3<f64>; 2],
    /// Centre of area.
    pub centre: Point3<f64>,
    /// The face whose centre is nearest the centre of area: a place on the surface for the letter.
    pub at_face: u32,
    /// Mean lean, by area.
    pub lean_mean: Angle,
    /// The greatest lean, averaged within the zone; slivers do not count.
    pub lean_worst: Angle,
    /// Area within the book's angle of a class limit.
    pub near_limit: Area,
    /// Mean |Gauss curvature| at the scale of the averaging, per square metre: 0 on plates, cylinders and cones.
    pub double_curvature: f64,
    /// Its edges, as loops.
    pub outline: Outline,
    pub(crate) unrolled: Unrolled,
    /// Triangles of the surface, ascending.
    pub(crate) pieces: Vec<u32>,
    /// Faces of the model, ascending.
    pub(crate) faces: Vec<u32>,
}

impl Zone {
    /// The model's triangles that lie in the zone, those cut by its edges with most of their area; ascending.
    #[must_use]
    pub fn faces(&self) -> &[u32] {
        &self.faces
    }
}

/// All zones of a model; none by default.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Zones {
    /// By class, then by size.
    pub zones: Vec<Zone>,
    /// Coated area whose class is another one after averaging: the chatter of single triangles.
    pub changed_by_smoothing: Area,
    of: Vec<u32>,
    lean: Vec<f32>,
    /// Exposed area of each face in square metres; 0 for bare ones.
    pub(crate) size: Vec<f64>,
    /// Pairs of zones that share a border which is not the edge of a fin, rising.
    touching: Vec<[u32; 2]>,
    pub(super) base: Base,
}

/// The surface that zones were found on, and what each of its triangles has.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Base {
    /// `None` where it is the model's own mesh.
    own: Option<Box<Mesh>>,
    source: Vec<u32>,
    of: Vec<u32>,
    lean: Vec<f32>,
    pub(super) size: Vec<f64>,
}

impl Base {
    /// The surface of zones of the model with this mesh.
    pub(super) fn mesh<'a>(&'a self, model: &'a Mesh) -> &'a Mesh {
        self.own.as_deref().unwrap_or(model)
    }

    /// The model's triangle that a piece lies on.
    pub(super) fn source(&self, piece: u32) -> u32 {
        self.source.get(piece as usize).copied().unwrap_or(piece)
    }

    /// Lean of a piece averaged within its zone.
    pub(super) fn lean(&self, piece: usize) -> Angle {
        Angle::from_radians(f64::from(self.lean[piece]))
    }

    /// The index of a piece's zone.
    pub(super) fn zone(&self, piece: usize) -> Option<usize> {
        Some(self.of[piece]).filter(|&k| k != NOWHERE).map(|k| k as usize)
    }
}

impl Zones {
    /// Finds the zones. Every coated face is in exactly one; their areas add up to the coated area.
    ///
    /// Names depend on the shape alone: by class and size, ties by place (height, then left to right).
    /// Near linear. The same bits for any number of threads.
    ///
    /// # Panics
    /// If `coated` or `leans` has not one entry a face.
    #[must_use]
    pub fn find(mesh: &Mesh, topology: &Topology, coated: &[bool], leans: &Leans, rules: &ZoneRules) -> Self {
        Self::find_exposed(mesh, topology, coated, |_| 1.0, leans, rules)
    }

    /// [`Zones::find`] where bodies overlap: each face counts with the `share` of it, 0 to 1, that lies exposed; a face
    /// with none is in no zone. Areas of zones add up to the exposed coated area.
    ///
    /// # Panics
    /// If `coated` or `leans` has not one entry a face.
    #[must_use]
    pub fn find_exposed(
        mesh: &Mesh,
        topology: &Topology,
        coated: &[bool],
        share: impl Fn(usize) -> f64 + Sync,
        leans: &Leans,
        rules: &ZoneRules,
    ) -> Self {
        let surface = Surface::of(mesh, topology, coated, share, rules.smooth_radius);
        if surface.is_model() { Self::measured(&surface, leans, rules) } else { Self::on(&surface, rules) }
    }

    /// Finds the zones of a surface.
    #[must_use]
    pub fn on(surface: &Surface<'_>, rules: &ZoneRules) -> Self {
        let leans = Leans::of_pieces(&surface.mesh, &surface.topology, &surface.coated, rules.smooth_radius);
        Self::measured(surface, &leans, rules)
    }

    /// Finds the zones of a surface whose leans are known.
    fn measured(surface: &Surface<'_>, leans: &Leans, rules: &ZoneRules) -> Self {
        let Surface { coated, size, .. } = surface;
        let (mesh, topology): (&Mesh, &Topology) = (&surface.mesh, &surface.topology);
        let every = || (0..coated.len()).into_par_iter().with_min_len(1 << 12);
        let grain = Grain::of(Faces { mesh, topology }, coated, size, leans, rules.smooth_radius, &surface.flat);
        let clusters = &grain.clusters;
        let count = clusters.count();
        let sizes = clusters.sum(size);
        let class_of = |k: usize| rules.limits.class(lean_of(&clusters.vector(k))) as u8;
        let raw: Vec<u8> = (0..count).into_par_iter().with_min_len(1 << 12).map(class_of).collect();
        let measured = grain.measured();
        let all = vec![true; count];
        let ground = grow::Ground {
            mesh,
            clusters,
            counts: &all,
            leans: &measured,
            limits: &rules.limits,
            size: &sizes,
            raw: &raw,
        };
        let among = |counts: &[bool], radius: Length, wanted: &[bool]| {
            let label: Vec<u32> = counts.iter().map(|&c| if c { 0 } else { NOWHERE }).collect();
            grain.means(&label, radius, wanted)
        };
        let grow::Patches { of: patch_of, class } =
            grow::patches(&ground, among, rules.min_area, rules.close_gap, rules.smooth_radius);
        // Averaged again, now within the zone: what lies beyond a crease is another zone and no longer counts.
        let near = if grain.is_coarse(rules.smooth_radius) {
            all
        } else {
            grow::near_borders(&ground, &patch_of, rules.smooth_radius * REACH)
        };
        let within = grain.means(&patch_of, rules.smooth_radius, &near);
        let within = measured.but(&within, &near);
        let texture = Texture::of(clusters, &patch_of, &within, rules.smooth_radius);
        let of_cluster = |f: usize| Some(clusters.of[f]).filter(|&k| k != NOWHERE).map(|k| k as usize);
        let lean = |f: usize| of_cluster(f).map_or_else(|| leans.raw(f), |k| within.lean(k)).radians() as f32;
        let lean: Vec<f32> = every().map(lean).collect();
        let mut of: Vec<u32> = every().map(|f| of_cluster(f).map_or(NOWHERE, |k| patch_of[k])).collect();

        let changed =
            every().map(|f| coated[f] && rules.limits.class(leans.smooth(f)) != rules.limits.class(leans.raw(f)));
        let changed: f64 =
            changed.collect::<Vec<_>>().iter().zip(size).filter(|(c, _)| **c).map(|(_, s)| s).fold(0.0, |a, b| a + b);
        let mut faces: Vec<Vec<u32>> = vec![Vec::new(); class.len()];
        for (face, &k) in of.iter().enumerate().filter(|(_, k)| **k != NOWHERE) {
            faces[k as usize].push(face as u32);
        }
        let mut zones: Vec<Zone> = faces
            .into_par_iter()
            .zip(&class)
            .map(|(faces, &class)| {
                zone(
                    &Seen {
                        mesh,
                        topology,
                        of: &of,
                        patch_of: &patch_of,
                        size,
                        lean: &lean,
                        clusters,
                        within: &within,
                        texture: &texture,
                        rules,
                    },
                    class,
                    faces,
                )
            })
            .collect();
        zones.sort_by_key(order);
        let mut count = [0; 5];
        for (k, zone) in zones.iter_mut().enumerate() {
            let of_class = &mut count[zone.name.class as usize];
            *of_class += 1;
            zone.name.number = *of_class;
            zone.pieces.iter().for_each(|&f| of[f as usize] = k as u32);
        }
        let changed_by_smoothing = Area::from_square_metres(changed);
        let touching = touching(clusters, &within.fold, &of);
        let base = Base {
            own: (!surface.is_model()).then(|| Box::new(mesh.clone())),
            source: surface.source.clone(),
            size: size.clone(),
            of,
            lean,
        };
        let size = surface.model_size.clone();
        Self { zones, changed_by_smoothing, base, size, touching, ..Self::default() }.on_model(surface)
    }

    /// Says of each of the model's triangles what its pieces say: the zone of most of its area, and the mean lean.
    fn on_model(mut self, surface: &Surface<'_>) -> Self {
        if surface.is_model() {
            (self.of, self.lean) = (self.base.of.clone(), self.base.lean.clone());
            self.zones.iter_mut().for_each(|zone| zone.faces.clone_from(&zone.pieces));
            return self;
        }
        let n = surface.model_size.len();
        let mut by_zone: BTreeMap<(u32, u32), f64> = BTreeMap::new();
        let (mut leaning, mut area) = (vec![0.0; n], vec![0.0; n]);
        for (piece, &zone) in self.base.of.iter().enumerate().filter(|(_, k)| **k != NOWHERE) {
            let (face, size) = (surface.source(piece), self.base.size[piece]);
            *by_zone.entry((face as u32, zone)).or_insert(0.0) += size;
            leaning[face] += f64::from(self.base.lean[piece]) * size;
            area[face] += size;
        }
        self.of = vec![NOWHERE; n];
        let mut most = vec![0.0; n];
        for ((face, zone), size) in by_zone {
            if self.of[face as usize] == NOWHERE || size > most[face as usize] {
                (self.of[face as usize], most[face as usize]) = (zone, size);
            }
        }
        for (face, &zone) in self.of.iter().enumerate().filter(|(_, k)| **k != NOWHERE) {
            self.zones[zone as usize].faces.push(face as u32);
        }
        self.lean =
            (0..n).map(|f| if area[f] > 0.0 { (leaning[f] / area[f]) as f32 } else { surface.raw_lean(f) }).collect();
        self.zones.iter_mut().for_each(|zone| zone.at_face = surface.source(zone.at_face as usize) as u32);
        self
    }

    /// The index of a face's zone; `None` for a bare face, and where no zones were looked for.
    #[must_use]
    pub fn of(&self, face: usize) -> Option<usize> {
        self.of.get(face).copied().filter(|&k| k != NOWHERE).map(|k| k as usize)
    }

    /// Lean of a face averaged within its zone: what a lift of fresh mix feels. Raw lean for a bare face; level where no zones
    /// were looked for.
    #[must_use]
    pub fn lean(&self, face: usize) -> Angle {
        Angle::from_radians(f64::from(self.lean.get(face).copied().unwrap_or(0.0)))
    }

    /// Area of all zones of a class.
    #[must_use]
    pub fn area_of(&self, class: Class) -> Area {
        self.zones.iter().filter(|z| z.name.class == class).map(|z| z.area).sum()
    }
}

/// Pairs of zones with a border in common, by the zone of each piece; not across the edge of a fin.
fn touching(clusters: &Clusters, fold: &[bool], zone_of: &[u32]) -> Vec<[u32; 2]> {
    let mut zone = vec![NOWHERE; clusters.count()];
    for (&k, &z) in clusters.of.iter().zip(zone_of).filter(|(k, _)| **k != NOWHERE) {
        zone[k as usize] = z;
    }
    let pairs = |k: usize| {
        let (zone, own) = (&zone, zone[k]);
        let open = clusters.beside(k).map(|g| g as usize).filter(move |&g| !fold[k] && !fold[g]);
        open.map(move |g| [own, zone[g]]).filter(|[a, b]| a < b)
    };
    let mut all: Vec<[u32; 2]> = (0..clusters.count()).flat_map(pairs).collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// Sizes closer than this (a stamp) are one size; then place decides, to the millimetre.
fn order(zone: &Zone) -> (Class, i64, [i64; 3]) {
    let mm = |x: f64| (x * 1000.0).round() as i64;
    let c = zone.centre;
    (zone.name.class, -((zone.area.square_metres() * 1e5).round() as i64), [mm(c.z), mm(c.x), mm(c.y)])
}

/// What a zone is made from.
struct Seen<'a> {
    mesh: &'a Mesh,
    topology: &'a Topology,
    of: &'a [u32],
    patch_of: &'a [u32],
    size: &'a [f64],
    lean: &'a [f32],
    clusters: &'a Clusters,
    within: &'a Smoothed,
    texture: &'a Texture,
    rules: &'a ZoneRules,
}

fn zone(seen: &Seen<'_>, class: Class, faces: Vec<u32>) -> Zone {
    let Seen { mesh, topology, of, patch_of, size: sizes, lean, clusters, within, texture, rules } = *seen;
    let area: f64 = faces.iter().map(|&f| sizes[f as usize]).sum();
    let (mut bridged, mut near, mut leaning, mut worst) = (0.0, 0.0, 0.0, 0.0_f32);
    let mut moment = Vector3::zeros();
    let low_high = |a: &Point3<f64>, b: &Point3<f64>| (a.z, a.x, a.y).partial_cmp(&(b.z, b.x, b.y));
    let first = faces.first().map_or_else(Point3::origin, |&f| mesh.corners(f as usize)[0]);
    let (mut lowest, mut highest, mut bounds) = (first, first, [first; 2]);
    // A sliver, smaller than a thousandth of the mean, faces anywhere.
    let sliver = 1e-3 * area / faces.len() as f64;
    for &f in &faces {
        let size = sizes[f as usize];
        let lean = lean[f as usize];
        bridged += size * texture.kept(clusters.of[f as usize]);
        leaning += size * f64::from(lean);
        if size > sliver {
            worst = worst.max(lean);
        }
        if rules.limits.distance(Angle::from_radians(f64::from(lean))) < rules.near_limit {
            near += size;
        }
        moment += centroid(mesh, f as usize).coords * size;
        for p in mesh.corners(f as usize) {
            if low_high(&p, &lowest).is_some_and(std::cmp::Ordering::is_lt) {
                lowest = p;
            }
            if low_high(&p, &highest).is_some_and(std::cmp::Ordering::is_gt) {
                highest = p;
            }
            bounds = [bounds[0].inf(&p), bounds[1].sup(&p)];
        }
    }
    let centre = if area > 0.0 { Point3::from(moment / area) } else { first };
    let away = |f: u32| (centroid(mesh, f as usize) - centre).norm_squared();
    let at_face = faces.iter().copied().min_by(|&a, &b| away(a).total_cmp(&away(b)).then(a.cmp(&b))).unwrap_or(0);
    // A large zone is most of the model: its three long looks run side by side.
    let (unrolled, (outline, double_curvature)) = rayon::join(
        || {
            Unrolled::of(mesh, &faces, |f, raw| {
                let k = clusters.of[f];
                (sizes[f] * texture.kept(k), texture.facing(k, raw, &within.mean[k as usize]))
            })
        },
        || {
            rayon::join(
                || Outline::of(mesh, topology, of, |f| within.mean[clusters.of[f] as usize], &faces),
                || double_curvature(clusters, patch_of, within, &faces),
            )
        },
    );
    let height = unrolled.height();
    Zone {
        name: ZoneName { class, number: 0 },
        area: Area::from_square_metres(area),
        lath_area: Area::from_square_metres(bridged),
        height: Length::from_metres(height),
        width: Length::from_metres(if height > 0.0 { bridged / height } else { 0.0 }),
        lowest,
        highest,
        bounds,
        centre,
        at_face,
        lean_mean: Angle::from_radians(if area > 0.0 { leaning / area } else { 0.0 }),
        lean_worst: Angle::from_radians(f64::from(worst)),
        near_limit: Area::from_square_metres(near),
        double_curvature,
        outline,
        unrolled,
        pieces: faces,
        faces: Vec::new(),
    }
}

/// Mean of |Gauss curvature|: the area that the outward directions sweep on the unit ball, over the area of the surface.
///
/// From how averaged directions change between a cluster and those beside it: raw ones would measure the texture.
fn double_curvature(clusters: &Clusters, patch_of: &[u32], within: &Smoothed, faces: &[u32]) -> f64 {
    let mut members: Vec<u32> = faces.iter().map(|&f| clusters.of[f as usize]).collect();
    members.sort_unstable();
    members.dedup();
    let (mut bent, mut area) = (0.0, 0.0);
    for &k in &members {
        let k = k as usize;
        let unit = |k: usize| within.mean[k].cast::<f64>().try_normalize(1e-3);
        let Some(n) = unit(k) else { continue };
        let along = if n.x.abs() < 0.9 { Vector3::x() } else { Vector3::y() };
        let first = n.cross(&along).normalize();
        let frame = Matrix2x3::from_rows(&[first.transpose(), n.cross(&first).transpose()]);
        let (mut ways, mut turns) = (Matrix2::zeros(), Matrix2::zeros());
        for g in clusters.beside(k).map(|g| g as usize).filter(|&g| patch_of[g] == patch_of[k]) {
            let Some(there) = unit(g) else { continue };
            let (way, turn) = (frame * (clusters.centre(g) - clusters.centre(k)), frame * (there - n));
            ways += way * way.transpose();
            turns += turn * way.transpose();
        }
        // A cluster whose neighbours lie in a row tells nothing of the way across.
        if ways.determinant() > 0.01 * ways.trace().powi(2) {
            bent += turns.determinant() / ways.determinant() * clusters.area(k);
            area += clusters.area(k);
        }
    }
    if area > 0.0 { (bent / area).abs() } else { 0.0 }
}
