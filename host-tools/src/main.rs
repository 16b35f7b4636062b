//! haltproof, the command.
fn main() {}
