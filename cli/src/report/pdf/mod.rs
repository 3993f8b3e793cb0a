//! The printed takeoff: the same sections on paper, readable in black and white, every page numbered and named.

mod letters;

use super::content::{Content as Report, Row, Section, Table, Value};
use super::page::Stamp;
use super::picture::{Colouring, Scene, Still};
use super::takeoff::TakeoffReport;
use crate::args::PaperSize;
use crate::failure::Failure;
use cragskin_geom::view::{Side, View};
use flate2::Compression;
use flate2::write::ZlibEncoder;
use letters::{Face, encode, width, wrap};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use std::io::Write;

const MARGIN: f32 = 46.0;
const SIZE: f32 = 9.0;
const SMALL: f32 = 7.5;
const LEAD: f32 = 1.25;
const GAP: f32 = 8.0;
const STILL: [usize; 2] = [1400, 1000];

/// The print.
///
/// # Errors
/// None in practice: it is written to memory.
pub fn print(content: &Report<'_>, scene: &Scene<'_>, stamp: &Stamp, paper: PaperSize) -> Result<Vec<u8>, Failure> {
    let report = content.report;
    let (wide, high) = match paper {
        PaperSize::Letter => (612.0, 792.0),
        PaperSize::A4 => (595.276, 841.89),
    };
    let mut press = Press { wide, high, y: 0.0, pages: Vec::new(), stills: Vec::new() };
    press.new_page();
    press.line(&report.job, Face::Bold, 18.0);
    let date = if stamp.date.is_empty() { String::new() } else { format!(", {}", stamp.date) };
    press.words(&format!("Takeoff of {}, content key {}{date}", report.file, stamp.key), SIZE);
    let first = content.glance.iter().map(|one| Row {
        cells: vec![Value::Words(one.name.to_owned()), one.value.clone()],
        mark: one.mark.to_owned(),
        sum: String::new(),
        faces: None,
    });
    press.table(&Table { head: vec!["", ""], rows: first.collect() });
    for section in &content.sections {
        press.section(section);
        if section.key == "coat" {
            press.picture(scene, View::ThreeQuarter, Colouring::Coated);
        }
        if section.key == "steep" {
            press.picture(scene, View::Straight(Side::Front), Colouring::Class);
        }
        if section.key == "lath" {
            press.picture(scene, View::Straight(Side::Front), Colouring::Lath);
            for side in [Side::Front, Side::Left, Side::Right, Side::Top] {
                press.picture(scene, View::Straight(side), Colouring::Zone);
            }
        }
        if section.key == "changed" {
            press.picture(scene, View::ThreeQuarter, Colouring::Changes);
            press.picture(scene, View::Straight(Side::Front), Colouring::Changes);
        }
        if section.key == "thick" {
            press.picture(scene, View::Straight(Side::Front), Colouring::Lifts);
        }
    }
    press.finish(&format!("{}   {}   key {}{date}", report.job, report.file, stamp.key), report)
}

/// Pages as they fill.
struct Press {
    wide: f32,
    high: f32,
    /// Where the next line's top is.
    y: f32,
    pages: Vec<(Content, Vec<usize>)>,
    stills: Vec<Still>,
}

impl Press {
    fn new_page(&mut self) {
        self.pages.push((Content::new(), Vec::new()));
        self.y = self.high - MARGIN;
    }

    /// Starts a page if `room` points are not left on this one.
    fn need(&mut self, room: f32) {
        if self.y - room < MARGIN + 14.0 {
            self.new_page();
        }
    }

    fn across(&self) -> f32 {
        self.wide - 2.0 * MARGIN
    }

    fn content(&mut self) -> &mut Content {
        if self.pages.is_empty() {
            self.new_page();
        }
        let last = self.pages.len() - 1;
        &mut self.pages[last].0
    }

    fn text(&mut self, x: f32, y: f32, text: &str, face: Face, size: f32) {
        put(self.content(), x, y, text, face, size);
    }

    fn line(&mut self, text: &str, face: Face, size: f32) {
        let lines = wrap(text, face, size, self.across());
        // A paragraph stays on one page.
        self.need(size * LEAD * lines.len().min(20) as f32);
        for line in lines {
            self.need(size * LEAD);
            self.y -= size * LEAD;
            self.text(MARGIN, self.y, &line, face, size);
        }
    }

    fn words(&mut self, text: &str, size: f32) {
        self.line(text, Face::Plain, size);
        self.y -= 3.0;
    }

    fn rule(&mut self, weight: f32) {
        let (y, right) = (self.y - 2.0, self.wide - MARGIN);
        self.content().set_line_width(weight).move_to(MARGIN, y).line_to(right, y).stroke();
        self.y -= 3.0;
    }

    fn section(&mut self, section: &Section) {
        self.y -= 10.0;
        self.need(70.0);
        self.line(section.title, Face::Bold, 13.0);
        self.rule(1.2);
        for words in &section.words {
            self.words(words, SIZE);
        }
        section.tables.iter().for_each(|table| self.table(table));
    }

    fn table(&mut self, table: &Table) {
        let texts: Vec<Vec<String>> = table.rows.iter().map(|row| row.cells.iter().map(both).collect()).collect();
        let columns = columns(&table.head, &texts, self.across());
        let headed = table.head.iter().any(|head| !head.is_empty());
        let head: Vec<String> = table.head.iter().map(|head| (*head).to_owned()).collect();
        if headed {
            self.need(40.0);
            self.cells(&head, &columns, Face::Bold);
            self.rule(0.6);
        }
        for (row, texts) in table.rows.iter().zip(&texts) {
            let lines = texts.iter().zip(&columns).map(|(text, (_, room))| wrap(text, Face::Plain, SIZE, *room).len());
            let notes = [&row.mark, &row.sum].into_iter().filter(|text| !text.is_empty());
            let below: usize =
                notes.clone().map(|text| wrap(text, Face::Plain, SMALL, self.across() - 12.0).len()).sum();
            let room = lines.max().unwrap_or(1) as f32 * SIZE * LEAD + below as f32 * SMALL * LEAD + 4.0;
            let pages = self.pages.len();
            self.need(room);
            if self.pages.len() > pages && headed {
                self.cells(&head, &columns, Face::Bold);
                self.rule(0.6);
            }
            self.cells(texts, &columns, Face::Plain);
            for text in notes {
                for line in wrap(text, Face::Plain, SMALL, self.across() - 12.0) {
                    self.y -= SMALL * LEAD;
                    self.text(MARGIN + 12.0, self.y, &line, Face::Plain, SMALL);
                }
            }
            self.rule(0.2);
        }
        self.y -= 5.0;
    }

    fn cells(&mut self, texts: &[String], columns: &[(f32, f32)], face: Face) {
        let top = self.y;
        let mut lowest = top;
        for (text, (x, room)) in texts.iter().zip(columns) {
            let mut y = top;
            for line in wrap(text, face, SIZE, *room) {
                y -= SIZE * LEAD;
                self.text(*x, y, &line, face, SIZE);
            }
            lowest = lowest.min(y);
        }
        self.y = lowest;
    }

    fn picture(&mut self, scene: &Scene<'_>, view: View, colouring: Colouring) {
        if !Colouring::of(scene.labels).contains(&colouring) {
            return;
        }
        let Some(still) = scene.stills(view, &[colouring], STILL).pop() else { return };
        // Two fit on a page.
        let wide = 0.88 * self.across();
        let high = wide * still.height as f32 / still.width as f32;
        self.need(high + 8.0);
        self.y -= high + 6.0;
        let (y, number) = (self.y, self.stills.len());
        let name = format!("P{number}");
        let content = self.content();
        content
            .save_state()
            .transform([wide, 0.0, 0.0, high, MARGIN, y])
            .x_object(Name(name.as_bytes()))
            .restore_state();
        if let Some((_, used)) = self.pages.last_mut() {
            used.push(number);
        }
        self.stills.push(still);
        self.y -= 4.0;
    }

    fn finish(mut self, foot: &str, report: &TakeoffReport) -> Result<Vec<u8>, Failure> {
        let count = self.pages.len();
        let right = self.wide - MARGIN;
        for (k, (content, _)) in self.pages.iter_mut().enumerate() {
            let number = format!("page {} of {count}", k + 1);
            let edge = right - width(&number, Face::Plain, SMALL);
            let room = edge - MARGIN - GAP;
            let foot = wrap(foot, Face::Plain, SMALL, room).swap_remove(0);
            put(content, MARGIN, MARGIN - 16.0, &foot, Face::Plain, SMALL);
            put(content, edge, MARGIN - 16.0, &number, Face::Plain, SMALL);
        }
        let mut pdf = Pdf::new();
        let mut next = 0;
        let mut id = || {
            next += 1;
            Ref::new(next)
        };
        let (catalog, tree, plain, bold, info) = (id(), id(), id(), id(), id());
        let stills: Vec<Ref> = self.stills.iter().map(|_| id()).collect();
        let pages: Vec<(Ref, Ref)> = self.pages.iter().map(|_| (id(), id())).collect();
        pdf.catalog(catalog).pages(tree);
        pdf.document_info(info).title(TextStr(&report.job)).creator(TextStr("cragskin"));
        pdf.pages(tree).kids(pages.iter().map(|(page, _)| *page)).count(i32::try_from(count).unwrap_or(i32::MAX));
        for (font, name) in [(plain, &b"Helvetica"[..]), (bold, b"Helvetica-Bold")] {
            pdf.type1_font(font).base_font(Name(name)).encoding_predefined(Name(b"WinAnsiEncoding"));
        }
        for (still, id) in self.stills.iter().zip(&stills) {
            let data = squeeze(&still.pixels)?;
            let mut image = pdf.image_xobject(*id, &data);
            image.filter(Filter::FlateDecode);
            image.width(still.width as i32).height(still.height as i32).bits_per_component(8);
            image.color_space().indexed(Name(b"DeviceRGB"), still.palette.len() as i32 - 1, &still.palette.concat());
            image.finish();
        }
        for ((content, used), (page, stream)) in self.pages.into_iter().zip(pages) {
            let mut leaf = pdf.page(page);
            leaf.media_box(Rect::new(0.0, 0.0, self.wide, self.high)).parent(tree).contents(stream);
            let mut resources = leaf.resources();
            resources.fonts().pair(Name(b"F0"), plain).pair(Name(b"F1"), bold);
            let mut pictures = resources.x_objects();
            for number in used {
                pictures.pair(Name(format!("P{number}").as_bytes()), stills[number]);
            }
            pictures.finish();
            resources.finish();
            leaf.finish();
            let data = squeeze(&content.finish())?;
            pdf.stream(stream, &data).filter(Filter::FlateDecode);
        }
        Ok(pdf.finish())
    }
}

fn put(content: &mut Content, x: f32, y: f32, text: &str, face: Face, size: f32) {
    let font = if face == Face::Bold { &b"F1"[..] } else { b"F0" };
    content.begin_text().set_font(Name(font), size).next_line(x, y).show(Str(&encode(text))).end_text();
}

/// Left edge and room of each column: what its longest text asks for in one line; if that is too much, what it asks for
/// with US above metric; if that is still too much, the wide ones give.
fn columns(head: &[&str], rows: &[Vec<String>], across: f32) -> Vec<(f32, f32)> {
    let asked = |lines: bool| -> Vec<f32> {
        let text_width = |text: &String| {
            let line = |line| width(line, Face::Plain, SIZE);
            if lines { text.lines().map(line).fold(0.0, f32::max) } else { line(text) }
        };
        let column = |k: usize| {
            let cells = rows.iter().filter_map(|row| row.get(k)).map(text_width);
            cells.fold(width(head[k], Face::Bold, SIZE), f32::max) + 1.0
        };
        (0..head.len()).map(column).collect()
    };
    let room = across - GAP * (head.len().max(1) - 1) as f32;
    let mut asked_in_lines = asked(false);
    if asked_in_lines.iter().sum::<f32>() > room {
        asked_in_lines = asked(true);
    }
    let asked = asked_in_lines;
    let mut most = room;
    // The cap that fits: lowered by small steps, as tables are small.
    while asked.iter().map(|asked| asked.min(most)).sum::<f32>() > room && most > 10.0 {
        most -= 2.0;
    }
    let mut x = MARGIN;
    asked
        .iter()
        .map(|asked| {
            let column = (x, asked.min(most));
            x += column.1 + GAP;
            column
        })
        .collect()
}

fn both(value: &Value) -> String {
    let [us, metric] = value.text();
    if us == metric { us } else { format!("{us}\n({metric})") }
}

fn squeeze(bytes: &[u8]) -> Result<Vec<u8>, Failure> {
    let failed = |error: std::io::Error| Failure::new(format!("the print cannot be packed: {error}"));
    let mut zlib = ZlibEncoder::new(Vec::new(), Compression::default());
    zlib.write_all(bytes).map_err(failed)?;
    zlib.finish().map_err(failed)
}
