//! Changes of a trial, by chance.

use super::acts::Act;
use super::boot::{Shop, key, limits};
use super::rng::Rng;
use super::routes::Left;
use super::world::Rate;
use crate::station::InputKind;

/// The acts with one to three changes.
pub(super) fn changed(acts: &[Act], rng: &mut Rng, shop: &Shop<'_>) -> Vec<Act> {
    let mut acts = acts.to_vec();
    for _ in 0..=rng.below(3) {
        let at = rng.below(acts.len() + 1);
        match rng.below(6) {
            0 => {
                acts.insert(at.min(acts.len()), Act::Wait(u32::try_from(1 + rng.below(30)).unwrap_or(1)));
            }
            1 if at < acts.len() => {
                acts.remove(at);
            }
            2 => {
                let other = rng.below(acts.len().max(1));
                if at < acts.len() {
                    acts.swap(at, other);
                }
            }
            3 => {
                if let Some(act) = something(rng, shop) {
                    acts.insert(at.min(acts.len()), act);
                }
            }
            _ => nudge(&mut acts, at, rng),
        }
    }
    acts
}

fn nudge(acts: &mut [Act], at: usize, rng: &mut Rng) {
    let by = i64::try_from(rng.below(9)).unwrap_or(0) - 4;
    match acts.get_mut(at) {
        Some(Act::Wait(scans)) => *scans = scans.saturating_add_signed(i32::try_from(by).unwrap_or(0)),
        Some(Act::Near(_, mm) | Act::Roll(mm)) => *mm = (*mm + by * 25).max(0),
        Some(Act::Deviate(_, _, Some(Left::Rope(left)))) => *left = (*left + by * 5).max(1),
        Some(Act::Deviate(_, _, Some(Left::Scans(left)))) => *left = (*left + by).max(1),
        Some(Act::Speed(rate)) => rate.mm += by * 5,
        Some(Act::Gauge(_, Some(reading))) => {
            reading.steps = reading.steps.saturating_add_signed(i32::try_from(by).unwrap_or(0));
        }
        _ => {}
    }
}

/// A key, a speed, a carrier or an input away from rest.
fn something(rng: &mut Rng, shop: &Shop<'_>) -> Option<Act> {
    let station = shop.station;
    let input = rng.below(station.inputs.len());
    match &station.inputs.get(input)?.kind {
        InputKind::Key(_) => key(station, input, [Some(true), None].get(rng.below(2)).copied()?).first().copied(),
        InputKind::Pace(_) => {
            let mm = rng.pick(&limits(station))?;
            Some(Act::Speed(Rate { mm, scans: shop.span }))
        }
        InputKind::Detector(_) => shop.routes.number(input).map(Act::Carrier),
        InputKind::Contact(c) => {
            Some(Act::Channel(c.channel, [Some(!c.rests_closed), None].get(rng.below(2)).copied()?))
        }
        InputKind::Pair(p) => {
            let one = rng.below(2);
            let rest = p.rests_closed != (p.opposed && one == 1);
            Some(Act::Channel(*p.channels.get(one)?, [Some(!rest), None].get(rng.below(2)).copied()?))
        }
        InputKind::Gauge(_) | InputKind::Link(_) => None,
    }
}
