//! Proof that no history of inputs skips a required stop.

pub mod attempt;
pub mod cells;
pub mod circuit;
pub mod export;
pub mod frames;
pub mod graph;
pub mod lemma;
pub mod model;
pub mod search;
pub mod templates;

#[cfg(test)]
mod tests;
