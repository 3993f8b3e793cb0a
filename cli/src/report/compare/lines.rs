//! Every line of the takeoff as old, new and difference.

use crate::figure::FigureId;
use crate::job::Face;
use crate::report::content::figure;
use crate::report::csv;
use crate::report::table::plain;
use crate::report::takeoff::TakeoffReport;
use schemars::JsonSchema;
use serde::Serialize;

/// A line of the takeoff, twice.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Line {
    /// Which figure it is.
    #[serde(skip)]
    pub id: FigureId,
    /// Section of the takeoff.
    pub section: &'static str,
    /// What it is.
    pub name: String,
    /// Unit of the exact figures, and the package if there are packages.
    pub unit: &'static str,
    /// Old figure before rounding.
    pub old: Option<f64>,
    /// New figure before rounding.
    pub new: Option<f64>,
    /// New less old.
    pub difference: Option<f64>,
    /// What the two figures are known to, added: a difference within it is no change.
    pub known_to: f64,
    /// Whole packages, old.
    pub old_packages: Option<i64>,
    /// Whole packages, new.
    pub new_packages: Option<i64>,
    /// Packages more or less.
    pub packages_difference: Option<i64>,
}

/// Lines of both, matched by figure and name, in the order of the new takeoff; those only in the old one at the end.
pub(super) fn lines(reports: &[TakeoffReport; 2]) -> Vec<Line> {
    let [old, new] = reports.each_ref().map(csv::lines);
    // The same name may come twice (two parts of one name cannot, tags differ): the order of appearance then decides.
    let line = |old: Option<&csv::Line<'_>>, new: Option<&csv::Line<'_>>| {
        Line::new(old, new, known_to(&reports[0], old) + known_to(&reports[1], new))
    };
    let mut left: Vec<Option<&csv::Line<'_>>> = old.iter().map(Some).collect();
    let mut out: Vec<Line> = Vec::new();
    for row in &new {
        let same = |old: &&csv::Line<'_>| (old.id, &old.name) == (row.id, &row.name);
        let old = left.iter_mut().find(|old| old.as_ref().is_some_and(same)).and_then(Option::take);
        out.extend(line(old, Some(row)));
    }
    out.extend(left.into_iter().filter_map(|old| line(old, None)));
    water_follows_bags(&mut out);
    out
}

/// Of a figure, what its own size in single precision and sums in another order can make it differ.
const ROUNDING: f64 = 1e-6;

/// What the figure of a line is known to: the bound of the skin's volume, and what follows from it by proportion.
fn known_to(report: &TakeoffReport, line: Option<&csv::Line<'_>>) -> f64 {
    let Some((id, value)) = line.and_then(|line| Some((line.id, line.value?))) else { return 0.0 };
    let bound = report.skin_volume_bound_m3.unwrap_or(0.0);
    let share = |volume: Option<f64>| volume.filter(|v| *v > 0.0).map_or(0.0, |volume| bound / volume);
    let skin = share(report.skin_volume_m3);
    // The foam of a finished face is what the skin leaves.
    let is_finished = report.face == Face::Finished.to_string();
    let foam = if is_finished { share(report.core_volume_m3) } else { 0.0 };
    let weight = |id: FigureId| report.weights.iter().find(|row| row.id == id).and_then(|row| row.exact).unwrap_or(0.0);
    let total = |state| weight(FigureId::SkinWeight(state)) * skin + weight(FigureId::FoamWeight) * foam;
    let off = match id {
        FigureId::SkinVolume | FigureId::SkinBound => bound,
        FigureId::Mix | FigureId::SkinWeight(_) => value * skin,
        FigureId::Primer if is_finished => value * skin,
        FigureId::CoreVolume | FigureId::Foam | FigureId::FoamWeight => value * foam,
        FigureId::TotalWeight(state) => total(state),
        FigureId::FloorLoad(state) => match weight(FigureId::TotalWeight(state)) {
            all if all > 0.0 => value * total(state) / all,
            _ => 0.0,
        },
        _ => 0.0,
    };
    off.abs() + ROUNDING * value.abs()
}

/// Mixing water is reckoned from whole bags: where the mix has not changed it has not either.
fn water_follows_bags(lines: &mut [Line]) {
    let same_mix = lines.iter().any(|line| line.id == FigureId::Mix && line.packages_difference == Some(0));
    for water in lines.iter_mut().filter(|line| same_mix && line.id == FigureId::MixingWater) {
        water.known_to = water.known_to.max(water.difference.map_or(0.0, f64::abs));
    }
}

impl Line {
    /// None of no row at all.
    fn new(old: Option<&csv::Line<'_>>, new: Option<&csv::Line<'_>>, known_to: f64) -> Option<Self> {
        let row = new.or(old)?;
        let [a, b] = [old, new].map(|row| row.and_then(|row| row.value));
        let packages = |row: &csv::Line<'_>| row.packages.and_then(|n| i64::try_from(n).ok());
        let [p, q] = [old, new].map(|row| row.and_then(packages));
        Some(Self {
            id: row.id,
            section: row.id.row().section.word(),
            name: plain(&row.name),
            unit: row.unit(),
            old: a,
            new: b,
            // The noise of binary fractions would be all that is left of two figures that are nearly the same.
            difference: a.zip(b).map(|(a, b)| csv::to_fifteen(b) - csv::to_fifteen(a)),
            known_to,
            old_packages: p,
            new_packages: q,
            packages_difference: p.zip(q).map(|(p, q)| q - p),
        })
    }

    /// Not what it was, as printed, by more than both figures are known to.
    #[must_use]
    pub fn is_news(&self) -> bool {
        self.shown().0
    }

    /// Both figures are there and the difference is within what they are known to.
    fn is_within(&self) -> bool {
        self.difference.is_some_and(|difference| difference.abs() <= self.known_to)
    }

    /// Prints a difference that is none.
    pub(super) fn is_noise(&self) -> bool {
        let (news, cells) = self.shown();
        !news && cells[0] != cells[1]
    }

    /// Whether it changed as printed, then old, new, difference and unit, in US units and again in metric.
    pub(super) fn shown(&self) -> (bool, Vec<String>) {
        if self.old_packages.is_some() || self.new_packages.is_some() {
            let whole = |n: Option<i64>| n.map_or_else(String::new, |n| n.to_string());
            let by = self.packages_difference.map_or_else(String::new, |n| format!("{n:+}"));
            let changed = self.old_packages != self.new_packages;
            return (changed, vec![whole(self.old_packages), whole(self.new_packages), by, self.unit.to_owned()]);
        }
        // The same figures in both systems; a line that has no other unit is said once.
        let [us, metric] = [0, 1].map(|system| {
            let of = |value: Option<f64>| {
                let value = figure(value?, self.id);
                value.numbers().map(|both| (both[system].0, both[system].1.to_owned()))
            };
            let number = |value: Option<f64>, signed: bool| {
                let Some((value, unit)) = of(value) else { return "not defined".to_owned() };
                let decimals = if unit == "m3" { 4 } else { 2 };
                let value = if value.abs() < 0.5 * 0.1_f64.powi(decimals) { 0.0 } else { value };
                let decimals = decimals.unsigned_abs() as usize;
                if signed { format!("{value:+.decimals$}") } else { format!("{value:.decimals$}") }
            };
            let unit = of(self.new.or(self.old)).map_or_else(|| self.unit.to_owned(), |(_, unit)| unit);
            [number(self.old, false), number(self.new, false), number(self.difference, true), unit]
        });
        let changed = us[0] != us[1] && !self.is_within();
        let metric = if us == metric { Vec::new() } else { metric.to_vec() };
        (changed, us.into_iter().chain(metric).collect())
    }

    pub(super) fn cells(&self) -> Vec<String> {
        let (changed, figures) = self.shown();
        let name = format!("{} {} {}", if changed { "*" } else { " " }, self.section, plain(&self.name));
        std::iter::once(name).chain(figures).collect()
    }
}
