//! Reading a settings file (book or job) with its places kept, so that every fault points at its line.
//!
//! A reader is asked for keys one by one and collects all faults; what nobody asked for is unknown.

mod fault;
mod reader;
mod values;

pub use fault::{Fault, Faults};
pub(crate) use reader::nearest;
pub(crate) use reader::parse;
pub use reader::{Placed, Reader};
pub(crate) use values::words;
pub use values::{Count, Dilution, Factor, Share, Size2, Size3, ValueError};
