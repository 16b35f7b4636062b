//! Commands, and what a bench does with them.

use super::{Gated, Item, SILENCE_US, Set, Shelf};
use crate::boot::Halted;
use crate::fault::Fault;
use crate::link::{Answer, BODY, Body, Frame, Link, Ran, Read, Refusal, Sender, Standing, Wire, Write};
use crate::log::Log;
use crate::parts::{Clock, Outputs, Watchdog};
use crate::scan::Station;
use embedded_hal::digital::InputPin;
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
    /// Items one after another: changes of inputs, and scans.
    Items(Body),
    /// What came of the last of these, once more.
    Again,
    /// Begin with a lift that runs.
    Adopt,
    /// Break something of the bench itself.
    Harm(Harm),
}

/// What a bench can break in itself, so that one sees it stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Harm {
    /// Inputs are no longer read anew: 1.
    Freeze,
    /// The first output reads back as the opposite of what it is: 2.
    TurnReadBack,
    /// Nothing is done any more, until the watchdog bites: 3.
    Hang,
}

impl Harm {
    const ALL: [(u8, Self); 3] = [(1, Self::Freeze), (2, Self::TurnReadBack), (3, Self::Hang)];
}

impl Command {
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
            20 => Self::Items(Body::from_slice(body.rest()).ok()?),
            21 => Self::Again,
            22 => Self::Adopt,
            23 => {
                let number = body.byte()?;
                Self::Harm(Harm::ALL.into_iter().find(|(of, _)| *of == number)?.1)
            }
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
            Self::Items(items) => {
                body.bytes(items);
                20
            }
            Self::Again => 21,
            Self::Adopt => 22,
            Self::Harm(harm) => {
                body.byte(Harm::ALL.into_iter().find(|(_, of)| of == harm).map_or(0, |(number, _)| number));
                23
            }
        };
        Frame { sender: Sender::Host, sequence, kind, body: body.done() }
    }
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
    /// Does nothing any more. (From a station only.)
    Hang,
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
    /// What came of the last scans, kept in case its answer is lost.
    ran: Answer,
}

impl Default for Server {
    fn default() -> Self {
        Self::new()
    }
}

impl Server {
    /// At the beginning of a line.
    pub fn new() -> Self {
        Self { link: Link::new(Sender::Bench), last: None, heard: 0, ran: Answer::Done }
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
    pub fn on_halted<F, O: Outputs, W, C>(&mut self, frame: &Frame, halted: &Halted<'_, F, O, W, C>) -> Served {
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
    /// Serves a frame while a plan runs; `stack` gives what [`Standing`] tells of it, and is asked for questions only: it may take long.
    pub fn on_station<O: Outputs, E: InputPin, W: Watchdog, C: Clock>(
        &mut self,
        frame: &Frame,
        station: &mut Station<'_, Set, Gated<O, E>, W, C>,
        stack: impl FnOnce() -> (u32, u32),
    ) -> Served {
        let Some(command) = self.command(frame) else {
            let mut standing = Standing::of(station);
            standing.stack = stack();
            return Served { answer: self.link.answer(frame, &standing), next: Next::Stay };
        };
        let mut next = Next::Stay;
        let done = match command {
            Ok(Command::Begin(_) | Command::Piece(..) | Command::Run) => Err(Refusal::Runs),
            Ok(Command::End) => {
                next = Next::End;
                Ok(Answer::Done)
            }
            Ok(Command::Items(items)) => {
                let ran = items_of(&items, station);
                if let Some(ran) = &ran {
                    self.ran = ran.clone();
                }
                ran.ok_or(Refusal::Place)
            }
            Ok(Command::Again) => Ok(self.ran.clone()),
            Ok(Command::Harm(harm)) => {
                match harm {
                    Harm::Freeze => station.parts_mut().field.freeze(),
                    Harm::TurnReadBack => station.parts_mut().outputs.turned = 1,
                    Harm::Hang => next = Next::Hang,
                }
                Ok(Answer::Done)
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

/// Sets inputs and takes scans as a list of items says; nothing of it is done if an item is none, or beyond what there is.
/// Scans end with a fault, or when the answer has room for no more.
fn items_of<O: Outputs, W: Watchdog, C: Clock>(
    items: &[u8],
    station: &mut Station<'_, Set, O, W, C>,
) -> Option<Answer> {
    let mut checked = Read::new(items);
    while !checked.ends() {
        let field = &mut station.parts_mut().field;
        Item::read(&mut checked).filter(|item| item.fits(field))?;
    }
    let (mut rest, mut scans) = (Read::new(items), Vec::new());
    while !rest.ends() {
        let item = Item::read(&mut rest)?;
        let field = &mut station.parts_mut().field;
        item.set(field);
        let Item::Scans(count) = item else { continue };
        for _ in 0..count {
            if scans.is_full() || station.fault().is_some() {
                break;
            }
            station.parts_mut().field.move_on();
            station.begin_now();
            // A fault that stands is told at the end.
            let Ok(published) = station.scan() else { break };
            let took = station.counters().last_us;
            let ran = Ran {
                answer: u8::try_from(published.answer).unwrap_or(u8::MAX),
                permit: published.permit,
                reset: published.reset,
                on: published.on,
                took_us: u16::try_from(took).unwrap_or(u16::MAX),
            };
            scans.push(ran).ok()?;
        }
        station.parts_mut().field.moves().fill(0);
    }
    let fault = station.fault().map_or((0, 0), |fault| (fault.code(), fault.detail()));
    let (scan, next) = (station.counters().scans, station.log().told());
    Some(Answer::Ran { scan, next, driven: station.driven(), fault, scans })
}
