//! Tests of the program. One binary: linking one is faster than linking one a file.
#![allow(clippy::unwrap_used, reason = "a test may")]

mod batch;
mod common;
mod compare;
mod core;
mod damaged;
mod doubts;
mod figures;
mod pictures;
mod revisions;
mod schema;
mod sessions;
