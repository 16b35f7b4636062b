//! Rule text: places in it, findings about it, its syntax tree, parser and formatter.
pub mod codes;
pub mod finding;
pub mod place;
pub mod tree;
