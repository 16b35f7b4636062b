//! Where trials have come to that found nothing: states from which a solver looks further.

use super::History;
use super::acts::Act;
use super::boot::{Boots, Shop, even, first_pace};
use super::contexts::head;
use super::stage::Stage;
use super::world::Rate;
use crate::station::{Form, Measured, Rank, Requirement};

/// Scans before the answer of a trial at which a search starts.
const BEFORE: [u64; 2] = [4, 24];
/// Scans before a carrier reaches the end of its window.
const APPROACH: i64 = 6;
/// Trials of which so much is looked at.
const NEAREST: usize = 20;
/// Scans in which a detector settles, as a rule.
const SETTLES: u32 = 2;
/// Contexts in which carriers come at all speeds, and to both ends.
const MANY: usize = 1;

/// Histories that end in such states: carriers near the ends of the window that a requirement speaks of, what was around
/// the trials, and the trials that came `near`, a little before they were answered. Where the answer stands nothing is asked.
pub(super) fn starts(
    shop: &Shop<'_>,
    boots: &Boots<'_>,
    asked: &Requirement,
    stages: &[&Stage<'_>],
    near: impl Iterator<Item = History>,
) -> Vec<History> {
    let mut all: Vec<History> = Vec::new();
    let mut add = |history: &History| {
        if !all.contains(history) {
            all.push(history.clone());
        }
    };
    let least = asked.form.least().unwrap_or(Rank::MAX);
    for (at, stage) in stages.iter().enumerate() {
        let approaches = approaches(shop, stage.rate(), asked, at < MANY);
        for Approach { from, sets_out, goes_on } in &approaches {
            let mut stage = stage.fork();
            stage.play(sets_out);
            if stage.rises(*from) {
                stage.play(goes_on);
                if stage.told.answer < least {
                    add(&stage.history);
                }
            }
        }
    }
    for stage in stages {
        add(&stage.history);
    }
    add(&boots.fresh.history);
    for history in near.take(NEAREST) {
        for before in BEFORE {
            add(&history.first(history.scans().saturating_sub(before)));
        }
    }
    all
}

/// A carrier that sets out at a detector, and what follows until it is near.
struct Approach {
    from: usize,
    sets_out: Vec<Act>,
    goes_on: Vec<Act>,
}

/// A carrier that does not come, up to shortly before either end of its window. What a settling leaves out of its way
/// depends on the speed at which it set out: that of the lift, or all speeds if `many`.
fn approaches(shop: &Shop<'_>, rate: Rate, asked: &Requirement, many: bool) -> Vec<Approach> {
    let Form::After { from, to, measured, earliest, latest, .. } = &asked.form else { return Vec::new() };
    let (Some(from), Some(to)) = (shop.routes.number(*from), shop.routes.number(*to)) else { return Vec::new() };
    let Rate { mm, scans } = rate;
    let a_scan = mm / scans.max(1);
    let until = |end: u32| match measured {
        Measured::Rope(_) => Act::Roll((i64::from(end) - APPROACH * a_scan).max(0)),
        Measured::Time { .. } => Act::Wait(u32::try_from((i64::from(end) - APPROACH).max(0)).unwrap_or(0)),
    };
    // Until whoever was on the stretch has left it.
    let seen = u32::try_from((APPROACH + 2) * a_scan).unwrap_or(0);
    let (slowest, fastest) = first_pace(shop.station).map_or((mm, mm), |(_, pace)| {
        let pulse = i64::from(pace.mm_a_pulse.max(1));
        (even(i64::from(pace.still) + pulse, pulse), even(i64::from(pace.top), pulse))
    });
    let speeds = if many { vec![mm, fastest, slowest] } else { vec![mm] };
    let ends = if many { vec![*latest, *earliest] } else { vec![*latest] };
    let head = head(shop.routes, from);
    let mut all = Vec::new();
    for speed in speeds {
        let at = |mm: i64| if speed == rate.mm { None } else { Some(Act::Speed(Rate { mm, scans })) };
        for &end in &ends {
            // One is on its way already; comes from the first detector; or stood right here, at once or when the
            // requirement knows who is on the stretch.
            for (comes, known) in [(None, false), (Some(head), false), (Some(from), false), (Some(from), true)] {
                let mut acts = vec![Act::Deviate(from, to, None)];
                acts.extend(Some(until(latest.saturating_add(seen))).filter(|_| known));
                if let Some(far) = comes.filter(|&far| far != from) {
                    acts.extend([Act::Carrier(far), Act::Wait(1)]);
                }
                acts.push(Act::Near(from, 10 * a_scan));
                acts.extend(at(speed));
                if comes == Some(from) {
                    acts.extend([Act::Wait(1), Act::Carrier(from)]);
                }
                acts.push(Act::Rise(from));
                let goes_on = [Act::Wait(SETTLES)].into_iter().chain(at(mm)).chain([until(end)]).collect();
                all.push(Approach { from, sets_out: acts, goes_on });
            }
        }
    }
    all
}
