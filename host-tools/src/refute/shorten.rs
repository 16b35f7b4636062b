//! Makes a find shorter and plainer, as long as a replay from power-up still misses the requirement.

use super::{History, Refutation, Stay, confirm};
use crate::station::Station;
use logic_rules::plan::Fault;

/// Scans that all replays of a shortening may take together.
const BUDGET: u64 = 1_500_000;

impl Refutation {
    /// Drops what does not matter, by so many replays at most: stays, whole blocks of them, parts of long
    /// ones, and what single inputs do in them.
    ///
    /// # Errors
    /// As [`confirm`].
    pub fn shorten(self, station: &Station, clean: bool, replays: usize) -> Result<Self, Fault> {
        let racing = !self.history.is_clean(station, false);
        let mut tries = Tries { station, clean, racing, left: replays, budget: BUDGET, best: self };
        let mut block = tries.best.history.stays().len() / 2;
        while block > 0 && tries.may() {
            let mut at = 0;
            while at < tries.best.history.stays().len() && tries.may() {
                let stays = tries.best.history.stays();
                let kept = stays.iter().take(at).chain(stays.iter().skip(at + block));
                if !tries.takes(&History::of(kept.cloned()))? {
                    at += block;
                }
            }
            block /= 2;
        }
        for at in 0..tries.best.history.stays().len() {
            let mut part = tries.best.history.stays().get(at).map_or(0, |s| s.scans);
            while part > 1 && tries.may() {
                part /= 2;
                let change = |(i, stay): (usize, &Stay)| {
                    let scans = if i == at { stay.scans.saturating_sub(part) } else { stay.scans };
                    Stay { scans, sample: stay.sample.clone() }
                };
                let next = History::of(tries.best.history.stays().iter().enumerate().map(change));
                tries.takes(&next)?;
            }
        }
        tries.plain()?;
        Ok(tries.best)
    }
}

struct Tries<'s> {
    station: &'s Station,
    clean: bool,
    racing: bool,
    left: usize,
    budget: u64,
    best: Refutation,
}
impl Tries<'_> {
    fn may(&self) -> bool {
        self.left > 0 && self.budget > 0
    }
    /// Takes a candidate if it still misses the requirement.
    fn takes(&mut self, candidate: &History) -> Result<bool, Fault> {
        if !self.may() || (self.clean && !candidate.is_clean(self.station, self.racing)) {
            return Ok(false);
        }
        self.left -= 1;
        self.budget = self.budget.saturating_sub(candidate.scans());
        let Some(scan) = confirm(self.station, candidate, self.best.requirement)? else { return Ok(false) };
        self.best = Refutation { history: candidate.first(scan + 1), missed_at: scan, ..self.best };
        Ok(true)
    }
    /// Channels and gauges that need not do anything stay at the level they have most of the time.
    fn plain(&mut self) -> Result<(), Fault> {
        let channels = self.station.channels.len();
        for at in 0..channels + self.station.gauge_terminals.len() {
            let mut next: Vec<Stay> = self.best.history.stays().to_vec();
            let Some(first) = next.first().map(|stay| stay.sample.clone()) else { return Ok(()) };
            let mut changed = false;
            for stay in &mut next {
                if let (Some(cell), Some(rest)) = (stay.sample.channels.get_mut(at), first.channels.get(at)) {
                    changed |= cell != rest;
                    *cell = *rest;
                }
                let gauge = at.checked_sub(channels);
                if let Some((cell, rest)) = gauge.and_then(|g| stay.sample.gauges.get_mut(g).zip(first.gauges.get(g))) {
                    changed |= cell != rest;
                    *cell = *rest;
                }
            }
            if changed {
                self.takes(&History::of(next))?;
            }
        }
        Ok(())
    }
}
