//! Whether a ride comes back to where it was, so that it can be gone on for whole periods.

use super::free::Free;

/// Whether a ride comes back to where it was while its inputs stay the same, but for free ones: behind a way round its own words are then what they were behind
/// another, and will be again after as many scans.
#[derive(Debug, Clone, Default)]
pub(super) struct Steady {
    /// Inputs of the last scan.
    pub(super) inputs: Vec<u32>,
    /// Scans gone behind a way round since when they have been the same, own words then, and ways round since.
    gone: Option<u32>,
    own: Vec<u32>,
    rounds: u32,
    /// Scans after which they are the same; 0 if that is not known.
    pub(super) period: u32,
    /// No input has moved since then, not even a free one.
    pub(super) stood: bool,
}

impl Steady {
    /// Nothing is known.
    pub(super) fn begin(&mut self) {
        (self.gone, self.period, self.stood) = (None, 0, false);
    }
    /// A scan with these inputs, some of which are free to move.
    pub(super) fn goes(&mut self, inputs: &[u32], free: &Free) {
        if self.inputs == inputs {
            return;
        }
        self.stood = false;
        if self.inputs.len() != inputs.len() || free.others_differ(&self.inputs, inputs) {
            self.begin();
        }
        self.inputs.clear();
        self.inputs.extend_from_slice(inputs);
    }
    /// Behind a way round, own words are these.
    pub(super) fn round(&mut self, own: impl Iterator<Item = u32> + Clone, gone: u32) {
        if self.period > 0 {
            return;
        }
        if let Some(before) = self.gone {
            if self.own.iter().copied().eq(own.clone()) {
                self.period = gone.saturating_sub(before);
                return;
            }
            self.rounds += 1;
            if self.rounds < MOST_OF_PERIOD {
                return;
            }
        }
        (self.gone, self.rounds, self.stood) = (Some(gone), 0, true);
        self.own.clear();
        self.own.extend(own);
    }
}

/// Ways round in one period.
const MOST_OF_PERIOD: u32 = 24;
