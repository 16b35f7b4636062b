//! What a sample is beside numbers, and whether the next one is the same.

use crate::sample::{Health, Sample};

/// Whether two samples differ in nothing but gauges' values and travel, and neither runs back.
#[derive(Debug, Default)]
pub(crate) struct Before {
    channels: Vec<bool>,
    health: Vec<Health>,
    links: Vec<(bool, u8)>,
    inputs: Vec<u32>,
    runs_on: bool,
}

impl Before {
    /// Takes a sample. Gives whether it is the same but for the gauges' values and travel; none if a source runs back.
    pub(crate) fn same(&mut self, sample: &Sample) -> Option<bool> {
        self.inputs.clear();
        self.inputs.extend(sample.gauges.iter().map(|reading| reading.steps));
        self.inputs.extend(sample.travel.iter().map(|mm| u32::try_from(*mm).unwrap_or(0)));
        let links = || sample.links.iter().map(|frame| (frame.fresh, frame.order));
        let health = || sample.gauges.iter().map(|reading| reading.health);
        let runs_on = sample.travel.iter().all(|mm| *mm >= 0);
        let same = self.runs_on
            && self.channels == sample.channels
            && self.health.iter().copied().eq(health())
            && self.links.iter().copied().eq(links());
        if !same {
            self.channels.clone_from(&sample.channels);
            self.health.clear();
            self.health.extend(health());
            self.links.clear();
            self.links.extend(links());
        }
        self.runs_on = runs_on;
        runs_on.then_some(same)
    }
    /// No source ran back in the last sample.
    pub(crate) fn runs_on(&self) -> bool {
        self.runs_on
    }
    /// Gauges' values and travel of the last sample.
    pub(crate) fn inputs(&self) -> &[u32] {
        &self.inputs
    }
}

/// What a sample is, beside the gauges' values and travel.
pub(crate) fn levels(sample: &Sample, into: &mut Vec<u8>) {
    let counts = [sample.channels.len(), sample.gauges.len(), sample.travel.len(), sample.links.len()];
    into.extend(counts.iter().flat_map(|count| count.to_le_bytes()));
    into.extend(sample.channels.iter().map(|level| u8::from(*level)));
    into.extend(sample.gauges.iter().map(|reading| match reading.health {
        Health::Good => 0,
        Health::Doubtful => 1,
        Health::Broken => 2,
    }));
    into.extend(sample.links.iter().flat_map(|frame| [u8::from(frame.fresh), frame.order]));
}
