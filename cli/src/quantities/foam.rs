//! Foam by volume.

use cragskin_geom::units::Volume;

use super::{
    Measured, OrderLine,
    sum::{Sum, num},
};

/// Net foam; how many billets it takes depends on layers and nesting, so volume gives no count of them.
pub(super) fn lines(core: &Measured<Volume>, whole: Option<Volume>, closed_as_asked: bool) -> [OrderLine; 1] {
    let net = core.map(|&volume| {
        let core = match whole {
            Some(whole) if closed_as_asked => {
                num(whole.cubic_feet(), "cu ft whole, closed as asked")
                    - num((whole - volume).cubic_feet(), "cu ft skin")
            }
            None if closed_as_asked => num(volume.cubic_feet(), "cu ft, the model closed as asked"),
            Some(whole) => num(whole.cubic_feet(), "cu ft whole") - num((whole - volume).cubic_feet(), "cu ft skin"),
            None => num(volume.cubic_feet(), "cu ft, the model as drawn"),
        };
        Sum::default().then("", core, "cu ft").note("net foam; billets follow from the layers, not from the volume")
    });
    [OrderLine::loose("foam", "cu ft", 1, net)]
}
