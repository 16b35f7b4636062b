//! Circumstances in which a requirement must hold as well.

use super::acts::Act;
use super::boot::{Boots, Shop, even, first_pace, key, key_settles, limits, refill_run, reset};
use super::routes::Routes;
use super::solve::cuts;
use super::stage::Stage;
use super::world::Rate;
use crate::sample::{Frame, Health, Reading};
use crate::station::{Form, InputId, InputKind, Requirement, Station};

/// Where a context starts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum From {
    Fresh,
    Running,
    Rested,
}

/// Acts that bring it about.
#[derive(Debug, Clone)]
pub(super) struct Context {
    pub(super) from: From,
    pub(super) acts: Vec<Act>,
}

impl Context {
    /// Passengers ride: it comes about in the first mode, and all that holds an input is a gauge or a detector.
    pub(super) fn is_riding(&self) -> bool {
        self.from != From::Rested && !self.acts.iter().any(|act| matches!(act, Act::Channel(..)))
    }
    /// Its stage, if it can be had.
    pub(super) fn stage<'p>(&self, boots: &Boots<'p>) -> Option<Stage<'p>> {
        let mut stage = match self.from {
            From::Fresh => boots.fresh.fork(),
            From::Running => boots.running.fork(),
            From::Rested => boots.rested()?.fork(),
        };
        stage.play(&self.acts);
        Some(stage)
    }
}

/// The first mode given up for another, at standstill.
fn turns(station: &Station, mode: usize) -> Vec<Act> {
    let (Some(first), Some(next)) = (station.modes.first(), station.modes.get(mode)) else { return Vec::new() };
    let mut acts = key(station, first.key, Some(false));
    acts.extend(key(station, next.key, Some(true)));
    acts
}

/// Everything around a requirement, the plainest first.
pub(super) fn contexts(shop: &Shop<'_>, boots: &Boots<'_>, requirement: &Requirement) -> Vec<Context> {
    let station = shop.station;
    let settled = Act::Wait(u32::try_from(2 * shop.span).unwrap_or(0) + 6);
    let mut all = Vec::new();
    let mut add = |from, acts: Vec<Act>| all.push(Context { from, acts });
    let at = |mm: i64| Act::Speed(Rate { mm, scans: shop.span });
    let slowest = first_pace(station).map_or(0, |(_, p)| i64::from(p.mm_a_pulse));
    add(From::Running, Vec::new());
    add(From::Running, vec![at(0), settled]);
    let speeds = limits(station);
    let creep = speeds.first().map_or(slowest, |least| *least);
    // Modes, still and at their limits; in each, every key held.
    let keys: Vec<InputId> = (0..station.inputs.len())
        .filter(|&i| matches!(station.inputs.get(i).map(|i| &i.kind), Some(InputKind::Key(_))))
        .filter(|&i| !station.modes.iter().any(|m| m.key == i))
        .collect();
    let capped = |mode: usize| {
        let cap = station.modes.get(mode).and_then(|m| m.at_most).map(|(pace, mm)| {
            let span = match station.inputs.get(pace).map(|i| &i.kind) {
                Some(InputKind::Pace(p)) => i64::from(p.span),
                _ => shop.span,
            };
            i64::from(mm) * shop.span / span.max(1)
        });
        cap.unwrap_or(boots.cruise.mm).min(boots.cruise.mm) / slowest.max(1) * slowest.max(1)
    };
    for mode in 1..station.modes.len() {
        add(From::Fresh, [turns(station, mode), vec![settled, at(capped(mode)), settled]].concat());
        add(From::Fresh, [turns(station, mode), vec![settled]].concat());
    }
    for (b, bypass) in station.bypasses.iter().enumerate() {
        let pressed = |b: usize| {
            let key_id = station.bypasses.get(b).map_or(0, |b| b.key);
            [key(station, key_id, Some(true)), vec![Act::Wait(key_settles(station, key_id) + 3)]].concat()
        };
        let limit = i64::from(bypass.at_most.1) / slowest.max(1) * slowest.max(1);
        for mode in 0..station.modes.len() {
            let turned = if mode == 0 { Vec::new() } else { turns(station, mode) };
            for mm in [limit.min(capped(mode)), 0, capped(mode)] {
                let run = vec![settled, at(mm), settled];
                add(From::Rested, [turned.clone(), run.clone(), pressed(b)].concat());
            }
            // Held on until nothing is left, let go and pressed again.
            let again = [
                turned.clone(),
                vec![settled, at(limit.min(capped(mode))), settled],
                pressed(b),
                key(station, bypass.key, None),
                vec![Act::Wait(key_settles(station, bypass.key) + 2)],
                pressed(b),
            ];
            add(From::Rested, again.concat());
            if bypass.modes.contains(&mode) && bypass.budget <= 60_000 {
                let spent = [turned, vec![settled], pressed(b), vec![Act::Wait(bypass.budget + 2)]].concat();
                add(From::Rested, [spent.clone(), vec![at(creep), settled]].concat());
                let repressed = [spent, key(station, bypass.key, None), vec![Act::Wait(9)], pressed(b)].concat();
                add(From::Rested, repressed);
            }
        }
    }
    for &held in &keys {
        let down = [key(station, held, Some(true)), vec![Act::Wait(key_settles(station, held) + 2)]].concat();
        let up = [key(station, held, None), vec![Act::Wait(key_settles(station, held) + 2)]].concat();
        add(From::Running, down.clone());
        add(From::Running, [vec![at(0), settled], down.clone(), up, vec![at(boots.cruise.mm), settled]].concat());
        for mode in 1..station.modes.len() {
            add(From::Fresh, [turns(station, mode), vec![settled, at(capped(mode)), settled], down.clone()].concat());
        }
    }
    for mm in [slowest, creep].into_iter().chain(speeds.iter().flat_map(|mm| [*mm, mm + slowest])) {
        add(From::Running, vec![at(mm), settled]);
    }
    for mm in speeds.iter().take(2) {
        add(From::Running, vec![at(-mm), settled]);
    }
    // After the reset: still, running, and stopped once more and reset.
    add(From::Fresh, Vec::new());
    add(From::Fresh, vec![at(boots.cruise.mm), settled]);
    add(From::Fresh, vec![at(creep), settled]);
    others(shop, requirement, &mut add);
    all
}

/// Inputs that the requirement does not speak of, away from rest; slow orders and stops of the link.
fn others(shop: &Shop<'_>, requirement: &Requirement, add: &mut impl FnMut(From, Vec<Act>)) {
    let station = shop.station;
    let own = spoken(requirement);
    let settled = Act::Wait(u32::try_from(2 * shop.span).unwrap_or(0) + 6);
    for (i, input) in station.inputs.iter().enumerate().filter(|(i, _)| !own.contains(i)) {
        match &input.kind {
            InputKind::Contact(c) => {
                let off = Act::Channel(c.channel, Some(!c.rests_closed));
                add(From::Running, vec![off, settled]);
                let cleared = vec![off, Act::Wait(40), Act::Channel(c.channel, None)];
                add(From::Running, [cleared, reset(shop), vec![settled]].concat());
            }
            InputKind::Pair(p) => {
                let off = [
                    Act::Channel(p.channels[0], Some(!p.rests_closed)),
                    Act::Channel(p.channels[1], Some(p.rests_closed == p.opposed)),
                ];
                add(From::Running, off.into_iter().chain([settled]).collect());
            }
            InputKind::Detector(d) => add(From::Running, vec![Act::Channel(d.channel, Some(true)), Act::Wait(6)]),
            InputKind::Gauge(g) => {
                let mut edges = vec![0];
                edges.extend(cuts(station, i));
                edges.push(g.top);
                for pair in edges.windows(2) {
                    if let [from, to] = pair {
                        let reading = Reading { steps: u32::midpoint(*from, *to), health: Health::Good };
                        add(From::Running, vec![Act::Gauge(g.terminal, Some(reading)), Act::Wait(350)]);
                    }
                }
            }
            InputKind::Link(l) => {
                for order in 1..=station.worst() {
                    add(From::Running, vec![Act::Link(l.terminal, Some(Frame { fresh: true, order })), Act::Wait(5)]);
                }
            }
            InputKind::Pace(_) | InputKind::Key(_) => {}
        }
    }
}

/// Inputs that a requirement speaks of.
pub(super) fn spoken(requirement: &Requirement) -> Vec<InputId> {
    use crate::station::Condition as C;
    let mut all = Vec::new();
    let mut see = |simple: &C| {
        if let C::High(i) | C::AtLeast(i, _) | C::Faster(i, _) | C::Back(i, _) | C::Faulty(i) = simple {
            all.push(*i);
        }
    };
    match &requirement.form {
        Form::Whenever { condition, .. }
        | Form::Never { condition, .. }
        | Form::Effect { condition, .. }
        | Form::NeverReleasedBut { condition, .. } => {
            condition.each(&mut see);
        }
        Form::WhenRises { detector, gauge, .. } => all.extend([*detector, *gauge]),
        Form::After { from, to, .. } => all.extend([*from, *to]),
        Form::Held { claim, .. } => all.extend(claim.inputs()),
        Form::NeverReleased { .. } | Form::NeverPermitted { .. } | Form::NeverTogether(..) => {}
    }
    all
}

/// Where a carrier that is to pass a detector must start, far or near: at the head of the lane, or (after a
/// reset) right at the detector.
pub(super) fn carriers(shop: &Shop<'_>, boots: &Boots<'_>, detector: usize, around: &[Context]) -> Vec<Context> {
    let routes = shop.routes;
    let head = head(routes, detector);
    let mut all = Vec::new();
    let settled = Act::Wait(u32::try_from(2 * shop.span).unwrap_or(0) + 6);
    let starts = |at: usize| {
        if at == detector { Vec::new() } else { vec![Act::Carrier(at), Act::Wait(1), Act::Near(detector, 2_500)] }
    };
    // The way there is long: what is around comes about when the carrier is near.
    let near = [Act::Speed(boots.cruise)].into_iter().chain(starts(head)).collect::<Vec<_>>();
    for context in around.iter().filter(|c| c.from == From::Running) {
        let acts: Vec<Act> = near.iter().chain(context.acts.iter()).copied().collect();
        all.push(Context { from: From::Running, acts });
    }
    let run = refill_run(shop.station);
    for part in [0, run / 8, run / 6, run / 4, run / 2, run - 100, run + 100] {
        let step = routes.pulses.get(routes.rope).copied().unwrap_or(1) * boots.cruise.scans;
        let creep = Act::Speed(Rate { mm: even(boots.cruise.mm / 4, step), scans: boots.cruise.scans });
        all.insert(1.min(all.len()), Context { from: From::Fresh, acts: vec![creep, settled, Act::Roll(part)] });
    }
    for context in around.iter().filter(|c| c.from == From::Rested || c.from == From::Fresh) {
        all.push(context.clone());
    }
    all
}

/// The first detector on the way to this one.
pub(super) fn head(routes: &Routes, detector: usize) -> usize {
    let mut head = detector;
    for _ in 0..routes.detectors.len() {
        let before = routes.detectors.iter().position(|d| d.legs.iter().any(|leg| leg.to == head));
        match before {
            Some(before) if before != detector => head = before,
            _ => break,
        }
    }
    head
}
