//! What is tried of a requirement in one set of circumstances.

mod carriers;
mod resets;
mod slowing;
mod tallies;

use super::acts::Act;
use super::boot::{Boots, Shop, key, key_settles, reset};
use super::contexts::{self, Context, contexts};
use super::history::scans;
use super::solve::ways_to;
use super::world::Rate;
use crate::sample::{Health, Reading};
use crate::station::{
    Claim, Condition, Every, Form, InputKind, Lasting, Observed, Requirement, Scans, Station, WatchKind, When,
};

/// Contexts, and the trials that are made in each of them, the plainest first.
pub(super) struct Plan {
    pub(super) contexts: Vec<Context>,
    pub(super) trials: Vec<Vec<Act>>,
}

/// Scans for which something lasts, in the station, that are short enough to wait for.
fn durations(station: &Station) -> Vec<Scans> {
    let mut all: Vec<Scans> = vec![1];
    for input in &station.inputs {
        match &input.kind {
            InputKind::Contact(c) => {
                all.extend([c.settle.up, c.settle.down]);
                all.extend(c.shortest_us.map(|us| scans(station, us)));
            }
            InputKind::Pair(p) => {
                all.extend([p.settle.up, p.settle.down, p.differing]);
                all.extend(p.shortest_us.map(|us| scans(station, us)));
            }
            InputKind::Detector(d) => all.extend([scans(station, d.pulse_us), d.settle.up, d.settle.down]),
            InputKind::Pace(p) => all.extend([p.span, p.fault_after]),
            InputKind::Link(l) => all.push(l.silent),
            InputKind::Key(k) => all.extend([k.settle.up, k.settle.down]),
            InputKind::Gauge(_) => {}
        }
    }
    for watch in &station.watches {
        match &watch.kind {
            WatchKind::Guard(g) => match g.lasting {
                Lasting::Unbroken(scans) => all.push(scans),
                Lasting::Total { of, within } => all.extend([of, within]),
            },
            WatchKind::Measure(m) => all.extend(if let When::Scans(scans) = m.when { Some(scans) } else { None }),
            WatchKind::Agree(a) => all.push(a.apart),
            WatchKind::Confirm(c) => all.push(c.within),
            WatchKind::Exercise(e) => all.extend(if let Every::Scans(scans) = e.every { Some(scans) } else { None }),
            _ => {}
        }
    }
    for requirement in &station.requirements {
        if let Form::Whenever { lasting, within, .. } | Form::Effect { lasting, within, .. } = &requirement.form {
            all.extend([*lasting, *within]);
        }
    }
    all.extend(station.reset.iter().flat_map(|r| [r.shortest, r.longest]));
    let mut all: Vec<Scans> = all
        .into_iter()
        .flat_map(|n| [n.saturating_sub(1), n, n + 1, n + 2])
        .filter(|n| (1..=700).contains(n))
        .collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// The plan of a requirement.
pub(super) fn plan(shop: &Shop<'_>, boots: &Boots<'_>, requirement: &Requirement) -> Plan {
    let station = shop.station;
    let around = contexts(shop, boots, requirement);
    let span = u32::try_from(shop.span).unwrap_or(0);
    let mut trials = Vec::new();
    let mut places = around;
    match &requirement.form {
        Form::Whenever { condition: Condition::Observed(Observed::Closer(detector, _, mm)), within, .. } => {
            if let Some(at) = shop.routes.number(*detector) {
                places = contexts::carriers(shop, boots, at, &places);
                carriers::passings(at, true, *mm, *within, &mut trials);
            }
        }
        Form::Whenever { condition: Condition::Observed(Observed::Farther(detector, _, mm)), within, .. } => {
            if let Some(at) = shop.routes.number(*detector) {
                let gone = |more: i64| vec![Act::Carrier(at), Act::Roll(i64::from(*mm) + more), Act::Wait(*within + 4)];
                trials.extend([20, 60, 200, 2_000].map(gone));
            }
        }
        Form::Whenever {
            condition: Condition::Observed(observed @ (Observed::Stray(way) | Observed::Crowded(way, _))),
            lasting,
            within,
            ..
        } => {
            if let (Some(from), Some(to)) = (shop.routes.number(way.from), shop.routes.number(way.to)) {
                let tail = Act::Wait(lasting.saturating_add(*within) + 4);
                match observed {
                    Observed::Crowded(_, most) => {
                        carriers::bunched(shop, boots, [from, to], way.latest, *most, tail, &mut trials);
                        carriers::crowd([from, to], way.latest, *most, tail, &mut trials);
                        let step = boots.cruise.mm / boots.cruise.scans.max(1);
                        carriers::overlapping([from, to], way.latest, *most, step, tail, &mut trials);
                    }
                    _ => carriers::strays([from, to], way.latest, tail, &mut trials),
                }
            }
        }
        Form::Whenever { condition: Condition::Observed(Observed::Miscounting(tally)), within, .. } => {
            if let (Some(from), Some(to)) = (shop.routes.number(tally.from), shop.routes.number(tally.to)) {
                tallies::counts(shop, boots, tally, [from, to], Act::Wait(within + 4), &mut trials);
            }
        }
        Form::Whenever { condition, lasting, within, .. } => {
            let ways = ways_to(station, condition, true);
            if matches!(condition, Condition::Observed(Observed::Distrusted(..))) {
                // What is distrusted has tripped as well, and is asked of once that stop has been reset.
                let tail = [Act::Wait(lasting.saturating_add(*within) + 4), Act::Free(1)];
                trials.extend(ways.iter().map(|way| [way.clone(), reset(shop), tail.to_vec()].concat()));
            }
            holds(
                station,
                boots.cruise,
                &ways,
                lasting.saturating_add(requirement.bounces),
                *within,
                span,
                &mut trials,
            );
        }
        Form::Effect { after, lasting, condition, slower, within, .. } => {
            let unseen = Condition::Not(Box::new(condition.clone()));
            let stands = Condition::Observed(Observed::Stands(*after));
            // The rope runs on as it did.
            let stopped = ways_to(station, &stands, true);
            let ways = ways_to(station, &Condition::All(vec![unseen, stands]), true);
            if let Some((pace, drop)) = *slower
                && let Some(InputKind::Pace(p)) = station.inputs.get(pace).map(|input| &input.kind)
            {
                let judged = lasting.saturating_add(*within).saturating_add(4 * p.span);
                slowing::slowing(&stopped, boots.cruise, (drop, p.span), judged, &mut trials);
            }
            holds(station, boots.cruise, &ways, *lasting, *within, span, &mut trials);
        }
        Form::Never { condition, .. } => {
            let ways = ways_to(station, condition, true);
            holds(station, boots.cruise, &ways, requirement.bounces, 0, span, &mut trials);
        }
        Form::WhenRises { detector, when, gauge, lowest, highest, lasting, within, .. } => {
            if let (Some(at), Some(InputKind::Gauge(g))) =
                (shop.routes.number(*detector), station.inputs.get(*gauge).map(|i| &i.kind))
            {
                places = contexts::carriers(shop, boots, at, &places);
                behind(at, g.terminal, *when, [*lowest, *highest, g.top], *within, &mut trials);
                readings(
                    station,
                    at,
                    g.terminal,
                    [*lowest, *highest, g.top],
                    lasting.saturating_add(*within),
                    &mut trials,
                );
            }
        }
        Form::After { from, to, measured, earliest, latest, within, .. } => {
            if let (Some(a), Some(b)) = (shop.routes.number(*from), shop.routes.number(*to)) {
                places = contexts::carriers(shop, boots, a, &places);
                carriers::arrivals(shop, boots, [a, b], *measured, [*earliest, *latest], *within, &mut trials);
            }
        }
        Form::Held { claim, within, .. } => match claim {
            Claim::Always(condition) => {
                holds(station, boots.cruise, &ways_to(station, condition, false), 0, *within, span, &mut trials);
            }
            Claim::RopeApart(detector, _, least) | Claim::ScansApart(detector, least) => {
                if let Some(at) = shop.routes.number(*detector) {
                    places = contexts::carriers(shop, boots, at, &places);
                    let rope = matches!(claim, Claim::RopeApart(..));
                    carriers::passings(at, rope, *least, *within, &mut trials);
                }
            }
        },
        Form::NeverReleasedBut { condition, lasting } => {
            resets::presses(shop, condition, &mut trials);
            resets::releases(shop, boots, *lasting, &mut trials);
            resets::stops(shop, boots, &mut trials);
        }
        Form::NeverPermitted { pause } => {
            resets::stops(shop, boots, &mut trials);
            let tail = Act::Wait(pause.saturating_add(4));
            for acts in &mut trials {
                acts.push(tail);
            }
        }
        Form::NeverReleased { .. } | Form::NeverTogether(..) => resets::stops(shop, boots, &mut trials),
    }
    Plan { contexts: places, trials }
}

/// The condition brought about, held for so long, and let go.
fn holds(
    station: &Station,
    cruise: Rate,
    ways: &[Vec<Act>],
    lasting: Scans,
    within: Scans,
    span: Scans,
    trials: &mut Vec<Vec<Act>>,
) {
    let moves = ways.iter().flatten().any(|act| matches!(act, Act::Speed(_) | Act::Source(..)));
    // A speed shows after a whole span.
    let asked = if moves { lasting + 2 + span } else { lasting + 1 };
    let mut lengths = vec![asked + within + span + 40, asked, asked + 1, asked + within];
    if moves {
        lengths.extend([asked + span / 2, asked + span - 1, asked + span, asked + 2 * span]);
    }
    lengths.extend(durations(station).into_iter().filter(|n| *n > asked));
    let resets = station.reset.as_ref().map(|r| (r.key, r.shortest));
    let mut ranked: Vec<(u32, Vec<Act>)> = Vec::new();
    for (round, &length) in lengths.iter().enumerate() {
        for way in ways {
            let undo: Vec<Act> = way.iter().filter_map(|act| act.undone(cruise)).collect();
            let tail = [Act::Wait(within + 4)];
            let plain = [way.clone(), vec![Act::Wait(length)], undo.clone(), tail.to_vec()].concat();
            ranked.push((if round < 2 { 0 } else { 2 }, plain.clone()));
            if moves {
                for offset in [span / 2, span - 1] {
                    ranked.push((if round < 2 { 1 } else { 3 }, [vec![Act::Wait(offset)], plain.clone()].concat()));
                }
            }
            // A reset, or one part after the other, while it happens.
            if let (Some((reset, shortest)), true) = (resets, round < 2) {
                let settles = key_settles(station, reset);
                let press = [key(station, reset, Some(true)), vec![Act::Wait(settles + shortest + 1)]].concat();
                let release = [key(station, reset, None), vec![Act::Wait(settles)]].concat();
                ranked.push((1, [press.clone(), plain.clone()].concat()));
                ranked.push((1, [press, release, plain].concat()));
            }
            if let ([first, rest @ ..], true) = (way.as_slice(), way.len() > 1 && round < 2) {
                let skewed = [vec![*first, Act::Wait(asked)], rest.to_vec(), vec![Act::Wait(length)], undo.clone()];
                ranked.push((1, [skewed.concat(), tail.to_vec()].concat()));
            }
            if round < 4 {
                // Again and again, with short rests.
                let once = [way.clone(), vec![Act::Wait(length)], undo, vec![Act::Wait(length.min(9))]].concat();
                ranked.push((3, [once.clone(), once.clone(), once, tail.to_vec()].concat()));
            }
        }
    }
    for (round, &length) in lengths.iter().take(4).enumerate().filter(|_| !moves) {
        let rank = if round < 2 { 1 } else { 3 };
        ranked.extend(
            ways.iter().filter_map(|way| resets::cleared(station, way, length, within)).map(|acts| (rank, acts)),
        );
    }
    ranked.sort_by_key(|(rank, _)| *rank);
    trials.extend(ranked.into_iter().map(|(_, acts)| acts));
}

/// A gauge that leaves its bounds in the window behind a rise, most of all near its end.
fn behind(
    detector: usize,
    gauge: usize,
    when: When,
    [lowest, highest, top]: [u32; 3],
    within: Scans,
    trials: &mut Vec<Vec<Act>>,
) {
    let values = [lowest.checked_sub(1), Some(highest + 1).filter(|steps| *steps <= top)];
    for part in [64, 63, 62, 60, 48, 32, 8].map(i64::from) {
        let until = match when {
            When::Rise => return,
            When::Scans(scans) => Act::Wait(u32::try_from(i64::from(scans) * part / 64).unwrap_or(0)),
            When::Rope(_, mm) => Act::Roll(i64::from(mm) * part / 64),
        };
        for steps in values.into_iter().flatten() {
            let held = Act::Gauge(gauge, Some(Reading { steps, health: Health::Good }));
            for comes in [vec![Act::Rise(detector)], vec![Act::Carrier(detector), Act::Wait(1)]] {
                let leaves = vec![until, held, Act::Wait(1), Act::Gauge(gauge, None), Act::Wait(within + 4)];
                trials.push([comes.clone(), leaves].concat());
                trials.push([comes, vec![until, held, Act::Wait(within + 4)]].concat());
            }
        }
    }
}

/// A gauge out of its bounds from so long before the rise to so long after it.
fn readings(
    station: &Station,
    detector: usize,
    gauge: usize,
    [lowest, highest, top]: [u32; 3],
    within: Scans,
    trials: &mut Vec<Vec<Act>>,
) {
    let good = |steps| Reading { steps, health: Health::Good };
    let mut values: Vec<Reading> = Vec::new();
    if lowest > 0 {
        values.extend([good(lowest - 1), good(0), good(lowest / 2)]);
    }
    if highest < top {
        values.extend([good(highest + 1), good(top), good(u32::midpoint(highest, top))]);
    }
    values.extend([Health::Doubtful, Health::Broken].map(|health| Reading { steps: 0, health }));
    let mut after = vec![within + 20, 0, 1, 2];
    after.extend(durations(station).into_iter().filter(|n| *n < within + 20));
    for after in after {
        for before in [20, 200, 5, 0] {
            for &reading in &values {
                let held = Act::Gauge(gauge, Some(reading));
                let acts = vec![
                    Act::Near(detector, i64::from(before) * 8),
                    held,
                    Act::Rise(detector),
                    Act::Wait(after),
                    Act::Gauge(gauge, None),
                    Act::Wait(within + 4),
                ];
                trials.push(acts.clone());
                if before == 5 {
                    let here = vec![held, Act::Carrier(detector), Act::Wait(after), Act::Gauge(gauge, None)];
                    trials.push([here, vec![Act::Wait(within + 4)]].concat());
                }
            }
        }
    }
}
