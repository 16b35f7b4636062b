//! Runs a row on the target, and on the host beside it.

use firmware::link::SCANS;
use firmware::{Frames, Kind, Sample as Field};
use logic_rules::image::Image;

use super::calm::Calm;
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
}

/// A script that was run.
struct Pass {
    /// What the target published; a fault ends it.
    verdicts: Vec<Verdict>,
    /// Scans in which the target's log tells of the way, counted from 0.
    trips: Vec<u32>,
    /// What the host published.
    host: Vec<OnHost>,
}

/// A scan on the host.
struct OnHost {
    answer: Rank,
    /// Outputs that are off.
    off: u64,
    /// The way trips.
    trips: bool,
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
        script: &Script,
        row: Row,
    ) -> std::result::Result<Row, Trouble> {
        // Read-backs follow the outputs of the target. They are first taken to be those of the host; where they are not, the
        // row is run again, and follows the target so far.
        let mut followed = Vec::new();
        loop {
            let pass = self.pass(client, runner, trial, script, &followed)?;
            let mut outputs = pass.host.iter().zip(&pass.verdicts);
            let other = outputs.position(|(host, verdict)| verdict.fault.0 == 0 && host.shown != self.off(verdict.on));
            let Some(scan) = other else { return Ok(self.judged(trial, script, &pass, row)) };
            followed = pass.verdicts.iter().take(scan + 1).map(|verdict| self.off(verdict.on)).collect();
        }
    }
    /// Runs a script, whose read-backs follow these outputs that are off, and the host's where they end.
    fn pass(
        &mut self,
        client: &mut Client,
        runner: &mut dyn Runner,
        trial: &Trial,
        script: &Script,
        followed: &[u64],
    ) -> std::result::Result<Pass, Trouble> {
        let mut shown = self.begin()?;
        let way = u16::try_from(trial.way).unwrap_or(u16::MAX);
        let (mut off, mut fields) = (u64::MAX, Vec::new());
        let mut pass = Pass { verdicts: Vec::new(), trips: Vec::new(), host: Vec::new() };
        runner.restart();
        for ((scan, mm), i) in (0_u32..).zip(&script.travel).zip(0..) {
            self.show(&mut shown, script, scan, *mm, off);
            fields.push(shown.field.clone());
            let told = runner.scan(&shown.sample);
            let trips = told.trips.contains(&way) || (script.adopts.is_none() && told.first.contains(&way));
            let told_off = self.off_of(told.off);
            off = followed.get(i).copied().unwrap_or(told_off);
            pass.host.push(OnHost { answer: told.answer, off: told_off, trips, shown: off });
            if script.adopts == Some(scan + 1) {
                runner.adopt();
                // From now on all outputs count as published on.
                off = 0;
            }
        }
        let mut session = Session::begin(client, &self.image, self.bytes)?;
        let lead = script.adopts.and_then(|adopts| usize::try_from(adopts).ok()).unwrap_or(0);
        let (before, after) = fields.split_at(lead.min(fields.len()));
        for (fields, adopts) in [(before, lead > 0), (after, false)] {
            // What so many scans tell fits the log.
            for fields in fields.chunks(SCANS) {
                let verdicts = session.run(fields)?;
                self.scans += u64::try_from(verdicts.len()).unwrap_or(0);
                for verdict in &verdicts {
                    self.times.add(verdict.took_us);
                }
                let stopped = verdicts.iter().any(|verdict| verdict.fault.0 != 0);
                pass.verdicts.extend(verdicts);
                let of_way = |number: u16| self.by_severity.get(usize::from(number)) == Some(&trial.way);
                // At power-up the way that stands is among the first, and trips in no scan.
                let these = |kind| kind == Kind::Trip || (kind == Kind::First && script.adopts.is_none());
                let events = session.events()?;
                let these = events.iter().filter(|event| these(event.kind) && of_way(event.number));
                pass.trips.extend(these.map(|event| event.scan.saturating_sub(1)));
                if stopped {
                    return Ok(pass);
                }
            }
            if adopts {
                session.adopt()?;
            }
        }
        Ok(pass)
    }
    /// What a pass says of the way.
    fn judged(&self, trial: &Trial, script: &Script, pass: &Pass, mut row: Row) -> Row {
        row.result = Result::Failed;
        let faulty = (0_u32..).zip(&pass.verdicts).find(|(_, verdict)| verdict.fault.0 != 0);
        if let Some((scan, Verdict { fault: (code, detail), .. })) = faulty {
            row.observed = format!("the target stopped itself in scan {scan}: fault {code}, {detail}");
            return row;
        }
        let at = |scan: u32| usize::try_from(scan).ok().and_then(|i| pass.verdicts.get(i));
        if let Some(verdict) = script.adopts.and_then(|adopts| at(adopts + 1))
            && verdict.answer >= self.station.first_stop()
        {
            row.observed = format!("{} stands before the stimulus", self.station.answer(verdict.answer));
            return row;
        }
        let of_stimulus = |scan: u32| i64::from(scan) - i64::from(trial.mark) + 1;
        let first = pass.trips.iter().copied().find(|scan| *scan >= trial.mark);
        row.response_scans = first.map(|scan| scan - trial.mark + 1);
        let both = || (0_u32..).zip(pass.host.iter().zip(&pass.verdicts));
        let parts =
            both().find(|(_, (host, verdict))| host.answer != verdict.answer || host.off != self.off(verdict.on));
        let on_host = both().find(|(scan, (host, _))| *scan >= trial.mark && host.trips).map(|(scan, _)| scan);
        row.host = match (parts, on_host) {
            (Some((scan, (host, verdict))), _) => format!(
                "parts in scan {} of the stimulus: {} on the host, {} on the target",
                of_stimulus(scan),
                self.station.answer(host.answer),
                self.station.answer(verdict.answer)
            ),
            (None, on_host) if on_host == first => "same".to_owned(),
            (None, Some(scan)) => format!("it trips in scan {} of the stimulus on the host", of_stimulus(scan)),
            (None, None) => "it does not trip on the host".to_owned(),
        };
        let acted = first.is_none_or(|scan| self.acted(trial, at(scan)));
        if first == trial.trips && acted {
            row.result = Result::Passed;
        }
        row.observed = match first {
            None => "no trip of it".to_owned(),
            Some(scan) if acted => format!("{}, in scan {} of the stimulus", row.answer, of_stimulus(scan)),
            Some(scan) => {
                format!("it trips in scan {} of the stimulus, and its answer does not stand", of_stimulus(scan))
            }
        };
        row
    }
    /// The answer stands, or one more severe, and what a stop releases at once is off.
    fn acted(&self, trial: &Trial, verdict: Option<&Verdict>) -> bool {
        let (Some(way), Some(Verdict { answer, on, .. })) = (self.ways.get(trial.way), verdict) else { return false };
        let stop =
            way.answer.checked_sub(self.station.first_stop()).and_then(|i| self.station.stops.get(usize::from(i)));
        let releases = stop.map(|stop| stop.releases.as_slice()).unwrap_or_default();
        *answer >= way.answer && releases.iter().all(|output| on >> output & 1 == 0)
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
