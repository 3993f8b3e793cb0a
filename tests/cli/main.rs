//! Tests of the program. One binary: linking one is faster than linking one a file.
#![allow(clippy::unwrap_used, reason = "a test may")]

mod batch;
mod brief;
mod common;
mod compare;
mod core;
#[allow(clippy::print_stdout, reason = "run by hand, to be read")]
mod damaged;
mod doubts;
mod figures;
mod files;
mod licences;
mod names;
mod ours;
mod pictures;
mod placing;
mod proposed;
mod revisions;
mod schema;
mod scope;
mod sessions;
mod set;
mod sheets;
mod store;
mod undefined;
mod workbook;
