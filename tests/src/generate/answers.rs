//! Outputs, answers, modes, reset, refills and bypasses of a random station.

use host_tools::date::Date;
use host_tools::station::{
    Bypass, Condition, InputKind, Mode, Output, Rank, Refill, Reset, Slow, Station, Stop, Temporary, Then, WatchKind,
};
use host_tools::text::place::Place;

use super::conditions::a_permission;
use super::inputs::{channel, limit, name};
use super::{Plan, Rng, Role};

/// A station with nothing in it.
pub(super) fn empty(rng: &mut Rng) -> Station {
    let revision = rng.small(0, 9);
    Station {
        title: "made by chance".to_owned(),
        revision,
        temporary: (revision % 4 == 3).then(|| Temporary {
            until: Date::read(&format!("2028-02-2{revision}")).expect("a day"),
            because: "it is made by chance".to_owned(),
        }),
        // So few scans in a second that chatter is counted in short spans; so many mm a scan are a decimal.
        scan_us: rng.pick(&[64_000, 100_000, 160_000, 200_000]),
        on_fault: 0,
        modes: Vec::new(),
        outputs: Vec::new(),
        slows: Vec::new(),
        stops: Vec::new(),
        inputs: Vec::new(),
        channels: Vec::new(),
        gauge_terminals: Vec::new(),
        sources: Vec::new(),
        link_terminals: Vec::new(),
        watches: Vec::new(),
        reset: None,
        restart: rng.small(0, 10),
        refills: Vec::new(),
        bypasses: Vec::new(),
        hazards: Vec::new(),
        requirements: Vec::new(),
        entries: Vec::new(),
        assumptions: Vec::new(),
        lane: None,
    }
}

/// Rank of some stop.
pub(super) fn a_stop(rng: &mut Rng, station: &Station) -> Rank {
    let count = Rank::try_from(station.stops.len()).expect("few stops");
    station.first_stop() + Rank::try_from(rng.below(u64::from(count))).expect("few stops")
}

/// Rank of some stop but the most severe.
pub(super) fn a_milder_stop(rng: &mut Rng, station: &Station) -> Rank {
    let milder = u64::from(station.worst() - station.first_stop());
    station.first_stop() + Rank::try_from(rng.below(milder)).expect("few stops")
}

/// Rank of some stop, or now and then of a slow order.
pub(super) fn an_answer(rng: &mut Rng, station: &Station) -> Rank {
    if rng.chance(20) {
        return 1 + Rank::try_from(rng.index(station.slows.len())).expect("few slow orders");
    }
    a_stop(rng, station)
}

/// Outputs, slow orders and stops.
pub(super) fn outputs_and_answers(rng: &mut Rng, plan: &Plan, station: &mut Station) {
    for i in 0..rng.size(2, 3) {
        let read_back = rng.chance(70).then(|| (channel(station), rng.small(0, 4)));
        station.outputs.push(Output {
            name: name(format!("o{i}")),
            terminal: format!("DO-{i:02}"),
            off_within_us: rng.small(0, 4) * 15_000,
            read_back,
            not_together: Vec::new(),
        });
    }
    let pace = plan.id(Role::Rope);
    let slows = rng.size(1, 2);
    for i in 0..slows {
        // The more severe one is the slower one.
        let milder = if i + 1 < slows { 3 } else { 0 };
        station.slows.push(Slow {
            name: name(format!("slow{i}")),
            pace,
            down_to: limit(plan.slow * plan.span + milder + rng.within(0, 2).min(plan.span - 2)),
            // Up to two spans pass before the lower speed is seen, after a few scans of slowing.
            within: limit(plan.span * 2 + 3 + rng.within(0, 6)),
        });
    }
    let outputs = station.outputs.len();
    for i in 0..rng.size(2, 4) {
        let then = rng.chance(60).then(|| Then {
            outputs: rng.some_of(outputs, 1),
            pace: if rng.chance(80) { pace } else { plan.id(Role::Conveyor) },
            latest: rng.small(1, 20),
        });
        station.stops.push(Stop {
            name: name(format!("stop{i}")),
            category: u8::from(then.is_some()),
            for_emergencies: rng.chance(30),
            releases: rng.some_of(outputs, 1),
            then,
            bites_us: 100_000,
            slows: (500, 1_500),
            standstill: None,
        });
    }
    station.on_fault = a_stop(rng, station);
}

/// Whatever a key does; after inputs and watches.
pub(super) fn keys(rng: &mut Rng, plan: &mut Plan, station: &mut Station) {
    let rope = plan.id(Role::Rope);
    let InputKind::Pace(pace) = &station.inputs[rope].kind else { panic!("the rope is a pace") };
    let moving = Condition::Faster(rope, pace.still + 1);
    let modes = plan.roles.iter().filter(|role| matches!(role, Role::ModeKey(_))).count();
    for i in 0..modes {
        let allowed = if i == 0 { (plan.speed + 1) * plan.span } else { plan.slow * plan.span };
        let conveyor = i == 0 && rng.chance(20);
        let limited = plan.id(if conveyor { Role::Conveyor } else { Role::Rope });
        station.modes.push(Mode {
            name: name(format!("m{i}")),
            key: plan.id(Role::ModeKey(i)),
            // Less than the greatest speed of the pace.
            at_most: rng.chance(60).then(|| (limited, limit(allowed + rng.within(0, 2).min(plan.span - 1)))),
        });
    }
    let needs_still = rng.chance(25);
    plan.obeys |= needs_still;
    let when = if needs_still { Condition::Not(Box::new(moving)) } else { a_permission(rng, plan, station, &[]) };
    station.reset = Some(Reset {
        key: plan.id(Role::ResetKey),
        when,
        lasting: rng.small(0, 3),
        // 0.1 s rounded up, 3 s rounded down.
        shortest: 100_000_u32.div_ceil(station.scan_us),
        longest: 3_000_000 / station.scan_us,
    });
    let refillable = |kind: &WatchKind| matches!(kind, WatchKind::Travel(_) | WatchKind::Count(_));
    let able: Vec<usize> = (0..station.watches.len()).filter(|&i| refillable(&station.watches[i].kind)).collect();
    let when = a_permission(rng, plan, station, &[]);
    station.refills.push(Refill {
        watches: rng.some_of(able.len(), 1).into_iter().map(|i| able[i]).collect(),
        key: plan.id(Role::RefillKey),
        when,
        place: Place::default(),
    });
    let bypasses = plan.roles.iter().filter(|role| matches!(role, Role::BypassKey(_))).count();
    for i in 0..bypasses {
        let mut of = rng.some_of(station.watches.len(), 1);
        rng.shuffle(&mut of);
        of.truncate(rng.size(1, 4));
        let speed = if rng.chance(70) { plan.speed + 1 } else { plan.slow };
        station.bypasses.push(Bypass {
            name: name(format!("b{i}")),
            of,
            modes: rng.some_of(modes, 1),
            key: plan.id(Role::BypassKey(i)),
            at_most: (rope, limit(speed * plan.span)),
            budget: rng.small(5, 40),
            rest: rng.small(5, 40),
        });
    }
    for i in 0..station.watches.len() {
        if rng.chance(20) {
            station.watches[i].modes = rng.some_of(modes, 1);
        }
    }
}
