//! Inputs that nothing watches or uses.

use crate::station::{Backing, Condition, Every, InputKind, Measured, Station, WatchKind, When};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    let used = used(station);
    for (at, input) in station.inputs.iter().enumerate() {
        if used.contains(&at) {
            continue;
        }
        found.push(
            Finding::new(Code::InputUnused, format!("nothing watches or uses '{}'", input.name.text))
                .at(input.name.place, "declared here")
                .help("add a watch that needs it, or take it out"),
        );
    }
}

/// Inputs that a rule, another input or an answer reads. Requirements, assumptions and the lane
/// speak of inputs, but nothing happens by them.
fn used(station: &Station) -> Vec<usize> {
    let mut used = Vec::new();
    for (at, input) in station.inputs.iter().enumerate() {
        match &input.kind {
            InputKind::Detector(d) => {
                used.extend(d.covered_at_most.map(|(pace, _)| pace));
                if let Some((pace, _)) = d.rises_every {
                    used.extend([pace, at]);
                }
            }
            InputKind::Gauge(g) => {
                if let Some((detector, _, _)) = g.rests {
                    used.extend([detector, at]);
                }
            }
            InputKind::Pace(p) => {
                if let Backing::Running(contact) = p.backing {
                    used.push(contact);
                }
            }
            InputKind::Link(_) => used.push(at),
            InputKind::Contact(_) | InputKind::Pair(_) | InputKind::Key(_) => {}
        }
    }
    for mode in &station.modes {
        used.push(mode.key);
        used.extend(mode.at_most.map(|(pace, _)| pace));
    }
    used.extend(station.slows.iter().map(|slow| slow.pace));
    used.extend(station.stops.iter().filter_map(|stop| stop.then.as_ref()).map(|then| then.pace));
    for watch in &station.watches {
        of_watch(&watch.kind, &mut used);
    }
    if let Some(reset) = &station.reset {
        used.push(reset.key);
        read_by(&reset.when, &mut used);
    }
    for refill in &station.refills {
        used.push(refill.key);
        read_by(&refill.when, &mut used);
    }
    for bypass in &station.bypasses {
        used.extend([bypass.key, bypass.at_most.0]);
    }
    used
}

fn of_watch(kind: &WatchKind, used: &mut Vec<usize>) {
    match kind {
        WatchKind::Guard(g) => read_by(&g.when, used),
        WatchKind::Travel(t) => used.extend([t.from, t.to, of_measure(t.measured)]),
        WatchKind::Measure(m) => {
            used.extend([m.detector, m.gauge]);
            if let When::Rope(pace, _) = m.when {
                used.push(pace);
            }
        }
        WatchKind::Spacing(s) => used.extend([s.detector, of_measure(s.measured)]),
        WatchKind::Agree(a) => used.extend(a.between),
        WatchKind::Confirm(c) => read_by(&c.see, used),
        WatchKind::Exercise(e) => {
            used.push(e.input);
            match e.every {
                Every::Carrier(detector) => used.push(detector),
                Every::Rope(pace, _) => used.push(pace),
                Every::Scans(_) => {}
            }
        }
        WatchKind::Count(c) => {
            used.extend([c.enter, c.leave]);
            read_by(&c.when, used);
        }
    }
}

fn of_measure(measured: Measured) -> usize {
    match measured {
        Measured::Rope(pace) | Measured::Time { pace, .. } => pace,
    }
}

/// Inputs that a condition reads.
pub(crate) fn read_by(condition: &Condition, used: &mut Vec<usize>) {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => {
            for part in parts {
                read_by(part, used);
            }
        }
        Condition::Not(inner) => read_by(inner, used),
        Condition::High(at)
        | Condition::AtLeast(at, _)
        | Condition::Faster(at, _)
        | Condition::Back(at, _)
        | Condition::Faulty(at) => used.push(*at),
        Condition::SeenOff(_) | Condition::Bypassed(_) => {}
    }
}
