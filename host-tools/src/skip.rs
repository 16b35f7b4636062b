//! Scans that need not be stepped.
//!
//! Most scans of a recording change no bit: ages grow, spans of speeds end, and that is all. The step itself says what such a scan goes by:
//! run once more in a reading that notes its comparisons ([`Noting`]), it leaves a *trace*, which holds for any words and inputs of which those
//! comparisons come out as they did. A scan that fits a trace is worked out from it, and one whose bounds can be told ahead is gone on and
//! on until a bound is reached; where it is left for a scan only, as at the end of a speed's span, what both do alike goes on. Whatever fits no
//! trace is stepped. Nothing here knows what a word means.

use crate::sample::Sample;
use crate::stays::{Room, Stays};

mod before;
mod kept;
mod noting;
mod place;
mod rules;
#[cfg(test)]
mod soak;
#[cfg(test)]
mod tests;
mod trace;

pub(crate) use before::{Before, levels};
use kept::Kept;
pub(crate) use noting::{Bit, Noted, Noting};
pub(crate) use rules::{From, noted, turned};
use trace::{Ride, Rounds, Trace};

/// What is skipped over: a state of bits and words, and what it tells of a scan.
pub(crate) trait Unit {
    /// What a scan tells, beside numbers.
    type Told: Clone + PartialEq;
    /// Everything that is no word: bits of the state, and of what is given but the gauges' values and travel.
    fn bits(&mut self, given: &Given<'_>, into: &mut Vec<u8>);
    /// The words of the state.
    fn words(&mut self, into: &mut Vec<u32>);
    /// Takes other words.
    fn put(&mut self, words: &[u32]);
    /// Turns bits of the state, which are the first of [`Unit::bits`].
    fn turn(&mut self, bits: &[usize]);
    /// A scan in the noting reading, from the state as it stands. None if it tells a number, or changes what is no bit and no word.
    fn note(&mut self, noting: &mut Noting, given: &Given<'_>) -> Option<After>;
}

/// What a scan in the noting reading leaves.
#[derive(Debug)]
pub(crate) struct After {
    /// The words.
    pub words: Vec<Noted>,
    /// Bits that it turns, in order.
    pub turned: Vec<usize>,
}

/// What is given in a scan.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Given<'g> {
    /// The sample.
    pub sample: &'g Sample,
    /// The gauges' values, then the travel of the sources, none of which runs back.
    pub inputs: &'g [u32],
    /// What the rules published in this scan: the answer, outputs that are off, bypasses that are active, and whether a start is
    /// permitted. 0 for the rules themselves.
    pub published: [u64; 4],
}

/// Skips over scans of a unit.
#[derive(Debug)]
pub(crate) struct Skip<U: Unit> {
    kept: Kept<U::Told>,
    /// Bits of the place that the unit is at, or was at last.
    key: Vec<u8>,
    /// Words of the unit while it is ahead of it.
    words: Vec<u32>,
    ahead: bool,
    /// The bits are those of this place.
    at: Option<usize>,
    /// The last scan went along this trace of it.
    last: Option<usize>,
    /// That trace is gone again and again.
    rides: bool,
    /// Number of what the last scan told.
    told: Option<usize>,
    ride: Ride,
    stays: Stays,
    sums: Vec<u32>,
    noted: Option<(usize, Noting, After)>,
    /// The last scan went along this trace of this place, and turned bits.
    turned: Option<(usize, usize)>,
    /// Scans that were stepped, of all.
    counts: Counts,
}

/// What was stepped and what was not.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    /// Scans that were stepped.
    pub stepped: u64,
    /// Scans that were worked out from a trace, one by one.
    pub traced: u64,
    /// Scans that were skipped.
    pub skipped: u64,
    /// Traces that were kept.
    pub kept: u64,
}

impl<U: Unit> Default for Skip<U> {
    fn default() -> Self {
        Self {
            kept: Kept::default(),
            key: Vec::new(),
            words: Vec::new(),
            ahead: false,
            at: None,
            last: None,
            rides: false,
            told: None,
            ride: Ride::default(),
            stays: Stays::default(),
            sums: Vec::new(),
            noted: None,
            turned: None,
            counts: Counts::default(),
        }
    }
}

/// How a scan went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Went<'w, T> {
    /// It tells what the scan before it told.
    Same,
    /// It was worked out.
    Told(&'w T),
    /// It is to be stepped, and then [`Skip::stepped`] called.
    Step,
}

impl<U: Unit> Skip<U> {
    /// Takes a scan. `same` says that nothing but gauges' values and travel differs from what was given before.
    pub(crate) fn scan(&mut self, unit: &mut U, given: &Given<'_>, same: bool) -> Went<'_, U::Told> {
        if same && self.rides && self.on(given.inputs) {
            return Went::Same;
        }
        let ridden = self.end_ride();
        if !same {
            (self.at, self.last) = (None, None);
        }
        let at = match self.at.or_else(|| self.led(same)) {
            Some(place) => place,
            None => self.place(unit, given),
        };
        if let (true, Some(leads)) = (same, self.leads()) {
            *leads = Some(at);
        }
        self.turned = None;
        let last = self.last;
        let found = self.kept.at_mut(at).and_then(|place| place.find(last, &self.words, given.inputs));
        let Some(trace) = found else {
            self.leave(unit);
            self.counts.stepped += 1;
            self.note(unit, given, at);
            return Went::Step;
        };
        if let (true, Some(ridden), Some(place)) = (same, ridden, self.kept.at_mut(at)) {
            let more = place.round(ridden, trace);
            self.kept.takes(more);
        }
        (self.at, self.last) = (Some(at), found);
        self.goes(unit, given.inputs)
    }
    /// Where the trace leads by which bits were turned.
    fn leads(&mut self) -> Option<&mut Option<usize>> {
        let (place, trace) = self.turned?;
        Some(&mut self.kept.at_mut(place)?.known.get_mut(trace)?.leads)
    }
    /// The place to which the last scan led, if it is known.
    fn led(&mut self, same: bool) -> Option<usize> {
        if same { *self.leads()? } else { None }
    }
    /// One scan along the trace that was found.
    fn goes(&mut self, unit: &mut U, inputs: &[u32]) -> Went<'_, U::Told> {
        let (Some(at), Some(last)) = (self.at, self.last) else { return Went::Step };
        let Some((trace, known)) = self.kept.at_mut(at).and_then(|place| place.goes(last)) else { return Went::Step };
        trace.go(&mut self.words, inputs, &mut self.sums);
        let (told, mut more) = (known.told, 0);
        if trace.lasts() {
            let rounds = known.rounds.get_or_insert_with(|| {
                let rounds = Box::new(Rounds::new(trace, last));
                more = rounds.size();
                rounds
            });
            self.rides = trace.begins(rounds, &self.words, inputs.len(), &mut self.ride);
        } else if !trace.turns().is_empty() {
            unit.turn(trace.turns());
            turn(&mut self.key, trace.turns());
            self.turned = Some((at, last));
            (self.at, self.last) = (None, None);
        }
        self.kept.takes(more);
        self.ahead = true;
        self.counts.traced += 1;
        if self.told.replace(told) == Some(told) {
            return Went::Same;
        }
        match self.kept.told(told) {
            Some(told) => Went::Told(told),
            None => Went::Same,
        }
    }

    /// The scan was stepped, and told this: a trace of it is kept if it was noted.
    pub(crate) fn stepped(&mut self, unit: &mut U, given: &Given<'_>, told: &U::Told) {
        let Some((place, noting, after)) = self.noted.take() else { return };
        unit.words(&mut self.words);
        let mut bits = Vec::with_capacity(self.key.len());
        unit.bits(given, &mut bits);
        // What was noted is believed only where it is what the step did: the bits are those of the place or turned, the words those noted.
        let pairs = after.words.iter().zip(&self.words);
        let words =
            after.words.len() == self.words.len() && pairs.fold(true, |same, (n, word)| same & (n.now() == *word));
        turn(&mut self.key, &after.turned);
        if words
            && bits == self.key
            && let Some(trace) = Trace::new(noting.kept(), &after, given.inputs.len())
        {
            self.kept.keep(place, trace, told);
            self.counts.kept += 1;
        }
    }

    /// The unit goes on by itself: it gets its words.
    pub(crate) fn leave(&mut self, unit: &mut U) {
        self.end_ride();
        self.flush(unit);
        (self.at, self.last, self.told, self.turned) = (None, None, None, None);
    }
    /// Brings a copy of the unit to where it is by now.
    pub(crate) fn catch_up(&self, unit: &mut U) {
        if self.ahead {
            let mut words = self.words.clone();
            if let Some((trace, rounds)) = self.ridden() {
                self.ride.clone().writes(trace, rounds, &mut words);
            }
            unit.put(&words);
        }
    }
    /// What was stepped and what was not.
    pub(crate) fn counts(&self) -> Counts {
        self.counts
    }

    /// Goes the trace once more, or round it, if that is the way.
    fn on(&mut self, inputs: &[u32]) -> bool {
        let (Some(place), Some(last)) = (self.at.and_then(|at| self.kept.at(at)), self.last) else { return false };
        let Some(trace) = place.traces.get(last) else { return false };
        let Some(rounds) = place.known.get(last).and_then(|known| known.rounds.as_deref()) else { return false };
        if trace.rides(rounds, &mut self.words, inputs, &mut self.ride) {
            self.counts.skipped += 1;
            return true;
        }
        let went = trace.goes_round(rounds, &place.traces, &mut self.words, inputs, &mut self.ride);
        self.counts.traced += u64::from(went);
        went
    }
    /// For how many scans with these inputs, which are those of the last scan, the ride goes on, and within what they may move meanwhile.
    pub(crate) fn stays(&mut self, inputs: &[u32], rooms: &mut [Room]) -> Stays {
        self.stays = match self.ridden() {
            Some((trace, rounds)) => trace.stays(rounds, &self.words, inputs, &self.ride, rooms),
            None => Stays::default(),
        };
        self.stays
    }
    /// So many scans, as [`Self::stays`] said, of which the last had these inputs.
    pub(crate) fn again(&mut self, inputs: &[u32], scans: u32) {
        let (Some(place), Some(last)) = (self.at.and_then(|at| self.kept.at(at)), self.last) else { return };
        let rounds = place.known.get(last).and_then(|known| known.rounds.as_deref());
        if let (Some(rounds), true) = (rounds, self.rides) {
            self.ride.goes_on(rounds, &mut self.words, inputs, (scans, self.stays));
            self.counts.skipped += u64::from(scans);
        }
    }
    /// The trace that is ridden, and ways round it.
    fn ridden(&self) -> Option<(&Trace, &Rounds)> {
        let (place, last) = (self.at.and_then(|at| self.kept.at(at))?, self.last?);
        place
            .traces
            .get(last)
            .map(|trace| &**trace)
            .zip(place.known.get(last)?.rounds.as_deref())
            .filter(|_| self.rides)
    }
    /// Writes what a ride came to; gives the trace that was ridden.
    fn end_ride(&mut self) -> Option<usize> {
        if !std::mem::take(&mut self.rides) {
            return None;
        }
        let (place, last) = (self.at.and_then(|at| self.kept.at(at))?, self.last?);
        let (trace, rounds) = (place.traces.get(last)?, place.known.get(last)?.rounds.as_deref()?);
        self.ride.writes(trace, rounds, &mut self.words);
        self.last
    }
    fn flush(&mut self, unit: &mut U) {
        if std::mem::take(&mut self.ahead) {
            unit.put(&self.words);
        }
    }
    /// Where the unit is.
    fn place(&mut self, unit: &mut U, given: &Given<'_>) -> usize {
        if !self.ahead {
            unit.words(&mut self.words);
        }
        self.key.clear();
        unit.bits(given, &mut self.key);
        if self.kept.is_full() {
            self.kept.forget();
            (self.told, self.turned) = (None, None);
        }
        self.kept.place(&self.key)
    }
    /// Notes a scan that is about to be stepped, where that was asked for often enough.
    fn note(&mut self, unit: &mut U, given: &Given<'_>, at: usize) {
        if !self.kept.at_mut(at).is_some_and(place::Place::is_asked) {
            return;
        }
        let mut noting = Noting::new(self.words.len());
        self.noted = unit.note(&mut noting, given).map(|after| (at, noting, after));
    }
}

/// Turns bits of the state in a key, of which they are the first.
fn turn(key: &mut [u8], bits: &[usize]) {
    for bit in bits {
        if let Some(cell) = key.get_mut(*bit) {
            *cell ^= 1;
        }
    }
}
