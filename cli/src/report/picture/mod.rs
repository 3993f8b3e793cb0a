//! Still pictures: elevations, plan and a three-quarter view, with legend, 1 ft grid and a 6 ft figure.

mod figure;
mod labels;
pub mod palette;

use crate::book::Class;
use crate::failure::Failure;
use crate::takeoff::Takeoff;
use cragskin_geom::mesh::Mesh;
use cragskin_geom::picture::{Frame, NOTHING, Raster};
use cragskin_geom::soundness::Grade;
use cragskin_geom::units::METRES_PER_FOOT;
use cragskin_geom::view::View;
use cragskin_geom::zones::Zone;
use font8x8::UnicodeFonts;
use nalgebra::{Point3, Vector3};
use palette::{Rgb, Tint};

pub use figure::figure;
pub use labels::{Labels, Thickness};

/// What the colours tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is what it tells")]
pub enum Colouring {
    Class,
    Coated,
    Zone,
    Lath,
    Lifts,
    Thickness,
    Changes,
}

impl Colouring {
    /// All there are.
    pub const ALL: [Self; 7] =
        [Self::Class, Self::Coated, Self::Zone, Self::Lath, Self::Lifts, Self::Thickness, Self::Changes];

    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        ["lean", "coated", "zones", "lath", "lifts", "thickness", "changes"][self as usize]
    }

    /// Those that a takeoff has.
    #[must_use]
    pub fn of(labels: &Labels) -> Vec<Self> {
        let mut all = vec![Self::Class, Self::Coated];
        all.retain(|colouring| !colouring.is_by_lean() || labels.worth != Grade::NotDefined);
        if !labels.zone_names.is_empty() {
            all.extend([Self::Zone, Self::Lath]);
        }
        if labels.lifts.iter().any(|&lifts| lifts > 0) {
            all.push(Self::Lifts);
        }
        if labels.thickness.is_some() {
            all.push(Self::Thickness);
        }
        if labels.change.is_some() {
            all.push(Self::Changes);
        }
        all
    }

    /// It tells what hangs on lean.
    #[must_use]
    pub const fn is_by_lean(self) -> bool {
        matches!(self, Self::Class | Self::Zone | Self::Lath | Self::Lifts)
    }

    /// `, not known` where what it tells hangs on an answer that nobody has given.
    #[must_use]
    pub fn doubt(self, labels: &Labels) -> &'static str {
        if self.is_by_lean() && labels.worth == Grade::NotKnown { ", not known" } else { "" }
    }

    /// Each kind of face: what it is called and how it looks.
    #[must_use]
    pub fn legend(self, labels: &Labels) -> Vec<(String, Tint)> {
        let named = |pairs: &[(&str, Tint)]| pairs.iter().map(|(name, tint)| ((*name).to_owned(), *tint)).collect();
        match self {
            Self::Class | Self::Zone => {
                let names = Class::ALL.map(Class::name).into_iter().chain(["bare"]);
                names.map(str::to_owned).zip(palette::CLASSES).collect()
            }
            Self::Coated => named(&[("coated", palette::COATED), ("bare", palette::BARE)]),
            Self::Lath => named(&[("no lath", palette::NO_LATH), ("lath", palette::LATH), ("bare", palette::BARE)]),
            Self::Lifts => {
                let [one, two, three] = palette::LIFTS;
                named(&[("one lift", one), ("two lifts", two), ("three lifts or more", three), ("bare", palette::BARE)])
            }
            Self::Thickness => labels.thickness.iter().flat_map(Thickness::names).zip(palette::THICKNESS).collect(),
            Self::Changes => named(&[("as before", palette::SAME), ("changed", palette::CHANGED)]),
        }
    }

    /// The entry of the legend that a face falls under.
    #[must_use]
    pub fn entry(self, labels: &Labels, face: usize) -> usize {
        match (labels.state[face], self) {
            (_, Self::Thickness) => labels.thickness.as_ref().map_or(0, |thickness| usize::from(thickness.band[face])),
            (_, Self::Changes) => labels.change.as_ref().map_or(0, |change| usize::from(change[face] != Labels::SAME)),
            (1, Self::Class | Self::Zone) => usize::from(Labels::BARE),
            (1, Self::Lath) => 2,
            (_, Self::Lath) => usize::from(labels.lath[face]),
            (1, Self::Lifts) => palette::LIFTS.len(),
            (state, Self::Coated) => usize::from(state),
            (_, Self::Class) => usize::from(labels.class[face]),
            (_, Self::Lifts) => usize::from(labels.lifts[face].clamp(1, 3)) - 1,
            // Two zones of one class never touch: they would be one zone.
            (_, Self::Zone) => {
                let class = labels.zone_classes.get(usize::from(labels.zone[face])).copied();
                usize::from(class.unwrap_or(labels.class[face]))
            }
        }
    }

    /// What parts two faces by a line.
    fn patch(self, labels: &Labels, face: usize) -> usize {
        if matches!(self, Self::Zone | Self::Lath) {
            usize::from(labels.zone[face]) + 1
        } else {
            self.entry(labels, face)
        }
    }
}

/// What is drawn.
#[derive(Debug)]
pub struct Scene<'a> {
    /// The true mesh.
    pub mesh: &'a Mesh,
    /// One entry a face.
    pub labels: &'a Labels,
    /// Names of the zones.
    pub zones: Vec<Tag>,
    /// Numbers of the changes, the largest of them.
    pub changes: Vec<Tag>,
}

/// A name to stand on the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Tag {
    /// The name.
    pub name: String,
    /// Where.
    pub at: Point3<f64>,
    /// The face it stands on.
    pub face: u32,
}

impl Tag {
    fn new(name: String, mesh: &Mesh, face: u32) -> Self {
        Self { name, at: middle(mesh, face as usize), face }
    }
}

fn middle(mesh: &Mesh, face: usize) -> Point3<f64> {
    let [a, b, c] = mesh.corners(face);
    Point3::from((a.coords + b.coords + c.coords) / 3.0)
}

/// More numbers than this only hide the picture.
const NUMBERED: usize = 40;

/// A number on the face of each change that is nearest its middle.
fn numbers(mesh: &Mesh, change: &[u16]) -> Vec<Tag> {
    let faces =
        || change.iter().enumerate().filter(|(_, k)| usize::from(**k) < NUMBERED).map(|(f, k)| (f, usize::from(*k)));
    let mut sums = [(Vector3::zeros(), 0.0); NUMBERED];
    for (face, k) in faces() {
        let area = mesh.area_vector(face).norm();
        sums[k].0 += middle(mesh, face).coords * area;
        sums[k].1 += area;
    }
    let mut best = [(f64::INFINITY, u32::MAX); NUMBERED];
    for (face, k) in faces() {
        let away = (middle(mesh, face).coords - sums[k].0 / sums[k].1.max(f64::MIN_POSITIVE)).norm();
        if away < best[k].0 {
            best[k] = (away, face as u32);
        }
    }
    let found = best.iter().enumerate().filter(|(_, (_, face))| *face != u32::MAX);
    found.map(|(k, (_, face))| Tag::new((k + 1).to_string(), mesh, *face)).collect()
}

/// A picture with at most 256 colours.
#[derive(Clone, Debug, PartialEq)]
pub struct Still {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Colours.
    pub palette: Vec<Rgb>,
    /// Row by row from the top.
    pub pixels: Vec<u8>,
}

/// Steps of light and shade, and one more for the ink of the pattern.
const SHADES: usize = 8;
const STEPS: usize = SHADES + 1;
const WHITE: u8 = 0;
const INK: u8 = 1;
const GRID: u8 = 2;
const FIGURE: u8 = 3;
const FIRST: u8 = 4;
const LEGEND_HEIGHT: usize = 72;
const LETTER: usize = 8;

/// Where the figure stands: right of the piece and before it, so that it hides nothing from the front, from the sides or
/// from the front left.
#[must_use]
pub fn figure_place([low, high]: [Point3<f64>; 2]) -> Point3<f64> {
    Point3::new(high.x + 0.6, low.y - 0.6, low.z)
}

/// Low and high corner of a mesh.
#[must_use]
pub fn bounds(mesh: &Mesh) -> [Point3<f64>; 2] {
    let first = mesh.positions().first().copied().unwrap_or_else(Point3::origin);
    mesh.positions().iter().fold([first; 2], |[low, high], p| [low.inf(p), high.sup(p)])
}

impl<'a> Scene<'a> {
    /// A takeoff's model.
    #[must_use]
    pub fn of(takeoff: &'a Takeoff, labels: &'a Labels) -> Self {
        let mesh = takeoff.checked.model.mesh();
        let tag = |zone: &Zone| Tag::new(zone.name.to_string(), mesh, zone.at_face);
        let changes = labels.change.as_ref().map_or_else(Vec::new, |change| numbers(mesh, change));
        Self { mesh, labels, zones: takeoff.steep.zones.zones.iter().map(tag).collect(), changes }
    }

    /// Draws one view in each of the colourings. The same bytes every time.
    #[must_use]
    pub fn stills(&self, view: View, colourings: &[Colouring], [width, height]: [usize; 2]) -> Vec<Still> {
        let [low, high] = bounds(self.mesh);
        let figure = figure(figure_place([low, high]));
        let [figure_low, figure_high] = bounds(&figure);
        let frame =
            Frame::around(view, [low.inf(&figure_low), high.sup(&figure_high)], [width, height - LEGEND_HEIGHT], 44);
        let mut raster = Raster::new(frame);
        raster.draw(self.mesh, 0);
        let first_of_figure = self.mesh.triangles().len() as u32;
        raster.draw(&figure, first_of_figure);
        let towards = view.axes();
        let light = (towards[2] + towards[1] * 0.6 - towards[0] * 0.4).normalize();
        let shade = |mesh: &Mesh, face: usize| {
            let n = mesh.area_vector(face);
            // Open sheets are seen from both sides.
            let n = if n.dot(&towards[2]) < 0.0 { -n } else { n };
            let lit = n.dot(&light) / n.norm().max(f64::MIN_POSITIVE);
            ((lit.max(0.0) * SHADES as f64) as usize).min(SHADES - 1)
        };
        colourings.iter().map(|&c| self.still(view, c, &raster, first_of_figure, &shade, [width, height])).collect()
    }

    fn still(
        &self,
        view: View,
        colouring: Colouring,
        raster: &Raster,
        first_of_figure: u32,
        shade: &impl Fn(&Mesh, usize) -> usize,
        [width, height]: [usize; 2],
    ) -> Still {
        let legend = colouring.legend(self.labels);
        let mut still = Still::blank(&legend, width, height);
        still.grid(view, raster.frame());
        let rows = raster.frame().height;
        let patch = |at: usize| match raster.seen()[at] {
            NOTHING => usize::MAX,
            face if face >= first_of_figure => usize::MAX - 1,
            face => colouring.patch(self.labels, face as usize),
        };
        for (at, &face) in raster.seen().iter().enumerate() {
            let (x, y) = (at % width, at / width);
            let here = patch(at);
            let differs = |other: usize| patch(other) != here;
            let edge = (x + 1 < width && differs(at + 1)) || (y + 1 < rows && differs(at + width));
            if edge {
                still.pixels[at] = INK;
            } else if face >= first_of_figure {
                if face != NOTHING {
                    still.pixels[at] = FIGURE;
                }
            } else {
                let entry = colouring.entry(self.labels, face as usize);
                let inked = legend[entry].1.pattern.inks(x, y);
                let step = if inked { SHADES } else { shade(self.mesh, face as usize) };
                still.pixels[at] = FIRST + (entry * STEPS + step) as u8;
            }
        }
        match colouring {
            Colouring::Zone | Colouring::Lath => tags(&self.zones, &mut still, raster),
            Colouring::Changes => tags(&self.changes, &mut still, raster),
            _ => {}
        }
        still.legend(view, colouring, self.labels, &legend);
        still
    }
}

/// Tags whose place is in sight.
fn tags(tags: &[Tag], still: &mut Still, raster: &Raster) {
    for Tag { name, at: place, face } in tags {
        let [x, y, depth] = raster.frame().project(*place);
        let (column, row) = (x as usize, y as usize);
        let at = row * still.width + column;
        let seen = raster.seen().get(at).copied().unwrap_or(NOTHING);
        let hidden = raster.depth().get(at).is_none_or(|&front| front > depth + 0.02);
        if seen == NOTHING || (hidden && seen != *face) {
            continue;
        }
        let wide = name.len() * LETTER * 2;
        let (left, top) = (column.saturating_sub(wide / 2), row.saturating_sub(LETTER));
        still.fill(left.saturating_sub(4), top.saturating_sub(4), wide + 8, 2 * LETTER + 8, INK);
        still.fill(left.saturating_sub(2), top.saturating_sub(2), wide + 4, 2 * LETTER + 4, WHITE);
        still.text(left, top, name);
    }
}

impl Still {
    fn blank(legend: &[(String, Tint)], width: usize, height: usize) -> Self {
        let mut colours = vec![[0xFF; 3], [0x14; 3], [0xD8; 3], [0x6E; 3]];
        for (_, tint) in legend {
            let scaled = |share: f64| tint.rgb.map(|c| (f64::from(c) * share).round() as u8);
            colours.extend((0..SHADES).map(|k| scaled(0.60 + 0.40 * k as f64 / (SHADES - 1) as f64)));
            // Ink on a light ground, chalk on a dark one.
            let dark = palette::lightness(tint.rgb) < 0.18;
            colours.push(if dark { tint.rgb.map(|c| c / 2 + 120) } else { scaled(0.42) });
        }
        Self { width, height, palette: colours, pixels: vec![WHITE; width * height] }
    }

    fn fill(&mut self, left: usize, top: usize, width: usize, height: usize, colour: u8) {
        for y in top..(top + height).min(self.height) {
            for x in left..(left + width).min(self.width) {
                self.pixels[y * self.width + x] = colour;
            }
        }
    }

    /// Letters 16 pixels high.
    fn text(&mut self, left: usize, top: usize, words: &str) {
        for (k, letter) in words.chars().enumerate() {
            let bits = font8x8::BASIC_FONTS.get(letter).unwrap_or([0; 8]);
            for (row, bits) in bits.iter().enumerate() {
                for column in (0..8).filter(|column| bits >> column & 1 == 1) {
                    self.fill(left + (k * LETTER + column) * 2, top + row * 2, 2, 2, INK);
                }
            }
        }
    }

    /// Lines one foot apart, counted from the low corner of the piece. Seen from above at an angle they lie on the floor.
    fn grid(&mut self, view: View, frame: &Frame) {
        let [right, up, _] = view.axes();
        let feet = |k: i32| f64::from(k) * METRES_PER_FOOT;
        if view == View::ThreeQuarter {
            for k in -4..80 {
                for (fixed, along) in [(Vector3::x(), Vector3::y()), (Vector3::y(), Vector3::x())] {
                    let end = |t: i32| frame.project(Point3::from(fixed * feet(k) + along * feet(t)));
                    self.line(end(-4), end(80), frame.height);
                }
            }
            return;
        }
        let reach = frame.width.max(frame.height) as f64 / frame.pixels_per_metre() / METRES_PER_FOOT;
        let most = (2.0 * reach).min(2000.0) as i32;
        for k in -most..=most {
            let [x, _, _] = frame.project(Point3::from(right * feet(k)));
            let [_, y, _] = frame.project(Point3::from(up * feet(k)));
            if (0.0..frame.width as f64).contains(&x) {
                self.fill(x as usize, 0, 1, frame.height, if k == 0 { FIGURE } else { GRID });
                if k % 2 == 0 {
                    self.text(x as usize + 3, frame.height - 18, &k.to_string());
                }
            }
            if (0.0..frame.height as f64).contains(&y) {
                self.fill(0, y as usize, frame.width, 1, if k == 0 { FIGURE } else { GRID });
                if k % 2 == 0 && k != 0 {
                    self.text(3, (y as usize).saturating_sub(18), &k.to_string());
                }
            }
        }
    }

    fn line(&mut self, a: [f64; 3], b: [f64; 3], rows: usize) {
        let steps = (b[0] - a[0]).abs().max((b[1] - a[1]).abs()).ceil().clamp(1.0, 20_000.0) as usize;
        for k in 0..=steps {
            let t = k as f64 / steps as f64;
            let (x, y) = (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]));
            if x >= 0.0 && y >= 0.0 && (x as usize) < self.width && (y as usize) < rows {
                self.pixels[y as usize * self.width + x as usize] = GRID;
            }
        }
    }

    fn legend(&mut self, view: View, colouring: Colouring, labels: &Labels, legend: &[(String, Tint)]) {
        let top = self.height - LEGEND_HEIGHT;
        self.fill(0, top, self.width, 2, INK);
        let title = match colouring {
            Colouring::Class => "by lean",
            Colouring::Coated => "coated and bare",
            Colouring::Zone => "by zone",
            Colouring::Lath => "where lath goes",
            Colouring::Lifts => "by lifts",
            Colouring::Thickness => "thickness straight in",
            Colouring::Changes => "changed places",
        };
        let doubt = colouring.doubt(labels);
        self.text(12, top + 10, &format!("{} view, {title}{doubt}. Grid 1 ft, figure 6 ft.", view.name()));
        let mut left = 12;
        for (entry, (name, tint)) in legend.iter().enumerate() {
            let base = FIRST + (entry * STEPS) as u8;
            self.fill(left, top + 34, 44, 28, INK);
            for y in top + 36..top + 60 {
                for x in left + 2..left + 42 {
                    let step = if tint.pattern.inks(x, y) { SHADES } else { SHADES - 1 };
                    self.pixels[y * self.width + x] = base + step as u8;
                }
            }
            self.text(left + 52, top + 40, name);
            left += 52 + (name.len() + 2) * LETTER * 2;
        }
        if colouring == Colouring::Coated && labels.worth == Grade::NotDefined {
            self.text(left, top + 40, "lean and zones: not defined");
        }
    }

    /// As a PNG file.
    ///
    /// # Errors
    /// None in practice: it is written to memory.
    pub fn png(&self) -> Result<Vec<u8>, Failure> {
        let failed = |error: png::EncodingError| Failure::new(format!("the picture cannot be written: {error}"));
        let mut bytes = Vec::new();
        let mut encoder = png::Encoder::new(&mut bytes, self.width as u32, self.height as u32);
        encoder.set_color(png::ColorType::Indexed);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.set_palette(self.palette.concat());
        encoder.set_compression(png::Compression::Balanced);
        encoder.set_filter(png::Filter::NoFilter);
        let mut writer = encoder.write_header().map_err(failed)?;
        writer.write_image_data(&self.pixels).map_err(failed)?;
        writer.finish().map_err(failed)?;
        Ok(bytes)
    }

    /// Red, green and blue of every pixel.
    #[must_use]
    pub fn rgb(&self) -> Vec<u8> {
        self.pixels.iter().flat_map(|&index| self.palette[usize::from(index)]).collect()
    }
}
