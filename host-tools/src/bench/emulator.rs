//! A board that is emulated: `qemu-system-arm` with the board's bench build, its first serial line on our pipes.

use std::io::{self, Read, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::channel;
use std::thread;
use std::time::Duration;

use super::inbox::Inbox;
use super::{Trouble, Wire};

/// The program.
const EMULATOR: &str = "qemu-system-arm";

/// A process of its own, which ends with this.
#[derive(Debug)]
pub(super) struct Emulator {
    child: Child,
    inbox: Inbox,
}

impl Emulator {
    /// Starts the board with this binary.
    pub(super) fn start(binary: &Path) -> Result<Self, Trouble> {
        if !binary.is_file() {
            let named = binary.display();
            return Err(Trouble::NoTarget(format!(
                "{named}: there is no such file; build the board's bench: cargo build --release -p firmware --target \
                 thumbv7em-none-eabihf --bin bench-mps2-an386 --features board-mps2-an386,bench"
            )));
        }
        // One instruction takes one nanosecond of the emulated time: what a run comes to is the same on every machine.
        let mut child = Command::new(EMULATOR)
            .args(["-M", "mps2-an386", "-cpu", "cortex-m4", "-display", "none", "-monitor", "none"])
            .args(["-icount", "shift=0", "-serial", "stdio", "-kernel"])
            .arg(binary)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .map_err(|error| {
                Trouble::NoTarget(format!("{EMULATOR} cannot be started ({error}); install QEMU for Arm"))
            })?;
        let (to, from) = channel();
        if let Some(mut output) = child.stdout.take() {
            thread::spawn(move || {
                let mut buffer = [0; 256];
                while let Ok(count @ 1..) = output.read(&mut buffer) {
                    if to.send(buffer.get(..count).unwrap_or_default().to_vec()).is_err() {
                        return;
                    }
                }
            });
        }
        Ok(Self { child, inbox: Inbox::new(from) })
    }
}

impl Drop for Emulator {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ended = self.child.kill();
        let _reaped = self.child.wait();
    }
}

impl Wire for Emulator {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        let gone = || io::Error::new(io::ErrorKind::BrokenPipe, "the emulator has ended");
        let to = self.child.stdin.as_mut().ok_or_else(gone)?;
        to.write_all(bytes)?;
        to.flush()
    }
    fn receive(&mut self, into: &mut [u8], within: Duration) -> io::Result<usize> {
        self.inbox.receive(into, within)
    }
}
