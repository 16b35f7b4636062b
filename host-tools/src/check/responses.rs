//! Requirements that nothing answers, or nothing in time.

use super::time;
use crate::respond::{Path, answering, confirming};
use crate::station::{
    Condition, Form, InputId, InputKind, Observed, Rank, Requirement, Scans, Station, Watch, WatchKind, When,
};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    for requirement in station.requirements.iter().filter(|r| !r.hazards.is_empty()) {
        match &requirement.form {
            // Of alternatives each needs something that answers it.
            Form::Whenever { condition: Condition::Any(parts), lasting, least, within: _ } => {
                for part in parts {
                    whenever(station, requirement, part, *lasting, *least, found);
                }
            }
            Form::Whenever { condition, lasting, least, within: _ } => {
                whenever(station, requirement, condition, *lasting, *least, found);
            }
            // A gauge that is to rest when the detector rises tells it by itself.
            Form::WhenRises { detector, gauge, when: When::Rise, least, .. }
                if station.on_fault >= *least && rests_at(station, *gauge, *detector) => {}
            Form::WhenRises { gauge, lasting, least, .. } => {
                one(station, requirement, &[*gauge], lasting_us(station, *lasting), *least, found);
            }
            // A chain of travels can answer as well as one; the last of them judges the arrival.
            Form::After { to, least, .. } => one(station, requirement, &[*to], 0, *least, found),
            Form::Effect { after, lasting, condition, least, .. } => {
                effect(station, requirement, [*after, *least], (condition, *lasting), found);
            }
            Form::Never { .. }
            | Form::NeverReleased { .. }
            | Form::NeverReleasedBut { .. }
            | Form::NeverPermitted { .. }
            | Form::NeverTogether(..)
            | Form::Held { .. } => {}
        }
    }
}

/// A confirm of the stop tells that its effect is missing, whatever it looks at, and so does a guard of a contact that should be seen. What
/// judges a speed or a value says nothing of what the stop did to it.
fn effect(
    station: &Station,
    requirement: &Requirement,
    [after, least]: [Rank; 2],
    (condition, lasting): (&Condition, Scans),
    found: &mut Vec<Finding>,
) {
    let mut contacts = Vec::new();
    condition.each(&mut |simple| {
        if let Condition::High(input) = simple {
            contacts.push(*input);
        }
    });
    let mut paths = confirming(station, requirement, after, least);
    paths.extend(answering(station, requirement, &contacts, least));
    let of = format!("the effect of '{}'", station.answer(after));
    judge(station, requirement, &paths, &of, lasting_us(station, lasting), least, found);
}

fn whenever(
    station: &Station,
    requirement: &Requirement,
    condition: &Condition,
    lasting: Scans,
    least: Rank,
    found: &mut Vec<Finding>,
) {
    let inputs = condition.inputs();
    let by_itself = || misselects(station, condition) || answered_otherwise(station, condition);
    if inputs.is_empty() || (station.on_fault >= least && by_itself()) {
        return;
    }
    one(station, requirement, &inputs, lasting_us(station, lasting), least, found);
}

fn rests_at(station: &Station, gauge: InputId, detector: InputId) -> bool {
    match station.inputs.get(gauge).map(|input| &input.kind) {
        Some(InputKind::Gauge(gauge)) => gauge.rests.is_some_and(|(at, _, _)| at == detector),
        _ => false,
    }
}

fn lasting_us(station: &Station, lasting: Scans) -> u64 {
    u64::from(lasting) * u64::from(station.scan_us)
}

/// No mode is selected, or more than one: the modes themselves answer that.
fn misselects(station: &Station, condition: &Condition) -> bool {
    let Condition::All(parts) = condition else { return false };
    let held = |key: usize| parts.contains(&Condition::High(key));
    let free = |key: usize| parts.contains(&Condition::Not(Box::new(Condition::High(key))));
    let modes = &station.modes;
    modes.iter().filter(|mode| held(mode.key)).count() > 1
        || (!modes.is_empty() && modes.iter().all(|mode| free(mode.key)))
}

/// Whether the answer to faults is given whatever the watches say: to an input's own fault, above a pace's greatest
/// speed, above the cap of every mode, to a read-back, to a slow order that is not kept. What a confirm waits for is answered by it.
fn answered_otherwise(station: &Station, condition: &Condition) -> bool {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => parts.iter().any(|part| answered_otherwise(station, part)),
        Condition::Not(inner) => answered_otherwise(station, inner),
        Condition::Faulty(_) => true,
        Condition::Observed(observed) => match observed {
            Observed::Differing(_)
            | Observed::Distrusted(..)
            | Observed::Leaping(..)
            | Observed::Sources(..)
            | Observed::Silent(_)
            | Observed::Covered(..)
            | Observed::Changing(..)
            | Observed::Released(_) => true,
            Observed::Pressed(key, _) => station.refills.iter().any(|refill| refill.key == *key),
            Observed::Stands(rank) => {
                let after =
                    |watch: &Watch| matches!(&watch.kind, WatchKind::Confirm(confirm) if confirm.after == *rank);
                *rank < station.first_stop() || station.watches.iter().any(after)
            }
            Observed::Apart(..)
            | Observed::Closer(..)
            | Observed::Farther(..)
            | Observed::Stray(_)
            | Observed::Miscounting(_)
            | Observed::Crowded(..) => false,
        },
        Condition::Faster(at, mm) | Condition::Back(at, mm) => {
            let capped = |most: Option<(usize, u32)>| most.is_some_and(|(pace, most)| pace == *at && *mm > most);
            let in_all = !station.modes.is_empty() && station.modes.iter().all(|mode| capped(mode.at_most));
            in_all || super::pace(station, *at).is_some_and(|pace| *mm > pace.top)
        }
        _ => false,
    }
}

fn one(
    station: &Station,
    requirement: &Requirement,
    inputs: &[usize],
    lasting_us: u64,
    least: Rank,
    found: &mut Vec<Finding>,
) {
    let paths = answering(station, requirement, inputs, least);
    let names: Vec<String> = inputs.iter().map(|at| format!("'{}'", super::named(station, *at))).collect();
    judge(station, requirement, &paths, &names.join(", "), lasting_us, least, found);
}

/// Whether one of the paths that are there to meet a requirement is fast enough.
fn judge(
    station: &Station,
    requirement: &Requirement,
    paths: &[Path],
    of: &str,
    lasting_us: u64,
    least: Rank,
    found: &mut Vec<Finding>,
) {
    let Some(fastest) = paths.iter().min_by_key(|path| since_seen(station, path)) else {
        // What is said not to arise need not be answered; whether it is missed the proof tells.
        if requirement.need_not_arise.is_some() {
            return;
        }
        let message = format!(
            "nothing answers what requirement {} asks of {of} with '{}' or more",
            requirement.name.text,
            station.answer(least)
        );
        found.push(
            Finding::new(Code::RequirementUnanswered, message)
                .at(requirement.name.place, "no watch of its hazards judges this so severely")
                .help("add a watch with the same hazard, or name the hazard at the watch that is there"),
        );
        return;
    };
    // What bounces has settled for the requirement, too, before it asks.
    let lasts = lasting_us + self::lasting_us(station, requirement.settles(station));
    let (takes, allowed) = (since_seen(station, fastest), lasts + u64::from(requirement.within_us));
    if takes > allowed {
        let message = format!(
            "requirement {} allows {}, and '{}' answers within {}",
            requirement.name.text,
            time(allowed),
            fastest.name,
            time(takes)
        );
        let place = station.watches.get(fastest.watch).map_or(requirement.name.place, |watch| watch.name.place);
        let sum = format!(
            "sampling {}, settling {}, hold {}, deciding {}, output {}",
            time(fastest.sampling_us),
            time(fastest.settling_us),
            time(fastest.hold_us),
            time(fastest.deciding_us),
            time(fastest.output_us)
        );
        found.push(
            Finding::new(Code::ResponseSlow, message)
                .at(requirement.name.place, "this requirement")
                .at(place, sum)
                .help("shorten the settling or the hold, or allow more time"),
        );
    }
}

/// The time of a path from when its cause can be told. Of a confirm that is the stop itself, which is neither sampled nor
/// settled. A speed exists only once a span has ended, for the requirement no sooner than for the watch, so that a pace's
/// spans do not count.
fn since_seen(station: &Station, path: &Path) -> u64 {
    let inputs = match station.watches.get(path.watch).map(|watch| &watch.kind) {
        Some(WatchKind::Confirm(_)) => return path.total_us() - path.sampling_us - path.settling_us,
        Some(kind @ (WatchKind::Guard(_) | WatchKind::Agree(_))) => kind.inputs(),
        _ => Vec::new(),
    };
    let spans = inputs.iter().any(|at| matches!(station.inputs.get(*at).map(|i| &i.kind), Some(InputKind::Pace(_))));
    path.total_us() - if spans { path.settling_us } else { 0 }
}
