//! From the designer's file to a [`Model`]: welded once, then placed in metres with Z up.

use crate::intake::{AbsentPart, Corners, PartName, Receipt, ReceiptCode, ReceiptLine, Soup};
use crate::mesh::Mesh;
use crate::units::{Length, ModelUnit};
use crate::weld::{Welded, weld};
use crate::words::Words;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// A direction along a file axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Axis {
    /// 0 for x, 1 for y, 2 for z.
    pub index: usize,
    /// Pointing to smaller numbers.
    pub negative: bool,
}

impl Axis {
    /// +X.
    pub const PLUS_X: Self = Self { index: 0, negative: false };
    /// -Y, where visitors stand unless told otherwise.
    pub const MINUS_Y: Self = Self { index: 1, negative: true };
    /// +Y.
    pub const PLUS_Y: Self = Self { index: 1, negative: false };
    /// +Z, up unless told otherwise.
    pub const PLUS_Z: Self = Self { index: 2, negative: false };

    /// The unit vector.
    #[must_use]
    pub fn vector(self) -> Vector3<f64> {
        let mut v = Vector3::zeros();
        v[self.index] = if self.negative { -1.0 } else { 1.0 };
        v
    }
}

impl std::fmt::Display for Axis {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let axis = ["X", "Y", "Z"][self.index.min(2)];
        write!(f, "{}{axis}", if self.negative { '-' } else { '+' })
    }
}

/// How the file lies in the room: what one file unit is, which way is up and where visitors stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placing {
    /// The unit the designer drew in.
    pub unit: ModelUnit,
    /// The file axis that points up.
    pub up: Axis,
    /// The file axis that points at the visitor.
    pub front: Axis,
}

/// The file cannot become a drawing.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DrawingError {
    /// More triangles than the edge table can number.
    #[error(
        "{0} triangles are more than this program can number (700 million): ask the designer for a lighter export, or split the file by part"
    )]
    TooManyTriangles(usize),
    /// No triangle left.
    #[error(
        "the file holds no triangles: ask the designer to export the model as a surface mesh (STL or OBJ with faces)"
    )]
    NoTriangles,
}

/// `up` and `front` lie on the same axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "up ({up}) and front ({front}) lie on the same axis: visitors cannot stand on the ceiling; give --front another axis"
)]
pub struct PlacingError {
    /// Up as asked.
    pub up: Axis,
    /// Front as asked.
    pub front: Axis,
}

/// A welded file that has no unit yet, so nothing can be measured on it but counts and its size in file units.
#[derive(Clone, Debug)]
pub struct Drawing {
    mesh: Mesh,
    low: Vector3<f64>,
    size: Vector3<f64>,
    parts: Vec<PartName>,
    absent: Vec<AbsentPart>,
    receipt: Receipt,
    scale: f64,
}

impl Drawing {
    /// Welds equal positions and puts everything in canonical order.
    ///
    /// # Errors
    /// When there is no triangle, or more than the edge table can number.
    pub fn from_soup(soup: Soup<'_>) -> Result<Self, DrawingError> {
        Self::without_parts(soup, &[])
    }

    /// The same without the parts marked: they have no share in the size, the low corner, the counts or anything else.
    ///
    /// # Errors
    /// As [`Drawing::from_soup`]; [`DrawingError::NoTriangles`] when nothing is left.
    pub fn without_parts(soup: Soup<'_>, left_out: &[bool]) -> Result<Self, DrawingError> {
        let (soup, absent) = soup.without_parts(left_out);
        let triangles = soup.receipt.triangles_in_file;
        if triangles > 700_000_000 {
            return Err(DrawingError::TooManyTriangles(triangles));
        }
        let Welded { mesh, low, size } = weld(&soup);
        if mesh.triangles().is_empty() {
            return Err(DrawingError::NoTriangles);
        }
        let mut receipt = soup.receipt;
        receipt.lines.extend(far_from_origin(matches!(soup.corners, Corners::StlRecords { .. }), low, size));
        Ok(Self { mesh, low, size, parts: soup.parts, absent, receipt, scale: 1.0 })
    }

    /// The welded mesh in file units, its low corner at zero.
    #[must_use]
    pub fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    /// Size of the whole along the file's axes, in file units.
    #[must_use]
    pub fn size(&self) -> [f64; 3] {
        self.size.into()
    }

    /// The low corner in the file's own coordinates.
    #[must_use]
    pub fn low(&self) -> [f64; 3] {
        self.low.into()
    }

    /// Parts in order of first appearance.
    #[must_use]
    pub fn parts(&self) -> &[PartName] {
        &self.parts
    }

    /// Parts that are left out as if they were not in the file, in file units.
    #[must_use]
    pub fn absent_parts(&self) -> &[AbsentPart] {
        &self.absent
    }

    /// Triangles that the reader had to leave out.
    #[must_use]
    pub fn left_out(&self) -> usize {
        let lines = self.receipt.lines.iter().filter(|line| line.code == ReceiptCode::NotANumber);
        lines.map(|line| line.count).sum()
    }

    /// What was changed or left out on the way in.
    #[must_use]
    pub fn receipt(&self) -> &Receipt {
        &self.receipt
    }

    /// Lengths of this drawing over those of the file: 1 unless it was scaled.
    #[must_use]
    pub fn scale(&self) -> f64 {
        self.scale
    }

    /// The same drawing with every coordinate multiplied by a positive factor, for a file exported in a wrong unit.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        let mesh = self.mesh.map_positions(|p| p * factor);
        let absent = self.absent.into_iter().map(|part| part.scaled(factor)).collect();
        Self { mesh, low: self.low * factor, size: self.size * factor, absent, scale: self.scale * factor, ..self }
    }

    /// Turns and scales into the room: metres, Z up, visitors at -Y, low corner at zero.
    ///
    /// # Errors
    /// When up and front are the same axis.
    pub fn place(self, placing: Placing) -> Result<Model, PlacingError> {
        self.place_as(placing, Words::Metres)
    }

    fn place_as(self, placing: Placing, words: Words) -> Result<Model, PlacingError> {
        if placing.up.index == placing.front.index {
            return Err(PlacingError { up: placing.up, front: placing.front });
        }
        let (depth, up) = (-placing.front.vector(), placing.up.vector());
        let right = depth.cross(&up);
        let metres = placing.unit.one().metres();
        // Every row has a single entry of size one, so the products are exact and -0 never appears.
        let size = Vector3::new(right.dot(&self.size), depth.dot(&self.size), up.dot(&self.size));
        let shift = size.map(|extent| if extent < 0.0 { -extent } else { 0.0 });
        let turn = |p: Vector3<f64>| (Vector3::new(right.dot(&p), depth.dot(&p), up.dot(&p)) + shift) * metres;
        let mesh = self.mesh.map_positions(|p| Point3::from(turn(p.coords))).with_origin(turn(-self.low));
        let absent = self.absent.into_iter().map(|part| part.scaled(metres)).collect();
        Ok(Model { mesh, size: size.abs() * metres, parts: self.parts, absent, placing, words })
    }

    /// Turned into the room but left in file units, for counts and findings while the unit is unknown.
    ///
    /// # Errors
    /// When up and front are the same axis.
    pub(crate) fn place_in_file_units(self, up: Axis, front: Axis) -> Result<Model, PlacingError> {
        self.place_as(Placing { unit: ModelUnit::Metre, up, front }, Words::FileUnits)
    }
}

/// Single precision (24 bits) far from the origin: told when its step is more than a hundred-thousandth of the model.
fn far_from_origin(single: bool, low: Vector3<f64>, size: Vector3<f64>) -> Option<ReceiptLine> {
    let farthest = low.abs().sup(&(low + size).abs()).max();
    let step = farthest * f64::from(f32::EPSILON);
    (single && step > 1e-5 * size.norm()).then(|| ReceiptLine {
        code: ReceiptCode::FarFromOrigin,
        count: 1,
        text: format!(
            "the model lies {farthest:.0} file units from its own origin, where an STL can only tell steps of {step:.4} file units: fine shape \
             is lost. Ask the designer to move it to the origin before export."
        ),
    })
}

/// A mesh in metres, Z up, visitors at -Y, low corner of its box at zero. Only this can be measured.
#[derive(Clone, Debug)]
pub struct Model {
    mesh: Mesh,
    size: Vector3<f64>,
    parts: Vec<PartName>,
    absent: Vec<AbsentPart>,
    placing: Placing,
    pub(crate) words: Words,
}

impl Model {
    /// The mesh, in metres.
    #[must_use]
    pub fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    /// Width (left to right as visitors see it), depth (away from them) and height.
    #[must_use]
    pub fn size(&self) -> [Length; 3] {
        [0, 1, 2].map(|k| Length::from_metres(self.size[k]))
    }

    /// Length of the box diagonal in metres.
    #[must_use]
    pub fn diagonal(&self) -> f64 {
        self.size.norm()
    }

    /// Parts in order of first appearance.
    #[must_use]
    pub fn parts(&self) -> &[PartName] {
        &self.parts
    }

    /// Parts that are left out as if they were not in the file, in metres.
    #[must_use]
    pub fn absent_parts(&self) -> &[AbsentPart] {
        &self.absent
    }

    /// How it was placed.
    #[must_use]
    pub fn placing(&self) -> Placing {
        self.placing
    }

    /// Only the triangles marked in `keep`, the low corner of their box at zero; and where that corner lay before. O(n).
    #[must_use]
    pub fn keeping(self, keep: &[bool]) -> (Self, Vector3<f64>) {
        let (mesh, low, size) = self.mesh.keeping(keep).into_its_own_box();
        (Self { mesh, size, ..self }, low)
    }

    /// The same model with another mesh in the same box.
    pub(crate) fn with_mesh(self, mesh: Mesh) -> Self {
        Self { mesh, ..self }
    }

    pub(crate) fn map_mesh(self, f: impl FnOnce(Mesh) -> Mesh) -> Self {
        Self { mesh: f(self.mesh), ..self }
    }
}

impl Mesh {
    /// Without corners that no triangle uses, the low corner of the box at zero; and where that was, and the size of the box.
    fn into_its_own_box(self) -> (Self, Vector3<f64>, Vector3<f64>) {
        let mut mesh = self.without_unused();
        let far = Vector3::repeat(f64::INFINITY);
        let bounds =
            mesh.positions.iter().fold((far, -far), |(low, high), p| (low.inf(&p.coords), high.sup(&p.coords)));
        let (low, high) = if mesh.positions.is_empty() { Default::default() } else { bounds };
        mesh.origin -= low;
        (mesh.map_positions(|p| p - low), low, high - low)
    }

    fn map_positions(mut self, f: impl Fn(Point3<f64>) -> Point3<f64> + Sync) -> Self {
        self.positions.par_iter_mut().for_each(|p| *p = f(*p));
        self
    }
}
