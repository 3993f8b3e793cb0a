//! The takeoff as a page, in the words that stand on the shop wall.

use super::{ByClass, OpenSkinJson, OrderRow, TakeoffReport, are, turned_words};
use crate::book::Class;
use crate::figure::Unit;
use crate::job::Face;
use crate::report::core::places_text;
use crate::report::limits;
use crate::report::look::findings_text;
use crate::report::shared::{Kind, doubt};
use crate::report::table::{columns, plain, wrapped};
use crate::report::zones;
use cragskin_geom::soundness::Quality;
use cragskin_geom::units::{Area, Length, Volume, feet_inches, metric_length};

/// A smaller area prints as nothing: a tenth of a square foot.
const WORTH_SAYING_M2: f64 = 0.01;
/// Less foam than this share of the piece is none.
const ALL_SKIN: f64 = 0.01;
/// A texture ratio from here on is worth a word. Common practice, no source.
const TEXTURED: f64 = 1.15;

impl TakeoffReport {
    /// The page.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = format!("TAKEOFF   {}   ({})\n", plain(&self.job), plain(&self.file));
        out += &wrapped("  ", &format!("book: {}", plain(&self.book)));
        out += "\nWHAT WE WERE SENT\n";
        let size = self.size_m.map(Length::from_metres);
        out += &format!(
            "  {} triangles, file unit {}, up is {}, visitors stand at {}\n",
            self.triangles, self.units, self.up, self.front
        );
        out += &format!(
            "  {} wide, {} deep, {} high  ({})\n",
            feet_inches(size[0]),
            feet_inches(size[1]),
            feet_inches(size[2]),
            size.map(metric_length).join(" x ")
        );
        self.notes.iter().for_each(|note| out += &wrapped("  ", note));
        out += &wrapped("  ", self.face_words());
        if self.face == Face::Core.to_string() {
            let size = self.finished_size_m.map(Length::from_metres);
            out += &format!(
                "  finished  {} wide, {} deep, {} high  ({})\n",
                feet_inches(size[0]),
                feet_inches(size[1]),
                feet_inches(size[2]),
                size.map(metric_length).join(" x ")
            );
        }
        out += "\nHOW FAR THE NUMBERS CAN BE TRUSTED\n";
        out += &self.quality.text();
        out += "\nWHAT WE COAT\n";
        out += &self.scope_text();
        out += "\nWHERE IT IS STEEP   (coated area by lean; 0 faces up, 90 is plumb, 180 faces down)\n";
        out += &self.class_text();
        out += "\nWHERE LATH GOES AND HOW MANY LIFTS   (joined patches; by tape from the low left corner)\n";
        out += &self.zones_text();
        out += "\nHOW THICK\n";
        let thickness = Length::from_millimetres(self.skin_mm);
        out += &wrapped("  ", &format!("applied  {thickness}   = {}", self.skin_sum));
        let low = Length::from_millimetres(self.cover_at_low_pins_mm);
        out += &format!("  left after carving where the hand was low (one pin in twenty)  {}\n", signed(low));
        let naive = self.area_times_skin_m3;
        out += &format!("  area x thickness  {}\n", or_none(naive.map(Volume::from_cubic_metres)));
        match (self.skin_volume_m3, self.skin_volume_bound_m3) {
            (Some(volume), Some(bound)) => {
                let more = naive.filter(|naive| *naive > 0.0).map_or_else(String::new, |naive| {
                    format!(", {:+.1} % on area x thickness", 100.0 * (volume / naive - 1.0))
                });
                // A formula's bound lies all on one side.
                let known = if self.skin_by == "area_x_thickness" {
                    "not measured: area x thickness stands in its place".to_owned()
                } else if !self.is_skin_known() {
                    format!("{}, not known", Volume::from_cubic_metres(volume))
                } else if self.skin_by != "formula" || self.quality.skin_volume == "good" {
                    format!(
                        "{}, known to {:.2} %",
                        Volume::from_cubic_metres(volume),
                        100.0 * bound / volume.max(f64::MIN_POSITIVE)
                    )
                } else {
                    let [least, most] = [volume - bound, volume].map(Volume::from_cubic_metres);
                    format!("at most {most} and at least {least}, by formula")
                };
                let more =
                    if self.skin_by == "area_x_thickness" || !self.is_skin_known() { String::new() } else { more };
                out += &format!("  with corners and hollows  {known}{more}\n");
            }
            _ => out += "  with corners and hollows  not defined\n",
        }
        if let Some(open) = &self.open_skin {
            out += &wrapped("  ", &open_text(open));
        }
        if let (Some(scale), Some(ratio)) = (self.skin_scale_area_m2, self.texture_ratio) {
            out += &wrapped(
                "  ",
                &format!(
                    "areas: as modelled and coated {}, {} {}{}, front elevation {}",
                    or_none(self.coated_area_m2.map(Area::from_square_metres)),
                    if self.skin_scale_by == "closing" { "at skin scale" } else { "half way through the skin" },
                    Area::from_square_metres(scale),
                    if self.is_skin_known() { "" } else { " (not known)" },
                    or_none(self.projected_area_m2.map(Area::from_square_metres))
                ),
            );
            out += &self.texture_text(ratio);
        }
        if self.is_all_skin() {
            out += &wrapped(
                "  ",
                "the skin fills the whole piece: it is thinner than two skins throughout and no foam is left. Area x thickness counts mix \
                 that is not there. Make it in solid mix on a rod, or draw it thicker.",
            );
        }
        out += &self.foam_text();
        out += "\nHOW MUCH   (exact, then packages rounded up once for the whole job)\n";
        out += &order_text(&self.order);
        out += "\nWEIGHT\n";
        out += &order_text(&self.weights);
        out += &limits::text(&self.limits);
        out += "\nWHAT WE DO NOT KNOW\n";
        out += &self.questions_text();
        if !self.book_defaults_used.is_empty() {
            let keys = self.book_defaults_used.join(", ");
            out += &wrapped(
                "  - ",
                &format!("the book leaves these to the default book, whose values are invented: {keys}"),
            );
        }
        out += "\nCAUTIONS\n";
        self.cautions.iter().for_each(|caution| out += &wrapped("  - ", caution));
        out
    }

    pub(crate) fn face_words(&self) -> &'static str {
        if self.face == Face::Core.to_string() {
            "the model is taken as the CORE FACE, what the foam shop cuts; the skin comes on top, so the finished piece is bigger by \
             the skin on every coated side. If it is what visitors see, say --face finished: the foam is then smaller."
        } else {
            "the model is taken as the FINISHED FACE, what visitors see; the foam is cut smaller by the skin. If it is what the foam \
             shop cuts, say --face core: the finished piece is then bigger by the skin on every coated side."
        }
    }

    /// `the floor and the back stay bare`.
    pub(super) fn bare_sides(&self) -> String {
        let sides: Vec<&str> = self.open_sides.iter().map(|open| open.side).collect();
        format!("the {} {} bare", sides.join(" and the "), if sides.len() > 1 { "stay" } else { "stays" })
    }

    fn scope_text(&self) -> String {
        let area = |m2: f64| Area::from_square_metres(m2).to_string();
        let known = |m2: Option<f64>| or_none(m2.map(Area::from_square_metres));
        let mut rows = vec![
            vec!["as modelled".to_owned(), area(self.as_modelled_area_m2), String::new()],
            vec!["coated".to_owned(), known(self.coated_area_m2), self.quality.mark(Kind::Area)],
        ];
        if !self.open_sides.is_empty() {
            rows.push(vec![
                format!("coated, if {}", self.bare_sides()),
                known(self.coated_area_if_open_sides_bare_m2),
                String::new(),
            ]);
        }
        if !self.proposed.is_empty() {
            let without = self.coated_area_if_left_out_m2;
            let row = format!("coated, if {} left out", plain(&are(&self.proposed)));
            rows.push(vec![row, known(without), String::new()]);
        }
        rows.push(vec!["bare".to_owned(), known(self.bare_area_m2), String::new()]);
        if self.left_out_area_m2 > 0.0 {
            rows.push(vec!["left out".to_owned(), area(self.left_out_area_m2), String::new()]);
        }
        if self.drawn_again_area_m2 > WORTH_SAYING_M2 {
            rows.push(vec![
                "drawn twice in one place, counted once".to_owned(),
                area(self.drawn_again_area_m2),
                String::new(),
            ]);
        }
        rows.push(vec!["front elevation of it".to_owned(), known(self.projected_area_m2), String::new()]);
        let mut out = columns(&rows);
        for found in &self.scope {
            let nothing = if found.triangles == 0 { "   FINDS NOTHING IN THIS MODEL" } else { "" };
            let turned = turned_words(found.turned_deg);
            out +=
                &format!("  rule: {} is {}: {}{turned}{nothing}\n", plain(&found.rule), found.is, area(found.area_m2));
        }
        if self.buried_area_m2 > WORTH_SAYING_M2 {
            out += &format!("  buried in other bodies, not coated: {}\n", area(self.buried_area_m2));
        }
        if self.flush_area_m2 > WORTH_SAYING_M2 {
            out += &format!("  in one plane with another body, coated there: {}\n", area(self.flush_area_m2));
        }
        if self.hidden_area_m2 > WORTH_SAYING_M2 {
            out += &format!("  hidden by closing it as asked, not coated: {}\n", area(self.hidden_area_m2));
        }
        if self.glue_area_m2 > WORTH_SAYING_M2 {
            out += &format!("  blocks touch: {} of glue joint, not coated\n", area(self.glue_area_m2));
        }
        for shared in self.counted_twice.iter().take(10) {
            let [a, b] = &shared.parts;
            let volume = Volume::from_cubic_metres(shared.volume_m3);
            out += &wrapped(
                "  ",
                &format!("{volume} counted twice in the sum of parts: {} and {} ({})", plain(a), plain(b), shared.how),
            );
        }
        if self.counted_twice.len() > 10 {
            out += &format!("  and {} more pairs (all are in --json)\n", self.counted_twice.len() - 10);
        }
        if let (Some(union), Some(sum)) = (self.union_volume_m3, self.sum_of_parts_volume_m3)
            && !self.counted_twice.is_empty()
        {
            let [union, sum] = [union, sum].map(Volume::from_cubic_metres);
            out += &format!("  volume of the whole {union}; the sum of parts would be {sum}\n");
        }
        for open in &self.open_sides {
            out += &wrapped("  ? ", &open.question());
        }
        if self.parts.len() > 1 {
            let header = ["part", "name", "material", "area", "coated"].map(str::to_owned).to_vec();
            let rows = self.parts.iter().map(|row| {
                let part = &row.part;
                let modelled = part.area_m2.map_or_else(String::new, area);
                vec![part.tag.clone(), plain(&part.name), plain(&part.material), modelled, known(row.coated_area_m2)]
            });
            out += &columns(&std::iter::once(header).chain(rows).collect::<Vec<_>>());
        }
        out
    }

    /// Places with little foam; nothing to say where there are none.
    fn foam_text(&self) -> String {
        const SHOWN: usize = 8;
        let Some(places) = &self.no_foam else {
            let why = self.no_foam_reason.as_deref().unwrap_or_default();
            return wrapped("  ", &format!("places without foam were not looked for: {why}"));
        };
        if places.is_empty() {
            return String::new();
        }
        let mut out =
            "\nWHERE THERE IS NO FOAM, OR LITTLE   (make in solid mix on a rod, or thicken; sizes about)\n".to_owned();
        out += &places_text(&places[..places.len().min(SHOWN)]);
        if places.len() > SHOWN {
            out += &format!("  and {} more: `cragskin core` lists all\n", places.len() - SHOWN);
        }
        out
    }

    fn zones_text(&self) -> String {
        let Some(lath) = self.lath_area_m2.map(Area::from_square_metres) else {
            return "  zones, lath and lifts are not defined: the reason stands in the table of trust\n".to_owned();
        };
        let (Some(two), Some(changed)) = (self.two_lift_area_m2, self.changed_by_smoothing_m2) else {
            return format!("  too large to look for zones and lifts; under lath by lean, face by face: {lath}\n");
        };
        let [two, changed] = [two, changed].map(Area::from_square_metres);
        zones::text(&self.zones)
            + &wrapped(
                "  ",
                &format!(
                    "under lath {lath}; two lifts or more {two}; {changed} changes class at lath scale{}",
                    mark(&self.zones_quality)
                ),
            )
    }

    fn class_text(&self) -> String {
        let Some(ByClass { top, slope, wall, undercut, soffit }) = self.area_by_class_m2 else {
            return "  not defined: the reason stands in the table of trust\n".to_owned();
        };
        let coated = self.coated_area_m2.unwrap_or_default();
        let limit = |k: usize| self.near_limit_area_m2[k].limit_deg;
        let ends = [0.0, limit(0), limit(1), limit(2), limit(3), 180.0];
        let rows: Vec<Vec<String>> = [top, slope, wall, undercut, soffit]
            .iter()
            .zip(Class::ALL)
            .enumerate()
            .map(|(k, (m2, class))| {
                let share = if coated > 0.0 { 100.0 * m2 / coated } else { 0.0 };
                vec![
                    class.name().to_owned(),
                    format!("{}-{} deg", ends[k], ends[k + 1]),
                    Area::from_square_metres(*m2).to_string(),
                    format!("{share:.1} %"),
                ]
            })
            .collect();
        let mut out = columns(&rows);
        for near in &self.near_limit_area_m2 {
            let Some(area) = near.area_m2.filter(|m2| *m2 > 1e-3 * coated).map(Area::from_square_metres) else {
                continue;
            };
            out += &format!("  {area} lies within 2 degrees of the {}/{} limit\n", near.below, near.above);
        }
        out
    }

    /// The skin of a finished face takes all of it.
    fn is_all_skin(&self) -> bool {
        let whole = self.union_volume_m3.filter(|_| self.face != Face::Core.to_string());
        whole.zip(self.core_volume_m3).is_some_and(|(whole, core)| core < ALL_SKIN * whole)
    }

    /// Why coated area and the area at skin scale part, where they do.
    fn texture_text(&self, ratio: f64) -> String {
        // Rods thinner than two skins do the same: they are listed by themselves, or are all there is.
        let listed = self.no_foam.as_ref().is_some_and(|places| !places.is_empty());
        if ratio <= TEXTURED || listed || self.is_all_skin() {
            return String::new();
        }
        let cause = if self.no_foam.is_some() || self.face == Face::Core.to_string() {
            "fine texture or narrow crevices"
        } else {
            "fine texture, narrow crevices, or parts thinner than two skins (see places without foam)"
        };
        let is = if self.is_skin_known() { "is the one to order by" } else { "is not known" };
        wrapped(
            "  ",
            &format!(
                "texture ratio {ratio:.2}: {cause}; area x thickness would mislead, the figure with corners and hollows {is}"
            ),
        )
    }

    fn is_skin_known(&self) -> bool {
        self.quality.unknown_skin().is_empty()
    }

    fn questions_text(&self) -> String {
        let doubts: String = self.quality.doubts().map(|doubt| wrapped("  ! ", &plain(&doubt))).collect();
        if self.findings.is_empty() && !doubts.is_empty() {
            return doubts;
        }
        doubts + &findings_text(&self.findings)
    }
}

/// A figure, or that there is none.
pub(super) fn or_none(figure: Option<impl std::fmt::Display>) -> String {
    figure.map_or_else(|| "not defined".to_owned(), |figure| figure.to_string())
}

/// The grade to stand after a figure; empty when good, and where there is no figure.
pub(super) fn mark(quality: &Quality) -> String {
    let doubt = doubt(quality);
    if doubt.is_empty() { String::new() } else { format!("  ({doubt})") }
}

/// What a row comes to: packages, or the figure in both systems.
pub(super) fn amount(row: &OrderRow) -> String {
    match (row.packages, row.exact) {
        (Some(n), _) => format!("{n} {}", row.id.unit().after(n as f64)),
        (None, None) => "not defined".to_owned(),
        (None, Some(exact)) if row.id.unit() == Unit::Gal => {
            let litres = Volume::from_gallons(exact).litres();
            format!("{exact:.2} gal ({litres:.2} L)")
        }
        (None, Some(exact)) => row.id.unit().of(exact).to_string(),
    }
}

/// One line a row: what it comes to; the sum below.
fn order_text(rows: &[OrderRow]) -> String {
    let cells: Vec<Vec<String>> = rows.iter().map(|row| vec![row.item.to_owned(), amount(row)]).collect();
    columns(&cells)
        .lines()
        .zip(rows)
        .map(|(head, row)| {
            // The reason of a bound stands once, in the table of trust.
            let why = match row.exact {
                None if !row.quality.reason.is_empty() => &row.quality.reason,
                _ => &row.sum,
            };
            format!("{head}{}\n{}", mark(&row.quality), wrapped("      ", why))
        })
        .collect()
}

/// A length that may be below nothing.
fn signed(length: Length) -> String {
    if length < Length::ZERO {
        format!("less than nothing ({}): foam shows", metric_length(length))
    } else {
        length.to_string()
    }
}

/// How the skin of open sheets was found.
fn open_text(open: &OpenSkinJson) -> String {
    let volume = Volume::from_cubic_metres;
    format!(
        "open sheets: measured on the coated side only, twice: from {} spots on the surface {} within {}, from {} points in space {} within \
         {}. Cut square at open rims; rounding it over there would add {}.",
        open.feet,
        volume(open.by_feet_m3),
        volume(open.by_feet_bound_m3),
        open.points,
        volume(open.by_points_m3),
        volume(open.by_points_bound_m3),
        volume(open.rim_round_m3),
    )
}
