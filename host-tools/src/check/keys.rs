//! Keys that do two things at once, or undo what they do, and bypasses that never do anything.

use crate::station::{Condition, Station, WatchKind};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::Place;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    shared(station, found);
    unconfirmed(station, found);
    for bypass in &station.bypasses {
        for watch in bypass.of.iter().filter_map(|at| station.watches.get(*at)) {
            let never = !watch.modes.is_empty() && !watch.modes.iter().any(|mode| bypass.modes.contains(mode));
            if never {
                let message =
                    format!("bypass '{}' works in no mode in which '{}' does", bypass.name.text, watch.name.text);
                found.push(
                    Finding::new(Code::BypassIdle, message)
                        .at(bypass.name.place, "takes nothing away")
                        .at(watch.name.place, "off in every mode of the bypass")
                        .help("correct the modes, or take the watch out of the bypass"),
                );
            }
        }
    }
}

/// Counts that are confirmed by a press that makes them unknown.
fn unconfirmed(station: &Station, found: &mut Vec<Finding>) {
    for refill in &station.refills {
        for watch in refill.watches.iter().filter_map(|at| station.watches.get(*at)) {
            let WatchKind::Count(count) = &watch.kind else { continue };
            let held = Condition::High(refill.key);
            let confirms = match &count.when {
                Condition::All(parts) => parts.contains(&held),
                when => *when == held,
            };
            if confirms {
                let (key, name) = (super::named(station, refill.key), &watch.name.text);
                let message =
                    format!("the refill by '{key}' makes '{name}' unknown in the scan in which '{key}' confirms it");
                found.push(
                    Finding::new(Code::CountUnconfirmed, message)
                        .at(refill.place, "acts after the confirmation")
                        .at(watch.name.place, "this count")
                        .help(format!("take '{name}' out of the refill, or confirm it by another key")),
                );
            }
        }
    }
}

/// Modes, bypasses and the reset each need a key of their own. A refill may share the key of the reset: both
/// are asked for by the same person at the same time.
fn shared(station: &Station, found: &mut Vec<Finding>) {
    let mut uses: Vec<(usize, String, Option<Place>)> = Vec::new();
    uses.extend(station.reset.iter().map(|reset| (reset.key, "the reset".to_owned(), None)));
    uses.extend(
        station.modes.iter().map(|mode| (mode.key, format!("mode '{}'", mode.name.text), Some(mode.name.place))),
    );
    uses.extend(station.bypasses.iter().map(|b| (b.key, format!("bypass '{}'", b.name.text), Some(b.name.place))));
    for (at, (key, what, place)) in uses.iter().enumerate() {
        let Some((_, first, _)) = uses.iter().take(at).find(|(other, ..)| other == key) else { continue };
        // Two bypasses under one key are one bypass of more watches, which a reader can see.
        if first.starts_with("bypass") {
            continue;
        }
        let Some(name) = station.inputs.get(*key).map(|input| &input.name) else { continue };
        let mut finding = Finding::new(Code::KeyShared, format!("key '{}' serves {first} and {what}", name.text));
        if let Some(place) = place {
            finding = finding.at(*place, "takes this key as well");
        }
        found.push(finding.at(name.place, "this key").help("give each of them a key of its own"));
    }
}
