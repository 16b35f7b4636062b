//! The log as `defmt` frames, out by the board's second serial line. A scan never waits for that line: frames wait in memory, and one that finds
//! no room is left out whole. What is kept for the link is not touched by it.
#![allow(unsafe_code, reason = "defmt's trait of a logger is marked so; what is done for it is safe")]

use super::memory::Register;
use core::cell::RefCell;
use cortex_m::interrupt::{Mutex, free};
use heapless::Deque;

/// Bytes that may wait: those of a stop with its inputs, and as many again.
const ROOM: usize = 1_024;
/// Bytes of the longest frame, encoded.
const LONGEST: usize = 32;

/// Frames on their way out.
struct Waiting {
    encoder: defmt::Encoder,
    bytes: Deque<u8, ROOM>,
    /// The frame that is being written has no room.
    full: bool,
}

static WAITING: Mutex<RefCell<Waiting>> =
    Mutex::new(RefCell::new(Waiting { encoder: defmt::Encoder::new(), bytes: Deque::new(), full: false }));

/// Does this with the encoder, whose bytes wait.
fn write(with: impl FnOnce(&mut defmt::Encoder, &mut dyn FnMut(&[u8])), begins: bool) {
    free(|section| {
        let Waiting { encoder, bytes, full } = &mut *WAITING.borrow(section).borrow_mut();
        if begins {
            *full = bytes.capacity() - bytes.len() < LONGEST;
        }
        if !*full {
            with(encoder, &mut |encoded| {
                for byte in encoded {
                    let _ = bytes.push_back(*byte);
                }
            });
        }
    });
}

#[defmt::global_logger]
struct Logger;

// SAFETY: one processor, and nothing that interrupts logs: a frame is begun, written and ended before the next is begun.
unsafe impl defmt::Logger for Logger {
    fn acquire() {
        write(|encoder, to| encoder.start_frame(to), true);
    }
    unsafe fn flush() {}
    unsafe fn release() {
        write(|encoder, to| encoder.end_frame(to), false);
    }
    unsafe fn write(bytes: &[u8]) {
        write(|encoder, to| encoder.write(bytes, to), false);
    }
}

const LINE: u32 = 0x4000_5000;
const DATA: Register = Register::at(LINE);
const STATE: Register = Register::at(LINE + 0x04);
const CONTROL: Register = Register::at(LINE + 0x08);
const DIVIDER: Register = Register::at(LINE + 0x10);

/// Opens the line.
pub(super) fn start() {
    DIVIDER.write(217); // 115 200 baud
    CONTROL.write(0b01);
}

/// Something waits to be sent.
pub(super) fn is_busy() -> bool {
    free(|section| !WAITING.borrow(section).borrow().bytes.is_empty())
}

/// Sends the next byte if the line is free.
pub(super) fn work() {
    if STATE.read() & 1 == 0
        && let Some(byte) = free(|section| WAITING.borrow(section).borrow_mut().bytes.pop_front())
    {
        DATA.write(u32::from(byte));
    }
}
