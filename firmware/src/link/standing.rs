//! How a controller stands, running or halted, for those who ask.

use super::{Answer, Question, Tally, Who};
use crate::boot::Halted;
use crate::fault::Fault;
use crate::log::Log;
use crate::parts::{Clock, Outputs, Watchdog};
use crate::sample::Field;
use crate::scan::{Counters, Published, Station};
use logic_rules::image::{DIGEST, Image, VERSION};

/// Version of this firmware.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Version;

impl Version {
    /// The three numbers of the package's version.
    pub const NUMBERS: [u8; 3] = [
        number(env!("CARGO_PKG_VERSION_MAJOR")),
        number(env!("CARGO_PKG_VERSION_MINOR")),
        number(env!("CARGO_PKG_VERSION_PATCH")),
    ];
}

/// A number of the version.
const fn number(text: &str) -> u8 {
    let (mut rest, mut number) = (text.as_bytes(), 0_u8);
    while let [digit, others @ ..] = rest {
        number = number * 10 + (*digit - b'0');
        rest = others;
    }
    number
}

/// What there is to tell.
#[derive(Debug)]
pub struct Standing<'s> {
    image: Option<&'s Image<'s>>,
    published: Published,
    driven: u32,
    fault: Option<Fault>,
    counted: Counters,
    log: &'s Log,
    /// Bytes of stack that there are, and that were ever used; 0 where nobody knows.
    pub stack: (u32, u32),
}

impl<'s> Standing<'s> {
    /// Of a station.
    pub fn of<F: Field, O: Outputs, W: Watchdog, C: Clock>(station: &'s Station<'_, F, O, W, C>) -> Self {
        Self {
            image: Some(station.image()),
            published: station.published(),
            driven: station.driven(),
            fault: station.fault(),
            counted: station.counters(),
            log: station.log(),
            stack: (0, 0),
        }
    }
    /// Of a controller that does not run.
    pub fn halted<F, O, W, C>(halted: &'s Halted<'_, F, O, W, C>) -> Self {
        Self {
            image: None,
            published: Published::default(),
            driven: 0,
            fault: Some(halted.fault),
            counted: Counters::default(),
            log: halted.log,
            stack: (0, 0),
        }
    }
    /// Of a controller that waits for an image.
    pub fn empty(log: &'s Log) -> Self {
        let (published, counted) = (Published::default(), Counters::default());
        Self { image: None, published, driven: 0, fault: None, counted, log, stack: (0, 0) }
    }
    /// Answers a question.
    pub fn answer(&self, question: Question, tally: Tally) -> Answer {
        match question {
            Question::Who => Answer::Who(self.who()),
            Question::Verdict => self.verdict(),
            Question::Counters => Answer::Counters { counted: self.counted, tally, stack: self.stack },
            Question::Log(from) => {
                let events = self.log.from(from);
                let first = self.log.from(from).next().map_or(self.log.told(), |(number, _)| number);
                let events = events.take(super::EVENTS).map(|(_, event)| *event).collect();
                Answer::Log { next: self.log.told(), first, events }
            }
        }
    }
    fn who(&self) -> Who {
        Who {
            version: Version::NUMBERS,
            format: VERSION,
            runs: self.image.is_some(),
            digest: self.image.map_or([0; DIGEST], |image| *image.digest()),
            checksum: self.image.map_or(0, Image::checksum),
            length: self.image.map_or(0, |image| u32::try_from(image.length()).unwrap_or(u32::MAX)),
            revision: self.image.map_or(0, Image::revision),
            scan_us: self.image.map_or(0, Image::scan_us),
        }
    }
    /// The last verdict. While a fault stands no permit is told and no output is on.
    pub fn verdict(&self) -> Answer {
        let faulty = self.fault.is_some();
        Answer::Verdict {
            scan: self.counted.scans,
            answer: u8::try_from(self.published.answer).unwrap_or(u8::MAX),
            permit: self.published.permit && !faulty,
            reset: self.published.reset && !faulty,
            on: if faulty { 0 } else { self.published.on },
            driven: self.driven,
            fault: self.fault.map_or((0, 0), |fault| (fault.code(), fault.detail())),
        }
    }
}
