//! Quantities and the units that they are reckoned and read in.

use std::fmt;

use cragskin_geom::units::{Area, Coverage, Density, Length, Mass, MassPerArea, Volume, feet_inches};

use crate::book::WATER;
use crate::settings::{Share, ValueError};

macro_rules! kinds {
    ($($(#[$doc:meta])* $kind:ident($inner:ty) $metric:literal $from:expr, $to:expr;)+) => {
        /// A value of some kind, SI inside.
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub enum Quantity { $($(#[$doc])* $kind($inner)),+ }

        impl fmt::Display for Quantity {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                if let Self::Length(length) = self {
                    return f.write_str(&feet_inches(*length));
                }
                match self { $(Self::$kind(value) => value.fmt(f)),+ }
            }
        }

        impl Quantity {
            /// The number in the SI unit of its kind; a share as a part of 1.
            #[must_use]
            pub const fn si(self) -> f64 {
                match self { $(Self::$kind(value) => $to(value)),+ }
            }
        }

        impl Unit {
            /// The quantity of its kind of so many SI units.
            #[must_use]
            pub const fn of_si(self, si: f64) -> Quantity {
                match self.of(0.0) { $(Quantity::$kind(_) => Quantity::$kind($from(si))),+ }
            }

            /// The metric unit that its kind leaves the program in.
            #[must_use]
            pub const fn metric(self) -> &'static str {
                match self.of(0.0) { $(Quantity::$kind(_) => $metric),+ }
            }

            /// A quantity of its kind as it is written, to show how.
            #[must_use]
            pub const fn example(self) -> &'static str {
                match self.of(0.0) {
                    Quantity::Area(_) => "20 sq ft",
                    Quantity::Volume(_) => "20 cu ft",
                    Quantity::Mass(_) => "500 lb",
                    Quantity::Length(_) => "8 ft",
                    Quantity::Load(_) => "50 lb/sq ft",
                    Quantity::Share(_) => "5 %",
                    Quantity::Density(_) => "90 lb/cu ft",
                    Quantity::Coverage(_) => "200 sq ft/gal",
                    Quantity::Count(_) => "20",
                }
            }

            /// Reads a quantity of its kind. A bare 0 is accepted without a unit.
            ///
            /// # Errors
            /// When the text is no such quantity.
            pub fn read(self, text: &str) -> Result<Quantity, ValueError> {
                let none = self.of(0.0);
                if text.parse() == Ok(0.0) {
                    return Ok(none);
                }
                let read = match none {
                    $(Quantity::$kind(_) => text.parse().map(Quantity::$kind).map_err(|error| error.to_string())),+
                };
                match (none, read) {
                    (Quantity::Count(_), Ok(Quantity::Count(count))) if count.is_finite() && count >= 0.0 => {
                        Ok(Quantity::Count(count))
                    }
                    (Quantity::Count(_), _) => Err(ValueError(format!("`{text}` is not a number of things; write for example `20`"))),
                    (_, read) => read.map_err(ValueError),
                }
            }
        }
    };
}

const fn plain(number: f64) -> f64 {
    number
}

const fn part(share: Share) -> f64 {
    share.0
}

kinds! {
    /// An area.
    Area(Area) "m2" Area::from_square_metres, Area::square_metres;
    /// A volume.
    Volume(Volume) "m3" Volume::from_cubic_metres, Volume::cubic_metres;
    /// A mass.
    Mass(Mass) "kg" Mass::from_kilograms, Mass::kilograms;
    /// A length.
    Length(Length) "mm" Length::from_metres, Length::metres;
    /// A mass on an area: a load on the floor, the weight of a sheet.
    Load(MassPerArea) "kg/m2" MassPerArea::from_kg_per_m2, MassPerArea::kg_per_m2;
    /// A mass in a volume.
    Density(Density) "kg/m3" Density::from_kg_per_m3, Density::kg_per_m3;
    /// An area that a volume covers.
    Coverage(Coverage) "m2/m3" Coverage::from_m2_per_m3, Coverage::m2_per_m3;
    /// A share in percent.
    Share(Share) "" Share, part;
    /// A number of things, or a plain factor.
    Count(f64) "" plain, plain;
}

macro_rules! units {
    ($($unit:ident $one:literal $many:literal $kind:ident $from:expr, $to:expr;)+) => {
        /// A unit.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        #[expect(missing_docs, reason = "each is its unit")]
        pub enum Unit { $($unit),+ }

        impl Unit {
            /// As written after 1, and after any other number.
            const fn words(self) -> [&'static str; 2] {
                match self { $(Self::$unit => [$one, $many]),+ }
            }

            /// A quantity of so many of it.
            #[must_use]
            pub const fn of(self, number: f64) -> Quantity {
                match self { $(Self::$unit => Quantity::$kind($from(number))),+ }
            }
        }

        impl Quantity {
            /// The number in a unit of its kind. A mass in gallons is one of water; a unit of another kind gives no number.
            #[must_use]
            pub fn number_in(self, unit: Unit) -> f64 {
                match (self, unit) {
                    (Self::Mass(water), Unit::Gal) => (water / WATER).gallons(),
                    $((Self::$kind(value), Unit::$unit) => $to(value),)+
                    _ => f64::NAN,
                }
            }
        }
    };
}

units! {
    One "" "" Count plain, plain;
    SqFt "sq ft" "sq ft" Area Area::from_square_feet, Area::square_feet;
    CuFt "cu ft" "cu ft" Volume Volume::from_cubic_feet, Volume::cubic_feet;
    Gal "gal" "gal" Volume Volume::from_gallons, Volume::gallons;
    In "in" "in" Length Length::from_inches, Length::inches;
    Ft "ft" "ft" Length Length::from_feet, Length::feet;
    Lb "lb" "lb" Mass Mass::from_pounds, Mass::pounds;
    Psf "lb/sq ft" "lb/sq ft" Load MassPerArea::from_psf, MassPerArea::psf;
    LbPerSqYd "lb per sq yd" "lb per sq yd" Load MassPerArea::from_lb_per_sq_yd, MassPerArea::lb_per_sq_yd;
    Pcf "lb per cu ft" "lb per cu ft" Density Density::from_pcf, Density::pcf;
    SqFtPerGal "sq ft per gal" "sq ft per gal" Coverage Coverage::from_sq_ft_per_gallon, Coverage::sq_ft_per_gallon;
    Share "as a part of 1" "as a part of 1" Share Share, part;
    Bag "bag" "bags" Count plain, plain;
    Sheet "sheet" "sheets" Count plain, plain;
    Each "each" "each" Count plain, plain;
    Coat "coat" "coats" Count plain, plain;
    Lift "lift" "lifts" Count plain, plain;
}

impl Unit {
    /// As written for one.
    #[must_use]
    pub const fn word(self) -> &'static str {
        self.words()[0]
    }

    /// As written after a number.
    #[must_use]
    pub fn after(self, number: f64) -> &'static str {
        self.words()[usize::from(number != 1.0)]
    }
}
