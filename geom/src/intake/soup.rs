//! What a reader hands on: finite triangles in file units, not yet welded.

use crate::numeric::FixedSum;
use nalgebra::Vector3;

/// Triangles as a file has them, in file units, every coordinate finite.
#[derive(Clone, Debug)]
pub struct Soup<'a> {
    /// The corners of every triangle.
    pub corners: Corners<'a>,
    /// The part each triangle belongs to, an index into `parts`; empty when there is only one part.
    pub part_of: Vec<u32>,
    /// The parts in order of first appearance; never empty.
    pub parts: Vec<PartName>,
    /// Everything that was changed, left out or is worth knowing, in a fixed order.
    pub receipt: Receipt,
}

impl Soup<'_> {
    /// The corners of every triangle to be used, in file order, in file units; those left out are passed over.
    pub fn triangles(&self) -> Box<dyn Iterator<Item = [[f64; 3]; 3]> + '_> {
        match &self.corners {
            Corners::StlRecords { records, left_out } => {
                let mut skip = left_out.iter().copied().peekable();
                let (records, _) = records.as_chunks::<50>();
                Box::new(
                    records
                        .iter()
                        .zip(0_u32..)
                        .filter(move |&(_, k)| skip.next_if_eq(&k).is_none())
                        .map(|(record, _)| super::stl::record_corners(record)),
                )
            }
            Corners::Indexed { positions, triangles } => {
                Box::new(triangles.iter().map(|t| t.map(|v| positions[v as usize])))
            }
        }
    }
}

impl<'a> Soup<'a> {
    /// Without the triangles of the parts marked, as if they were not in the file. Parts keep their numbers, and the receipt
    /// stays that of the file. Also what each part marked amounts to, in file units. O(n), one thread.
    #[must_use]
    pub fn without_parts(mut self, left_out: &[bool]) -> (Self, Vec<AbsentPart>) {
        let is_out = |part: u32| left_out.get(part as usize).copied().unwrap_or(false);
        let out: Vec<u32> = (0..self.parts.len() as u32).filter(|part| is_out(*part)).collect();
        if out.is_empty() {
            return (self, Vec::new());
        }
        let part_of = std::mem::take(&mut self.part_of);
        let part_at = |triangle: usize| part_of.get(triangle).copied().unwrap_or(0);
        let absent = {
            let all = || self.triangles().enumerate().map(|(k, corners)| (part_at(k), corners));
            out.into_iter().map(|part| AbsentPart::of(part, || all().filter(|t| t.0 == part).map(|t| t.1))).collect()
        };
        self.corners = match self.corners {
            Corners::Indexed { positions, triangles } => {
                let mut numbers = 0..;
                let mut kept = triangles;
                kept.retain(|_| numbers.next().is_none_or(|k| !is_out(part_at(k))));
                Corners::Indexed { positions, triangles: kept }
            }
            // Records have no parts: what is left out is all of it.
            Corners::StlRecords { .. } => Corners::Indexed { positions: Vec::new(), triangles: Vec::new() },
        };
        self.part_of = part_of.into_iter().filter(|part| !is_out(*part)).collect();
        (self, absent)
    }
}

/// A part that is left out as if it were not in the file. In file units until it is placed, then in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AbsentPart {
    /// Its number.
    pub part: u32,
    /// Triangles.
    pub triangles: usize,
    /// Area.
    pub area: f64,
    /// Size along the file's axes.
    pub size: [f64; 3],
}

impl AbsentPart {
    fn of<I: Iterator<Item = [[f64; 3]; 3]>>(part: u32, triangles: impl Fn() -> I) -> Self {
        let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
        for p in triangles().flatten() {
            low = std::array::from_fn(|k| low[k].min(p[k]));
            high = std::array::from_fn(|k| high[k].max(p[k]));
        }
        let size: [f64; 3] = std::array::from_fn(|k| (high[k] - low[k]).max(0.0));
        let mut area = FixedSum::with_terms_up_to(size.iter().map(|s| s * s).sum());
        let mut count = 0;
        for corners in triangles() {
            let [a, b, c] = corners.map(Vector3::from);
            area.add((b - a).cross(&(c - a)).norm() / 2.0);
            count += 1;
        }
        Self { part, triangles: count, area: area.value(), size }
    }

    /// The same with lengths multiplied.
    pub(crate) fn scaled(self, factor: f64) -> Self {
        Self { area: self.area * factor * factor, size: self.size.map(|s| s * factor), ..self }
    }
}

/// Where the corners are kept.
#[derive(Clone, Debug)]
pub enum Corners<'a> {
    /// Records of a binary STL, 50 bytes each, as they lie in the file: nothing is copied for a model of ten million
    /// triangles. Records with a coordinate that is not a number are listed in `left_out` (ascending) and must be passed over.
    StlRecords {
        /// `50 n` bytes.
        records: &'a [u8],
        /// Ascending indices of records to pass over.
        left_out: Vec<u32>,
    },
    /// A table of positions and three indices a triangle (OBJ, ASCII STL).
    Indexed {
        /// Positions in file units.
        positions: Vec<[f64; 3]>,
        /// Corner indices, all within `positions`.
        triangles: Vec<[u32; 3]>,
    },
}

/// What the file says about a part. Names are data: never trusted, never executed, always escaped when shown.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PartName {
    /// Solid, object or group name; empty when the file gives none.
    pub name: String,
    /// Material name; empty when the file gives none.
    pub material: String,
}

impl PartName {
    /// Whether a rule that names a part means this one: by its name or its material.
    #[must_use]
    pub fn is_called(&self, name: &str) -> bool {
        self.name == name || self.material == name
    }
}

/// All that was changed or left out on the way in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Receipt {
    /// What kind of file it was, in words: "binary STL", "ASCII STL", "OBJ".
    pub format: &'static str,
    /// Triangles (after splitting polygons) the file holds, those left out included.
    pub triangles_in_file: usize,
    /// One line a kind of event.
    pub lines: Vec<ReceiptLine>,
}

impl Receipt {
    /// Adds a line unless nothing happened.
    pub(super) fn note(&mut self, code: ReceiptCode, count: usize, text: impl FnOnce() -> String) {
        if count > 0 {
            self.lines.push(ReceiptLine { code, count, text: text() });
        }
    }
}

/// One kind of event met while reading.
#[derive(Clone, Debug, PartialEq)]
pub struct ReceiptLine {
    /// What happened.
    pub code: ReceiptCode,
    /// How often.
    pub count: usize,
    /// In plain words, with the place of the first one: what was found, what was assumed.
    pub text: String,
}

/// Kinds of event met while reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum ReceiptCode {
    /// Triangles with a coordinate that is not a finite number were left out: areas are lower bounds.
    NotANumber,
    /// Bytes after the last record.
    TrailingBytes,
    /// Polygons with more than three corners were split.
    PolygonsSplit,
    /// Polygons that are not flat.
    PolygonsBent,
    /// Polygons that cross themselves or have repeated corners; split as well as can be.
    PolygonsCrossed,
    /// Points, lines, curves and other elements with no surface were passed over.
    ElementsSkipped,
    /// Text that is not UTF-8 was read with replacement marks.
    NameNotUtf8,
    /// A line of a kind that this reader does not know was passed over.
    UnknownLine,
    /// Colours or extra numbers stored with faces or vertices were not used.
    ColourIgnored,
    /// The file was cut short or badly closed, yet all facets could be read.
    BadEnding,
    /// Decimal commas were read as decimal points.
    DecimalComma,
    /// The file lies so far from its own origin that single-precision coordinates have lost shape.
    FarFromOrigin,
}

impl ReceiptCode {
    /// The code as it stands in JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::NotANumber => "not_a_number",
            Self::TrailingBytes => "trailing_bytes",
            Self::PolygonsSplit => "polygons_split",
            Self::PolygonsBent => "polygons_bent",
            Self::PolygonsCrossed => "polygons_crossed",
            Self::ElementsSkipped => "elements_skipped",
            Self::NameNotUtf8 => "name_not_utf8",
            Self::UnknownLine => "unknown_line",
            Self::ColourIgnored => "colour_ignored",
            Self::BadEnding => "bad_ending",
            Self::DecimalComma => "decimal_comma",
            Self::FarFromOrigin => "far_from_origin",
        }
    }
}
