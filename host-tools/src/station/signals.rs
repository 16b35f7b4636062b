//! What the rule file declares of raw signals: how long a level lasts once it is taken.

use super::{InputKind, Scans, Station};

/// What is declared of a channel: each level lasts so many scans.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Signal {
    /// Channel.
    pub channel: usize,
    /// Scans of low.
    pub low: Scans,
    /// Scans of high.
    pub high: Scans,
}

/// What is declared of every channel of which something is: a detector's pulse and the gap before the next, an opening of a
/// contact or of a pair's channel (or a closing, where open is rest). Whole scans, rounded down, at least 1.
pub fn signals(station: &Station) -> Vec<Signal> {
    let scans = |us: u32| us.checked_div(station.scan_us).unwrap_or(0).max(1);
    let mut out = Vec::new();
    for input in &station.inputs {
        let mut push = |channel: usize, low: Scans, high: Scans| out.push(Signal { channel, low, high });
        match &input.kind {
            InputKind::Detector(d) => {
                push(d.channel, scans(d.pulse_us), scans(d.pulse_us));
            }
            InputKind::Contact(c) => {
                if let Some(us) = c.shortest_us {
                    let (low, high) = if c.rests_closed { (scans(us), 1) } else { (1, scans(us)) };
                    push(c.channel, low, high);
                }
            }
            InputKind::Pair(p) => {
                if let Some(us) = p.shortest_us {
                    let [one, other] = p.channels;
                    let (low, high) = if p.rests_closed { (scans(us), 1) } else { (1, scans(us)) };
                    push(one, low, high);
                    // An opposed channel says the same the other way round.
                    if p.opposed { push(other, high, low) } else { push(other, low, high) }
                }
            }
            InputKind::Gauge(_) | InputKind::Pace(_) | InputKind::Link(_) | InputKind::Key(_) => {}
        }
    }
    out
}
