//! What the program knows beyond geometry: the shop's book, the job, and the order list that follows from both.
//!
//! `book + job + measures -> order lines`. Nothing here reads a file or prints; the program does.

pub mod book;
pub mod job;
pub mod quantities;
pub mod settings;
