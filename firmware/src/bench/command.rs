//! Commands, and what a bench does with them.

use super::field::exactly;
use super::{SILENCE_US, Set, Shelf};
use crate::boot::Halted;
use crate::fault::Fault;
use crate::link::{Answer, BODY, Frame, Link, Read, Refusal, Sender, Standing, Wire, Write};
use crate::log::Log;
use crate::parts::{Clock, Outputs, Watchdog};
use crate::sample::{Frames, Sample};
use crate::scan::Station;
use heapless::Vec;

/// Most bytes of a piece of an image.
pub const PIECE: usize = BODY - 4;

/// A command; only a bench knows them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Command {
    /// An image of so many bytes will come.
    Begin(u32),
    /// Its next piece, and where it belongs.
    Piece(u32, Vec<u8, PIECE>),
    /// The image is whole: run it.
    Run,
    /// End the plan that runs.
    End,
    /// Levels of all channels.
    Levels(Vec<bool, { crate::sample::CHANNELS }>),
    /// Currents of all gauges, nanoampere.
    Currents(Vec<i32, { crate::sample::GAUGES }>),
    /// Pulses of all sources so far.
    Pulses(Vec<u32, { crate::sample::SOURCES }>),
    /// All links.
    Links(Vec<Frames, { crate::sample::LINKS }>),
    /// Take a scan.
    Step,
    /// Begin with a lift that runs.
    Adopt,
}

impl Command {
    /// The frames that set these inputs, to be sent before a [`Command::Step`].
    pub fn inputs(sample: &Sample) -> [Self; 4] {
        [
            Self::Levels(sample.channels.clone()),
            Self::Currents(sample.currents.clone()),
            Self::Pulses(sample.pulses.clone()),
            Self::Links(sample.links.clone()),
        ]
    }
    /// Reads a frame of a host; `None` if it is no command.
    pub fn read(frame: &Frame) -> Option<Self> {
        if frame.sender != Sender::Host {
            return None;
        }
        let mut body = Read::new(&frame.body);
        let command = match frame.kind {
            16 => Self::Begin(body.long()?),
            17 => Self::Piece(body.long()?, Vec::from_slice(body.rest()).ok()?),
            18 => Self::Run,
            19 => Self::End,
            20 => Self::Levels(all(&mut body, Read::flag)?),
            21 => Self::Currents(all(&mut body, |body| body.long().map(u32::cast_signed))?),
            22 => Self::Pulses(all(&mut body, Read::long)?),
            23 => Self::Links(all(&mut body, |body| Some(Frames { good: body.long()?, order: body.byte()? }))?),
            24 => Self::Step,
            25 => Self::Adopt,
            _ => return None,
        };
        body.ends().then_some(command)
    }
    /// The frame that says it.
    pub fn frame(&self, sequence: u8) -> Frame {
        let mut body = Write::new();
        let kind = match self {
            Self::Begin(length) => {
                body.long(*length);
                16
            }
            Self::Piece(offset, bytes) => {
                body.long(*offset);
                body.bytes(bytes);
                17
            }
            Self::Run => 18,
            Self::End => 19,
            Self::Levels(levels) => {
                levels.iter().for_each(|level| body.flag(*level));
                20
            }
            Self::Currents(currents) => {
                currents.iter().for_each(|current| body.long(current.cast_unsigned()));
                21
            }
            Self::Pulses(pulses) => {
                pulses.iter().for_each(|pulses| body.long(*pulses));
                22
            }
            Self::Links(links) => {
                for link in links {
                    body.long(link.good);
                    body.byte(link.order);
                }
                23
            }
            Self::Step => 24,
            Self::Adopt => 25,
        };
        Frame { sender: Sender::Host, sequence, kind, body: body.done() }
    }
}

/// Values to the end of a body.
fn all<'b, T, const N: usize>(
    body: &mut Read<'b>,
    mut one: impl FnMut(&mut Read<'b>) -> Option<T>,
) -> Option<Vec<T, N>> {
    let mut values = Vec::new();
    while !body.ends() {
        values.push(one(body)?).ok()?;
    }
    Some(values)
}

/// What a bench does next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// As it did.
    Stay,
    /// Boots the image on the shelf. (From a shelf only.)
    Run,
    /// Ends the station and goes back to the shelf. (From a station or a halted controller only.)
    End,
}

/// Bytes to send, and what to do next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Served {
    /// The answer.
    pub answer: Wire,
    /// What to do when it is sent.
    pub next: Next,
}

/// The answering end of a bench's link.
#[derive(Debug)]
pub struct Server {
    link: Link,
    last: Option<u8>,
    heard: u32,
}

impl Default for Server {
    fn default() -> Self {
        Self::new()
    }
}

impl Server {
    /// At the beginning of a line.
    pub fn new() -> Self {
        Self { link: Link::new(Sender::Bench), last: None, heard: 0 }
    }
    /// The link, to be asked how it did.
    pub fn link(&self) -> &Link {
        &self.link
    }
    /// Takes a byte of the line; gives a frame that it completes, which one of the others must be given.
    pub fn take(&mut self, byte: u8, now_us: u32) -> Option<Frame> {
        let frame = self.link.take(byte)?;
        self.heard = now_us;
        Some(frame)
    }
    /// A command that was not given before; `None` if the frame is to be answered as by a station.
    fn command(&mut self, frame: &Frame) -> Option<Result<Command, Refusal>> {
        let command = Command::read(frame)?;
        let repeated = self.last == Some(frame.sequence);
        self.last = Some(frame.sequence);
        Some(if repeated { Err(Refusal::Repeated) } else { Ok(command) })
    }
    fn serve(&mut self, frame: &Frame, done: Result<Answer, Refusal>, next: Next) -> Served {
        let (answer, next) = match done {
            Ok(answer) => (answer, next),
            Err(why) => (self.link.refuse(why), Next::Stay),
        };
        Served { answer: self.link.wire(frame, &answer), next }
    }
    /// Serves a frame while no plan runs.
    pub fn on_shelf(&mut self, frame: &Frame, shelf: &mut Shelf<'_>) -> Served {
        let Some(command) = self.command(frame) else {
            let log = Log::new();
            return Served { answer: self.link.answer(frame, &Standing::empty(&log)), next: Next::Stay };
        };
        let in_place = |fits| if fits { Ok(Answer::Done) } else { Err(Refusal::Place) };
        let (done, next) = match command {
            Ok(Command::Begin(length)) => (in_place(shelf.begin(length)), Next::Stay),
            Ok(Command::Piece(offset, bytes)) => (in_place(shelf.add(offset, &bytes)), Next::Stay),
            Ok(Command::Run) => (Ok(Answer::Done), Next::Run),
            Ok(_) => (Err(Refusal::RunsNot), Next::Stay),
            Err(why) => (Err(why), Next::Stay),
        };
        self.serve(frame, done, next)
    }
    /// Serves a frame while a controller is halted that could not begin: it is asked why, or ended.
    pub fn on_halted<F, O: Outputs, W, C>(&mut self, frame: &Frame, halted: &Halted<F, O, W, C>) -> Served {
        let Some(command) = self.command(frame) else {
            return Served { answer: self.link.answer(frame, &Standing::halted(halted)), next: Next::Stay };
        };
        let done = match command {
            Ok(Command::End) => Ok(Answer::Done),
            Ok(_) => Err(Refusal::RunsNot),
            Err(why) => Err(why),
        };
        self.serve(frame, done, Next::End)
    }
    /// Serves a frame while a plan runs; `stack` as in [`Standing`].
    pub fn on_station<O: Outputs, W: Watchdog, C: Clock>(
        &mut self,
        frame: &Frame,
        station: &mut Station<'_, Set, O, W, C>,
        stack: (u32, u32),
    ) -> Served {
        let Some(command) = self.command(frame) else {
            let mut standing = Standing::of(station);
            standing.stack = stack;
            return Served { answer: self.link.answer(frame, &standing), next: Next::Stay };
        };
        let mut next = Next::Stay;
        let set = station.parts_mut().field.sample();
        let fits = |fits| if fits { Ok(Answer::Done) } else { Err(Refusal::Place) };
        let done = match command {
            Ok(Command::Begin(_) | Command::Piece(..) | Command::Run) => Err(Refusal::Runs),
            Ok(Command::End) => {
                next = Next::End;
                Ok(Answer::Done)
            }
            Ok(Command::Levels(levels)) => fits(exactly(&mut set.channels, levels.into_iter())),
            Ok(Command::Currents(currents)) => fits(exactly(&mut set.currents, currents.into_iter())),
            Ok(Command::Pulses(pulses)) => fits(exactly(&mut set.pulses, pulses.into_iter())),
            Ok(Command::Links(links)) => fits(exactly(&mut set.links, links.into_iter())),
            Ok(Command::Step) => {
                station.begin_now();
                // A fault that stands is told in the verdict.
                let _ = station.scan();
                Ok(Standing::of(station).verdict())
            }
            Ok(Command::Adopt) => station.twin().adopt().map(|()| Answer::Done).ok_or(Refusal::Unknown),
            Err(why) => Err(why),
        };
        self.serve(frame, done, next)
    }
    /// Between frames: stops a station whose link has been silent for too long, and lets its outputs go once the
    /// bench is no longer enabled. To be called again and again.
    pub fn listen<O: Outputs, W: Watchdog, C: Clock>(&self, now_us: u32, station: &mut Station<'_, Set, O, W, C>) {
        station.hold();
        if now_us.wrapping_sub(self.heard) > SILENCE_US && station.fault().is_none() {
            station.halt(Fault::Silent);
        }
    }
}
