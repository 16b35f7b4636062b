//! The serial link: frames, the questions anyone may ask, and their answers. A host speaks with the same code.
//!
//! A frame is, before it is stuffed: who sends it ([`Sender`]), a sequence number, a kind, up to [`BODY`] bytes of body, and the CRC-32
//! of all that, least byte first. It is stuffed by COBS and ended by a byte 0. An answer has the sequence number of what it
//! answers. What is not whole is refused and counted, and never answered.
//!
//! | kind | from | body, least byte first |
//! |---|---|---|
//! | 1 | host | who are you? |
//! | 2 | host | what is the verdict? |
//! | 3 | host | what was counted? |
//! | 4 | host | the log from event 4 bytes on |
//! | 129 to 132 | controller | the answers, see [`Answer`] |
//! | 255 | controller | refused, 1 byte: see [`Refusal`] |
//!
//! The bench has more kinds, from 16 on and from 144 on; a station does not know them.

mod answer;
mod bytes;
mod frame;
mod standing;

pub use answer::{Answer, EVENTS, Ran, Refusal, SCANS, Who};
pub use bytes::{Read, Write};
pub use frame::{BODY, Bad, Body, Decoder, Frame, Sender, WIRE, Wire, encode};
pub use standing::{Standing, Version};

/// A question; a station answers these and nothing else.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Question {
    /// Which build, version and image this is.
    Who,
    /// The last verdict, the outputs, the fault that stands.
    Verdict,
    /// What was counted.
    Counters,
    /// The log from this event on.
    Log(u32),
}

impl Question {
    /// Reads a frame of a host; `None` if it is no question.
    pub fn read(frame: &Frame) -> Option<Self> {
        if frame.sender != Sender::Host {
            return None;
        }
        let mut body = Read::new(&frame.body);
        let question = match frame.kind {
            1 => Self::Who,
            2 => Self::Verdict,
            3 => Self::Counters,
            4 => Self::Log(body.long()?),
            _ => return None,
        };
        body.ends().then_some(question)
    }
    /// The frame that asks it.
    pub fn frame(self, sequence: u8) -> Frame {
        let mut body = Write::new();
        let kind = match self {
            Self::Who => 1,
            Self::Verdict => 2,
            Self::Counters => 3,
            Self::Log(from) => {
                body.long(from);
                4
            }
        };
        Frame { sender: Sender::Host, sequence, kind, body: body.done() }
    }
}

/// How the link did, since power-up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    /// Whole frames.
    pub good: u32,
    /// What was refused because it was no whole frame.
    pub bad: u32,
    /// Whole frames that were refused for what they ask.
    pub refused: u32,
    /// Frames that are missing between those that came, by their sequence numbers.
    pub lost: u32,
}

/// The end of the link that answers.
#[derive(Debug)]
pub struct Link {
    decoder: Decoder,
    sender: Sender,
    last: Option<u8>,
    tally: Tally,
}

impl Link {
    /// The link of this build.
    pub fn new(sender: Sender) -> Self {
        Self { decoder: Decoder::new(), sender, last: None, tally: Tally::default() }
    }
    /// Takes a byte of the line; gives a frame that it completes.
    pub fn take(&mut self, byte: u8) -> Option<Frame> {
        let Ok(frame) = self.decoder.take(byte)? else {
            self.tally.bad = self.tally.bad.wrapping_add(1);
            return None;
        };
        self.tally.good = self.tally.good.wrapping_add(1);
        if let Some(last) = self.last {
            let ahead = frame.sequence.wrapping_sub(last).wrapping_sub(1);
            // The same number again is a repetition, not 255 losses.
            self.tally.lost = self.tally.lost.wrapping_add(u32::from(if ahead == u8::MAX { 0 } else { ahead }));
        }
        self.last = Some(frame.sequence);
        Some(frame)
    }
    /// Answers a frame as a station does: a question with its answer, anything else with a refusal.
    pub fn answer(&mut self, asked: &Frame, standing: &Standing<'_>) -> Wire {
        let answer = match Question::read(asked) {
            Some(question) => standing.answer(question, self.tally),
            None => self.refuse(Refusal::Unknown),
        };
        self.wire(asked, &answer)
    }
    /// Counts a refusal.
    pub fn refuse(&mut self, why: Refusal) -> Answer {
        self.tally.refused = self.tally.refused.wrapping_add(1);
        Answer::Refused(why)
    }
    /// An answer to what was asked, as bytes for the line.
    pub fn wire(&self, asked: &Frame, answer: &Answer) -> Wire {
        encode(&answer.frame(self.sender, asked.sequence))
    }
    /// How the link did.
    pub fn tally(&self) -> Tally {
        self.tally
    }
}
