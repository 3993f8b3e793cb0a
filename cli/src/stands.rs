//! What a measured model stands on, and how its feet share the weights.

use crate::large;
use crate::quantities::Measured;
use crate::quantities::floor::{Bearing, Footing};
use cragskin_geom::effort::Effort;
use cragskin_geom::footing::{Contact, middle_of_surface, middle_of_volume, shares};
use cragskin_geom::solid::{Exposure, Solid};
use cragskin_geom::soundness::{Grade, Quality};
use cragskin_geom::units::{Length, Volume};

/// A face this near the floor is taken to rest on it, of a piece that is large enough.
const ON_THE_FLOOR: Length = Length::from_inches(0.25);
/// In sizes of the piece: the same of a smaller one.
const OF_THE_SIZE: f64 = 0.004;

/// Steps of work, each of one to three nanoseconds, that the contact may take.
const MOST_WORK: u64 = 200_000_000;
const CROSSED: &str = "too many faces cross one another on the floor to tell in time what it stands on: have them joined into one where the \
     model is drawn, or leave out what is loose";

/// The feet of a solid and their shares of the skin, lath included, and of the foam. `skin` is taken off the solid where the core
/// is what it leaves.
pub(crate) fn footing(
    solid: &Solid<'_>,
    exposure: &Exposure,
    coated: &[bool],
    skin: Option<Volume>,
    diagonal: Length,
) -> Measured<Footing> {
    let contact = Contact::of(&solid.inside(), ON_THE_FLOOR.min(diagonal * OF_THE_SIZE), &Effort::of(MOST_WORK));
    let Some(contact) = contact else {
        return Measured::not_defined(CROSSED);
    };
    if let Some(why) = no_load(&contact) {
        return Measured::not_defined(why);
    }
    let (surface, facets) = exposure.surface(solid);
    let on = |face: usize| facets[face].coat && coated.get(facets[face].source as usize).copied().unwrap_or(false);
    let whole = middle_of_volume(&surface).or_else(|| middle_of_surface(&surface, |_| 1.0)).unwrap_or_default();
    let coat = middle_of_surface(&surface, |face| if on(face) { 1.0 } else { 0.0 }).unwrap_or(whole);
    // Of what the skin leaves: the moments of the whole less those of the skin.
    let taken = skin.map_or(0.0, |skin| skin / exposure.union);
    let core = if taken < 0.99 { (whole.coords - coat.coords * taken) / (1.0 - taken) } else { whole.coords };
    let [of_skin, of_foam] = [coat.coords, core].map(|at| shares(&contact.feet, at.xy()));
    let feet = contact.feet.into_iter().zip(of_skin.into_iter().zip(of_foam));
    let feet = feet.map(|(foot, (of_skin, of_foam))| Bearing { foot, of_skin, of_foam }).collect();
    let [skin_at, foam_at] = [coat.coords, core].map(|at| at.xy());
    let apart = held_together(exposure);
    Measured::new(Footing { feet, hull: contact.hull, skin_at, foam_at, touches: contact.points }, apart)
}

/// Of the volume of all pieces: loose ones of less do not change what the floor feels.
const CRUMBS: f64 = 0.01;

/// In how many pieces that do not hold together it falls, where the floor feels that.
pub(crate) fn pieces_apart(exposure: &Exposure) -> Option<usize> {
    let pieces = exposure.apart();
    let all: Volume = pieces.iter().copied().sum();
    let loose = all - *pieces.first()?;
    (exposure.is_settled && loose > all * CRUMBS).then_some(pieces.len())
}

/// What it is worth to reckon all of it as one rigid piece.
fn held_together(exposure: &Exposure) -> Quality {
    if !exposure.is_settled {
        return large::of_footing();
    }
    pieces_apart(exposure).map_or_else(Quality::good, |count| {
        let why = format!(
            "{count} pieces that do not hold together are reckoned as one rigid piece: take each off by itself"
        );
        Quality::new(Grade::NotKnown, why)
    })
}

/// Why there is no load, if there is none: no flat foot. Whether feet carry the weight alone, beside points, is for statics to say.
fn no_load(contact: &Contact) -> Option<&'static str> {
    match (contact.feet.is_empty(), contact.points.is_empty()) {
        (true, true) => Some("nothing of it lies on the floor: what does it stand or hang on?"),
        (true, false) => Some("it touches the floor in points or lines, with no flat contact: how is it bedded?"),
        (false, _) => None,
    }
}
