//! Bytes to a [`Soup`]: triangles as the file has them, named parts, and a receipt of all that was changed or left out.

mod soup;

pub use soup::{Corners, PartName, Receipt, ReceiptCode, ReceiptLine, Soup};
