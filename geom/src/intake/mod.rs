//! Bytes to a [`Soup`]: triangles as the file has them, named parts, and a receipt of all that was changed or left out.
//!
//! A file is read in full with a receipt, or refused with one message. Nothing is dropped silently and no content can
//! bring a panic. Text is cut into fixed pieces that are read in parallel and joined in order, so a result does not
//! depend on the number of threads. Time and memory are linear in the length of the file.

mod error;
mod obj;
mod polygon;
mod soup;
mod stl;
mod stl_text;
mod text;

pub use error::ReadError;
pub use obj::read_obj;
pub use soup::{AbsentPart, Corners, PartName, Receipt, ReceiptCode, ReceiptLine, Soup};
pub use stl::read_stl;

/// Kinds of file that can be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FileKind {
    /// Binary or ASCII STL.
    Stl,
    /// OBJ.
    Obj,
}

impl FileKind {
    /// The kind a file name's ending stands for, any case: `FileKind::from_extension("STL")`.
    #[must_use]
    pub fn from_extension(extension: &str) -> Option<Self> {
        [("stl", Self::Stl), ("obj", Self::Obj)]
            .into_iter()
            .find_map(|(name, kind)| extension.eq_ignore_ascii_case(name).then_some(kind))
    }

    pub(crate) fn with_article(self) -> &'static str {
        match self {
            Self::Stl => "an STL",
            Self::Obj => "an OBJ",
        }
    }
}

/// Reads an STL or OBJ file; without a `kind`, the content decides.
///
/// # Errors
/// [`ReadError`], one message, when the file cannot be read in full.
///
/// ```
/// use cragskin_geom::intake::{ReceiptCode, read};
/// let roof = read(b"v 0 0 0\nv 4 0 0\nv 4 3 0\nv 0 3 0\nf 1 2 3 4\n", None)?;
/// assert_eq!((roof.receipt.format, roof.triangles().count()), ("OBJ", 2));
/// assert_eq!(roof.receipt.lines[0].code, ReceiptCode::PolygonsSplit);
/// # Ok::<(), cragskin_geom::intake::ReadError>(())
/// ```
pub fn read(bytes: &[u8], kind: Option<FileKind>) -> Result<Soup<'_>, ReadError> {
    match kind.or_else(|| sniff(bytes)) {
        Some(FileKind::Stl) => read_stl(bytes),
        Some(FileKind::Obj) => read_obj(bytes),
        None if bytes.is_empty() => Err(ReadError::Empty),
        None => Err(ReadError::NotAModel { start: text::shown(text::head(bytes, 16)) }),
    }
}

/// The kind of file by its content. A length that fits a binary STL decides before any word at its start.
fn sniff(bytes: &[u8]) -> Option<FileKind> {
    if bytes.is_empty() {
        None
    } else if stl::length_fits(bytes) || stl_text::looks_like(bytes) {
        Some(FileKind::Stl)
    } else if obj::looks_like(bytes) {
        Some(FileKind::Obj)
    } else if text::is_text(bytes) && !text::is_utf16(bytes) {
        None
    } else {
        // Neither fits, and it is no text: a damaged binary STL gets a better message from its own reader.
        (bytes.len() > 80 || text::is_utf16(bytes)).then_some(FileKind::Stl)
    }
}
