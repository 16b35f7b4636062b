//! Inputs that are set, not read.

use crate::sample::{Field, Missing, Sample};
use logic_rules::image::Wiring;

/// The inputs as they were last set. All are low, without current and still until then.
#[derive(Debug, Clone, Default)]
pub struct Set {
    sample: Sample,
}

impl Set {
    /// What is set, to be changed; the number of signals of each kind stays.
    pub fn sample(&mut self) -> &mut Sample {
        &mut self.sample
    }
}

/// Sets as many as there are, if there are as many.
pub(super) fn exactly<T>(cells: &mut [T], values: impl ExactSizeIterator<Item = T>) -> bool {
    let fits = cells.len() == values.len();
    if fits {
        for (cell, value) in cells.iter_mut().zip(values) {
            *cell = value;
        }
    }
    fits
}

impl Field for Set {
    const TWICE: bool = false;
    fn connect(&mut self, wiring: &Wiring<'_>) -> Result<(), u16> {
        let sample = &mut self.sample;
        sample.clear();
        let room = sample.channels.resize(wiring.channels.len(), false).is_ok()
            && sample.currents.resize(wiring.gauges.len(), 0).is_ok()
            && sample.pulses.resize(wiring.sources.len(), 0).is_ok()
            && sample.links.resize_default(wiring.links.len()).is_ok();
        if room { Ok(()) } else { Err(u16::MAX) }
    }
    fn sample(&mut self, into: &mut Sample) -> Result<(), Missing> {
        self.sample.taken = self.sample.taken.wrapping_add(1);
        into.copy(&self.sample);
        Ok(())
    }
}
