//! What is kept, in bounded memory: places, their traces, and what these tell. Many places have the same traces, and tell the same: each is kept once.

use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasherDefault, Hasher};
use std::sync::Arc;

use super::place::Place;
use super::trace::Trace;

/// Places with the same bits, and bytes of them and their traces, that are kept at most; with more, all are forgotten and learnt anew.
const MOST_PLACES: usize = 4_000;
const MOST_KEPT: usize = 2_150_000;
/// Bytes of an entry of a table beside what it holds.
const ENTRY: usize = 32;

/// What is kept.
#[derive(Debug)]
pub(super) struct Kept<T> {
    places: HashMap<Box<[u8]>, usize, BuildHasherDefault<Mix>>,
    all: Vec<Place>,
    traces: HashSet<Arc<Trace>, BuildHasherDefault<Mix>>,
    told: Vec<T>,
    /// Bytes of all of it.
    bytes: usize,
}

impl<T> Default for Kept<T> {
    fn default() -> Self {
        let (places, traces) = (HashMap::default(), HashSet::default());
        Self { places, all: Vec::new(), traces, told: Vec::new(), bytes: 0 }
    }
}

impl<T: Clone + PartialEq> Kept<T> {
    /// A place that has a number.
    pub(super) fn at(&self, place: usize) -> Option<&Place> {
        self.all.get(place)
    }
    pub(super) fn at_mut(&mut self, place: usize) -> Option<&mut Place> {
        self.all.get_mut(place)
    }
    /// What has this number among all that is told.
    pub(super) fn told(&self, number: usize) -> Option<&T> {
        self.told.get(number)
    }
    /// No more is to be kept.
    pub(super) fn is_full(&self) -> bool {
        self.bytes >= MOST_KEPT || self.all.len() >= MOST_PLACES
    }
    /// Forgets all.
    pub(super) fn forget(&mut self) {
        *self = Self::default();
    }
    /// So many bytes more.
    pub(super) fn takes(&mut self, bytes: usize) {
        self.bytes = self.bytes.saturating_add(bytes);
    }
    /// Number of the place with these bits, which is kept from now on.
    pub(super) fn place(&mut self, key: &[u8]) -> usize {
        if let Some(place) = self.places.get(key) {
            return *place;
        }
        self.takes(key.len() + size_of::<(Box<[u8]>, usize)>() + ENTRY + Place::SIZE);
        self.places.insert(key.into(), self.all.len());
        self.all.push(Place::new());
        self.all.len() - 1
    }
    /// Keeps a trace of a place, and what it tells.
    pub(super) fn keep(&mut self, place: usize, trace: Trace, told: &T) {
        let number = self.told.iter().position(|known| known == told).unwrap_or_else(|| {
            self.told.push(told.clone());
            self.bytes = self.bytes.saturating_add(2 * size_of::<T>() + ENTRY);
            self.told.len() - 1
        });
        let trace = if let Some(same) = self.traces.get(&trace) {
            Arc::clone(same)
        } else {
            let trace = Arc::new(trace);
            self.takes(trace.size() + ENTRY);
            self.traces.insert(Arc::clone(&trace));
            trace
        };
        let Some(at) = self.all.get_mut(place) else { return };
        let gone = at.keep(trace, number);
        if gone.trace.is_none() {
            self.takes(Place::MORE);
        }
        let mut freed = gone.rounds;
        // No other place has it: it is here and among all of them.
        if let Some(trace) = gone.trace.filter(|trace| Arc::strong_count(trace) == 2) {
            self.traces.remove(&trace);
            freed += trace.size() + ENTRY;
        }
        self.bytes = self.bytes.saturating_sub(freed);
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
