//! Settling of a channel, and the hold that every "for more than n scans" means.

use host_tools::station::{Scans, Settle};

/// A channel with its settled level.
#[derive(Debug, Clone, Default)]
pub(crate) struct Channel {
    /// None before the first scan.
    level: Option<bool>,
    /// Scans without a break, this one included, that showed the other value.
    other: i64,
}

/// What a channel did in one scan.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Step {
    /// The level now.
    pub(crate) level: bool,
    /// It rose in this scan.
    pub(crate) rose: bool,
    /// It fell in this scan.
    pub(crate) fell: bool,
}

impl Channel {
    /// Takes one sample.
    pub(crate) fn scan(&mut self, sample: bool, settle: Settle) -> Step {
        let Some(before) = self.level else {
            self.level = Some(sample);
            return Step { level: sample, rose: false, fell: false };
        };
        let mut level = before;
        if sample == before {
            self.other = 0;
        } else {
            self.other += 1;
            let needed = if sample { settle.up } else { settle.down };
            // The first scan that shows the new value is the 0th.
            if self.other > i64::from(needed) {
                level = sample;
                self.other = 0;
            }
        }
        self.level = Some(level);
        Step { level, rose: level && !before, fell: !level && before }
    }
}

/// Counts the scans, without a break and this one included, in which a bit was true.
#[derive(Debug, Clone, Default)]
pub(crate) struct Hold {
    count: i64,
}

impl Hold {
    /// Takes the bit of this scan; true while it has been true for more than `n` scans.
    pub(crate) fn longer(&mut self, bit: bool, n: Scans) -> bool {
        if bit {
            self.count += 1;
        } else {
            self.count = 0;
        }
        self.count > i64::from(n)
    }
}
