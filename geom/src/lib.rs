//! Measures of a designer's triangle model. Pure: bytes and numbers in, values out; no paths, no clock, no printing.
//!
//! `bytes -> intake -> Mesh -> Model (metres, Z up) -> topology -> measures`

mod distance;
pub mod intake;
pub mod mesh;
pub mod skin;
pub mod topology;
pub mod units;
