//! A target that runs an image and is stepped scan by scan.

use firmware::bench::Command;
use firmware::link::{Answer, Question, Sender};
use firmware::{Event, Sample};

use super::Trouble;
use super::client::Client;

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
}

/// Code of [`firmware::Fault::Silent`].
const SILENT: u8 = 26;

/// A run from power-up.
#[derive(Debug)]
pub struct Session<'c> {
    client: &'c mut Client,
    sent: Option<[Command; 4]>,
    told: u32,
}

impl<'c> Session<'c> {
    /// Loads an image and powers it up.
    ///
    /// # Errors
    /// [`Trouble`]; a target that runs another image than was sent, or none, is one.
    pub fn begin(client: &'c mut Client, image: &[u8], checksum: u32) -> Result<Self, Trouble> {
        let mut session = Self { client, sent: None, told: 0 };
        session.power_up(image, checksum)?;
        Ok(session)
    }
    /// Loads the image again and powers it up.
    ///
    /// # Errors
    /// As [`Session::begin`].
    pub fn power_up(&mut self, image: &[u8], checksum: u32) -> Result<(), Trouble> {
        let client = &mut *self.client;
        (self.sent, self.told) = (None, 0);
        client.load(image)?;
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
        if who.checksum != checksum {
            return Err(Trouble::Image("the target runs another image than was sent".to_owned()));
        }
        Ok(())
    }
    /// Sets the inputs and takes a scan.
    ///
    /// # Errors
    /// [`Trouble`] if the scan was not taken exactly once.
    pub fn step(&mut self, field: &Sample, scan: u32) -> Result<Verdict, Trouble> {
        let inputs = Command::inputs(field);
        for (i, command) in inputs.iter().enumerate() {
            // What is as it was need not be sent.
            if self.sent.as_ref().and_then(|sent| sent.get(i)) != Some(command) {
                self.client.make(command, "inputs are set")?;
            }
        }
        self.sent = Some(inputs);
        let what = "it is to take a scan";
        let answer = match self.client.tell(&Command::Step, what)? {
            Some(answer) => answer,
            None => self.client.ask(Question::Verdict, what)?,
        };
        let Answer::Verdict { scan: at, answer, permit, reset, on, driven: _, fault } = answer else {
            return Err(Trouble::Unexpected(what));
        };
        if fault.0 == SILENT {
            return Err(Trouble::FellSilent);
        }
        if fault.0 == 0 && at != scan {
            return Err(Trouble::Unexpected("scans are counted"));
        }
        Ok(Verdict { scan: at, answer, permit, reset, on, fault })
    }
    /// The talk, for questions between scans.
    pub fn client(&mut self) -> &mut Client {
        self.client
    }
    /// Judges from here on as of a lift that runs.
    ///
    /// # Errors
    /// [`Trouble`].
    pub fn adopt(&mut self) -> Result<(), Trouble> {
        self.client.make(&Command::Adopt, "it is to judge a lift that runs")
    }
    /// Events of the log that were not asked for yet, and whether events before them had been dropped.
    ///
    /// # Errors
    /// [`Trouble`].
    pub fn events(&mut self) -> Result<(Vec<Event>, bool), Trouble> {
        let (what, mut all, mut dropped) = ("its log is read", Vec::new(), false);
        loop {
            let Answer::Log { next, first, events } = self.client.ask(Question::Log(self.told), what)? else {
                return Err(Trouble::Unexpected(what));
            };
            dropped |= first != self.told;
            self.told = first.wrapping_add(u32::try_from(events.len()).unwrap_or(0));
            all.extend(events.iter().copied());
            if events.is_empty() || self.told == next {
                return Ok((all, dropped));
            }
        }
    }
}
