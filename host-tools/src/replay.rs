//! Drives the rules over a recording and tells what happened, event by event.
//!
//! Events go to a sink as they happen; only sums are kept, so memory does not grow with the
//! recording. The rules themselves run behind [`Runner`].

use std::io;

use crate::recording::given::Span;
use crate::recording::read::{ReadFault, Reader, Scans, Starts, Step};
use crate::runner::with_runner;
use crate::sample::Sample;
use crate::station::Station;
use crate::station::ways::{Source, WayOf, ways};
use crate::stays::Room;
use crate::told::{Runner, Scanned, lead_in};

mod course;
pub mod event;
mod inputs;
mod limits;
mod overdue;
mod scene;
mod tally;
pub mod text;
mod untold;
mod words;

pub(crate) use limits::Limits;
pub use limits::in_words;
pub(crate) use words::cause;

#[cfg(test)]
mod tests;

pub use event::Event;
pub use tally::Summary;

use event::{Cause, What};
use scene::Scene;

/// Where events go.
pub trait Sink {
    /// Takes one event.
    fn event(&mut self, event: &Event) -> io::Result<()>;
    /// Takes one scan, after its events.
    ///
    /// # Errors
    /// If it cannot be written on.
    fn scan(&mut self, _: &Seen<'_>) -> io::Result<()> {
        Ok(())
    }
    /// Whether it looks at the samples of scans; else it may be told of several at once between which gauges moved.
    fn looks(&self) -> bool {
        true
    }
    /// Takes so many scans more, in which what was published is that of this one, and the sample too if it looks at that, each `scan_us`
    /// microseconds later.
    ///
    /// # Errors
    /// As [`Sink::scan`].
    fn again(&mut self, seen: &Seen<'_>, scans: u32, scan_us: u32) -> io::Result<()> {
        let mut at_us = seen.at_us;
        for _ in 0..scans {
            at_us = at_us.saturating_add(u64::from(scan_us));
            self.scan(&Seen { at_us, ..*seen })?;
        }
        Ok(())
    }
}

/// A scan of a replay.
#[derive(Debug, Clone, Copy)]
pub struct Seen<'s> {
    /// Its time on the recording's clock, microseconds.
    pub at_us: u64,
    /// What was read in it.
    pub sample: &'s Sample,
    /// What the rules published; nothing in the lead-in, in which nothing is judged.
    pub scanned: Option<&'s Scanned>,
    /// As in an event.
    pub counterfactual: bool,
}

impl<F: FnMut(&Event) -> io::Result<()>> Sink for F {
    fn event(&mut self, event: &Event) -> io::Result<()> {
        self(event)
    }
    fn looks(&self) -> bool {
        false
    }
}

/// Two sinks, of which each takes everything.
pub struct Both<'b>(
    /// The one.
    pub &'b mut dyn Sink,
    /// The other.
    pub &'b mut dyn Sink,
);

impl Sink for Both<'_> {
    fn event(&mut self, event: &Event) -> io::Result<()> {
        self.0.event(event)?;
        self.1.event(event)
    }
    fn scan(&mut self, seen: &Seen<'_>) -> io::Result<()> {
        self.0.scan(seen)?;
        self.1.scan(seen)
    }
    fn looks(&self) -> bool {
        self.0.looks() || self.1.looks()
    }
    fn again(&mut self, seen: &Seen<'_>, scans: u32, scan_us: u32) -> io::Result<()> {
        self.0.again(seen, scans, scan_us)?;
        self.1.again(seen, scans, scan_us)
    }
}

impl Sink for Span {
    fn event(&mut self, _: &Event) -> io::Result<()> {
        Ok(())
    }
    fn scan(&mut self, seen: &Seen<'_>) -> io::Result<()> {
        self.take(seen.at_us);
        Ok(())
    }
    fn looks(&self) -> bool {
        false
    }
    fn again(&mut self, _: &Seen<'_>, scans: u32, _: u32) -> io::Result<()> {
        Span::again(self, scans);
        Ok(())
    }
}

/// Why a replay ended before its recording.
#[derive(Debug)]
pub enum Broke {
    /// The recording cannot be read on.
    Read(ReadFault),
    /// The events cannot be written.
    Write(io::Error),
}

impl From<ReadFault> for Broke {
    fn from(fault: ReadFault) -> Self {
        Self::Read(fault)
    }
}

impl From<io::Error> for Broke {
    fn from(error: io::Error) -> Self {
        Self::Write(error)
    }
}

/// Replays a recording that lies in memory, from its top to its end.
///
/// # Errors
/// If it cannot be read, its events cannot be written, or the station is no plan.
pub fn replay_all(station: &Station, recording: &[u8], sink: &mut dyn Sink) -> io::Result<Summary> {
    let unread = |fault: ReadFault| io::Error::other(fault.to_string());
    let mut reader = Reader::open(recording, station).map_err(unread)?;
    with_runner(station, |runner| replay(station, &mut reader, runner, sink, &mut |_| {}))
        .map_err(|fault| io::Error::other(format!("the station is no plan: {fault:?}")))?
        .map_err(|broke| match broke {
            Broke::Read(fault) => unread(fault),
            Broke::Write(error) => error,
        })
}

/// Replays a recording to its end. `progress` is told the bytes read, now and then.
pub fn replay<R: Scans + ?Sized, U: Runner + ?Sized>(
    station: &Station,
    reader: &mut R,
    runner: &mut U,
    sink: &mut dyn Sink,
    progress: &mut dyn FnMut(u64),
) -> Result<Summary, Broke> {
    let mut scene = Scene::new(station, reader.top().stamps_us);
    let running = reader.top().starts == Starts::Running;
    let mut lead = if running { u64::from(lead_in(station)) } else { 0 };
    let mut starts = if running { "running" } else { "power-up" };
    let (mut begun, mut told, mut rooms) = (false, 0, Vec::new());
    runner.restart();
    loop {
        match reader.advance()? {
            Step::End => break,
            Step::PowerUp => {
                runner.restart();
                scene.restart(sink)?;
                // The controller's start is now known: there is nothing to lead in.
                lead = 0;
                scene.tell(What::PowerUp, sink)?;
            }
            Step::Gap { from_us, to_us } => {
                scene.gap(from_us, to_us, sink)?;
                runner.restart();
                // It goes on somewhere in the middle, as a recording of a running station begins.
                (lead, begun) = (u64::from(lead_in(station)), false);
                starts = "running";
            }
            Step::Recording => {
                scene.tell(What::Recording { name: reader.name().unwrap_or_default().to_owned() }, sink)?;
            }
            Step::Scan { at_us } => {
                let sample = reader.sample();
                scene.clock(at_us, sample);
                let scanned = runner.scan(sample);
                if lead > 0 {
                    lead -= 1;
                    scene.led_in();
                    sink.scan(&Seen { at_us, sample, scanned: None, counterfactual: false })?;
                    if lead == 0 {
                        runner.adopt();
                    }
                } else {
                    if !begun {
                        begun = true;
                        scene.tell(What::Begins { starts }, sink)?;
                    }
                    let adopt = scene.scan(scanned, sample, sink)?;
                    let counterfactual = scene.is_counterfactual();
                    sink.scan(&Seen { at_us, sample, scanned: Some(scanned), counterfactual })?;
                    let quiet = !adopt && scene.is_quiet(scanned);
                    if adopt {
                        runner.adopt();
                    }
                    if quiet {
                        again(at_us, reader, runner, &mut scene, sink, &mut rooms)?;
                    }
                }
                if scene.scans() >= told {
                    progress(reader.bytes());
                    told = scene.scans() + 4_096;
                }
            }
        }
    }
    progress(reader.bytes());
    if !begun {
        scene.cannot_tell("the recording is no longer than its lead-in: nothing was judged");
    }
    scene.counted(reader.counted());
    scene.unanswered("end", sink)?;
    Ok(scene.end())
}

/// Takes scans behind a quiet one that read and tell what it did, all at once; gauges may move in them as far as it comes to the same.
fn again<R: Scans + ?Sized, U: Runner + ?Sized>(
    at_us: u64,
    reader: &mut R,
    runner: &mut U,
    scene: &mut Scene<'_>,
    sink: &mut dyn Sink,
    rooms: &mut Vec<Room>,
) -> io::Result<()> {
    if !reader.repeats() {
        return Ok(());
    }
    let stays = runner.stays(rooms);
    let rooms = if sink.looks() { &[] } else { rooms.get(..reader.sample().gauges.len()).unwrap_or_default() };
    let scans = if stays.most(u32::MAX) == 0 { 0 } else { reader.pass(stays, rooms) };
    if scans == 0 {
        return Ok(());
    }
    let Some(scanned) = runner.again(scans, reader.sample()) else { return Ok(()) };
    scene.again(scans);
    let (scanned, counterfactual) = (Some(scanned), scene.is_counterfactual());
    sink.again(&Seen { at_us, sample: reader.sample(), scanned, counterfactual }, scans, scene.scan_us())
}

/// What can trip, by any of its ways, and the place among those of what each way belongs to.
pub(crate) fn tripped(station: &Station) -> (Vec<Cause>, Vec<usize>) {
    let (mut sources, mut causes, mut places) = (Vec::new(), Vec::new(), Vec::new());
    for way in ways(station) {
        let place = sources.iter().position(|source| *source == way.source).unwrap_or_else(|| {
            sources.push(way.source);
            causes.push(cause(station, way));
            sources.len() - 1
        });
        places.push(place);
    }
    (causes, places)
}

/// Ways of a station, and which of them is the power-up.
fn table(station: &Station) -> (Vec<WayOf>, Option<usize>) {
    let all = ways(station);
    let power_up = all.iter().position(|w| w.source == Source::PowerUp);
    (all, power_up)
}
