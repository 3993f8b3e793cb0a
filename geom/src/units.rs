//! Quantities. Inside every number is SI; a unit appears where a value is made and where it is read.
//!
//! The only place in the project with conversion factors. The inch, the pound and the US gallon are exact by
//! definition (25.4 mm, 0.45359237 kg, 231 cubic inches); everything else follows from them.

mod print;
mod text;

use serde::{Deserialize, Serialize};
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

pub use print::{feet_inches, metric_length};
pub use text::{UnitError, signed_length};

/// Metres in one inch, exact by the international definition of 1959.
pub const METRES_PER_INCH: f64 = 0.0254;
/// Metres in one foot.
pub const METRES_PER_FOOT: f64 = 0.3048;
/// Kilograms in one pound avoirdupois, exact.
pub const KG_PER_POUND: f64 = 0.453_592_37;
/// Cubic metres in one US gallon: 231 cubic inches, exact.
pub const M3_PER_GALLON: f64 = 231.0 * METRES_PER_INCH * METRES_PER_INCH * METRES_PER_INCH;
const M2_PER_FT2: f64 = METRES_PER_FOOT * METRES_PER_FOOT;
const M3_PER_FT3: f64 = METRES_PER_FOOT * METRES_PER_FOOT * METRES_PER_FOOT;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident { $($(#[$udoc:meta])* $from:ident / $to:ident = $factor:expr;)+ }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        pub struct $name(f64);

        impl $name {
            /// Nothing.
            pub const ZERO: Self = Self(0.0);
            $(
                $(#[$udoc])*
                #[must_use]
                pub const fn $from(value: f64) -> Self {
                    // Rust sums an empty list to -0; nobody wants to read that.
                    Self(value * $factor + 0.0)
                }
                /// The same quantity read in the unit of the name.
                #[must_use]
                pub const fn $to(self) -> f64 {
                    self.0 / $factor
                }
            )+
            /// The larger of the two.
            #[must_use]
            pub const fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }
            /// The smaller of the two.
            #[must_use]
            pub const fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }
            /// Without its sign.
            #[must_use]
            pub const fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
        impl std::iter::Sum for $name {
            fn sum<I: Iterator<Item = Self>>(items: I) -> Self {
                items.fold(Self::ZERO, Add::add)
            }
        }
    };
}

quantity! {
    /// A length.
    ///
    /// ```
    /// use cragskin_geom::units::Length;
    /// assert!((Length::from_inches(0.75).millimetres() - 19.05).abs() < 1e-12);
    /// ```
    Length {
        /// From metres.
        from_metres / metres = 1.0;
        /// From millimetres.
        from_millimetres / millimetres = 0.001;
        /// From centimetres.
        from_centimetres / centimetres = 0.01;
        /// From inches.
        from_inches / inches = METRES_PER_INCH;
        /// From feet.
        from_feet / feet = METRES_PER_FOOT;
        /// From yards.
        from_yards / yards = 3.0 * METRES_PER_FOOT;
    }
}
quantity! {
    /// An area.
    Area {
        /// From square metres.
        from_square_metres / square_metres = 1.0;
        /// From square inches.
        from_square_inches / square_inches = METRES_PER_INCH * METRES_PER_INCH;
        /// From square feet.
        from_square_feet / square_feet = M2_PER_FT2;
        /// From square yards.
        from_square_yards / square_yards = 9.0 * M2_PER_FT2;
    }
}
quantity! {
    /// A volume.
    Volume {
        /// From cubic metres.
        from_cubic_metres / cubic_metres = 1.0;
        /// From litres.
        from_litres / litres = 0.001;
        /// From cubic feet.
        from_cubic_feet / cubic_feet = M3_PER_FT3;
        /// From cubic yards.
        from_cubic_yards / cubic_yards = 27.0 * M3_PER_FT3;
        /// From US gallons.
        from_gallons / gallons = M3_PER_GALLON;
    }
}
quantity! {
    /// A mass.
    Mass {
        /// From kilograms.
        from_kilograms / kilograms = 1.0;
        /// From grams.
        from_grams / grams = 0.001;
        /// From pounds.
        from_pounds / pounds = KG_PER_POUND;
    }
}
quantity! {
    /// Mass by volume.
    Density {
        /// From kilograms per cubic metre.
        from_kg_per_m3 / kg_per_m3 = 1.0;
        /// From pounds per cubic foot.
        from_pcf / pcf = KG_PER_POUND / M3_PER_FT3;
    }
}
quantity! {
    /// Area that a volume of liquid spreads over.
    ///
    /// ```
    /// use cragskin_geom::units::{Area, Coverage};
    /// let liquid = Area::from_square_feet(400.0) / Coverage::from_sq_ft_per_gallon(200.0);
    /// assert!((liquid.gallons() - 2.0).abs() < 1e-12);
    /// ```
    Coverage {
        /// From square metres per cubic metre.
        from_m2_per_m3 / m2_per_m3 = 1.0;
        /// From square metres per litre.
        from_m2_per_litre / m2_per_litre = 1000.0;
        /// From square feet per US gallon.
        from_sq_ft_per_gallon / sq_ft_per_gallon = M2_PER_FT2 / M3_PER_GALLON;
    }
}
quantity! {
    /// Mass by area: what a square of lath weighs, what a floor is asked to carry.
    MassPerArea {
        /// From kilograms per square metre.
        from_kg_per_m2 / kg_per_m2 = 1.0;
        /// From pounds per square foot.
        from_psf / psf = KG_PER_POUND / M2_PER_FT2;
        /// From pounds per square yard.
        from_lb_per_sq_yd / lb_per_sq_yd = KG_PER_POUND / (9.0 * M2_PER_FT2);
    }
}
quantity! {
    /// An angle.
    Angle {
        /// From radians.
        from_radians / radians = 1.0;
        /// From degrees.
        from_degrees / degrees = std::f64::consts::PI / 180.0;
    }
}

impl Mul for Length {
    type Output = Area;
    fn mul(self, other: Self) -> Area {
        Area(self.0 * other.0)
    }
}
impl Mul<Length> for Area {
    type Output = Volume;
    fn mul(self, thickness: Length) -> Volume {
        Volume(self.0 * thickness.0)
    }
}
impl Mul<Density> for Volume {
    type Output = Mass;
    fn mul(self, density: Density) -> Mass {
        Mass(self.0 * density.0)
    }
}
impl Div<Coverage> for Area {
    type Output = Volume;
    fn div(self, coverage: Coverage) -> Volume {
        Volume(self.0 / coverage.0)
    }
}
impl Mul<MassPerArea> for Area {
    type Output = Mass;
    fn mul(self, weight: MassPerArea) -> Mass {
        Mass(self.0 * weight.0)
    }
}
impl Div<Area> for Mass {
    type Output = MassPerArea;
    fn div(self, area: Area) -> MassPerArea {
        MassPerArea(self.0 / area.0)
    }
}
impl Div<Volume> for Mass {
    type Output = Density;
    fn div(self, volume: Volume) -> Density {
        Density(self.0 / volume.0)
    }
}
impl Div<Length> for Volume {
    type Output = Area;
    fn div(self, thickness: Length) -> Area {
        Area(self.0 / thickness.0)
    }
}
impl Div<Density> for Mass {
    type Output = Volume;
    fn div(self, density: Density) -> Volume {
        Volume(self.0 / density.0)
    }
}

/// The unit a designer's file was drawn in. Neither STL nor OBJ says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ModelUnit {
    /// Millimetres.
    Millimetre,
    /// Centimetres.
    Centimetre,
    /// Inches.
    Inch,
    /// Feet.
    Foot,
    /// Metres.
    Metre,
}

impl ModelUnit {
    /// All of them, smallest first.
    pub const ALL: [Self; 5] = [Self::Millimetre, Self::Centimetre, Self::Inch, Self::Foot, Self::Metre];

    /// The length of one file unit.
    #[must_use]
    pub const fn one(self) -> Length {
        match self {
            Self::Millimetre => Length::from_millimetres(1.0),
            Self::Centimetre => Length::from_centimetres(1.0),
            Self::Inch => Length::from_inches(1.0),
            Self::Foot => Length::from_feet(1.0),
            Self::Metre => Length::from_metres(1.0),
        }
    }

    /// `mm`, `cm`, `in`, `ft` or `m`.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Centimetre => "cm",
            Self::Inch => "in",
            Self::Foot => "ft",
            Self::Metre => "m",
        }
    }

    /// Its name for more than one, as in a sentence: `in` would be read as a word.
    #[must_use]
    pub const fn plural(self) -> &'static str {
        match self {
            Self::Millimetre => "millimetres",
            Self::Centimetre => "centimetres",
            Self::Inch => "inches",
            Self::Foot => "feet",
            Self::Metre => "metres",
        }
    }
}
