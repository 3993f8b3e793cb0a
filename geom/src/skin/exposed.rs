//! The skin of what is exposed of a solid, by the engine that fits it.

use super::{Accuracy, Coat, OpenSkin, Skin, skin, skin_between, skin_of_open};
use crate::solid::{Exposure, Facet, Solid};

/// The skin on the exposed surface of a model.
///
/// `coat` speaks of the modelled triangles. Small holes in a coat are coated over. Where every body is closed, or was closed
/// as asked, the skin is measured on a grid; where there are open sheets, or openings that were closed on a guess only, it
/// is measured on the coated side alone, and the [`OpenSkin`] tells how. When its two estimates disagree, area x thickness
/// stands in the place of the volume, with itself as the bound.
///
/// Cost: as [`skin`] or [`skin_of_open`].
#[must_use]
pub fn exposed_skin(
    solid: &Solid<'_>,
    exposure: &Exposure,
    coat: &Coat,
    accuracy: Accuracy,
) -> (Skin, Option<OpenSkin>) {
    let modelled = |source: usize| coat.coated.get(source).copied().unwrap_or(true);
    let is_coated = |source: usize| {
        if solid.is_added(source) { solid.coats_added(source, |rim| modelled(rim as usize)) } else { modelled(source) }
    };
    if exposure.is_whole() && solid.is_sound() {
        let coated: Vec<bool> = (0..solid.mesh().triangles().len()).map(is_coated).collect();
        return (skin(solid.mesh(), &Coat { coated: &coated, ..*coat }, accuracy), None);
    }
    let (surface, facets) = exposure.surface(solid);
    let coat_of = |facet: &Facet| facet.coat && is_coated(facet.source as usize);
    if solid.is_sound() {
        let coated: Vec<bool> = facets.iter().map(coat_of).collect();
        let coat = Coat { coated: &coated, ..*coat };
        return (skin_between(&solid.inside(), &surface, &coat, accuracy), None);
    }
    // What was added on a guess is no surface.
    let real: Vec<bool> = facets.iter().map(|facet| !solid.is_guessed(facet.source as usize)).collect();
    let (surface, mut kept) = (surface.keeping(&real), real.iter());
    let facets: Vec<Facet> = facets.into_iter().filter(|_| kept.next() == Some(&true)).collect();
    let coated: Vec<bool> = facets.iter().map(coat_of).collect();
    let rims = Exposure::rims(solid, &surface, &facets);
    let open = skin_of_open(&surface, &rims, &Coat { coated: &coated, ..*coat }, accuracy);
    if open.agrees() {
        return (open.skin, Some(open));
    }
    let naive = open.skin.area_times_skin;
    (Skin { volume: naive, bound: naive, ..open.skin }, Some(open))
}
