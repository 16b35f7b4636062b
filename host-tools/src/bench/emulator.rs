//! A board that is emulated: `qemu-system-arm` with the board's binary, its Ethernet port on a socket of ours.

use std::ffi::OsString;
use std::io::{self, Read, Write};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::path::Path;
use std::process::Child;
use std::sync::mpsc::channel;
use std::thread;
use std::time::{Duration, Instant};

use firmware::link::{Question, encode};

use super::inbox::Inbox;
use super::{Trouble, Wire, tied};

/// The program.
const EMULATOR: &str = "qemu-system-arm";

/// Time that it may take to start.
const START: Duration = Duration::from_secs(20);

/// Time that the answer to a knock is waited for.
const KNOCK: Duration = Duration::from_millis(100);

/// Head of a packet: to everyone, from an address that nobody gives away, of a kind for trials.
const HEAD: [u8; 14] = [0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 2, 0, 0, 0, 0, 2, 0x88, 0xB5];

/// Most bytes that are sent with a packet: those of the longest frame.
const MOST: usize = firmware::link::WIRE;

/// A process of its own, which ends with this, and with this program.
#[derive(Debug)]
pub(super) struct Emulator {
    child: Child,
    port: TcpStream,
    inbox: Inbox,
}

impl Emulator {
    /// Starts the board with this binary. What it says on its second serial line goes to a file, if one is named.
    pub(super) fn start(binary: &Path, log: Option<&Path>) -> Result<Self, Trouble> {
        if !binary.is_file() {
            let named = binary.display();
            return Err(Trouble::NoTarget(format!(
                "{named}: there is no such file; build the board's bench: cargo build --release -p firmware --target \
                 thumbv7em-none-eabihf --bin bench-mps2-an386 --features board-mps2-an386,bench"
            )));
        }
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?;
        let port = listener.local_addr()?.port();
        // One instruction takes one nanosecond of the emulated time: what a run comes to is the same on every machine.
        let mut child = tied::tied(EMULATOR)
            .args(["-M", "mps2-an386", "-cpu", "cortex-m4", "-display", "none", "-monitor", "none"])
            .args(["-icount", "shift=0", "-serial", "null", "-serial"])
            .arg(log.map_or_else(|| "null".into(), second))
            .arg("-nic")
            .arg(format!("socket,model=lan9118,connect=127.0.0.1:{port}"))
            .arg("-kernel")
            .arg(binary)
            .spawn()
            .map_err(|error| missing(&error.to_string()))?;
        let port = match connected(&listener, &mut child) {
            Ok(port) => port,
            Err(error) => {
                let gone = tied::is_missing(&mut child);
                tied::end(&mut child);
                return Err(if gone { missing("there is no such program") } else { error.into() });
            }
        };
        let mut packets = port.try_clone()?;
        let (to, from) = channel();
        thread::spawn(move || {
            while let Ok(frame) = packet(&mut packets) {
                if to.send(frame).is_err() {
                    return;
                }
            }
        });
        let mut emulator = Self { child, port, inbox: Inbox::new(from) };
        emulator.knock()?;
        Ok(emulator)
    }
    /// Asks until the board answers: what comes before its port is open is lost.
    fn knock(&mut self) -> io::Result<()> {
        let (until, question) = (Instant::now() + START, encode(&Question::Who.frame(0)));
        while Instant::now() < until {
            self.send(&question)?;
            if self.receive(&mut [0; 256], KNOCK)? > 0 {
                return Ok(());
            }
        }
        Err(io::Error::new(io::ErrorKind::TimedOut, "the board in the emulator does not answer"))
    }
}

/// A file as the emulator wants a line named; a comma of its name is doubled.
fn second(log: &Path) -> OsString {
    let path = log.to_string_lossy().replace(',', ",,");
    format!("file:{path}").into()
}

/// The emulator cannot be started.
fn missing(why: &str) -> Trouble {
    Trouble::NoTarget(format!("{EMULATOR} cannot be started ({why}); install QEMU for Arm"))
}

/// Waits for the emulator to connect its port.
fn connected(listener: &TcpListener, child: &mut Child) -> io::Result<TcpStream> {
    let until = Instant::now() + START;
    listener.set_nonblocking(true)?;
    loop {
        match listener.accept() {
            Ok((port, _)) => {
                port.set_nonblocking(false)?;
                port.set_nodelay(true)?;
                return Ok(port);
            }
            Err(error) if error.kind() != io::ErrorKind::WouldBlock => return Err(error),
            Err(_) if child.try_wait()?.is_some() || Instant::now() > until => {
                return Err(io::Error::new(io::ErrorKind::TimedOut, "the emulator did not start"));
            }
            Err(_) => thread::sleep(Duration::from_millis(2)),
        }
    }
}

/// The next packet, without its head: its length goes before it, the most significant byte first.
fn packet(from: &mut TcpStream) -> io::Result<Vec<u8>> {
    let mut length = [0; 4];
    from.read_exact(&mut length)?;
    let length = usize::from(u16::try_from(u32::from_be_bytes(length)).map_err(io::Error::other)?);
    let mut packet = vec![0; length];
    from.read_exact(&mut packet)?;
    Ok(packet.split_off(HEAD.len().min(length)))
}

impl Drop for Emulator {
    fn drop(&mut self) {
        tied::end(&mut self.child);
    }
}

impl Wire for Emulator {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        for frame in bytes.chunks(MOST) {
            let length = u32::try_from(HEAD.len() + frame.len()).map_err(io::Error::other)?;
            let packet = [&length.to_be_bytes(), HEAD.as_slice(), frame].concat();
            self.port.write_all(&packet)?;
        }
        Ok(())
    }
    fn receive(&mut self, into: &mut [u8], within: Duration) -> io::Result<usize> {
        self.inbox.receive(into, within)
    }
}
