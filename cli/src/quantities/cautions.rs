//! The usual cautions, short.

use crate::book::Book;

/// One line each: dust, skin, lifting, overhead work, floor, fire. They remind; they decide nothing.
#[must_use]
pub fn cautions(book: &Book) -> Vec<String> {
    vec![
        "Dust: dry mix and ground foam or mortar carry silica; keep dust down and wear breathing protection that fits."
            .to_string(),
        "Wet mix is caustic and burns late: gloves, boots, eye protection, rinse at once.".to_string(),
        format!(
            "Lifting: a bag is {} dry, and a coated piece weighs far more than its foam; plan carts, hands and hoists.",
            book.mix.bag_mass
        ),
        "Overhead: nobody stands below fresh mix.".to_string(),
        "Floor: the weights here are estimates for asking sooner; whether a floor, wall or anchor carries them is for a \
         licensed engineer."
            .to_string(),
        "Fire: foam indoors is usually asked to have a thermal barrier or a stated cover, and a thin skin may be less; \
         ask the local code official before building."
            .to_string(),
    ]
}
