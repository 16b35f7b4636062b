//! The raw inputs: no settling, no faults of inputs, the first source of each pace alone.

use std::collections::BTreeMap;

use host_tools::sample::Health;
use host_tools::station::{InputKind, Pace, Station};

use super::super::bits::Bits;
use super::super::conditions::{Seen, View};
use super::Record;

/// What each scan shows; bypasses are those of the scan before, from the first judged scan on.
pub(super) fn views(station: &Station, records: &[Record], from: usize) -> Vec<View> {
    (0..records.len())
        .map(|scan| View {
            inputs: (0..station.inputs.len()).map(|input| seen(station, records, scan, input)).collect(),
            seen_off: station
                .outputs
                .iter()
                .map(|output| match output.read_back {
                    Some((channel, _)) => Bits::known(records[scan].sample.channels[channel]),
                    None => Bits::UNKNOWN,
                })
                .collect(),
            observed: BTreeMap::new(),
            active: (0..station.bypasses.len()).map(|i| scan > from && records[scan - 1].active[i]).collect(),
        })
        .collect()
}

fn seen(station: &Station, records: &[Record], scan: usize, input: usize) -> Seen {
    let now = &records[scan].sample;
    match &station.inputs[input].kind {
        InputKind::Contact(contact) => Seen { high: Bits::known(now.channels[contact.channel]), ..Seen::default() },
        InputKind::Pair(pair) => {
            let (a, b) = (now.channels[pair.channels[0]], now.channels[pair.channels[1]] != pair.opposed);
            Seen { high: Bits { may: a || b, must: a && b }, ..Seen::default() }
        }
        InputKind::Key(key) => {
            let a = now.channels[key.channels.0];
            let b = key.channels.1.map_or(a, |second| now.channels[second]);
            Seen { high: Bits { may: a || b, must: a && b }, ..Seen::default() }
        }
        InputKind::Detector(detector) => {
            let covered = now.channels[detector.channel];
            let rises = covered && scan > 0 && !records[scan - 1].sample.channels[detector.channel];
            Seen { high: Bits::known(covered), rises, ..Seen::default() }
        }
        InputKind::Gauge(gauge) => {
            let reading = now.gauges[gauge.terminal];
            let good = reading.health == Health::Good;
            Seen { steps: good.then_some(i64::from(reading.steps)), faulty: !good, ..Seen::default() }
        }
        InputKind::Pace(pace) => {
            let speed = speed(pace, pace.source, records, scan);
            let raw = i64::from(now.travel[pace.source]);
            let beyond = raw > i64::from(pace.top_scan) || pace.signed && -raw > i64::from(pace.top_scan);
            let over = beyond || speed.is_some_and(|speed| speed.abs() > i64::from(pace.top));
            Seen {
                travel: cut(pace, now.travel[pace.source]),
                speed,
                still: i64::from(pace.still),
                faulty: over,
                ..Seen::default()
            }
        }
        InputKind::Link(link) => {
            let silent = link.silent as usize;
            let none =
                scan >= silent && (scan - silent..=scan).all(|scan| !records[scan].sample.links[link.terminal].fresh);
            Seen { faulty: none, ..Seen::default() }
        }
    }
}

/// What a source of a pace has run, net, in the last whole span; spans start with the first scan.
pub(super) fn speed(pace: &Pace, source: usize, records: &[Record], scan: usize) -> Option<i64> {
    let travel = |scan: usize| cut(pace, records[scan].sample.travel[source]);
    let span = pace.span as usize;
    let whole = (scan + 1) / span;
    (whole > 0).then(|| ((whole - 1) * span..whole * span).map(travel).sum())
}

fn cut(pace: &Pace, raw: i32) -> i64 {
    let top = i64::from(pace.top_scan);
    i64::from(raw).clamp(if pace.signed { -top } else { 0 }, top)
}
