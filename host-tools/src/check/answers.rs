//! Outputs and answers that no rule reaches, and read-backs that must contradict.

use super::{speed, time};
use crate::station::{Rank, Station, WatchKind, ways::ways};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    for (at, output) in station.outputs.iter().enumerate() {
        let released = station.stops.iter().any(|stop| {
            stop.releases.contains(&at) || stop.then.as_ref().is_some_and(|then| then.outputs.contains(&at))
        });
        if !released {
            found.push(
                Finding::new(Code::OutputUnused, format!("no stop releases output '{}'", output.name.text))
                    .at(output.name.place, "stays on whatever happens")
                    .help("let a stop release it, or take it out"),
            );
        }
        let Some((_, scans)) = output.read_back else { continue };
        let allowed = u64::from(scans) * u64::from(station.scan_us);
        if allowed < u64::from(output.off_within_us) {
            let message = format!(
                "output '{}' may take {} to let go, and its read-back must follow within {}",
                output.name.text,
                time(u64::from(output.off_within_us)),
                time(allowed)
            );
            found.push(
                Finding::new(Code::ReadBackEarly, message)
                    .at(output.name.place, "contradicts itself while it lets go as it should")
                    .help("allow the read-back as long as the output takes, and some scans more"),
            );
        }
    }
    for (milder, slow) in station.slows.iter().zip(station.slows.iter().skip(1)) {
        if milder.pace == slow.pace && slow.down_to >= milder.down_to {
            let message =
                format!("slow order '{}' is more severe than '{}', but no slower", slow.name.text, milder.name.text);
            let shown = |mm| super::pace(station, slow.pace).map_or_else(String::new, |pace| speed(station, pace, mm));
            found.push(
                Finding::new(Code::SlowNoSlower, message)
                    .at(slow.name.place, format!("down to {}", shown(slow.down_to)))
                    .at(milder.name.place, format!("down to {}", shown(milder.down_to)))
                    .help("declare slow orders in the order of their severity, the fastest first"),
            );
        }
    }
    let called = called(station);
    let orders = station.slows.iter().map(|slow| ("slow order", &slow.name));
    for (rank, (what, name)) in (1..).zip(orders.chain(station.stops.iter().map(|stop| ("stop", &stop.name)))) {
        if !called.contains(&rank) {
            found.push(
                Finding::new(Code::AnswerUncalled, format!("no rule calls {what} '{}'", name.text))
                    .at(name.place, "declared here")
                    .help("let a rule answer with it, or take it out"),
            );
        }
    }
}

/// Answers that something calls: a way, or the refill of a stretch, which asks for the slowest slow order.
fn called(station: &Station) -> Vec<Rank> {
    let mut called: Vec<Rank> = ways(station).iter().map(|way| way.answer).collect();
    if station.watches.iter().any(|watch| matches!(watch.kind, WatchKind::Travel(_))) {
        called.extend(Rank::try_from(station.slows.len()));
    }
    called
}
