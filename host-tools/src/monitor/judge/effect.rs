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

/// What is known of a speed since a stop stands, or one more severe. A fall is one from the speed in the first scan of the stop; but a verdict
/// does not tell when a milder stop came below a more severe one: from when that stood on, it is one from the fastest since.
#[derive(Clone)]
pub struct Slower<A: Algebra> {
    pace: usize,
    drop: Mm,
    /// The stop, or one more severe, stood in the scan before.
    pub stood: A::Bit,
    /// A more severe one has stood since.
    pub covered: A::Bit,
    /// The speed that counts; 0 if it was not known, since nothing is slower than that.
    pub before: A::Word,
}

impl<A: Algebra> Effect<A> {
    pub(super) fn new(
        a: &mut A,
        shape: Shape,
        [after, least]: [Rank; 2],
        deadline: Deadline,
        slower: Option<(usize, Mm)>,
    ) -> Self {
        let slower = slower.map(|(pace, drop)| Slower {
            pace,
            drop,
            stood: a.bit(false),
            covered: a.bit(false),
            before: a.word(0),
        });
        let (state, seen) = (Obligation::new(a), a.bit(false));
        Self { bit: shape.bit, unless: shape.unless, after, least, deadline, state, seen, slower }
    }
    pub(super) fn scan(&mut self, a: &mut A, seen: &Seen<'_, A>) -> Outcome<A> {
        let (at_least, above) = (seen.stood(a, self.after), seen.stood(a, self.after.saturating_add(1)));
        let stands = a.but(at_least, above);
        let doubtful = seen.trip(a, self.bit);
        let mut holds = a.not(doubtful);
        if let Some(slower) = &mut self.slower {
            let fallen = slower.scan(a, [at_least, above], seen);
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
    fn scan(&mut self, a: &mut A, [stands, above]: [A::Bit; 2], seen: &Seen<'_, A>) -> A::Bit {
        let (no, zero) = (a.bit(false), a.word(0));
        let (speed, known) = seen.speeds.get(self.pace).copied().unwrap_or((zero, no));
        let went_on = a.and(self.stood, stands);
        let covered = a.and(self.covered, went_on);
        self.covered = a.or(covered, above);
        self.stood = stands;
        let mut before = zero;
        a.set_word(went_on, &mut before, self.before);
        let comes = a.but(stands, went_on);
        let counts = a.or(comes, self.covered);
        let counts = a.and(counts, known);
        let faster = a.at_most(before, speed);
        let faster = a.and(faster, counts);
        a.set_word(faster, &mut before, speed);
        self.before = before;
        let fallen = a.sub(before, speed);
        let enough = a.at_least(fallen, self.drop);
        let fallen = a.and(known, enough);
        a.and(stands, fallen)
    }
}
