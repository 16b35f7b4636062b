//! The board's line to a host: its first serial line and its Ethernet port, which carry the same frames. An answer goes where its
//! question came from.

use super::ether::Ether;
use super::memory::Register;
use firmware::link::Wire;

/// Both ways in.
#[derive(Debug)]
pub(crate) struct Line {
    serial: Serial,
    ether: Ether,
    by_ether: bool,
}

impl Line {
    /// Opens both.
    pub(crate) fn start() -> Self {
        #[cfg(feature = "defmt")]
        super::logger::start();
        Self { serial: Serial::start(), ether: Ether::start(), by_ether: false }
    }
    /// A byte that has come. None is taken while an answer waits: who asks waits for it.
    pub(crate) fn read(&mut self) -> Option<u8> {
        if let Some(byte) = self.ether.read() {
            self.by_ether = true;
            return Some(byte);
        }
        let byte = self.serial.read()?;
        self.by_ether = false;
        Some(byte)
    }
    /// Sends an answer; a scan never waits for the line.
    pub(crate) fn send(&mut self, answer: &Wire) {
        if self.by_ether { Ether::send(answer) } else { self.serial.send(answer) }
    }
    /// Sends the next byte if the serial line is free, and the next of the log if its line is.
    pub(crate) fn work(&mut self) {
        self.serial.work();
        #[cfg(feature = "defmt")]
        super::logger::work();
    }
    /// Waits for something to come, a millisecond at most. An emulator that is asked again and again has no time for what comes.
    pub(crate) fn rest(&mut self) {
        #[cfg(feature = "defmt")]
        if super::logger::is_busy() {
            return;
        }
        if !self.serial.is_busy() && self.ether.is_empty() {
            calls(true);
            cortex_m::asm::wfi();
        }
    }
}

/// The first serial line.
#[derive(Debug)]
struct Serial {
    waiting: Wire,
    sent: usize,
}

const LINE: u32 = 0x4000_4000;
const DATA: Register = Register::at(LINE);
const STATE: Register = Register::at(LINE + 0x04);
const CONTROL: Register = Register::at(LINE + 0x08);
const CALLED: Register = Register::at(LINE + 0x0C);
const DIVIDER: Register = Register::at(LINE + 0x10);

/// The processor's interrupts: those of what comes by the serial line, and by the Ethernet port.
const ENABLED: Register = Register::at(0xE000_E100);
const LINE_CALLS: u32 = 1 << 0;
const ETHER_CALLS: u32 = 1 << 13;

/// Lets what comes interrupt, or not.
pub(super) fn calls(these: bool) {
    super::ether::calls(these);
    CONTROL.write(if these { 0b1011 } else { 0b0011 });
    CALLED.write(0b10);
    ENABLED.write(LINE_CALLS | ETHER_CALLS);
}

impl Serial {
    fn start() -> Self {
        DIVIDER.write(217); // 115 200 baud
        CONTROL.write(0b11);
        Self { waiting: Wire::new(), sent: 0 }
    }
    /// Something waits to be sent, or to be read.
    fn is_busy(&self) -> bool {
        self.sent < self.waiting.len() || STATE.read() & 0b10 != 0
    }
    fn read(&mut self) -> Option<u8> {
        if self.sent < self.waiting.len() || STATE.read() & 0b10 == 0 {
            return None;
        }
        let [byte, ..] = DATA.read().to_le_bytes();
        Some(byte)
    }
    fn send(&mut self, answer: &Wire) {
        self.waiting.clone_from(answer);
        self.sent = 0;
    }
    fn work(&mut self) {
        if let Some(byte) = self.waiting.get(self.sent)
            && STATE.read() & 1 == 0
        {
            DATA.write(u32::from(*byte));
            self.sent += 1;
        }
    }
}
