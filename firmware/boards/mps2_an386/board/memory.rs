//! Registers, the stack, and the word that outlives a restart: where a board reads memory that no variable owns.
#![allow(unsafe_code, reason = "each block below says why it is sound")]

use core::ptr::{read_volatile, write_volatile};
use firmware::Cause;

/// A register of this board.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Register(u32);

impl Register {
    /// The register at this address, which must be one of the board's, aligned to 4 bytes.
    pub(crate) const fn at(address: u32) -> Self {
        Self(address)
    }
    /// Its value.
    pub(crate) fn read(self) -> u32 {
        // SAFETY: every address in this board's file is that of an aligned register of a peripheral, and no memory of Rust.
        unsafe { read_volatile(self.0 as *const u32) }
    }
    /// Writes it.
    pub(crate) fn write(self, value: u32) {
        // SAFETY: as for reading.
        unsafe { write_volatile(self.0 as *mut u32, value) }
    }
}

unsafe extern "C" {
    static _stack_start: u32;
    static _stack_end: u32;
}

/// Bytes of stack that there are, and that were ever used.
pub(crate) fn stack() -> (u32, u32) {
    // Symbols of the linker: only their addresses are taken.
    let (top, bottom) = (&raw const _stack_start, &raw const _stack_end);
    let mut unused = bottom;
    // SAFETY: between the two lies the stack, in whole words. Nothing below the present depth is in use, and volatile
    // reads of what is make no value of it but a number.
    while unused < top && unsafe { read_volatile(unused) } == cortex_m_rt::STACK_PAINT_VALUE {
        unused = unused.wrapping_add(1);
    }
    let bytes = |from: *const u32, to: *const u32| (to as u32).saturating_sub(from as u32);
    (bytes(bottom, top), bytes(unused, top))
}

/// Stands in memory that nothing clears at a start: a mark, and the code of the fault that stood.
#[unsafe(link_section = ".uninit.STARTED")]
static mut STARTED: u32 = 0;
const MARK: u32 = 0x4841_4C00;

/// Whether the power has come, as far as memory tells: it loses the mark without power.
pub(crate) fn cause() -> Cause {
    // SAFETY: a word of this board's memory that only this file touches, from one thread.
    let started = unsafe { read_volatile(&raw const STARTED) };
    keep(0);
    let [code, mark @ ..] = started.to_le_bytes();
    let [_, sound @ ..] = MARK.to_le_bytes();
    if mark == sound { Cause::Restart(code) } else { Cause::PowerUp }
}

/// Keeps the code of a fault for the start after the watchdog's.
pub(crate) fn keep(code: u8) {
    // SAFETY: as above.
    unsafe { write_volatile(&raw mut STARTED, MARK | u32::from(code)) }
}
