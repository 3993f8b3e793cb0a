//! Tests of the library. One binary: linking one is faster than linking one a file.
#![allow(clippy::unwrap_used, reason = "a test may")]

mod absent;
mod closed_forms;
mod common;
mod compare;
mod core;
mod files;
mod finished_size;
mod footing;
mod intake;
mod open_sheets;
mod properties;
mod scope;
mod skin_ends;
mod skin_formula;
mod skin_hidden_ends;
mod skin_returns;
mod skin_terraces;
mod skin_thin;
mod skin_volume;
mod solid_exposure;
mod survey;
mod zones_flags;
mod zones_forms;
mod zones_lath;
mod zones_lean;
mod zones_same;
mod zones_shapes;
