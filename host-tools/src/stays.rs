//! For how many scans all stays as it is, and what may move meanwhile: what whoever runs the rules says, and whoever reads a recording goes by.

/// For how many scans what is told stays the same, as long as what is read does, or moves within its room.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Stays {
    /// So many at once.
    pub(crate) once: u32,
    /// Or so many, in whole periods.
    pub(crate) whole: u32,
    /// Scans of a period; 1 without one, and then as many as at once.
    pub(crate) period: u32,
}

impl Stays {
    /// Any number of scans up to this one.
    #[must_use]
    pub fn up_to(scans: u32) -> Self {
        Self { once: scans, whole: scans, period: 1 }
    }
    /// What two of them have in common.
    pub(crate) fn and(self, other: Self) -> Self {
        let period = common(self.period, other.period);
        Self { once: self.once.min(other.once), whole: self.whole.min(other.whole), period }
    }
    /// The most scans that go on at once, of so many.
    #[must_use]
    pub fn most(self, most: u32) -> u32 {
        let periods = self.whole.min(most).checked_div(self.period).unwrap_or(0);
        periods.saturating_mul(self.period).max(self.once.min(most))
    }
    /// Just so many scans go on at once.
    pub(crate) fn allows(self, scans: u32) -> bool {
        scans <= self.once || scans <= self.whole && scans.checked_rem(self.period) == Some(0)
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

/// Within what the value of a gauge may move from scan to scan, steps, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Room {
    /// The least.
    pub least: u32,
    /// The most.
    pub most: u32,
}

impl Room {
    /// All that there is.
    pub const ALL: Self = Self { least: 0, most: u32::MAX };
    /// What stands still.
    #[must_use]
    pub fn still(at: u32) -> Self {
        Self { least: at, most: at }
    }
    /// What both have in common.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self { least: self.least.max(other.least), most: self.most.min(other.most) }
    }
    /// A value is within it.
    #[must_use]
    pub fn has(self, value: u32) -> bool {
        self.least <= value && value <= self.most
    }
}
