//! Written values that are no plain quantity: shares, dilutions, sheet and billet sizes, counts.

use std::{fmt, str::FromStr};

use cragskin_geom::units::{Length, feet_inches};

/// Why a written value is refused, in words for the person who wrote it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct ValueError(pub String);

/// An enum that is written as one of a few words.
macro_rules! words {
    ($($name:ident { $($word:literal = $variant:ident),+ })+) => { $(
        impl std::str::FromStr for $name {
            type Err = $crate::settings::ValueError;
            fn from_str(text: &str) -> Result<Self, $crate::settings::ValueError> {
                match text.trim() {
                    $($word => Ok(Self::$variant),)+
                    _ => Err($crate::settings::ValueError(format!("`{text}` is none of: {}", [$($word),+].join(", ")))),
                }
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(match self { $(Self::$variant => $word),+ })
            }
        }
    )+ };
}
pub(crate) use words;

fn refuse<T>(text: impl Into<String>) -> Result<T, ValueError> {
    Err(ValueError(text.into()))
}

/// A share written in percent: `10 %`.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Share(pub f64);

impl FromStr for Share {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        let Some(number) = text.trim().strip_suffix('%') else {
            return refuse(format!("`{text}` has no percent sign; write for example `10 %`"));
        };
        match number.trim().parse::<f64>() {
            Ok(percent) if percent.is_finite() => Ok(Self(percent / 100.0)),
            _ => refuse(format!("`{text}` is not a share; write for example `10 %`")),
        }
    }
}

impl fmt::Display for Share {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Two decimals of a percent, trailing zeros dropped: 10 %, 2.5 %.
        write!(f, "{} %", (self.0 * 1e4).round() / 1e2)
    }
}

/// Parts of water to one part of concentrate, written concentrate first: `1:1`, `1:3`.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Dilution(pub f64);

impl FromStr for Dilution {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        let parts = text.split_once(':').and_then(|(a, b)| {
            let concentrate = a.trim().parse::<f64>().ok()?;
            let water = b.trim().parse::<f64>().ok()?;
            (concentrate > 0.0 && (0.0..f64::INFINITY).contains(&(water / concentrate))).then_some(water / concentrate)
        });
        parts.map(Self).ok_or_else(|| {
            ValueError(format!("`{text}` is not a dilution; write concentrate to water, for example `1:1`"))
        })
    }
}

impl fmt::Display for Dilution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "1:{}", self.0)
    }
}

/// A plain factor.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Factor(pub f64);

impl FromStr for Factor {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        match text.trim().parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(Self(value)),
            _ => refuse(format!("`{text}` is not a plain number")),
        }
    }
}

impl fmt::Display for Factor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// A whole number of things.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Count(pub u32);

impl FromStr for Count {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        text.trim().parse().map(Self).map_err(|_| ValueError(format!("`{text}` is not a whole number")))
    }
}

impl fmt::Display for Count {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// `27 in x 96 in` or `27 x 96 in`: a size without a unit takes the unit of the last.
fn sizes<const N: usize>(text: &str) -> Result<[Length; N], ValueError> {
    let example = if N == 2 { "27 in x 96 in" } else { "24 in x 48 in x 96 in" };
    let parts: Vec<&str> = text.split(['x', 'X', '×']).map(str::trim).collect();
    if parts.len() != N {
        return refuse(format!("`{text}` is not {N} sizes; write for example `{example}`"));
    }
    let last = parts[N - 1];
    let unit = last.trim_start_matches(|c: char| c.is_ascii_digit() || " ./-".contains(c));
    let mut out = [Length::ZERO; N];
    for (slot, part) in out.iter_mut().zip(&parts) {
        let bare = part.chars().all(|c| c.is_ascii_digit() || " ./-".contains(c));
        let full = if bare { format!("{part} {unit}") } else { (*part).to_string() };
        *slot = full.parse().map_err(|e| ValueError(format!("{e}")))?;
        if *slot == Length::ZERO {
            return refuse(format!("`{text}` has a size of zero"));
        }
    }
    Ok(out)
}

/// A sheet: width and length.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Size2(pub [Length; 2]);

/// A billet: three sides.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Size3(pub [Length; 3]);

impl FromStr for Size2 {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        sizes(text).map(Self)
    }
}

impl FromStr for Size3 {
    type Err = ValueError;
    fn from_str(text: &str) -> Result<Self, ValueError> {
        sizes(text).map(Self)
    }
}

impl fmt::Display for Size2 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0.map(feet_inches).join(" x "))
    }
}

impl fmt::Display for Size3 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0.map(feet_inches).join(" x "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_share_the_last_unit() {
        let sheet: Size2 = "27 x 96 in".parse().unwrap();
        assert_eq!(sheet, "27 in x 96 in".parse().unwrap());
        let billet: Size3 = "24 in × 48 in × 96 in".parse().unwrap();
        assert_eq!(billet.to_string(), "2 ft x 4 ft x 8 ft");
        for text in ["27 in", "27 x 96", "0 x 96 in", "27 x 96 x 3 in", "-27 x 96 in", "", "x"] {
            assert!(text.parse::<Size2>().is_err(), "{text}");
        }
    }

    #[test]
    fn shares_and_dilutions() {
        assert_eq!("10 %".parse(), Ok(Share(0.1)));
        assert_eq!("2.5%".parse::<Share>().unwrap().to_string(), "2.5 %");
        assert!("0.1".parse::<Share>().is_err() && "inf %".parse::<Share>().is_err());
        assert_eq!("1:1".parse(), Ok(Dilution(1.0)));
        assert_eq!("2:1".parse(), Ok(Dilution(0.5)));
        assert!(
            "1".parse::<Dilution>().is_err()
                && "0:1".parse::<Dilution>().is_err()
                && "1:-1".parse::<Dilution>().is_err()
        );
    }
}
