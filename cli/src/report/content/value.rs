//! A figure on the page, and how it reads in US and metric units.

use crate::figure::{Quantity, Unit};
use cragskin_geom::units::{Area, Length, Mass, MassPerArea, Volume, feet_inches, metric_length};

/// One cell.
#[derive(Clone, Debug, PartialEq)]
#[expect(missing_docs, reason = "each is its quantity")]
pub enum Value {
    Words(String),
    /// So many of something, the same in both systems.
    Count(f64, Unit),
    /// Degrees.
    Degrees(f64),
    /// A part of the whole, 1 for all of it.
    Share(f64),
    Length(Length),
    /// A length on rock, told to the inch and to the centimetre.
    Tape(Length),
    /// From one length to another, told so too.
    Span([Length; 2]),
    Area(Area),
    Volume(Volume),
    /// A liquid.
    Liquid(Volume),
    Mass(Mass),
    Load(MassPerArea),
    /// The model does not define it.
    NotDefined,
}

impl Value {
    pub(super) fn words(text: impl Into<String>) -> Self {
        Self::Words(text.into())
    }

    /// A figure of a sum, in the unit that it is reckoned in.
    pub(super) fn reckoned(number: f64, unit: Unit) -> Self {
        match unit.of(number) {
            Quantity::Area(area) => Self::Area(area),
            Quantity::Volume(volume) if unit == Unit::Gal => Self::Liquid(volume),
            Quantity::Volume(volume) => Self::Volume(volume),
            Quantity::Length(length) => Self::Length(length),
            Quantity::Mass(mass) => Self::Mass(mass),
            Quantity::Load(load) => Self::Load(load),
            _ => Self::Count(number, unit),
        }
    }

    pub(in crate::report) fn m2(value: f64) -> Self {
        // An empty sum is -0 in floating point; nobody wants to read that.
        Self::Area(Area::from_square_metres(value + 0.0))
    }

    /// As said in US units and in metric ones; the same twice where there is no difference.
    #[must_use]
    pub fn text(&self) -> [String; 2] {
        let both = |text: String| [text.clone(), text];
        let halves = |text: String| match text.split_once(" (") {
            Some((us, metric)) => [us.to_owned(), metric.trim_end_matches(')').to_owned()],
            None => both(text),
        };
        match self {
            Self::Words(text) => both(text.clone()),
            Self::Count(n, unit) => both(count(*n, *unit)),
            Self::Degrees(degrees) => both(format!("{} deg", tenth(*degrees))),
            Self::Share(share) => both(format!("{:.1} %", 100.0 * share)),
            Self::Length(length) => [feet_inches(*length), metric_length(*length)],
            Self::Tape(length) => tape(*length),
            Self::Span(ends) => {
                let [[a, b], [c, d]] = ends.map(tape);
                [format!("{a} to {c}"), format!("{b} to {d}")]
            }
            Self::Area(area) => halves(area.to_string()),
            Self::Volume(volume) => halves(volume.to_string()),
            Self::Liquid(volume) => [format!("{:.2} gal", volume.gallons()), format!("{:.2} L", volume.litres())],
            Self::Mass(mass) => halves(mass.to_string()),
            Self::Load(load) => halves(load.to_string()),
            Self::NotDefined => both("not defined".to_owned()),
        }
    }

    /// Number and unit in US and metric units, for a workbook.
    #[must_use]
    pub fn numbers(&self) -> Option<[(f64, &str); 2]> {
        let same = |value: f64, unit| [(value, unit); 2];
        Some(match self {
            Self::Words(_) | Self::Span(_) | Self::NotDefined => return None,
            Self::Count(n, unit) => same(*n, unit.word()),
            Self::Degrees(degrees) => same(tenth(*degrees), "deg"),
            Self::Share(share) => same(100.0 * share, "%"),
            Self::Length(length) | Self::Tape(length) => [(length.inches(), "in"), (length.millimetres(), "mm")],
            Self::Area(area) => [(area.square_feet(), "sq ft"), (area.square_metres(), "m2")],
            Self::Volume(volume) => [(volume.cubic_feet(), "cu ft"), (volume.cubic_metres(), "m3")],
            Self::Liquid(volume) => [(volume.gallons(), "gal"), (volume.litres(), "L")],
            Self::Mass(mass) => [(mass.pounds(), "lb"), (mass.kilograms(), "kg")],
            Self::Load(load) => [(load.psf(), "lb/sq ft"), (load.kg_per_m2(), "kg/m2")],
        })
    }
}

/// Angles are told to a tenth of a degree: a tilt board reads no finer.
fn tenth(degrees: f64) -> f64 {
    (degrees * 10.0).round() / 10.0
}

fn tape(length: Length) -> [String; 2] {
    let inches = Length::from_inches(length.inches().round());
    [feet_inches(inches), format!("{:.2} m", length.metres())]
}

fn count(n: f64, unit: Unit) -> String {
    let number = if n.fract() == 0.0 { format!("{n}") } else { format!("{n:.2}") };
    match unit {
        Unit::One if n.fract() != 0.0 => format!("{n:.3}"),
        Unit::One => number,
        _ => format!("{number} {}", unit.after(n)),
    }
}

#[cfg(test)]
mod tests {
    use super::Value;

    #[test]
    fn an_angle_is_told_to_a_tenth_of_a_degree() {
        assert_eq!(Value::Degrees(90.000_002_5).numbers(), Some([(90.0, "deg"); 2]));
        assert_eq!(Value::Degrees(12.34).numbers(), Some([(12.3, "deg"); 2]));
    }
}
