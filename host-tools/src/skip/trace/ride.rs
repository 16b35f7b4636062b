//! A trace that is gone on and on, and ways round it.
//!
//! From scan to scan of a ride nothing is written and little is asked: what each comparison has left is worked out once, and scans and inputs
//! are counted until something is used up. Another trace of the same place, such as that of the end of a speed's span, mostly differs in few
//! words. These are the ride's *own*. A way round writes, asks and changes them alone; all others grow on as if nothing had been.

use super::super::noting::{Place, Sum};
use super::free::Free;
use super::steady::Steady;
use super::{Change, Changes, Pair, Trace, all_within, go, number};
use crate::stays::{Room, Stays};

/// Ways round a trace.
#[derive(Debug)]
pub(in crate::skip) struct Rounds {
    /// Whether each word is the ride's own.
    is_own: Vec<bool>,
    /// Own words, and what the trace makes of those that change.
    own: Vec<usize>,
    own_changes: Changes,
    /// What it makes of the others.
    others: Changes,
    /// Inputs that are free in the trace and in all ways round it.
    free: Free,
    /// The trace itself, gone once, and others.
    all: Vec<Round>,
}

/// A way round: number of its trace, and what it makes of own words.
#[derive(Debug)]
struct Round {
    trace: usize,
    changes: Changes,
}

/// How far a ride has come, and what is left.
#[derive(Debug, Clone, Default)]
pub(in crate::skip) struct Ride {
    /// Scans gone, and what each input came to in them.
    gone: u32,
    run: Vec<u64>,
    /// The same when own words were written last.
    own_gone: u32,
    own_run: Vec<u64>,
    /// What they may come to as far as others than own words go.
    most_gone: u32,
    most_run: Vec<u64>,
    /// What they may come to before the trace must be asked again.
    end: u32,
    room: Vec<u64>,
    /// Bounds of the inputs.
    least: Vec<u32>,
    most: Vec<u32>,
    sums: Vec<u32>,
    /// Ways round gone one after the other, and the last of them.
    rounds: u32,
    round: usize,
    steady: Steady,
}

impl Rounds {
    /// Of a trace that has this number at its place.
    pub(in crate::skip) fn new(trace: &Trace, number: usize) -> Self {
        let mut is_own = vec![false; trace.words];
        for (word, change) in &trace.changes {
            if let (Change::Last(_) | Change::Sum(..), Some(own)) = (change, is_own.get_mut(usize::from(*word))) {
                *own = true;
            }
        }
        trace.owns_coupled(trace, &mut is_own);
        let itself = Round { trace: number, changes: Vec::new() };
        let mut rounds = Self {
            is_own,
            own: Vec::new(),
            own_changes: Vec::new(),
            others: Vec::new(),
            free: Free::of(&[trace]),
            all: vec![itself],
        };
        rounds.divide(trace);
        rounds
    }
    /// Takes up another way round, unless too much of it is different.
    pub(in crate::skip) fn take(&mut self, trace: &Trace, traces: &[Trace], number: usize) {
        let Some(other) = traces.get(number) else { return };
        if !other.turns.is_empty()
            || self.all.len() >= MOST_ROUNDS
            || self.all.iter().any(|round| round.trace == number)
        {
            return;
        }
        let mut is_own = self.is_own.clone();
        for (word, own) in is_own.iter_mut().enumerate() {
            let wider = other.least.get(word) <= trace.least.get(word) && other.most.get(word) >= trace.most.get(word);
            // A sum has another number in each trace; but what is ridden has none.
            *own = *own || !wider || other.change(word) != trace.change(word);
        }
        trace.owns_coupled(other, &mut is_own);
        if is_own.iter().filter(|own| **own).count() * LEAST_SHARED > is_own.len() {
            return;
        }
        self.is_own = is_own;
        self.all.push(Round { trace: number, changes: Vec::new() });
        self.divide(trace);
        for round in &mut self.all {
            if let Some(trace) = traces.get(round.trace) {
                round.changes = trace.changes_of(&self.is_own, true);
            }
        }
        let others = self.all.iter().skip(1).filter_map(|round| traces.get(round.trace));
        self.free = Free::of(&std::iter::once(trace).chain(others).collect::<Vec<_>>());
    }
    /// Bytes that it takes.
    pub(in crate::skip) fn size(&self) -> usize {
        let rounds: usize = self.all.iter().map(|round| size_of_val(round) + size_of_val(&*round.changes)).sum();
        let own = size_of_val(&*self.is_own) + size_of_val(&*self.own) + size_of_val(&*self.own_changes);
        own + size_of_val(&*self.others) + self.free.size() + rounds
    }
    fn owns(&self, word: usize) -> bool {
        self.is_own.get(word) == Some(&true)
    }
    fn divide(&mut self, trace: &Trace) {
        self.own = self.is_own.iter().enumerate().filter(|(_, own)| **own).map(|(word, _)| word).collect();
        self.own_changes = trace.changes_of(&self.is_own, true);
        self.others = trace.changes_of(&self.is_own, false);
        if let Some(itself) = self.all.first_mut() {
            itself.changes.clone_from(&self.own_changes);
        }
    }
}

/// Ways round one trace.
const MOST_ROUNDS: usize = 6;
/// Ways round that may follow each other.
const MOST_IN_A_ROW: u32 = 3;
/// A way round may have one word of so many as its own.
const LEAST_SHARED: usize = 2;

impl Trace {
    fn changes_of(&self, is_own: &[bool], own: bool) -> Changes {
        self.changes.iter().filter(|(word, _)| is_own.get(usize::from(*word)) == Some(&own)).copied().collect()
    }
    /// Words that grow here and that the other compares with something, or copies, must be written where it is asked and gone.
    fn owns_coupled(&self, other: &Self, is_own: &mut [bool]) {
        let pairs = other.pairs.iter().filter(|pair| !self.bounds(pair)).flat_map(|pair| [pair.word, pair.other]);
        let copied = other.sums.iter().flat_map(Sum::places);
        for word in pairs.chain(other.others.iter().flat_map(|one| one.sum.places())).chain(copied) {
            if let (Some(Change::Grow(..)), Some(own)) = (self.change(word), is_own.get_mut(word)) {
                *own = true;
            }
        }
    }
    /// A word grows by an input and is held below a bound together with it, here no less than there: it is known ahead for how long that lasts.
    fn bounds(&self, pair: &Pair) -> bool {
        let here = |own: &&Pair| (own.word, own.other) == (pair.word, pair.other);
        let bound = self.pairs.iter().find(here).filter(|own| own.is_bound() && pair.least == i64::MIN);
        bound.is_some_and(|own| own.most <= pair.most)
    }
    /// Begins to go it again and again, if that is possible.
    pub(in crate::skip) fn begins(&self, rounds: &Rounds, words: &[u32], inputs: usize, ride: &mut Ride) -> bool {
        if !self.lasts || !self.holds(words) {
            return false;
        }
        ride.begin(inputs);
        for (word, change) in &rounds.others {
            let word = usize::from(*word);
            let (Some(now), Some(most)) = (words.get(word), self.most.get(word)) else { return false };
            match *change {
                Change::Put(number) if number != *now => return false,
                Change::Grow(.., top) if *now > top => return false,
                Change::Put(_) | Change::Last(_) | Change::Sum(..) => {}
                Change::Grow(by, None, _) => ride.most_gone = ride.most_gone.min(scans(*now, *most, by)),
                Change::Grow(_, Some(input), _) => {
                    if let Some(room) = ride.most_run.get_mut(usize::from(input)) {
                        *room = (*room).min(u64::from(most.saturating_sub(*now)));
                    }
                }
            }
        }
        for pair in self.pairs.iter().filter(|pair| !rounds.owns(pair.word) && pair.is_bound()) {
            let (Some(now), Some(input)) = (words.get(pair.word), pair.other.checked_sub(self.words)) else {
                return false;
            };
            let Ok(left) = u64::try_from(pair.most.saturating_sub(i64::from(*now))) else { return false };
            if let Some(room) = ride.most_run.get_mut(input) {
                *room = (*room).min(left);
            }
        }
        self.asks(rounds, words, ride)
    }
    fn holds(&self, words: &[u32]) -> bool {
        let bounds = self.least.get(..words.len()).zip(self.most.get(..words.len()));
        bounds.is_some_and(|(least, most)| all_within(words, least, most))
    }
    /// Works out for how long own words, which are written, let it be gone again and again; whether they do at all.
    fn asks(&self, rounds: &Rounds, words: &[u32], ride: &mut Ride) -> bool {
        ride.end = ride.most_gone;
        ride.room.clone_from(&ride.most_run);
        ride.least.clear();
        ride.least.extend_from_slice(self.least.get(self.words..).unwrap_or_default());
        ride.most.clear();
        ride.most.extend_from_slice(self.most.get(self.words..).unwrap_or_default());
        let asked =
            self.own_hold(rounds, words) && self.own_last(rounds, words, ride) && self.pairs_last(rounds, words, ride);
        let asked = asked && self.others.iter().skip(self.given).all(|other| other.fits(words, &[]));
        if !asked {
            ride.end = ride.gone;
        }
        asked
    }
    fn own_hold(&self, rounds: &Rounds, words: &[u32]) -> bool {
        rounds.own.iter().all(|word| {
            let (now, least, most) = (words.get(*word), self.least.get(*word), self.most.get(*word));
            least <= now && now <= most
        })
    }
    fn own_last(&self, rounds: &Rounds, words: &[u32], ride: &mut Ride) -> bool {
        for (word, change) in &rounds.own_changes {
            let word = usize::from(*word);
            let (Some(now), Some(least), Some(most)) = (words.get(word), self.least.get(word), self.most.get(word))
            else {
                return false;
            };
            match *change {
                Change::Put(number) if number != *now => return false,
                Change::Grow(.., top) if *now > top => return false,
                Change::Sum(sum, top) if self.made(sum, top, words) != *now => return false,
                Change::Put(_) | Change::Sum(..) => {}
                Change::Grow(by, None, _) => ride.ends(scans(*now, *most, by)),
                Change::Grow(_, Some(input), _) => ride.holds(input.into(), u64::from(most.saturating_sub(*now))),
                Change::Last(input) => ride.narrows(input.into(), i64::from(*least), i64::from(*most)),
            }
        }
        true
    }
    /// What a scan makes of a sum of words that stand.
    fn made(&self, sum: Place, top: u32, words: &[u32]) -> u32 {
        number(self.sums.get(usize::from(sum)).map_or(0, |sum| sum.value(words, &[]))).min(top)
    }
    fn pairs_last(&self, rounds: &Rounds, words: &[u32], ride: &mut Ride) -> bool {
        // Of others than own words it was known when the ride began.
        for pair in self.pairs.iter().filter(|pair| rounds.owns(pair.word) || !pair.is_bound()) {
            let now = words.get(pair.word).map_or(0, |now| i64::from(*now));
            let (least, most) = (pair.least.saturating_sub(now), pair.most.saturating_sub(now));
            match pair.other.checked_sub(self.words) {
                Some(input) if pair.grows => {
                    // Behind a way round the word alone may be too great.
                    let Ok(most) = u64::try_from(most) else { return false };
                    ride.narrows(input, least, i64::MAX);
                    ride.holds(input, most);
                }
                Some(input) => ride.narrows(input, least, most),
                None if !pair.fits(words, &[]) => return false,
                None => {}
            }
        }
        true
    }
    /// Goes it once more, if it is the way.
    pub(in crate::skip) fn rides(&self, rounds: &Rounds, words: &mut [u32], inputs: &[u32], ride: &mut Ride) -> bool {
        if ride.gone >= ride.end || !all_within(inputs, &ride.least, &ride.most) || !ride.has_room(&ride.room, inputs) {
            return false;
        }
        if !self.given().iter().all(|other| other.fits(words, inputs)) {
            return false;
        }
        ride.goes(inputs, &rounds.free);
        ride.rounds = 0;
        for (word, input) in &self.follow {
            if let (Some(cell), Some(input)) = (words.get_mut(*word), inputs.get(*input)) {
                *cell = *input;
            }
        }
        true
    }
    /// For how many scans with these inputs it is the way, where a scan with them has just been gone; and within what they may move meanwhile.
    pub(in crate::skip) fn stays(
        &self,
        rounds: &Rounds,
        words: &[u32],
        inputs: &[u32],
        ride: &Ride,
        rooms: &mut [Room],
    ) -> Stays {
        let follows = |(word, input): &(usize, usize)| words.get(*word) == inputs.get(*input);
        let at_once = all_within(inputs, &ride.least, &ride.most)
            && self.follow.iter().all(follows)
            && self.given().iter().all(|other| other.fits(words, inputs));
        let moves = rounds.free.narrows(at_once.then_some(words), inputs, rooms);
        let once = if at_once { ride.left(&ride.room, ride.end, inputs) } else { 0 };
        let period = if moves || ride.steady.stood { ride.steady.period } else { 0 };
        if period == 0 {
            return Stays { once, whole: once, period: 1 };
        }
        Stays { once, whole: ride.left(&ride.most_run, ride.most_gone, inputs), period }
    }
    /// Goes a way round, if there is one; it tells what the trace does.
    pub(in crate::skip) fn goes_round(
        &self,
        rounds: &Rounds,
        traces: &[Self],
        words: &mut [u32],
        inputs: &[u32],
        ride: &mut Ride,
    ) -> bool {
        // Where they follow each other the way has become another: its own trace is to be ridden.
        if ride.rounds >= MOST_IN_A_ROW || ride.gone >= ride.most_gone || !ride.has_room(&ride.most_run, inputs) {
            return false;
        }
        ride.writes_own(rounds, words);
        let fits = |round: &Round| traces.get(round.trace).is_some_and(|trace| trace.fits_own(rounds, words, inputs));
        // Mostly it is the one that was gone last time.
        let last = rounds.all.get(ride.round).filter(|last| fits(last));
        let found = last.map(|_| ride.round).or_else(|| rounds.all.iter().position(fits));
        let Some((number, round)) = found.and_then(|number| Some((number, rounds.all.get(number)?))) else {
            return false;
        };
        let Some(gone) = traces.get(round.trace) else { return false };
        ride.round = number;
        go(&round.changes, &gone.sums, words, inputs, &mut ride.sums);
        ride.goes(inputs, &rounds.free);
        ride.own_is_written();
        ride.rounds += 1;
        let own = rounds.own.iter().filter(|word| !rounds.free.copies(**word));
        ride.steady.round(own.filter_map(|word| words.get(*word).copied()), ride.gone);
        self.asks(rounds, words, ride);
        true
    }
    /// Whether it is the way, where all but own words are known to be within its bounds.
    fn fits_own(&self, rounds: &Rounds, words: &[u32], inputs: &[u32]) -> bool {
        let bounds = self.least.get(self.words..).zip(self.most.get(self.words..));
        self.own_hold(rounds, words)
            && bounds.is_some_and(|(least, most)| all_within(inputs, least, most))
            && self.pairs.iter().all(|pair: &Pair| pair.fits(words, inputs))
            && self.others.iter().all(|other| other.fits(words, inputs))
    }
}

impl Ride {
    fn begin(&mut self, inputs: usize) {
        (self.gone, self.most_gone, self.rounds, self.round) = (0, u32::MAX, 0, 0);
        self.steady.inputs.clear();
        self.steady.begin();
        for (counts, start) in [(&mut self.run, 0), (&mut self.most_run, u64::MAX)] {
            counts.clear();
            counts.resize(inputs, start);
        }
        self.own_is_written();
    }
    fn own_is_written(&mut self) {
        self.own_gone = self.gone;
        self.own_run.clone_from(&self.run);
    }
    fn has_room(&self, room: &[u64], inputs: &[u32]) -> bool {
        let runs = inputs.iter().zip(&self.run).zip(room);
        runs.fold(true, |roomy, ((input, run), room)| roomy & (run + u64::from(*input) <= *room))
    }
    fn goes(&mut self, inputs: &[u32], free: &Free) {
        self.steady.goes(inputs, free);
        self.gone += 1;
        for (run, input) in self.run.iter_mut().zip(inputs) {
            *run += u64::from(*input);
        }
    }
    /// Scans with these inputs until as much has been run or gone as there is room for.
    fn left(&self, room: &[u64], end: u32, inputs: &[u32]) -> u32 {
        let runs = inputs.iter().zip(&self.run).zip(room);
        let bound = runs.filter(|(_, room)| **room < u64::MAX);
        let left = bound.map(|((input, run), room)| room.saturating_sub(*run).checked_div(u64::from(*input)));
        let least = left.flatten().min().unwrap_or(u64::MAX);
        u32::try_from(least).unwrap_or(u32::MAX).min(end.saturating_sub(self.gone))
    }
    /// So many scans at once, of which the last had these inputs, as [`Trace::stays`] said.
    pub(in crate::skip) fn goes_on(
        &mut self,
        rounds: &Rounds,
        words: &mut [u32],
        inputs: &[u32],
        (scans, stays): (u32, Stays),
    ) {
        self.steady.goes(inputs, &rounds.free);
        // All other words that follow an input are what they were, or have come back to it.
        rounds.free.writes(words, inputs);
        let moves = |count: &mut u32| *count = count.saturating_add(scans);
        let runs = |counts: &mut [u64]| {
            for (count, input) in counts.iter_mut().zip(inputs) {
                *count = count.saturating_add(u64::from(*input) * u64::from(scans));
            }
        };
        moves(&mut self.gone);
        runs(&mut self.run);
        self.rounds = 0;
        if scans > stays.once {
            // Whole periods: own words are what they were, and all that hangs on them is as far ahead as it was.
            moves(&mut self.own_gone);
            runs(&mut self.own_run);
            moves(&mut self.end);
            runs(&mut self.room);
            self.end = self.end.min(self.most_gone);
            for (room, most) in self.room.iter_mut().zip(&self.most_run) {
                *room = (*room).min(*most);
            }
        }
    }
    /// Ends in so many scans.
    fn ends(&mut self, scans: u32) {
        self.end = self.end.min(self.gone.saturating_add(scans));
    }
    fn holds(&mut self, input: usize, room: u64) {
        if let (Some(has), Some(run)) = (self.room.get_mut(input), self.run.get(input)) {
            *has = (*has).min(run.saturating_add(room));
        }
    }
    fn narrows(&mut self, input: usize, least: i64, most: i64) {
        if let (Some(low), Some(high)) = (self.least.get_mut(input), self.most.get_mut(input)) {
            *low = (*low).max(number(least));
            *high = (*high).min(number(most));
            // Nothing is below 0.
            if most < 0 {
                self.end = self.gone;
            }
        }
    }
    fn writes_own(&mut self, rounds: &Rounds, words: &mut [u32]) {
        let gone = self.gone.saturating_sub(self.own_gone);
        if gone == 0 {
            return;
        }
        for (word, change) in &rounds.own_changes {
            let run = |input: Place| {
                let both = self.run.get(usize::from(input)).zip(self.own_run.get(usize::from(input)));
                both.map_or(0, |(run, own)| run.saturating_sub(*own))
            };
            grow(words.get_mut(usize::from(*word)), *change, gone, run);
        }
        self.own_is_written();
    }
    /// Writes what the ride came to.
    pub(in crate::skip) fn writes(&mut self, rounds: &Rounds, words: &mut [u32]) {
        self.writes_own(rounds, words);
        for (word, change) in &rounds.others {
            grow(words.get_mut(usize::from(*word)), *change, self.gone, |input| {
                self.run.get(usize::from(input)).copied().unwrap_or(0)
            });
        }
    }
}

/// Scans for which a word may grow by a number: the last of them begins with the greatest number that is allowed.
fn scans(now: u32, most: u32, by: u32) -> u32 {
    (most.saturating_sub(now) / by.max(1)).saturating_add(1)
}

/// Lets a word grow for so many scans, in which inputs came to this.
fn grow(cell: Option<&mut u32>, change: Change, gone: u32, run: impl Fn(Place) -> u64) {
    if let (Change::Grow(by, input, top), Some(cell)) = (change, cell) {
        let grown = u64::from(*cell) + u64::from(by) * u64::from(gone) + input.map_or(0, run);
        *cell = u32::try_from(grown).unwrap_or(u32::MAX).min(top);
    }
}
