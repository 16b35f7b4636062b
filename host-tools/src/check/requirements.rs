//! Hazards, requirements, bypasses, assumptions and confirmations.

use super::logic::can;
use super::named;
use crate::station::{
    Bypass, Claim, Condition, Form, Ground, Measured, Observed, Requirement, Station, Watch, WatchKind, ways::Source,
    ways::ways,
};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    for (at, hazard) in station.hazards.iter().enumerate() {
        if station.requirements.iter().all(|r| !r.hazards.contains(&at)) {
            let message = format!("no requirement speaks of hazard {}", hazard.name.text);
            found.push(
                Finding::new(Code::HazardUnrequired, message)
                    .at(hazard.name.place, "declared here")
                    .help("add a 'require' that names it, so that something can be proved about it"),
            );
        }
    }
    for requirement in station.requirements.iter().filter(|r| r.hazards.is_empty()) {
        let message = format!("requirement {} names no hazard", requirement.name.text);
        found.push(
            Finding::new(Code::RequirementUnfounded, message)
                .at(requirement.name.place, "what does it protect from?")
                .help("add 'hazard H'"),
        );
    }
    let idle = |r: &&Requirement| r.bounces > 0 && r.settles(station) == 0;
    for requirement in station.requirements.iter().filter(idle) {
        let message =
            format!("requirement {} sets bounces aside, and reads nothing that bounces", requirement.name.text);
        found.push(
            Finding::new(Code::BouncesIdle, message)
                .at(requirement.name.place, "no level of a contact, pair, detector or key, and no carriers under way")
                .help("take 'bounces of up to .. aside' out"),
        );
    }
    for (at, bypass) in station.bypasses.iter().enumerate() {
        bypassed(station, at, bypass, found);
    }
    confirms(station, found);
    held(station, found);
}

/// Whether a requirement says that it does not ask while a bypass is active.
fn excuses(requirement: &Requirement, bypass: usize) -> bool {
    requirement.unless.as_ref().is_some_and(|unless| unless.bypasses().contains(&bypass))
}

/// Whether a watch may be what a requirement counts on: it looks at an input that the requirement speaks of, if only as one of several
/// that lead to the answer; or the requirement speaks of a stop, which any watch may call.
fn concerns(watch: &Watch, requirement: &Requirement) -> bool {
    let of_stops = matches!(requirement.form, Form::Effect { .. })
        || requirement
            .observed()
            .iter()
            .any(|observed| matches!(observed, Observed::Stands(_) | Observed::Released(_)));
    // A carrier on a long way is followed by each of the travels on it.
    let on_the_way = matches!((&watch.kind, &requirement.form), (WatchKind::Travel(_), Form::After { .. }));
    if let Form::Whenever { condition: Condition::Observed(observed), .. } = &requirement.form
        && observed.is_told_by_input()
    {
        return false;
    }
    let inputs = requirement.inputs();
    of_stops || on_the_way || watch.kind.inputs().iter().any(|input| inputs.contains(input))
}

fn bypassed(station: &Station, at: usize, bypass: &Bypass, found: &mut Vec<Finding>) {
    let excused = station.requirements.iter().any(|r| excuses(r, at));
    for &of in &bypass.of {
        let Some(watch) = station.watches.get(of) else {
            continue;
        };
        for requirement in &station.requirements {
            let shared = requirement.hazards.iter().find(|hazard| watch.hazards.contains(hazard));
            let Some(hazard) = shared.and_then(|i| station.hazards.get(*i)) else {
                continue;
            };
            if excuses(requirement, at) || !concerns(watch, requirement) {
                continue;
            }
            let message = format!(
                "bypass '{}' takes away '{}', and requirement {} still asks for it",
                bypass.name.text, watch.name.text, requirement.name.text
            );
            found.push(
                Finding::new(Code::BypassUnexcused, message)
                    .at(bypass.name.place, format!("masks a watch for hazard {}", hazard.name.text))
                    .at(watch.name.place, "this watch")
                    .at(requirement.name.place, "this requirement")
                    .help(format!("write 'unless {} active' there if that is meant, or bypass less", bypass.name.text)),
            );
        }
        let emergency = ways(station).iter().filter(|way| way.source == Source::Watch(of)).find_map(|way| {
            let stop = station.stops.get(usize::from(way.answer.checked_sub(station.first_stop())?))?;
            stop.for_emergencies.then_some(stop)
        });
        if let Some(stop) = emergency.filter(|_| !excused) {
            let message = format!(
                "bypass '{}' takes away '{}', which calls the emergency stop '{}'",
                bypass.name.text, watch.name.text, stop.name.text
            );
            found.push(
                Finding::new(Code::BypassOfEmergency, message)
                    .at(bypass.name.place, "no requirement says that this is meant")
                    .at(watch.name.place, "this watch")
                    .help(format!("add 'unless {} active' to the requirement it stands for", bypass.name.text)),
            );
        }
    }
}

fn confirms(station: &Station, found: &mut Vec<Finding>) {
    for watch in &station.watches {
        let WatchKind::Confirm(confirm) = &watch.kind else {
            continue;
        };
        if confirm.answer <= confirm.after {
            let message = format!(
                "'{}' answers a stop '{}' that has no effect with '{}'",
                watch.name.text,
                station.answer(confirm.after),
                station.answer(confirm.answer)
            );
            found.push(
                Finding::new(Code::ConfirmMild, message)
                    .at(watch.name.place, "no more severe than the stop that failed")
                    .help("answer with a more severe stop"),
            );
        }
    }
}

fn held(station: &Station, found: &mut Vec<Finding>) {
    for assumption in &station.assumptions {
        let Ground::HeldBy(at) = assumption.ground else {
            continue;
        };
        let Some(watch) = station.watches.get(at) else {
            continue;
        };
        let why = match (&assumption.claim, &watch.kind) {
            (Claim::RopeApart(detector, pace, mm), WatchKind::Spacing(s)) => {
                if s.detector != *detector {
                    Some(format!("watches '{}'", named(station, s.detector)))
                } else if s.measured != Measured::Rope(*pace) {
                    Some("measures otherwise".to_owned())
                } else {
                    (s.least < *mm).then(|| "allows a smaller distance".to_owned())
                }
            }
            (Claim::ScansApart(detector, scans), WatchKind::Spacing(s)) => {
                if s.detector != *detector {
                    Some(format!("watches '{}'", named(station, s.detector)))
                } else if !matches!(s.measured, Measured::Time { .. }) {
                    Some("measures otherwise".to_owned())
                } else {
                    (s.least < *scans).then(|| "allows a shorter time".to_owned())
                }
            }
            (Claim::Always(claim), WatchKind::Guard(guard)) => {
                // The guard must see every state in which the claim fails.
                let unseen = Condition::Not(Box::new(Condition::Any(vec![claim.clone(), guard.when.clone()])));
                can(station, &unseen)
                    .is_some_and(|can| can.hold)
                    .then(|| "can rest while the claim is false".to_owned())
            }
            (Claim::RopeApart(..) | Claim::ScansApart(..), _) => Some("is no spacing".to_owned()),
            (Claim::Always(_), _) => Some("is no guard".to_owned()),
        };
        if let Some(why) = why {
            let message = format!("'{}' does not hold assumption '{}'", watch.name.text, assumption.name.text);
            found.push(
                Finding::new(Code::HeldByUnfit, message)
                    .at(assumption.name.place, "rests on it")
                    .at(watch.name.place, why)
                    .help("name a watch that stops whenever the assumption is broken, or give evidence"),
            );
        }
    }
}
