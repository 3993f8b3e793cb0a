//! Quantities in words, US and metric side by side.

use crate::units::{Area, Length, Volume};

pub(crate) fn length(metres: f64) -> String {
    let l = Length::from_metres(metres);
    format!("{:.2} ft ({:.3} m)", l.feet(), metres)
}

pub(crate) fn area(square_metres: f64) -> String {
    format!("{:.1} sq ft ({square_metres:.2} m2)", Area::from_square_metres(square_metres).square_feet())
}

pub(crate) fn volume(cubic_metres: f64) -> String {
    format!("{:.1} cu ft ({cubic_metres:.3} m3)", Volume::from_cubic_metres(cubic_metres).cubic_feet())
}
