//! Brings a lift to run: rest, reset, start, and on until no stretch refills any more.

use super::acts::Act;
use super::routes::Routes;
use super::solve::{alarms, bits, ways_to};
use super::stage::Stage;
use super::world::{Rate, World};
use crate::lower::Program;
use crate::runner::PlainRunner;
use crate::station::{Condition, InputId, InputKind, Measured, Pace, Station, WatchKind};
use logic_rules::plan::Plan;
use std::sync::OnceLock;

/// What all trials of a station share.
#[derive(Clone, Copy)]
pub(super) struct Shop<'p> {
    pub(super) station: &'p Station,
    pub(super) program: &'p Program,
    pub(super) plan: &'p Plan<'p>,
    pub(super) routes: &'p Routes,
    /// Scans of the first pace's span.
    pub(super) span: i64,
}

/// Stages that trials start from.
pub(super) struct Boots<'p> {
    /// Just reset; the rope is still.
    pub(super) fresh: Stage<'p>,
    /// Running.
    pub(super) running: Stage<'p>,
    /// The speed at which it runs.
    pub(super) cruise: Rate,
    shop: Shop<'p>,
    period: usize,
    rested: OnceLock<Option<Stage<'p>>>,
}
impl<'p> Boots<'p> {
    /// Just reset, with every bypass at rest for long enough; only if there are bypasses. It takes hours of scans, so
    /// that it is made when it is first asked for.
    pub(super) fn rested(&self) -> Option<&Stage<'p>> {
        let made = self.rested.get_or_init(|| {
            let mut stage = dark(&self.shop, self.period)?;
            stage.play(&rests(&self.shop)?);
            Some(stage)
        });
        made.as_ref()
    }
}

/// At power-up.
pub(super) fn dark<'p>(shop: &Shop<'p>, period: usize) -> Option<Stage<'p>> {
    let runner = PlainRunner::power_up(shop.program, shop.plan)?;
    Some(Stage::new(shop.station, runner, World::new(shop.routes), period))
}

/// From power-up to where every bypass has rested; `None` without bypasses.
pub(super) fn rests(shop: &Shop<'_>) -> Option<Vec<Act>> {
    let rest = shop.station.bypasses.iter().map(|b| b.rest).max()?;
    Some([vec![Act::Wait(rest + 20)], reset(shop)].concat())
}

/// From the reset to a lift that runs.
pub(super) fn starts(shop: &Shop<'_>, cruise: Rate) -> Vec<Act> {
    let station = shop.station;
    // A stretch that refills holds the lift to a slow order.
    let pulse = first_pace(station).map_or(1, |(_, p)| i64::from(p.mm_a_pulse.max(1)));
    let ordered = station.slows.iter().filter_map(|s| in_first_span(station, s.pace, s.down_to)).min();
    let slowest = ordered.map_or(i64::MAX, |mm| mm / pulse * pulse);
    let slowest = if slowest > shop.span * pulse { even(slowest, shop.span * pulse) } else { slowest };
    vec![
        Act::Wait(station.restart),
        Act::Speed(Rate { mm: cruise.mm.min(slowest), ..cruise }),
        Act::Roll(refill_run(station) + 100),
        Act::Speed(cruise),
        Act::Roll(3_000),
    ]
}

/// The first pace.
pub(super) fn first_pace(station: &Station) -> Option<(InputId, &Pace)> {
    station.inputs.iter().enumerate().find_map(|(i, input)| match &input.kind {
        InputKind::Pace(p) => Some((i, p)),
        _ => None,
    })
}

/// Speeds (mm in the first pace's span, whole pulses) at or just below which something changes.
pub(super) fn limits(station: &Station) -> Vec<i64> {
    let Some((_, first)) = first_pace(station) else { return Vec::new() };
    let mut all = vec![i64::from(first.top)];
    let mut add = |pace: InputId, mm: i64| {
        all.extend(u32::try_from(mm).ok().and_then(|mm| in_first_span(station, pace, mm)));
    };
    for alarm in alarms(station) {
        alarm.each(&mut |simple| match simple {
            Condition::Faster(pace, mm) => add(*pace, i64::from(*mm) - 1),
            Condition::Back(pace, mm) => add(*pace, i64::from(*mm) - 1),
            _ => {}
        });
    }
    station.modes.iter().filter_map(|m| m.at_most).for_each(|(pace, mm)| add(pace, i64::from(mm)));
    station.bypasses.iter().for_each(|b| add(b.at_most.0, i64::from(b.at_most.1)));
    station.slows.iter().for_each(|s| add(s.pace, i64::from(s.down_to)));
    for (pace, least, most) in bands(station) {
        add(pace, least);
        add(pace, most);
    }
    let pulse = i64::from(first.mm_a_pulse.max(1));
    let mut all: Vec<i64> = all.into_iter().map(|mm| mm.div_euclid(pulse) * pulse).filter(|mm| *mm > 0).collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// Travel in a pace's span as travel in that of the first pace.
pub(super) fn in_first_span(station: &Station, pace: InputId, mm: u32) -> Option<i64> {
    let (_, first) = first_pace(station)?;
    match station.inputs.get(pace).map(|i| &i.kind) {
        Some(InputKind::Pace(p)) => Some(i64::from(mm) * i64::from(first.span) / i64::from(p.span.max(1))),
        _ => None,
    }
}

fn bands(station: &Station) -> Vec<(InputId, i64, i64)> {
    let measured = station.watches.iter().filter_map(|w| match &w.kind {
        WatchKind::Travel(t) => Some(t.measured),
        WatchKind::Spacing(s) => Some(s.measured),
        _ => None,
    });
    let band = |m| match m {
        Measured::Time { pace, least, most } => Some((pace, i64::from(least), i64::from(most))),
        Measured::Rope(_) => None,
    };
    measured.filter_map(band).collect()
}

/// Speeds to try to run at: in the bands that are asked for, then below each limit, fastest first.
fn cruises(station: &Station) -> Vec<i64> {
    let Some((_, first)) = first_pace(station) else { return vec![0] };
    let pulse = i64::from(first.mm_a_pulse.max(1));
    let middle = bands(station).into_iter().map(|(_, least, most)| i64::midpoint(least, most));
    // Whole pulses in every scan where nothing speaks against it: histories are shorter to tell.
    let whole = pulse * i64::from(first.span.max(1));
    let below = limits(station).into_iter().rev().map(|mm| mm * 15 / 16).map(|mm| even(mm, whole));
    middle.chain(below).map(|mm| mm / pulse * pulse).filter(|mm| *mm > 0).collect()
}

/// Rounded down to a multiple, but to nothing less than one.
pub(super) fn even(mm: i64, whole: i64) -> i64 {
    (mm / whole.max(1)).max(1) * whole.max(1)
}

/// Holds the channels of a key, or lets them go.
pub(super) fn key(station: &Station, key: InputId, held: Option<bool>) -> Vec<Act> {
    station.channels_of(key).into_iter().map(|channel| Act::Channel(channel, held)).collect()
}

/// Scans after which a key's change is taken.
pub(super) fn key_settles(station: &Station, key: InputId) -> u32 {
    match station.inputs.get(key).map(|i| &i.kind) {
        Some(InputKind::Key(k)) => k.settle.up.max(k.settle.down),
        _ => 0,
    }
}

/// From a rope that runs to no stop standing: still, the reset's time, the key.
pub(super) fn reset(shop: &Shop<'_>) -> Vec<Act> {
    let station = shop.station;
    let Some(reset) = &station.reset else { return Vec::new() };
    let span = u32::try_from(shop.span).unwrap_or(0);
    let mut acts = vec![Act::Speed(Rate { mm: 0, scans: 1 })];
    let helps = if bits(station, &reset.when, &shop.routes.base).1 {
        Vec::new()
    } else {
        ways_to(station, &reset.when, true).into_iter().next().unwrap_or_default()
    };
    acts.extend(helps.iter().copied().filter(|act| !matches!(act, Act::Speed(_))));
    acts.push(Act::Wait(3 * span + reset.lasting + 110));
    acts.extend(key(station, reset.key, Some(true)));
    let settles = key_settles(station, reset.key);
    acts.push(Act::Wait(settles + reset.shortest + 2));
    acts.extend(key(station, reset.key, None));
    acts.push(Act::Wait(settles + 3));
    acts.extend(helps.iter().filter_map(|act| act.undone(Rate::default())));
    acts
}

/// Rope after which no stretch refills.
pub(super) fn refill_run(station: &Station) -> i64 {
    let runs = station.watches.iter().filter_map(|w| match &w.kind {
        WatchKind::Travel(t) => Some(i64::from(t.run)),
        _ => None,
    });
    runs.max().unwrap_or(0)
}

/// Boots the station; `None` if it is not got to run.
pub(super) fn boot<'p>(shop: &Shop<'p>, period: usize) -> Option<Boots<'p>> {
    let station = shop.station;
    let mut fresh = dark(shop, period)?;
    fresh.play(&reset(shop));
    let (running, cruise) = cruises(station).into_iter().find_map(|mm| {
        let (cruise, mut stage) = (Rate { mm, scans: shop.span }, fresh.fork());
        let stopped = stage.play(&starts(shop, cruise));
        (!stopped).then_some((stage, cruise))
    })?;
    let is_free = fresh.told.answer < station.first_stop();
    is_free.then_some(Boots { fresh, running, cruise, shop: *shop, period, rested: OnceLock::new() })
}
