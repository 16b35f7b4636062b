//! Outputs that a bench drives only while a contact enables it.

use crate::outputs::PinFault;
use crate::parts::Outputs;
use embedded_hal::digital::InputPin;
use logic_rules::image::Wiring;

/// Outputs behind an enabling contact: without it all are off, whatever the plan wants.
#[derive(Debug, Clone)]
pub struct Gated<O, E> {
    /// The outputs.
    pub outputs: O,
    /// High enables. One that cannot be read does not.
    pub enable: E,
    /// Outputs whose read-back is turned over, for trials: none.
    pub turned: u32,
}

impl<O: Outputs, E: InputPin> Gated<O, E> {
    /// Whether the bench is enabled.
    pub fn is_enabled(&mut self) -> bool {
        self.enable.is_high().unwrap_or(false)
    }
}

impl<O: Outputs, E: InputPin> Outputs for Gated<O, E> {
    fn connect(&mut self, wiring: &Wiring<'_>) -> Result<(), u16> {
        self.outputs.connect(wiring)
    }
    fn energise(&mut self, these: u32) -> Result<(), PinFault> {
        // Asked anew: between what was allowed and what is driven the contact may have opened.
        let these = self.allowed(these);
        if these == 0 { self.outputs.release() } else { self.outputs.energise(these) }
    }
    fn release(&mut self) -> Result<(), PinFault> {
        self.outputs.release()
    }
    fn energised(&mut self) -> Result<u32, PinFault> {
        self.outputs.energised().map(|energised| energised ^ self.turned)
    }
    fn allowed(&mut self, these: u32) -> u32 {
        if self.is_enabled() { these } else { 0 }
    }
}
