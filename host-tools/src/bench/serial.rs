//! A controller at a serial port: 115 200 baud, 8 bits, no parity, one stop bit, no flow control.

use std::io;
use std::time::Duration;

use serial2::SerialPort;

use super::{Trouble, Wire};

/// Bits a second, as the boards set their first serial line.
const BAUD: u32 = 115_200;

/// An open port.
#[derive(Debug)]
pub(super) struct Serial {
    port: SerialPort,
}

impl Serial {
    /// Opens a port by its path.
    pub(super) fn open(path: &str) -> Result<Self, Trouble> {
        let said = |error: io::Error| {
            Trouble::NoTarget(format!(
                "{path}: the serial port cannot be used ({error}); see that it is there and yours"
            ))
        };
        let port = SerialPort::open(path, BAUD).map_err(said)?;
        // What an earlier talk left on the line is nobody's answer.
        port.discard_input_buffer().map_err(said)?;
        Ok(Self { port })
    }
}

impl Wire for Serial {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.port.write_all(bytes)?;
        self.port.flush()
    }
    fn receive(&mut self, into: &mut [u8], within: Duration) -> io::Result<usize> {
        self.port.set_read_timeout(within.max(Duration::from_millis(1)))?;
        match self.port.read(into) {
            Err(error) if matches!(error.kind(), io::ErrorKind::TimedOut | io::ErrorKind::WouldBlock) => Ok(0),
            Ok(0) => Err(io::Error::new(io::ErrorKind::UnexpectedEof, "the port has been closed")),
            read => read,
        }
    }
}
