//! Requirements and assumptions of a random station, some of them kept by its rules and some not.

use host_tools::station::{
    Assumption, Claim, Condition, Entry, Excuse, Form, Ground, Hazard, InputKind, Lasting, Measured, Rank, Requirement,
    Station, WatchKind, When,
};

use super::answers::{a_stop, an_answer};
use super::conditions::anything;
use super::inputs::{limit, name};
use super::{Plan, Rng, Role};

/// Hazards, requirements of each form, and assumptions.
pub(super) fn fill(rng: &mut Rng, plan: &Plan, station: &mut Station) {
    for i in 0..rng.size(1, 3) {
        station.hazards.push(Hazard { name: name(format!("H{i}")), title: format!("hazard {i}") });
    }
    for i in 0..station.watches.len() {
        // A bypass of what stands for a requirement would have to be excused there.
        let bypassed = station.bypasses.iter().any(|bypass| bypass.of.contains(&i));
        if !bypassed && rng.chance(30) {
            station.watches[i].hazards = rng.some_of(station.hazards.len(), 1);
        }
    }
    let mut kinds: Vec<u64> = (0..8).chain(0..8).collect();
    rng.shuffle(&mut kinds);
    for (i, kind) in kinds.into_iter().enumerate() {
        let (form, within) = match kind {
            0 => whenever(rng, plan, station),
            1 => when_rises(rng, plan, station),
            2 => after(rng, plan, station, true),
            3 => after(rng, plan, station, false),
            4 => {
                let (condition, _, answer) = condition(rng, plan, station);
                let least = answer.max(station.first_stop());
                (Form::Never { condition, least }, None)
            }
            5 => {
                let role = if rng.chance(60) { Role::ResetKey } else { Role::RefillKey };
                (Form::NeverReleased { key: plan.id(role) }, None)
            }
            6 => {
                let one = rng.index(station.outputs.len());
                (Form::NeverTogether(one, (one + 1) % station.outputs.len()), None)
            }
            _ => whenever(rng, plan, station),
        };
        let within_us = within.map_or(0, |(least, within)| {
            // Sampling and the deciding scan, and the slowest output that is released at once.
            let exact = (within + 2) * station.scan_us + slowest(station, least);
            if rng.chance(50) { exact + rng.small(0, station.scan_us - 1) } else { exact }
        });
        let hazards = if rng.chance(70) { rng.some_of(station.hazards.len(), 1) } else { Vec::new() };
        let unless = rng.chance(35).then(|| unless(rng, plan, station));
        station.requirements.push(Requirement {
            name: name(format!("R{i}")),
            title: format!("requirement {i}"),
            hazards,
            form,
            unless,
            bounces: 0,
            need_not_arise: (i % 5 == 4).then(|| format!("reason {i}")),
            answers: (0..i % 3).map(|entry| name(format!("entry-{entry}"))).collect(),
            within_us,
        });
    }
    bounces(station);
    station.entries.push(Entry { name: name("entry-7".into()), excuse: Excuse::NotApplicable("none here".into()) });
    station.entries.push(Entry { name: name("entry-8".into()), excuse: Excuse::Elsewhere("a relay".into()) });
    assumptions(rng, plan, station);
}

/// Some of them once more with bounces set aside, without a chance more, so that the others stay as they are. A key that clears stops
/// is read as it is.
fn bounces(station: &mut Station) {
    let with_lines = |form: &Form| !matches!(form, Form::NeverReleased { .. } | Form::NeverTogether(..));
    let some = station.requirements.iter().filter(|requirement| with_lines(&requirement.form)).step_by(3);
    let some: Vec<Requirement> = some.cloned().collect();
    for (scans, requirement) in (1..4).cycle().zip(some) {
        let name = name(format!("B{}", station.requirements.len()));
        station.requirements.push(Requirement { name, bounces: scans, ..requirement });
    }
}

/// Microseconds of the slowest output that the stops so severe and more so release at once.
pub(super) fn slowest(station: &Station, least: Rank) -> u32 {
    if least < station.first_stop() {
        return 0;
    }
    let stops = &station.stops[usize::from(least - station.first_stop())..];
    let outputs = stops.iter().flat_map(|stop| &stop.releases);
    outputs.map(|&output| station.outputs[output].off_within_us).max().unwrap_or(0)
}

fn unless(rng: &mut Rng, plan: &Plan, station: &Station) -> Condition {
    let bypass = Condition::Bypassed(rng.index(station.bypasses.len()));
    match rng.below(3) {
        0 => bypass,
        1 => Condition::Any(vec![bypass, anything(rng, plan, station)]),
        _ => anything(rng, plan, station),
    }
}

/// A condition with its hold and answer: that of a guard, which keeps it, or any.
fn condition(rng: &mut Rng, plan: &Plan, station: &Station) -> (Condition, u32, Rank) {
    let guards: Vec<_> = (station.watches.iter())
        .filter_map(|watch| if let WatchKind::Guard(guard) = &watch.kind { Some(guard) } else { None })
        .collect();
    let seen: Vec<_> = guards.into_iter().filter(|guard| !speaks_of_faults(station, &guard.when)).collect();
    if rng.chance(50) && !seen.is_empty() {
        let guard = rng.pick(&seen);
        let hold = if let Lasting::Unbroken(hold) = guard.lasting { hold } else { 3 };
        return (guard.when.clone(), hold, guard.answer);
    }
    let any = anything(rng, plan, station);
    let bypass = Condition::Bypassed(rng.index(station.bypasses.len()));
    let any = match rng.below(8) {
        0 => Condition::All(vec![any, bypass]),
        1 => Condition::Any(vec![any, Condition::Not(Box::new(bypass))]),
        _ => any,
    };
    (any, rng.small(0, 4), an_answer(rng, station))
}

/// A fault that raw inputs do not show may be all that a condition waits for.
pub(super) fn speaks_of_faults(station: &Station, condition: &Condition) -> bool {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => parts.iter().any(|part| speaks_of_faults(station, part)),
        Condition::Not(part) => speaks_of_faults(station, part),
        Condition::Faulty(input) => {
            let kind = &station.inputs[*input].kind;
            matches!(kind, InputKind::Contact(_) | InputKind::Pair(_) | InputKind::Detector(_))
        }
        _ => false,
    }
}

type Due = Option<(Rank, u32)>;

fn whenever(rng: &mut Rng, plan: &Plan, station: &Station) -> (Form, Due) {
    let (condition, hold, least) = condition(rng, plan, station);
    let (lasting, within) = (rng.small(0, hold), rng.small(0, 8));
    (Form::Whenever { condition, lasting, least, within }, Some((least, within)))
}

fn when_rises(rng: &mut Rng, plan: &Plan, station: &Station) -> (Form, Due) {
    let gauge = plan.id(Role::Gauge(rng.index(2)));
    let InputKind::Gauge(scale) = &station.inputs[gauge].kind else { panic!("a gauge's role") };
    let (nominal, slack) = (plan.nominal - scale.lowest, rng.within(0, 3));
    let (least, within) = (a_stop(rng, station), rng.small(0, 8));
    let when = match within % 3 {
        0 => When::Rise,
        1 => When::Scans(within),
        _ => When::Rope(plan.id(Role::Rope), 8 * within),
    };
    let form = Form::WhenRises {
        detector: plan.id(Role::Detector(rng.index(plan.at.len()))),
        when,
        // Every other one that asks of the rise alone; without a chance more, so that the others stay as they are.
        lasting: if when == When::Rise { within % 2 * (1 + within / 4) } else { 0 },
        gauge,
        lowest: limit(nominal - slack),
        highest: limit(nominal + rng.within(0, 3)),
        least,
        within,
    };
    (form, Some((least, within)))
}

fn after(rng: &mut Rng, plan: &Plan, station: &Station, in_rope: bool) -> (Form, Due) {
    let first = rng.index(plan.at.len() - 1);
    let second = rng.size(first + 1, plan.at.len() - 1);
    let apart = plan.at[second] - plan.at[first];
    let pace = plan.id(Role::Rope);
    let (measured, earliest, latest) = if in_rope {
        (Measured::Rope(pace), apart - rng.within(2, 9), apart + rng.within(2, 9))
    } else {
        let slack = rng.within(plan.span / 2 + 1, plan.span + 1);
        let (least, most) = (limit(plan.speed * plan.span - slack), limit(plan.speed * plan.span + slack));
        let scans = apart / plan.speed;
        (Measured::Time { pace, least, most }, scans - rng.within(0, 2), scans + rng.within(0, 3))
    };
    let (least, within) = (a_stop(rng, station), rng.small(0, 8));
    let form = Form::After {
        from: plan.id(Role::Detector(first)),
        to: plan.id(Role::Detector(second)),
        measured,
        earliest: limit(earliest),
        latest: limit(latest),
        capacity: rng.pick(&[1, 2, 3, 8]),
        least,
        within,
    };
    (form, Some((least, within)))
}

fn assumptions(rng: &mut Rng, plan: &Plan, station: &mut Station) {
    let mut claims: Vec<(Claim, Ground)> = Vec::new();
    let evidence = || Ground::Evidence("somebody has seen it".to_owned());
    for _ in 0..2 {
        let detector = plan.id(Role::Detector(rng.index(plan.at.len())));
        let pace = plan.id(if rng.chance(80) { Role::Rope } else { Role::Conveyor });
        let mm = limit(plan.spacing - rng.within(-4, 12));
        claims.push((Claim::RopeApart(detector, pace, mm), evidence()));
        let scans = limit(plan.spacing / plan.speed - rng.within(-2, 3));
        claims.push((Claim::ScansApart(detector, scans), evidence()));
        claims.push((Claim::Always(Condition::Not(Box::new(anything(rng, plan, station)))), evidence()));
        claims.push((Claim::Always(anything(rng, plan, station)), evidence()));
    }
    for (i, watch) in station.watches.iter().enumerate() {
        // A watch may hold what it stops for.
        let claim = match &watch.kind {
            WatchKind::Guard(guard) if !speaks_of_faults(station, &guard.when) => {
                Claim::Always(Condition::Not(Box::new(guard.when.clone())))
            }
            WatchKind::Spacing(spacing) => match spacing.measured {
                Measured::Rope(pace) => Claim::RopeApart(spacing.detector, pace, spacing.least),
                Measured::Time { .. } => Claim::ScansApart(spacing.detector, spacing.least),
            },
            _ => continue,
        };
        claims.push((claim, Ground::HeldBy(i)));
    }
    rng.shuffle(&mut claims);
    for (i, (claim, ground)) in claims.into_iter().enumerate() {
        let title = if rng.chance(50) { format!("assumption {i}") } else { String::new() };
        station.assumptions.push(Assumption { name: name(format!("a{i}")), title, claim, ground });
    }
}
