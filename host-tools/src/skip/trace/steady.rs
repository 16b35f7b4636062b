//! How long a ride goes on while its inputs stay the same: up to its next bound, or for whole periods.

/// Whether a ride comes back to where it was while its inputs stay the same: behind a way round its own words are then what they were behind
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
}

impl Steady {
    /// Nothing is known.
    pub(super) fn begin(&mut self) {
        (self.gone, self.period) = (None, 0);
    }
    /// A scan with these inputs.
    pub(super) fn goes(&mut self, inputs: &[u32]) {
        if self.inputs != inputs {
            self.inputs.clear();
            self.inputs.extend_from_slice(inputs);
            self.begin();
        }
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
        (self.gone, self.rounds) = (Some(gone), 0);
        self.own.clear();
        self.own.extend(own);
    }
}

/// Ways round in one period.
const MOST_OF_PERIOD: u32 = 24;

/// For how many scans a ride goes on with the inputs as they are.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Stays {
    /// So many at once.
    pub(super) once: u32,
    /// Or so many, in whole periods.
    pub(super) whole: u32,
    /// Scans of a period; 1 without one, and then as many as at once.
    pub(super) period: u32,
}

impl Stays {
    /// What two of them have in common.
    pub(crate) fn and(self, other: Self) -> Self {
        let period = common(self.period, other.period);
        Self { once: self.once.min(other.once), whole: self.whole.min(other.whole), period }
    }
    /// So many at once.
    #[cfg(test)]
    pub(crate) fn at_once(self) -> u32 {
        self.once
    }
    /// The most scans that go on at once, of so many.
    pub(crate) fn most(self, most: u32) -> u32 {
        let periods = self.whole.min(most).checked_div(self.period).unwrap_or(0);
        periods.saturating_mul(self.period).max(self.once.min(most))
    }
}

/// Scans after which both periods are over; 0 if there is none of both, or it is long.
fn common(one: u32, other: u32) -> u32 {
    let (mut a, mut b) = (one, other);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    if one == 0 || other == 0 { 0 } else { (one / a.max(1)).checked_mul(other).unwrap_or(0) }
}
