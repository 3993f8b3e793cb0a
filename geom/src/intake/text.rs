//! What both text formats share: numbers, tokens, line numbers, names, pieces for reading in parallel.

use super::{ReadError, Receipt, ReceiptCode};

/// Text is cut near every multiple of this many bytes: a fixed size, so that results do not depend on threads.
pub(super) const PIECE: usize = 1 << 20;

/// Names longer than this are cut when kept, so that a hostile file cannot multiply a long one.
const NAME_MAX: usize = 200;

/// Beyond single precision a coordinate is no size of a thing; treating it as not a number also keeps every product of
/// three coordinates finite.
const COORDINATE_MAX: f64 = f32::MAX as f64;

pub(super) fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | b'\r' | b'\n' | 0x0b | 0x0c)
}

pub(super) fn head(bytes: &[u8], len: usize) -> &[u8] {
    &bytes[..bytes.len().min(len)]
}

/// No zero byte near the start. A binary STL has one within 84 bytes unless it counts more than 16 million triangles.
pub(super) fn is_text(bytes: &[u8]) -> bool {
    !head(bytes, 512).contains(&0)
}

pub(super) fn is_utf16(bytes: &[u8]) -> bool {
    bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff])
}

/// Without the byte-order mark of UTF-8.
pub(super) fn without_bom(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes)
}

/// For messages: quoted, control characters escaped, short.
pub(super) fn shown(bytes: &[u8]) -> String {
    let cut = head(bytes, 40);
    let dots = if cut.len() < bytes.len() { "..." } else { "" };
    format!("\"{}{dots}\"", String::from_utf8_lossy(cut).escape_debug())
}

/// A name as kept, and whether it was valid UTF-8.
pub(super) fn name(bytes: &[u8]) -> (String, bool) {
    let bytes = bytes.trim_ascii();
    let mut cut = bytes.len().min(NAME_MAX);
    while cut < bytes.len() && cut > NAME_MAX - 4 && bytes[cut] & 0xc0 == 0x80 {
        cut -= 1; // not inside a character
    }
    let text = String::from_utf8_lossy(&bytes[..cut]);
    let valid = matches!(text, std::borrow::Cow::Borrowed(_));
    (text.into_owned(), valid)
}

/// The line, counted from 1, that holds a byte. Lines end with LF or CRLF, or with CR in a file that has no LF.
pub(super) fn line_at(bytes: &[u8], offset: usize) -> usize {
    let end = line_end_byte(bytes);
    memchr::memchr_iter(end, head(bytes, offset)).count() + 1
}

pub(super) fn line_end_byte(bytes: &[u8]) -> u8 {
    if memchr::memchr(b'\n', bytes).is_some() { b'\n' } else { b'\r' }
}

/// The bytes up to the next blank.
pub(super) fn token(bytes: &[u8]) -> &[u8] {
    &bytes[..bytes.iter().position(|&b| is_blank(b)).unwrap_or(bytes.len())]
}

/// A coordinate: its value, NaN when the file says that it is not a finite number; and the bytes it took.
#[inline]
pub(super) fn coordinate(text: &[u8], commas: &mut Commas) -> Option<(f64, usize)> {
    match fast_float2::parse_partial::<f64, _>(text) {
        Ok((value, len)) if text.get(len).is_none_or(|&b| is_blank(b)) => {
            Some((if value.abs() <= COORDINATE_MAX { value } else { f64::NAN }, len))
        }
        _ => odd_coordinate(token(text), commas),
    }
}

/// Decimal commas, and what some exporters write for numbers that are none: `-nan(ind)`, `1.#QNAN`, `-1.#IND00`.
#[cold]
fn odd_coordinate(token: &[u8], commas: &mut Commas) -> Option<(f64, usize)> {
    let unsigned = token.strip_prefix(b"-").or(token.strip_prefix(b"+")).unwrap_or(token).to_ascii_lowercase();
    if [&b"nan("[..], b"1.#qnan", b"1.#snan", b"1.#ind", b"1.#inf"].iter().any(|odd| unsigned.starts_with(odd)) {
        return Some((f64::NAN, token.len()));
    }
    let comma = unsigned.iter().position(|&b| b == b',')?;
    let fraction = unsigned[comma + 1..].iter().take_while(|b| b.is_ascii_digit()).count();
    // A mark between digits and nothing else odd: "1,5" and "1,5e3", not "1," or ",5" or "1,5.2".
    if comma == 0 || fraction == 0 || !unsigned[..comma].iter().all(u8::is_ascii_digit) {
        return None;
    }
    let mut point = token.to_vec();
    for byte in &mut point {
        if *byte == b',' {
            *byte = b'.';
        }
    }
    let value: f64 = fast_float2::parse(&point).ok()?;
    commas.count += 1;
    // "1,250" may be a thousand and a quarter; "0,250", "1250,000" and "1,25" cannot.
    commas.certain |= fraction != 3 || comma > 3 || unsigned[0] == b'0' || unsigned.len() > comma + 4;
    Some((if value.abs() <= COORDINATE_MAX { value } else { f64::NAN }, token.len()))
}

/// Decimal commas met so far.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Commas {
    count: usize,
    certain: bool,
}

impl Commas {
    pub(super) fn join(&mut self, other: Self) {
        self.count += other.count;
        self.certain |= other.certain;
    }

    /// Settles the reading of commas for a whole file: a decimal mark, if no other number on the lines that begin with
    /// `keyword` has a point and at least one of them cannot be a thousands mark.
    pub(super) fn settle(self, bytes: &[u8], keyword: &[u8], receipt: &mut Receipt) -> Result<(), ReadError> {
        if self.count == 0 {
            return Ok(());
        }
        let end = line_end_byte(bytes);
        let numbers = |line: &[u8]| -> Option<Vec<u8>> {
            let line = line.trim_ascii();
            let (word, rest) = line.split_at_checked(keyword.len())?;
            let rest = rest.split(|&b| b == b'#').next().unwrap_or(rest);
            (word.eq_ignore_ascii_case(keyword) && rest.first().is_some_and(|&b| is_blank(b))).then(|| rest.to_vec())
        };
        let mut comma_at = None;
        let mut point = false;
        for (k, line) in bytes.split(|&b| b == end).enumerate() {
            if let Some(rest) = numbers(line) {
                point |= rest.contains(&b'.');
                if comma_at.is_none() && rest.contains(&b',') {
                    comma_at = Some((k + 1, shown(rest.trim_ascii())));
                }
            }
        }
        let (line, found) = comma_at.unwrap_or((1, String::new()));
        if point || !self.certain {
            return Err(ReadError::AmbiguousComma { format: receipt.format, line, found });
        }
        receipt.note(ReceiptCode::DecimalComma, self.count, || {
            format!(
                "{} numbers have a decimal comma (first on line {line}: {found}); read as decimal points",
                self.count
            )
        });
        Ok(())
    }
}

/// Cuts text into pieces near every multiple of [`PIECE`]; `good(start)` says whether a line start may begin a piece.
pub(super) fn pieces(bytes: &[u8], end: u8, good: impl Fn(usize) -> bool) -> Vec<(usize, &[u8])> {
    let mut cuts = vec![0];
    let mut from = PIECE;
    while from < bytes.len() {
        let Some(len) = memchr::memchr(end, &bytes[from..]) else { break };
        let start = from + len + 1;
        if start < bytes.len() && good(start) {
            cuts.push(start);
            from = start + PIECE;
        } else {
            from = start;
        }
    }
    cuts.push(bytes.len());
    cuts.windows(2).map(|w| (w[0], &bytes[w[0]..w[1]])).collect()
}

/// How often something happened, and the byte of the first time.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Tally {
    pub(super) count: usize,
    pub(super) first: usize,
}

impl Tally {
    pub(super) fn add(&mut self, offset: usize) {
        self.join(Self { count: 1, first: offset });
    }

    /// Joins the tally of a later piece.
    pub(super) fn join(&mut self, later: Self) {
        if self.count == 0 {
            self.first = later.first;
        }
        self.count += later.count;
    }
}
