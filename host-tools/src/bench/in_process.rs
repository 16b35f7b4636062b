//! The firmware's bench in a thread of this program, on doubles of a board: outputs that do what they are told and are
//! read back, and a clock that stands, since a bench counts scans.

use std::convert::Infallible;
use std::io;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use embedded_hal::digital::{ErrorType, InputPin};
use firmware::bench::{Gated, Next, Served, Server, Set, Shelf};
use firmware::link::Frame;
use firmware::{Booted, Cause, Clock, Memory, Outputs, Parts, PinFault, Store, Watchdog, boot};
use logic_rules::image::{Image, Wiring};

use super::Wire;
use super::inbox::{Inbox, soon};

/// Longest image, bytes.
const IMAGE: usize = 1 << 17;

/// A bench beside us.
#[derive(Debug)]
pub(super) struct InProcess {
    to: Option<Sender<Vec<u8>>>,
    inbox: Inbox,
    thread: Option<JoinHandle<()>>,
}

impl InProcess {
    pub(super) fn start() -> io::Result<Self> {
        let ((to, line), (answers, from)) = (channel(), channel());
        let thread = thread::Builder::new().name("bench".to_owned()).spawn(move || Bench { line, answers }.serve())?;
        Ok(Self { to: Some(to), inbox: Inbox::new(from), thread: Some(thread) })
    }
}

impl Drop for InProcess {
    fn drop(&mut self) {
        // Its line ends, and with it the thread.
        self.to = None;
        if let Some(thread) = self.thread.take() {
            let _ended = thread.join();
        }
    }
}

impl Wire for InProcess {
    fn send(&mut self, bytes: &[u8]) -> io::Result<()> {
        let sent = self.to.as_ref().is_some_and(|to| to.send(bytes.to_vec()).is_ok());
        if sent { Ok(()) } else { Err(io::Error::new(io::ErrorKind::BrokenPipe, "it has ended")) }
    }
    fn receive(&mut self, into: &mut [u8], within: Duration) -> io::Result<usize> {
        self.inbox.receive(into, within)
    }
}

/// Outputs that are as they were told to be.
#[derive(Debug, Default)]
struct Relays(u32);
impl Outputs for Relays {
    fn connect(&mut self, _: &Wiring<'_>) -> Result<(), u16> {
        Ok(())
    }
    fn energise(&mut self, these: u32) -> Result<(), PinFault> {
        self.0 = these;
        Ok(())
    }
    fn release(&mut self) -> Result<(), PinFault> {
        self.0 = 0;
        Ok(())
    }
    fn energised(&mut self) -> Result<u32, PinFault> {
        Ok(self.0)
    }
}

/// A contact that enables: nothing is connected to these outputs.
#[derive(Debug)]
struct Closed;
impl ErrorType for Closed {
    type Error = Infallible;
}
impl InputPin for Closed {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(true)
    }
    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(false)
    }
}

/// A clock that stands, and a watchdog that nobody needs then.
#[derive(Debug)]
struct Still;
impl Clock for Still {
    fn now_us(&mut self) -> u32 {
        0
    }
}
impl Watchdog for Still {
    fn feed(&mut self) {}
}

type Ends<'m> = Booted<'m, Set, Gated<Relays, Closed>, Still, Still>;

/// The thread.
struct Bench {
    line: Receiver<Vec<u8>>,
    answers: Sender<Vec<u8>>,
}

impl Bench {
    /// Serves until the line ends.
    fn serve(self) {
        let (mut first, mut second) = (vec![0; IMAGE], vec![0; IMAGE]);
        let (mut server, mut store) = (Server::new(), Store::new());
        let mut shelf = Shelf::new([&mut first, &mut second]);
        loop {
            if self.until(&mut server, Next::Run, |server, frame| server.on_shelf(frame, &mut shelf)).is_none() {
                return;
            }
            let [image, _] = shelf.images();
            // An image that does not open needs nothing, and is refused at once.
            let needs = Image::open(image).map(|image| image.needs()).unwrap_or_default();
            let cells = needs.bits + needs.words + needs.work_bits + needs.work_words;
            let (mut upright, mut inverted) = (vec![0; cells], vec![0; cells]);
            let outputs = Gated { outputs: Relays::default(), enable: Closed, turned: 0 };
            let parts = Parts { field: Set::default(), outputs, watchdog: Still, clock: Still };
            let memory = Memory { cells: [&mut upright, &mut inverted], store: &mut store };
            let mut booted: Ends<'_> = boot(parts, shelf.images(), memory, Cause::PowerUp);
            let ended = self.until(&mut server, Next::End, |server, frame| match &mut booted {
                Ok(station) => server.on_station(frame, station, || (0, 0)),
                Err(halted) => server.on_halted(frame, halted),
            });
            if ended.is_none() {
                return;
            }
        }
    }
    /// Answers frames until one of them asks for this; nothing if the line ends before.
    fn until(
        &self,
        server: &mut Server,
        next: Next,
        mut answer: impl FnMut(&mut Server, &Frame) -> Served,
    ) -> Option<()> {
        loop {
            let mut asked = false;
            for byte in soon(&self.line).or_else(|| self.line.recv().ok())? {
                if let Some(frame) = server.take(byte, 0) {
                    let served = answer(server, &frame);
                    self.answers.send(served.answer.to_vec()).ok()?;
                    asked |= served.next == next;
                    // Nothing watches it here: its line ends with it.
                    if served.next == Next::Hang {
                        return None;
                    }
                }
            }
            if asked {
                return Some(());
            }
        }
    }
}
