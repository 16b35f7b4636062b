//! What a proof claims: all that its check needs.

use super::lemma::Lemma;
use super::standing::STANDING;
use crate::station::Station;

/// What a proof is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Subject {
    /// A requirement, by its number.
    Requirement(usize),
    /// A property of every station, by its place in [`STANDING`].
    Standing(usize),
}

impl Subject {
    /// Everything that is proved of a station: its requirements, then what holds of every station.
    pub fn all(station: &Station) -> Vec<Self> {
        let requirements = (0..station.requirements.len()).map(Self::Requirement);
        requirements.chain((0..STANDING.len()).map(Self::Standing)).collect()
    }
    /// Its name, and the name of its certificate.
    pub fn name(self, station: &Station) -> &str {
        match self {
            Self::Requirement(i) => station.requirements.get(i).map_or("", |r| r.name.text.as_str()),
            Self::Standing(i) => STANDING.get(i).map_or("", |standing| standing.name),
        }
    }
    /// What is asked, as its author wrote it.
    pub fn title(self, station: &Station) -> &str {
        match self {
            Self::Requirement(i) => station.requirements.get(i).map_or("", |r| r.title.as_str()),
            Self::Standing(_) => "of every station",
        }
    }
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
