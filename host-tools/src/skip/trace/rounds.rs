//! Ways round a trace, and which words are a ride's own.

use std::borrow::Borrow;

use super::super::noting::{Place, Sum};
use super::free::Free;
use super::{Bound, Change, Changes, Pair, Trace};
use crate::stays::Room;

/// Ways round a trace.
#[derive(Debug)]
pub(in crate::skip) struct Rounds {
    /// Whether each word is the ride's own.
    is_own: Vec<bool>,
    /// Own words but for copies of free inputs.
    pub(super) own: Vec<Place>,
    /// Words that grow and are bounded: own ones, and others.
    pub(super) own_limits: Vec<Limit>,
    pub(super) limits: Vec<Limit>,
    /// Inputs that words become, and the bounds of these.
    pub(super) followed: Vec<(usize, Room)>,
    /// Inputs that are free in the trace and in all ways round it.
    pub(super) free: Free,
    /// The trace itself, gone once, and others.
    pub(super) all: Vec<Round>,
}

/// A word that grows, and the most that it may be.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limit {
    pub(super) word: Place,
    pub(super) most: u32,
    pub(super) change: Change,
}

/// A way round: number of its trace, what it makes of own words, and their bounds.
#[derive(Debug)]
pub(super) struct Round {
    pub(super) trace: usize,
    pub(super) changes: Changes,
    bounds: Vec<Bound>,
}

impl Round {
    /// Own words are within their bounds.
    pub(super) fn holds(&self, words: &[u32]) -> bool {
        self.bounds.iter().all(|bound| bound.holds(words))
    }
}

/// Ways round one trace.
const MOST_ROUNDS: usize = 6;
/// A way round may have one word of so many as its own.
const LEAST_SHARED: usize = 2;

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
        let itself = Round { trace: number, changes: Vec::new(), bounds: Vec::new() };
        let mut rounds = Self {
            is_own,
            own: Vec::new(),
            own_limits: Vec::new(),
            limits: Vec::new(),
            followed: Vec::new(),
            free: Free::of(&[trace]),
            all: vec![itself],
        };
        rounds.divide(trace);
        rounds
    }
    /// Takes up another way round, unless too much of it is different.
    pub(in crate::skip) fn take(&mut self, trace: &Trace, traces: &[impl Borrow<Trace>], number: usize) {
        let Some(other) = traces.get(number).map(Borrow::borrow) else { return };
        if !other.turns.is_empty()
            || self.all.len() >= MOST_ROUNDS
            || self.all.iter().any(|round| round.trace == number)
        {
            return;
        }
        let mut is_own = self.is_own.clone();
        let (here, there) = (trace.of_words(), other.of_words());
        for (own, (here, there)) in is_own.iter_mut().zip(here.iter().zip(&there)) {
            let wider = there.0.least <= here.0.least && there.0.most >= here.0.most;
            // A sum has another number in each trace; but whoever becomes one is own already.
            *own = *own || !wider || there.1 != here.1;
        }
        trace.owns_coupled(other, &mut is_own);
        if is_own.iter().filter(|own| **own).count() * LEAST_SHARED > is_own.len() {
            return;
        }
        self.is_own = is_own;
        self.all.push(Round { trace: number, changes: Vec::new(), bounds: Vec::new() });
        self.divide(trace);
        for round in &mut self.all {
            if let Some(trace) = traces.get(round.trace) {
                round.divide(trace.borrow(), &self.is_own);
            }
        }
        let others = self.all.iter().skip(1).filter_map(|round| traces.get(round.trace)).map(Borrow::borrow);
        self.free = Free::of(&std::iter::once(trace).chain(others).collect::<Vec<_>>());
        self.own = self.compared();
    }
    /// Whether one of them is along this trace.
    pub(in crate::skip) fn goes_along(&self, trace: usize) -> bool {
        self.all.iter().any(|round| round.trace == trace)
    }
    /// Bytes that it takes.
    pub(in crate::skip) fn size(&self) -> usize {
        fn of<T>(all: &[T]) -> usize {
            size_of_val(all)
        }
        let rounds: usize =
            self.all.iter().map(|round| size_of_val(round) + of(&round.changes) + of(&round.bounds)).sum();
        let own = of(&self.is_own) + of(&self.own) + of(&self.own_limits);
        let others = of(&self.limits) + of(&self.followed);
        size_of::<Self>() + own + others + self.free.size() + rounds
    }
    pub(super) fn owns(&self, word: usize) -> bool {
        self.is_own.get(word) == Some(&true)
    }
    /// What the trace makes of own words that change.
    pub(super) fn own_changes(&self) -> &[(Place, Change)] {
        self.all.first().map(|itself| itself.changes.as_slice()).unwrap_or_default()
    }
    /// What it makes of the others.
    pub(super) fn others<'r>(&'r self, trace: &'r Trace) -> impl Iterator<Item = &'r (Place, Change)> {
        trace.changes_of(&self.is_own, false)
    }
    fn compared(&self) -> Vec<Place> {
        let own = (0..).zip(&self.is_own).filter(|(word, own)| **own && !self.free.copies(usize::from(*word)));
        own.map(|(word, _)| word).collect()
    }
    fn divide(&mut self, trace: &Trace) {
        self.own = self.compared();
        self.own_limits = trace.limits(&self.is_own, true);
        self.limits = trace.limits(&self.is_own, false);
        let followed = |(word, input): &(usize, usize)| Some((*input, trace.room_of(*word)?));
        self.followed = trace.follow.iter().filter_map(followed).collect();
        if let Some(itself) = self.all.first_mut() {
            itself.divide(trace, &self.is_own);
        }
    }
}

impl Round {
    fn divide(&mut self, trace: &Trace, is_own: &[bool]) {
        self.changes = trace.changes_of(is_own, true).copied().collect();
        let own = |bound: &&Bound| is_own.get(usize::from(bound.place)) == Some(&true);
        self.bounds = trace.bounds.iter().filter(own).copied().collect();
    }
}

impl Trace {
    /// What is made of those words that are own, or are not.
    fn changes_of<'t>(&'t self, is_own: &'t [bool], own: bool) -> impl Iterator<Item = &'t (Place, Change)> {
        self.changes.iter().filter(move |(word, _)| is_own.get(usize::from(*word)) == Some(&own))
    }
    /// Bounds of a place, if it has any.
    fn room_of(&self, place: usize) -> Option<Room> {
        let at = self.bounds.binary_search_by_key(&place, |bound| usize::from(bound.place)).ok()?;
        self.bounds.get(at).map(|bound| Room { least: bound.least, most: bound.most })
    }
    /// Those of these words that grow and are bounded.
    fn limits(&self, is_own: &[bool], own: bool) -> Vec<Limit> {
        let growing = self.changes_of(is_own, own).filter(|(_, change)| change.grows());
        let limit = |(word, change): &(Place, Change)| {
            let most = self.room_of(usize::from(*word))?.most;
            (most < u32::MAX).then_some(Limit { word: *word, most, change: *change })
        };
        growing.filter_map(limit).collect()
    }
    /// Bounds of each word, and what is made of it.
    fn of_words(&self) -> Vec<(Room, Option<Change>)> {
        let mut all = vec![(Room::ALL, None); self.words];
        for bound in &self.bounds {
            if let Some(word) = all.get_mut(usize::from(bound.place)) {
                word.0 = Room { least: bound.least, most: bound.most };
            }
        }
        for (place, change) in &self.changes {
            if let Some(word) = all.get_mut(usize::from(*place)) {
                word.1 = Some(*change);
            }
        }
        all
    }
    /// Words that grow here and that the other compares with something, or copies, must be written where it is asked and gone.
    fn owns_coupled(&self, other: &Self, is_own: &mut [bool]) {
        let pairs = other.pairs.iter().filter(|pair| !self.bounds(pair)).flat_map(|pair| [pair.word, pair.other]);
        let copied = other.sums.iter().flat_map(Sum::places);
        for word in pairs.chain(other.others.iter().flat_map(|one| one.sum.places())).chain(copied) {
            if let (true, Some(own)) = (self.change(word).is_some_and(Change::grows), is_own.get_mut(word)) {
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
}
