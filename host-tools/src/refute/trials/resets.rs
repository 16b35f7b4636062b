//! Trials with a reset in them.

use super::super::acts::Act;
use super::super::boot::{Boots, Shop, key, key_settles};
use super::super::solve::{alarms, ways_to};
use super::super::world::Rate;
use crate::station::{Condition, InputId, InputKind, Reset, Scans, Station};

/// The condition brought about on a rope that has long stood, for so long, and a reset right behind it: what outlasts it must
/// be asked for again.
pub(super) fn cleared(station: &Station, way: &[Act], length: Scans, within: Scans) -> Option<Vec<Act>> {
    let still = Rate { mm: 0, scans: 1 };
    let Reset { key: reset, shortest, lasting, .. } = station.reset.as_ref()?;
    let (settles, press) = (key_settles(station, *reset), shortest.saturating_add(1));
    let before = vec![Act::Speed(still), Act::Wait(lasting.saturating_add(110))];
    let undo = way.iter().filter_map(|act| act.undone(still)).collect();
    let down = [key(station, *reset, Some(true)), vec![Act::Wait(press)]].concat();
    let up = [key(station, *reset, None), vec![Act::Wait(settles + 3), Act::Free(1), Act::Wait(within + 4)]].concat();
    Some([before, way.to_vec(), vec![Act::Wait(length)], undo, vec![Act::Wait(settles)], down, up].concat())
}

/// A stop, the rope brought to rest, and the reset so long after it, about the time for which something must have held.
pub(super) fn releases(shop: &Shop<'_>, boots: &Boots<'_>, lasting: Scans, trials: &mut Vec<Vec<Act>>) {
    let station = shop.station;
    let Some((reset, shortest)) = station.reset.as_ref().map(|r| (r.key, r.shortest)) else { return };
    let press = shortest.saturating_add(1);
    let settles = key_settles(station, reset);
    let span = u32::try_from(shop.span).unwrap_or(0);
    // The press is over when the rope has been still for so long; its speed shows after a span.
    let sooner = [40, 30, 20, 10, 5, 2, 0].map(|by| lasting.saturating_add(span).saturating_sub(by));
    let later = [5, 10, 20].map(|by| lasting.saturating_add(span).saturating_add(by));
    let pulse = shop.routes.pulses.get(shop.routes.rope).copied().unwrap_or(1);
    let creeps = [1, 2, 3].map(|pulses| Rate { mm: pulses * pulse, scans: shop.span });
    for alarm in alarms(station).into_iter().take(4) {
        let Some(way) = ways_to(station, alarm, true).into_iter().next() else { continue };
        // The rope creeps all the time.
        for rate in creeps {
            let undo: Vec<Act> = way.iter().filter_map(|act| act.undone(rate)).collect();
            let rests = [Act::Speed(rate), Act::Wait(lasting.saturating_add(4 * span))];
            let down = [key(station, reset, Some(true)), vec![Act::Wait(press)]].concat();
            let up = [key(station, reset, None), vec![Act::Wait(settles + 6)]].concat();
            trials.push([way.clone(), vec![Act::Wait(60)], undo, rests.to_vec(), down, up].concat());
        }
        let undo: Vec<Act> = way.iter().filter_map(|act| act.undone(Rate { mm: 0, scans: 1 })).collect();
        for until in [0, 10, 50].into_iter().chain(sooner).chain(later) {
            let rests = [Act::Speed(Rate { mm: 0, scans: 1 }), Act::Wait(until.saturating_sub(press))];
            let down = [key(station, reset, Some(true)), vec![Act::Wait(press)]].concat();
            let up = [key(station, reset, None), vec![Act::Wait(settles + 6)]].concat();
            let cruise = [Act::Speed(boots.cruise), Act::Wait(10)];
            trials.push(
                [way.clone(), vec![Act::Wait(60)], undo.clone(), rests.to_vec(), down, up, cruise.to_vec()].concat(),
            );
        }
    }
}

/// The condition broken until the rope has long stood, and restored about when the reset key is pressed for as short as may be.
pub(super) fn presses(shop: &Shop<'_>, condition: &Condition, trials: &mut Vec<Vec<Act>>) {
    let station = shop.station;
    let Some(Reset { key: reset, shortest, lasting, .. }) = station.reset else { return };
    let settles = key_settles(station, reset);
    let stands = lasting.saturating_add(2 * u32::try_from(shop.span).unwrap_or(0)) + 20;
    let (down, up) = (key(station, reset, Some(true)), key(station, reset, None));
    let away = |act: &Act| matches!(act, Act::Channel(..) | Act::Gauge(..) | Act::Link(..));
    let broken = ways_to(station, condition, false);
    let broken: Vec<&Vec<Act>> = broken.iter().filter(|way| way.iter().all(away)).take(6).collect();
    // First with the key settled just as the condition holds.
    let mut apart: Vec<u32> = (0..=settles.saturating_add(2)).collect();
    apart.sort_by_key(|apart| apart.abs_diff(settles));
    for sooner in [true, false] {
        for (&apart, length) in apart.iter().flat_map(|apart| [(apart, shortest), (apart, shortest.saturating_add(1))])
        {
            for way in &broken {
                let undo = way.iter().filter_map(|act| act.undone(Rate { mm: 0, scans: 1 })).collect();
                let before = [Act::Wait(60), Act::Speed(Rate { mm: 0, scans: 1 }), Act::Wait(stands)];
                let [first, then] = if sooner { [down.clone(), undo] } else { [undo, down.clone()] };
                let left = Act::Wait(if sooner { length.saturating_sub(apart) } else { length });
                let end = [vec![left], up.clone(), vec![Act::Wait(settles + 6)]].concat();
                trials.push([(*way).clone(), before.to_vec(), first, vec![Act::Wait(apart)], then, end].concat());
            }
        }
    }
}

/// Every alarm brought about, then whatever might clear its stop: every key, pressed and let go.
pub(super) fn stops(shop: &Shop<'_>, boots: &Boots<'_>, trials: &mut Vec<Vec<Act>>) {
    let station = shop.station;
    let keys: Vec<InputId> = (0..station.inputs.len())
        .filter(|&i| matches!(station.inputs.get(i).map(|i| &i.kind), Some(InputKind::Key(_))))
        .collect();
    let press = |k: InputId| {
        let settles = key_settles(station, k);
        let down = [key(station, k, Some(true)), vec![Act::Wait(settles + 15)]].concat();
        [down, key(station, k, None), vec![Act::Wait(settles + 10)]].concat()
    };
    for alarm in alarms(station) {
        for way in ways_to(station, alarm, true).into_iter().take(3) {
            let undo: Vec<Act> = way.iter().filter_map(|act| act.undone(Rate { mm: 0, scans: 1 })).collect();
            let mut acts = [way, vec![Act::Wait(60)], undo].concat();
            acts.extend([Act::Speed(Rate { mm: 0, scans: 1 }), Act::Wait(720)]);
            acts.extend(keys.iter().flat_map(|k| press(*k)));
            acts.extend([Act::Speed(boots.cruise), Act::Wait(100), Act::Free(1)]);
            trials.push(acts);
        }
    }
}
