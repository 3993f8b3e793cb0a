//! Zones: joined patches of one class, lettered, with what a scaffold needs to know of each.

mod flags;
mod grow;
mod joints;
mod lath;
mod lifts;
mod outline;
mod pocket;
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
use std::fmt;
use unroll::Unrolled;

pub use flags::{Flag, FlagCode, FlagInput, FlagRules, FlagSize, ThinCore, flags};
pub use joints::{JointRules, ZoneJoints, joints};
pub use lath::{LathPlan, LathRules, Laying, ZoneLath};
pub use lifts::{AT_LIMIT, Lift, LiftRules, Lifts, ZoneLifts, yield_stress_at_plumb};
pub use outline::Outline;
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
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
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    /// Letter and number.
    pub name: ZoneName,
    /// Coated area.
    pub area: Area,
    /// Height along the surface; for a patch too flat to have one, its shorter way in plan along the surface.
    pub height: Length,
    /// Mean width along the surface: area / height.
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
    /// The greatest lean, averaged within the zone.
    pub lean_worst: Angle,
    /// Area within the book's angle of a class limit.
    pub near_limit: Area,
    /// Mean |Gauss curvature| at the scale of the averaging, per square metre: 0 on plates, cylinders and cones.
    pub double_curvature: f64,
    /// Its edges, as loops.
    pub outline: Outline,
    pub(crate) unrolled: Unrolled,
    /// Faces, ascending.
    pub(crate) faces: Vec<u32>,
}

impl Zone {
    /// The triangles of the zone, ascending.
    #[must_use]
    pub fn faces(&self) -> &[u32] {
        &self.faces
    }
}

/// All zones of a model; none by default.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Zones {
    /// By class, then by size.
    pub zones: Vec<Zone>,
    /// Coated area whose class is another one after averaging: the chatter of single triangles.
    pub changed_by_smoothing: Area,
    of: Vec<u32>,
    lean: Vec<f32>,
    /// Exposed area of each face in square metres; 0 for bare ones.
    pub(crate) size: Vec<f64>,
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
        let every = || (0..coated.len()).into_par_iter().with_min_len(1 << 12);
        let coated: &[bool] = &every().map(|f| coated[f] && share(f) > 0.0).collect::<Vec<_>>();
        let size: Vec<f64> =
            every().map(|f| if coated[f] { mesh.area_vector(f).norm() * share(f) } else { 0.0 }).collect();
        let grain = Grain::of(Faces { mesh, topology }, coated, &size, leans, rules.smooth_radius);
        let clusters = &grain.clusters;
        let count = clusters.count();
        let sizes = clusters.sum(&size);
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
        let of_cluster = |f: usize| Some(clusters.of[f]).filter(|&k| k != NOWHERE).map(|k| k as usize);
        let lean = |f: usize| of_cluster(f).map_or_else(|| leans.raw(f), |k| within.lean(k)).radians() as f32;
        let lean: Vec<f32> = every().map(lean).collect();
        let mut of: Vec<u32> = every().map(|f| of_cluster(f).map_or(NOWHERE, |k| patch_of[k])).collect();

        let changed =
            every().map(|f| coated[f] && rules.limits.class(leans.smooth(f)) != rules.limits.class(leans.raw(f)));
        let changed: f64 =
            changed.collect::<Vec<_>>().iter().zip(&size).filter(|(c, _)| **c).map(|(_, s)| s).fold(0.0, |a, b| a + b);
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
                        size: &size,
                        lean: &lean,
                        clusters,
                        within: &within,
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
            zone.faces.iter().for_each(|&f| of[f as usize] = k as u32);
        }
        Self { zones, changed_by_smoothing: Area::from_square_metres(changed), of, lean, size }
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
    rules: &'a ZoneRules,
}

fn zone(seen: &Seen<'_>, class: Class, faces: Vec<u32>) -> Zone {
    let Seen { mesh, topology, of, patch_of, size: sizes, lean, clusters, within, rules } = *seen;
    let (mut area, mut near, mut leaning, mut worst) = (0.0, 0.0, 0.0, 0.0_f32);
    let mut moment = Vector3::zeros();
    let low_high = |a: &Point3<f64>, b: &Point3<f64>| (a.z, a.x, a.y).partial_cmp(&(b.z, b.x, b.y));
    let first = faces.first().map_or_else(Point3::origin, |&f| mesh.corners(f as usize)[0]);
    let (mut lowest, mut highest, mut bounds) = (first, first, [first; 2]);
    for &f in &faces {
        let size = sizes[f as usize];
        let lean = lean[f as usize];
        area += size;
        leaning += size * f64::from(lean);
        worst = worst.max(lean);
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
        || Unrolled::of(mesh, &faces, sizes),
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
        height: Length::from_metres(height),
        width: Length::from_metres(if height > 0.0 { area / height } else { 0.0 }),
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
        faces,
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
