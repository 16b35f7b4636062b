//! Runs a row on the target, and on the host beside it.

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
use crate::bench::session::Session;
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
        Ok(Self { station, bytes, image, ways, by_severity, calm: Calm::new(station), scans: 0 })
    }
    pub(super) fn marks(&self) -> Marks {
        Marks::of(&self.image)
    }
    pub(super) fn scans(&self) -> u64 {
        self.scans
    }
    /// Runs a row.
    pub(super) fn row(
        &mut self,
        client: &mut Client,
        runner: &mut dyn Runner,
        trial: &Trial,
        script: &Script,
        mut row: Row,
    ) -> std::result::Result<Row, Trouble> {
        let mut session = Session::begin(client, self.bytes, self.image.checksum())?;
        runner.restart();
        let mut shown = self.begin()?;
        let (mut on, mut answer, mut trips) = (0, 0, Vec::new());
        let mut verdicts: Vec<(Rank, u32)> = Vec::new();
        let (mut parts, mut on_host) = (None, None);
        for (scan, mm) in (0_u32..).zip(&script.travel) {
            self.show(&mut shown, script, scan, *mm, on);
            let verdict = session.step(&shown.field, scan + 1)?;
            self.scans += 1;
            if verdict.fault.0 != 0 {
                let (code, detail) = verdict.fault;
                row.observed = format!("the target stopped itself in scan {scan}: fault {code}, {detail}");
                row.result = Result::Failed;
                return Ok(row);
            }
            let told = runner.scan(&shown.sample);
            if parts.is_none() && (told.answer != verdict.answer || self.off(verdict.on) != self.off_of(told.off)) {
                parts = Some((scan, told.answer, verdict.answer));
            }
            if script.adopts.is_some_and(|adopts| scan == adopts + 1) && verdict.answer >= self.station.first_stop() {
                row.observed = format!("{} stands before the stimulus", self.station.answer(verdict.answer));
                row.result = Result::Failed;
                return Ok(row);
            }
            let way = u16::try_from(trial.way).unwrap_or(u16::MAX);
            let of_host = told.trips.contains(&way) || (script.adopts.is_none() && told.first.contains(&way));
            if scan >= trial.mark && of_host && on_host.is_none() {
                on_host = Some(scan);
            }
            on = verdict.on;
            verdicts.push((verdict.answer, verdict.on));
            let last = scan + 1 == script.now();
            if scan + 1 == trial.mark {
                // What happened before the stimulus is not of this row.
                session.events()?;
            } else if scan >= trial.mark && (verdict.answer != answer || last || scan.is_multiple_of(64)) {
                let (events, dropped) = session.events()?;
                if dropped {
                    return Err(Trouble::Unexpected("its log is read: events have been dropped"));
                }
                let of_way = |number: u16| self.by_severity.get(usize::from(number)) == Some(&trial.way);
                // At power-up the way that stands is among the first, and trips in no scan.
                let these = |kind| kind == Kind::Trip || (kind == Kind::First && script.adopts.is_none());
                let these = events.iter().filter(|event| these(event.kind) && of_way(event.number));
                trips.extend(these.map(|event| event.scan.saturating_sub(1)));
            }
            answer = verdict.answer;
            if script.adopts == Some(scan + 1) {
                session.adopt()?;
                runner.adopt();
                // From now on all outputs count as published on.
                on = u32::MAX;
            }
        }
        let first = trips.into_iter().find(|scan| *scan >= trial.mark);
        row.response_scans = first.map(|scan| scan - trial.mark + 1);
        let of_stimulus = |scan: u32| i64::from(scan) - i64::from(trial.mark) + 1;
        row.host = match (parts, on_host) {
            (Some((scan, host, target)), _) => {
                let (at, host, target) = (of_stimulus(scan), self.station.answer(host), self.station.answer(target));
                format!("parts in scan {at} of the stimulus: {host} on the host, {target} on the target")
            }
            (None, on_host) if on_host == first => "same".to_owned(),
            (None, Some(scan)) => format!("it trips in scan {} of the stimulus on the host", of_stimulus(scan)),
            (None, None) => "it does not trip on the host".to_owned(),
        };
        let acted =
            first.is_none_or(|scan| self.acted(trial, usize::try_from(scan).ok().and_then(|i| verdicts.get(i))));
        row.result = if first == trial.trips && acted { Result::Passed } else { Result::Failed };
        row.observed = match first {
            None => "no trip of it".to_owned(),
            Some(scan) if acted => format!("{}, in scan {} of the stimulus", row.answer, scan - trial.mark + 1),
            Some(scan) => {
                format!("it trips in scan {} of the stimulus, and its answer does not stand", scan - trial.mark + 1)
            }
        };
        Ok(row)
    }
    /// The answer stands, or one more severe, and what a stop releases at once is off.
    fn acted(&self, trial: &Trial, verdict: Option<&(Rank, u32)>) -> bool {
        let (Some(way), Some((answer, on))) = (self.ways.get(trial.way), verdict) else { return false };
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
    fn show(&self, shown: &mut Shown, script: &Script, scan: u32, mm: i32, on: u32) {
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
                put(&mut shown.field.channels, channel, forced.unwrap_or(on >> i & 1 == 0));
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
