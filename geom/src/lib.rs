//! Measures of a designer's triangle model. Pure: bytes and numbers in, values out; no paths, no clock, no printing.
//!
//! `bytes -> intake -> Mesh -> Model (metres, Z up) -> topology -> measures`

pub mod export;
pub mod intake;
pub mod lean;
pub mod mesh;
pub mod topology;
pub mod units;
pub mod zones;
