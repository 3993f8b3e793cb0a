//! Foam by volume.

use cragskin_geom::units::Volume;

use super::{
    Measured, OrderLine,
    sum::{Sum, num},
};

/// Net foam; how many billets it takes depends on layers and nesting, so volume gives no count of them.
pub(super) fn lines(core: &Measured<Volume>, whole: Option<Volume>) -> [OrderLine; 1] {
    let net = core.map(|&volume| {
        let core = match whole {
            Some(whole) => num(whole.cubic_feet(), "cu ft whole") - num((whole - volume).cubic_feet(), "cu ft skin"),
            None => num(volume.cubic_feet(), "cu ft, the model as drawn"),
        };
        Sum::default().then("", core, "cu ft").note("net foam; billets follow from the layers, not from the volume")
    });
    [OrderLine::loose("foam", "cu ft", 1, net)]
}
