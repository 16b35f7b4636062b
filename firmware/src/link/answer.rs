//! What a controller answers.

use super::{BODY, Frame, Read, Sender, Tally, Write};
use crate::log::{Event, Kind};
use crate::scan::Counters;
use heapless::Vec;
use logic_rules::image::DIGEST;

/// Bytes of an event on the line.
const EVENT: usize = 11;
/// Most events of one answer.
pub const EVENTS: usize = (BODY - 8) / EVENT;
/// Most scans of one answer.
pub const SCANS: usize = (BODY - 15) / 8;

/// Why a whole frame was not obeyed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refusal {
    /// This build does not know it, or its body is not as it should be: 1.
    Unknown,
    /// Not while a plan runs: 2.
    Runs,
    /// Not while none runs: 3.
    RunsNot,
    /// The image cannot be had so: out of place, or too long: 4.
    Place,
    /// The same sequence number as the command before: 5.
    Repeated,
}

impl Refusal {
    const ALL: [Self; 5] = [Self::Unknown, Self::Runs, Self::RunsNot, Self::Place, Self::Repeated];
    fn number(self) -> u8 {
        match self {
            Self::Unknown => 1,
            Self::Runs => 2,
            Self::RunsNot => 3,
            Self::Place => 4,
            Self::Repeated => 5,
        }
    }
}

/// Which controller this is, and what it runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Who {
    /// Version of the firmware.
    pub version: [u8; 3],
    /// Version of the images that it reads.
    pub format: u16,
    /// An image is open; else what follows is 0.
    pub runs: bool,
    /// SHA-256 of the rule files.
    pub digest: [u8; DIGEST],
    /// CRC-32 of the image.
    pub checksum: u32,
    /// Bytes of the image.
    pub length: u32,
    /// Revision of the rule file.
    pub revision: u32,
    /// Microseconds of a scan.
    pub scan_us: u32,
}

/// An answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// Kind 129: the fields of [`Who`] in their order.
    Who(Who),
    /// Kind 130.
    Verdict {
        /// Scans since power-up (4 bytes); wraps.
        scan: u32,
        /// Rank of the most severe answer (1 byte).
        answer: u8,
        /// The start permit (1 byte).
        permit: bool,
        /// The reset acted in this scan (1 byte).
        reset: bool,
        /// Outputs that the verdict wants on (4 bytes).
        on: u32,
        /// Outputs that were told to be on (4 bytes).
        driven: u32,
        /// Code of the fault that stands, 0 for none (1 byte), and what it names (2 bytes).
        fault: (u8, u16),
    },
    /// Kind 131.
    Counters {
        /// Of the controller (4 bytes each, in their order).
        counted: Counters,
        /// Of the link (4 bytes each, in their order).
        tally: Tally,
        /// Bytes of stack that there are, and that were ever used (4 bytes each); 0 where nobody knows.
        stack: (u32, u32),
    },
    /// Kind 132.
    Log {
        /// Number of the next event that will happen (4 bytes): what to ask for is what follows the last of these.
        next: u32,
        /// Number of the first of these events (4 bytes).
        first: u32,
        /// Events, 11 bytes each: scan 4, kind 1, number 2, value 4.
        events: Vec<Event, EVENTS>,
    },
    /// Kind 255.
    Refused(Refusal),
    /// Kind 144, of a bench: done.
    Done,
    /// Kind 145, of a bench: what came of scans.
    Ran {
        /// Scans since power-up (4 bytes); wraps.
        scan: u32,
        /// Number of the next event of the log (4 bytes).
        next: u32,
        /// Outputs that were told to be on in the last of them (4 bytes).
        driven: u32,
        /// Code of the fault that ended them, 0 for none (1 byte), and what it names (2 bytes).
        fault: (u8, u16),
        /// The scans that ended well.
        scans: Vec<Ran, SCANS>,
    },
}

/// A scan of many: 8 bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ran {
    /// Rank of the most severe answer (1 byte).
    pub answer: u8,
    /// The start permit (1 bit), and whether the reset acted (1 bit), in one byte.
    pub permit: bool,
    /// See the permit.
    pub reset: bool,
    /// Outputs that the verdict wants on (4 bytes).
    pub on: u32,
    /// Microseconds that it took (2 bytes); the most that there is room for if it took longer.
    pub took_us: u16,
}

impl Ran {
    fn write(&self, body: &mut Write) {
        body.byte(self.answer);
        body.byte(u8::from(self.permit) | u8::from(self.reset) << 1);
        body.long(self.on);
        body.short(self.took_us);
    }
    fn read(body: &mut Read<'_>) -> Option<Self> {
        let (answer, flags) = (body.byte()?, body.byte()?);
        let (on, took_us) = (body.long()?, body.short()?);
        let (permit, reset) = (flags & 1 == 1, flags & 2 == 2);
        (flags < 4).then_some(Self { answer, permit, reset, on, took_us })
    }
}

impl Answer {
    /// The frame that says it.
    pub fn frame(&self, sender: Sender, sequence: u8) -> Frame {
        let mut body = Write::new();
        let kind = match self {
            Self::Who(who) => {
                body.bytes(&who.version);
                body.short(who.format);
                body.flag(who.runs);
                body.bytes(&who.digest);
                for number in [who.checksum, who.length, who.revision, who.scan_us] {
                    body.long(number);
                }
                129
            }
            Self::Verdict { scan, answer, permit, reset, on, driven, fault } => {
                body.long(*scan);
                body.byte(*answer);
                body.flag(*permit);
                body.flag(*reset);
                body.long(*on);
                body.long(*driven);
                body.byte(fault.0);
                body.short(fault.1);
                130
            }
            Self::Counters { counted, tally, stack } => {
                let of_link = [tally.good, tally.bad, tally.refused, tally.lost, stack.0, stack.1];
                for number in [counted.scans, counted.longest_us, counted.last_us, counted.thirds, counted.rounds] {
                    body.long(number);
                }
                for number in of_link {
                    body.long(number);
                }
                131
            }
            Self::Log { next, first, events } => {
                body.long(*next);
                body.long(*first);
                for event in events {
                    body.long(event.scan);
                    body.byte(event.kind.number());
                    body.short(event.number);
                    body.long(event.value);
                }
                132
            }
            Self::Refused(why) => {
                body.byte(why.number());
                255
            }
            Self::Done => 144,
            Self::Ran { scan, next, driven, fault, scans } => {
                for number in [scan, next, driven] {
                    body.long(*number);
                }
                body.byte(fault.0);
                body.short(fault.1);
                scans.iter().for_each(|ran| ran.write(&mut body));
                145
            }
        };
        Frame { sender, sequence, kind, body: body.done() }
    }
    /// Reads a frame of a controller; `None` if it is no answer.
    pub fn read(frame: &Frame) -> Option<Self> {
        if frame.sender == Sender::Host {
            return None;
        }
        let mut body = Read::new(&frame.body);
        let answer = match frame.kind {
            129 => Self::Who(Who {
                version: body.array()?,
                format: body.short()?,
                runs: body.flag()?,
                digest: body.array()?,
                checksum: body.long()?,
                length: body.long()?,
                revision: body.long()?,
                scan_us: body.long()?,
            }),
            130 => Self::Verdict {
                scan: body.long()?,
                answer: body.byte()?,
                permit: body.flag()?,
                reset: body.flag()?,
                on: body.long()?,
                driven: body.long()?,
                fault: (body.byte()?, body.short()?),
            },
            131 => Self::Counters {
                counted: Counters {
                    scans: body.long()?,
                    longest_us: body.long()?,
                    last_us: body.long()?,
                    thirds: body.long()?,
                    rounds: body.long()?,
                },
                tally: Tally { good: body.long()?, bad: body.long()?, refused: body.long()?, lost: body.long()? },
                stack: (body.long()?, body.long()?),
            },
            132 => {
                let (next, first) = (body.long()?, body.long()?);
                let mut events = Vec::new();
                while !body.ends() {
                    let (scan, kind) = (body.long()?, Kind::from_number(body.byte()?)?);
                    let (number, value) = (body.short()?, body.long()?);
                    events.push(Event { scan, kind, number, value }).ok()?;
                }
                Self::Log { next, first, events }
            }
            144 => Self::Done,
            145 => {
                let (scan, next, driven) = (body.long()?, body.long()?, body.long()?);
                let fault = (body.byte()?, body.short()?);
                let mut scans = Vec::new();
                while !body.ends() {
                    scans.push(Ran::read(&mut body)?).ok()?;
                }
                Self::Ran { scan, next, driven, fault, scans }
            }
            255 => {
                let number = body.byte()?;
                Self::Refused(Refusal::ALL.into_iter().find(|why| why.number() == number)?)
            }
            _ => return None,
        };
        body.ends().then_some(answer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_answer_reads_as_it_was_written() {
        let who = Who {
            version: [1, 2, 3],
            format: 4,
            runs: true,
            digest: [5; DIGEST],
            checksum: 6,
            length: 7,
            revision: 8,
            scan_us: 9,
        };
        let event = Event { scan: 1, kind: Kind::Trip, number: 2, value: 3 };
        let ran = Ran { answer: 1, permit: false, reset: true, on: 2, took_us: 3 };
        let scans = core::iter::repeat_n(ran, SCANS).collect();
        let answers = [
            Answer::Ran { scan: 1, next: 2, driven: 3, fault: (4, 5), scans },
            Answer::Who(who),
            Answer::Verdict { scan: 1, answer: 2, permit: true, reset: false, on: 3, driven: 4, fault: (5, 6) },
            Answer::Counters {
                counted: Counters { scans: 1, longest_us: 2, last_us: 11, thirds: 3, rounds: 4 },
                tally: Tally { good: 5, bad: 6, refused: 7, lost: 8 },
                stack: (9, 10),
            },
            Answer::Log { next: 20, first: 4, events: core::iter::repeat_n(event, EVENTS).collect() },
            Answer::Done,
        ];
        for answer in answers.into_iter().chain(Refusal::ALL.map(Answer::Refused)) {
            let frame = answer.frame(Sender::Bench, 3);
            assert_eq!(Answer::read(&frame), Some(answer.clone()));
            assert_eq!(Answer::read(&Frame { sender: Sender::Host, ..frame.clone() }), None);
            let mut short = frame.clone();
            if short.body.pop().is_some() {
                assert_eq!(Answer::read(&short), None, "{answer:?}");
            }
        }
    }
}
