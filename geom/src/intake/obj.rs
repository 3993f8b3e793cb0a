//! OBJ: `v` and `f` lines, with objects, groups and materials as parts.
//!
//! Pieces of text are read in parallel; what depends on earlier lines (negative indices, the part in force) is settled
//! when the pieces are joined in order.
//!
//! A part is a distinct pair of a name and a material. `o`, `g` and `usemtl` each hold until the next of their kind. The
//! name is the object's; where a group is in force that says more, the group's follows after ` / `.

use std::borrow::Cow;
use std::collections::HashMap;

use rayon::prelude::*;

use super::polygon::{Shape, Splitter};
use super::text::{self, Commas, Tally, coordinate, is_blank};
use super::{Corners, FileKind, PartName, ReadError, Receipt, ReceiptCode, Soup};

const FORMAT: &str = "OBJ";

/// Keywords with no bearing on the surface: directions, texture coordinates, display, attributes.
const KNOWN: [&str; 27] = [
    "vt",
    "vn",
    "vp",
    "s",
    "mg",
    "mtllib",
    "maplib",
    "usemap",
    "bevel",
    "c_interp",
    "d_interp",
    "lod",
    "shadow_obj",
    "trace_obj",
    "ctech",
    "stech",
    "cstype",
    "deg",
    "bmat",
    "step",
    "parm",
    "trim",
    "hole",
    "scrv",
    "sp",
    "end",
    "con",
];

/// Elements that are passed over, by keyword, and what they are called.
const SKIPPED: [(&str, &str); 5] =
    [("p", "points"), ("l", "lines"), ("curv", "curves"), ("curv2", "trimming curves"), ("surf", "curved surfaces")];
const SHORT_FACES: usize = SKIPPED.len();

/// A line near the start begins with a keyword of the format and a number.
pub(super) fn looks_like(bytes: &[u8]) -> bool {
    let end = text::line_end_byte(bytes);
    text::is_text(bytes)
        && text::head(text::without_bom(bytes), 1 << 18).split(|&b| b == end).any(|line| {
            let line = line.trim_ascii_start();
            let rest = line.strip_prefix(b"v").or(line.strip_prefix(b"f")).unwrap_or_default();
            rest.first().is_some_and(|&b| is_blank(b))
                && rest.trim_ascii_start().first().is_some_and(|b| matches!(b, b'0'..=b'9' | b'-' | b'+' | b'.'))
        })
}

/// Reads an OBJ file.
///
/// Polygons of any size are split into triangles that lie within them. Parts are the distinct pairs of a name (object,
/// then group) and a material that have faces. Material files are not needed. Faces with a corner that is not a finite
/// number are left out and counted; so are points, lines and curves.
///
/// # Errors
/// [`ReadError`] when the file is empty, has no face, a line that cannot be understood, or a face that uses a vertex that
/// the file does not have.
pub fn read_obj(bytes: &[u8]) -> Result<Soup<'_>, ReadError> {
    if bytes.is_empty() {
        return Err(ReadError::Empty);
    }
    if text::is_utf16(bytes) {
        return Err(ReadError::Utf16);
    }
    if !text::is_text(bytes) {
        return Err(ReadError::WrongKind { kind: FileKind::Obj, start: text::shown(text::head(bytes, 16)) });
    }
    let end = text::line_end_byte(bytes);
    let pieces = text::pieces(bytes, end, |start| !continues(&bytes[..start]));
    let read: Vec<Piece> = pieces.par_iter().map(|&(start, piece)| read_piece(start, piece, end)).collect();
    if let Some(fault) = read.iter().find_map(|piece| piece.fault.as_ref()) {
        let line = text::line_at(bytes, fault.at);
        return Err(ReadError::BadText { format: FORMAT, line, expected: fault.expected, found: fault.found.clone() });
    }
    join(bytes, &pieces, read, end)
}

/// Whether text up to and with a line end asks for the next line to be added.
fn continues(text: &[u8]) -> bool {
    let line = text.strip_suffix(b"\n").unwrap_or(text);
    line.strip_suffix(b"\r").unwrap_or(line).ends_with(b"\\")
}

/// What a piece of text holds.
#[derive(Default)]
struct Piece<'a> {
    positions: Vec<[f64; 3]>,
    /// Corners of all faces, one after the other. At or above zero: a vertex of the file, counted from 0. Below: counted
    /// back, so a vertex of the piece (or, below zero, of an earlier one) less [`RELATIVE`].
    corners: Vec<i64>,
    /// Where each face's corners end.
    face_ends: Vec<u32>,
    names: Vec<Named<'a>>,
    not_finite: usize,
    skipped: [Tally; SHORT_FACES + 1],
    unknown: Tally,
    extra: Tally,
    commas: Commas,
    fault: Option<Fault>,
}

/// Room for counting back past the start of a piece.
const RELATIVE: i64 = 1 << 40;

/// A name that holds from a face of the piece on.
struct Named<'a> {
    face: usize,
    kind: Kind,
    name: Cow<'a, [u8]>,
    at: usize,
}

#[derive(Clone, Copy)]
enum Kind {
    Object,
    Group,
    Material,
}

struct Fault {
    at: usize,
    expected: &'static str,
    found: String,
}

fn read_piece(start: usize, piece: &[u8], end: u8) -> Piece<'_> {
    let mut out = Piece::default();
    if let Err(fault) = lines(start, piece, end, |at, line| out.line(at, line)) {
        out.fault = Some(fault);
    }
    out
}

/// Every line with its byte in the file, those that `\` continues joined into one.
fn lines<'a>(
    start: usize,
    piece: &'a [u8],
    end: u8,
    mut each: impl FnMut(usize, Cow<'a, [u8]>) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let mut from = if start == 0 { piece.len() - text::without_bom(piece).len() } else { 0 };
    while from < piece.len() {
        let at = start + from;
        let next = |from: usize| memchr::memchr(end, &piece[from..]).map_or(piece.len(), |len| from + len + 1);
        let mut to = next(from);
        if !continues(&piece[from..to]) {
            each(at, Cow::Borrowed(&piece[from..to]))?;
        } else {
            let mut joined = Vec::new();
            loop {
                let goes_on = continues(&piece[from..to]);
                let line = piece[from..to].trim_ascii_end();
                joined.extend_from_slice(line.strip_suffix(b"\\").filter(|_| goes_on).unwrap_or(line));
                joined.push(b' ');
                if !goes_on || to == piece.len() {
                    break;
                }
                (from, to) = (to, next(to));
            }
            each(at, Cow::Owned(joined))?;
        }
        from = to;
    }
    Ok(())
}

impl<'a> Piece<'a> {
    fn line(&mut self, at: usize, line: Cow<'a, [u8]>) -> Result<(), Fault> {
        let text = line.trim_ascii_start();
        let word = text::token(text);
        match word {
            b"v" => self.vertex(at, &text[1..]),
            b"f" | b"fo" => self.face(at, &text[word.len()..]),
            b"" => Ok(()),
            b"o" => self.named(at, Kind::Object, line),
            b"g" => self.named(at, Kind::Group, line),
            b"usemtl" => self.named(at, Kind::Material, line),
            _ if word[0] == b'#' || KNOWN.iter().any(|known| known.as_bytes() == word) => Ok(()),
            _ => {
                let kind = SKIPPED.iter().position(|(keyword, _)| keyword.as_bytes() == word);
                kind.map_or(&mut self.unknown, |kind| &mut self.skipped[kind]).add(at);
                Ok(())
            }
        }
    }

    fn vertex(&mut self, at: usize, mut text: &[u8]) -> Result<(), Fault> {
        let mut point = [0.0; 3];
        for value in &mut point {
            text = text.trim_ascii_start();
            let Some((number, len)) = coordinate(text, &mut self.commas) else {
                let expected = "three numbers after \"v\"";
                return Err(Fault { at, expected, found: text::shown(text::token(text)) });
            };
            *value = number;
            text = &text[len..];
        }
        if text.trim_ascii_start().first().is_some_and(|&b| b != b'#') {
            self.extra.add(at);
        }
        if !point.iter().all(|x| x.is_finite()) {
            point = [f64::NAN; 3];
            self.not_finite += 1;
        }
        self.positions.push(point);
        Ok(())
    }

    fn face(&mut self, at: usize, mut text: &[u8]) -> Result<(), Fault> {
        let first = self.corners.len();
        loop {
            text = text.trim_ascii_start();
            if text.first().is_none_or(|&b| b == b'#') {
                break;
            }
            let Some((index, len)) = corner(text) else {
                let expected = "a corner such as 7, 7/1, 7//1 or 7/1/1, counted from 1 or back from -1";
                return Err(Fault { at, expected, found: text::shown(text::token(text)) });
            };
            self.corners.push(if index > 0 { index - 1 } else { self.positions.len() as i64 + index - RELATIVE });
            text = &text[len..];
        }
        if self.corners.len() - first < 3 {
            self.corners.truncate(first);
            self.skipped[SHORT_FACES].add(at);
        } else {
            // A piece is 1 MiB, or one line that is longer: 2^32 corners are a line of 8 GiB.
            self.face_ends.push(u32::try_from(self.corners.len()).map_err(|_| Fault {
                at,
                expected: "fewer than 4 billion corners",
                found: "more".into(),
            })?);
        }
        Ok(())
    }

    fn named(&mut self, at: usize, kind: Kind, line: Cow<'a, [u8]>) -> Result<(), Fault> {
        let rest = |line: &[u8]| {
            let blanks = line.len() - line.trim_ascii_start().len();
            blanks + text::token(line.trim_ascii_start()).len()
        };
        let name = match line {
            Cow::Borrowed(line) => Cow::Borrowed(&line[rest(line)..]),
            Cow::Owned(line) => Cow::Owned(line[rest(&line)..].to_vec()),
        };
        self.names.push(Named { face: self.face_ends.len(), kind, name, at });
        Ok(())
    }
}

/// The vertex index of a corner, not zero, and the bytes the whole corner takes.
#[inline]
fn corner(text: &[u8]) -> Option<(i64, usize)> {
    let negative = text.first() == Some(&b'-');
    let mut len = usize::from(negative);
    let mut index: i64 = 0;
    while let Some(digit) = text.get(len).map(|b| b.wrapping_sub(b'0')).filter(|&d| d < 10) {
        // Far beyond any vertex: reported as out of range.
        index = (index * 10 + i64::from(digit)).min(RELATIVE / 2);
        len += 1;
    }
    while let Some(&b) = text.get(len).filter(|&&b| !is_blank(b)) {
        if !matches!(b, b'/' | b'0'..=b'9' | b'-') {
            return None;
        }
        len += 1;
    }
    (index != 0 && !text[usize::from(negative)..].starts_with(b"-"))
        .then_some((if negative { -index } else { index }, len))
}

/// Faces of a piece as triangles.
#[derive(Default)]
struct Faces {
    triangles: Vec<[u32; 3]>,
    part_of: Vec<u32>,
    left_out: Tally,
    split: Tally,
    bent: Tally,
    crossed: Tally,
}

fn join<'a>(
    bytes: &'a [u8],
    pieces: &[(usize, &'a [u8])],
    mut read: Vec<Piece<'a>>,
    end: u8,
) -> Result<Soup<'a>, ReadError> {
    let mut receipt = Receipt { format: FORMAT, ..Receipt::default() };
    let total: usize = read.iter().map(|piece| piece.positions.len()).sum();
    if total > u32::MAX as usize {
        return Err(ReadError::TooLarge { format: FORMAT });
    }
    let mut positions = Vec::with_capacity(total);
    let mut bases = Vec::with_capacity(read.len());
    for piece in &mut read {
        bases.push(positions.len());
        positions.append(&mut piece.positions);
    }
    let mut commas = Commas::default();
    read.iter().for_each(|piece| commas.join(piece.commas));
    commas.settle(bytes, b"v", &mut receipt)?;

    let mut names = Names::default();
    let runs: Vec<Vec<(usize, u32)>> = read.iter().map(|piece| names.runs(piece)).collect();
    let several = names.parts.len() > 1;
    let some_not_finite = read.iter().any(|piece| piece.not_finite > 0);
    let faces: Vec<Result<Faces, NoVertex>> = (read.par_iter().zip(&bases).zip(&runs))
        .map(|((piece, &base), runs)| triangles(piece, base, &positions, some_not_finite, several.then_some(runs)))
        .collect();

    let count: usize = faces.iter().flatten().map(|faces| faces.triangles.len()).sum();
    if count > u32::MAX as usize {
        return Err(ReadError::TooLarge { format: FORMAT });
    }
    let mut triangles = Vec::with_capacity(count);
    let mut part_of = Vec::with_capacity(if several { count } else { 0 });
    let mut tallies = [Tally::default(); 4];
    for (k, faces) in faces.into_iter().enumerate() {
        let face_line = |face: usize| text::line_at(bytes, find_face(pieces[k], end, face).0);
        let mut faces = faces.map_err(|NoVertex { face, vertex }| {
            let (offset, before) = find_face(pieces[k], end, face);
            let before = (bases[k] + before) as i64;
            let (index, have) = match vertex {
                0.. => (vertex + 1, format!("the file has {total}")),
                _ => (vertex - before, format!("only {before} come before it")),
            };
            ReadError::BadIndex { line: text::line_at(bytes, offset), index, have }
        })?;
        triangles.append(&mut faces.triangles);
        part_of.append(&mut faces.part_of);
        for (all, one) in tallies.iter_mut().zip([faces.left_out, faces.split, faces.bent, faces.crossed]) {
            // From a face of the piece to its line, only for the first of all.
            let first = if all.count == 0 && one.count > 0 { face_line(one.first) } else { 0 };
            all.join(Tally { first, ..one });
        }
    }
    let [left_out, split, bent, crossed] = tallies;
    receipt.triangles_in_file = triangles.len() + left_out.count;

    let line = |tally: Tally| text::line_at(bytes, tally.first);
    let gather = |of: &dyn Fn(&Piece) -> Tally| {
        read.iter().fold(Tally::default(), |mut all, piece| {
            all.join(of(piece));
            all
        })
    };
    let skipped: Vec<(usize, Tally)> = (0..=SHORT_FACES)
        .map(|k| (k, gather(&|piece| piece.skipped[k])))
        .filter(|(_, tally)| tally.count > 0)
        .collect();
    let words: Vec<String> = (skipped.iter())
        .map(|&(k, tally)| {
            let what = SKIPPED.get(k).map_or("faces with fewer than three corners", |(_, what)| what);
            format!("{} {what} (first on line {})", tally.count, line(tally))
        })
        .collect();
    if triangles.is_empty() {
        let why = match (left_out.count, words.is_empty()) {
            (0, true) => "it has no \"f\" lines".into(),
            (0, false) => format!("it has only {}", words.join(", ")),
            _ => "no face has finite coordinates only".into(),
        };
        return Err(ReadError::NoTriangles { format: FORMAT, why });
    }
    receipt.note(ReceiptCode::NotANumber, left_out.count, || {
        format!(
            "{} triangles have a coordinate that is not a finite number and were left out (first face on line {}); areas \
             are lower bounds",
            left_out.count, left_out.first
        )
    });
    Shape::note(&mut receipt, [split, bent, crossed].map(|tally| (tally.count, tally.first)));
    receipt.note(ReceiptCode::ElementsSkipped, skipped.iter().map(|(_, tally)| tally.count).sum(), || {
        format!("passed over, for they are not faces: {}", words.join(", "))
    });
    receipt.note(ReceiptCode::NameNotUtf8, names.not_utf8.count, || {
        let tally = names.not_utf8;
        format!("{} names are not UTF-8 (first on line {}); shown with replacement marks", tally.count, line(tally))
    });
    let unknown = gather(&|piece| piece.unknown);
    receipt.note(ReceiptCode::UnknownLine, unknown.count, || {
        let found = text::shown(text::token(bytes[unknown.first..].trim_ascii_start()));
        format!(
            "{} lines of an unknown kind were passed over (first on line {}: {found})",
            unknown.count,
            line(unknown)
        )
    });
    let extra = gather(&|piece| piece.extra);
    receipt.note(ReceiptCode::ColourIgnored, extra.count, || {
        format!(
            "{} vertices have more than three numbers (weights or colours, first on line {}); those after the third were \
             not used",
            extra.count,
            line(extra)
        )
    });
    if some_not_finite {
        keep_finite(&mut positions, &mut triangles);
    }
    Ok(Soup { corners: Corners::Indexed { positions, triangles }, part_of, parts: names.parts, receipt })
}

/// A face of a piece that uses a vertex that is not there; below zero if it was counted back too far.
struct NoVertex {
    face: usize,
    vertex: i64,
}

/// Faces of a piece with their corners settled; `runs` says from which face on which part holds, if there are several.
fn triangles(
    piece: &Piece<'_>,
    base: usize,
    positions: &[[f64; 3]],
    some_not_finite: bool,
    runs: Option<&Vec<(usize, u32)>>,
) -> Result<Faces, NoVertex> {
    let mut out = Faces::default();
    out.triangles.reserve(piece.face_ends.len());
    let mut splitter = Splitter::default();
    let mut ring: Vec<u32> = Vec::new();
    let several = runs.is_some();
    let mut runs = runs.into_iter().flatten().copied().peekable();
    let mut part = 0;
    let mut from = 0;
    for (face, &to) in piece.face_ends.iter().enumerate() {
        while let Some((_, now)) = runs.next_if(|run| run.0 <= face) {
            part = now;
        }
        ring.clear();
        for &corner in &piece.corners[from..to as usize] {
            let vertex = if corner >= 0 { corner } else { corner + RELATIVE + base as i64 };
            match u32::try_from(vertex) {
                Ok(index) if (index as usize) < positions.len() => ring.push(index),
                _ => return Err(NoVertex { face, vertex }),
            }
        }
        from = to as usize;
        if some_not_finite && ring.iter().any(|&v| positions[v as usize][0].is_nan()) {
            out.left_out.join(Tally { count: ring.len() - 2, first: face });
            continue;
        }
        if let [a, b, c] = ring[..] {
            out.triangles.push([a, b, c]);
        } else {
            let shape = splitter.split(&ring, positions, &mut out.triangles);
            shape.tally(face, &mut out.split, &mut out.bent, &mut out.crossed);
        }
        if several {
            out.part_of.resize(out.triangles.len(), part);
        }
    }
    Ok(out)
}

/// Where in the file a face of a piece begins, and how many vertices of the piece come before. Reads the piece again:
/// only for messages.
fn find_face((start, piece): (usize, &[u8]), end: u8, face: usize) -> (usize, usize) {
    let mut again = Piece::default();
    let mut found = start;
    // The "fault" ends the reading at the face.
    let _ = lines(start, piece, end, |at, line| {
        again.line(at, line)?;
        if again.face_ends.len() > face {
            found = at;
            return Err(Fault { at, expected: "", found: String::new() });
        }
        Ok(())
    });
    (found, again.positions.len())
}

/// Drops positions that are not finite; no triangle uses one.
fn keep_finite(positions: &mut Vec<[f64; 3]>, triangles: &mut [[u32; 3]]) {
    let mut kept = 0;
    let now: Vec<u32> = positions
        .iter()
        .map(|p| {
            let place = kept;
            kept += u32::from(!p[0].is_nan());
            place
        })
        .collect();
    positions.retain(|p| !p[0].is_nan());
    triangles.iter_mut().flatten().for_each(|v| *v = now[*v as usize]);
}

/// The names in force, and the parts they make.
#[derive(Default)]
struct Names {
    ids: HashMap<String, u32>,
    names: Vec<String>,
    now: [u32; 3],
    part_ids: HashMap<[u32; 3], u32>,
    parts: Vec<PartName>,
    not_utf8: Tally,
}

impl Names {
    /// From which face of the piece on which part holds, for faces that exist.
    fn runs(&mut self, piece: &Piece<'_>) -> Vec<(usize, u32)> {
        let mut runs = Vec::new();
        let mut from = 0;
        for named in &piece.names {
            if named.face > from {
                runs.push((from, self.part()));
                from = named.face;
            }
            let (name, valid) = text::name(&named.name);
            if !valid {
                self.not_utf8.add(named.at);
            }
            self.now[named.kind as usize] = self.id(name);
        }
        if piece.face_ends.len() > from {
            runs.push((from, self.part()));
        }
        runs
    }

    fn id(&mut self, name: String) -> u32 {
        if self.names.is_empty() {
            self.names.push(String::new()); // 0: no name
        }
        if name.is_empty() {
            return 0;
        }
        *self.ids.entry(name).or_insert_with_key(|name| {
            self.names.push(name.clone());
            self.names.len() as u32 - 1
        })
    }

    fn part(&mut self) -> u32 {
        let [object, group, material] = self.now;
        // "o rock" then "g rock" is one name, as is the group that many programs call "default".
        let plain = |id: u32| self.names.get(id as usize).map_or("", String::as_str);
        let group = if group == object || (object != 0 && plain(group) == "default") { 0 } else { group };
        let (object, group) = if object == 0 { (group, 0) } else { (object, group) };
        let name = match group {
            0 => plain(object).to_owned(),
            _ => format!("{} / {}", plain(object), plain(group)),
        };
        let part = PartName { name, material: plain(material).to_owned() };
        *self.part_ids.entry([object, group, material]).or_insert_with(|| {
            self.parts.push(part);
            self.parts.len() as u32 - 1
        })
    }
}
