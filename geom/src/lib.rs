//! Measures of a designer's triangle model. Pure: bytes and numbers in, values out; no paths, no clock, no printing.
//!
//! `bytes -> intake -> Mesh -> Model (metres, Z up) -> topology -> measures`

pub mod bodies;
pub mod compare;
pub mod display;
mod distance;
pub mod drawing;
pub mod effort;
pub mod export;
pub mod figure;
pub mod footing;
pub mod glimpse;
pub mod intake;
pub mod lean;
pub mod measure;
pub mod mesh;
pub mod numeric;
pub mod picture;
pub mod projected;
pub mod scope;
pub mod sheets;
pub mod skin;
pub mod solid;
pub mod soundness;
pub mod stance;
pub mod topology;
pub mod units;
pub mod view;
mod weld;
mod words;
pub mod zones;
