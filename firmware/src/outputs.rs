//! Outputs whose de-energised state acts, driven so that every doubt de-energises them.

use crate::parts::Outputs;
use crate::sample::OUTPUTS;
use crate::wired::Placed;
use embedded_hal::digital::{InputPin, OutputPin};
use logic_rules::image::{TerminalRow, Wiring};

/// An output pin could not be driven or read back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PinFault;

/// An output: the pin that drives it, high energises, and the pin that reads it back behind the driver.
#[derive(Debug, Clone)]
pub struct Output<P, R> {
    /// Drives.
    pub drive: P,
    /// Reads back; high is energised.
    pub back: R,
}

/// Outputs at their terminals.
#[derive(Debug, Clone)]
pub struct Released<P, R, const N: usize> {
    pins: Placed<Output<P, R>, N>,
}

impl<P: OutputPin, R: InputPin, const N: usize> Released<P, R, N> {
    /// Takes the pins and de-energises all of them.
    ///
    /// # Errors
    /// [`PinFault`] if a pin could not be driven; all others have been tried.
    pub fn new(pins: [(TerminalRow, Output<P, R>); N]) -> Result<Self, PinFault> {
        let mut outputs = Self { pins: Placed::new(pins) };
        outputs.release()?;
        Ok(outputs)
    }
}

/// Numbers of outputs, with the bit of each.
fn numbered(count: usize) -> impl Iterator<Item = (usize, u32)> {
    (0..count.min(OUTPUTS)).zip((0_u32..).map(|i| 1_u32.checked_shl(i).unwrap_or(0)))
}

impl<P: OutputPin, R: InputPin, const N: usize> Outputs for Released<P, R, N> {
    fn connect(&mut self, wiring: &Wiring<'_>) -> Result<(), u16> {
        let before =
            [wiring.channels, wiring.gauges, wiring.sources, wiring.links].iter().map(|rows| rows.len()).sum::<usize>();
        self.pins.connect(wiring.outputs).map_err(|i| u16::try_from(before.saturating_add(i)).unwrap_or(u16::MAX))
    }
    fn energise(&mut self, these: u32) -> Result<(), PinFault> {
        let mut sound = true;
        for (number, bit) in numbered(self.pins.used()) {
            let driven = self.pins.get(number).is_some_and(|output| {
                let drive = &mut output.drive;
                if these & bit == 0 { drive.set_low() } else { drive.set_high() }.is_ok()
            });
            sound &= driven;
        }
        if sound {
            return Ok(());
        }
        self.release()?;
        Err(PinFault)
    }
    fn release(&mut self) -> Result<(), PinFault> {
        let mut sound = true;
        for output in self.pins.all() {
            sound &= output.drive.set_low().is_ok();
        }
        if sound { Ok(()) } else { Err(PinFault) }
    }
    fn energised(&mut self) -> Result<u32, PinFault> {
        let mut all = 0;
        for (number, bit) in numbered(self.pins.used()) {
            let output = self.pins.get(number).ok_or(PinFault)?;
            if output.back.is_high().map_err(|_| PinFault)? {
                all |= bit;
            }
        }
        Ok(all)
    }
}
