//! Scans that are passed over: what they may be, and how far it is worth looking for them.

use crate::sample::Sample;
use crate::stays::{Room, Stays};

/// Scans that were looked at and could not be passed over at once: no whole period of them lies in one piece. They are not looked at again and again.
#[derive(Debug, Default)]
pub(super) struct Foreseen(u32);

impl Foreseen {
    /// How many scans to look at, of so many at most.
    pub(super) fn most(&self, most: u32, stays: Stays) -> u32 {
        if self.0 > 0 && self.0 < stays.period { self.0.min(stays.once) } else { most }
    }
    /// So many were looked at, of so many at most, and may be passed over but for their number; so many were.
    pub(super) fn looked(&mut self, seen: u32, passed: u32, most: u32) {
        self.0 = if seen < most { seen - passed } else { self.0.saturating_sub(passed) };
    }
    /// A scan was read by itself.
    pub(super) fn read(&mut self) {
        self.0 = self.0.saturating_sub(1);
    }
}

/// A scan reads what another did, but for gauges that move within their rooms.
pub(super) fn alike(now: &Sample, before: &Sample, rooms: &[Room]) -> bool {
    let pairs = now.gauges.iter().zip(&before.gauges).enumerate();
    let within = pairs.fold(true, |within, (gauge, (now, before))| {
        let roomy = || rooms.get(gauge).is_some_and(|room| room.has(now.steps));
        within & (now == before || now.health == before.health && roomy())
    });
    within && now.travel == before.travel && now.channels == before.channels && now.links == before.links
}
