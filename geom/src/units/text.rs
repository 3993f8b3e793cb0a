//! Quantities as people write them: `3/4 in`, `1' 6-1/2"`, `200 sq ft/gal`.

use std::str::FromStr;

use super::{
    Angle, Area, Coverage, Density, KG_PER_POUND, Length, M2_PER_FT2, M3_PER_FT3, M3_PER_GALLON, METRES_PER_FOOT,
    METRES_PER_INCH, Mass, MassPerArea, Volume,
};

/// Why a text is not the quantity that was asked for. The words are meant for the person who wrote it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum UnitError {
    /// Nothing was written.
    #[error("nothing is written here; write for example {example}")]
    Empty {
        /// A text that would do.
        example: &'static str,
    },
    /// A number stands alone.
    #[error("`{text}` has no unit; write for example {example}")]
    NoUnit {
        /// What was written.
        text: String,
        /// A text that would do.
        example: &'static str,
    },
    /// There is a unit, but not one of this kind.
    #[error("`{unit}` is not a unit of {kind}; write for example {example}")]
    WrongUnit {
        /// The unit as written.
        unit: String,
        /// Length, area ...
        kind: &'static str,
        /// A text that would do.
        example: &'static str,
    },
    /// No number can be read.
    #[error("`{text}` does not start with a number; write for example {example}")]
    NoNumber {
        /// What was written.
        text: String,
        /// A text that would do.
        example: &'static str,
    },
    /// `1,5 m`: thousands to one reader, a decimal mark to the next.
    #[error("`{text}` has a comma in the number; use a point for decimals and nothing between thousands")]
    Comma {
        /// What was written.
        text: String,
    },
    /// Below zero where a size is wanted.
    #[error("`{text}` is below zero; a size cannot be")]
    Negative {
        /// What was written.
        text: String,
    },
    /// Too large for a number, or a fraction over zero.
    #[error("`{text}` is not a finite number")]
    NotFinite {
        /// What was written.
        text: String,
    },
}

type Units = &'static [(&'static [&'static str], f64)];

const LENGTHS: Units = &[
    (&["mm", "millimetre", "millimetres", "millimeter", "millimeters"], 0.001),
    (&["cm", "centimetre", "centimetres", "centimeter", "centimeters"], 0.01),
    (&["m", "metre", "metres", "meter", "meters"], 1.0),
    (&["in", "inch", "inches", "\""], METRES_PER_INCH),
    (&["ft", "foot", "feet", "'"], METRES_PER_FOOT),
    (&["yd", "yard", "yards"], 3.0 * METRES_PER_FOOT),
];
const AREAS: Units = &[
    (&["sqft", "ft2", "sqfoot", "sqfeet", "sf"], M2_PER_FT2),
    (&["sqin", "in2", "sqinch", "sqinches"], METRES_PER_INCH * METRES_PER_INCH),
    (&["sqyd", "yd2", "sqyard", "sqyards", "sy"], 9.0 * M2_PER_FT2),
    (&["m2", "sqm", "sqmetre", "sqmetres", "sqmeter", "sqmeters"], 1.0),
];
const VOLUMES: Units = &[
    (&["cuft", "ft3", "cufoot", "cufeet", "cf"], M3_PER_FT3),
    (&["cuyd", "yd3", "cuyard", "cuyards"], 27.0 * M3_PER_FT3),
    (&["gal", "gals", "gallon", "gallons"], M3_PER_GALLON),
    (&["l", "litre", "litres", "liter", "liters"], 0.001),
    (&["m3", "cum", "cumetre", "cumetres", "cumeter", "cumeters"], 1.0),
];
const MASSES: Units = &[
    (&["lb", "lbs", "pound", "pounds"], KG_PER_POUND),
    (&["kg", "kgs", "kilogram", "kilograms"], 1.0),
    (&["g", "gram", "grams"], 0.001),
];
const ANGLES: Units = &[(&["deg", "degree", "degrees", "°"], std::f64::consts::PI / 180.0)];
const NONE: Units = &[];
const DENSITIES: Units = &[(&["pcf"], KG_PER_POUND / M3_PER_FT3)];
// A floor load is written as a force by area; the mass that presses so hard is meant (standard gravity).
const LOADS: Units = &[(&["psf"], KG_PER_POUND / M2_PER_FT2), (&["kpa"], 1000.0 / 9.806_65)];

struct Kind {
    name: &'static str,
    example: &'static str,
    plain: Units,
    ratio: Option<(Units, Units)>,
}

impl Kind {
    fn factor(&self, unit: &str) -> Option<f64> {
        let unit = normal(unit);
        let one = |table: Units, word: &str| table.iter().find(|(names, _)| names.contains(&word)).map(|row| row.1);
        one(self.plain, &unit).or_else(|| {
            let (over, under) = self.ratio?;
            let (top, bottom) = unit.split_once('/')?;
            Some(one(over, top)? / one(under, bottom)?)
        })
    }
}

/// `Sq. Ft` and `ft²` to the one spelling of the tables.
fn normal(unit: &str) -> String {
    let mut text = unit.to_lowercase();
    for (from, to) in [
        (" per ", "/"),
        ("square", "sq"),
        ("cubic", "cu"),
        ("²", "2"),
        ("³", "3"),
        ("^", ""),
        (".", ""),
        ("′", "'"),
        ("’", "'"),
        ("″", "\""),
        ("”", "\""),
        ("''", "\""),
    ] {
        text = text.replace(from, to);
    }
    text.retain(|c| !c.is_whitespace());
    text
}

/// The number at the front (`12`, `0.5`, `.5`, `3/4`, `1-1/4`, `1 1/4`) and what follows it.
fn number(text: &str) -> Option<(f64, &str)> {
    let digits = |s: &str| s.bytes().take_while(u8::is_ascii_digit).count();
    let fraction = |s: &str| -> Option<(f64, usize)> {
        let top = digits(s);
        let rest = s.get(top..)?.strip_prefix('/')?;
        let bottom = digits(rest);
        let value = s[..top].parse::<f64>().ok()? / rest[..bottom].parse::<f64>().ok()?;
        Some((value, top + 1 + bottom))
    };
    if let Some((value, used)) = fraction(text) {
        return Some((value, &text[used..]));
    }
    let mut end = digits(text);
    let whole = end;
    if text[end..].starts_with('.') {
        end += 1 + digits(&text[end + 1..]);
    }
    let value = text[..end].parse::<f64>().ok()?;
    let rest = &text[end..];
    if end == whole {
        let joined = rest.trim_start_matches([' ', '-']);
        if joined.len() < rest.len()
            && let Some((part, used)) = fraction(joined)
        {
            return Some((value + part, &joined[used..]));
        }
    }
    Some((value, rest))
}

/// The value in SI, sign and all.
fn signed(text: &str, kind: &Kind) -> Result<f64, UnitError> {
    let example = kind.example;
    let written = || text.trim().to_string();
    let body = text.trim().replace('½', " 1/2").replace('¼', " 1/4").replace('¾', " 3/4");
    let mut rest = body.trim();
    if rest.is_empty() {
        return Err(UnitError::Empty { example });
    }
    let negative = rest.starts_with(['-', '−']);
    rest = rest.trim_start_matches(['-', '−', '+']).trim_start();
    let mut total = 0.0;
    let mut last = f64::INFINITY;
    while !rest.is_empty() {
        let (value, after) = number(rest).ok_or_else(|| UnitError::NoNumber { text: written(), example })?;
        let after = after.trim_start();
        if after.starts_with(',') {
            return Err(UnitError::Comma { text: written() });
        }
        // Feet may be followed by inches; no other kind is written in two terms, and its units may hold digits.
        let end = if kind.name == "length" {
            after.find(|c: char| c.is_ascii_digit() || c == '-').unwrap_or(after.len())
        } else {
            after.len()
        };
        let unit = after[..end].trim();
        if unit.is_empty() {
            return Err(UnitError::NoUnit { text: written(), example });
        }
        let factor = kind.factor(unit).filter(|&f| f < last).ok_or_else(|| UnitError::WrongUnit {
            unit: unit.to_string(),
            kind: kind.name,
            example,
        })?;
        total += value * factor;
        last = factor;
        rest = after[end..].trim_start_matches([' ', '-']);
    }
    if !total.is_finite() {
        return Err(UnitError::NotFinite { text: written() });
    }
    Ok(if negative { -total } else { total })
}

fn size(text: &str, kind: &Kind) -> Result<f64, UnitError> {
    let value = signed(text, kind)?;
    if value.is_sign_negative() { Err(UnitError::Negative { text: text.trim().to_string() }) } else { Ok(value) }
}

const LENGTH: Kind =
    Kind { name: "length", example: "`3/4 in`, `1 ft 6 in`, `1'6\"` or `19 mm`", plain: LENGTHS, ratio: None };

/// A length that may lie below zero: a place, not a size.
///
/// ```
/// use cragskin_geom::units::{Length, signed_length};
/// assert_eq!(signed_length("-6 in"), Ok(Length::from_inches(-6.0)));
/// assert!("-6 in".parse::<Length>().is_err());
/// ```
///
/// # Errors
/// As reading a [`Length`], but for the sign.
pub fn signed_length(text: &str) -> Result<Length, UnitError> {
    signed(text, &LENGTH).map(Length)
}

macro_rules! read {
    ($($name:ident: $kind:expr;)+) => { $(
        impl FromStr for $name {
            type Err = UnitError;
            fn from_str(text: &str) -> Result<Self, UnitError> {
                size(text, &$kind).map(Self)
            }
        }
    )+ };
}

read! {
    Length: LENGTH;
    Area: Kind { name: "area", example: "`10 sq ft` or `2 m2`", plain: AREAS, ratio: None };
    Volume: Kind { name: "volume", example: "`0.6 cu ft`, `1.1 gal` or `4.2 L`", plain: VOLUMES, ratio: None };
    Mass: Kind { name: "mass", example: "`50 lb` or `22.7 kg`", plain: MASSES, ratio: None };
    Density: Kind {
        name: "density", example: "`100 lb/ft3` or `1600 kg/m3`", plain: DENSITIES, ratio: Some((MASSES, VOLUMES))
    };
    Coverage: Kind {
        name: "coverage", example: "`200 sq ft/gal` or `5 m2/L`", plain: NONE, ratio: Some((AREAS, VOLUMES))
    };
    MassPerArea: Kind {
        name: "mass by area", example: "`3.4 lb/sq yd`, `80 psf` or `1.84 kg/m2`", plain: LOADS,
        ratio: Some((MASSES, AREAS))
    };
    Angle: Kind { name: "angle", example: "`30 deg`", plain: ANGLES, ratio: None };
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn inches(text: &str) -> f64 {
        let length: Length = text.parse().unwrap_or_else(|e| panic!("{text}: {e}"));
        length.inches()
    }

    #[test]
    fn lengths_as_people_write_them() {
        for (text, expected) in [
            ("3/4 in", 0.75),
            ("3/4\"", 0.75),
            ("¾ in", 0.75),
            ("1-1/4 in", 1.25),
            ("1 1/4 in", 1.25),
            ("1½ in", 1.5),
            ("1 ft 6 in", 18.0),
            ("1'6\"", 18.0),
            ("1'-6\"", 18.0),
            ("1' 6-1/2\"", 18.5),
            ("1' 6 1/2\"", 18.5),
            ("1′ 6″", 18.0),
            ("13 ft 9 in", 165.0),
            ("13 feet 9 inches", 165.0),
            ("6\"", 6.0),
            ("  6 In. ", 6.0),
            ("19 mm", 19.0 / 25.4),
            ("2.5 cm", 2.5 / 2.54),
            ("0.5 m", 50.0 / 2.54),
            (".5 m", 50.0 / 2.54),
            ("0 in", 0.0),
        ] {
            // Two terms are added in metres: a rounding of the last bit or two, nothing more.
            approx::assert_relative_eq!(inches(text), expected, max_relative = 4.0 * f64::EPSILON);
        }
    }

    #[test]
    fn what_is_refused_says_what_to_write() {
        let error = |text: &str| text.parse::<Length>().expect_err(text).to_string();
        assert_eq!(error("12"), "`12` has no unit; write for example `3/4 in`, `1 ft 6 in`, `1'6\"` or `19 mm`");
        assert_eq!(
            error("1 ft 6"),
            "`1 ft 6` has no unit; write for example `3/4 in`, `1 ft 6 in`, `1'6\"` or `19 mm`"
        );
        assert_eq!(error("-3 in"), "`-3 in` is below zero; a size cannot be");
        assert_eq!(error("1/0 in"), "`1/0 in` is not a finite number");
        assert_eq!(
            error("1,5 m"),
            "`1,5 m` has a comma in the number; use a point for decimals and nothing between thousands"
        );
        for text in ["", "nan in", "inf m", "in", "3 kg", "6 in 1 ft", "6 in 6 in", "1//2 in", "3 in x"] {
            assert!(text.parse::<Length>().is_err(), "{text}");
        }
        assert!(format!("{} in", "9".repeat(400)).parse::<Length>().is_err());
        assert!("10 ft".parse::<Area>().is_err());
        assert!("100 lb/ft2".parse::<Density>().is_err());
    }

    #[test]
    fn other_kinds_against_published_conversions() {
        let near = |a: f64, b: f64| approx::assert_relative_eq!(a, b, max_relative = 1e-4);
        near("10 sq ft".parse::<Area>().unwrap().square_feet(), 10.0);
        near("10 ft²".parse::<Area>().unwrap().square_feet(), 10.0);
        near("10 square feet".parse::<Area>().unwrap().square_metres(), 0.929_03); // exact foot
        near("2 m2".parse::<Area>().unwrap().square_metres(), 2.0);
        near("1 yd2".parse::<Area>().unwrap().square_metres(), 0.836_127); // exact yard
        near("100 lb/ft3".parse::<Density>().unwrap().kg_per_m3(), 1601.846); // exact pound and foot
        near("100 pcf".parse::<Density>().unwrap().kg_per_m3(), 1601.846);
        near("1600 kg per m3".parse::<Density>().unwrap().kg_per_m3(), 1600.0);
        near("50 lb".parse::<Mass>().unwrap().kilograms(), 22.679_6); // exact pound
        near("22.7 kg".parse::<Mass>().unwrap().kilograms(), 22.7);
        near("1.1 gal".parse::<Volume>().unwrap().litres(), 4.163_95); // US gallon of 231 cubic inches
        near("4.2 L".parse::<Volume>().unwrap().litres(), 4.2);
        near("1 ft3".parse::<Volume>().unwrap().gallons(), 7.480_519); // 1728 / 231
        near("200 sq ft/gal".parse::<Coverage>().unwrap().m2_per_litre(), 4.908_48);
        near("5 m2/L".parse::<Coverage>().unwrap().m2_per_litre(), 5.0);
        // ASTM C847-10a prints 2.5 lb/yd2 as 1.4 kg/m2; exact 1.356.
        near("2.5 lb/sq yd".parse::<MassPerArea>().unwrap().kg_per_m2(), 1.356_23);
        near("1.84 kg/m2".parse::<MassPerArea>().unwrap().kg_per_m2(), 1.84);
        // 1 psf = 47.88026 Pa (exact unit definitions).
        near("47.88026 kPa".parse::<MassPerArea>().unwrap().psf(), 1000.0);
        near("30 deg".parse::<Angle>().unwrap().degrees(), 30.0);
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused_without_a_panic(text in "\\PC*") {
            let _ = (text.parse::<Length>(), text.parse::<Coverage>(), signed_length(&text));
        }

        #[test]
        fn near_misses_do_not_panic(text in "[-+0-9/.'\" ¾½a-z²,]{0,20}") {
            let _ = (text.parse::<Length>(), text.parse::<MassPerArea>());
        }
    }
}
