//! Inputs that cannot be seen, and wires whose break nobody notices.

use super::time;
use crate::station::{InputKind, Scans, Station, WatchKind};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    for (at, input) in station.inputs.iter().enumerate() {
        let name = &input.name;
        // The shortest excursion from rest, and the settling of the change that begins it.
        let shortest: Option<(u32, Scans)> = match &input.kind {
            InputKind::Detector(d) => Some((d.pulse_us, d.settle.up)),
            InputKind::Contact(c) => {
                c.shortest_us.map(|us| (us, if c.rests_closed { c.settle.down } else { c.settle.up }))
            }
            InputKind::Pair(p) => {
                p.shortest_us.map(|us| (us, if p.rests_closed { p.settle.down } else { p.settle.up }))
            }
            _ => None,
        };
        if let Some((us, settle)) = shortest {
            let needed = (u64::from(settle) + 2) * u64::from(station.scan_us);
            if u64::from(us) <= needed {
                let message = format!(
                    "'{}' may change for only {}, and is sure to be seen only beyond {}",
                    name.text,
                    time(u64::from(us)),
                    time(needed)
                );
                found.push(
                    Finding::new(Code::PulseTooShort, message)
                        .at(name.place, format!("{settle} scans of settling and two more"))
                        .help("shorten the settling or the scan, or lengthen the pulse"),
                );
            }
        }
        match &input.kind {
            InputKind::Contact(c) if !c.rests_closed && !c.line_monitored && !exercised(station, at) => {
                found.push(
                    Finding::new(
                        Code::ContactRestsOpen,
                        format!("a broken wire of contact '{}' looks like rest", name.text),
                    )
                    .at(name.place, "rests open, not line monitored, not exercised")
                    .help("use a contact that rests closed, monitor the line, or add an 'exercise' watch"),
                );
            }
            InputKind::Link(l) if l.silent == 0 => found.push(
                Finding::new(Code::LinkSilence, format!("link '{}' bears no silence at all", name.text))
                    .at(name.place, "stops in every scan without a new frame")
                    .help("state a 'silent for at most' of several scans"),
            ),
            _ => {}
        }
    }
}

fn exercised(station: &Station, input: usize) -> bool {
    station.watches.iter().any(|w| matches!(&w.kind, WatchKind::Exercise(e) if e.input == input))
}
