//! The board MPS2 with the image AN386, as QEMU emulates it: its lines, a clock, a watchdog, and what stands for its pins.
//!
//! Unsafe code is what a board cannot do without: each place says why it is sound.
#![allow(dead_code, reason = "each of the two builds uses its part of the board")]

use core::convert::Infallible;
use core::sync::atomic::{AtomicU32, Ordering};
use cortex_m::peripheral::syst::SystClkSource;
use cortex_m_rt::exception;
use embedded_hal::digital::{ErrorType, InputPin};
use firmware::{Clock, Field, Missing, Outputs, PinFault, Sample, Watchdog};
use logic_rules::image::Wiring;

mod ether;
mod faults;
mod line;
#[cfg(feature = "defmt")]
mod logger;
pub(crate) mod memory;

pub(crate) use line::Line;
use memory::Register;

/// The processor's clock, ticks in a microsecond.
const TICKS: u32 = 25;

/// Milliseconds since the clock was started.
static MILLISECONDS: AtomicU32 = AtomicU32::new(0);

#[exception]
fn SysTick() {
    // One processor, and nobody else writes it.
    MILLISECONDS.store(MILLISECONDS.load(Ordering::Relaxed).wrapping_add(1), Ordering::Relaxed);
}

/// The clock: the processor's own timer, a millisecond a round.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ticks;

impl Ticks {
    /// Starts it.
    pub(crate) fn start() -> Self {
        if let Some(peripherals) = cortex_m::Peripherals::take() {
            let mut timer = peripherals.SYST;
            timer.set_clock_source(SystClkSource::Core);
            timer.set_reload(1_000 * TICKS - 1);
            timer.clear_current();
            timer.enable_counter();
            timer.enable_interrupt();
        }
        Self
    }
}

impl Clock for Ticks {
    fn now_us(&mut self) -> u32 {
        loop {
            let before = MILLISECONDS.load(Ordering::Relaxed);
            let left = cortex_m::peripheral::SYST::get_current();
            // A round that has just ended but is not counted yet would make time go back.
            let settled = !cortex_m::peripheral::SCB::is_pendst_pending();
            if settled && MILLISECONDS.load(Ordering::Relaxed) == before {
                // A round is counted when the timer comes to 0, a tick before it is loaded again.
                let gone = if left == 0 { 0 } else { (1_000 * TICKS).saturating_sub(left) / TICKS };
                return before.wrapping_mul(1_000).wrapping_add(gone);
            }
        }
    }
}

/// What stands for the outputs: the emulated board has no pins, but the reload register of a timer that is never
/// started keeps 32 bits and shows them.
#[derive(Debug)]
pub(crate) struct Latch {
    used: u32,
}

const OUTPUTS: Register = Register::at(0x4000_1008);

impl Default for Latch {
    fn default() -> Self {
        OUTPUTS.write(0);
        Self { used: 0 }
    }
}

impl Outputs for Latch {
    fn connect(&mut self, wiring: &Wiring<'_>) -> Result<(), u16> {
        let count = u32::try_from(wiring.outputs.len()).unwrap_or(u32::MAX);
        self.used = u32::MAX.checked_shl(count).map_or(u32::MAX, |others| !others);
        Ok(())
    }
    fn energise(&mut self, these: u32) -> Result<(), PinFault> {
        OUTPUTS.write(these & self.used);
        Ok(())
    }
    fn release(&mut self) -> Result<(), PinFault> {
        OUTPUTS.write(0);
        Ok(())
    }
    fn energised(&mut self) -> Result<u32, PinFault> {
        Ok(OUTPUTS.read())
    }
}

/// The first button, which enables a bench.
#[derive(Debug)]
pub(crate) struct Button;

const BUTTONS: Register = Register::at(0x4002_8008);

impl ErrorType for Button {
    type Error = Infallible;
}
impl InputPin for Button {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(BUTTONS.read() & 1 == 1)
    }
    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(BUTTONS.read() & 1 == 0)
    }
}

/// The inputs of a station whose terminals are connected to nothing: low, without current, still, silent. Nothing else can be connected to
/// an emulator.
#[derive(Debug, Default)]
pub(crate) struct Loose {
    sample: Sample,
}

impl Field for Loose {
    const TWICE: bool = true;
    fn connect(&mut self, wiring: &Wiring<'_>) -> Result<(), u16> {
        let sample = &mut self.sample;
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

/// The board's watchdog. Unfed for 100 ms it interrupts, for 100 more it restarts the board.
#[derive(Debug)]
pub(crate) struct WatchdogTimer;

const DOG: u32 = 0x4000_8000;
const DOG_LOAD: Register = Register::at(DOG);
const DOG_CONTROL: Register = Register::at(DOG + 0x08);
const DOG_CLEAR: Register = Register::at(DOG + 0x0C);
const DOG_LOCK: Register = Register::at(DOG + 0xC00);

impl WatchdogTimer {
    /// Starts it; nothing but a restart stops it again.
    pub(crate) fn start() {
        DOG_LOCK.write(0x1ACC_E551);
        DOG_LOAD.write(100_000 * TICKS);
        DOG_CONTROL.write(0b11);
        DOG_LOCK.write(0);
    }
}

impl Watchdog for WatchdogTimer {
    fn feed(&mut self) {
        DOG_LOCK.write(0x1ACC_E551);
        DOG_CLEAR.write(1);
        DOG_LOCK.write(0);
    }
}
