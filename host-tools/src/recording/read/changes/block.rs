//! Rows with which one scan after the other ends: what counters and links say is mostly the same, and is then compared in one piece.

use super::super::columns::Slot;
use crate::sample::{Frame, Sample};

/// The rows behind the last one of a gauge, in a scan of gauges, counters and links alone, all of one time.
#[derive(Debug, Default)]
pub(super) struct Block {
    /// As they stood; empty if nothing is known.
    text: Vec<u8>,
    /// Where each begins, with a time of so many bytes.
    rows: Vec<usize>,
    time: usize,
    /// What the scan read of counters and links.
    travel: Vec<i32>,
    links: Vec<Frame>,
    /// The name of the last of them.
    pub(super) last: usize,
}

/// Rows of a scan, as they are taken one by one.
#[derive(Debug)]
pub(super) enum Rows {
    /// Only gauges stand there so far.
    Gauges,
    /// A block begins at this byte.
    Block(usize),
    /// Something else is among them.
    Mixed,
}

impl Rows {
    /// One more row, which begins at this byte.
    pub(super) fn takes(self, slot: &Slot, at: usize) -> Self {
        match (self, slot) {
            (Self::Gauges, Slot::Gauge(..)) => Self::Gauges,
            (Self::Gauges, Slot::Counter(..) | Slot::CounterOn(..) | Slot::Link(_)) => Self::Block(at),
            (Self::Block(begin), Slot::Counter(..) | Slot::CounterOn(..) | Slot::Link(_)) => Self::Block(begin),
            _ => Self::Mixed,
        }
    }
}

impl Block {
    /// Takes up rows of a scan that read this; `last` is the name of the last of them.
    pub(super) fn keep(&mut self, text: &[u8], time: usize, sample: &Sample, last: usize) {
        self.text.clear();
        self.text.extend_from_slice(text);
        let begins = |end: usize| Some(end + 1).filter(|begin| *begin < text.len());
        let ends = text.iter().enumerate().filter(|(_, byte)| **byte == b'\n');
        self.rows.clear();
        self.rows.push(0);
        self.rows.extend(ends.filter_map(|(end, _)| begins(end)));
        self.travel.clone_from(&sample.travel);
        self.links.clone_from(&sample.links);
        (self.time, self.last) = (time, last);
    }
    /// What lies here begins with these rows, at this time: their bytes and their number.
    pub(super) fn stands(&mut self, lying: &[u8], time: &[u8]) -> Option<(usize, u64)> {
        let first = self.text.get(self.time..)?.first_chunk::<8>()?;
        if time.len() != self.time || lying.get(self.time..)?.first_chunk() != Some(first) {
            return None;
        }
        for row in &self.rows {
            self.text.get_mut(*row..row + self.time)?.copy_from_slice(time);
        }
        lying.starts_with(&self.text).then_some((self.text.len(), self.rows.len() as u64))
    }
    /// Puts what they say into a sample.
    pub(super) fn fill(&self, sample: &mut Sample) {
        sample.travel.clone_from(&self.travel);
        sample.links.clone_from(&self.links);
    }
}
