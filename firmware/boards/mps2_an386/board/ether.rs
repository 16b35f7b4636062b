//! The Ethernet port (a LAN9118), as a line of bytes: what stands behind the head of a packet. A packet goes at once where a serial line takes its
//! time, byte by byte, which an emulator makes long.

use super::memory::Register;
use firmware::link::{WIRE, Wire};
use heapless::Vec;

/// Bytes of a packet's head: to whom, from whom, and what kind.
const HEAD: usize = 14;
/// To everyone, from an address that nobody gives away, of a kind for trials.
const ANSWER: [u8; HEAD] = [0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 2, 0, 0, 0, 0, 1, 0x88, 0xB5];

const PORT: u32 = 0x4020_0000;
const RECEIVED: Register = Register::at(PORT);
const SENT: Register = Register::at(PORT + 0x20);
const RECEIVED_STATE: Register = Register::at(PORT + 0x40);
const SENT_STATE: Register = Register::at(PORT + 0x48);
const SENDING: Register = Register::at(PORT + 0x70);
const WAITING: Register = Register::at(PORT + 0x7C);
const CALLING: Register = Register::at(PORT + 0x54);
const CALLED: Register = Register::at(PORT + 0x58);
const CALLS: Register = Register::at(PORT + 0x5C);
/// A packet has come.
const PACKET: u32 = 1 << 3;
const ACCESS_COMMAND: Register = Register::at(PORT + 0xA4);
const ACCESS_DATA: Register = Register::at(PORT + 0xA8);

/// Lets a packet that comes interrupt, or not.
pub(super) fn calls(these: bool) {
    CALLED.write(PACKET);
    CALLS.write(if these { PACKET } else { 0 });
}

/// Packets that wait to be read.
fn waiting() -> u8 {
    let [_, _, packets, _] = WAITING.read().to_le_bytes();
    packets
}

/// The port.
#[derive(Debug)]
pub(super) struct Ether {
    come: Vec<u8, { HEAD + WIRE }>,
    read: usize,
}

impl Ether {
    /// Opens it for both directions, and for every address.
    pub(super) fn start() -> Self {
        CALLING.write(0x111); // by a level, high
        SENDING.write(0b10);
        ACCESS_DATA.write(1 << 18 | 0b1100);
        ACCESS_COMMAND.write(1 << 31 | 1);
        Self { come: Vec::new(), read: 0 }
    }
    /// A byte that has come.
    pub(super) fn read(&mut self) -> Option<u8> {
        if self.read >= self.come.len() {
            self.take();
        }
        let byte = self.come.get(self.read).copied()?;
        self.read += 1;
        Some(byte)
    }
    /// Nothing waits to be read.
    pub(super) fn is_empty(&self) -> bool {
        self.read >= self.come.len() && waiting() == 0
    }
    /// Takes a packet, if one waits. What is longer than a frame is no frame.
    fn take(&mut self) {
        if waiting() == 0 {
            return;
        }
        let bytes = RECEIVED_STATE.read() >> 16 & 0x3FFF;
        self.come.clear();
        for _ in 0..bytes.div_ceil(4) {
            let word = RECEIVED.read().to_le_bytes();
            let room = self.come.capacity() - self.come.len();
            let _ = self.come.extend_from_slice(word.get(..room.min(4)).unwrap_or_default());
        }
        // Behind the frame stands a checksum that is the port's own.
        let frame = usize::try_from(bytes).unwrap_or(0).saturating_sub(4);
        self.come.truncate(frame);
        self.read = HEAD;
    }
    /// Sends a packet.
    pub(super) fn send(frame: &Wire) {
        let bytes = u32::try_from(HEAD + frame.len()).unwrap_or(0);
        SENT.write(0b11 << 12 | bytes);
        SENT.write(bytes);
        let mut packet = ANSWER.iter().chain(frame.iter()).copied();
        for _ in 0..bytes.div_ceil(4) {
            SENT.write(u32::from_le_bytes(core::array::from_fn(|_| packet.next().unwrap_or(0))));
        }
        SENT_STATE.read();
    }
}
