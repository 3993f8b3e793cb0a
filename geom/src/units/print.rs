//! Quantities as a shop reads them: feet, inches and sixteenths with metric beside.

use std::fmt;

use super::{Angle, Area, Coverage, Density, Length, Mass, MassPerArea, Volume};

/// Feet, inches and the nearest sixteenth.
///
/// ```
/// use cragskin_geom::units::{Length, feet_inches};
/// assert_eq!(feet_inches(Length::from_inches(18.0625)), "1 ft 6-1/16 in");
/// assert_eq!(feet_inches(Length::from_inches(11.99)), "1 ft");
/// assert_eq!(feet_inches(Length::from_inches(0.02)), "under 1/16 in");
/// ```
#[must_use]
pub fn feet_inches(length: Length) -> String {
    let sixteenths = (length.inches().abs() * 16.0).round();
    if sixteenths == 0.0 {
        return if length == Length::ZERO { "0 in" } else { "under 1/16 in" }.to_string();
    }
    if sixteenths.is_nan() || sixteenths > 1e15 {
        return format!("{} ft", length.feet());
    }
    let sign = if length < Length::ZERO { "-" } else { "" };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let whole = sixteenths as u64;
    let (feet, inches, part) = (whole / 192, whole / 16 % 12, whole % 16);
    let mut words = Vec::new();
    if feet > 0 {
        words.push(format!("{feet} ft"));
    }
    let step = 1 << part.trailing_zeros().min(4);
    match (inches, part) {
        (0, 0) => {}
        (_, 0) => words.push(format!("{inches} in")),
        (0, _) => words.push(format!("{}/{} in", part / step, 16 / step)),
        _ => words.push(format!("{inches}-{}/{} in", part / step, 16 / step)),
    }
    format!("{sign}{}", words.join(" "))
}

/// Millimetres below a metre, metres above.
#[must_use]
pub fn metric_length(length: Length) -> String {
    let metres = length.metres();
    if metres == 0.0 {
        "0 mm".to_string()
    } else if metres.abs() < 0.0095 {
        format!("{:.1} mm", length.millimetres())
    } else if metres.abs() < 0.9995 {
        format!("{:.0} mm", length.millimetres())
    } else {
        format!("{metres:.3} m")
    }
}

/// Four figures that mean something, never less than whole numbers: 0.4500, 11.36, 1022.
fn figures(value: f64) -> String {
    let decimals = match value.abs() {
        x if x >= 999.5 => 0,
        x if x >= 99.95 => 1,
        x if x >= 9.995 => 2,
        x if x >= 0.9995 || x == 0.0 => 3,
        _ => 4,
    };
    format!("{value:.decimals$}")
}

macro_rules! shown {
    ($($name:ident: |$x:ident| $text:expr;)+) => { $(
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let $x = *self;
                f.pad(&$text)
            }
        }
    )+ };
}

shown! {
    Length: |x| format!("{} ({})", feet_inches(x), metric_length(x));
    Area: |x| format!("{:.1} sq ft ({:.2} m2)", x.square_feet(), x.square_metres());
    Volume: |x| format!("{} cu ft ({} m3)", figures(x.cubic_feet()), figures(x.cubic_metres()));
    Mass: |x| format!("{} lb ({} kg)", figures(x.pounds()), figures(x.kilograms()));
    Density: |x| format!("{:.1} lb/cu ft ({:.0} kg/m3)", x.pcf(), x.kg_per_m3());
    Coverage: |x| format!("{:.0} sq ft/gal ({:.2} m2/L)", x.sq_ft_per_gallon(), x.m2_per_litre());
    MassPerArea: |x| format!("{} lb/sq ft ({} kg/m2)", figures(x.psf()), figures(x.kg_per_m2()));
    Angle: |x| format!("{:.1} deg", x.degrees());
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn lengths_carry_and_reduce() {
        for (inches, text) in [
            (0.0, "0 in"),
            (0.03, "under 1/16 in"),
            (-0.03, "under 1/16 in"),
            (0.04, "1/16 in"),
            (0.75, "3/4 in"),
            (0.5, "1/2 in"),
            (0.97, "1 in"),
            (1.25, "1-1/4 in"),
            (11.96, "11-15/16 in"),
            (11.97, "1 ft"),
            (18.0, "1 ft 6 in"),
            (18.0625, "1 ft 6-1/16 in"),
            (12.5, "1 ft 1/2 in"),
            (165.0, "13 ft 9 in"),
            (-18.0, "-1 ft 6 in"),
        ] {
            assert_eq!(feet_inches(Length::from_inches(inches)), text, "{inches}");
        }
        assert_eq!(Length::from_inches(165.0).to_string(), "13 ft 9 in (4.191 m)");
        assert_eq!(Length::from_inches(0.75).to_string(), "3/4 in (19 mm)");
        assert_eq!(Area::from_square_feet(180.0).to_string(), "180.0 sq ft (16.72 m2)");
        assert_eq!(Volume::from_cubic_feet(11.355).to_string(), "11.36 cu ft (0.3215 m3)");
        assert_eq!(Mass::from_pounds(1022.0).to_string(), "1022 lb (463.6 kg)");
        assert_eq!(MassPerArea::from_psf(5.625).to_string(), "5.625 lb/sq ft (27.46 kg/m2)");
    }

    proptest! {
        // Half a sixteenth is the most that rounding to sixteenths can move a length.
        #[test]
        fn printed_feet_and_inches_read_back(inches in 0.04_f64..1e6) {
            let text = feet_inches(Length::from_inches(inches));
            let back: Length = text.parse().unwrap();
            prop_assert!((back.inches() - inches).abs() <= 1.0 / 32.0 + 1e-9 * inches, "{inches} -> {text}");
            prop_assert_eq!(feet_inches(back), text);
        }

        #[test]
        fn metric_reads_back(metres in 1e-3_f64..1e3) {
            let back: Length = metric_length(Length::from_metres(metres)).parse().unwrap();
            // Half of the last figure printed: 0.05 mm below 9.5 mm, else 0.5 mm.
            let step = if metres < 0.0095 { 0.05e-3 } else { 0.5e-3 };
            prop_assert!((back.metres() - metres).abs() <= step * (1.0 + 1e-9));
        }

        #[test]
        fn the_first_half_of_every_line_reads_back(value in 0.5_f64..1e5) {
            let front = |text: String| text.split(" (").next().unwrap().to_string();
            let close = |a: f64, b: f64| (a - b).abs() <= 0.051 + 1e-3 * b;
            let area: Area = front(Area::from_square_feet(value).to_string()).parse().unwrap();
            prop_assert!(close(area.square_feet(), value));
            let volume: Volume = front(Volume::from_cubic_feet(value).to_string()).parse().unwrap();
            prop_assert!(close(volume.cubic_feet(), value));
            let mass: Mass = front(Mass::from_pounds(value).to_string()).parse().unwrap();
            prop_assert!(close(mass.pounds(), value));
        }
    }
}
