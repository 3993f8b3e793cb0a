//! One report value, several writers: text for people, JSON and CSV for programs. Writers only format.

pub mod compare;
pub mod content;
pub mod core;
pub mod csv;
pub mod flag;
pub mod limits;
pub mod look;
pub mod page;
pub mod pdf;
pub mod picture;
pub mod shared;
pub mod table;
pub mod takeoff;
pub mod xlsx;
pub mod zones;
