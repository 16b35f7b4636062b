//! Carriers of a trial: too close, from nowhere, too many, at a wrong age, or never.

use super::super::acts::Act;
use super::super::boot::{self, Boots, Shop, even};
use super::super::contexts::head;
use super::super::routes::{Left, Stand};
use super::super::world::Rate;
use crate::station::{Measured, Scans, WatchKind};

/// Two carriers, one closer behind the other than is claimed.
pub(super) fn passings(detector: usize, rope: bool, least: u32, within: Scans, trials: &mut Vec<Vec<Act>>) {
    for part in [least.saturating_sub(1), least / 2, least / 4 * 3, least / 8 * 7, least / 64 * 63, least / 8, 1] {
        let between = if rope { Act::Roll(i64::from(part)) } else { Act::Wait(part) };
        trials.push(vec![Act::Carrier(detector), between, Act::Carrier(detector), Act::Wait(within + 4)]);
    }
}

/// A carrier that nobody awaits, once it is known that nobody is under way; alone, and behind one that was awaited.
pub(super) fn strays([from, to]: [usize; 2], latest: u32, tail: Act, trials: &mut Vec<Vec<Act>>) {
    for more in [60, 200, 1_000] {
        let known = [Act::Roll(i64::from(latest) + more)];
        let stray = [Act::Carrier(to), tail];
        trials.push([&known[..], &stray].concat());
        let awaited = [Act::Carrier(from), Act::Wait(1), Act::Rise(to), Act::Roll(600)];
        trials.push([&known[..], &awaited, &stray].concat());
    }
}

/// One carrier more than may be under way, at several distances, of which none arrives.
pub(super) fn crowd([from, to]: [usize; 2], latest: u32, most: u32, tail: Act, trials: &mut Vec<Vec<Act>>) {
    let latest = i64::from(latest);
    for part in [1, 2, 4] {
        let apart = latest / (i64::from(most) + 2) / part;
        for more in [60, 200] {
            let mut acts = vec![Act::Roll(latest + more)];
            for _ in 0..=most {
                acts.extend([Act::Deviate(from, to, None), Act::Carrier(from), Act::Roll(apart)]);
            }
            acts.push(tail);
            trials.push(acts);
        }
    }
}

/// One carrier more than may be under way, just as the first of them arrives.
pub(super) fn overlapping(
    [from, to]: [usize; 2],
    latest: u32,
    most: u32,
    step: i64,
    tail: Act,
    trials: &mut Vec<Vec<Act>>,
) {
    let latest = i64::from(latest);
    let apart = latest / (i64::from(most) + 2);
    for scans in [0, 1, 2, 3, 4] {
        let mut acts = vec![Act::Roll(latest + 200)];
        for _ in 0..most {
            acts.extend([Act::Carrier(from), Act::Roll(apart)]);
        }
        acts.extend([Act::Near(to, scans * step), Act::Carrier(from), tail]);
        trials.push(acts);
    }
}

/// One carrier more than may be under way soon after a refill: those that stood on the stretch before come from nowhere, and
/// the last one comes as it should.
pub(super) fn bunched(
    shop: &Shop<'_>,
    boots: &Boots<'_>,
    [from, to]: [usize; 2],
    latest: u32,
    most: u32,
    tail: Act,
    trials: &mut Vec<Vec<Act>>,
) {
    let leg = |to: usize| {
        let legs = |(at, stand): (usize, &Stand)| {
            stand.legs.iter().find(|leg| leg.to == to).map(|leg| (at, leg.left.amount()))
        };
        shop.routes.detectors.iter().enumerate().find_map(legs)
    };
    let (Some((before, comes)), Some((_, takes))) = (leg(from), leg(to)) else { return };
    let pulse = shop.routes.pulses.get(shop.routes.rope).copied().unwrap_or(1);
    let still = boot::first_pace(shop.station).map_or(0, |(_, p)| i64::from(p.still));
    let tiny = Act::Speed(Rate { mm: (still / pulse + 1) * pulse, scans: boots.cruise.scans });
    let begins = [tiny, Act::Wait(u32::try_from(2 * boots.cruise.scans).unwrap_or(0) + 2), Act::Speed(boots.cruise)];
    // The first of them takes its time.
    let takes = i64::midpoint(takes, i64::from(latest));
    // All of them while nobody is a stray yet; when it is known who is under way, the first has not come.
    for apart in [700, 1_000] {
        let strays = (0..i64::from(most)).map(|i| (400 + i * apart, from));
        let mut passes: Vec<(i64, usize)> = strays.chain([(300, before)]).collect();
        passes.sort_unstable();
        let (mut acts, mut run) = (begins.to_vec(), 0);
        for (at, detector) in passes {
            acts.extend([Act::Roll(at - run), Act::Carrier(detector)]);
            run = at;
        }
        acts.extend([Act::Deviate(from, to, None), Act::Roll(i64::from(latest) + 60 - run), tail]);
        trials.push(acts);
    }
    for more in [40, 60, 100, 200] {
        // Where the rope is when each of them passes; the last passes when it is known who is under way.
        let last = i64::from(latest).max(comes) + more;
        let first = last - takes + 2 * more;
        let mut passes = vec![(last - comes, before)];
        passes.extend((0..i64::from(most)).map(|i| (first + (last - first) * i / i64::from(most.max(1)), from)));
        passes.sort_unstable();
        if passes.first().is_none_or(|(at, _)| *at < 0) {
            continue;
        }
        let (mut acts, mut run) = (begins.to_vec(), 0);
        acts.push(Act::Deviate(from, to, Some(Left::Rope(takes))));
        for (at, detector) in passes {
            acts.extend([Act::Roll(at - run), Act::Carrier(detector)]);
            run = at;
        }
        acts.extend([Act::Roll(last - run), tail]);
        trials.push(acts);
    }
}

/// Carriers that come at ages around every limit, at several speeds, or never.
pub(super) fn arrivals(
    shop: &Shop<'_>,
    boots: &Boots<'_>,
    [from, to]: [usize; 2],
    measured: Measured,
    window: [u32; 2],
    within: Scans,
    trials: &mut Vec<Vec<Act>>,
) {
    let station = shop.station;
    let rope = matches!(measured, Measured::Rope(_));
    let mut limits = window.to_vec();
    for watch in &station.watches {
        if let WatchKind::Travel(t) = &watch.kind
            && shop.routes.number(t.from) == Some(from)
            && shop.routes.number(t.to) == Some(to)
        {
            limits.extend([t.earliest, t.latest]);
        }
    }
    let pulse = if rope { shop.routes.pulses.get(shop.routes.rope).copied().unwrap_or(1) } else { 1 };
    let mut ages: Vec<Option<i64>> = vec![Some(i64::from(window[0]) / 2), None];
    let [earliest, latest] = window.map(i64::from);
    ages.extend([Some(earliest - pulse), Some(latest + pulse), Some(earliest / 8), Some(latest + 3 * pulse)]);
    for limit in limits.into_iter().map(i64::from) {
        for by in [1, 2, 4, 8, 12, 16, 24] {
            ages.extend([Some(limit - by * pulse), Some(limit + by * pulse)]);
        }
    }
    ages.retain(|age| age.is_none_or(|age| age > 0 && (age < earliest || age > latest)));
    ages.dedup();
    let pulse_mm = shop.routes.pulses.get(shop.routes.rope).copied().unwrap_or(1);
    let step = pulse_mm * boots.cruise.scans;
    let slow = |part: i64| Act::Speed(Rate { mm: even(boots.cruise.mm / part, step), scans: boots.cruise.scans });
    let band = banded(shop, boots.cruise, measured);
    let cruise = Act::Speed(band.unwrap_or(boots.cruise));
    let still = boot::first_pace(station).map_or(0, |(_, p)| i64::from(p.still));
    let tiny = Act::Speed(Rate { mm: (still / pulse_mm + 1) * pulse_mm, scans: boots.cruise.scans });
    let schedules = [
        (band.map(Act::Speed), None),
        (Some(cruise), Some(slow(10))),
        (Some(slow(10)), Some(slow(10))),
        (Some(slow(10)), Some(cruise)),
        (None, Some(tiny)),
        (Some(slow(4)), None),
        (Some(tiny), Some(cruise)),
    ];
    let until = |end: i64| if rope { Act::Roll(end) } else { Act::Wait(u32::try_from(end.max(0)).unwrap_or(0)) };
    if !rope {
        // Nobody is known to be there until so long has passed; then one comes and creeps without an end.
        let creeps = [tiny, Act::Wait(u32::try_from(latest).unwrap_or(0).saturating_add(within + 4))];
        let comes = [cruise, Act::Carrier(head(shop.routes, from)), Act::Deviate(from, to, None), Act::Rise(from)];
        trials.push([&creeps[..], &comes, &[Act::Wait(6)], &creeps].concat());
        // The stretch is so short that it must creep at once to be on it for so long.
        trials.push([&creeps[..], &comes, &creeps].concat());
        // The next one, when the lift has long run in the band, never comes.
        let head = head(shop.routes, from);
        let next =
            [cruise, Act::Rise(from), Act::Roll(gap(shop, head)), Act::Carrier(head), Act::Deviate(from, to, None)];
        let never = [Act::Rise(from), until(latest + 20), Act::Wait(within + 4)];
        trials.push([&next[..], &never].concat());
    }
    let tail = u32::try_from(latest * boots.cruise.scans / boots.cruise.mm.max(1)).unwrap_or(0) + within + 40;
    let mut deeper = Vec::new();
    for (at_start, at_end) in schedules {
        for &age in &ages {
            for direct in [false, true] {
                let left = age.map(|age| if rope { Left::Rope(age) } else { Left::Scans(age) });
                let mut acts = vec![Act::Deviate(from, to, left)];
                acts.extend(at_start);
                acts.extend(if direct { vec![Act::Carrier(from), Act::Wait(1)] } else { vec![Act::Rise(from)] });
                match (at_end, age) {
                    (Some(end), Some(_)) => acts.extend([Act::Wait(6), cruise, Act::Near(to, 150), end]),
                    // It does not come, and the rope creeps while that is told.
                    (Some(end), None) => {
                        acts.extend([
                            Act::Wait(6),
                            cruise,
                            until(latest - if rope { 400 } else { 40 }),
                            end,
                            Act::Wait(600),
                        ]);
                    }
                    (None, _) => {}
                }
                if age.is_some() {
                    acts.extend([Act::Rise(to), Act::Wait(within + 4)]);
                } else {
                    acts.extend([cruise, until(latest + if rope { 200 } else { 20 }), Act::Wait(within + 4)]);
                }
                trials.push(acts.clone());
                // Then the next ones, as many as are followed and one more.
                let rest = [Act::Carrier(from), Act::Wait(tail), Act::Carrier(from), Act::Wait(tail)];
                deeper.push([acts, rest.to_vec()].concat());
            }
        }
    }
    trials.extend(deeper);
}

/// A speed in the middle of the band in which a stretch is timed, if the lift does not run in it.
fn banded(shop: &Shop<'_>, cruise: Rate, measured: Measured) -> Option<Rate> {
    let Measured::Time { pace, least, most } = measured else { return None };
    let in_span = |mm: u32| boot::in_first_span(shop.station, pace, mm);
    let (least, most) = (in_span(least)?, in_span(most)?);
    let pulse = shop.routes.pulses.get(shop.routes.rope).copied().unwrap_or(1).max(1);
    let mm = i64::midpoint(least, most) / pulse * pulse;
    (!(least..=most).contains(&cruise.mm)).then_some(Rate { mm, ..cruise })
}

/// How near two carriers may follow each other at a detector, as far as a rule watches it, mm.
fn gap(shop: &Shop<'_>, detector: usize) -> i64 {
    let least = |kind: &WatchKind| match kind {
        WatchKind::Spacing(spacing) if shop.routes.number(spacing.detector) == Some(detector) => {
            matches!(spacing.measured, Measured::Rope(_)).then_some(i64::from(spacing.least))
        }
        _ => None,
    };
    shop.station.watches.iter().filter_map(|watch| least(&watch.kind)).max().unwrap_or(0)
}
