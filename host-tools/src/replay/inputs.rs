//! Inputs as they were sampled, in words, and the speed of each pace.

use super::event::InputTold;
use super::limits::in_words;
use crate::sample::{Health, Sample};
use crate::station::{Input, InputId, InputKind, Pace, Station};

/// Speeds of the paces, as the station forms them: net travel of the last whole span.
#[derive(Debug)]
pub(super) struct Meters {
    all: Vec<Meter>,
}

#[derive(Debug)]
struct Meter {
    input: InputId,
    pace: Pace,
    last: i64,
    sum: i64,
    scans: u32,
    speed: Option<i64>,
}

impl Meters {
    pub(super) fn new(station: &Station) -> Self {
        let all = station.inputs.iter().enumerate().filter_map(|(input, i)| match &i.kind {
            InputKind::Pace(pace) => Some(Meter { input, pace: pace.clone(), last: 0, sum: 0, scans: 0, speed: None }),
            _ => None,
        });
        Self { all: all.collect() }
    }

    /// The controller restarts: spans begin with the next scan.
    pub(super) fn restart(&mut self) {
        for meter in &mut self.all {
            meter.sum = 0;
            meter.scans = 0;
            meter.speed = None;
        }
    }

    pub(super) fn scan(&mut self, sample: &Sample) {
        for meter in &mut self.all {
            let pace = &meter.pace;
            let top = i64::from(pace.top_scan);
            let travel = i64::from(sample.travel.get(pace.source).copied().unwrap_or(0));
            let travel = travel.clamp(if pace.signed { -top } else { 0 }, top);
            meter.last = travel;
            meter.sum += travel;
            meter.scans += 1;
            if meter.scans >= pace.span {
                meter.speed = Some(meter.sum);
                meter.sum = 0;
                meter.scans = 0;
            }
        }
    }

    /// So many scans that read what the last one did.
    pub(super) fn again(&mut self, scans: u32) {
        for meter in &mut self.all {
            let (span, travel) = (meter.pace.span.max(1), meter.last);
            let first = span.saturating_sub(meter.scans);
            let Some(behind) = scans.checked_sub(first) else {
                meter.scans += scans;
                meter.sum += travel * i64::from(scans);
                continue;
            };
            // The span that has begun ends as it goes on; whole ones behind it are all alike.
            let (whole, rest) = (behind / span, behind % span);
            meter.speed =
                Some(if whole > 0 { travel * i64::from(span) } else { meter.sum + travel * i64::from(first) });
            meter.scans = rest;
            meter.sum = travel * i64::from(rest);
        }
    }

    /// Does the station have a pace at all.
    pub(super) fn any(&self) -> bool {
        !self.all.is_empty()
    }

    /// The first pace is still; unknown before its first span has ended.
    pub(super) fn still(&self) -> Option<bool> {
        let meter = self.all.first()?;
        meter.speed.map(|net| net.abs() <= i64::from(meter.pace.still))
    }

    /// As long as nothing changes the first pace is not still, now or later.
    pub(super) fn moves_on(&self) -> bool {
        let Some(Meter { pace, last, sum, scans, .. }) = self.all.first() else { return true };
        let spans = [sum + last * i64::from(pace.span.saturating_sub(*scans)), last * i64::from(pace.span)];
        self.still() != Some(true) && spans.iter().all(|net| net.abs() > i64::from(pace.still))
    }

    /// Travel of the first pace in the last scan, mm.
    pub(super) fn travel(&self) -> i64 {
        self.all.first().map_or(0, |m| m.last)
    }

    /// Span of the first pace, microseconds.
    pub(super) fn span_us(&self, scan_us: u32) -> u64 {
        let span = self.all.first().map_or(0, |m| m.pace.span);
        u64::from(span) * u64::from(scan_us)
    }

    /// Speed of the first pace in mm/s, either way; its top speed while it is unknown.
    pub(super) fn speed(&self, scan_us: u32) -> u64 {
        self.all.first().map_or(0, |m| {
            let net = m.speed.map_or(u64::from(m.pace.top), i64::unsigned_abs);
            net * 1_000_000 / (u64::from(m.pace.span) * u64::from(scan_us)).max(1)
        })
    }

    fn of(&self, input: InputId) -> Option<i64> {
        self.all.iter().find(|m| m.input == input)?.speed
    }
}

/// Every input in words.
pub(super) fn told(
    station: &Station,
    sample: &Sample,
    meters: &Meters,
    concerned: &[InputId],
    unknown: &[u16],
) -> Vec<InputTold> {
    station
        .inputs
        .iter()
        .enumerate()
        .map(|(i, input)| InputTold {
            name: input.name.text.clone(),
            value: value(station, i, input, sample, meters),
            known: !unknown.iter().any(|u| usize::from(*u) == i),
            concerned: concerned.contains(&i),
        })
        .collect()
}

fn value(station: &Station, id: InputId, input: &Input, sample: &Sample, meters: &Meters) -> String {
    let high = |channel: usize| sample.channels.get(channel).copied().unwrap_or(false);
    let closed = |level| if level { "closed" } else { "open" };
    match &input.kind {
        InputKind::Contact(c) => closed(high(c.channel)).to_owned(),
        InputKind::Pair(p) => {
            let [a, b] = p.channels;
            let (a, b) = (high(a), high(b) != p.opposed);
            if a == b { closed(a).to_owned() } else { format!("{} and {}", closed(a), closed(b)) }
        }
        InputKind::Detector(d) => if high(d.channel) { "covered" } else { "clear" }.to_owned(),
        InputKind::Key(k) => {
            let (a, b) = (high(k.channels.0), k.channels.1.map(high));
            match (a, b.unwrap_or(a)) {
                (true, true) => "held",
                (false, false) => "free",
                _ => "half held",
            }
            .to_owned()
        }
        InputKind::Gauge(g) => {
            let reading = sample.gauges.get(g.terminal).copied().unwrap_or_default();
            match reading.health {
                Health::Good => {
                    let micro = (i64::from(reading.steps) + g.lowest) * g.step_micro;
                    in_words(micro, &g.unit)
                }
                Health::Doubtful => "not trustworthy".to_owned(),
                Health::Broken => "broken".to_owned(),
            }
        }
        InputKind::Pace(p) => meters.of(id).map_or_else(
            || "no speed yet".to_owned(),
            |net| {
                let span_us = i64::from(p.span) * i64::from(station.scan_us);
                in_words(net * 1_000_000_000 / span_us.max(1), "m/s")
            },
        ),
        InputKind::Link(l) => {
            let frame = sample.links.get(l.terminal).copied().unwrap_or_default();
            if frame.fresh {
                format!("orders {}", station.answer(frame.order))
            } else {
                "no frame in this scan".to_owned()
            }
        }
    }
}
