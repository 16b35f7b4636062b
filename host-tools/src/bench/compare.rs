//! A run on a target, held scan by scan against the plain reading on the host.

use std::io::BufRead;

use firmware::link::SCANS;
use firmware::{Event, Kind};
use logic_rules::image::Image;
use serde::Serialize;

use super::Trouble;
use super::client::Client;
use super::inputs::{show, still};
use super::session::{Session, Verdict};
use super::took::{Times, Took};
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

/// Is told now and then how many scans were compared.
pub type Progress<'p> = dyn FnMut(u32) + 'p;

/// Most scans that wait to be taken together: they go with some frames, and what they tell fits the target's log.
const TOGETHER: usize = SCANS;

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
            // Only recordings that were asked to go over gaps have them.
            Step::Gap { .. } => {
                runner.restart();
                (restarted, lead) = (true, lead_in(station));
            }
            Step::Recording => {}
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
    /// `answer`, `permit`, `reset`, `outputs`, `trips`, `first-out` or `fault`.
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
    /// How long scans took on the target.
    pub took: Took,
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
    /// Scans that the target still has to take, and what the host says of each, with its time.
    waiting: Vec<firmware::Sample>,
    expected: Vec<(u64, Scanned)>,
    /// What the host says of the scan before; nothing at power-up.
    before: Scanned,
    times: Times,
}

impl Run<'_> {
    /// Powered up, no scan taken.
    fn is_new(&self) -> bool {
        self.session.scans() == 0 && self.waiting.is_empty()
    }
}

/// What is not the same: what, and in the words of both.
type Apart = (&'static str, String, String);

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
    /// Runs `drive` on the host, and its scans on the target.
    ///
    /// # Errors
    /// [`Trouble`]; then nothing is said of the target.
    pub fn run(
        &self,
        client: &mut Client,
        progress: &mut Progress<'_>,
        drive: impl FnOnce(&mut Each<'_>) -> Result<(), Trouble>,
    ) -> Result<Compared, Trouble> {
        let mut done = Compared { scans: 0, stops: 0, powered_up: 0, took: Took::default(), parted: None };
        let mut run = Run {
            session: Session::begin(client, &self.image, self.bytes)?,
            field: still(&self.image)?,
            waiting: Vec::new(),
            expected: Vec::new(),
            before: Scanned::default(),
            times: Times::default(),
        };
        drive(&mut |ran| {
            if ran.restarted && !run.is_new() {
                if !self.settle(&mut run, &mut done)? {
                    return Ok(false);
                }
                run.session.power_up(&self.image, self.bytes)?;
                (run.field, run.before) = (still(&self.image)?, Scanned::default());
            }
            done.powered_up += u32::from(run.is_new());
            show(&mut run.field, self.station, &self.image, ran.sample)?;
            run.waiting.push(run.field.clone());
            run.expected.push((ran.at_us, ran.told.clone()));
            if run.waiting.len() < TOGETHER && !ran.adopts {
                return Ok(true);
            }
            let same = self.settle(&mut run, &mut done)?;
            progress(done.scans);
            if same && ran.adopts {
                run.session.adopt()?;
            }
            Ok(same)
        })?;
        self.settle(&mut run, &mut done)?;
        done.took = run.times.took();
        Ok(done)
    }
    /// Lets the target take the scans that wait, and compares; false once it has parted from the host.
    fn settle(&self, run: &mut Run<'_>, done: &mut Compared) -> Result<bool, Trouble> {
        let verdicts = run.session.run(&std::mem::take(&mut run.waiting))?;
        let events = run.session.events()?;
        for ((at_us, told), verdict) in std::mem::take(&mut run.expected).into_iter().zip(verdicts) {
            done.scans += 1;
            run.times.add(verdict.took_us);
            let stops = told.answer >= self.station.first_stop() && run.before.answer < self.station.first_stop();
            done.stops += u32::from(stops);
            let apart = self.differs(&told, &verdict).or_else(|| self.tells(&told, run, stops, verdict.scan, &events));
            run.before = told;
            if let Some((what, host, target)) = apart {
                done.parted = Some(Parted { scan: done.scans, at_us, what, host, target });
                return Ok(false);
            }
        }
        Ok(true)
    }
    /// What trips that did not in the scan before, and what was first where a stop begins: the log of the target tells it.
    fn tells(&self, told: &Scanned, run: &Run<'_>, stops: bool, scan: u32, events: &[Event]) -> Option<Apart> {
        let logged = |kind| {
            let of_kind = events.iter().filter(|event| event.scan == scan && event.kind == kind);
            let mut ways: Vec<u16> = of_kind.filter_map(|event| self.way(event.number)).collect();
            ways.sort_unstable();
            ways
        };
        let fresh = told.trips.iter().filter(|way| !run.before.trips.contains(way));
        let (fresh, trips) = (fresh.copied().collect::<Vec<u16>>(), logged(Kind::Trip));
        if fresh != trips {
            return Some(("trips", self.ways(&fresh), self.ways(&trips)));
        }
        let first = if stops { logged(Kind::First) } else { told.first.clone() };
        (first != told.first).then(|| ("first-out", self.ways(&told.first), self.ways(&first)))
    }
    fn differs(&self, told: &Scanned, verdict: &Verdict) -> Option<Apart> {
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
