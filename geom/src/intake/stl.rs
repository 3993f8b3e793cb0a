//! Binary STL, and the choice between binary and ASCII.
//!
//! 80 bytes of header, a little-endian count, 50 bytes a triangle: stored direction (not used), three corners of three
//! 32-bit floats, two bytes of attribute. Many headers of binary files begin with `solid`, so the length decides first.

use rayon::prelude::*;

use super::{Corners, FileKind, PartName, ReadError, Receipt, ReceiptCode, Soup, stl_text, text};

const HEADER: usize = 84;
const RECORD: usize = 50;

/// Records looked at as one; fixed, so that results do not depend on threads.
const BLOCK: usize = 1 << 14;

/// Reads a binary or ASCII STL. A binary one is not copied: the result borrows the file's bytes.
///
/// Several solids of an ASCII file are several parts. Stored directions are not used: the order of the corners says
/// which side is out. Triangles with a coordinate that is not a finite number are left out and counted.
///
/// # Errors
/// [`ReadError`] when the file is empty, cut off, has a count that does not fit its length, or cannot be understood.
pub fn read_stl(bytes: &[u8]) -> Result<Soup<'_>, ReadError> {
    if bytes.is_empty() {
        Err(ReadError::Empty)
    } else if length_fits(bytes) {
        read_binary(bytes)
    } else if text::is_utf16(bytes) {
        Err(ReadError::Utf16)
    } else if stl_text::looks_like(bytes) {
        stl_text::read(bytes)
    } else if text::is_text(bytes) {
        Err(ReadError::WrongKind { kind: FileKind::Stl, start: text::shown(text::head(bytes, 16)) })
    } else {
        read_binary(bytes)
    }
}

/// The count in the header fits the length to the byte: nothing but a binary STL does that.
pub(super) fn length_fits(bytes: &[u8]) -> bool {
    declared(bytes).is_some_and(|n| n > 0 && HEADER as u64 + RECORD as u64 * n == bytes.len() as u64)
}

fn declared(bytes: &[u8]) -> Option<u64> {
    bytes.get(80..).and_then(<[u8]>::first_chunk).map(|&count| u64::from(u32::from_le_bytes(count)))
}

/// The corners of a record, in file units.
pub(super) fn record_corners(record: &[u8; RECORD]) -> [[f64; 3]; 3] {
    let (numbers, _) = record[12..48].as_chunks::<4>();
    let at = |k: usize| f64::from(f32::from_le_bytes(numbers[k]));
    [[at(0), at(1), at(2)], [at(3), at(4), at(5)], [at(6), at(7), at(8)]]
}

fn read_binary(bytes: &[u8]) -> Result<Soup<'_>, ReadError> {
    let Some(declared) = declared(bytes) else { return Err(ReadError::StlHeaderCut { bytes: bytes.len() }) };
    let body = &bytes[HEADER..];
    let length = bytes.len() as u64;
    let expected = HEADER as u64 + RECORD as u64 * declared;
    let whole = (body.len() / RECORD) as u64;
    if whole < declared {
        return Err(if body.len().is_multiple_of(RECORD) && whole > 0 {
            ReadError::StlCountTooHigh { declared, whole, bytes: length }
        } else {
            ReadError::StlCutOff { triangle: whole + 1, declared, bytes: length, expected }
        });
    }
    // `declared <= whole`, which fits a usize.
    let (records, rest) = body.split_at(declared as usize * RECORD);
    let padding = rest.iter().all(|&b| b == 0);
    if rest.len() >= RECORD && !padding && (rest.len().is_multiple_of(RECORD) || declared == 0) {
        return Err(ReadError::StlCountTooLow { declared, whole, extra: whole - declared, bytes: length });
    }

    let mut receipt = Receipt { format: "binary STL", triangles_in_file: declared as usize, ..Receipt::default() };
    let found = scan(records);
    if found.left_out.len() as u64 == declared {
        let why = if declared == 0 { "its count is 0" } else { "no triangle has finite coordinates" };
        return Err(ReadError::NoTriangles { format: receipt.format, why: why.into() });
    }
    if let Some(&first) = found.left_out.first() {
        receipt.note(ReceiptCode::NotANumber, found.left_out.len(), || {
            format!(
                "{} triangles have a coordinate that is not a finite number and were left out (first: triangle {}, byte \
                 {}); areas are lower bounds",
                found.left_out.len(),
                u64::from(first) + 1,
                HEADER as u64 + RECORD as u64 * u64::from(first)
            )
        });
    }
    receipt.note(ReceiptCode::TrailingBytes, rest.len(), || {
        format!(
            "{} {}bytes after the last triangle were passed over (from byte {expected})",
            rest.len(),
            if padding { "zero " } else { "" }
        )
    });
    let header = bytes[..80].windows(6).any(|w| w == b"COLOR=");
    receipt.note(ReceiptCode::ColourIgnored, found.coloured.max(usize::from(header)), || {
        match (found.coloured, header) {
            (0, _) => "a colour in the header was not used".into(),
            (n, false) => format!("attribute bytes (colours) on {n} triangles were not used"),
            (n, true) => format!("a colour in the header and attribute bytes on {n} triangles were not used"),
        }
    });
    Ok(Soup {
        corners: Corners::StlRecords { records, left_out: found.left_out },
        part_of: Vec::new(),
        parts: vec![PartName::default()],
        receipt,
    })
}

#[derive(Default)]
struct Found {
    left_out: Vec<u32>,
    coloured: usize,
}

/// Looks through all records once: those with a number that is not finite, and how many carry attribute bytes.
fn scan(records: &[u8]) -> Found {
    let (records, _) = records.as_chunks::<RECORD>();
    let blocks: Vec<Found> = records
        .par_chunks(BLOCK)
        .enumerate()
        .map(|(block, records)| {
            let mut odd = 0;
            let mut coloured = 0;
            for record in records {
                odd |= odd_bits(record);
                coloured += usize::from(record[48] | record[49] != 0);
            }
            let left_out = if odd == 0 {
                Vec::new()
            } else {
                let odd_ones = records.iter().enumerate().filter(|(_, record)| odd_bits(record) != 0);
                odd_ones.map(|(k, _)| (block * BLOCK + k) as u32).collect() // the count of a file is 32 bits wide
            };
            Found { left_out, coloured }
        })
        .collect();
    blocks.into_iter().fold(Found::default(), |mut all, block| {
        all.left_out.extend(block.left_out);
        all.coloured += block.coloured;
        all
    })
}

/// Not zero if a corner of the record has an exponent of ones only: NaN or infinite. No branch, so that it is one pass
/// at the speed of memory.
#[inline]
fn odd_bits(record: &[u8; RECORD]) -> u32 {
    let (numbers, _) = record[12..48].as_chunks::<4>();
    numbers.iter().fold(0, |odd, &n| odd | ((u32::from_le_bytes(n) & 0x7fff_ffff) + 0x0080_0000)) >> 31
}
