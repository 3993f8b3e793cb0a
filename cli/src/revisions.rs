//! Two revisions measured by the same rules and the same book, and compared.

use crate::args::JobFlags;
use crate::failure::Failure;
use crate::figure::{FigureId, Quantity};
use crate::job::Limit;
use crate::load::{self, Loaded};
use crate::quantities::{Grade, Measured as Figure, Quality};
use crate::request::Request;
use crate::settings::Share;
use crate::takeoff::Takeoff;
use cragskin_geom::compare::{self, Comparison, Revision, Stance, low_in_file};
use cragskin_geom::drawing::Drawing;
use cragskin_geom::scope::FLAT_WITHIN;
use cragskin_geom::units::{Angle, Length, ModelUnit, feet_inches};
use nalgebra::Vector3;
use std::borrow::Cow;
use std::path::Path;

/// One revision, measured.
#[derive(Clone, Debug)]
pub struct Measured {
    /// The takeoff.
    pub takeoff: Takeoff,
    /// Hash of the file's bytes.
    pub hash: blake3::Hash,
    low_in_file: Vector3<f64>,
}

impl Measured {
    /// Reads and measures the model of a request.
    ///
    /// # Errors
    /// When it cannot be read, or its unit is not known.
    pub fn read(request: &Request) -> Result<Self, Failure> {
        let bytes = load::bytes(&request.model)?;
        Self::new(
            load::parse(&request.model, &bytes, &request.rules(), &request.placing)?,
            blake3::hash(&bytes),
            request,
        )
    }

    /// Measures a model that is read already; `hash` is that of its file's bytes.
    ///
    /// # Errors
    /// When its unit is not known.
    pub fn new(loaded: Loaded, hash: blake3::Hash, request: &Request) -> Result<Self, Failure> {
        let placing = request.placing.settle(&loaded.drawing)?.placing(&request.placing);
        // A missing unit is told by the takeoff.
        let low_in_file = placing.map_or_else(Vector3::zeros, |placing| low_in_file(&loaded.drawing, &placing));
        let takeoff = Takeoff::new(loaded, request)?;
        let low_in_file = low_in_file + takeoff.cleared.datum;
        Ok(Self { takeoff, hash, low_in_file })
    }

    fn revision(&self) -> Revision<'_> {
        Revision { model: &self.takeoff.checked.model, low_in_file: self.low_in_file }
    }
}

/// A whole revision in a wrong unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slip {
    /// New lengths by old lengths.
    pub factor: f64,
    /// Two units of that ratio: drawn in, read as.
    pub units: [ModelUnit; 2],
}

/// A model this many times larger or smaller than the old one is looked at for a wrong unit before it is measured: at
/// hundreds of times its size a takeoff would take for ever. The nearest two units differ by 2.54.
const SUSPICIOUS: f64 = 2.0;

/// Length of the whole from corner to corner, if its unit is known.
fn diagonal(drawing: &Drawing, request: &Request) -> Result<Option<f64>, Failure> {
    let placing = request.placing.settle(drawing)?.placing(&request.placing);
    let size = drawing.size().iter().map(|s| s * s).sum::<f64>().sqrt();
    Ok(placing.map(|placing| size * placing.unit.one().metres()))
}

fn is_suspicious(old: f64, new: f64) -> bool {
    !(1.0 / SUSPICIOUS..=SUSPICIOUS).contains(&(new / old))
}

impl Slip {
    /// Looks for one in a drawing not yet measured.
    fn find(old: &Measured, new: &Drawing, request: &Request) -> Result<Option<Self>, Failure> {
        let Some(placing) = request.placing.settle(new)?.placing(&request.placing) else { return Ok(None) };
        if !diagonal(new, request)?.is_some_and(|new| is_suspicious(old.takeoff.checked.model.diagonal(), new)) {
            return Ok(None);
        }
        let low_in_file = low_in_file(new, &placing);
        let model = new.clone().place(placing).map_err(|error| Failure::new(error.to_string()))?;
        let new = Revision { model: &model, low_in_file };
        let placement = compare::placement(&old.revision(), &new, request.book.revision_tolerance);
        Ok(placement.unit_slip().map(|(factor, units)| Self { factor: 1.0 / factor, units }))
    }
}

/// Why a scope rule finds no face, by the name that a takeoff gives it. `angle` is the book's `scope.within_angle`.
#[must_use]
pub fn finds_nothing(rule: &str, angle: Angle) -> String {
    let within = feet_inches(FLAT_WITHIN);
    let angle = format!("{} deg", (angle.degrees() * 1e6).round() / 1e6);
    if rule == "back" {
        format!("back: no flat face within {within} of the rear and {angle} of straight back")
    } else if rule == "floor" {
        format!("floor: no flat face within {within} of the lowest point and {angle} of straight down")
    } else if rule == "underside" {
        "underside: nothing near the floor faces down, farther in under the edge than a tool reaches".to_owned()
    } else if rule.starts_with("part ") {
        format!("{rule}: no part or material of that name")
    } else if rule.starts_with("box ") {
        format!("{rule}: no face has its middle in it")
    } else {
        format!("{rule}: no flat face within {angle} of that direction lies there")
    }
}

/// Requests for both: the rules, face, skin and book of the old job (or of the new one, when only that is a job file); each
/// file's own unit and up where its job says so.
///
/// # Errors
/// When a job or book cannot be read.
pub fn requests(old: &Path, new: &Path, flags: &JobFlags) -> Result<[Request; 2], Failure> {
    let is_job = |path: &Path| path.extension().is_some_and(|end| end.eq_ignore_ascii_case("toml"));
    let [a, b] = [Request::new(old, flags)?, Request::new(new, flags)?];
    Ok(if is_job(old) || !is_job(new) {
        let placing = if is_job(new) { b.placing } else { a.placing };
        let limits = if is_job(new) { b.limits } else { a.limits.clone() };
        let replayed = Request { name: b.name, model: b.model, reads: b.reads, placing, limits, ..a.clone() };
        [a, replayed]
    } else {
        let replayed = Request { name: a.name, model: a.model, reads: a.reads, ..b.clone() };
        [replayed, b]
    })
}

/// Both revisions and what lies between them.
#[derive(Debug)]
pub struct Revisions<'a> {
    /// The old one.
    pub old: Cow<'a, Measured>,
    /// The new one.
    pub new: Measured,
    /// Surfaces closer than this are the same.
    pub tolerance: Length,
    /// The new revision is drawn in a wrong unit; all that follows is as if it had been scaled back.
    pub slip: Option<Slip>,
    /// Shape against shape.
    pub shape: Comparison,
    /// What it comes to.
    pub verdict: Verdict,
}

/// What a comparison comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The same bytes.
    SameBytes,
    /// The same shape at the same place, whatever the triangles.
    SameShape,
    /// The same shape, or a changed one, at a scale that comes from a wrong unit.
    UnitSlip,
    /// The same shape at another scale.
    Scaled,
    /// The same shape at another place or turned about up.
    Moved,
    /// The same shape with another axis up.
    UpChanged,
    /// The same shape, left and right exchanged.
    Mirrored,
    /// Another shape.
    Changed,
}

impl Verdict {
    /// The fixed word for programs.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::SameBytes => "same_bytes",
            Self::SameShape => "same_shape",
            Self::UnitSlip => "unit_slip",
            Self::Scaled => "scaled",
            Self::Moved => "moved",
            Self::UpChanged => "up_changed",
            Self::Mirrored => "mirrored",
            Self::Changed => "changed",
        }
    }
}

impl Revisions<'static> {
    /// Reads, measures and compares two revisions, side by side where nothing speaks against it.
    ///
    /// # Errors
    /// When one cannot be read or its unit is not known.
    pub fn read(old: &Request, new: &Request) -> Result<Self, Failure> {
        let read = |request: &Request| {
            let bytes = load::bytes(&request.model)?;
            Ok::<_, Failure>((
                load::parse(&request.model, &bytes, &request.rules(), &request.placing)?,
                blake3::hash(&bytes),
            ))
        };
        let (a, b) = rayon::join(|| read(old), || read(new));
        let ((a, old_hash), (b, new_hash)) = (a?, b?);
        let sizes = diagonal(&a.drawing, old)?.zip(diagonal(&b.drawing, new)?);
        if sizes.is_none_or(|(a, b)| is_suspicious(a, b)) {
            return Self::new(Cow::Owned(Measured::new(a, old_hash, old)?), b, new_hash, new);
        }
        let (a, b) = rayon::join(|| Measured::new(a, old_hash, old), || Measured::new(b, new_hash, new));
        Ok(Self::between(Cow::Owned(a?), b?, None, new))
    }
}

impl<'a> Revisions<'a> {
    /// Measures the new revision and compares it with the old one within the book's tolerance.
    ///
    /// # Errors
    /// When the new revision's unit is not known.
    pub fn new(old: Cow<'a, Measured>, loaded: Loaded, hash: blake3::Hash, request: &Request) -> Result<Self, Failure> {
        let slip = Slip::find(&old, &loaded.drawing, request)?;
        let loaded = match slip {
            Some(slip) => Loaded { drawing: loaded.drawing.scaled(1.0 / slip.factor), ..loaded },
            None => loaded,
        };
        Ok(Self::between(old, Measured::new(loaded, hash, request)?, slip, request))
    }

    fn between(old: Cow<'a, Measured>, new: Measured, slip: Option<Slip>, request: &Request) -> Self {
        let tolerance = request.book.revision_tolerance;
        let shape = compare::compare(&old.revision(), &new.revision(), tolerance);
        let scaled = shape.placement.is_scaled(old.takeoff.checked.model.diagonal(), tolerance);
        let same_placing = old.takeoff.placing == new.takeoff.placing;
        let verdict = match shape.placement.stance(tolerance) {
            _ if old.hash == new.hash && same_placing => Verdict::SameBytes,
            _ if slip.is_some() => Verdict::UnitSlip,
            _ if !shape.same_shape() => Verdict::Changed,
            _ if scaled => Verdict::Scaled,
            Stance::Same => Verdict::SameShape,
            Stance::Shifted | Stance::Turned(_) => Verdict::Moved,
            Stance::UpChanged => Verdict::UpChanged,
            Stance::Mirrored => Verdict::Mirrored,
        };
        Self { old, new, tolerance, slip, shape, verdict }
    }

    /// New lengths by old lengths, 1 unless the whole is scaled.
    #[must_use]
    pub fn scale(&self) -> f64 {
        self.slip.map_or(1.0 / self.shape.placement.scale, |slip| slip.factor)
    }

    /// Change of the coated area, up or down, as a share of the old: least and most over every answer to which of the sides
    /// are bare that nobody has settled.
    fn area_changes(&self) -> [f64; 2] {
        let takeoffs = [&self.old.takeoff, &self.new.takeoff];
        let mut sides: Vec<&str> = takeoffs.iter().flat_map(|t| t.scoped.questions.iter().map(|q| q.side)).collect();
        sides.sort_unstable();
        sides.dedup();
        let answers = (0..1_u32 << sides.len()).map(|bare| {
            let is_bare = |side: &str| sides.iter().zip(0..).any(|(s, k)| *s == side && bare >> k & 1 == 1);
            let [old, new] = takeoffs.map(|t| t.coated_area_with_bare(is_bare).square_metres());
            // An area that is only noise of a difference is none.
            if old > 1e-9 { (new / old - 1.0).abs() } else { f64::from(u8::from(new > 1e-9)) }
        });
        answers.fold([f64::INFINITY, 0.0], |[least, most], change| [least.min(change), f64::max(most, change)])
    }

    /// Change of the coated area, up or down, as a share of the old; the largest where a side is not settled.
    #[must_use]
    pub fn area_change(&self) -> Share {
        Share(self.area_changes()[1])
    }

    /// What the change of the coated area is worth.
    fn area_change_quality(&self) -> Quality {
        let changes = self.area_changes();
        let takeoffs = [(&self.old.takeoff, "old"), (&self.new.takeoff, "new")];
        let doubtful = takeoffs.into_iter().find(|(takeoff, _)| takeoff.checked.quality.area.grade != Grade::Good);
        match doubtful {
            _ if self.verdict == Verdict::SameBytes => Quality::good(),
            // Of two bounds the difference is not even a bound.
            Some((takeoff, which)) => Quality::new(
                Grade::NotDefined,
                format!("the area of the {which} revision is a {}", takeoff.checked.quality.area),
            ),
            None if takeoffs.iter().any(|(takeoff, _)| !takeoff.proposed.names.is_empty()) => {
                Quality::new(Grade::NotKnown, "nobody has said whether all of both revisions is ours")
            }
            None if takeoffs.iter().any(|(takeoff, _)| takeoff.scoped.found.iter().any(|found| found.missed)) => {
                Quality::new(Grade::NotDefined, "a rule of scope finds nothing large in one of the revisions")
            }
            None if takeoffs.iter().any(|(takeoff, _)| takeoff.scoped.beside.iter().any(|beside| beside.is_bare)) => {
                Quality::new(
                    Grade::NotKnown,
                    "a turned flat beside a straight one may be bare or not in one of the revisions",
                )
            }
            None if changes[1] - changes[0] > 1e-9 => {
                let [least, most] = changes.map(|change| 100.0 * change);
                let why = format!("{least:.1} to {most:.1} %, by which of the sides are bare that nobody has settled");
                Quality::new(Grade::UpperBound, why)
            }
            None => Quality::good(),
        }
    }

    /// The value that a limit watches and what it is worth.
    #[must_use]
    pub fn watched(&self, watched: FigureId) -> Figure<Quantity> {
        match watched {
            FigureId::AreaChange => Figure::new(Quantity::Share(self.area_change()), self.area_change_quality()),
            FigureId::ChangedArea => Figure::good(Quantity::Area(self.shape.changed_area())),
            other => self.new.takeoff.figures.quantity(other),
        }
    }

    /// What a limit is judged on.
    #[must_use]
    pub fn judged(&self, limit: &Limit) -> Figure<Quantity> {
        let (changed, within) = (self.shape.changed_area(), self.shape.area_within);
        match limit.value {
            Quantity::Area(most) if limit.watched == FigureId::ChangedArea && (changed - most).abs() <= within => {
                Figure::new(
                    Quantity::Area(changed),
                    Quality::new(
                        Grade::NotDefined,
                        format!("it is known to {within} only, and the limit lies within that"),
                    ),
                )
            }
            _ => self.watched(limit.watched),
        }
    }

    /// The verdict in words.
    #[must_use]
    pub fn words(&self) -> String {
        let placement = &self.shape.placement;
        let within = self.tolerance;
        let same = format!("the same to {within}");
        let stance = match placement.stance(self.tolerance) {
            Stance::Same => String::new(),
            Stance::Shifted => {
                let [x, y, z] = [0, 1, 2].map(|k| placement.moved[k]);
                let way = |value: f64, plus: &str, minus: &str| {
                    let length = Length::from_metres(value.abs());
                    (length > self.tolerance).then(|| format!("{length} {}", if value > 0.0 { plus } else { minus }))
                };
                let ways = [way(x, "right", "left"), way(y, "back", "forward"), way(z, "up", "down")];
                format!("shifted {}", ways.into_iter().flatten().collect::<Vec<_>>().join(", "))
            }
            Stance::Turned(degrees) => {
                let way = if degrees > 0.0 { "left" } else { "right" };
                format!("turned about up by {:.1} deg to the {way} (seen from above)", degrees.abs())
            }
            Stance::UpChanged => "another axis is up".to_owned(),
            Stance::Mirrored => "mirrored, left and right exchanged".to_owned(),
        };
        let factor = self.scale();
        match self.verdict {
            Verdict::SameBytes => "no change: the same file, byte for byte".to_owned(),
            Verdict::SameShape => format!("no change: another export of the same shape, {same}"),
            Verdict::UnitSlip => {
                let units = self.slip.map_or_else(String::new, |slip| {
                    let [drawn, read] = slip.units.map(ModelUnit::symbol);
                    format!(", as when a file in {drawn} is read as one in {read}")
                });
                let rest = if self.shape.same_shape() { same } else { "the shape changed as well".to_owned() };
                let factor = short(factor);
                format!(
                    "unit slip, not growth: every length is {factor} times what it was{units}. Once scaled back: {rest}. \
                     All figures below are of the new revision scaled back."
                )
            }
            Verdict::Scaled => {
                format!("scaled: every length is {} times what it was; {same} once scaled", short(factor))
            }
            Verdict::Moved => format!("no change of shape, {same}; {stance}"),
            Verdict::UpChanged => {
                format!(
                    "no change of shape, {same}, but {stance}: leans and what stands on the floor are not comparable; say --up"
                )
            }
            Verdict::Mirrored => format!("mirrored: left and right exchanged, else {same}"),
            Verdict::Changed => {
                let also = if stance.is_empty() { String::new() } else { format!("; {stance}") };
                let places = self.shape.changes.len();
                format!(
                    "changed: {} of surface is new and {} of the old is gone, each more than {within} off the other, in {places} \
                     place{}{also}",
                    self.shape.new_area,
                    self.shape.old_area,
                    if places == 1 { "" } else { "s" }
                )
            }
        }
    }
}

/// A factor with as many digits as it needs.
fn short(factor: f64) -> String {
    let text = format!("{factor:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "0" || factor < 0.01 { format!("{factor:.3e}") } else { text.to_owned() }
}
