//! One report value, several writers: text for people, JSON and CSV for programs. Writers only format.

pub mod core;
pub mod csv;
pub mod flag;
pub mod look;
pub mod shared;
pub mod table;
pub mod takeoff;
pub mod zones;
