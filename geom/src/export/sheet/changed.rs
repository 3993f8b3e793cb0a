//! Elevation sheets of a revision: only the changed places are hatched.

use super::{MARGIN, Paper, Place, Raster, Seen, SheetText, Svg, path_of};
use crate::compare::{Comparison, Marked};
use crate::units::Length;
use crate::view::Side;
use crate::zones::Zones;
use std::fmt::Write;

/// One elevation of the new revision as an SVG document in true paper size: zones as thin outlines for finding one's way, changed
/// places hatched and numbered as in the list of changes.
///
/// Places that moved inward are hatched the other way than places that moved outward or sideways.
#[must_use]
pub fn changed_elevation(
    marked: &Marked,
    comparison: &Comparison,
    zones: &Zones,
    view: Side,
    paper: Paper,
    text: &SheetText<'_>,
) -> String {
    let seen = Seen::of(&marked.mesh, view);
    let place = &Place::of(&seen, view, paper, text);
    let mut svg = Svg(String::new());
    svg.begin(place, &format!("changed places, seen from: {}; grid 1 ft", view.name()), text);
    svg.0.push_str(PATTERNS);
    let zone = |face: usize| zones.of(marked.source[face] as usize).map_or(super::BARE, |k| k as u32);
    let outlines = Raster::of(&marked.mesh, &zone, &seen);
    let to = |cell: f64| move |c: [f64; 2]| [place.x(c[0] * cell), place.y(c[1] * cell)];
    let _ = write!(svg.0, r##"<g fill="none" stroke="#999" stroke-width="0.25">"##);
    for (_, path) in outlines.trace() {
        let _ = write!(svg.0, r#"<path d="{}"/>"#, path_of(&path, to(outlines.cell)));
    }
    svg.0.push_str("</g>\n");
    let change = |face: usize| match marked.change[face] {
        u32::MAX => super::BARE,
        change => change,
    };
    let raster = Raster::of(&marked.mesh, &change, &seen);
    let inward = |change: u32| {
        let change = &comparison.changes[change as usize];
        change.inward > change.outward
    };
    for (id, path) in raster.trace() {
        let d = path_of(&path, to(raster.cell));
        if id == super::BARE {
            // The whole outline again, bold: a change at the edge has one too.
            let _ = writeln!(svg.0, r##"<path d="{d}" fill="none" stroke="#000" stroke-width="0.35"/>"##);
        } else {
            svg.change(&d, inward(id));
        }
    }
    for spot in raster.spots() {
        let middle = [place.x(spot.middle[0]), place.y(spot.middle[1])];
        let size = (spot.room * place.scale * 0.9).clamp(3.0, 7.0);
        let tape = |m: f64| (text.length)(Length::from_metres(m));
        let corner = [format!("{} over", tape(spot.low[0])), format!("{} up", tape(spot.low[1]))];
        let lines: Vec<&str> = corner.iter().map(String::as_str).filter(|_| spot.room * place.scale > 7.0).collect();
        svg.letter(middle, size, &(spot.zone + 1).to_string(), &lines);
    }
    let y = place.page[1] - MARGIN - 13.0;
    for (k, (words, way)) in
        [("changed, outward or sideways", false), ("changed, inward", true)].into_iter().enumerate()
    {
        let x = MARGIN + 62.0 * k as f64;
        svg.change(&format!("M{x:.2} {y:.2}h8v5h-8Z"), way);
        svg.text(x + 9.5, y + 3.6, 3.0, "start", words, false);
    }
    svg.end(place, view, text)
}

const PATTERNS: &str = concat!(
    r##"<defs><g id="stripes" stroke="#000" stroke-width="0.35" fill="none"><path d="M-1 1L1 -1M0 3L3 0M2 4L4 2"/></g>"##,
    r##"<pattern id="outward" width="3" height="3" patternUnits="userSpaceOnUse"><use href="#stripes"/></pattern>"##,
    r##"<pattern id="inward" width="3" height="3" patternUnits="userSpaceOnUse" patternTransform="rotate(90)">"##,
    r##"<use href="#stripes"/></pattern></defs>"##,
    "\n"
);

impl Svg {
    fn change(&mut self, d: &str, inward: bool) {
        let (hatch, [r, g, b]) =
            if inward { ("inward", super::super::COLOURS[2]) } else { ("outward", super::super::COLOURS[4]) };
        let _ = writeln!(
            self.0,
            r##"<path d="{d}" fill="rgb({r},{g},{b})" fill-opacity="0.35" fill-rule="evenodd"/><path d="{d}" fill="url(#{hatch})" fill-rule="evenodd" stroke="#000" stroke-width="0.5" stroke-linejoin="round"/>"##
        );
    }
}
