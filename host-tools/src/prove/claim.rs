//! What a proof claims: all that its check needs.

use super::lemma::Lemma;

/// What a proof is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Subject {
    /// A requirement, by its number.
    Requirement(usize),
    /// A property of every station, by its place in [`STANDING`](super::standing::STANDING).
    Standing(usize),
}

/// What a certificate claims.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Claimed {
    /// What is never to happen: that this is missed, or violated.
    pub subject: Subject,
    /// Scans in a row that the induction step looks at.
    pub depth: usize,
    /// Signals that are taken to do what is declared.
    pub signals: Vec<usize>,
    /// Assumptions that are taken to hold.
    pub assumptions: Vec<usize>,
    /// The invariant.
    pub lemmas: Vec<Lemma>,
}
