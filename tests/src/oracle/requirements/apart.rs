//! Distances that are assumed between two rises of a detector, as it settles.

use host_tools::station::{Claim, InputId, InputKind};

use super::super::timing::Channel;
use super::Past;

impl Past<'_> {
    /// Scans in which a detector rises, once it has settled.
    pub(super) fn settled_rises(&self, detector: InputId) -> Vec<usize> {
        let InputKind::Detector(own) = &self.station.inputs[detector].kind else { panic!("no detector") };
        let mut channel = Channel::default();
        let rises = |scan: &usize| channel.scan(self.records[*scan].sample.channels[own.channel], own.settle).rose;
        (0..self.records.len()).filter(rises).collect()
    }

    /// Judged rises with one before, and those among them that follow too close.
    fn pairs(
        &self,
        detector: InputId,
        known: impl Fn(usize, usize) -> bool,
        close: impl Fn(usize, usize) -> bool,
    ) -> (Vec<usize>, Vec<usize>) {
        let rises = self.settled_rises(detector);
        let pairs = rises.iter().zip(rises.iter().skip(1)).map(|(first, second)| (*first, *second));
        let known: Vec<_> =
            pairs.filter(|&(first, second)| self.scans().contains(&second) && known(first, second)).collect();
        let closer = known.iter().filter(|&&(first, second)| close(first, second)).map(|pair| pair.1).collect();
        (known.into_iter().map(|pair| pair.1).collect(), closer)
    }

    /// In rope: once it has run back, nothing is known of the distance until the next rise.
    fn rope_apart(&self, detector: InputId, pace: InputId, least: u32) -> (Vec<usize>, Vec<usize>) {
        let only_on = |first: usize, second: usize| (first..=second).all(|scan| self.views[scan].backward(pace) == 0);
        let close = |first: usize, second: usize| {
            (first + 1..=second).map(|scan| self.views[scan].forward(pace)).sum::<i64>() < i64::from(least)
        };
        self.pairs(detector, only_on, close)
    }

    /// In scans.
    fn scans_apart(&self, detector: InputId, least: u32) -> (Vec<usize>, Vec<usize>) {
        self.pairs(detector, |_, _| true, |first, second| second - first < least as usize)
    }

    /// Scans in which a claim could be broken, and those in which it is.
    pub(super) fn claim(&self, claim: &Claim) -> (Vec<usize>, Vec<usize>) {
        match claim {
            Claim::Always(condition) => (self.scans().collect(), self.never(condition)),
            Claim::RopeApart(detector, pace, mm) => self.rope_apart(*detector, *pace, *mm),
            Claim::ScansApart(detector, scans) => self.scans_apart(*detector, *scans),
        }
    }
}
