//! Guards that wait longer than what they wait for may last.

use super::{named, time};
use crate::station::{Condition, InputKind, Lasting, Settle, Station, WatchKind};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    let scan = u64::from(station.scan_us.max(1));
    for watch in &station.watches {
        let WatchKind::Guard(guard) = &watch.kind else { continue };
        let Lasting::Unbroken(hold) = guard.lasting else { continue };
        if hold == 0 {
            continue;
        }
        for (input, high) in alone(&guard.when) {
            let Some((us, settle)) = excursion(station, input, high) else { continue };
            // An excursion shows in this many samples at least; settling delays both of its ends.
            let (into, back) = if high { (settle.up, settle.down) } else { (settle.down, settle.up) };
            let lasts = (us / scan + u64::from(back)).saturating_sub(u64::from(into));
            if lasts <= u64::from(hold) {
                let name = named(station, input);
                let message = format!(
                    "'{}' waits for {}, and '{name}' may change for only {}",
                    watch.name.text,
                    time(u64::from(hold) * scan),
                    time(us)
                );
                found.push(
                    Finding::new(Code::HoldOutlastsPulse, message)
                        .at(watch.name.place, "lets the shortest change pass without a word")
                        .help("shorten the hold, or say why so short a change may pass"),
                );
            }
        }
    }
}

/// Levels each of which makes a condition hold by itself: the input, and whether it must be high.
fn alone(condition: &Condition) -> Vec<(usize, bool)> {
    match condition {
        Condition::Any(parts) => parts.iter().flat_map(alone).collect(),
        Condition::All(parts) => match parts.as_slice() {
            [only] => alone(only),
            _ => Vec::new(),
        },
        Condition::High(at) => vec![(*at, true)],
        Condition::Not(inner) => match inner.as_ref() {
            Condition::High(at) => vec![(*at, false)],
            Condition::Not(twice) => alone(twice),
            _ => Vec::new(),
        },
        _ => Vec::new(),
    }
}

/// The shortest excursion of an input to a level, and its settling; None if the level is its rest, or
/// nothing is said of it.
fn excursion(station: &Station, input: usize, high: bool) -> Option<(u64, Settle)> {
    match &station.inputs.get(input)?.kind {
        InputKind::Contact(c) if c.rests_closed != high => Some((u64::from(c.shortest_us?), c.settle)),
        InputKind::Pair(p) if p.rests_closed != high => Some((u64::from(p.shortest_us?), p.settle)),
        InputKind::Detector(d) if high => Some((u64::from(d.pulse_us), d.settle)),
        _ => None,
    }
}
