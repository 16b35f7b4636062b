//! What a proof claims: all that its check needs.

use super::lemma::Lemma;

/// What a certificate claims.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Claimed {
    /// Number of the requirement.
    pub requirement: usize,
    /// Scans in a row that the induction step looks at.
    pub depth: usize,
    /// Signals that are taken to do what is declared.
    pub signals: Vec<usize>,
    /// Assumptions that are taken to hold.
    pub assumptions: Vec<usize>,
    /// The invariant.
    pub lemmas: Vec<Lemma>,
}
