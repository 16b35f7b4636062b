//! Inputs of a random station.

use host_tools::station::{
    Backing, Contact, Detector, Gauge, Input, InputKind, Key, Link, Name, Pace, Pair, Settle, Station,
};
use host_tools::text::place::Place;

use super::{Plan, Rng, Role};

/// A dummy name.
pub(super) fn name(text: String) -> Name {
    Name { text, place: Place::default() }
}

/// Small numbers of the plan as limits of the station; negative ones become 0.
pub(super) fn limit(value: i64) -> u32 {
    u32::try_from(value.max(0)).expect("a small number")
}

/// Takes the next digital channel.
pub(super) fn channel(station: &mut Station) -> usize {
    let next = station.channels.len();
    station.channels.push(format!("DI-{next:02}"));
    next
}

/// Every input of the plan, in the order of its roles.
pub(super) fn fill(rng: &mut Rng, plan: &mut Plan, station: &mut Station) {
    for i in 0..plan.roles.len() {
        let kind = match plan.roles[i] {
            Role::Rope | Role::Conveyor => pace(rng, plan, station),
            Role::Detector(at) => detector(rng, plan, station, at),
            Role::Contact(_) => contact(rng, station, true),
            Role::Toggle | Role::Clear | Role::Running => contact(rng, station, false),
            Role::Pair(_) => pair(rng, station),
            Role::Gauge(_) => gauge(rng, plan, station),
            Role::Link => link(rng, station),
            // Keys of modes settle alike, so that turning from one to the other leaves no gap.
            Role::ModeKey(_) => key(station, Settle { up: 1, down: 1 }, rng.chance(40)),
            Role::ResetKey => {
                let two = rng.chance(50);
                key(station, some_settle(rng), two)
            }
            Role::BypassKey(_) | Role::RefillKey => key(station, some_settle(rng), false),
        };
        station.inputs.push(Input { name: name(format!("i{i}")), kind });
    }
}

fn some_settle(rng: &mut Rng) -> Settle {
    Settle { up: rng.small(0, 2), down: rng.small(0, 2) }
}

/// A change that is sure to be seen: longer than its settling and two scans.
fn seen(rng: &mut Rng, station: &Station, settle: u32) -> u32 {
    (settle + 2) * station.scan_us + 1 + rng.small(0, station.scan_us)
}

fn shortest(rng: &mut Rng, station: &Station, settle: Settle) -> Option<u32> {
    rng.chance(30).then(|| seen(rng, station, settle.up.max(settle.down)))
}

fn contact(rng: &mut Rng, station: &mut Station, at_rest: bool) -> InputKind {
    // What follows the line must follow it at once, or its condition comes at the wrong time.
    let settle = if at_rest { some_settle(rng) } else { Settle::default() };
    InputKind::Contact(Contact {
        channel: channel(station),
        rests_closed: rng.chance(70),
        line_monitored: rng.chance(50),
        shortest_us: shortest(rng, station, settle),
        settle,
        most_changes: (at_rest && rng.chance(70)).then(|| rng.small(2, 4)),
    })
}

fn pair(rng: &mut Rng, station: &mut Station) -> InputKind {
    let settle = some_settle(rng);
    let opposed = rng.chance(50);
    InputKind::Pair(Pair {
        channels: [channel(station), channel(station)],
        opposed,
        rests_closed: rng.chance(70),
        shortest_us: shortest(rng, station, settle),
        settle,
        differing: rng.small(0, 5),
    })
}

fn detector(rng: &mut Rng, plan: &Plan, station: &mut Station, at: usize) -> InputKind {
    let settle = plan.settle[at];
    let pace = plan.id(if rng.chance(80) { Role::Rope } else { Role::Conveyor });
    let covered = limit(plan.flag + plan.speed * (i64::from(settle.down) + 2) + rng.within(0, 10));
    let rises = limit(plan.spacing + 12 + plan.speed * 2 + rng.within(0, 20));
    InputKind::Detector(Detector {
        channel: channel(station),
        at: limit(plan.at[at]),
        pulse_us: seen(rng, station, settle.up),
        settle,
        covered_at_most: rng.chance(60).then_some((pace, covered)),
        rises_every: rng.chance(60).then_some((pace, rises)),
    })
}

fn gauge(rng: &mut Rng, plan: &Plan, station: &mut Station) -> InputKind {
    let terminal = station.gauge_terminals.len();
    station.gauge_terminals.push(format!("AI-{terminal:02}"));
    // One scale has both ends beyond the trusted currents, the other just within them.
    let zero = rng.within(-8, 8) * plan.step;
    let ends = [(4_000, zero), (20_000, zero + 60 * plan.step)];
    let points = if rng.chance(70) { ends } else { [(4_000, ends[1].1), (20_000, ends[0].1)] };
    let trusted = rng.pick(&[(3_800, 20_500), (3_800, 20_500), (4_000, 20_000), (3_900, 20_400)]);
    let value =
        |ua: i32| (points[0].1 * 16_000 + (points[1].1 - points[0].1) * i64::from(ua - 4_000), 16_000 * plan.step);
    let (low, high) = if points[0].1 < points[1].1 { trusted } else { (trusted.1, trusted.0) };
    let (low, high) = (value(low), value(high));
    let lowest = low.0.div_euclid(low.1);
    let top = -(-high.0).div_euclid(high.1) - lowest;
    let nominal = plan.nominal - lowest;
    let detectors = plan.at.len();
    let detector = plan.id(Role::Detector(rng.index(detectors)));
    InputKind::Gauge(Gauge {
        terminal,
        unit: plan.unit.to_owned(),
        step_micro: plan.step,
        points,
        trusted_ua: trusted,
        broken_ua: (3_600, 21_000),
        lowest,
        top: limit(top),
        moves_at_most: rng.chance(60).then(|| rng.small(4, 8)),
        rests: rng.chance(50).then(|| {
            let slack = rng.within(1, 4);
            (detector, limit(nominal - slack), limit(nominal + slack))
        }),
    })
}

fn pace(rng: &mut Rng, plan: &Plan, station: &mut Station) -> InputKind {
    let source = station.sources.len();
    station.sources.push(format!("CT-{source:02}"));
    let (backing, fault_after) = match rng.below(3) {
        0 => (Backing::None, rng.small(0, 5)),
        1 => {
            let second = station.sources.len();
            station.sources.push(format!("CT-{second:02}"));
            (Backing::Source(second, limit(plan.span / 2 + rng.within(0, 2))), rng.small(0, 5))
        }
        // Two spans pass before a start is seen.
        _ => {
            let patience = limit(plan.span * 2 + rng.within(0, 4));
            (Backing::Running(plan.id(Role::Running)), patience)
        }
    };
    let pulse = if rng.chance(80) { 1 } else { 2 };
    let fastest = limit(plan.speed + 2);
    InputKind::Pace(Pace {
        source,
        backing,
        mm_a_pulse: pulse,
        signed: rng.chance(80),
        top: fastest * limit(plan.span),
        // Whole pulses, and one more.
        top_scan: (fastest.div_ceil(pulse) + 1) * pulse,
        span: limit(plan.span),
        still: rng.small(0, 2),
        fault_after,
    })
}

fn link(rng: &mut Rng, station: &mut Station) -> InputKind {
    let terminal = station.link_terminals.len();
    station.link_terminals.push(format!("LK-{terminal:02}"));
    let otherwise = super::answers::a_stop(rng, station);
    InputKind::Link(Link { terminal, silent: rng.small(1, 6), otherwise })
}

fn key(station: &mut Station, settle: Settle, two: bool) -> InputKind {
    let first = channel(station);
    let second = if two { Some(channel(station)) } else { None };
    InputKind::Key(Key { channels: (first, second), settle })
}
