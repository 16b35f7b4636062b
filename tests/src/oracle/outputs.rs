//! Outputs with their read-back, slow orders, and the start permit.

use host_tools::sample::Sample;
use host_tools::station::Station;
use host_tools::station::ways::{Source, Way};

use super::conditions::View;
use super::timing::Hold;

/// State of all outputs.
#[derive(Debug, Clone)]
pub(crate) struct Outputs {
    /// Per output: off in the published verdict.
    published_off: Vec<bool>,
    /// Per output: the read-back says something else.
    contradicted: Vec<Hold>,
    /// Per output: released by a `then`, and off until no stop that stands names it there.
    released: Vec<bool>,
    /// Per stop: published without a break.
    published: Vec<Hold>,
    /// Scans without a stop in the verdict, up to the delay.
    rest: u32,
}

impl Outputs {
    /// As at power-up: all are off, and those of a `then` stay so while a stop names them.
    pub(crate) fn power_up(station: &Station) -> Self {
        Self {
            published_off: vec![true; station.outputs.len()],
            contradicted: vec![Hold::default(); station.outputs.len()],
            released: vec![true; station.outputs.len()],
            published: vec![Hold::default(); station.stops.len()],
            rest: 0,
        }
    }

    /// The end of the lead of a field recording: no output has been published as off.
    pub(crate) fn adopt(&mut self) {
        self.published_off.fill(false);
        self.released.fill(false);
    }

    /// Read-backs that contradict the published state.
    pub(crate) fn contradicted(&mut self, station: &Station, sample: &Sample, raw: &mut Vec<(Source, Way)>) {
        for (i, output) in station.outputs.iter().enumerate() {
            if let Some((channel, allowed)) = output.read_back {
                let differs = sample.channels[channel] != self.published_off[i];
                if self.contradicted[i].longer(differs, allowed) {
                    raw.push((Source::Output(i), Way::Contradicted));
                }
            }
        }
    }

    /// Which outputs are off. `published` is the verdict of the scan before, `stands` that of now.
    pub(crate) fn decide(&mut self, station: &Station, view: &View, published: &[bool], stands: &[bool]) -> Vec<bool> {
        let mut off = vec![false; station.outputs.len()];
        let mut named = vec![false; station.outputs.len()];
        for (i, stop) in station.stops.iter().enumerate() {
            let rank = station.slows.len() + i;
            let Some(then) = &stop.then else { continue };
            let too_long = self.published[i].longer(published[rank], then.latest);
            let still = published[rank] && view.still(then.pace);
            if !stands[rank] {
                continue;
            }
            for &output in &then.outputs {
                named[output] = true;
                if too_long || still {
                    self.released[output] = true;
                }
            }
        }
        for output in 0..off.len() {
            if !named[output] {
                self.released[output] = false;
            }
            off[output] = self.released[output];
        }
        for (i, stop) in station.stops.iter().enumerate() {
            if stands[station.slows.len() + i] {
                for &output in &stop.releases {
                    off[output] = true;
                }
            }
        }
        self.published_off.clone_from(&off);
        off
    }

    /// The start permit.
    pub(crate) fn permit(&mut self, station: &Station, stands: &[bool]) -> bool {
        if stands[station.slows.len()..].contains(&true) {
            self.rest = 0;
            return false;
        }
        self.rest = (self.rest + 1).min(station.restart);
        self.rest >= station.restart
    }
}

/// Slow orders that are not reached, or not kept.
#[derive(Debug, Clone)]
pub(crate) struct Slows {
    /// Per slow order: published without a break.
    published: Vec<Hold>,
}

impl Slows {
    /// As at power-up.
    pub(crate) fn power_up(station: &Station) -> Self {
        Self { published: vec![Hold::default(); station.slows.len()] }
    }

    /// One scan.
    pub(crate) fn scan(&mut self, station: &Station, published: &[bool], view: &View, raw: &mut Vec<(Source, Way)>) {
        for (i, slow) in station.slows.iter().enumerate() {
            let too_long = self.published[i].longer(published[i], slow.within);
            if too_long && view.may_exceed(slow.pace, slow.down_to) {
                raw.push((Source::Slow(i), Way::NotSlowed));
            }
        }
    }
}
