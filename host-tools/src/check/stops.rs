//! Stops, slow orders, modes, reset and restart.

use super::{pace, speed, time};
use crate::station::{Station, Stop, WatchKind};
use crate::text::codes::Code;
use crate::text::finding::Finding;

/// Shortest restart delay that passes without a word, in milliseconds.
const RESTART_MS: u64 = 10_000;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    for stop in &station.stops {
        category(station, stop, found);
    }
    if let Some(worst) = station.stops.last().filter(|stop| stop.category == 2) {
        let finding = Finding::new(
            Code::StopWorstCategory,
            format!("the most severe stop, '{}', is of category 2", worst.name.text),
        );
        found.push(
            finding.at(worst.name.place, "leaves the drive under power").help("put a stop of category 0 or 1 last"),
        );
    }
    caps(station, found);
    again(station, found);
}

fn category(station: &Station, stop: &Stop, found: &mut Vec<Finding>) {
    let name = &stop.name.text;
    let place = stop.name.place;
    if stop.category > 2 {
        let message = format!("stop '{name}' has category {}", stop.category);
        found.push(
            Finding::new(Code::StopCategoryUnknown, message)
                .at(place, "there are categories 0, 1 and 2")
                .help("write category 0 (power off at once), 1 (power off at standstill) or 2"),
        );
        return;
    }
    if stop.category == 2 && stop.for_emergencies {
        let message = format!("stop '{name}' answers emergencies, but is of category 2");
        found.push(
            Finding::new(Code::StopCategoryEmergency, message)
                .at(place, "keeps power on the drive")
                .help("answer emergencies with a stop of category 0 or 1"),
        );
    }
    if stop.category == 2 && stop.standstill.is_none() {
        let message = format!("stop '{name}' is of category 2, and no guard holds its standstill");
        found.push(
            Finding::new(Code::StandstillMissing, message)
                .at(place, "nothing notices if the rope starts to move again")
                .help("add 'standstill held by GUARD', a guard that sees the pace moving"),
        );
    }
    // Behind the most severe stop nothing stands; that is told by itself.
    let last = station.stops.last().is_some_and(|last| last.name == stop.name);
    if let Some(watch) = stop.standstill.filter(|_| !last).and_then(|at| station.watches.get(at)) {
        let own = station.stops.iter().position(|s| s.name == stop.name).unwrap_or(0);
        let own = usize::from(station.first_stop()) + own;
        let mild = match &watch.kind {
            WatchKind::Guard(guard) => usize::from(guard.answer) <= own,
            _ => true,
        };
        if mild {
            let message = format!("'{}' holds the standstill of '{name}' with nothing more severe", watch.name.text);
            found.push(
                Finding::new(Code::StandstillMild, message)
                    .at(watch.name.place, "answers no more than the stop that already stands")
                    .at(place, "this stop")
                    .help("let that guard answer with a more severe stop"),
            );
        }
    }
    if let Some(watch) = stop.standstill.and_then(|at| station.watches.get(at))
        && let WatchKind::Guard(guard) = &watch.kind
    {
        let why = if !guard.when.inputs().iter().any(|at| pace(station, *at).is_some()) {
            Some("looks at no pace")
        } else if watch.modes.is_empty() {
            None
        } else {
            Some("is off in some modes")
        };
        if let Some(why) = why {
            let message = format!(
                "stop '{name}' is of category {}, and '{}' does not hold its standstill",
                stop.category, watch.name.text
            );
            found.push(
                Finding::new(Code::StandstillMissing, message)
                    .at(watch.name.place, why)
                    .at(place, "this stop")
                    .help("name a guard that sees the pace moving, in every mode"),
            );
        }
    }
    if stop.category == 1 && stop.then.is_none() {
        let message = format!("stop '{name}' is of category 1, and nothing is released at standstill");
        found.push(
            Finding::new(Code::StopThenMissing, message)
                .at(place, "would leave the drive under power")
                .help("add 'then OUTPUT when PACE still, at the latest after T'"),
        );
    }
    if let (0, Some(then)) = (stop.category, &stop.then) {
        let late: Vec<&str> = then
            .outputs
            .iter()
            .filter_map(|at| station.outputs.get(*at))
            .map(|output| output.name.text.as_str())
            .collect();
        let message = format!("stop '{name}' is of category 0, but releases {} only at standstill", late.join(" and "));
        found.push(
            Finding::new(Code::StopThenNeedless, message)
                .at(place, "category 0 takes the power away at once")
                .help("make it category 1, or put every output under 'releases'"),
        );
    }
}

fn caps(station: &Station, found: &mut Vec<Finding>) {
    let slows = station.slows.iter().map(|s| ("slow order", &s.name, s.pace, s.down_to));
    let modes = station.modes.iter().filter_map(|m| m.at_most.map(|(p, mm)| ("mode", &m.name, p, mm)));
    let bypasses = station.bypasses.iter().map(|b| ("bypass", &b.name, b.at_most.0, b.at_most.1));
    for (what, name, at, mm) in slows.chain(modes).chain(bypasses) {
        let Some(pace) = pace(station, at).filter(|pace| mm >= pace.top) else {
            continue;
        };
        let message = format!(
            "{what} '{}' allows {}, and pace '{}' is never faster than {}",
            name.text,
            speed(station, pace, mm),
            super::named(station, at),
            speed(station, pace, pace.top)
        );
        found.push(
            Finding::new(Code::LimitAboveTop, message)
                .at(name.place, "its limit limits nothing")
                .help("state a speed below the pace's 'at most'"),
        );
    }
}

fn again(station: &Station, found: &mut Vec<Finding>) {
    let Some(worst) = station.stops.last() else {
        return;
    };
    if station.reset.is_none() {
        found.push(
            Finding::new(Code::ResetMissing, "there is no reset, so that no stop can ever be cleared")
                .at(worst.name.place, "stands from power-up on")
                .help("add 'reset by KEY pressed and let go, when CONDITION'"),
        );
    }
    if station.ms(station.restart) < RESTART_MS {
        let message = if station.restart == 0 {
            "there is no restart delay".to_owned()
        } else {
            format!("the restart delay is {}", time(station.ms(station.restart) * 1_000))
        };
        found.push(
            Finding::new(Code::RestartShort, message)
                .at(worst.name.place, "after this stop, as after any, at least 10 s are usual")
                .help("write 'restart no sooner than 10 s after a stop', or note why local rules allow less"),
        );
    }
}
