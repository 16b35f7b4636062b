//! Any reading as a runner of replays.

use host_tools::sample::Sample;
use host_tools::station::Station;
use host_tools::told::{Runner, Scanned};

use crate::reading::{Make, Reading};
use crate::told::Told;

/// A reading that tells what a replay wants to hear. It measures and requires nothing.
pub struct Replayed<'s> {
    station: &'s Station,
    make: Make,
    reading: Box<dyn Reading>,
    /// What was told last.
    pub told: Told,
    scanned: Scanned,
}

impl<'s> Replayed<'s> {
    /// A fresh reading of a station.
    pub fn new(station: &'s Station, make: Make) -> Self {
        Self { station, make, reading: make(station), told: Told::default(), scanned: Scanned::default() }
    }
}

impl Runner for Replayed<'_> {
    fn scan(&mut self, sample: &Sample) -> &Scanned {
        let told = self.reading.scan(sample);
        let set = |bits: &[bool]| -> Vec<u16> {
            let on = bits.iter().enumerate().filter(|(_, on)| **on);
            on.map(|(i, _)| u16::try_from(i).expect("few ways")).collect()
        };
        let mask = |bits: &[bool], first: u32| {
            let on = bits.iter().zip(first..).filter(|(on, _)| **on);
            on.fold(0_u64, |all, (_, bit)| all | 1 << bit)
        };
        self.scanned = Scanned {
            trips: set(&told.trips),
            latched_any: told.latched.contains(&true),
            first: set(&told.first),
            answer: told.answer,
            stands: mask(&told.stands, 1),
            off: mask(&told.off, 0),
            permit: told.permit,
            active: mask(&told.active, 0),
            reset: told.reset,
            ..Scanned::default()
        };
        self.told = told;
        &self.scanned
    }

    fn restart(&mut self) {
        self.reading = (self.make)(self.station);
    }

    fn adopt(&mut self) {
        self.reading.adopt();
    }
}
