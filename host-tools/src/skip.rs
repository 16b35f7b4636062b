//! Scans that need not be stepped.
//!
//! Most scans of a recording change no bit: ages grow, spans of speeds end, and that is all. The step itself says what such a scan goes by:
//! run once more in a reading that notes its comparisons ([`Noting`]), it leaves a *trace*, which holds for any words and inputs of which those
//! comparisons come out as they did. A scan that fits a trace is worked out from it, and one whose bounds can be told ahead is gone on and
//! on until a bound is reached; where it is left for a scan only, as at the end of a speed's span, what both do alike goes on. Whatever fits no
//! trace is stepped. Nothing here knows what a word means.

use crate::sample::Sample;
use crate::stays::{Room, Stays};
use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

mod before;
mod noting;
mod rules;
#[cfg(test)]
mod tests;
mod trace;

pub(crate) use before::{Before, levels};
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

/// Places with the same bits, and bytes of them and their traces, that are kept at most; with more, all are forgotten and learnt anew.
const MOST_PLACES: usize = 4_000;
const MOST_KEPT: usize = 8_000_000;
/// Traces of one place.
const MOST_TRACES: usize = 12;
/// How often a place must be stepped from before it is noted, and again after each time that this came to nothing.
const PATIENCE: u32 = 2;

/// Somewhere with the same bits.
#[derive(Debug)]
struct Place<T> {
    traces: Vec<Trace>,
    /// What is known of each trace.
    known: Vec<Known>,
    /// The trace that gives way when there are too many.
    oldest: usize,
    /// What its traces tell, each once.
    told: Vec<T>,
    steps: u32,
    waits: u32,
}

/// What is known of a trace.
#[derive(Debug, Default)]
struct Known {
    /// Number of what it tells.
    told: usize,
    /// The trace that was gone behind it last time.
    next: usize,
    /// Ways round it, once it has been gone again and again.
    rounds: Option<Rounds>,
    /// Where it leads, if it turns bits and all but gauges and travel stays as it is.
    leads: Option<usize>,
}

impl<T> Place<T> {
    fn new() -> Self {
        Self { traces: Vec::new(), known: Vec::new(), oldest: 0, told: Vec::new(), steps: 0, waits: PATIENCE }
    }
    /// The trace that these words and inputs fit; that behind the last one is tried first.
    fn find(&mut self, last: Option<usize>, words: &[u32], inputs: &[u32]) -> Option<usize> {
        let fits = |trace: &Trace| trace.fits(words, inputs);
        let next = last.and_then(|last| self.known.get(last)).map(|last| last.next);
        if let Some(next) = next.filter(|next| self.traces.get(*next).is_some_and(fits)) {
            return Some(next);
        }
        let found = self.traces.iter().position(fits)?;
        if let Some(last) = last.and_then(|last| self.known.get_mut(last)) {
            last.next = found;
        }
        Some(found)
    }
    /// A ride on one trace was left for another: the next time it may be gone round. Gives the bytes that this takes.
    fn round(&mut self, ridden: usize, found: usize) -> usize {
        let told = self.known.get(found).map(|known| known.told);
        let (Some(trace), Some(known)) = (self.traces.get(ridden), self.known.get_mut(ridden)) else { return 0 };
        if told != Some(known.told) {
            return 0;
        }
        let Some(rounds) = &mut known.rounds else { return 0 };
        let before = rounds.size();
        rounds.take(trace, &self.traces, found);
        rounds.size().saturating_sub(before)
    }
}

impl<T: Clone + PartialEq> Place<T> {
    /// Keeps a trace; gives the bytes of what gave way to it.
    fn keep(&mut self, trace: Trace, told: &T) -> usize {
        let rounds = |known: &Known| known.rounds.as_ref().map_or(0, Rounds::size);
        let mut freed = 0;
        let number = self.told.iter().position(|known| known == told).unwrap_or_else(|| {
            self.told.push(told.clone());
            self.told.len() - 1
        });
        let known = Known { told: number, ..Known::default() };
        if self.traces.len() < MOST_TRACES {
            self.traces.push(trace);
            self.known.push(known);
        } else if let (Some(oldest), Some(of)) = (self.traces.get_mut(self.oldest), self.known.get_mut(self.oldest)) {
            freed = oldest.size() + rounds(of);
            (*oldest, *of) = (trace, known);
            self.oldest = (self.oldest + 1) % MOST_TRACES;
            // Ways round others may have led along the one that is gone.
            for known in &mut self.known {
                freed += rounds(known);
                known.rounds = None;
            }
        }
        self.waits = PATIENCE;
        freed
    }
}

/// Skips over scans of a unit.
#[derive(Debug)]
pub(crate) struct Skip<U: Unit> {
    places: HashMap<Box<[u8]>, usize, BuildHasherDefault<Mix>>,
    all: Vec<Place<U::Told>>,
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
    /// The last scan told this, of this place.
    told: Option<(usize, usize)>,
    ride: Ride,
    stays: Stays,
    sums: Vec<u32>,
    noted: Option<(usize, Noting, After)>,
    /// The last scan went along this trace of this place, and turned bits.
    turned: Option<(usize, usize)>,
    /// Bytes of what is kept.
    kept: usize,
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
            places: HashMap::default(),
            all: Vec::new(),
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
            kept: 0,
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
        let found = self.all.get_mut(at).and_then(|place| place.find(last, &self.words, given.inputs));
        let Some(trace) = found else {
            self.leave(unit);
            self.counts.stepped += 1;
            self.note(unit, given, at);
            return Went::Step;
        };
        if let (true, Some(ridden), Some(place)) = (same, ridden, self.all.get_mut(at)) {
            self.kept = self.kept.saturating_add(place.round(ridden, trace));
        }
        (self.at, self.last) = (Some(at), found);
        self.goes(unit, given.inputs)
    }
    /// Where the trace leads by which bits were turned.
    fn leads(&mut self) -> Option<&mut Option<usize>> {
        let (place, trace) = self.turned?;
        Some(&mut self.all.get_mut(place)?.known.get_mut(trace)?.leads)
    }
    /// The place to which the last scan led, if it is known.
    fn led(&mut self, same: bool) -> Option<usize> {
        if same { *self.leads()? } else { None }
    }
    /// One scan along the trace that was found.
    fn goes(&mut self, unit: &mut U, inputs: &[u32]) -> Went<'_, U::Told> {
        let (Some(at), Some(last)) = (self.at, self.last) else { return Went::Step };
        let Some(place) = self.all.get_mut(at) else { return Went::Step };
        let (Some(trace), Some(known)) = (place.traces.get(last), place.known.get_mut(last)) else { return Went::Step };
        trace.go(&mut self.words, inputs, &mut self.sums);
        if trace.lasts() {
            let kept = &mut self.kept;
            let rounds = known.rounds.get_or_insert_with(|| {
                let rounds = Rounds::new(trace, last);
                *kept = kept.saturating_add(rounds.size());
                rounds
            });
            self.rides = trace.begins(rounds, &self.words, inputs.len(), &mut self.ride);
        } else if !trace.turns().is_empty() {
            unit.turn(trace.turns());
            turn(&mut self.key, trace.turns());
            self.turned = Some((at, last));
            (self.at, self.last) = (None, None);
        }
        self.ahead = true;
        self.counts.traced += 1;
        let told = Some((at, known.told));
        if std::mem::replace(&mut self.told, told) == told {
            return Went::Same;
        }
        match place.told.get(known.told) {
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
        if let (true, Some(place)) = (words && bits == self.key, self.all.get_mut(place))
            && let Some(trace) = Trace::new(noting.kept(), &after, given.inputs.len())
        {
            self.kept = self.kept.saturating_add(trace.size());
            self.kept = self.kept.saturating_sub(place.keep(trace, told));
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
            if let (true, Some(rounds)) = (self.rides, self.rounds()) {
                self.ride.clone().writes(rounds, &mut words);
            }
            unit.put(&words);
        }
    }
    /// What was stepped and what was not.
    pub(crate) fn counts(&self) -> Counts {
        self.counts
    }

    /// Ways round the trace that the last scan went along.
    fn rounds(&self) -> Option<&Rounds> {
        self.all.get(self.at?)?.known.get(self.last?)?.rounds.as_ref()
    }
    /// Goes the trace once more, or round it, if that is the way.
    fn on(&mut self, inputs: &[u32]) -> bool {
        let (Some(place), Some(last)) = (self.at.and_then(|at| self.all.get(at)), self.last) else { return false };
        let Some(trace) = place.traces.get(last) else { return false };
        let Some(rounds) = place.known.get(last).and_then(|known| known.rounds.as_ref()) else { return false };
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
        let (Some(place), Some(last)) = (self.at.and_then(|at| self.all.get(at)), self.last) else { return };
        let rounds = place.known.get(last).and_then(|known| known.rounds.as_ref());
        if let (Some(rounds), true) = (rounds, self.rides) {
            self.ride.goes_on(rounds, &mut self.words, inputs, (scans, self.stays));
            self.counts.skipped += u64::from(scans);
        }
    }
    /// The trace that is ridden, and ways round it.
    fn ridden(&self) -> Option<(&Trace, &Rounds)> {
        let (place, last) = (self.at.and_then(|at| self.all.get(at))?, self.last?);
        place.traces.get(last).zip(place.known.get(last)?.rounds.as_ref()).filter(|_| self.rides)
    }
    /// Writes what a ride came to; gives the trace that was ridden.
    fn end_ride(&mut self) -> Option<usize> {
        if !std::mem::take(&mut self.rides) {
            return None;
        }
        let place = self.at.and_then(|at| self.all.get(at))?;
        let rounds = place.known.get(self.last?)?.rounds.as_ref()?;
        self.ride.writes(rounds, &mut self.words);
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
        if self.kept >= MOST_KEPT || self.all.len() >= MOST_PLACES {
            self.places.clear();
            self.all.clear();
            (self.told, self.kept, self.turned) = (None, 0, None);
        }
        if let Some(place) = self.places.get(self.key.as_slice()) {
            return *place;
        }
        self.kept = self.kept.saturating_add(self.key.len());
        self.places.insert(self.key.as_slice().into(), self.all.len());
        self.all.push(Place::new());
        self.all.len() - 1
    }
    /// Notes a scan that is about to be stepped, where that was asked for often enough.
    fn note(&mut self, unit: &mut U, given: &Given<'_>, at: usize) {
        let Some(place) = self.all.get_mut(at) else { return };
        place.steps += 1;
        if place.steps < place.waits {
            return;
        }
        place.steps = 0;
        // Where it comes to nothing it is asked for less often.
        place.waits = place.waits.saturating_mul(4);
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

/// A quick sum over bytes. Who has the same is compared byte by byte.
#[derive(Debug, Clone, Copy, Default)]
struct Mix(u64);

impl Hasher for Mix {
    fn finish(&self) -> u64 {
        self.0
    }
    fn write(&mut self, bytes: &[u8]) {
        let (chunks, rest) = bytes.as_chunks::<8>();
        let mut last = [0; 8];
        for (cell, byte) in last.iter_mut().zip(rest) {
            *cell = *byte;
        }
        for chunk in chunks.iter().chain(std::iter::once(&last)) {
            let mixed = (self.0.rotate_left(5) ^ u64::from_le_bytes(*chunk)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            self.0 = mixed ^ (mixed >> 29);
        }
    }
}
