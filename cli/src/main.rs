//! The program: arguments in, report out.
fn main() {}
