//! Checks of inputs that are so wide that they never tell a fault.

use super::{speed, time};
use crate::station::{Backing, InputKind, Name, Station};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    let second = (1_000_000 / station.scan_us.max(1)).max(1);
    for input in &station.inputs {
        let name = &input.name;
        match &input.kind {
            // A channel changes at most once from one scan to the next.
            InputKind::Contact(contact) if contact.most_changes.is_some_and(|most| most >= second) => {
                let why = format!("no more than {second} changes a second show, a scan every {}", scan(station));
                unseen(name, "chatters", why, found);
            }
            InputKind::Gauge(gauge) => {
                if gauge.moves_at_most.is_some_and(|most| most >= gauge.top) {
                    unseen(name, "leaps", "may move over its whole range in one scan", found);
                }
                if gauge.rests.is_some_and(|(_, least, most)| least == 0 && most >= gauge.top) {
                    unseen(name, "has not come to rest", "is at rest over its whole range", found);
                }
            }
            InputKind::Pace(pace) => {
                if let Backing::Source(_, within) = pace.backing
                    && within >= pace.top
                {
                    let why = format!(
                        "the two may differ by {}, and the pace is never faster than {}",
                        speed(station, pace, within),
                        speed(station, pace, pace.top)
                    );
                    unseen(name, "has lost a source", why, found);
                }
                if pace.still >= pace.top {
                    let message = format!(
                        "pace '{}' is called still at up to {}, and is never faster than {}",
                        name.text,
                        speed(station, pace, pace.still),
                        speed(station, pace, pace.top)
                    );
                    found.push(
                        Finding::new(Code::LimitAboveTop, message)
                            .at(name.place, "is still at every speed it can have")
                            .help("state a 'still below' under the pace's 'at most', and no less than a pulse a span"),
                    );
                }
            }
            _ => {}
        }
    }
}

fn scan(station: &Station) -> String {
    time(u64::from(station.scan_us))
}

fn unseen(name: &Name, what: &str, why: impl Into<String>, found: &mut Vec<Finding>) {
    found.push(
        Finding::new(Code::FaultUnseen, format!("it is never told that '{}' {what}", name.text))
            .at(name.place, why)
            .help("narrow the limit, or leave it out"),
    );
}
