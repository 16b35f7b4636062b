//! What a board gives beside its inputs: outputs, a clock, a watchdog.

use crate::outputs::PinFault;
use logic_rules::image::Wiring;

/// Outputs whose de-energised state acts; bit `i` of a mask is output `i` of the plan.
pub trait Outputs {
    /// Finds the terminals that the image names; none may be energised by that.
    ///
    /// # Errors
    /// The terminal that there is not, counted as in [`Field::connect`](crate::Field::connect).
    fn connect(&mut self, wiring: &Wiring<'_>) -> Result<(), u16>;
    /// Energises these and de-energises all others.
    ///
    /// # Errors
    /// [`PinFault`] if one could not be driven; then all have been told to let go.
    fn energise(&mut self, these: u32) -> Result<(), PinFault>;
    /// De-energises all, trying each even if one fails.
    ///
    /// # Errors
    /// [`PinFault`] if one could not be driven.
    fn release(&mut self) -> Result<(), PinFault>;
    /// Which are energised, as it is read back.
    ///
    /// # Errors
    /// [`PinFault`] if one could not be read.
    fn energised(&mut self) -> Result<u32, PinFault>;
    /// Which of those that a scan wants energised may be: fewer only on a bench that is not enabled.
    fn allowed(&mut self, these: u32) -> u32 {
        these
    }
}

/// A clock that never stops and never goes back.
pub trait Clock {
    /// Microseconds since any moment; wraps.
    fn now_us(&mut self) -> u32;
}

/// A watchdog that de-energises the outputs by itself and restarts the controller unless it is fed.
pub trait Watchdog {
    /// Feeds it. Called once a scan, and only by a scan that ended well and in time.
    fn feed(&mut self);
}

/// Everything that a station is made of.
#[derive(Debug, Clone)]
pub struct Parts<F, O, W, C> {
    /// Inputs.
    pub field: F,
    /// Outputs.
    pub outputs: O,
    /// Watchdog.
    pub watchdog: W,
    /// Clock.
    pub clock: C,
}
