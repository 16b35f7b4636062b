//! A trace that is gone on and on, and ways round it.
//!
//! From scan to scan of a ride nothing is written and little is asked: what each comparison has left is worked out once, and scans and inputs
//! are counted until something is used up. Another trace of the same place, such as that of the end of a speed's span, mostly differs in few
//! words. These are the ride's *own*. A way round writes, asks and changes them alone; all others grow on as if nothing had been.

use std::borrow::Borrow;

use super::super::noting::Place;
use super::free::Free;
use super::rounds::{Limit, Round, Rounds};
use super::steady::Steady;
use super::{Change, Pair, Trace, go, number};
use crate::stays::{Room, Stays};

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
    rooms: Vec<Room>,
    sums: Vec<u32>,
    /// Ways round gone one after the other, and the last of them.
    rounds: u32,
    round: usize,
    steady: Steady,
}

/// Ways round that may follow each other.
const MOST_IN_A_ROW: u32 = 3;
impl Trace {
    /// Begins to go it again and again, if that is possible.
    pub(in crate::skip) fn begins(&self, rounds: &Rounds, words: &[u32], inputs: usize, ride: &mut Ride) -> bool {
        if !self.lasts || !self.holds(words) {
            return false;
        }
        ride.begin(inputs);
        let now = |word: &Place| words.get(usize::from(*word)).copied().unwrap_or(u32::MAX);
        for (word, change) in rounds.others(self) {
            match *change {
                Change::Put(number) if number != now(word) => return false,
                Change::Grow(_, top) | Change::Run(_, top) if now(word) > top => return false,
                _ => {}
            }
        }
        for Limit { word, most, change } in &rounds.limits {
            match *change {
                Change::Grow(by, _) => ride.most_gone = ride.most_gone.min(scans(now(word), *most, by)),
                Change::Run(input, _) => {
                    if let Some(room) = ride.most_run.get_mut(usize::from(input)) {
                        *room = (*room).min(u64::from(most.saturating_sub(now(word))));
                    }
                }
                Change::Put(_) | Change::Last(_) | Change::Sum(..) => {}
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
        self.halves().0.iter().all(|bound| bound.holds(words))
    }
    /// Works out for how long own words, which are written, let it be gone again and again; whether they do at all.
    fn asks(&self, rounds: &Rounds, words: &[u32], ride: &mut Ride) -> bool {
        ride.end = ride.most_gone;
        ride.room.clone_from(&ride.most_run);
        ride.rooms.clear();
        ride.rooms.resize(self.inputs, Room::ALL);
        for bound in self.halves().1 {
            if let Some(room) = usize::from(bound.place).checked_sub(self.words).and_then(|at| ride.rooms.get_mut(at)) {
                *room = Room { least: bound.least, most: bound.most };
            }
        }
        let asked = rounds.all.first().is_some_and(|itself| itself.holds(words))
            && self.own_last(rounds, words, ride)
            && self.pairs_last(rounds, words, ride);
        let asked = asked && self.others.iter().skip(self.given).all(|other| other.fits(words, &[]));
        if !asked {
            ride.end = ride.gone;
        }
        asked
    }
    fn own_last(&self, rounds: &Rounds, words: &[u32], ride: &mut Ride) -> bool {
        let now = |word: &Place| words.get(usize::from(*word)).copied().unwrap_or(u32::MAX);
        for (word, change) in rounds.own_changes() {
            match *change {
                Change::Put(number) if number != now(word) => return false,
                Change::Grow(_, top) | Change::Run(_, top) if now(word) > top => return false,
                Change::Sum(sum, top) if self.made(sum, top, words) != now(word) => return false,
                _ => {}
            }
        }
        for Limit { word, most, change } in &rounds.own_limits {
            match *change {
                Change::Grow(by, _) => ride.ends(scans(now(word), *most, by)),
                Change::Run(input, _) => ride.holds(input.into(), u64::from(most.saturating_sub(now(word)))),
                Change::Put(_) | Change::Last(_) | Change::Sum(..) => {}
            }
        }
        // What becomes an input is held by the bounds of the word.
        for (input, room) in &rounds.followed {
            ride.narrows(*input, i64::from(room.least), i64::from(room.most));
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
        if ride.gone >= ride.end || !all_within(inputs, &ride.rooms) || !ride.has_room(&ride.room, inputs) {
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
        debug_assert!(ride.steady.inputs.is_empty() || ride.steady.inputs == inputs, "these are not the last inputs");
        let follows = |(word, input): &(usize, usize)| words.get(*word) == inputs.get(*input);
        let at_once = all_within(inputs, &ride.rooms)
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
        traces: &[impl Borrow<Self>],
        words: &mut [u32],
        inputs: &[u32],
        ride: &mut Ride,
    ) -> bool {
        // Where they follow each other the way has become another: its own trace is to be ridden.
        if ride.rounds >= MOST_IN_A_ROW || ride.gone >= ride.most_gone || !ride.has_room(&ride.most_run, inputs) {
            return false;
        }
        ride.writes_own(rounds, words);
        let fits =
            |round: &Round| traces.get(round.trace).is_some_and(|trace| trace.borrow().fits_own(round, words, inputs));
        // Mostly it is the one that was gone last time.
        let last = rounds.all.get(ride.round).filter(|last| fits(last));
        let found = last.map(|_| ride.round).or_else(|| rounds.all.iter().position(fits));
        let Some((number, round)) = found.and_then(|number| Some((number, rounds.all.get(number)?))) else {
            return false;
        };
        let Some(gone) = traces.get(round.trace) else { return false };
        ride.round = number;
        go(&round.changes, &gone.borrow().sums, words, inputs, &mut ride.sums);
        ride.goes(inputs, &rounds.free);
        ride.own_is_written();
        ride.rounds += 1;
        ride.steady.round(rounds.own.iter().filter_map(|word| words.get(usize::from(*word)).copied()), ride.gone);
        self.asks(rounds, words, ride);
        true
    }
    /// Whether it is the way, where all but own words are known to be within its bounds.
    fn fits_own(&self, round: &Round, words: &[u32], inputs: &[u32]) -> bool {
        round.holds(words)
            && self.halves().1.iter().all(|bound| bound.holds_input(words.len(), inputs))
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
        if let Some(room) = self.rooms.get_mut(input) {
            *room = room.and(Room { least: number(least), most: number(most) });
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
        for (word, change) in rounds.own_changes() {
            let run = |input: Place| {
                let both = self.run.get(usize::from(input)).zip(self.own_run.get(usize::from(input)));
                both.map_or(0, |(run, own)| run.saturating_sub(*own))
            };
            grow(words.get_mut(usize::from(*word)), *change, gone, run);
        }
        self.own_is_written();
    }
    /// Writes what the ride came to.
    pub(in crate::skip) fn writes(&mut self, trace: &Trace, rounds: &Rounds, words: &mut [u32]) {
        self.writes_own(rounds, words);
        for (word, change) in rounds.others(trace) {
            grow(words.get_mut(usize::from(*word)), *change, self.gone, |input| {
                self.run.get(usize::from(input)).copied().unwrap_or(0)
            });
        }
    }
}

/// Scans for which a word may grow by a number: the last of them begins with the greatest number that is allowed.
fn scans(now: u32, most: u32, by: u16) -> u32 {
    (most.saturating_sub(now) / u32::from(by.max(1))).saturating_add(1)
}

/// Lets a word grow for so many scans, in which inputs came to this.
fn grow(cell: Option<&mut u32>, change: Change, gone: u32, run: impl Fn(Place) -> u64) {
    let Some(cell) = cell else { return };
    let (grown, top) = match change {
        Change::Grow(by, top) => (u64::from(by) * u64::from(gone), top),
        Change::Run(input, top) => (run(input), top),
        Change::Put(_) | Change::Last(_) | Change::Sum(..) => return,
    };
    *cell = u32::try_from(u64::from(*cell) + grown).unwrap_or(u32::MAX).min(top);
}

fn all_within(all: &[u32], rooms: &[Room]) -> bool {
    all.iter().zip(rooms).fold(true, |within, (value, room)| within & room.has(*value))
}
