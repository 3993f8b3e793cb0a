//! Why a file was refused: what, where, and what to ask the designer for.

use super::FileKind;

/// A file that cannot be read in full. Each message stands alone: what was found, at which byte or line, what to do next.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// Nothing in it.
    #[error("the file is empty (0 bytes): the export or the download failed; ask the designer to send it again")]
    Empty,
    /// Neither STL nor OBJ.
    #[error("this is neither an STL nor an OBJ file (it begins {start}): ask the designer for a binary STL or an OBJ")]
    NotAModel {
        /// The first bytes, escaped.
        start: String,
    },
    /// Text in two-byte characters.
    #[error("the text is stored in UTF-16: ask the designer to export plain text (UTF-8), or a binary STL")]
    Utf16,
    /// Said to be of one kind, is not.
    #[error("this is not {} file (it begins {start}): rename it if it is of another kind, or ask the designer for a new export", kind.with_article())]
    WrongKind {
        /// The kind that was asked for.
        kind: FileKind,
        /// The first bytes, escaped.
        start: String,
    },
    /// A binary STL shorter than its header.
    #[error(
        "the file ends after {bytes} bytes, inside the 84-byte header of a binary STL: ask the designer to send it again"
    )]
    StlHeaderCut {
        /// Length of the file.
        bytes: usize,
    },
    /// A binary STL that ends inside a triangle.
    #[error(
        "binary STL cut off inside triangle {triangle} of {declared}, at byte {bytes} of {expected}: the export or the \
         download stopped early; ask the designer to send the file again"
    )]
    StlCutOff {
        /// The unfinished triangle, counted from 1.
        triangle: u64,
        /// The count in the header.
        declared: u64,
        /// Length of the file.
        bytes: u64,
        /// Length that the count asks for.
        expected: u64,
    },
    /// A binary STL with fewer triangles than its count, ending cleanly between two.
    #[error(
        "binary STL says {declared} triangles (bytes 80 to 83) but ends at byte {bytes}, after exactly {whole}: either the \
         count is wrong or the end is missing; ask the designer to export again and to tell you the triangle count"
    )]
    StlCountTooHigh {
        /// The count in the header.
        declared: u64,
        /// Whole triangles in the file.
        whole: u64,
        /// Length of the file.
        bytes: u64,
    },
    /// A binary STL with more triangles than its count.
    #[error(
        "binary STL says {declared} triangles (bytes 80 to 83) but its {bytes} bytes hold {whole}: {extra} would be lost; \
         ask the designer to export again and to tell you the triangle count"
    )]
    StlCountTooLow {
        /// The count in the header.
        declared: u64,
        /// Whole triangles in the file.
        whole: u64,
        /// Those beyond the count.
        extra: u64,
        /// Length of the file.
        bytes: u64,
    },
    /// Sound as a file, but without one usable triangle.
    #[error("{format} without a usable triangle: {why}; ask the designer for an export of surfaces as triangles")]
    NoTriangles {
        /// Kind of file.
        format: &'static str,
        /// What it holds instead.
        why: String,
    },
    /// Text that ends too early.
    #[error(
        "{format} cut off at line {line}, {inside}: the export or the download stopped early; ask the designer to send the \
         file again"
    )]
    TextCutOff {
        /// Kind of file.
        format: &'static str,
        /// Last line, counted from 1.
        line: usize,
        /// What was not finished.
        inside: &'static str,
    },
    /// Text that is not what its place asks for.
    #[error(
        "{format}, line {line}: expected {expected}, found {found}: ask the designer to export again, best as binary STL"
    )]
    BadText {
        /// Kind of file.
        format: &'static str,
        /// Line, counted from 1.
        line: usize,
        /// What belongs there.
        expected: &'static str,
        /// What stands there, escaped.
        found: String,
    },
    /// A face that points at a vertex that the file does not have.
    #[error(
        "OBJ, line {line}: a face uses vertex {index}, but {have}: the file is damaged or cut short; ask the designer to \
         export again"
    )]
    BadIndex {
        /// Line, counted from 1.
        line: usize,
        /// The index as written.
        index: i64,
        /// What there is.
        have: String,
    },
    /// Numbers with commas that can be read in two ways.
    #[error(
        "{format}, line {line}: {found} can be read with the comma as decimal mark or as thousands mark: ask the designer \
         to export with decimal points"
    )]
    AmbiguousComma {
        /// Kind of file.
        format: &'static str,
        /// Line, counted from 1.
        line: usize,
        /// What stands there.
        found: String,
    },
    /// More triangles or vertices than 32-bit indices can count.
    #[error(
        "{format} with more than {} vertices or triangles: ask the designer for a coarser export or one in pieces",
        u32::MAX
    )]
    TooLarge {
        /// Kind of file.
        format: &'static str,
    },
}
