//! Foam by volume.

use cragskin_geom::units::Volume;

use super::{
    Measured, OrderLine,
    sum::{Sum, num},
};

/// Net foam; how many billets it takes depends on layers and nesting, so volume gives no count of them.
pub(super) fn lines(core: &Measured<Volume>) -> [OrderLine; 1] {
    let net = core.map(|volume| {
        Sum::default()
            .then("core", num(volume.cubic_feet(), ""), "cu ft")
            .note("net foam; billets follow from the layers, not from the volume")
    });
    [OrderLine::loose("foam", "cu ft", 1, net)]
}
