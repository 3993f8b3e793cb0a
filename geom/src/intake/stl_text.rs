//! ASCII STL, read as words rather than lines: upper case, odd blanks, CR only, many facets on one line.

use std::borrow::Cow;

use rayon::prelude::*;

use super::polygon::{Shape, Splitter};
use super::text::{self, Commas, Tally, coordinate, is_blank};
use super::{Corners, PartName, ReadError, Receipt, ReceiptCode, Soup};

const FORMAT: &str = "ASCII STL";

/// Begins with `solid` or `facet`, and is text.
pub(super) fn looks_like(bytes: &[u8]) -> bool {
    let start = text::without_bom(bytes).trim_ascii_start();
    let word = text::token(text::head(start, 16));
    text::is_text(bytes) && (word.eq_ignore_ascii_case(b"solid") || word.eq_ignore_ascii_case(b"facet"))
}

/// Reads an ASCII STL.
pub(super) fn read(bytes: &[u8]) -> Result<Soup<'_>, ReadError> {
    let end = text::line_end_byte(bytes);
    // A line that begins with `facet` is between two facets whatever came before: a name ends with its line.
    let begins_facet = |start: usize| {
        let line = bytes[start..].iter().position(|&b| b == end || !is_blank(b)).unwrap_or(0);
        word_at(&bytes[start + line..], b"facet")
    };
    let read: Vec<Piece> = (text::pieces(bytes, end, begins_facet).into_par_iter())
        .map(|(start, piece)| {
            Reader { text: bytes, at: start, end: start + piece.len(), line: Line::default(), out: Piece::default() }
                .run()
        })
        .collect();

    let cut_or_bad = |fault: &Fault| {
        let line = text::line_at(bytes, fault.at.min(bytes.len().saturating_sub(1)));
        let found = text::token(&bytes[fault.at..]);
        if fault.at + found.len() < bytes.trim_ascii_end().len() {
            ReadError::BadText { format: FORMAT, line, expected: fault.expected, found: text::shown(found) }
        } else {
            ReadError::TextCutOff { format: FORMAT, line, inside: "in the middle of a facet or a word" }
        }
    };
    if let Some(fault) = read.iter().find_map(|piece| piece.fault.as_ref()) {
        return Err(cut_or_bad(fault));
    }
    join(bytes, read)
}

/// Puts the pieces together in order.
fn join<'a>(bytes: &'a [u8], read: Vec<Piece<'a>>) -> Result<Soup<'a>, ReadError> {
    let mut positions: Vec<[f64; 3]> = Vec::with_capacity(read.iter().map(|p| p.positions.len()).sum());
    let mut triangles: Vec<[u32; 3]> = Vec::with_capacity(read.iter().map(|p| p.triangles.len()).sum());
    let mut receipt = Receipt { format: FORMAT, ..Receipt::default() };
    let (mut left_out, mut split, mut bent, mut crossed) =
        (Tally::default(), Tally::default(), Tally::default(), Tally::default());
    let (mut names, mut loose_ends) = (Tally::default(), Tally::default());
    let mut commas = Commas::default();
    let mut parts: Vec<PartName> = Vec::new();
    let mut starts: Vec<usize> = Vec::new(); // first triangle of each part
    let mut open: Option<PartName> = None; // a solid whose first triangle has not come yet
    let mut inside = false;
    let mut begin = |at: usize, open: &mut Option<PartName>, parts: &mut Vec<PartName>| {
        // Facets before any `solid` make a part without a name.
        if let Some(name) = open.take().or_else(|| parts.is_empty().then(PartName::default)) {
            parts.push(name);
            starts.push(at);
        }
    };
    for piece in read {
        let first = triangles.len();
        if positions.len() + piece.positions.len() > u32::MAX as usize {
            return Err(ReadError::TooLarge { format: FORMAT });
        }
        let base = positions.len() as u32;
        let mut done = 0;
        for solid in piece.solids {
            if solid.triangle > done {
                begin(first + done, &mut open, &mut parts);
            }
            done = solid.triangle;
            match solid.name {
                Some(bytes) => {
                    if inside {
                        loose_ends.add(solid.at);
                    }
                    let (name, valid) = text::name(&bytes);
                    if !valid {
                        names.add(solid.at);
                    }
                    inside = true;
                    open = Some(PartName { name, material: String::new() });
                }
                None => inside = false,
            }
        }
        if piece.triangles.len() > done {
            begin(first + done, &mut open, &mut parts);
        }
        positions.extend(piece.positions);
        triangles.extend(piece.triangles.into_iter().map(|t| t.map(|v| v + base)));
        for (all, more) in [
            (&mut left_out, piece.left_out),
            (&mut split, piece.split),
            (&mut bent, piece.bent),
            (&mut crossed, piece.crossed),
        ] {
            all.join(more);
        }
        commas.join(piece.commas);
    }
    receipt.triangles_in_file = triangles.len() + left_out.count;
    if triangles.is_empty() {
        let why = if left_out.count > 0 { "no facet has finite coordinates" } else { "it has no facets" };
        return Err(ReadError::NoTriangles { format: FORMAT, why: why.into() });
    }
    let line = |tally: Tally| text::line_at(bytes, tally.first);
    receipt.note(ReceiptCode::NotANumber, left_out.count, || {
        format!(
            "{} triangles have a coordinate that is not a finite number and were left out (first at line {}); areas are \
             lower bounds",
            left_out.count,
            line(left_out)
        )
    });
    Shape::note(&mut receipt, [split, bent, crossed].map(|tally| (tally.count, line(tally))));
    receipt.note(ReceiptCode::NameNotUtf8, names.count, || {
        format!("{} names are not UTF-8 (first at line {}); shown with replacement marks", names.count, line(names))
    });
    receipt.note(ReceiptCode::BadEnding, loose_ends.count, || {
        format!("{} solids begin before the last one was closed (first at line {})", loose_ends.count, line(loose_ends))
    });
    receipt.note(ReceiptCode::BadEnding, usize::from(inside), || {
        "the last solid is not closed (no \"endsolid\"): the file may have lost its end between two facets; ask for the \
         triangle count"
            .into()
    });
    commas.settle(bytes, b"vertex", &mut receipt)?;

    let mut part_of = Vec::new();
    if parts.len() > 1 {
        part_of.reserve_exact(triangles.len());
        starts.push(triangles.len());
        for (part, run) in (0_u32..).zip(starts.windows(2)) {
            part_of.resize(run[1], part);
        }
    }
    Ok(Soup { corners: Corners::Indexed { positions, triangles }, part_of, parts, receipt })
}

/// What a piece of text holds.
#[derive(Default)]
struct Piece<'a> {
    positions: Vec<[f64; 3]>,
    triangles: Vec<[u32; 3]>,
    solids: Vec<Solid<'a>>,
    left_out: Tally,
    split: Tally,
    bent: Tally,
    crossed: Tally,
    commas: Commas,
    fault: Option<Fault>,
}

/// `solid` with its name, or `endsolid` without one, before a triangle of the piece.
struct Solid<'a> {
    triangle: usize,
    name: Option<Cow<'a, [u8]>>,
    at: usize,
}

struct Fault {
    at: usize,
    expected: &'static str,
}

/// The text from `at` on, without reading past `end`.
struct Reader<'a> {
    text: &'a [u8],
    at: usize,
    end: usize,
    line: Line,
    out: Piece<'a>,
}

/// The line looked at last: where it ends, and where its last `facet` begins. Kept because a file may be one line.
#[derive(Default)]
struct Line {
    end: usize,
    last_facet: usize,
}

fn word_at(text: &[u8], word: &[u8]) -> bool {
    text.len() >= word.len()
        && (&text[..word.len()] == word || text[..word.len()].eq_ignore_ascii_case(word))
        && text.get(word.len()).is_none_or(|&b| is_blank(b))
}

impl<'a> Reader<'a> {
    fn run(mut self) -> Piece<'a> {
        if self.at == 0 {
            self.at = self.text.len() - text::without_bom(self.text).len();
        }
        let mut splitter = Splitter::default();
        let mut ring: Vec<u32> = Vec::new();
        if let Err(fault) = self.solids(&mut splitter, &mut ring) {
            self.out.fault = Some(fault);
        }
        self.out
    }

    fn rest(&self) -> &'a [u8] {
        &self.text[self.at..self.end]
    }

    #[inline]
    fn skip_blanks(&mut self) {
        while self.at < self.end && is_blank(self.text[self.at]) {
            self.at += 1;
        }
    }

    /// Takes the next word if it is this one.
    #[inline]
    fn take(&mut self, word: &[u8]) -> bool {
        self.skip_blanks();
        let found = word_at(self.rest(), word);
        if found {
            self.at += word.len();
        }
        found
    }

    #[inline]
    fn expect(&mut self, word: &[u8], expected: &'static str) -> Result<(), Fault> {
        if self.take(word) { Ok(()) } else { Err(Fault { at: self.at, expected }) }
    }

    fn solids(&mut self, splitter: &mut Splitter, ring: &mut Vec<u32>) -> Result<(), Fault> {
        loop {
            if self.take(b"facet") {
                self.facet(splitter, ring)?;
                continue;
            }
            let (at, triangle) = (self.at, self.out.triangles.len());
            if self.take(b"solid") {
                let name = self.name(b"facet");
                self.out.solids.push(Solid { triangle, name: Some(Cow::Borrowed(name)), at });
            } else if self.take(b"endsolid") {
                self.name(b"solid");
                self.out.solids.push(Solid { triangle, name: None, at });
            } else if self.at == self.end {
                return Ok(());
            } else {
                return Err(Fault { at, expected: "\"facet\", \"solid\" or \"endsolid\"" });
            }
        }
    }

    /// The rest of the line as a name. Where facets follow on the same line it ends before the word `next`.
    fn name(&mut self, next: &[u8]) -> &'a [u8] {
        let rest = self.rest();
        if self.at >= self.line.end {
            let len = memchr::memchr2(b'\n', b'\r', rest).unwrap_or(rest.len());
            let last_facet = rest[..len].windows(5).rposition(|w| w.eq_ignore_ascii_case(b"facet"));
            self.line = Line { end: self.at + len, last_facet: last_facet.map_or(0, |k| self.at + k) };
        }
        let line = &rest[..self.line.end.saturating_sub(self.at)];
        let mut cut = line.len();
        let mut from = 0;
        while self.at + from < self.line.last_facet {
            let Some(blank) = line[from..].iter().position(|&b| is_blank(b)) else { break };
            from += blank + 1;
            let word = &line[from..];
            let begins = word_at(word, next) && (next != b"facet" || word_at(word[5..].trim_ascii_start(), b"normal"));
            if begins && self.at + from <= self.line.last_facet {
                cut = from;
                break;
            }
        }
        self.at += cut;
        &line[..cut]
    }

    fn facet(&mut self, splitter: &mut Splitter, ring: &mut Vec<u32>) -> Result<(), Fault> {
        let start = self.at;
        // The stored direction is not used, and is often wrong: pass over it, whatever it is.
        if self.take(b"normal") {
            for _ in 0..3 {
                self.skip_blanks();
                if word_at(self.rest(), b"outer") {
                    break;
                }
                self.at += text::token(self.rest()).len();
            }
        }
        self.expect(b"outer", "\"outer loop\"")?;
        self.expect(b"loop", "\"loop\"")?;
        let base = self.out.positions.len();
        let mut finite = true;
        while self.take(b"vertex") {
            let mut point = [0.0; 3];
            for value in &mut point {
                self.skip_blanks();
                let expected = "a number (three after \"vertex\")";
                let Some((number, len)) = coordinate(self.rest(), &mut self.out.commas) else {
                    return Err(Fault { at: self.at, expected });
                };
                self.at += len;
                *value = number;
                finite &= number.is_finite();
            }
            self.out.positions.push(point);
        }
        let count = self.out.positions.len() - base;
        if count < 3 {
            self.skip_blanks();
            return Err(Fault { at: self.at, expected: "\"vertex\" (a facet has three)" });
        }
        self.expect(b"endloop", "\"endloop\"")?;
        self.expect(b"endfacet", "\"endfacet\"")?;
        if !finite {
            self.out.positions.truncate(base);
            self.out.left_out.join(Tally { count: count - 2, first: start });
            return Ok(());
        }
        // A piece of text has fewer corners than bytes, and one of more than 2^32 bytes is refused when joined.
        let base = base as u32;
        if count == 3 {
            self.out.triangles.push([base, base + 1, base + 2]);
        } else {
            ring.clear();
            ring.extend(base..base + count as u32);
            let shape = splitter.split(ring, &self.out.positions, &mut self.out.triangles);
            shape.tally(start, &mut self.out.split, &mut self.out.bent, &mut self.out.crossed);
        }
        Ok(())
    }
}
