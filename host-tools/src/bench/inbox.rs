//! Bytes that another thread hands over.

use std::io;
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::thread;
use std::time::Duration;

/// Looks that a thread takes before it goes to sleep: an answer within the process is there in some microseconds, and to be
/// woken takes longer than the whole scan.
const LOOKS: u32 = 100;

/// What comes in a moment, without sleeping.
pub(super) fn soon(from: &Receiver<Vec<u8>>) -> Option<Vec<u8>> {
    for _ in 0..LOOKS {
        if let Ok(bytes) = from.try_recv() {
            return Some(bytes);
        }
        // Others may want the core, the answering thread above all.
        thread::yield_now();
    }
    None
}

/// What has come, and what is still to be read of it.
#[derive(Debug)]
pub(super) struct Inbox {
    from: Receiver<Vec<u8>>,
    rest: Vec<u8>,
}

impl Inbox {
    pub(super) fn new(from: Receiver<Vec<u8>>) -> Self {
        Self { from, rest: Vec::new() }
    }
    /// As [`Wire::receive`](super::Wire::receive).
    pub(super) fn receive(&mut self, into: &mut [u8], within: Duration) -> io::Result<usize> {
        if self.rest.is_empty() {
            self.rest = match soon(&self.from).map_or_else(|| self.from.recv_timeout(within), Ok) {
                Ok(bytes) => bytes,
                Err(RecvTimeoutError::Timeout) => return Ok(0),
                Err(RecvTimeoutError::Disconnected) => {
                    return Err(io::Error::new(io::ErrorKind::UnexpectedEof, "it has ended"));
                }
            };
        }
        let count = self.rest.len().min(into.len());
        for (to, from) in into.iter_mut().zip(self.rest.drain(..count)) {
            *to = from;
        }
        Ok(count)
    }
}
