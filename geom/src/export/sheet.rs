//! Elevation sheets: zones as outlines with hatching and letters, dimensioned by tape from the lower-left corner.
//!
//! Hidden surfaces are settled on a grid of cells: the nearest face of each cell wins, and the borders between cells of
//! different zones are traced. Black and white first: hatching tells the classes apart, colour only helps.

mod changed;
mod raster;

pub use changed::changed_elevation;

use super::colour;
use crate::lean::Class;
use crate::mesh::Mesh;
use crate::units::Length;
use crate::view::Side;
use crate::zones::{ZoneJoints, Zones};
use nalgebra::Vector3;
use raster::{BARE, Raster};
use std::fmt::Write;

/// Paper, upright or across, whichever shows the model larger.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 8.5 by 11 in.
    Letter,
    /// 210 by 297 mm.
    A4,
}

impl Paper {
    /// Short and long side in millimetres.
    #[must_use]
    pub const fn size(self) -> [f64; 2] {
        match self {
            Self::Letter => [215.9, 279.4],
            Self::A4 => [210.0, 297.0],
        }
    }
}

/// What is written on the sheet.
#[derive(Clone, Copy)]
pub struct SheetText<'a> {
    /// The heading: model and revision. Shown escaped.
    pub title: &'a str,
    /// What is said below the heading of what the zones are worth; empty where there is nothing to say. Shown escaped.
    pub note: &'a str,
    /// A length for people, such as `4 ft 3-1/2 in`.
    pub length: &'a dyn Fn(Length) -> String,
}

const MARGIN: f64 = 12.0;
const HEAD: f64 = 16.0;
const FOOT: f64 = 30.0;
/// Height of a line of the note, and its letters: a Helvetica letter is half as wide as it is high on average, so this many fit on
/// the narrowest paper.
const NOTE_LINE: f64 = 3.4;
const NOTE_LETTERS: usize = 128;
const FIGURE: f64 = 6.0 * crate::units::METRES_PER_FOOT;
const FT: f64 = crate::units::METRES_PER_FOOT;

/// One elevation as an SVG document in true paper size; without `zones` the outline alone.
///
/// Each zone's `joints` are drawn in the view that it faces most, dash-dot, numbered as by [`joint_numbers`]; upright ones
/// at their share of the width seen, which on a zone that runs round a corner is about where the tape says.
#[must_use]
pub fn elevation(
    mesh: &Mesh,
    zones: Option<&Zones>,
    joints: &[ZoneJoints],
    view: Side,
    paper: Paper,
    text: &SheetText<'_>,
) -> String {
    let (none, is_zoned) = (Zones::default(), zones.is_some());
    let zones = zones.unwrap_or(&none);
    let seen = Seen::of(mesh, view);
    let raster = Raster::of(mesh, &|face| zones.of(face).map_or(BARE, |k| k as u32), &seen);
    let place = Place::of(&seen, view, paper, text);
    let (scale, x, y) = (place.scale, |m| place.x(m), |m| place.y(m));
    let mut svg = Svg(String::new());
    svg.begin(&place, &format!("seen from: {}; grid 1 ft", view.name()), text);

    let shapes = raster.trace();
    for (id, path) in &shapes {
        let d = path_of(path, |c| [x(c[0] * raster.cell), y(c[1] * raster.cell)]);
        let (fill, hatch) = match zones.zones.get(*id as usize) {
            Some(z) => (colour(z.name.class, z.name.number), z.name.class.name()),
            None => ([255, 255, 255], "bare"),
        };
        svg.zone(&d, fill, hatch);
    }
    let mut taken: Vec<[f64; 4]> = Vec::new();
    let numbers = joint_numbers(joints);
    for (joint, first) in joints.iter().zip(numbers).filter(|(j, _)| faces(mesh, zones, j.zone) == Some(view)) {
        for (n, runs) in (first..).zip(raster.joints(zones, joint, view, seen.low)) {
            for [a, b] in &runs {
                svg.joint([x(a[0]), y(a[1])], [x(b[0]), y(b[1])]);
            }
            // Its number at the end of its longest run.
            let long = |r: &[[f64; 2]; 2]| (r[1][0] - r[0][0]).hypot(r[1][1] - r[0][1]);
            if let Some(run) = runs.iter().max_by(|a, b| long(a).total_cmp(&long(b))) {
                let at = [x(run[1][0]) - 1.0, y(run[1][1]) - 0.8];
                svg.text(at[0], at[1], 2.6, "end", &format!("J{n}"), true);
                taken.push([at[0] - 6.0, at[1] - 2.6, at[0], at[1]]);
            }
        }
    }
    for spot in raster.spots() {
        let zone = &zones.zones[spot.zone as usize];
        let middle = [x(spot.middle[0]), y(spot.middle[1])];
        let size = (spot.room * scale * 0.9).clamp(2.4, 7.0);
        let corner = format!(
            "{} over, {} up",
            (text.length)(Length::from_metres(spot.low[0])),
            (text.length)(Length::from_metres(spot.low[1]))
        );
        let extent = format!(
            "{} x {}",
            (text.length)(Length::from_metres(spot.high[0] - spot.low[0])),
            (text.length)(Length::from_metres(spot.high[1] - spot.low[1]))
        );
        let name = zone.name.to_string();
        // The tape lines only where they have room; all are in the list below or on the zone page.
        let lines: Vec<&str> = if spot.room * scale > 7.0 { vec![&corner, &extent] } else { vec![] };
        let half = 0.32 * size * name.len() as f64;
        let reach = lines.iter().map(|l| 0.62 * l.len() as f64).fold(half, f64::max);
        let box_of = |h: f64| [middle[0] - reach, middle[1] - h, middle[0] + reach, middle[1] + h];
        let mut spread = box_of(size * 0.5 + 2.6 * lines.len() as f64);
        let clash = |b: &[f64; 4]| taken.iter().any(|t| b[0] < t[2] && t[0] < b[2] && b[1] < t[3] && t[1] < b[3]);
        let mut lines = lines;
        if clash(&spread) {
            lines.clear();
            spread = [middle[0] - half, middle[1] - size * 0.5, middle[0] + half, middle[1] + size * 0.5];
        }
        taken.push(spread);
        svg.letter(middle, size, &name, &lines);
    }
    if is_zoned {
        svg.legend(MARGIN, place.page[1] - MARGIN - 13.0);
    }
    svg.end(&place, view, text)
}

/// The corners as the view sees them: right, up and nearness, and what they span.
struct Seen {
    points: Vec<[f64; 3]>,
    low: [f64; 2],
    extent: [f64; 2],
}

impl Seen {
    fn of(mesh: &Mesh, view: Side) -> Self {
        let axes = view.axes();
        let points: Vec<[f64; 3]> = mesh.positions().iter().map(|p| axes.map(|axis| axis.dot(&p.coords))).collect();
        let bound = |k: usize| match points.is_empty() {
            true => [0.0, 1.0],
            false => {
                points.iter().map(|p| p[k]).fold([f64::INFINITY, f64::NEG_INFINITY], |b, x| [b[0].min(x), b[1].max(x)])
            }
        };
        let bounds = [bound(0), bound(1)];
        Self { points, low: bounds.map(|b| b[0]), extent: bounds.map(|b| (b[1] - b[0]).max(0.01)) }
    }
}

/// Where the model lies on the paper.
struct Place {
    page: [f64; 2],
    /// Width and height of the model, and of the picture with the figure.
    extent: [f64; 2],
    tall: f64,
    scale: f64,
}

impl Place {
    fn of(seen: &Seen, view: Side, paper: Paper, text: &SheetText<'_>) -> Self {
        let head = HEAD + NOTE_LINE * note_lines(text.note).len() as f64;
        let extent @ [wide, high] = seen.extent;
        // Room for the figure beside the model, and for tape marks left of and below it.
        let (room, tall) = (wide + 0.9, if view == Side::Top { high } else { high.max(FIGURE) });
        let fit = |[w, h]: [f64; 2]| {
            let usable = [w - 2.0 * MARGIN - 16.0, h - 2.0 * MARGIN - head - FOOT];
            (usable[0] / room).min(usable[1] / tall)
        };
        let [short, long] = paper.size();
        let page = if fit([short, long]) >= fit([long, short]) { [short, long] } else { [long, short] };
        Self { page, extent, tall, scale: fit(page) }
    }

    fn x(&self, m: f64) -> f64 {
        MARGIN + 16.0 + m * self.scale
    }

    fn y(&self, m: f64) -> f64 {
        self.page[1] - MARGIN - FOOT - m * self.scale
    }
}

/// The number of the first joint of each zone: upright ones from the left, then those across from below, zone by zone.
#[must_use]
pub fn joint_numbers(joints: &[ZoneJoints]) -> Vec<usize> {
    joints
        .iter()
        .scan(1, |next, joint| {
            let first = *next;
            *next += joint.upright.len() + joint.across.len();
            Some(first)
        })
        .collect()
}

/// The view that a zone faces most; none for a ceiling.
fn faces(mesh: &Mesh, zones: &Zones, zone: usize) -> Option<Side> {
    let sum: Vector3<f64> = zones.zones[zone].faces().iter().map(|&f| mesh.area_vector(f as usize)).sum();
    let toward = |side: &Side| side.axes()[2].dot(&sum);
    let best = Side::ALL.into_iter().max_by(|a, b| toward(a).total_cmp(&toward(b)))?;
    (toward(&best) > 0.0).then_some(best)
}

/// A note in lines that fit the paper.
fn note_lines(note: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in note.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.len() + word.len() < NOTE_LETTERS => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

fn path_of(loops: &[Vec<[f64; 2]>], to: impl Fn([f64; 2]) -> [f64; 2]) -> String {
    let mut d = String::new();
    for l in loops {
        for (k, &c) in l.iter().enumerate() {
            let [x, y] = to(c);
            let _ = write!(d, "{}{x:.2} {y:.2}", if k == 0 { 'M' } else { 'L' });
        }
        d.push('Z');
    }
    d
}

/// Millimetres on paper, text escaped.
struct Svg(String);

impl Svg {
    fn begin(&mut self, place: &Place, what: &str, text: &SheetText<'_>) {
        self.head(place.page[0], place.page[1]);
        self.text(MARGIN, MARGIN + 5.0, 5.0, "start", text.title, true);
        self.text(MARGIN, MARGIN + 11.0, 3.6, "start", what, false);
        for (k, line) in note_lines(text.note).iter().enumerate() {
            self.text(MARGIN, MARGIN + 15.2 + NOTE_LINE * k as f64, 2.7, "start", line, true);
        }
        self.grid([place.x(0.0), place.x(place.extent[0])], [place.y(0.0), place.y(place.tall)], place.scale);
    }

    fn end(mut self, place: &Place, view: Side, text: &SheetText<'_>) -> String {
        let [wide, high] = place.extent;
        self.tape([place.x(0.0), place.y(0.0)], wide, high, place.scale, text.length);
        if view != Side::Top {
            self.figure(place.x(wide + 0.45), place.y(0.0), place.scale);
        }
        self.scale_bar(place.page[0] - MARGIN, place.page[1] - MARGIN - 4.0, place.scale);
        self.0.push_str("</svg>\n");
        self.0
    }

    fn head(&mut self, w: f64, h: f64) {
        let _ = writeln!(
            self.0,
            r#"<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}" font-family="Helvetica, Arial, sans-serif">"#
        );
        let hatch = |class: Class, lines: &str| {
            format!(
                r##"<pattern id="{}" width="4" height="4" patternUnits="userSpaceOnUse"><g stroke="#000" stroke-width="0.22" fill="none">{lines}</g></pattern>"##,
                class.name()
            )
        };
        let all = [
            hatch(Class::Top, r##"<circle cx="2" cy="2" r="0.3" fill="#000" stroke="none"/>"##),
            hatch(Class::Slope, r#"<path d="M-1 1L1 -1M0 4L4 0M3 5L5 3"/>"#),
            hatch(Class::Wall, r#"<path d="M2 0V4"/>"#),
            hatch(Class::Undercut, r#"<path d="M0 2H4"/>"#),
            hatch(Class::Soffit, r#"<path d="M0 0L4 4M4 0L0 4"/>"#),
        ];
        let _ = writeln!(self.0, "<defs>{}</defs>", all.join(""));
        let _ = writeln!(self.0, r##"<rect width="{w}" height="{h}" fill="#fff"/>"##);
    }

    fn text(&mut self, x: f64, y: f64, size: f64, anchor: &str, text: &str, bold: bool) {
        let weight = if bold { "bold" } else { "normal" };
        let text = escape(text);
        let _ = writeln!(
            self.0,
            r##"<text x="{x:.2}" y="{y:.2}" font-size="{size:.2}" text-anchor="{anchor}" font-weight="{weight}" stroke="#fff" stroke-width="{:.2}" paint-order="stroke">{text}</text>"##,
            size * 0.22
        );
    }

    fn line(&mut self, a: [f64; 2], b: [f64; 2], width: f64, grey: &str) {
        let _ = writeln!(
            self.0,
            r#"<path d="M{:.2} {:.2}L{:.2} {:.2}" stroke="{grey}" stroke-width="{width}"/>"#,
            a[0], a[1], b[0], b[1]
        );
    }

    fn joint(&mut self, a: [f64; 2], b: [f64; 2]) {
        let d = format!("M{:.2} {:.2}L{:.2} {:.2}", a[0], a[1], b[0], b[1]);
        let _ = writeln!(
            self.0,
            r##"<path d="{d}" stroke="#fff" stroke-width="1.6"/><path d="{d}" stroke="#000" stroke-width="0.7" stroke-dasharray="5 1.2 0.8 1.2"/>"##
        );
    }

    fn grid(&mut self, x: [f64; 2], y: [f64; 2], scale: f64) {
        let foot = FT * scale;
        for k in 0..=((x[1] - x[0]) / foot + 1e-6) as usize {
            let at = x[0] + k as f64 * foot;
            self.line([at, y[0]], [at, y[1]], 0.1, "#bbb");
        }
        for k in 0..=((y[0] - y[1]) / foot + 1e-6) as usize {
            let at = y[0] - k as f64 * foot;
            self.line([x[0], at], [x[1], at], 0.1, "#bbb");
        }
    }

    fn zone(&mut self, d: &str, [r, g, b]: [u8; 3], hatch: &str) {
        // Colour at a third: letters and hatching stay readable, and a grey copy stays light.
        let _ = writeln!(self.0, r#"<path d="{d}" fill="rgb({r},{g},{b})" fill-opacity="0.35" fill-rule="evenodd"/>"#);
        let fill = if hatch == "bare" { "none".into() } else { format!("url(#{hatch})") };
        let _ = writeln!(
            self.0,
            r##"<path d="{d}" fill="{fill}" fill-rule="evenodd" stroke="#000" stroke-width="0.45" stroke-linejoin="round"/>"##
        );
    }

    fn letter(&mut self, at: [f64; 2], size: f64, name: &str, lines: &[&str]) {
        let top = at[1] + 0.35 * size - 1.3 * lines.len() as f64;
        self.text(at[0], top, size, "middle", name, true);
        for (k, line) in lines.iter().enumerate() {
            self.text(at[0], top + 0.6 + 3.0 * (k + 1) as f64, 2.4, "middle", line, false);
        }
    }

    /// Tape along the floor and up the left side, from the datum, marked every foot or every five.
    fn tape(&mut self, [x, y]: [f64; 2], wide: f64, high: f64, scale: f64, length: &dyn Fn(Length) -> String) {
        let every = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0].into_iter().find(|e| e * FT * scale >= 7.0).unwrap_or(100.0);
        self.line([x, y], [x + wide * scale, y], 0.5, "#000");
        self.line([x, y], [x, y - high * scale], 0.5, "#000");
        for k in 0..=(wide / FT / every + 1e-6) as usize {
            let at = x + k as f64 * every * FT * scale;
            self.line([at, y], [at, y + 2.0], 0.3, "#000");
            self.text(at, y + 5.0, 2.6, "middle", &format!("{}", k as f64 * every), false);
        }
        for k in 1..=(high / FT / every + 1e-6) as usize {
            let at = y - k as f64 * every * FT * scale;
            self.line([x - 2.0, at], [x, at], 0.3, "#000");
            self.text(x - 2.8, at + 0.9, 2.6, "end", &format!("{}", k as f64 * every), false);
        }
        let _ = writeln!(self.0, r#"<circle cx="{x:.2}" cy="{y:.2}" r="1.1"/>"#);
        let all = format!(
            "datum: lower left corner (dot). {} wide, {} high. Numbers on the tape are feet.",
            length(Length::from_metres(wide)),
            length(Length::from_metres(high))
        );
        self.text(x, y + 9.5, 2.8, "start", &all, false);
    }

    /// A person 6 ft tall, standing on the floor line.
    fn figure(&mut self, x: f64, y: f64, scale: f64) {
        let s = FIGURE * scale / 6.0;
        let _ = writeln!(
            self.0,
            r##"<g transform="translate({x:.2} {y:.2}) scale({s:.4})" fill="#000"><circle cx="0" cy="-5.6" r="0.4"/><path d="M-0.55 -5.05H0.55Q0.75 -5.05 0.75 -4.8V-2.9H0.55V-4.6H0.42V0H0.06V-2.7H-0.06V0H-0.42V-4.6H-0.55V-2.9H-0.75V-4.8Q-0.75 -5.05 -0.55 -5.05Z"/></g>"##
        );
        self.text(x, y + 3.2, 2.4, "middle", "6 ft", false);
    }

    fn legend(&mut self, x: f64, y: f64) {
        let boxes = Class::ALL.map(|c| (c.name(), format!("{} {}", c.letter(), c.name()), colour(c, 1)));
        for (k, (hatch, words, rgb)) in boxes.iter().enumerate() {
            let at = x + 30.0 * k as f64;
            self.zone(&format!("M{at:.2} {y:.2}h8v5h-8Z"), *rgb, hatch);
            self.text(at + 9.5, y + 3.6, 3.0, "start", words, false);
        }
        let bare = x + 30.0 * 5.0;
        self.zone(&format!("M{bare:.2} {y:.2}h8v5h-8Z"), [255; 3], "bare");
        self.text(bare + 9.5, y + 3.6, 3.0, "start", "bare", false);
        self.joint([x, y + 9.5], [x + 8.0, y + 9.5]);
        self.text(x + 9.5, y + 10.5, 3.0, "start", "J1 ... movement joint", false);
    }

    /// Feet, with metres under them; right end at `x`.
    fn scale_bar(&mut self, x: f64, y: f64, scale: f64) {
        for (unit, name, up) in [(FT, "ft", 0.0), (1.0, "m", 4.0)] {
            let count =
                [1.0, 2.0, 5.0, 10.0, 20.0, 50.0].into_iter().find(|n| n * unit * scale >= 15.0).unwrap_or(100.0);
            let long = count * unit * scale;
            let from = x - long - 14.0;
            self.line([from, y + up], [from + long, y + up], 1.2, "#000");
            self.text(from + long + 2.0, y + up + 1.0, 3.0, "start", &format!("{count} {name}"), false);
        }
    }
}

/// Names are data: nothing in them may become a tag.
fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
