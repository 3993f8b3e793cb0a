//! What a piece stands on: its flat contact with the floor foot by foot, and how they share a weight.
//!
//! A foot is a patch that faces down with all corners within the reach of the floor. It must be flat: a base that goes on
//! rising in the same curve touches in a point or a line, and its contact depends on how it is bedded, not on the drawing.

mod plan;

use crate::bodies::Forest;
use crate::effort::Effort;
use crate::mesh::Mesh;
use crate::units::{Area, Length};
use nalgebra::{Matrix2, Point3, SymmetricEigen, Vector2, Vector3};
use plan::{Side, Union};

/// A flat patch on the floor. Metres from the low left front corner of the drawing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foot {
    /// Contact area.
    pub area: Area,
    /// Its middle.
    pub middle: Vector2<f64>,
    /// Width and depth of its box.
    pub size: [Length; 2],
}

/// The contact with the floor.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Contact {
    /// Feet from left to right; parts no farther apart than the reach are one foot.
    pub feet: Vec<Foot>,
    /// The middle in plan of each place that touches the floor in a point, along a line, or with a rounded base, away from every foot.
    pub points: Vec<Vector2<f64>>,
    /// The convex hull of the feet.
    pub hull: Hull,
}

/// A convex hull in plan.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Hull {
    /// Its corners, turning left.
    pub corners: Vec<Vector2<f64>>,
}

impl Hull {
    /// The hull of some points. O(n log n).
    #[must_use]
    pub fn of(points: Vec<Vector2<f64>>) -> Self {
        Self { corners: plan::hull(points) }
    }

    /// Its area.
    #[must_use]
    pub fn area(&self) -> Area {
        Area::from_square_metres(plan::hull_area(&self.corners))
    }

    /// How far a point lies outside; nothing inside and on the edge. A piece whose weight acts outside the hull of what it stands on
    /// tips (statics: no set of pressures there balances the moment).
    ///
    /// ```
    /// use cragskin_geom::footing::Hull;
    /// use nalgebra::vector;
    /// let square = Hull::of(vec![vector![0.0, 0.0], vector![1.0, 0.0], vector![1.0, 1.0], vector![0.0, 1.0]]);
    /// assert_eq!(square.outside_by(vector![0.5, 1.0]).metres(), 0.0);
    /// // 3 to the right and 4 up of a corner.
    /// assert_eq!(square.outside_by(vector![4.0, 5.0]).metres(), 5.0);
    /// ```
    #[must_use]
    pub fn outside_by(&self, p: Vector2<f64>) -> Length {
        Length::from_metres(plan::outside_hull(&self.corners, &p))
    }
}

/// A patch that rises farther than so many reaches is not part of a base.
const BASE: f64 = 8.0;
/// A base is flat when at least this share of it, in plan, lies within the reach of the floor: 1 for a slab, 1/8 for a ball,
/// 0.35 for a barrel on its side.
const FLAT: f64 = 0.5;
/// Feet of less than so many squares of the reach are points: 1 square inch under the usual quarter inch.
const POINT: f64 = 16.0;

impl Contact {
    /// The contact of a closed mesh with the floor, z = 0. `reach`: how far off the floor a face may lie and still rest on it. None
    /// where the effort is spent.
    ///
    /// Faces that overlap in plan count once. O(n) and, in the edges of the feet, about O(n log n); up to the cube of their number
    /// where all of them cross one another.
    ///
    /// ```
    /// use cragskin_geom::{effort::Effort, footing::Contact, mesh::Mesh, units::Length};
    /// # let p = |x, y, z| nalgebra::Point3::new(x, y, z);
    /// // A tetrahedron of 1 m sides on its base of 1/2 m2.
    /// let positions = vec![p(0.0, 0.0, 0.0), p(1.0, 0.0, 0.0), p(0.0, 1.0, 0.0), p(0.0, 0.0, 1.0)];
    /// let mesh = Mesh::new(positions, vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]], Vec::new());
    /// let contact = Contact::of(&mesh, Length::from_inches(0.25), &Effort::any()).unwrap();
    /// assert_eq!((contact.feet.len(), contact.feet[0].area.square_metres()), (1, 0.5));
    /// ```
    #[must_use]
    pub fn of(mesh: &Mesh, reach: Length, effort: &Effort) -> Option<Self> {
        let reach = reach.metres();
        let low = Patches::of(mesh, reach, false);
        let base = Patches::of(mesh, BASE * reach, true);
        let mut on_floor = vec![0.0; base.plan.len()];
        for &face in &low.faces {
            on_floor[base.of_face(mesh, face as usize)] += area_in_plan(mesh, face as usize);
        }
        let mut sides: Vec<Vec<Side>> = vec![Vec::new(); low.plan.len()];
        for face in low.faces.iter().map(|&face| face as usize) {
            let patch = base.of_face(mesh, face);
            if on_floor[patch] >= FLAT * base.plan[patch] {
                sides[low.of_face(mesh, face)].extend(plan::sides(mesh, face));
            }
        }
        let groups = plan::grouped(sides.into_iter().map(plan::outline).collect(), reach, effort)?;
        let unions: Option<Vec<Union>> = groups.into_iter().map(|sides| plan::union(&sides, effort)).collect();
        let mut feet: Vec<(Foot, Union)> = unions?
            .into_iter()
            .filter(|union| union.area >= POINT * reach * reach)
            .map(|union| (union.foot(), union))
            .collect();
        feet.sort_by(|(a, _), (b, _)| a.middle.x.total_cmp(&b.middle.x).then(a.middle.y.total_cmp(&b.middle.y)));
        // Of each patch the sum of its corners in plan and how many they are; none where it belongs to a foot.
        let mut apart = vec![Some((Vector2::zeros(), 0.0)); low.plan.len()];
        for (p, &patch) in mesh.positions().iter().zip(&low.of_vertex).filter(|(_, patch)| **patch != NONE) {
            let place = &mut apart[patch as usize];
            *place = place
                .filter(|_| !feet.iter().any(|(_, union)| union.is_near(p, BASE * reach)))
                .map(|(sum, count)| (sum + Vector2::new(p.x, p.y), count + 1.0));
        }
        let hull = Hull::of(feet.iter().flat_map(|(_, union)| union.corners.iter().copied()).collect());
        Some(Self {
            points: apart.into_iter().flatten().map(|(sum, count)| sum / count).collect(),
            feet: feet.into_iter().map(|(foot, _)| foot).collect(),
            hull,
        })
    }
}

/// What share of a weight each foot carries, by statics; the weight acts at `at` in plan. A negative share is a foot that lifts.
///
/// One foot carries all. Two share by the lever along the line through their middles, three by their moments. More are loaded by a
/// rigid piece on a floor that gives evenly: pressure is linear in plan (the plate formula p = W/A + M y/I of any statics text, with
/// each foot at its middle). Feet whose middles stray from a line by less than their own size count as in line.
///
/// ```
/// use cragskin_geom::{footing::{Foot, shares}, units::{Area, Length}};
/// use nalgebra::Vector2;
/// let at = |x| Foot { area: Area::from_square_metres(1.0), middle: Vector2::new(x, 0.0), size: [Length::from_metres(1.0); 2] };
/// // A weight at a quarter of the span: three quarters and one.
/// assert_eq!(shares(&[at(0.0), at(8.0)], Vector2::new(2.0, 0.0)), [0.75, 0.25]);
/// ```
#[must_use]
pub fn shares(feet: &[Foot], at: Vector2<f64>) -> Vec<f64> {
    let area = |foot: &Foot| foot.area.square_metres();
    let all: f64 = feet.iter().map(area).sum();
    let centre = feet.iter().map(|foot| foot.middle * area(foot)).sum::<Vector2<f64>>() / all;
    let spread: Matrix2<f64> = feet
        .iter()
        .map(|foot| {
            let arm = foot.middle - centre;
            arm * arm.transpose() * (area(foot) / all)
        })
        .sum();
    // The square of a foot's radius of gyration: that of a disc of its area.
    let own = feet.iter().map(|foot| area(foot).powi(2)).sum::<f64>() / (4.0 * std::f64::consts::PI * all);
    let axes = SymmetricEigen::new(spread);
    let mut slope = Vector2::zeros();
    for (k, spread) in axes.eigenvalues.iter().enumerate().filter(|(_, spread)| **spread > own) {
        let axis = axes.eigenvectors.column(k);
        slope += axis * (axis.dot(&(at - centre)) / spread);
    }
    feet.iter().map(|foot| area(foot) / all * (1.0 + slope.dot(&(foot.middle - centre)))).collect()
}

/// The middle of a surface, of the share of each face that counts; none when nothing does. O(n).
#[must_use]
pub fn middle_of_surface(mesh: &Mesh, share: impl Fn(usize) -> f64) -> Option<Point3<f64>> {
    let (mut sum, mut area) = (Vector3::zeros(), 0.0);
    for face in 0..mesh.triangles().len() {
        let weight = mesh.area_vector(face).norm() * share(face);
        let [a, b, c] = mesh.corners(face).map(|p| p.coords);
        sum += (a + b + c) * (weight / 3.0);
        area += weight;
    }
    (area > 0.0).then(|| Point3::from(sum / area))
}

/// The middle of the volume that a surface encloses; none when it encloses nothing. Sum over tetrahedra from the low corner. O(n).
#[must_use]
pub fn middle_of_volume(mesh: &Mesh) -> Option<Point3<f64>> {
    let (mut sum, mut volume) = (Vector3::zeros(), 0.0);
    for face in 0..mesh.triangles().len() {
        let [a, b, c] = mesh.corners(face).map(|p| p.coords);
        let six = a.dot(&b.cross(&c));
        sum += (a + b + c) * (six / 4.0);
        volume += six;
    }
    (volume > 0.0).then(|| Point3::from(sum / volume))
}

/// Vertices up to a height, in patches that are joined, and the faces among them that face down.
struct Patches {
    of_vertex: Vec<u32>,
    /// Area in plan of the faces of each patch.
    plan: Vec<f64>,
    /// Faces that face down and have all corners that low.
    faces: Vec<u32>,
}

const NONE: u32 = u32::MAX;

impl Patches {
    /// Joined by edges of any face, or by faces that face down alone.
    fn of(mesh: &Mesh, height: f64, by_faces_alone: bool) -> Self {
        let points = mesh.positions();
        let is_low = |v: u32| points[v as usize].z <= height;
        let mut forest = Forest::new(points.len());
        let mut used = vec![false; points.len()];
        let mut faces = Vec::new();
        for (face, t) in mesh.triangles().iter().enumerate() {
            let down = t.iter().all(|&v| is_low(v)) && area_in_plan(mesh, face) > 0.0;
            if down {
                faces.push(face as u32);
            }
            for (a, b) in [(t[0], t[1]), (t[1], t[2]), (t[2], t[0])] {
                used[a as usize] |= is_low(a);
                if down || !by_faces_alone && is_low(a) && is_low(b) {
                    forest.join(a, b);
                }
            }
        }
        let mut it = Self { of_vertex: vec![NONE; points.len()], plan: Vec::new(), faces };
        // A root is the lowest of its set, so it is met first.
        for v in (0..points.len()).filter(|&v| used[v]) {
            let root = forest.root(v as u32) as usize;
            if root == v {
                it.plan.push(0.0);
                it.of_vertex[v] = it.plan.len() as u32 - 1;
            } else {
                it.of_vertex[v] = it.of_vertex[root];
            }
        }
        for k in 0..it.faces.len() {
            let face = it.faces[k] as usize;
            let patch = it.of_face(mesh, face);
            it.plan[patch] += area_in_plan(mesh, face);
        }
        it
    }

    fn of_face(&self, mesh: &Mesh, face: usize) -> usize {
        self.of_vertex[mesh.triangles()[face][0] as usize] as usize
    }
}

/// Area in plan of a face that faces down, by 60 degrees or more; nothing for others.
fn area_in_plan(mesh: &Mesh, face: usize) -> f64 {
    let vector = mesh.area_vector(face);
    if vector.z < -0.5 * vector.norm() { -vector.z } else { 0.0 }
}
