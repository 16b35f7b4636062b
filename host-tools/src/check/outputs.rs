//! Outputs that must not be off together.

use crate::station::{Rank, Station, ways::ways};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    let called = called(station);
    for (first, output) in station.outputs.iter().enumerate() {
        for &second in &output.not_together {
            let mutual = station.outputs.get(second).is_some_and(|o| o.not_together.contains(&first));
            if mutual && second < first {
                continue;
            }
            let (Some(a), Some(b)) = (releasing(station, &called, first), releasing(station, &called, second)) else {
                continue;
            };
            let Some(other) = station.outputs.get(second) else {
                continue;
            };
            let (Some(by_a), Some(by_b)) = (station.stops.get(a), station.stops.get(b)) else {
                continue;
            };
            let message = format!(
                "'{}' and '{}' must not be off together, and standing stops can release both",
                output.name.text, other.name.text
            );
            let mut finding = Finding::new(Code::ReleasedTogether, message)
                .at(output.name.place, format!("released by stop '{}'", by_a.name.text))
                .at(other.name.place, format!("released by stop '{}'", by_b.name.text));
            finding = finding.at(by_a.name.place, "stops latch: this one can stand with any other");
            found.push(finding.help("let one of them be released by no stop that a rule calls"));
        }
    }
}

/// Indices of the stops that some way calls.
fn called(station: &Station) -> Vec<usize> {
    let first = station.first_stop();
    let mut called: Vec<Rank> = ways(station).iter().map(|way| way.answer).collect();
    called.sort_unstable();
    called.dedup();
    called.into_iter().filter_map(|rank| rank.checked_sub(first)).map(usize::from).collect()
}

/// The mildest called stop that releases an output, at once or at standstill.
fn releasing(station: &Station, called: &[usize], output: usize) -> Option<usize> {
    called.iter().copied().find(|&at| {
        station.stops.get(at).is_some_and(|stop| {
            stop.releases.contains(&output) || stop.then.as_ref().is_some_and(|then| then.outputs.contains(&output))
        })
    })
}
