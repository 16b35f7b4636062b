//! Proof that no history of inputs skips a required stop.

pub mod attempt;
pub mod bounded;
pub mod cells;
pub mod certificate;
pub mod circuit;
pub mod claim;
pub mod closer;
pub mod export;
pub mod frames;
pub mod graph;
pub mod history;
pub mod known;
pub mod lemma;
pub mod model;
pub mod recheck;
pub mod search;
pub mod standing;
pub mod templates;
pub mod together;
pub mod upheld;
pub mod verdict;
pub mod words;

#[cfg(test)]
mod tests;
