//! From measures and book to the order list and the weights: arithmetic that a person can redo.
//!
//! Nothing is rounded until the end of a line, and packages are rounded up once, for the whole job. Each line is an
//! expression ([`crate::figure`]), printed with numbers that give the printed result when they are put into a pocket calculator.

pub mod cautions;
pub mod coatings;
pub mod floor;
pub mod foam;
pub mod lath;
pub mod measured;
pub mod mix;
pub mod skin;
pub mod weight;

use cragskin_geom::units::{Area, Volume};

pub use measured::{Grade, Measured, Quality};

use crate::book::{Book, PerClass, WATER};
use crate::figure::{FigureId, Figures, Quantity, figure};

/// What is known of the model, each figure with what it is worth.
#[derive(Clone, Debug)]
pub struct Measures {
    /// Coated area.
    pub coated: Measured<Area>,
    /// Area under lath by lean class.
    pub under_lath: Measured<PerClass<Area>>,
    /// Lath as laid out zone by zone, where zones are known.
    pub laid: Option<lath::Laid>,
    /// The face that takes primer: the core's.
    pub primed: Measured<Area>,
    /// Skin as placed, carved-off mix included.
    pub skin: Measured<Volume>,
    /// Foam core.
    pub core: Measured<Volume>,
    /// Volume of the finished piece, where the core is what the skin leaves of it.
    pub whole: Option<Measured<Volume>>,
    /// The inside was made by closing open sheets as asked.
    pub closed_as_asked: bool,
    /// What the job stands on, if it stands on a floor.
    pub footing: Option<Measured<floor::Footing>>,
    /// Water held in pools; none where nobody measured it.
    pub standing_water: Option<Volume>,
}

/// Every figure that follows from the measures by the book's rates, with the measures themselves: the order list (mix, water,
/// primer, colour, sealer, lath, fixings, foam), then the weights (skin wet and cured, foam, lath, totals) and the load of the
/// worst foot where the job stands on a floor.
#[must_use]
pub fn figures(book: &Book, measures: &Measures) -> Figures {
    let mut figures = Figures::default();
    measures.put_into(&mut figures);
    mix::add(book, &mut figures);
    coatings::add(book, &mut figures);
    lath::add(book, measures, &mut figures);
    foam::add(book, measures, &mut figures);
    weight::add(book, measures, &mut figures);
    figures
}

impl Measures {
    fn put_into(&self, figures: &mut Figures) {
        let volume = |volume: &Volume| Quantity::Volume(*volume);
        let area = |area: &Area| Quantity::Area(*area);
        figures.measure(FigureId::CoatedArea, &self.coated.map(area));
        figures.measure(FigureId::PrimedArea, &self.primed.map(area));
        figures.measure(FigureId::SkinVolume, &self.skin.map(volume));
        figures.measure(FigureId::CoreVolume, &self.core.map(volume));
        if let Some((whole, value)) = self.whole.as_ref().and_then(|whole| Some((whole, *whole.value()?))) {
            figures.measure(FigureId::WholeVolume, &whole.map(volume));
            let taken = self.core.map(|core| Quantity::Volume(value - *core));
            let work = figure(FigureId::WholeVolume) - figure(FigureId::CoreVolume);
            figures.measure_following(FigureId::TakenBySkin, &taken, work);
        }
        if let Some(water) = self.standing_water {
            figures.measure(FigureId::WaterWeight, &Measured::good(Quantity::Mass(water * WATER)));
        }
    }
}

#[cfg(test)]
mod tests;
