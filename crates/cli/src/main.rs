//! The limbledger program.
fn main() {}
