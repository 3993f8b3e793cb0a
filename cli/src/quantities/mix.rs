//! Bags and their water.

use cragskin_geom::units::{Mass, Volume};

use super::{
    Measured, OrderLine,
    sum::{Expr, Sum, book, fixed, num, step},
    whole_packages,
};
use crate::book::{Mix, Reckoning, WATER};

/// Fresh mix from one bag: (bag + water) / wet density.
#[must_use]
pub fn yield_of_a_bag(mix: &Mix) -> Volume {
    (mix.bag_mass + mix.water.0) / mix.wet_density
}

/// Mix to make so that `net` stays on the wall, by the book's placing and way of reckoning waste.
#[must_use]
pub fn to_make(mix: &Mix, net: Volume) -> Volume {
    let waste = mix.waste().0;
    match mix.waste_reckoned {
        Reckoning::Added => net * (1.0 + waste),
        Reckoning::Lost => net / (1.0 - waste),
    }
}

fn bags(mix: &Mix, skin: Volume) -> Sum {
    let (share, placing) = (mix.waste(), mix.placing);
    let net = num(skin.cubic_feet(), "cu ft");
    let (made, words): (Expr, _) = match mix.waste_reckoned {
        Reckoning::Added => (net * book(1.0 + share.0, "", "1 + waste"), format!("{share} added for waste, {placing}")),
        Reckoning::Lost => {
            (net / book(1.0 - share.0, "", "1 - waste"), format!("{share} of what is mixed is lost, {placing}"))
        }
    };
    let bag = book(mix.bag_mass.pounds(), "lb", "mix.bag_mass") + book(mix.water.0.pounds(), "lb", "mix.water");
    Sum::default()
        .then("yield", bag / book(mix.wet_density.pcf(), "lb per cu ft", "mix.wet_density"), "cu ft a bag")
        .then("", made / step(0, "cu ft"), "bags")
        .note(words)
}

/// Water in US gallons by mass, at the house density of water.
fn gallons(water: Mass) -> f64 {
    (water / WATER).gallons()
}

pub(super) fn lines(mix: &Mix, skin: &Measured<Volume>) -> [OrderLine; 2] {
    let bags = skin.map(|&volume| bags(mix, volume));
    // Every bag that is bought is mixed whole, so water follows the packages.
    #[expect(clippy::cast_precision_loss, reason = "bags are few")]
    let water = bags.map(|sum| {
        let count = whole_packages(sum.exact()) as f64;
        Sum::default().then(
            "",
            fixed(count, if count == 1.0 { "bag" } else { "bags" }) * num(gallons(mix.water.0), "gal"),
            "gal",
        )
    });
    [OrderLine::packed("mix", "bag", bags), OrderLine::loose("mixing water", "gal", 1, water)]
}
