//! Inputs that are set, not read.

use crate::sample::{Field, Missing, SOURCES, Sample};
use heapless::Vec;
use logic_rules::image::Wiring;

/// The inputs as they were last set. All are low, without current and still until then.
#[derive(Debug, Clone, Default)]
pub struct Set {
    sample: Sample,
    moves: Vec<i32, SOURCES>,
    frozen: bool,
}

impl Set {
    /// What is set, to be changed; the number of signals of each kind stays.
    pub fn sample(&mut self) -> &mut Sample {
        &mut self.sample
    }
    /// Pulses by which each source moves on before each of the next scans.
    pub(super) fn moves(&mut self) -> &mut [i32] {
        &mut self.moves
    }
    /// From now on readings are no new ones.
    pub(super) fn freeze(&mut self) {
        self.frozen = true;
    }
    /// Moves every source on.
    pub(super) fn move_on(&mut self) {
        for (pulses, moves) in self.sample.pulses.iter_mut().zip(&self.moves) {
            *pulses = pulses.wrapping_add_signed(*moves);
        }
    }
}

impl Field for Set {
    const TWICE: bool = false;
    fn connect(&mut self, wiring: &Wiring<'_>) -> Result<(), u16> {
        let sample = &mut self.sample;
        sample.clear();
        self.moves.clear();
        let room = sample.channels.resize(wiring.channels.len(), false).is_ok()
            && sample.currents.resize(wiring.gauges.len(), 0).is_ok()
            && sample.pulses.resize(wiring.sources.len(), 0).is_ok()
            && sample.links.resize_default(wiring.links.len()).is_ok()
            && self.moves.resize(wiring.sources.len(), 0).is_ok();
        if room { Ok(()) } else { Err(u16::MAX) }
    }
    fn sample(&mut self, into: &mut Sample) -> Result<(), Missing> {
        self.sample.taken = self.sample.taken.wrapping_add(u32::from(!self.frozen));
        into.copy(&self.sample);
        Ok(())
    }
}
