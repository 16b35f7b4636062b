//! Rule text: places in it, findings about it, its syntax tree, parser and formatter.
pub mod codes;
pub mod finding;
pub mod format;
pub mod lex;
pub mod parse;
pub mod place;
pub mod show;
pub mod tree;

#[cfg(test)]
mod tests;
