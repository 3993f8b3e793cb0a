//! Any bytes through the STL reader: no panic, and what is accepted keeps the promises of its type.
#![no_main]

mod check;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    if let Ok(soup) = cragskin_geom::intake::read_stl(bytes) {
        check::check(&soup);
    }
});
