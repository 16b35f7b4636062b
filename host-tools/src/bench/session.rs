//! A target that runs an image and is driven through scans, as many with one frame as it has room for.

use firmware::bench::{Command, Item, LONGEST};
use firmware::link::{Answer, BODY, Body, Question, SCANS, Sender, Write};
use firmware::{Event, Sample};
use logic_rules::image::Image;

use super::Trouble;
use super::client::Client;
use super::inputs::still;

/// What a target published in a scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Verdict {
    /// Scans since power-up.
    pub scan: u32,
    /// Rank of the most severe answer.
    pub answer: u8,
    /// The start permit.
    pub permit: bool,
    /// The reset acted.
    pub reset: bool,
    /// Outputs that it wants on.
    pub on: u32,
    /// Code and number of the fault that stands; code 0 if none does.
    pub fault: (u8, u16),
    /// Microseconds that it took, by the target's clock.
    pub took_us: u16,
}

/// Code of [`firmware::Fault::Silent`].
const SILENT: u8 = 26;

/// A run from power-up.
#[derive(Debug)]
pub struct Session<'c> {
    client: &'c mut Client,
    /// What the target's field shows.
    shown: Sample,
    /// Scans that were taken.
    scans: u32,
    /// Number of the next event of the log, and of the next to be asked for.
    next: u32,
    told: u32,
}

/// Items that wait to be sent, and scans among them.
#[derive(Debug, Default)]
struct Packed {
    body: Write,
    scans: u8,
    /// What moves before each of the last scans, and how many these are.
    last: Vec<Item>,
    repeats: u8,
}

impl Packed {
    fn put(&mut self, item: Item) {
        item.write(&mut self.body);
    }
    /// Ends what moves with a scan that goes with it.
    fn close(&mut self) {
        if self.repeats > 0 {
            self.put(Item::Scans(self.repeats));
            self.repeats = 0;
        }
    }
    /// There is room for another item, the scans before it and those after it.
    fn has_room(&self) -> bool {
        self.body.len() + 2 + LONGEST + 2 <= BODY
    }
}

impl<'c> Session<'c> {
    /// Loads an image and powers it up.
    ///
    /// # Errors
    /// [`Trouble`]; a target that runs another image than was sent, or none, is one.
    pub fn begin(client: &'c mut Client, image: &Image<'_>, bytes: &[u8]) -> Result<Self, Trouble> {
        let mut session = Self { client, shown: still(image)?, scans: 0, next: 0, told: 0 };
        session.power_up(image, bytes)?;
        Ok(session)
    }
    /// Loads the image again and powers it up.
    ///
    /// # Errors
    /// As [`Session::begin`].
    pub fn power_up(&mut self, image: &Image<'_>, bytes: &[u8]) -> Result<(), Trouble> {
        let client = &mut *self.client;
        (self.shown, self.scans, self.next, self.told) = (still(image)?, 0, 0, 0);
        client.load(bytes)?;
        let who = client.who()?;
        if client.sender() != Some(Sender::Bench) {
            return Err(Trouble::NoTarget("the target is no bench: connect a bench build".to_owned()));
        }
        if !who.runs {
            let what = "it is asked why it does not run";
            let Answer::Verdict { fault, .. } = client.ask(Question::Verdict, what)? else {
                return Err(Trouble::Unexpected(what));
            };
            return Err(Trouble::Image(format!("the target does not run the image: fault {}, {}", fault.0, fault.1)));
        }
        if who.checksum != image.checksum() {
            return Err(Trouble::Image("the target runs another image than was sent".to_owned()));
        }
        Ok(())
    }
    /// Takes a scan of each of these samples, one after another. A fault ends them: then the last verdict tells it, and the scans
    /// after it were not taken.
    ///
    /// # Errors
    /// [`Trouble`] if the scans were not taken exactly once.
    pub fn run(&mut self, fields: &[Sample]) -> Result<Vec<Verdict>, Trouble> {
        let (mut packed, mut verdicts) = (Packed::default(), Vec::new());
        for field in fields {
            let full = usize::from(packed.scans) == SCANS || !packed.has_room();
            if full && !self.send(&mut packed, &mut verdicts)? {
                return Ok(verdicts);
            }
            let items: Vec<Item> = Item::between(&self.shown, field).collect();
            self.shown.clone_from(field);
            let moves = items.iter().all(|item| matches!(item, Item::Moves(..)));
            if !(moves && packed.repeats > 0 && packed.last == items) {
                packed.close();
                for item in &items {
                    // What is set waits at the target for its scan.
                    if !packed.has_room() && !self.send(&mut packed, &mut verdicts)? {
                        return Ok(verdicts);
                    }
                    packed.put(*item);
                }
                packed.last = items.into_iter().filter(|item| matches!(item, Item::Moves(..))).collect();
            }
            packed.repeats += 1;
            packed.scans += 1;
        }
        self.send(&mut packed, &mut verdicts)?;
        Ok(verdicts)
    }
    /// Sends what waits, and takes what comes of it; false if a fault ended it.
    fn send(&mut self, packed: &mut Packed, verdicts: &mut Vec<Verdict>) -> Result<bool, Trouble> {
        let what = "scans are to be taken";
        packed.close();
        let Packed { body, scans: asked, .. } = std::mem::take(packed);
        let body: Body = body.done();
        let answer = match self.client.tell(&Command::Items(body), what)? {
            Some(answer) => Some(answer),
            // They were taken, and the answer was lost: it is kept.
            None => self.client.tell(&Command::Again, what)?,
        };
        let Some(Answer::Ran { scan, next, driven: _, fault, scans }) = answer else {
            return Err(Trouble::Unexpected(what));
        };
        if fault.0 == SILENT {
            return Err(Trouble::FellSilent);
        }
        for ran in &scans {
            self.scans = self.scans.wrapping_add(1);
            verdicts.push(Verdict {
                scan: self.scans,
                answer: ran.answer,
                permit: ran.permit,
                reset: ran.reset,
                on: ran.on,
                fault: (0, 0),
                took_us: ran.took_us,
            });
        }
        self.next = next;
        if fault.0 != 0 {
            verdicts.push(Verdict { scan, answer: 0, permit: false, reset: false, on: 0, fault, took_us: 0 });
            return Ok(false);
        }
        if scan != self.scans || scans.len() != usize::from(asked) {
            return Err(Trouble::Unexpected("scans are counted"));
        }
        Ok(true)
    }
    /// Scans that were taken since power-up.
    pub fn scans(&self) -> u32 {
        self.scans
    }
    /// Judges from here on as of a lift that runs.
    ///
    /// # Errors
    /// [`Trouble`].
    pub fn adopt(&mut self) -> Result<(), Trouble> {
        self.client.make(&Command::Adopt, "it is to judge a lift that runs")
    }
    /// Events of the log that were not asked for yet.
    ///
    /// # Errors
    /// [`Trouble`]; one is that events had been dropped before they were asked for.
    pub fn events(&mut self) -> Result<Vec<Event>, Trouble> {
        let (what, mut all) = ("its log is read", Vec::new());
        // Most scans tell nothing.
        while self.told != self.next {
            let Answer::Log { next, first, events } = self.client.ask(Question::Log(self.told), what)? else {
                return Err(Trouble::Unexpected(what));
            };
            if first != self.told || events.is_empty() {
                return Err(Trouble::Unexpected("its log is read: events have been dropped"));
            }
            self.told = first.wrapping_add(u32::try_from(events.len()).unwrap_or(0));
            self.next = next;
            all.extend(events.iter().copied());
        }
        Ok(all)
    }
}
