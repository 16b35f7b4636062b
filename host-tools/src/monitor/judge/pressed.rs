//! A requirement of what must be answered once a key comes to be held.

use super::{Seen, Shape};
use crate::station::Rank;
use logic_rules::Algebra;
use logic_rules::monitor::{Deadline, Obligation, Outcome};

/// A requirement of what must be answered once a key comes to be held.
#[derive(Clone)]
pub struct Pressed<A: Algebra> {
    /// Trips where the key may not be held.
    bit: usize,
    unless: Option<usize>,
    least: Rank,
    deadline: Deadline,
    /// What is due.
    pub state: Obligation<A>,
    /// It was held in the scan before. At power-up nobody knows for how long it has been.
    pub was: A::Bit,
}

impl<A: Algebra> Pressed<A> {
    pub(super) fn new(a: &mut A, shape: Shape, least: Rank, deadline: Deadline) -> Self {
        let (state, was) = (Obligation::new(a), a.bit(true));
        Self { bit: shape.bit, unless: shape.unless, least, deadline, state, was }
    }
    pub(super) fn scan(&mut self, a: &mut A, seen: &Seen<'_, A>) -> Outcome<A> {
        let free = seen.trip(a, self.bit);
        let held = a.not(free);
        let asked = a.but(held, self.was);
        self.was = held;
        let asked = seen.unless(a, asked, self.unless);
        let (stood, stands) = (seen.stood(a, self.least), seen.stands(a, self.least));
        self.state.scan(a, self.deadline, asked, stood, stands)
    }
}
