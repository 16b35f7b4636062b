//! Inputs that nothing watches or uses.

use crate::station::{Backing, InputKind, Station};
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
        used.extend(watch.kind.inputs());
    }
    if let Some(reset) = &station.reset {
        used.push(reset.key);
        used.extend(reset.when.inputs());
    }
    for refill in &station.refills {
        used.push(refill.key);
        used.extend(refill.when.inputs());
    }
    for bypass in &station.bypasses {
        used.extend([bypass.key, bypass.at_most.0]);
    }
    used
}
