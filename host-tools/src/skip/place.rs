//! Somewhere with the same bits: the ways through a scan that were gone from there.

use std::sync::Arc;

use super::trace::{Rounds, Trace};

/// Traces of one place.
const MOST_TRACES: usize = 12;
/// How often a place must be stepped from before it is noted, and again, four times as often, after each time that this came to nothing; up to a most.
const PATIENCE: u32 = 2;
const MOST_PATIENCE: u32 = 1 << 12;

/// Somewhere with the same bits.
#[derive(Debug)]
pub(super) struct Place {
    /// Those of many places are the same.
    pub(super) traces: Vec<Arc<Trace>>,
    /// What is known of each trace here.
    pub(super) known: Vec<Known>,
    /// The trace that was gone last.
    last: usize,
    /// The trace that is looked at first when one must give way.
    oldest: usize,
    steps: u32,
    waits: u32,
}

/// What is known of a trace at its place.
#[derive(Debug, Default)]
pub(super) struct Known {
    /// Number of what it tells.
    pub(super) told: usize,
    /// The trace that was gone behind it last time.
    next: usize,
    /// Ways round it, once it has been gone again and again.
    pub(super) rounds: Option<Box<Rounds>>,
    /// Where it leads, if it turns bits and all but gauges and travel stays as it is.
    pub(super) leads: Option<usize>,
    /// It was gone, ever, and since it was last looked at whether it should give way.
    ever: bool,
    lately: bool,
}

/// What gave way to a trace that is kept.
#[derive(Debug, Default)]
pub(super) struct Gone {
    pub(super) trace: Option<Arc<Trace>>,
    /// Bytes of ways round.
    pub(super) rounds: usize,
}

impl Place {
    pub(super) fn new() -> Self {
        Self { traces: Vec::new(), known: Vec::new(), last: 0, oldest: 0, steps: 0, waits: PATIENCE }
    }
    /// Bytes that a place takes, and one more of its traces: vectors have room ahead.
    pub(super) const SIZE: usize = 2 * size_of::<Self>();
    pub(super) const MORE: usize = 2 * (size_of::<Arc<Trace>>() + size_of::<Known>());

    /// The trace that these words and inputs fit; that behind the last one is tried first.
    pub(super) fn find(&mut self, last: Option<usize>, words: &[u32], inputs: &[u32]) -> Option<usize> {
        let fits = |trace: &Arc<Trace>| trace.fits(words, inputs);
        let next = last.and_then(|last| self.known.get(last)).map_or(self.last, |last| last.next);
        let tried = Some(next).filter(|next| self.traces.get(*next).is_some_and(fits));
        if tried.is_some() {
            return tried;
        }
        let found = self.traces.iter().position(fits)?;
        if let Some(last) = last.and_then(|last| self.known.get_mut(last)) {
            last.next = found;
        }
        Some(found)
    }
    /// A trace is gone.
    pub(super) fn goes(&mut self, trace: usize) -> Option<(&Arc<Trace>, &mut Known)> {
        let known = self.known.get_mut(trace)?;
        if !known.ever {
            // It was worth being kept, and so may others be.
            self.waits = PATIENCE;
        }
        (known.ever, known.lately, self.last) = (true, true, trace);
        Some((self.traces.get(trace)?, known))
    }
    /// A ride on one trace was left for another: the next time it may be gone round. Gives the bytes that this takes.
    pub(super) fn round(&mut self, ridden: usize, found: usize) -> usize {
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
    /// Whether a scan that is stepped from here is to be noted.
    pub(super) fn is_asked(&mut self) -> bool {
        self.steps += 1;
        if self.steps < self.waits {
            return false;
        }
        self.steps = 0;
        // Where it comes to nothing it is asked for less often.
        self.waits = self.waits.saturating_mul(4).min(MOST_PATIENCE);
        true
    }
    /// Keeps a trace that tells this; gives what gave way to it.
    pub(super) fn keep(&mut self, trace: Arc<Trace>, told: usize) -> Gone {
        let known = Known { told, ..Known::default() };
        if self.traces.len() < MOST_TRACES {
            self.traces.push(trace);
            self.known.push(known);
            self.waits = PATIENCE;
            return Gone::default();
        }
        // Whoever was gone lately stays for another round.
        for _ in 0..MOST_TRACES {
            let lately = self.known.get_mut(self.oldest).is_some_and(|known| std::mem::take(&mut known.lately));
            if !lately {
                break;
            }
            self.oldest = (self.oldest + 1) % MOST_TRACES;
        }
        let at = self.oldest;
        self.oldest = (at + 1) % MOST_TRACES;
        let (Some(cell), Some(of)) = (self.traces.get_mut(at), self.known.get_mut(at)) else { return Gone::default() };
        let (trace, known) = (std::mem::replace(cell, trace), std::mem::replace(of, known));
        if known.ever {
            self.waits = PATIENCE;
        }
        let size = |rounds: &Option<Box<Rounds>>| rounds.as_ref().map_or(0, |rounds| rounds.size());
        let mut gone = Gone { trace: Some(trace), rounds: size(&known.rounds) };
        // Ways round others may have led along the one that is gone.
        for known in &mut self.known {
            if known.rounds.as_ref().is_some_and(|rounds| rounds.goes_along(at)) {
                gone.rounds += size(&known.rounds);
                known.rounds = None;
            }
        }
        gone
    }
}
