//! One self-contained page: tables, sums, still pictures and a 3D view. It asks nothing of the network, and says so to the
//! browser: only the two scripts and the style that are named by their hash may run.

mod packed;

use super::content::{Content, Faces, Glance, Row, Section, Table, Value};
use super::picture::{Colouring, Scene, Still};
use super::table::is_hidden;
use crate::failure::Failure;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use cragskin_geom::display::Display;
use cragskin_geom::view::{Side, View};
use rayon::prelude::*;
use sha2::{Digest, Sha256};

const STYLE: &str = include_str!("style.css");
const VIEWER: &str = include_str!("viewer.js");
const THREE: &str = include_str!("three.js");
const THREE_LICENSE: &str = include_str!("three-LICENSE.txt");

/// Triangles on the screen at most: a page under 3 MB however rough the rock, and a phone still turns it.
pub const MOST_TRIANGLES: usize = 105_000;
/// Pixels of a picture on the page.
const STILL: [usize; 2] = [1100, 800];

/// What a paged writer says of its origin.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Stamp {
    /// As the user wrote it; may be empty.
    pub date: String,
    /// Which bytes were measured.
    pub key: String,
}

/// The page; `display` is what its view shows.
///
/// # Errors
/// None in practice: everything is written to memory.
pub fn html(content: &Content<'_>, scene: &Scene<'_>, display: &Display, stamp: &Stamp) -> Result<String, Failure> {
    let report = content.report;
    let colourings = Colouring::of(scene.labels);
    let (mesh, facts) = packed::pack(display, scene, &colourings)?;
    // Inside a script element only a `<` could end it.
    let facts = facts.to_string().replace('<', "\\u003c");
    let hash = |text: &str| format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes())));
    let policy = format!(
        "default-src 'none'; script-src {} {}; style-src {}; img-src data:; base-uri 'none'; form-action 'none'",
        hash(THREE),
        hash(VIEWER),
        hash(STYLE)
    );
    let title = escape(&report.job);
    let date = if stamp.date.is_empty() { String::new() } else { format!(", {}", escape(&stamp.date)) };
    let file = escape(&report.file);
    let key = &stamp.key;
    let glance: String = content.glance.iter().map(|one| tile(one, &colourings)).collect();
    let (first, rest) = content.sections.split_at(1);
    let first: String = first.iter().map(section).collect();
    let rest: String = rest.iter().map(section).collect();
    // With an older revision, what changed is what people came for.
    let begin = if colourings.contains(&Colouring::Changes) { Colouring::Changes } else { colourings[0] };
    let colours: String = colourings
        .iter()
        .map(|colouring| {
            let name = colouring.name();
            let checked = if *colouring == begin { " checked" } else { "" };
            let doubt = colouring.doubt(scene.labels);
            format!("<label><input type=\"radio\" name=\"colour\" value=\"{name}\"{checked}> {name}{doubt}</label>\n")
        })
        .collect();
    let views: String = View::ALL
        .iter()
        .map(|view| format!("<button type=\"button\" data-view=\"{name}\">{name}</button>\n", name = view.name()))
        .collect();
    let simplified = if display.moved_at_most.metres() > 0.0 {
        format!(
            "Simplified for display from {} to {} triangles: what you see and tape here may be off by {}. Every number on this \
             page is taken from the full model.",
            scene.mesh.triangles().len(),
            display.triangles.len(),
            display.moved_at_most
        )
    } else {
        "The view shows the full model.".to_owned()
    };
    let stills = stills(scene, &colourings)?;
    let license = THREE_LICENSE.lines().map(escape).collect::<Vec<_>>().join("\n");
    Ok(format!(
        r#"<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<title>{title}: takeoff</title>
<style>{STYLE}</style>
</head>
<body class="show-both">
<header>
<h1>{title}</h1>
<span class="from">{file}, key {key}{date}</span>
<fieldset class="units"><legend>Units</legend>
<label><input type="radio" name="units" value="us"> US</label>
<label><input type="radio" name="units" value="metric"> metric</label>
<label><input type="radio" name="units" value="both" checked> both</label>
</fieldset>
</header>
<main>
<div class="first">
<dl class="glance">{glance}</dl>
{first}</div>
<div class="looking">
<p class="note" id="no-gl"></p>
<div class="stage"><canvas id="view" tabindex="0" aria-label="The model in three dimensions. Arrow keys turn it, plus and minus zoom."></canvas><div id="tags" aria-hidden="true"></div></div>
<div class="tools">
<ul id="legend" aria-label="Legend"></ul>
<p id="said" role="status"></p>
<fieldset class="bar"><legend>Colour by</legend>{colours}</fieldset>
<div class="bar" role="group" aria-label="Views">{views}</div>
<div class="bar">
<button type="button" id="measure" aria-pressed="false">Measure two points</button>
<label>Section <select id="cut-axis"><option value="-1">off</option><option value="0">left to right</option><option value="1">front to back</option><option value="2">bottom to top</option></select></label>
<label>at <input type="range" id="cut-at" min="0" max="1000" value="500" disabled></label> <span id="cut-said"></span>
</div>
<p class="note">Drag turns, two fingers or the right button move, the wheel zooms; arrow keys turn, + and - zoom. Click a face or a table row marked &#x25CE; and the other lights up. The figure is 6 ft tall, the floor grid 1 ft. {simplified}</p>
</div>
<div class="stills">{stills}</div>
</div>
<div class="reading">
{rest}</div>
</main>
<footer>
<p>{title}: {file}, content key {key}{date}. Numbers come from the full model and the material book named above; nothing is sent anywhere.</p>
<details><summary>Licence of the 3D library in this page (three.js 0.187)</summary><pre>{license}</pre></details>
</footer>
<script type="application/json" id="scene">{facts}</script>
<script type="text/plain" id="mesh">{mesh}</script>
<script>{THREE}</script>
<script>{VIEWER}</script>
</body>
</html>
"#
    ))
}

fn stills(scene: &Scene<'_>, colourings: &[Colouring]) -> Result<String, Failure> {
    let wanted = [
        (View::ThreeQuarter, vec![Colouring::Changes, Colouring::Class, Colouring::Coated]),
        (View::Straight(Side::Front), vec![Colouring::Zone, Colouring::Lath, Colouring::Lifts]),
        (View::Straight(Side::Left), vec![Colouring::Class]),
        (View::Straight(Side::Right), vec![Colouring::Class]),
        (View::Straight(Side::Top), vec![Colouring::Class]),
    ];
    let drawn = wanted.into_par_iter().map(|(view, mut shown)| {
        shown.retain(|colouring| colourings.contains(colouring));
        let stills = scene.stills(view, &shown, STILL);
        let one = |(colouring, still): (&Colouring, &Still)| -> Result<String, Failure> {
            let alt = format!("{} view, {}", view.name(), colouring.name());
            Ok(format!("<img alt=\"{alt}\" src=\"data:image/png;base64,{}\">\n", STANDARD.encode(still.png()?)))
        };
        shown.iter().zip(&stills).map(one).collect::<Result<String, _>>()
    });
    let pictures: String = drawn.collect::<Result<Vec<_>, _>>()?.concat();
    Ok(format!("<details open><summary>Still pictures</summary>{pictures}</details>"))
}

/// A figure with its way to the section that tells more, the view coloured to match.
fn tile(one: &Glance, colourings: &[Colouring]) -> String {
    let matching = match one.section {
        "coat" => Some(Colouring::Coated),
        "lath" => Some(Colouring::Lath),
        "thick" => Some(Colouring::Lifts),
        _ => None,
    };
    let matching = matching.filter(|colouring| colourings.contains(colouring));
    let show = matching.map_or_else(String::new, |colouring| format!(" data-show=\"{}\"", colouring.name()));
    let (name, section, value, mark) = (one.name, one.section, cell(&one.value), marked(one.mark));
    format!("<div><dt><a href=\"#{section}\"{show}>{name}</a></dt><dd>{value}{mark}</dd></div>\n")
}

fn section(section: &Section) -> String {
    let words: String = section.words.iter().map(|words| format!("<p>{}</p>\n", escape(words))).collect();
    let tables: String = section.tables.iter().map(table).collect();
    format!("<section id=\"{}\"><h2>{}</h2>\n{words}{tables}</section>\n", section.key, section.title)
}

fn table(table: &Table) -> String {
    let head = if table.head.iter().all(|name| name.is_empty()) {
        String::new()
    } else {
        // A head stands over its figures.
        let number = |k: usize| table.rows.iter().any(|row| row.cells.get(k).is_some_and(is_number));
        let class = |k: usize| if number(k) { " class=\"n\"" } else { "" };
        let head = table.head.iter().enumerate();
        let cells: String = head.map(|(k, name)| format!("<th scope=\"col\"{}>{name}</th>", class(k))).collect();
        format!("<thead><tr>{cells}</tr></thead>\n")
    };
    let rows: String = table.rows.iter().map(row).collect();
    let class = if table.head.len() > 3 { " class=\"wide\"" } else { "" };
    format!("<div class=\"scroll\"><table{class}>\n{head}<tbody>{rows}</tbody></table></div>\n")
}

fn row(row: &Row) -> String {
    let mark = marked(&row.mark);
    let sum = if row.sum.is_empty() {
        String::new()
    } else {
        let what = if row.sum.contains('=') { "sum" } else { "more" };
        format!("<details><summary>{what}</summary>{}</details>", escape(&row.sum))
    };
    let faces = row
        .faces
        .map(Faces::mark)
        .map_or_else(String::new, |mark| format!(" data-faces=\"{mark}\" tabindex=\"0\" aria-selected=\"false\""));
    let cells: String = row
        .cells
        .iter()
        .enumerate()
        .map(|(k, value)| {
            let number = if is_number(value) { " class=\"n\"" } else { "" };
            let more = if k == 0 { format!("{mark}{sum}") } else { String::new() };
            format!("<td{number}>{}{more}</td>", cell(value))
        })
        .collect();
    format!("<tr{faces}>{cells}</tr>\n")
}

fn marked(mark: &str) -> String {
    if mark.is_empty() { String::new() } else { format!("<span class=\"mark\">{}</span>", escape(mark)) }
}

fn is_number(value: &Value) -> bool {
    !matches!(value, Value::Words(_))
}

fn cell(value: &Value) -> String {
    let [us, metric] = value.text();
    if us == metric {
        return escape(&us);
    }
    if let Value::Span(_) = value {
        // From above to, where a column is narrow.
        let broken = |text: &str| escape(text).replace(" to ", "</span> <span>to ");
        let [us, metric] = [broken(&us), broken(&metric)];
        return format!(
            "<span class=\"us span\"><span>{us}</span></span><span class=\"metric span\"><span>{metric}</span></span>"
        );
    }
    format!("<span class=\"us\">{}</span><span class=\"metric\">{}</span>", escape(&us), escape(&metric))
}

/// Text from a file made harmless in a page: it is data.
fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c if is_hidden(c) => safe.extend(c.escape_default()),
            c => safe.push(c),
        }
    }
    safe
}
