//! Requirement monitors, over the same algebra as the step but apart from it: they read raw inputs,
//! the verdict, and nothing else of the rules.

use crate::algebra::Algebra;

/// What a requirement asks in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Deadline {
    /// Scans, after the first, for which the condition must have held.
    pub lasting: u32,
    /// Scans, after the one that completes it, in which the answer must come.
    pub within: u32,
}

/// An obligation that a condition raises.
#[derive(Debug, Clone, Copy)]
pub struct Obligation<A: Algebra> {
    /// Scans for which the condition has held.
    pub held: A::Word,
    /// Scans since it was due, counting the first; 0 if it is not.
    pub due: A::Word,
}

/// What became of an obligation in this scan.
#[derive(Clone, Copy)]
pub struct Outcome<A: Algebra> {
    /// The answer came, this many scans after the condition was complete.
    pub met: A::Bit,
    /// The deadline passed in this scan without the answer.
    pub missed: A::Bit,
    /// Scans it has been due, counting the first.
    pub waited: A::Word,
}

impl<A: Algebra> Obligation<A> {
    /// Nothing is due.
    pub fn new(a: &mut A) -> Self {
        Self { held: a.word(0), due: a.word(0) }
    }
    /// One scan. `served` is whether the answer stood in the verdict before, `answered` whether it stands now.
    ///
    /// While the answer stands nothing is asked; once it is gone the condition must hold for its full time anew.
    pub fn scan(
        &mut self,
        a: &mut A,
        deadline: Deadline,
        condition: A::Bit,
        served: A::Bit,
        answered: A::Bit,
    ) -> Outcome<A> {
        let (one, zero) = (a.word(1), a.word(0));
        let complete = deadline.lasting.saturating_add(1);
        let mut held = a.add(self.held, one, complete);
        let idle = a.not(condition);
        let idle = a.or(idle, served);
        a.set_word(idle, &mut held, zero);
        self.held = held;
        let raised = a.at_least(held, complete);
        let already = a.at_least(self.due, 1);
        let counts = a.or(raised, already);
        let counts = a.but(counts, served);
        let top = deadline.within.saturating_add(2);
        // The last scan in which it may come still counts, so that one without it there has missed it.
        let last = deadline.within.saturating_add(1);
        let mut due = a.add(self.due, one, top);
        let rests = a.not(counts);
        a.set_word(rests, &mut due, zero);
        let too_late = a.at_least(self.due, last);
        let met = a.but(counts, too_late);
        let met = a.and(met, answered);
        let late = a.at_least(due, last);
        let before = a.at_least(self.due, last);
        let missed = a.but(late, before);
        let missed = a.but(missed, answered);
        let waited = due;
        a.set_word(answered, &mut due, zero);
        self.due = due;
        Outcome { met, missed, waited }
    }
}

/// The window of a requirement that follows a carrier.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Window {
    /// Least age at which it may arrive.
    pub earliest: u32,
    /// Greatest age at which it may arrive.
    pub latest: u32,
}

/// What happens on the stretch in a scan.
#[derive(Clone, Copy)]
pub struct Passing<A: Algebra> {
    /// The first detector rises.
    pub starts: A::Bit,
    /// The second detector rises.
    pub arrives: A::Bit,
    /// By how much ages grow.
    pub forward: A::Word,
    /// By how much they shrink.
    pub back: A::Word,
    /// Whoever is under way is not followed any longer: a stop stands, the speed has left its band, or nothing is asked.
    pub lost: A::Bit,
}

/// Who is on a stretch, as far as raw inputs can tell.
///
/// After a stop nobody knows who is parked on it. Whoever is has left it, or has been reported, once
/// the rope has run the whole window; from then on everybody is counted. An arrival before that which
/// could be a parked carrier as well as a counted one makes the count begin anew.
#[derive(Debug, Clone, Copy)]
pub struct Traffic<A: Algebra> {
    /// Everybody on it is counted.
    pub known: A::Bit,
    /// How many are counted.
    pub inside: A::Word,
    /// Rope, or scans, since the count began.
    pub run: A::Word,
}

/// Carriers that are counted at most; with more nobody is known.
pub const MOST_INSIDE: u32 = 100;

impl<A: Algebra> Traffic<A> {
    /// Nobody is known.
    pub fn new(a: &mut A) -> Self {
        Self { known: a.bit(false), inside: a.word(0), run: a.word(0) }
    }
    /// Somebody arrives though it was known that nobody is under way; asked before the scan is counted.
    pub fn stray(&self, a: &mut A, passing: &Passing<A>) -> A::Bit {
        let some = a.at_least(self.inside, 1);
        let stray = a.and(passing.arrives, self.known);
        let stray = a.but(stray, some);
        a.but(stray, passing.lost)
    }
    /// It is known that more than so many are under way, fewer than are counted at most; asked once the scan is counted.
    pub fn more_than(&self, a: &mut A, most: u32) -> A::Bit {
        let more = a.at_least(self.inside, most.saturating_add(1));
        a.and(more, self.known)
    }
    /// One scan. Gives how many are ahead of a carrier that starts in it, and whether that is known.
    pub fn scan(&mut self, a: &mut A, window: Window, passing: &Passing<A>) -> (A::Word, A::Bit) {
        let (yes, no, one, zero) = (a.bit(true), a.bit(false), a.word(1), a.word(0));
        let beyond = window.latest.saturating_add(1);
        let grown = a.add(self.run, passing.forward, beyond);
        self.run = a.sub(grown, passing.back);
        let some = a.at_least(self.inside, 1);
        let doubtful = a.and(passing.arrives, some);
        let doubtful = a.but(doubtful, self.known);
        let anew = a.or(doubtful, passing.lost);
        let fewer = a.sub(self.inside, one);
        a.set_word(passing.arrives, &mut self.inside, fewer);
        a.set_word(anew, &mut self.inside, zero);
        a.set_word(anew, &mut self.run, zero);
        a.set_bit(anew, &mut self.known, no);
        let through = a.at_least(self.run, beyond);
        a.set_bit(through, &mut self.known, yes);
        let (ahead, known) = (self.inside, self.known);
        let more = a.add(self.inside, one, MOST_INSIDE);
        // Who starts while nobody is followed is as little known as one who is parked.
        let counted = a.but(passing.starts, passing.lost);
        a.set_word(counted, &mut self.inside, more);
        let full = a.at_least(self.inside, MOST_INSIDE);
        a.set_word(full, &mut self.inside, zero);
        a.set_word(full, &mut self.run, zero);
        a.set_bit(full, &mut self.known, no);
        (ahead, known)
    }
}

/// Follows one carrier, any one: `pick` chooses it, which a prover leaves free and a replay deals out in turn.
#[derive(Debug, Clone, Copy)]
pub struct Follower<A: Algebra> {
    /// It follows somebody.
    pub following: A::Bit,
    /// Carriers that must arrive before that one.
    pub ahead: A::Word,
    /// Its age.
    pub age: A::Word,
}

impl<A: Algebra> Follower<A> {
    /// Follows nobody.
    pub fn new(a: &mut A) -> Self {
        Self { following: a.bit(false), ahead: a.word(0), age: a.word(0) }
    }
    /// One scan; `ahead` is how many are ahead of a carrier that starts, `pick` whether it is to be followed.
    /// Gives whether the carrier came outside the window, or has not come.
    pub fn scan(&mut self, a: &mut A, window: Window, passing: &Passing<A>, ahead: A::Word, pick: A::Bit) -> A::Bit {
        let (no, one, zero) = (a.bit(false), a.word(1), a.word(0));
        let beyond = window.latest.saturating_add(1);
        let grown = a.add(self.age, passing.forward, beyond);
        self.age = a.sub(grown, passing.back);
        a.set_bit(passing.lost, &mut self.following, no);
        let behind = a.at_least(self.ahead, 1);
        let arrival = a.and(self.following, passing.arrives);
        let own = a.but(arrival, behind);
        let (old_enough, over) = (a.at_least(self.age, window.earliest), a.at_least(self.age, beyond));
        let early = a.but(own, old_enough);
        let late = a.and(self.following, over);
        let wrong = a.or(early, late);
        let fewer = a.sub(self.ahead, one);
        a.set_word(arrival, &mut self.ahead, fewer);
        let done = a.or(own, late);
        a.set_bit(done, &mut self.following, no);
        let starts = a.and(passing.starts, pick);
        let starts = a.but(starts, passing.lost);
        let takes = a.but(starts, self.following);
        a.set_word(takes, &mut self.ahead, ahead);
        a.set_word(takes, &mut self.age, zero);
        a.set_bit(takes, &mut self.following, passing.starts);
        wrong
    }
}

/// Two passings of one detector, and how far the rope, or time, has gone on between them.
///
/// Once the rope has run back, the distance is not known until the next passing: the same carrier may come again.
#[derive(Debug, Clone, Copy)]
pub struct Apart<A: Algebra> {
    /// The distance since the last passing is known.
    pub known: A::Bit,
    /// That distance, counted up to the least that is asked.
    pub since: A::Word,
}

impl<A: Algebra> Apart<A> {
    /// Nobody has passed.
    pub fn new(a: &mut A) -> Self {
        Self { known: a.bit(false), since: a.word(0) }
    }
    /// One scan. Gives whether somebody passes less than `least` behind the one before.
    pub fn scan(&mut self, a: &mut A, least: u32, passes: A::Bit, forward: A::Word, back: A::Word) -> A::Bit {
        let far = self.grows(a, least, forward, back);
        let closer = a.and(self.known, passes);
        let closer = a.but(closer, far);
        self.begins(a, passes, back);
        closer
    }
    /// One scan. Gives whether nobody has passed for more than `most` behind the last one; it is told once, and then not known
    /// until the next passing.
    pub fn gone(&mut self, a: &mut A, most: u32, passes: A::Bit, forward: A::Word, back: A::Word) -> A::Bit {
        let far = self.grows(a, most.saturating_add(1), forward, back);
        let gone = a.and(self.known, far);
        let gone = a.but(gone, passes);
        self.known = a.but(self.known, gone);
        self.begins(a, passes, back);
        gone
    }
    /// The distance grows, up to `top`, and is not known where the rope ran back. Gives whether it has come so far.
    fn grows(&mut self, a: &mut A, top: u32, forward: A::Word, back: A::Word) -> A::Bit {
        self.since = a.add(self.since, forward, top);
        let ran_back = a.at_least(back, 1);
        self.known = a.but(self.known, ran_back);
        a.at_least(self.since, top)
    }
    /// Whoever passes begins a distance anew.
    fn begins(&mut self, a: &mut A, passes: A::Bit, back: A::Word) {
        let zero = a.word(0);
        a.set_word(passes, &mut self.since, zero);
        let ran_back = a.at_least(back, 1);
        let anew = a.but(passes, ran_back);
        self.known = a.or(self.known, anew);
    }
}

/// A gauge, and what it read in the scan before.
#[derive(Debug, Clone, Copy)]
pub struct Leap<A: Algebra> {
    /// The last sample was good.
    pub was_good: A::Bit,
    /// The last value.
    pub before: A::Word,
}

impl<A: Algebra> Leap<A> {
    /// Nothing has been read.
    pub fn new(a: &mut A) -> Self {
        Self { was_good: a.bit(false), before: a.word(0) }
    }
    /// One scan. Gives whether this sample and the last are both good and differ by more than `most` steps.
    pub fn scan(&mut self, a: &mut A, most: u32, value: A::Word, good: A::Bit) -> A::Bit {
        let movement = a.difference(value, self.before);
        let far = a.more_than(movement, most);
        let both = a.and(good, self.was_good);
        (self.was_good, self.before) = (good, value);
        a.and(both, far)
    }
}

/// Something that must last from a rise on.
#[derive(Debug, Clone, Copy)]
pub struct Stays<A: Algebra> {
    /// Scans for which it has lasted, counting that of the rise; 0 if no rise is asked about.
    pub lasted: A::Word,
}

impl<A: Algebra> Stays<A> {
    /// Nothing has risen.
    pub fn new(a: &mut A) -> Self {
        Self { lasted: a.word(0) }
    }
    /// One scan. Gives whether it has held in the scan of a rise and in `lasting` scans after it. Who rises meanwhile is not
    /// asked about.
    pub fn scan(&mut self, a: &mut A, lasting: u32, rises: A::Bit, holds: A::Bit) -> A::Bit {
        let (one, zero, enough) = (a.word(1), a.word(0), lasting.saturating_add(1));
        let counted = a.at_least(self.lasted, 1);
        let counts = a.or(counted, rises);
        let counts = a.and(counts, holds);
        let mut lasted = a.add(self.lasted, one, enough);
        let ends = a.not(counts);
        a.set_word(ends, &mut lasted, zero);
        let complete = a.at_least(lasted, enough);
        a.set_word(complete, &mut lasted, zero);
        self.lasted = lasted;
        complete
    }
}

/// No stop is cleared but by a key: it was held at some time not longer ago than a press and its settling take.
#[derive(Debug, Clone, Copy)]
pub struct Release<A: Algebra> {
    /// Scans since the key was held.
    pub since: A::Word,
    /// A stop stood in the verdict before.
    pub stopped: A::Bit,
}

impl<A: Algebra> Release<A> {
    /// The key has not been held; `stopped` is whether a stop stood before.
    pub fn new(a: &mut A, longest: u32, stopped: bool) -> Self {
        Self { since: a.word(longest.saturating_add(1)), stopped: a.bit(stopped) }
    }
    /// One scan. Gives whether a stop is gone though the key was not held in the last `longest` scans.
    pub fn scan(&mut self, a: &mut A, longest: u32, held: A::Bit, stop: A::Bit) -> A::Bit {
        let (one, zero) = (a.word(1), a.word(0));
        self.since = a.add(self.since, one, longest.saturating_add(1));
        a.set_word(held, &mut self.since, zero);
        let released = a.but(self.stopped, stop);
        self.stopped = stop;
        let long_ago = a.at_least(self.since, longest.saturating_add(1));
        a.and(released, long_ago)
    }
}

/// No stop is cleared but after a condition has held for so many scans.
#[derive(Debug, Clone, Copy)]
pub struct Clearing<A: Algebra> {
    /// Scans for which the condition had held, up to and with the scan before; counted to one more than is asked.
    pub held: A::Word,
    /// A stop stood in the verdict before.
    pub stopped: A::Bit,
}

impl<A: Algebra> Clearing<A> {
    /// It has not held; `stopped` is whether a stop stood before.
    pub fn new(a: &mut A, stopped: bool) -> Self {
        Self { held: a.word(0), stopped: a.bit(stopped) }
    }
    /// One scan. Gives whether a stop is gone though the condition had not held for more than `lasting` scans.
    pub fn scan(&mut self, a: &mut A, lasting: u32, holds: A::Bit, stop: A::Bit) -> A::Bit {
        let (one, zero, enough) = (a.word(1), a.word(0), lasting.saturating_add(1));
        let cleared = a.but(self.stopped, stop);
        self.stopped = stop;
        let long = a.at_least(self.held, enough);
        self.held = a.add(self.held, one, enough);
        let ends = a.not(holds);
        a.set_word(ends, &mut self.held, zero);
        a.but(cleared, long)
    }
}

/// No start is permitted until so many scans after a stop.
#[derive(Debug, Clone, Copy)]
pub struct Pause<A: Algebra> {
    /// Scans without a stop, counted up to what is asked.
    pub rest: A::Word,
}

impl<A: Algebra> Pause<A> {
    /// A stop stood before, or none for long.
    pub fn new(a: &mut A, scans: u32, stopped: bool) -> Self {
        Self { rest: a.word(if stopped { 0 } else { scans }) }
    }
    /// One scan. Gives whether a start is permitted before the last scan of the pause; the first scan without a stop is the first of it.
    pub fn scan(&mut self, a: &mut A, scans: u32, permit: A::Bit, stop: A::Bit) -> A::Bit {
        let (one, zero) = (a.word(1), a.word(0));
        self.rest = a.add(self.rest, one, scans);
        a.set_word(stop, &mut self.rest, zero);
        let over = a.at_least(self.rest, scans);
        a.but(permit, over)
    }
}

/// What is declared of a signal: a level that is taken lasts so many scans.
#[derive(Debug, Clone, Copy)]
pub struct Persistence<A: Algebra> {
    /// The level before.
    pub level: A::Bit,
    /// Scans for which it has stood, counted up to what is asked.
    pub stood: A::Word,
}

impl<A: Algebra> Persistence<A> {
    /// Nothing has been seen.
    pub fn new(a: &mut A) -> Self {
        Self { level: a.bit(false), stood: a.word(0) }
    }
    /// One scan. `low` and `high` are the scans that each level lasts at least, `first` whether nothing was seen before.
    /// Gives whether the signal does what is declared.
    pub fn scan(&mut self, a: &mut A, low: u32, high: u32, level: A::Bit, first: A::Bit) -> A::Bit {
        let one = a.word(1);
        let most = low.max(high);
        let (long_low, long_high) = (a.at_least(self.stood, low), a.at_least(self.stood, high));
        let mut long = long_low;
        a.set_bit(self.level, &mut long, long_high);
        let differs = a.xor(self.level, level);
        let changes = a.but(differs, first);
        let more = a.add(self.stood, one, most);
        self.stood = more;
        a.set_word(differs, &mut self.stood, one);
        // Whatever stood when judging began may have stood for ever.
        let full = a.word(most);
        a.set_word(first, &mut self.stood, full);
        self.level = level;
        let short = a.but(changes, long);
        a.not(short)
    }
}

#[cfg(test)]
mod tests;
