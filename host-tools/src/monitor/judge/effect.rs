//! A requirement of what must be seen once a stop stands.

use super::{Seen, Shape};
use crate::station::{Mm, Rank};
use logic_rules::Algebra;
use logic_rules::monitor::{Deadline, Obligation, Outcome};

/// A requirement of what must be seen once a stop stands.
#[derive(Clone)]
pub struct Effect<A: Algebra> {
    /// Trips where it may not be seen.
    bit: usize,
    unless: Option<usize>,
    /// Rank of the stop.
    after: Rank,
    least: Rank,
    deadline: Deadline,
    /// What is due.
    pub state: Obligation<A>,
    /// It has been seen, beyond doubt, since the stop stands, or one more severe.
    pub seen: A::Bit,
    /// A fall of a speed is seen as well.
    pub slower: Option<Slower<A>>,
}

/// What is known of a speed since a stop stands, or one more severe. A verdict does not tell when a milder stop came below a more
/// severe one, and so not how fast the rope ran then: what counts is the fastest since.
#[derive(Clone)]
pub struct Slower<A: Algebra> {
    pace: usize,
    drop: Mm,
    /// The greatest speed that was known.
    pub fastest: A::Word,
}

impl<A: Algebra> Effect<A> {
    pub(super) fn new(
        a: &mut A,
        shape: Shape,
        [after, least]: [Rank; 2],
        deadline: Deadline,
        slower: Option<(usize, Mm)>,
    ) -> Self {
        let slower = slower.map(|(pace, drop)| Slower { pace, drop, fastest: a.word(0) });
        let (state, seen) = (Obligation::new(a), a.bit(false));
        Self { bit: shape.bit, unless: shape.unless, after, least, deadline, state, seen, slower }
    }
    pub(super) fn scan(&mut self, a: &mut A, seen: &Seen<'_, A>) -> Outcome<A> {
        let (at_least, above) = (seen.stood(a, self.after), seen.stood(a, self.after.saturating_add(1)));
        let stands = a.but(at_least, above);
        let doubtful = seen.trip(a, self.bit);
        let mut holds = a.not(doubtful);
        if let Some(slower) = &mut self.slower {
            let fallen = slower.scan(a, at_least, seen);
            holds = a.or(holds, fallen);
        }
        let ever = a.or(self.seen, holds);
        self.seen = a.and(at_least, ever);
        let asked = a.but(stands, self.seen);
        let asked = seen.unless(a, asked, self.unless);
        let (stood, stands) = (seen.stood(a, self.least), seen.stands(a, self.least));
        self.state.scan(a, self.deadline, asked, stood, stands)
    }
}

impl<A: Algebra> Slower<A> {
    /// Whether the speed is known to have fallen so far.
    fn scan(&mut self, a: &mut A, stands: A::Bit, seen: &Seen<'_, A>) -> A::Bit {
        let (no, zero) = (a.bit(false), a.word(0));
        let (speed, known) = seen.speeds.get(self.pace).copied().unwrap_or((zero, no));
        let mut fastest = zero;
        a.set_word(stands, &mut fastest, self.fastest);
        let more = a.at_most(fastest, speed);
        let more = a.and(more, known);
        let more = a.and(more, stands);
        a.set_word(more, &mut fastest, speed);
        self.fastest = fastest;
        let fallen = a.sub(fastest, speed);
        let enough = a.at_least(fallen, self.drop);
        a.and(known, enough)
    }
}
