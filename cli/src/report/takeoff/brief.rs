//! The takeoff on one screen: what is ordered and planned by, and what is still to settle. The sums are in the full text.

use super::text::{amount, mark, or_none};
use super::{OrderRow, TakeoffReport, are};
use crate::figure::{FigureId, State};
use crate::job::Face;
use crate::report::look::findings_text;
use crate::report::shared::Kind;
use crate::report::table::{plain, wrapped};
use crate::report::zones::{WORTH_SAYING, ZoneRow, tape};
use cragskin_geom::intake::ReceiptCode;
use cragskin_geom::soundness::Code;
use cragskin_geom::units::{Area, Length, Volume, feet_inches, metric_length};

/// The cautions in one breath; the full text has them one by one.
const CAUTIONS: &str = "Take care: silica dust, caustic wet mix, lifting, fresh mix overhead, foam and fire. What a floor, wall or anchor \
                        carries is for a licensed engineer, fire for the local code official.";

/// Worst places named.
const WORST: usize = 3;

/// A line: what it is, and the rest beside it.
fn line(name: &str, words: &str) -> String {
    wrapped(&format!("  {name:<10} "), words)
}

impl TakeoffReport {
    /// One screen. `written`: the files of this run, a line a folder.
    #[must_use]
    pub fn brief(&self, written: &[String]) -> String {
        let mut out = format!("TAKEOFF   {}   ({})\n", plain(&self.job), plain(&self.file));
        out += &self.piece();
        out += &line("to settle", &self.to_settle());
        out += &line("coated", &self.coated_words());
        out += &line("mix", &format!("{} for {}", self.order_words(FigureId::Mix), self.skin_words()));
        out += &line("foam", &self.foam_words());
        out += &line("lath", &self.lath_words());
        let [primer, colour, sealer] =
            [FigureId::Primer, FigureId::Colour, FigureId::Sealer].map(|id| self.order_words(id));
        out += &line("coats", &format!("primer concentrate {primer}, colour {colour}, sealer {sealer}"));
        out += &line("weight", &self.weight_words());
        out += &line("floor", &self.load_words());
        let doubt = mark(&self.zones_quality);
        out += &line("two lifts", &(self.two_lifts_words() + &doubt));
        for (k, zone) in self.worst().into_iter().enumerate() {
            out += &line(if k == 0 { "worst" } else { "" }, &(zone_words(zone) + &doubt));
        }
        for (k, limit) in self.limits.iter().enumerate() {
            let told = format!("{}: {}, {}", limit.rule, limit.shown(), limit.measured_words());
            out += &line(if k == 0 { "limits" } else { "" }, &told);
        }
        out += &self.book_words();
        for (k, folder) in written.iter().enumerate() {
            out += &line(if k == 0 { "written" } else { "" }, folder);
        }
        out += &self.open_words();
        out + "\n"
            + &wrapped("", CAUTIONS)
            + "Every sum, the zones, places without foam and cautions: --full. What to fix before foam is cut: cragskin flag\n"
    }

    /// Size, how the model was read, and how its unit came to be.
    fn piece(&self) -> String {
        let size = |name: &str, m: [f64; 3]| {
            let size = m.map(Length::from_metres);
            let [wide, deep, high] = size.map(feet_inches);
            let metric = size.map(metric_length).join(" x ");
            line(name, &format!("{wide} wide, {deep} deep, {high} high  ({metric})"))
        };
        let is_core = self.face == Face::Core.to_string();
        let mut out = size(if is_core { "core" } else { "piece" }, self.size_m);
        if is_core {
            out += &size("finished", self.finished_size_m);
        }
        let face = if is_core { "CORE FACE, the skin comes on top" } else { "FINISHED FACE, foam smaller by the skin" };
        let read = format!("unit {}, up {}, visitors at {}; drawn: {face}", self.units, self.up, self.front);
        out += &line("model", &read);
        self.notes.iter().for_each(|note| out += &line("", note));
        out
    }

    /// How many questions, findings and doubts there are.
    fn to_settle(&self) -> String {
        let count =
            |n: usize, one: &str, many: &str| (n > 0).then(|| format!("{n} {}", if n == 1 { one } else { many }));
        let (notes, findings): (Vec<_>, Vec<_>) = self.findings.iter().partition(|finding| is_note(&finding.code));
        let said: Vec<String> = [
            count(self.open_sides.len(), "open question of scope", "open questions of scope"),
            count(findings.len(), "finding", "findings"),
            count(self.quality.reasons.len(), "figure in doubt", "figures in doubt"),
        ]
        .into_iter()
        .flatten()
        .collect();
        let notes = count(notes.len(), "note", "notes").map_or_else(String::new, |notes| format!("; {notes} below"));
        match (said.is_empty(), self.book_is_default) {
            (true, false) => format!("nothing{notes}"),
            (true, true) => format!("nothing but the book{notes}"),
            _ => format!("{}: see below", said.join(", ")),
        }
    }

    /// Which values of the book are invented.
    fn book_words(&self) -> String {
        match self.book_defaults_used.len() {
            _ if self.book_is_default => line(
                "book",
                "NONE OF YOURS: bag, thickness, waste, lath, weights, all are invented. Fill in your own before you order: cragskin book",
            ),
            0 => String::new(),
            n => line(
                "book",
                &format!("{n} values of the book are not yours: invented ones stand in (--full names them)"),
            ),
        }
    }

    /// Wet weight; where the foam is not defined, what hangs on it.
    fn weight_words(&self) -> String {
        let [total, skin] = [FigureId::TotalWeight(State::Wet), FigureId::SkinWeight(State::Wet)];
        let is_known = |id| self.row(id).is_some_and(|row| row.exact.is_some());
        if is_known(total) || !is_known(skin) {
            return format!("wet on the day {}", self.order_words(total));
        }
        format!("skin alone, wet, {}; with foam {}", self.order_words(skin), self.order_words(total))
    }

    /// Questions, findings and what figures are not good; nothing when all is settled.
    fn open_words(&self) -> String {
        let mut out = String::new();
        self.open_sides.iter().for_each(|open| out += &wrapped("  ? ", &open.question()));
        self.quality.doubts().for_each(|doubt| out += &wrapped("  ! ", &plain(&doubt)));
        if !self.findings.is_empty() {
            out += &findings_text(&self.findings);
        }
        if out.is_empty() { out } else { "\nTO SETTLE\n".to_owned() + &out }
    }

    fn marked(&self, figure: String, kind: Kind) -> String {
        format!("{figure}  {}", self.quality.mark(kind)).trim_end().to_owned()
    }

    /// The coated area, beside what is modelled, and what it is if what is open is answered so.
    fn coated_words(&self) -> String {
        let area = |m2: f64| Area::from_square_metres(m2).to_string();
        let coated = self.marked(or_none(self.coated_area_m2.map(area)), Kind::Area);
        let mut out = format!("{coated} of {} as modelled", area(self.as_modelled_area_m2));
        let within = self.buried_area_m2 + self.flush_area_m2 + 2.0 * self.glue_area_m2;
        if Area::from_square_metres(within) > WORTH_SAYING {
            out += &format!(", of which {} in or against other bodies", area(within));
        }
        if let (Some(m2), false) = (self.coated_area_if_open_sides_bare_m2, self.open_sides.is_empty()) {
            out += &format!("; {} if {}", area(m2), self.bare_sides());
        }
        if let (Some(m2), false) = (self.coated_area_if_left_out_m2, self.proposed.is_empty()) {
            out += &format!("; {} if {} left out", area(m2), plain(&are(&self.proposed)));
        }
        out
    }

    fn skin_words(&self) -> String {
        let volume = or_none(self.skin_volume_m3.map(Volume::from_cubic_metres));
        let thick = Length::from_millimetres(self.skin_mm);
        format!("{} of skin, {thick} thick as placed", self.marked(volume, Kind::SkinVolume))
    }

    /// Pressure on the floor, and whether the book asks for the engineer there.
    fn load_words(&self) -> String {
        let load = FigureId::FloorLoad(State::Wet);
        let note = self.row(load).map_or("", |row| &row.note);
        let colon = if note.is_empty() { "" } else { ": " };
        format!("{}{colon}{note}", self.order_words(load))
    }

    /// A row of the order or the weights.
    pub(in crate::report) fn row(&self, id: FigureId) -> Option<&OrderRow> {
        self.order.iter().chain(&self.weights).find(|row| row.id == id)
    }

    /// A row of the order or the weights, with what it is worth.
    fn order_words(&self, id: FigureId) -> String {
        let Some(row) = self.row(id) else { return "none".to_owned() };
        if row.exact.is_none() && !row.quality.reason.is_empty() {
            return format!("{}: {}", amount(row), row.quality.reason);
        }
        amount(row) + &mark(&row.quality)
    }

    fn foam_words(&self) -> String {
        let foam = self.order_words(FigureId::Foam);
        if self.row(FigureId::Foam).is_none_or(|row| row.exact.is_none()) {
            return foam;
        }
        let places = match self.no_foam.as_ref().map(Vec::len) {
            None => "; places without foam not looked for: cragskin core".to_owned(),
            Some(0) => String::new(),
            Some(1) => "; 1 place without foam or with little".to_owned(),
            Some(n) => format!("; {n} places without foam or with little"),
        };
        format!("{foam} net: buy by layers{places}")
    }

    fn lath_words(&self) -> String {
        let area = or_none(self.lath_area_m2.map(Area::from_square_metres));
        let fixings = self.row(FigureId::LathFixings).and_then(|row| row.packages);
        let fixings = fixings.map_or_else(String::new, |n| format!(", {n} fixings"));
        format!("{} for {area}{fixings}{}", self.order_words(FigureId::Lath), mark(&self.zones_quality))
    }

    /// How much takes more than one lift, and how much of that is on zones that are not listed as nobody has said that they are ours.
    fn two_lifts_words(&self) -> String {
        let undecided = self.zones.iter().zip(&self.undecided_zones).filter(|(_, undecided)| **undecided);
        let open = Area::from_square_metres(undecided.map(|(zone, _)| zone.two_lift_area_m2).sum());
        let two = or_none(self.two_lift_area_m2.map(Area::from_square_metres));
        let open = if open > WORTH_SAYING {
            format!("; {open} of it in zones that are to be settled first")
        } else {
            String::new()
        };
        format!("or more on {two}{open}")
    }

    /// The zones that take the most lifts, on the largest area; of those with one lift the worst leaning.
    fn worst(&self) -> Vec<&ZoneRow> {
        // What nobody has said to be coated is no place for a crew.
        let settled = self.zones.iter().zip(&self.undecided_zones).filter(|(_, undecided)| !**undecided);
        let mut zones: Vec<&ZoneRow> = settled.map(|(zone, _)| zone).collect();
        zones.sort_by(|a, b| {
            let rank = |z: &ZoneRow| if z.lifts_to_say() > 1 { z.two_lift_area_m2 } else { z.lean_worst_deg };
            b.lifts_to_say().cmp(&a.lifts_to_say()).then(rank(b).total_cmp(&rank(a)))
        });
        zones.truncate(WORST);
        zones
    }
}

/// A finding that changes no figure and asks nothing.
fn is_note(code: &str) -> bool {
    let read = [
        ReceiptCode::PolygonsSplit,
        ReceiptCode::ElementsSkipped,
        ReceiptCode::NameNotUtf8,
        ReceiptCode::UnknownLine,
        ReceiptCode::ColourIgnored,
        ReceiptCode::DecimalComma,
    ];
    code == Code::ZeroArea.key() || read.iter().any(|note| note.key() == code)
}

/// A zone by tape: how it leans, where it is, how many lifts.
fn zone_words(zone: &ZoneRow) -> String {
    let feet = |m2: f64| Area::from_square_metres(m2).square_feet();
    let lifts = match zone.lifts_to_say() {
        1 => "one lift".to_owned(),
        _ => zone.lifts_on(" lifts"),
    };
    format!(
        "{} {} {:.1} sq ft, to {:.0} deg; {}-{} from left, {}-{} up; {lifts}",
        zone.letter,
        zone.class,
        feet(zone.area_m2),
        zone.lean_worst_deg,
        tape(zone.x_low_m),
        tape(zone.x_high_m),
        tape(zone.z_low_m),
        tape(zone.z_high_m),
    )
}
