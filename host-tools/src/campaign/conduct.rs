//! Runs a row on the target, and on the host beside it.

use std::rc::Rc;

use firmware::link::SCANS;
use firmware::{Frames, Kind, Sample as Field};
use logic_rules::image::Image;

use super::calm::Calm;
use super::event::Event;
use super::rows::Trial;
use super::script::{Act, Script};
use super::{Result, Row};
use crate::bench::Trouble;
use crate::bench::client::Client;
use crate::bench::identify::Marks;
use crate::bench::inputs::still;
use crate::bench::session::{Session, Verdict};
use crate::bench::took::{Times, Took};
use crate::lower::lower;
use crate::sample::{Frame, Reading, Sample};
use crate::scale::scale;
use crate::station::ways::WayOf;
use crate::station::{InputKind, Rank, Station};
use crate::told::Runner;

/// Everything that rows share.
#[derive(Debug)]
pub(super) struct Conduct<'s> {
    station: &'s Station,
    bytes: &'s [u8],
    image: Image<'s>,
    ways: &'s [WayOf],
    by_severity: Vec<usize>,
    calm: Calm<'s>,
    scans: u64,
    times: Times,
    /// The last script, and what came of it: the next row may be another part of it.
    last: Option<(Rc<Script>, Pass)>,
}

/// A script that was run.
#[derive(Debug, Default)]
struct Pass {
    /// What the target published; a fault ends it.
    verdicts: Vec<Verdict>,
    /// Ways that the target's log tells of, each with its scan, counted from 0.
    trips: Vec<(u32, usize)>,
    /// What the host published.
    host: Vec<OnHost>,
}

/// A scan on the host.
#[derive(Debug)]
struct OnHost {
    answer: Rank,
    permit: bool,
    reset: bool,
    /// Outputs that are off.
    off: u64,
    /// Ways that trip.
    trips: Vec<u16>,
    /// Outputs that are off as the read-backs of the next scan show it.
    shown: u64,
}

/// The field of a row, as it is.
struct Shown {
    field: Field,
    sample: Sample,
    links: Vec<Option<u8>>,
    forced: Vec<Option<bool>>,
}

impl<'s> Conduct<'s> {
    pub(super) fn new(station: &'s Station, bytes: &'s [u8], ways: &'s [WayOf]) -> std::result::Result<Self, Trouble> {
        let image =
            Image::open(bytes).map_err(|fault| Trouble::Image(format!("the image does not open: {fault:?}")))?;
        let by_severity = lower(station).by_severity;
        Ok(Self {
            station,
            bytes,
            image,
            ways,
            by_severity,
            calm: Calm::new(station),
            scans: 0,
            times: Times::default(),
            last: None,
        })
    }
    pub(super) fn marks(&self) -> Marks {
        Marks::of(&self.image)
    }
    pub(super) fn scans(&self) -> u64 {
        self.scans
    }
    pub(super) fn took(&self) -> Took {
        self.times.took()
    }
    /// Runs a row.
    pub(super) fn row(
        &mut self,
        client: &mut Client,
        runner: &mut dyn Runner,
        trial: &Trial,
        script: &Rc<Script>,
        row: Row,
    ) -> std::result::Result<Row, Trouble> {
        let pass = match self.last.take() {
            Some((of, pass)) if Rc::ptr_eq(&of, script) => pass,
            _ => self.passed(client, runner, script)?,
        };
        let row = self.judged(trial, script, &pass, row);
        self.last = Some((Rc::clone(script), pass));
        Ok(row)
    }
    /// Runs a script until its read-backs follow the outputs of the target. They are first taken to be those of the host;
    /// where they are not, the script is run again with those that the target came to, which are its own one scan longer, at least.
    fn passed(
        &mut self,
        client: &mut Client,
        runner: &mut dyn Runner,
        script: &Script,
    ) -> std::result::Result<Pass, Trouble> {
        let mut followed = Vec::new();
        loop {
            let pass = self.pass(client, runner, script, &followed)?;
            let mut outputs = pass.host.iter().zip(&pass.verdicts);
            if outputs.all(|(host, verdict)| verdict.fault.0 != 0 || host.shown == self.off(verdict.on)) {
                return Ok(pass);
            }
            followed = pass.verdicts.iter().map(|verdict| self.off(verdict.on)).collect();
        }
    }
    /// Runs a script, whose read-backs follow these outputs that are off, and the host's where they end.
    fn pass(
        &mut self,
        client: &mut Client,
        runner: &mut dyn Runner,
        script: &Script,
        followed: &[u64],
    ) -> std::result::Result<Pass, Trouble> {
        let (mut shown, mut off) = (self.begin()?, u64::MAX);
        let (mut pass, mut fields) = (Pass::default(), Vec::new());
        let powers_up = script.adopts.is_empty();
        runner.restart();
        let mut session = Session::begin(client, &self.image, self.bytes)?;
        for ((scan, mm), i) in (0_u32..).zip(&script.travel).zip(0..) {
            let adopts = script.adopts.contains(&scan);
            // What so many scans tell fits the log.
            if (adopts || fields.len() == SCANS) && !self.take(&mut session, &mut fields, powers_up, &mut pass)? {
                return Ok(pass);
            }
            if adopts {
                runner.adopt();
                session.adopt()?;
                // From now on all outputs count as published on.
                off = 0;
            }
            self.show(&mut shown, script, scan, *mm, off);
            fields.push(shown.field.clone());
            let told = runner.scan(&shown.sample);
            // At power-up the way that stands is among the first, and trips in no scan.
            let mut trips = told.trips.clone();
            trips.extend(told.first.iter().filter(|_| powers_up));
            let (answer, permit, reset, told_off) = (told.answer, told.permit, told.reset, self.off_of(told.off));
            off = followed.get(i).copied().unwrap_or(told_off);
            pass.host.push(OnHost { answer, permit, reset, off: told_off, trips, shown: off });
        }
        self.take(&mut session, &mut fields, powers_up, &mut pass)?;
        Ok(pass)
    }
    /// Takes the scans that wait on the target; false if a fault ended them.
    fn take(
        &mut self,
        session: &mut Session<'_>,
        fields: &mut Vec<Field>,
        powers_up: bool,
        pass: &mut Pass,
    ) -> std::result::Result<bool, Trouble> {
        let verdicts = session.run(fields)?;
        fields.clear();
        self.scans += u64::try_from(verdicts.len()).unwrap_or(0);
        for verdict in &verdicts {
            self.times.add(verdict.took_us);
        }
        let runs = verdicts.iter().all(|verdict| verdict.fault.0 == 0);
        pass.verdicts.extend(verdicts);
        for event in session.events()? {
            if (event.kind == Kind::Trip || (event.kind == Kind::First && powers_up))
                && let Some(way) = self.by_severity.get(usize::from(event.number))
            {
                pass.trips.push((event.scan.saturating_sub(1), *way));
            }
        }
        Ok(runs)
    }
    /// What a pass says of a row.
    fn judged(&self, trial: &Trial, script: &Script, pass: &Pass, mut row: Row) -> Row {
        row.result = Result::Failed;
        // A row begins with the lift that it finds, and ends before the next one.
        let begins = script.adopts.iter().rfind(|adopts| **adopts <= trial.mark).copied();
        let both = || {
            let of_row = begins.unwrap_or(0)..trial.until;
            (0_u32..).zip(pass.host.iter().zip(&pass.verdicts)).filter(move |(scan, _)| of_row.contains(scan))
        };
        // Nothing was taken after it.
        let faulty = (0_u32..trial.until).zip(&pass.verdicts).find(|(_, verdict)| verdict.fault.0 != 0);
        if let Some((scan, Verdict { fault: (code, detail), .. })) = faulty {
            row.observed = format!("the target stopped itself in scan {scan}: fault {code}, {detail}");
            return row;
        }
        let at = |scan: u32| usize::try_from(scan).ok().and_then(|i| pass.verdicts.get(i));
        if let Some(verdict) = begins.and_then(|begins| at(begins + 1))
            && verdict.answer >= self.station.first_stop()
        {
            row.observed = format!("{} stands before the stimulus", self.station.answer(verdict.answer));
            return row;
        }
        let of_stimulus = |scan: u32| i64::from(scan) - i64::from(trial.mark) + 1;
        let waited = || both().filter(|(scan, _)| *scan >= trial.mark);
        let first = match trial.event {
            Event::Trips(way) => {
                let here = |scan: u32| (trial.mark..trial.until).contains(&scan);
                pass.trips.iter().find(|(scan, of)| here(*scan) && *of == way).map(|(scan, _)| *scan)
            }
            event => waited().find(|(_, (_, verdict))| self.on_target(event, verdict)).map(|(scan, _)| scan),
        };
        row.response_scans = first.map(|scan| scan - trial.mark + 1);
        let parts =
            both().find(|(_, (host, verdict))| host.answer != verdict.answer || host.off != self.off(verdict.on));
        let on_host = waited().find(|(_, (host, _))| Self::on_host(trial.event, host)).map(|(scan, _)| scan);
        row.host = match (parts, on_host) {
            (Some((scan, (host, verdict))), _) => format!(
                "parts in scan {} of the stimulus: {} on the host, {} on the target",
                of_stimulus(scan),
                self.station.answer(host.answer),
                self.station.answer(verdict.answer)
            ),
            (None, on_host) if on_host == first => "same".to_owned(),
            (None, Some(scan)) => format!("it comes in scan {} of the stimulus on the host", of_stimulus(scan)),
            (None, None) => "it does not come on the host".to_owned(),
        };
        let acted = match first {
            Some(scan) => self.acted(trial.event, at(scan), at(scan + 1)),
            // What is not reset still stands.
            None => trial.event != Event::Resets || self.stops(at(trial.until.saturating_sub(1))),
        };
        if first == trial.at && acted {
            row.result = Result::Passed;
        }
        row.observed = match first {
            None if acted => trial.event.none().to_owned(),
            None => format!("{}, and no stop stands either", trial.event.none()),
            Some(scan) if acted => format!("{}, in scan {} of the stimulus", row.answer, of_stimulus(scan)),
            Some(scan) => {
                format!("it comes in scan {} of the stimulus, and {}", of_stimulus(scan), trial.event.alone())
            }
        };
        row
    }
    /// Whether something has come on the target; its log tells of ways.
    fn on_target(&self, event: Event, verdict: &Verdict) -> bool {
        match event {
            Event::Trips(_) => false,
            Event::Resets => verdict.reset,
            Event::Permits => verdict.permit,
            Event::Off(output) => self.off(verdict.on) >> output & 1 == 1,
            Event::On(output) => self.off(verdict.on) >> output & 1 == 0,
        }
    }
    /// Whether something has come on the host.
    fn on_host(event: Event, host: &OnHost) -> bool {
        match event {
            Event::Trips(way) => u16::try_from(way).is_ok_and(|way| host.trips.contains(&way)),
            Event::Resets => host.reset,
            Event::Permits => host.permit,
            Event::Off(output) => host.off >> output & 1 == 1,
            Event::On(output) => host.off >> output & 1 == 0,
        }
    }
    /// A stop stands, or nobody knows.
    fn stops(&self, verdict: Option<&Verdict>) -> bool {
        verdict.is_none_or(|verdict| verdict.answer >= self.station.first_stop())
    }
    /// What belongs to it: the answer of a way stands, or one more severe, and what a stop releases at once is off; a reset leaves no
    /// stop in the scan behind it, and a start is permitted without one.
    fn acted(&self, event: Event, verdict: Option<&Verdict>, next: Option<&Verdict>) -> bool {
        match event {
            Event::Trips(way) => {
                let (Some(way), Some(Verdict { answer, on, .. })) = (self.ways.get(way), verdict) else { return false };
                let stop = way.answer.checked_sub(self.station.first_stop());
                let stop = stop.and_then(|i| self.station.stops.get(usize::from(i)));
                let releases = stop.map(|stop| stop.releases.as_slice()).unwrap_or_default();
                *answer >= way.answer && releases.iter().all(|output| on >> output & 1 == 0)
            }
            Event::Resets => !self.stops(next),
            Event::Permits => !self.stops(verdict),
            Event::Off(_) | Event::On(_) => true,
        }
    }
    fn off(&self, on: u32) -> u64 {
        self.off_of(u64::from(!on))
    }
    fn off_of(&self, off: u64) -> u64 {
        let count = u32::try_from(self.station.outputs.len()).unwrap_or(64);
        off & 1_u64.checked_shl(count).map_or(u64::MAX, |bit| bit - 1)
    }
    fn begin(&self) -> std::result::Result<Shown, Trouble> {
        let mut field = still(&self.image)?;
        for (cell, level) in field.channels.iter_mut().zip(&self.calm.channels) {
            *cell = *level;
        }
        for input in &self.station.inputs {
            let InputKind::Gauge(gauge) = &input.kind else { continue };
            let steps = self.calm.steps.get(gauge.terminal).copied().unwrap_or(0);
            let current = Calm::current(gauge, steps)
                .ok_or_else(|| Trouble::Unshown(format!("no current of {} means {steps} steps", input.name.text)))?;
            if let Some(cell) = field.currents.get_mut(gauge.terminal) {
                *cell = current;
            }
        }
        let sample = Sample {
            channels: self.calm.channels.clone(),
            gauges: vec![Reading::default(); field.currents.len()],
            travel: vec![0; field.pulses.len()],
            links: vec![Frame::default(); field.links.len()],
        };
        let (links, forced) = (vec![Some(0); field.links.len()], vec![None; self.station.outputs.len()]);
        Ok(Shown { field, sample, links, forced })
    }
    /// The field of a scan, in the words of both.
    fn show(&self, shown: &mut Shown, script: &Script, scan: u32, mm: i32, off: u64) {
        for act in script.acts.get(&scan).into_iter().flatten() {
            match *act {
                Act::Level(channel, level) => put(&mut shown.field.channels, channel, level),
                Act::Current(gauge, current) => put(&mut shown.field.currents, gauge, current),
                Act::Link(link, order) => put(&mut shown.links, link, order),
                Act::ReadBack(output, level) => put(&mut shown.forced, output, level),
            }
        }
        for ((i, output), forced) in self.station.outputs.iter().enumerate().zip(&shown.forced) {
            if let Some((channel, _)) = output.read_back {
                put(&mut shown.field.channels, channel, forced.unwrap_or(off >> i & 1 == 1));
            }
        }
        for ((link, order), frame) in shown.field.links.iter_mut().zip(&shown.links).zip(&mut shown.sample.links) {
            *frame = Frame { fresh: order.is_some(), order: order.unwrap_or(0) };
            if let Some(order) = order {
                *link = Frames { good: link.good.wrapping_add(1), order: *order };
            }
        }
        let rows = self.image.wiring().pulses;
        for (((source, pulses), travel), row) in
            shown.field.pulses.iter_mut().enumerate().zip(&mut shown.sample.travel).zip(rows)
        {
            *travel = script.apart.get(&(scan, source)).copied().unwrap_or(mm);
            *pulses = pulses.wrapping_add_signed(*travel / i32::from_le_bytes(*row).max(1));
        }
        shown.sample.channels.clear();
        shown.sample.channels.extend(&shown.field.channels);
        for input in &self.station.inputs {
            let InputKind::Gauge(gauge) = &input.kind else { continue };
            if let Some(current) = shown.field.currents.get(gauge.terminal) {
                put(&mut shown.sample.gauges, gauge.terminal, scale(gauge, i64::from(*current)));
            }
        }
    }
}

fn put<T>(cells: &mut [T], at: usize, value: T) {
    if let Some(cell) = cells.get_mut(at) {
        *cell = value;
    }
}
