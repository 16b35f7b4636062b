//! Requirements of what happens in a scan: passings that are too close or too far apart, what lasts from a rise on, a gauge that leaps.

use super::Seen;
use crate::station::Rank;
use logic_rules::Algebra;
use logic_rules::monitor::{Apart, Deadline, Leap, Obligation, Outcome, Stays};

/// A requirement of the distance between two passings.
#[derive(Clone)]
pub struct Spaced<A: Algebra> {
    pub(super) channel: usize,
    pub(super) pace: usize,
    /// The least distance that is allowed, or the greatest.
    pub(super) limit: u32,
    pub(super) closer: bool,
    pub(super) unless: Option<usize>,
    pub(super) least: Rank,
    pub(super) deadline: Deadline,
    /// What is due.
    pub state: Obligation<A>,
    /// What is known of the distance.
    pub distance: Apart<A>,
}

impl<A: Algebra> Spaced<A> {
    pub(super) fn scan(&mut self, a: &mut A, seen: &Seen<'_, A>) -> Outcome<A> {
        let (no, zero) = (a.bit(false), a.word(0));
        let passes = seen.rises.get(self.channel).copied().unwrap_or(no);
        let [forward, back] = seen.travel.get(self.pace).copied().unwrap_or([zero; 2]);
        let stood = seen.stood(a, self.least);
        let asked = if self.closer {
            self.distance.scan(a, self.limit, passes, forward, back)
        } else {
            // Whoever had been told of as gone is waited for no longer.
            self.distance.known = a.but(self.distance.known, stood);
            self.distance.gone(a, self.limit, passes, forward, back)
        };
        let asked = seen.unless(a, asked, self.unless);
        let stands = seen.stands(a, self.least);
        self.state.scan(a, self.deadline, asked, stood, stands)
    }
}

/// A requirement of what lasts from a rise on.
#[derive(Clone)]
pub struct Stayed<A: Algebra> {
    pub(super) bit: usize,
    pub(super) channel: usize,
    pub(super) lasting: u32,
    pub(super) unless: Option<usize>,
    pub(super) least: Rank,
    pub(super) deadline: Deadline,
    /// What is due.
    pub state: Obligation<A>,
    /// For how long it has lasted.
    pub stays: Stays<A>,
}

impl<A: Algebra> Stayed<A> {
    pub(super) fn scan(&mut self, a: &mut A, seen: &Seen<'_, A>) -> Outcome<A> {
        let rises = seen.rises.get(self.channel).copied().unwrap_or_else(|| a.bit(false));
        let holds = seen.trip(a, self.bit);
        let asked = self.stays.scan(a, self.lasting, rises, holds);
        let asked = seen.unless(a, asked, self.unless);
        let (stood, stands) = (seen.stood(a, self.least), seen.stands(a, self.least));
        self.state.scan(a, self.deadline, asked, stood, stands)
    }
}

/// A requirement of how far a gauge moves in a scan.
#[derive(Clone)]
pub struct Leaps<A: Algebra> {
    pub(super) gauge: usize,
    /// Steps that are allowed.
    pub(super) most: u32,
    pub(super) unless: Option<usize>,
    pub(super) least: Rank,
    pub(super) deadline: Deadline,
    /// What is due.
    pub state: Obligation<A>,
    /// What was read before.
    pub leap: Leap<A>,
}

impl<A: Algebra> Leaps<A> {
    pub(super) fn scan(&mut self, a: &mut A, seen: &Seen<'_, A>) -> Outcome<A> {
        let (no, zero) = (a.bit(false), a.word(0));
        let (value, good) = seen.readings.get(self.gauge).copied().unwrap_or((zero, no));
        let asked = self.leap.scan(a, self.most, value, good);
        let asked = seen.unless(a, asked, self.unless);
        let (stood, stands) = (seen.stood(a, self.least), seen.stands(a, self.least));
        self.state.scan(a, self.deadline, asked, stood, stands)
    }
}
