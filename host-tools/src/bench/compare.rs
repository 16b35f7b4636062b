//! A run on a target, held scan by scan against the plain reading on the host.

use std::io::BufRead;

use firmware::Kind;
use logic_rules::image::Image;
use serde::Serialize;

use super::Trouble;
use super::client::Client;
use super::inputs::{show, still};
use super::session::{Session, Verdict};
use crate::lower::lower;
use crate::recording::read::{Reader, Starts, Step};
use crate::sample::Sample;
use crate::simulate::{Obeyed, Scenario, Simulator};
use crate::station::Station;
use crate::told::{Runner, Scanned, lead_in};

/// A scan of a run, and what the host's plain reading made of it.
#[derive(Debug)]
pub struct Ran<'r> {
    /// Its time on the clock of the run, microseconds.
    pub at_us: u64,
    /// The controller powers up with this scan.
    pub restarted: bool,
    /// What is read.
    pub sample: &'r Sample,
    /// What the host published.
    pub told: &'r Scanned,
    /// After this scan the rules begin to judge, as of a lift that runs.
    pub adopts: bool,
}

/// Takes a scan; false ends the run.
pub type Each<'e> = dyn FnMut(&Ran<'_>) -> Result<bool, Trouble> + 'e;

/// Is told after each scan how many there were, and may ask the target something.
pub type After<'a> = dyn FnMut(u32, &mut Client) -> Result<(), Trouble> + 'a;

/// Runs a scenario with the rules in the loop.
///
/// # Errors
/// What `each` says.
pub fn scenario(
    station: &Station,
    scenario: &Scenario,
    runner: &mut dyn Runner,
    each: &mut Each<'_>,
) -> Result<(), Trouble> {
    let mut simulator = Simulator::new(station, scenario, 1);
    runner.restart();
    let mut lead = if scenario.powers_up { 0 } else { lead_in(station) };
    let mut obey = None;
    while let Some(scan) = simulator.scan(obey.as_ref()) {
        if scan.restarted {
            runner.restart();
            lead = 0;
        }
        let told = runner.scan(&scan.sample);
        let (led, adopts) = (lead > 0, lead == 1);
        let (at_us, restarted, sample) = (scan.at_us, scan.restarted, &scan.sample);
        if !each(&Ran { at_us, restarted, sample, told, adopts })? {
            return Ok(());
        }
        obey = (!led).then(|| Obeyed::from(told));
        lead = lead.saturating_sub(1);
        if adopts {
            runner.adopt();
        }
    }
    Ok(())
}

/// Runs a recording.
///
/// # Errors
/// What `each` says, or [`Trouble::Recording`].
pub fn recording<R: BufRead>(
    station: &Station,
    reader: &mut Reader<'_, R>,
    runner: &mut dyn Runner,
    each: &mut Each<'_>,
) -> Result<(), Trouble> {
    runner.restart();
    let mut lead = if reader.top().starts == Starts::Running { lead_in(station) } else { 0 };
    let mut restarted = false;
    loop {
        match reader.advance().map_err(|fault| Trouble::Recording(fault.to_string()))? {
            Step::End => return Ok(()),
            Step::PowerUp => {
                runner.restart();
                (restarted, lead) = (true, 0);
            }
            Step::Scan { at_us } => {
                let sample = reader.sample();
                let told = runner.scan(sample);
                let adopts = lead == 1;
                if !each(&Ran { at_us, restarted, sample, told, adopts })? {
                    return Ok(());
                }
                (restarted, lead) = (false, lead.saturating_sub(1));
                if adopts {
                    runner.adopt();
                }
            }
        }
    }
}

/// Where a target parts from the host.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Parted {
    /// Scans since the beginning of the run, the first being 1.
    pub scan: u32,
    /// Its time on the clock of the run, microseconds.
    pub at_us: u64,
    /// `answer`, `permit`, `reset`, `outputs`, `first-out` or `fault`.
    pub what: &'static str,
    /// What the host says, in words.
    pub host: String,
    /// What the target says.
    pub target: String,
}

/// What came of a run.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Compared {
    /// Scans that were compared.
    pub scans: u32,
    /// Times that a stop began in one of them.
    pub stops: u32,
    /// Times that the controller was powered up.
    pub powered_up: u32,
    /// The first difference, which ends the run.
    pub parted: Option<Parted>,
}

/// Holds a target against the host.
#[derive(Debug)]
pub struct Comparison<'b> {
    station: &'b Station,
    bytes: &'b [u8],
    image: Image<'b>,
    by_severity: Vec<usize>,
}

/// The target of a run, as far as it came.
struct Run<'c> {
    session: Session<'c>,
    field: firmware::Sample,
    /// Scans since power-up, and the answer before.
    scans: u32,
    before: u8,
}

impl<'b> Comparison<'b> {
    /// Of a station with its image.
    ///
    /// # Errors
    /// [`Trouble::Image`] if the image does not open.
    pub fn new(station: &'b Station, bytes: &'b [u8]) -> Result<Self, Trouble> {
        let image =
            Image::open(bytes).map_err(|fault| Trouble::Image(format!("the image does not open: {fault:?}")))?;
        Ok(Self { station, bytes, image, by_severity: lower(station).by_severity })
    }
    /// Runs `drive` on the host and, scan by scan, on the target; `after` is called after each scan.
    ///
    /// # Errors
    /// [`Trouble`]; then nothing is said of the target.
    pub fn run(
        &self,
        client: &mut Client,
        after: &mut After<'_>,
        drive: impl FnOnce(&mut Each<'_>) -> Result<(), Trouble>,
    ) -> Result<Compared, Trouble> {
        let mut done = Compared { scans: 0, stops: 0, powered_up: 0, parted: None };
        let mut run = self.power_up(client)?;
        drive(&mut |ran| {
            if ran.restarted && done.scans > 0 {
                let Run { session, .. } = &mut run;
                session.power_up(self.bytes, self.image.checksum())?;
                (run.field, run.scans, run.before) = (still(&self.image)?, 0, 0);
            }
            done.powered_up += u32::from(run.scans == 0);
            done.scans += 1;
            done.parted = self.scan(&mut run, ran)?.map(|(what, host, target)| Parted {
                scan: done.scans,
                at_us: ran.at_us,
                what,
                host,
                target,
            });
            let first = self.station.first_stop();
            done.stops += u32::from(ran.told.answer >= first && run.before < first);
            run.before = ran.told.answer;
            after(done.scans, run.session.client())?;
            Ok(done.parted.is_none())
        })?;
        Ok(done)
    }
    fn power_up<'c>(&self, client: &'c mut Client) -> Result<Run<'c>, Trouble> {
        let session = Session::begin(client, self.bytes, self.image.checksum())?;
        Ok(Run { session, field: still(&self.image)?, scans: 0, before: 0 })
    }
    /// One scan; gives what is not the same, in the words of both.
    fn scan(&self, run: &mut Run<'_>, ran: &Ran<'_>) -> Result<Option<(&'static str, String, String)>, Trouble> {
        show(&mut run.field, self.station, &self.image, ran.sample)?;
        run.scans += 1;
        let verdict = run.session.step(&run.field, run.scans)?;
        if let Some(parted) = self.differs(ran.told, &verdict) {
            return Ok(Some(parted));
        }
        // What was first is told in the log, in the scan in which a stop begins.
        let first_stop = self.station.first_stop();
        if verdict.answer >= first_stop && run.before < first_stop {
            let (events, _) = run.session.events()?;
            let of_scan = events.iter().filter(|event| event.scan == run.scans && event.kind == Kind::First);
            let mut first: Vec<u16> = of_scan.filter_map(|event| self.way(event.number)).collect();
            first.sort_unstable();
            if first != ran.told.first {
                return Ok(Some(("first-out", self.ways(&ran.told.first), self.ways(&first))));
            }
        }
        if ran.adopts {
            run.session.adopt()?;
        }
        Ok(None)
    }
    fn differs(&self, told: &Scanned, verdict: &Verdict) -> Option<(&'static str, String, String)> {
        if verdict.fault.0 != 0 {
            let (code, detail) = verdict.fault;
            return Some(("fault", "none".to_owned(), format!("the target stopped itself, fault {code}, {detail}")));
        }
        let station = self.station;
        let off = |bits: u64| {
            let names = station.outputs.iter().enumerate().filter(|(i, _)| bits >> i & 1 == 1);
            let names: Vec<&str> = names.map(|(_, output)| output.name.text.as_str()).collect();
            if names.is_empty() { "none off".to_owned() } else { format!("{} off", names.join(" and ")) }
        };
        let yes = |is: bool| if is { "yes" } else { "no" }.to_owned();
        let mask =
            1_u64.checked_shl(u32::try_from(station.outputs.len()).unwrap_or(64)).map_or(u64::MAX, |bit| bit - 1);
        let (host_off, target_off) = (told.off & mask, u64::from(!verdict.on) & mask);
        if told.answer != verdict.answer {
            return Some(("answer", station.answer(told.answer).into(), station.answer(verdict.answer).into()));
        }
        if host_off != target_off {
            return Some(("outputs", off(host_off), off(target_off)));
        }
        if told.permit != verdict.permit {
            return Some(("permit", yes(told.permit), yes(verdict.permit)));
        }
        (told.reset != verdict.reset).then(|| ("reset", yes(told.reset), yes(verdict.reset)))
    }
    /// Number of a way in the common order, from that of the plan.
    fn way(&self, number: u16) -> Option<u16> {
        self.by_severity.get(usize::from(number)).and_then(|way| u16::try_from(*way).ok())
    }
    fn ways(&self, these: &[u16]) -> String {
        let all = crate::station::ways::ways(self.station);
        let named = these.iter().filter_map(|way| all.get(usize::from(*way)));
        let named: Vec<String> = named.map(|way| super::named(self.station, *way)).collect();
        if named.is_empty() { "none".to_owned() } else { named.join(", ") }
    }
}
