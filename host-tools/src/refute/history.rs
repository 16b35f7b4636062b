//! Raw inputs from power-up on, and whether they keep what the inputs are declared to do.

use crate::sample::Sample;
use crate::station::signals::{Signal, signals};
use crate::station::{InputKind, Scans, Station};

/// Equal samples that follow each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stay {
    /// How many.
    pub scans: u32,
    /// What each of them reads.
    pub sample: Sample,
}

/// Raw inputs from power-up on.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct History {
    stays: Vec<Stay>,
}

impl History {
    /// Of such stays; empty ones are left out.
    pub fn of(stays: impl IntoIterator<Item = Stay>) -> Self {
        let mut history = Self::default();
        for stay in stays {
            history.push(&stay.sample, stay.scans);
        }
        history
    }
    /// So many more scans that read this.
    pub fn push(&mut self, sample: &Sample, scans: u32) {
        if scans == 0 {
            return;
        }
        match self.stays.last_mut() {
            Some(last) if last.sample == *sample && last.scans.checked_add(scans).is_some() => last.scans += scans,
            _ => self.stays.push(Stay { scans, sample: sample.clone() }),
        }
    }
    /// Its stays, in order.
    pub fn stays(&self) -> &[Stay] {
        &self.stays
    }
    /// Number of scans.
    pub fn scans(&self) -> u64 {
        self.stays.iter().map(|stay| u64::from(stay.scans)).sum()
    }
    /// Every scan.
    pub fn samples(&self) -> impl Iterator<Item = &Sample> {
        self.stays.iter().flat_map(|stay| std::iter::repeat_n(&stay.sample, stay.scans as usize))
    }
    /// The first so many scans.
    #[must_use]
    pub fn first(&self, mut scans: u64) -> Self {
        let mut cut = Self::default();
        for stay in &self.stays {
            let takes = u32::try_from(scans.min(u64::from(stay.scans))).unwrap_or(u32::MAX);
            cut.push(&stay.sample, takes);
            scans -= u64::from(takes);
        }
        cut
    }
    /// Whether detectors, contacts and pairs keep each level as long as they are declared to, and paces
    /// deliver no more in a scan than they can (twice that if `racing`).
    pub fn is_clean(&self, station: &Station, racing: bool) -> bool {
        signals(station).iter().all(|signal| self.lasts(signal)) && self.is_bearable(station, racing)
    }
    /// Each level of the channel that began after the first scan and has ended lasted as long as is declared.
    fn lasts(&self, signal: &Signal) -> bool {
        let mut lasted: Option<u64> = None;
        let mut level = None;
        for stay in &self.stays {
            let now = stay.sample.channels.get(signal.channel).copied();
            if now == level {
                lasted = lasted.map(|scans| scans + u64::from(stay.scans));
                continue;
            }
            let least = if level == Some(true) { signal.high } else { signal.low };
            if lasted.is_some_and(|scans| scans < u64::from(least)) {
                return false;
            }
            // How long the first level has lasted before power-up, nobody knows.
            lasted = level.is_some().then_some(u64::from(stay.scans));
            level = now;
        }
        true
    }
    fn is_bearable(&self, station: &Station, racing: bool) -> bool {
        let limits = source_limits(station);
        self.stays.iter().all(|stay| {
            stay.sample.travel.iter().zip(&limits).all(|(mm, limit)| {
                let limit = if racing { limit.saturating_mul(2) } else { *limit };
                mm.unsigned_abs() <= limit
            })
        })
    }
}

/// Microseconds as whole scans, rounded down.
pub(super) fn scans(station: &Station, us: u32) -> Scans {
    us / station.scan_us.max(1)
}

/// The most that each source can deliver in a scan, mm.
pub(super) fn source_limits(station: &Station) -> Vec<u32> {
    let mut limits = vec![u32::MAX; station.sources.len()];
    for input in &station.inputs {
        if let InputKind::Pace(pace) = &input.kind {
            let second = match pace.backing {
                crate::station::Backing::Source(second, _) => Some(second),
                _ => None,
            };
            for source in [Some(pace.source), second].into_iter().flatten() {
                if let Some(limit) = limits.get_mut(source) {
                    *limit = pace.top_scan;
                }
            }
        }
    }
    limits
}
