//! Watches of a random station: every kind appears, and each is content with a healthy line.

use host_tools::station::{
    Agree, Condition, Confirm, Count, Every, Exercise, Guard, InputKind, Lasting, Measure, Measured, Rank, Spacing,
    Station, Travel, Watch, WatchKind, When,
};

use super::answers::{a_milder_stop, a_stop, an_answer};
use super::conditions::{a_permission, a_trip};
use super::inputs::{limit, name};
use super::{Plan, Rng, Role};
use crate::render::{run_in_time, scan_travel};

/// Eight to fifteen watches.
pub(super) fn fill(rng: &mut Rng, plan: &Plan, station: &mut Station) {
    let mut kinds = Vec::new();
    for kind in 0..8 {
        kinds.push(kind);
    }
    for _ in 0..rng.size(0, 6) {
        kinds.push(rng.below(8));
    }
    // A confirm is seldom first-out.
    if rng.chance(40) {
        kinds.push(5);
    }
    rng.shuffle(&mut kinds);
    for (i, kind) in kinds.into_iter().enumerate() {
        let kind = match kind {
            0 => guard(rng, plan, station),
            1 => travel(rng, plan, station),
            2 => measure(rng, plan, station),
            3 => spacing(rng, plan, station),
            4 => agree(rng, plan, station),
            5 => confirm(rng, plan, station),
            6 => exercise(rng, plan, station),
            _ => count(rng, plan, station),
        };
        station.watches.push(Watch {
            name: name(format!("w{i}")),
            title: String::new(),
            hazards: Vec::new(),
            modes: Vec::new(),
            kind,
        });
    }
}

fn guard(rng: &mut Rng, plan: &Plan, station: &Station) -> WatchKind {
    let lasting = if rng.chance(60) {
        Lasting::Unbroken(rng.small(0, 5))
    } else {
        // No more in all than the span is long.
        Lasting::Total { of: rng.small(0, 6), within: rng.small(6, 15) }
    };
    WatchKind::Guard(Guard { when: a_trip(rng, plan, station), lasting, answer: an_answer(rng, station) })
}

/// A band of the rope's speed that holds the normal speed.
fn in_time(rng: &mut Rng, plan: &Plan) -> Measured {
    let slack = rng.within(plan.span / 2 + 1, plan.span + 1);
    Measured::Time {
        pace: plan.id(Role::Rope),
        least: limit(plan.speed * plan.span - slack),
        most: limit(plan.speed * plan.span + slack),
    }
}

fn measured(rng: &mut Rng, plan: &Plan) -> Measured {
    if rng.chance(60) { Measured::Rope(plan.id(Role::Rope)) } else { in_time(rng, plan) }
}

fn travel(rng: &mut Rng, plan: &Plan, station: &Station) -> WatchKind {
    let first = rng.index(plan.at.len() - 1);
    let second = if rng.chance(80) { first + 1 } else { plan.at.len() - 1 };
    let apart = plan.at[second] - plan.at[first];
    // The settled rises come later than the flags, each by its own settling.
    let lag = (i64::from(plan.settle[second].up) - i64::from(plan.settle[first].up)) * plan.speed;
    let rope = apart + lag;
    let measured = measured(rng, plan);
    let (earliest, latest) = match measured {
        Measured::Rope(_) => {
            let slack = plan.speed + rng.within(3, 8);
            // Any window starts after the rope of a scan, by which it is narrowed.
            ((rope - slack).max(plan.speed + 2), rope + slack)
        }
        Measured::Time { .. } => {
            let scans = rope / plan.speed;
            ((scans - rng.within(2, 3)).max(1), scans + rng.within(3, 5))
        }
    };
    let run = match measured {
        Measured::Rope(pace) => limit(latest) + scan_travel(station, pace),
        Measured::Time { pace, most, .. } => run_in_time(station, pace, most, limit(latest)),
    };
    let most = limit((rope + plan.speed * 2) / plan.spacing + 1);
    let rope_told = matches!(measured, Measured::Rope(_));
    WatchKind::Travel(Travel {
        from: plan.id(Role::Detector(first)),
        to: plan.id(Role::Detector(second)),
        measured,
        earliest: limit(earliest),
        latest: limit(latest),
        backstop: (rope_told && rng.chance(40)).then(|| limit(apart / plan.slow + plan.span * 3 + rng.within(0, 10))),
        run,
        capacity: most + rng.small(0, 1),
        early: a_stop(rng, station),
        late: a_stop(rng, station),
        stray: a_stop(rng, station),
        crowded: a_stop(rng, station),
        backwards: a_stop(rng, station),
    })
}

fn measure(rng: &mut Rng, plan: &Plan, station: &Station) -> WatchKind {
    let gauge = plan.id(Role::Gauge(rng.index(2)));
    let InputKind::Gauge(scale) = &station.inputs[gauge].kind else { panic!("a gauge's role") };
    let nominal = plan.nominal - scale.lowest;
    let when = match rng.below(3) {
        0 => When::Rise,
        1 => When::Scans(rng.small(1, 6)),
        _ => When::Rope(plan.id(Role::Rope), rng.small(3, 30)),
    };
    WatchKind::Measure(Measure {
        detector: plan.id(Role::Detector(rng.index(plan.at.len()))),
        when,
        gauge,
        least: limit(nominal - rng.within(1, 4)),
        most: limit(nominal + rng.within(1, 4)),
        answer: a_stop(rng, station),
    })
}

fn spacing(rng: &mut Rng, plan: &Plan, station: &Station) -> WatchKind {
    let measured = measured(rng, plan);
    let slack = rng.within(2, 5);
    let (least, most) = match measured {
        Measured::Rope(_) => (plan.spacing - plan.speed - slack, plan.spacing + 6 + plan.speed + slack),
        Measured::Time { .. } => (plan.spacing / plan.speed - slack, (plan.spacing + 6) / plan.speed + slack + 1),
    };
    let most = rng.chance(70).then_some(limit(most));
    WatchKind::Spacing(Spacing {
        detector: plan.id(Role::Detector(rng.index(plan.at.len()))),
        measured,
        least: limit(least),
        most,
        closer: a_stop(rng, station),
        farther: if most.is_some() { a_stop(rng, station) } else { station.on_fault },
    })
}

fn agree(rng: &mut Rng, plan: &Plan, station: &Station) -> WatchKind {
    let (between, within) = if rng.chance(50) {
        ([plan.id(Role::Rope), plan.id(Role::Conveyor)], limit(plan.span / 2 + rng.within(0, 2)))
    } else {
        ([plan.id(Role::Gauge(0)), plan.id(Role::Gauge(1))], rng.small(2, 5))
    };
    WatchKind::Agree(Agree { between, within, apart: rng.small(0, 5), answer: an_answer(rng, station) })
}

fn confirm(rng: &mut Rng, plan: &Plan, station: &Station) -> WatchKind {
    let rope = plan.id(Role::Rope);
    let InputKind::Pace(pace) = &station.inputs[rope].kind else { panic!("the rope is a pace") };
    // Who waits for the effect of a stop answers with a more severe one.
    let after = a_milder_stop(rng, station);
    // What is never seen would stand in the way of every reset.
    let stop = &station.stops[usize::from(after - station.first_stop())];
    let then = stop.then.iter().flat_map(|then| &then.outputs);
    let shown: Vec<usize> = (stop.releases.iter().chain(then).copied())
        .filter(|&output| station.outputs[output].read_back.is_some())
        .collect();
    // The more often it comes late, the more often a reset comes just before it would trip: only
    // then is a confirm ever first-out.
    let still = Condition::Not(Box::new(Condition::Faster(rope, pace.still + 1)));
    let slower = (plan.obeys && rng.chance(30)).then(|| (rope, rng.small(1, pace.top.max(2) / 2)));
    let see = match rng.below(5) {
        _ if slower.is_some() => still,
        0 | 1 if !shown.is_empty() => Condition::SeenOff(rng.pick(&shown)),
        0..=3 if plan.obeys => still,
        _ => a_permission(rng, plan, station, &[]),
    };
    let more = u64::from(station.worst() - after);
    let answer = after + 1 + Rank::try_from(rng.below(more)).expect("few stops");
    WatchKind::Confirm(Confirm { after, see, slower, within: rng.small(3, 8), answer })
}

fn exercise(rng: &mut Rng, plan: &Plan, station: &Station) -> WatchKind {
    let one = rng.index(plan.at.len());
    let other = (one + 1) % plan.at.len();
    let (input, every) = match rng.below(7) {
        0 | 1 => (plan.id(Role::Detector(one)), Every::Carrier(plan.id(Role::Detector(other)))),
        2 | 3 => {
            let rope = limit(plan.spacing + plan.speed * 2 + rng.within(0, 15));
            (plan.id(Role::Detector(one)), Every::Rope(plan.id(Role::Rope), rope))
        }
        4 | 5 => (plan.id(Role::Toggle), Every::Scans(rng.small(10, 30))),
        // What nobody changes in health trips at long intervals.
        _ => {
            let role = rng.pick(&[Role::Pair(0), Role::Contact(0), Role::ResetKey, Role::ResetKey]);
            (plan.id(role), Every::Scans(rng.small(100, 300)))
        }
    };
    WatchKind::Exercise(Exercise { input, every, answer: a_stop(rng, station) })
}

fn count(rng: &mut Rng, plan: &Plan, station: &Station) -> WatchKind {
    let zone = plan.id(Role::Clear);
    let clear = Condition::High(zone);
    let when =
        if rng.chance(70) { clear } else { Condition::All(vec![clear, a_permission(rng, plan, station, &[zone])]) };
    // A count that is one too high all the time is content as well.
    let confirmed = rng.small(0, 1);
    WatchKind::Count(Count {
        enter: plan.id(Role::Detector(0)),
        leave: plan.id(Role::Detector(1)),
        most: confirmed + rng.small(1, 2),
        confirmed,
        when,
        over: a_stop(rng, station),
        below: a_stop(rng, station),
        wrong: a_stop(rng, station),
    })
}
