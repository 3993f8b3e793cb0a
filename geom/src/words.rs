//! Quantities in words, US and metric side by side.

use crate::units::{Area, Length, Volume};

pub(crate) fn length(metres: f64) -> String {
    Length::from_metres(metres).to_string()
}

pub(crate) fn area(square_metres: f64) -> String {
    Area::from_square_metres(square_metres).to_string()
}

pub(crate) fn volume(cubic_metres: f64) -> String {
    Volume::from_cubic_metres(cubic_metres).to_string()
}
