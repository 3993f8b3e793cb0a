//! Numbers of the material book that figures are reckoned with, by their keys.

use super::{Quantity, Unit};
use crate::book::{Book, Class};

macro_rules! keys {
    ($($key:ident $name:literal $unit:ident $kind:ident |$book:ident| $value:expr;)+) => {
        /// A number of the book.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        #[expect(missing_docs, reason = "each is a key of the book, see `BookKey::name`")]
        pub enum BookKey { $($key,)+ FixingGrid(Class) }

        impl BookKey {
            /// As the book writes it.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$key => $name,)+
                    Self::FixingGrid(Class::Top) => "lath.fixing_grid.top",
                    Self::FixingGrid(Class::Slope) => "lath.fixing_grid.slope",
                    Self::FixingGrid(Class::Wall) => "lath.fixing_grid.wall",
                    Self::FixingGrid(Class::Undercut) => "lath.fixing_grid.undercut",
                    Self::FixingGrid(Class::Soffit) => "lath.fixing_grid.soffit",
                }
            }

            /// The unit that it is shown in.
            #[must_use]
            pub const fn unit(self) -> Unit {
                match self { $(Self::$key => Unit::$unit,)+ Self::FixingGrid(_) => Unit::In }
            }

            /// What a book says.
            #[must_use]
            pub fn of(self, book: &Book) -> Quantity {
                match self {
                    $(Self::$key => { let $book = book; Quantity::$kind($value) })+
                    Self::FixingGrid(class) => Quantity::Length(book.lath.fixing_grid[class]),
                }
            }
        }
    };
}

keys! {
    CoverMin "cover.min" In Length |book| book.thickness.cover_min;
    CoverSpread "cover.spread" In Length |book| book.thickness.cover_spread;
    CarveDepth "carve.depth" In Length |book| book.thickness.carve_depth;
    BagMass "mix.bag_mass" Lb Mass |book| book.mix.bag_mass;
    Water "mix.water" Lb Mass |book| book.mix.water.0;
    WetDensity "mix.wet_density" Pcf Density |book| book.mix.wet_density;
    CuredDensity "mix.cured_density" Pcf Density |book| book.mix.cured_density;
    WasteTrowel "waste.trowel" Share Share |book| book.mix.waste_trowel;
    WasteSpray "waste.spray" Share Share |book| book.mix.waste_spray;
    PrimerCoverage "primer.coverage" SqFtPerGal Coverage |book| book.coatings.primer_coverage;
    PrimerDilution "primer.dilution, parts of water" One Count |book| book.coatings.primer_dilution.0;
    ColourCoverage "colour.coverage" SqFtPerGal Coverage |book| book.coatings.colour_coverage;
    ColourCoats "colour.coats" Coat Count |book| f64::from(book.coatings.colour_coats.0);
    SealerCoverage "sealer.coverage" SqFtPerGal Coverage |book| book.coatings.sealer_coverage;
    SealerCoats "sealer.coats" Coat Count |book| f64::from(book.coatings.sealer_coats.0);
    Texture "coating.texture" One Count |book| book.coatings.texture.0;
    SheetWidth "lath.sheet, width" In Length |book| book.lath.sheet.0[0];
    SheetLength "lath.sheet, length" In Length |book| book.lath.sheet.0[1];
    SideLap "lath.side_lap" In Length |book| book.lath.side_lap;
    EndLap "lath.end_lap" In Length |book| book.lath.end_lap;
    LathWaste "lath.waste" Share Share |book| book.lath.waste;
    LathWeight "lath.weight" LbPerSqYd Load |book| book.lath.weight;
    FoamDensity "foam.density" Pcf Density |book| book.foam.density;
}

impl BookKey {
    /// Lath is laid out with it on the unrolled zones: another value asks for another takeoff, not for another sum alone.
    #[must_use]
    pub const fn lays_out(self) -> bool {
        matches!(self, Self::SheetWidth | Self::SheetLength | Self::SideLap | Self::EndLap | Self::FixingGrid(_))
    }
}
