//! Quantities in words: US and metric side by side, or file units while nobody has said what they are.

use crate::units::{Area, Length, Volume};

/// What the numbers of a model mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Words {
    /// Metres.
    Metres,
    /// File units of unknown size.
    FileUnits,
}

impl Words {
    pub(crate) fn length(self, value: f64) -> String {
        match self {
            Self::Metres => Length::from_metres(value).to_string(),
            Self::FileUnits => format!("{value:.6} file units").replace(".000000", ""),
        }
    }

    /// A length of no exact end, such as that of an edge: from ten feet on in whole feet.
    pub(crate) fn run(self, value: f64) -> String {
        let length = Length::from_metres(value);
        match self {
            Self::Metres if length.feet() >= 10.0 => format!("{:.0} ft ({:.1} m)", length.feet(), length.metres()),
            _ => self.length(value),
        }
    }

    pub(crate) fn area(self, value: f64) -> String {
        match self {
            Self::Metres => Area::from_square_metres(value).to_string(),
            Self::FileUnits => "area known once the unit is".to_owned(),
        }
    }

    pub(crate) fn volume(self, value: f64) -> String {
        match self {
            Self::Metres => Volume::from_cubic_metres(value).to_string(),
            Self::FileUnits => "volume known once the unit is".to_owned(),
        }
    }
}

/// Reads and writes the values of an enum as the words that a settings file has for them.
macro_rules! written {
    ($name:ident { $($word:literal = $variant:ident),+ }) => {
        impl std::str::FromStr for $name {
            type Err = String;
            fn from_str(text: &str) -> Result<Self, String> {
                match text.trim() {
                    $($word => Ok(Self::$variant),)+
                    _ => Err(format!("`{text}` is none of: {}", [$($word),+].join(", "))),
                }
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(match self { $(Self::$variant => $word),+ })
            }
        }
    };
}
pub(crate) use written;
