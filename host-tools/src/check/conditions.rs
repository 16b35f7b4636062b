//! Rules that can never trip or never rest, and permissions that can never be had.

use super::logic::{Can, MOST, can};
use super::{named, pace};
use crate::station::{
    Agree, Claim, Condition, Every, Form, InputKind, Lasting, Measure, Measured, Name, Station, Watch, WatchKind,
};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::Place;

/// Where the count of a zone saturates.
const INSIDE: u32 = 65_535;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    for watch in &station.watches {
        of_watch(station, watch, found);
    }
    permissions(station, found);
    for requirement in &station.requirements {
        let name = &requirement.name;
        if let Form::Effect { after, least, .. } = &requirement.form
            && least <= after
        {
            empty(name, "the stop that it asks for is no more severe than the one that stands", found);
        }
        if let Form::Effect { condition, .. } = &requirement.form
            && let Some(Can { fail: false, .. }) = seen(station, &raw(station, condition), name, found)
        {
            empty(name, "what must be seen always holds", found);
        }
        if let Form::Effect { slower: Some((_, 0)), .. } = &requirement.form {
            empty(name, "a fall of speed by nothing is always seen", found);
        }
        if let Form::Whenever { condition, .. } | Form::Never { condition, .. } = &requirement.form
            && let Some(Can { hold: false, .. }) = seen(station, &raw(station, condition), name, found)
        {
            empty(name, "its condition can never hold", found);
        }
        if let Some(unless) = &requirement.unless
            && let Some(Can { fail: false, .. }) = seen(station, &raw(station, unless), name, found)
        {
            empty(name, "its 'unless' always holds", found);
        }
    }
    for assumption in &station.assumptions {
        let Claim::Always(condition) = &assumption.claim else {
            continue;
        };
        let name = &assumption.name;
        if let Some(Can { hold: false, .. }) = seen(station, &raw(station, condition), name, found) {
            let message = format!("assumption '{}' can never be true", name.text);
            found.push(
                Finding::new(Code::AssumptionFalse, message)
                    .at(name.place, "everything could be proved from it")
                    .help("state what is the case"),
            );
        }
    }
}

/// A condition as requirements and assumptions are judged by it: on raw inputs a contact, a pair or a detector has no fault.
fn raw(station: &Station, condition: &Condition) -> Condition {
    let parts = |parts: &[Condition]| parts.iter().map(|part| raw(station, part)).collect();
    match condition {
        Condition::All(all) => Condition::All(parts(all)),
        Condition::Any(any) => Condition::Any(parts(any)),
        Condition::Not(part) => Condition::Not(Box::new(raw(station, part))),
        Condition::Faulty(at) => match station.inputs.get(*at).map(|input| &input.kind) {
            Some(InputKind::Contact(_) | InputKind::Pair(_) | InputKind::Detector(_)) => Condition::Any(Vec::new()),
            _ => condition.clone(),
        },
        _ => condition.clone(),
    }
}

/// A condition as the rules act on it: what a pace counts over what it declares is a fault of the pace and no speed.
fn acted_on(station: &Station, condition: &Condition) -> Condition {
    let parts = |parts: &[Condition]| parts.iter().map(|part| acted_on(station, part)).collect();
    match condition {
        Condition::All(all) => Condition::All(parts(all)),
        Condition::Any(any) => Condition::Any(parts(any)),
        Condition::Not(part) => Condition::Not(Box::new(acted_on(station, part))),
        Condition::Faster(at, mm) | Condition::Back(at, mm) if pace(station, *at).is_some_and(|p| *mm > p.top) => {
            Condition::Any(Vec::new())
        }
        _ => condition.clone(),
    }
}

/// Looks a condition through and tells if it is too large for that.
fn seen(station: &Station, condition: &Condition, name: &Name, found: &mut Vec<Finding>) -> Option<Can> {
    let can = can(station, condition);
    if can.is_none() {
        let message = format!("the condition of '{}' was not looked through", name.text);
        found.push(
            Finding::new(Code::ConditionLarge, message)
                .at(name.place, format!("has more than {MOST} simple conditions")),
        );
    }
    can
}

fn empty(name: &Name, why: &str, found: &mut Vec<Finding>) {
    found.push(
        Finding::new(Code::RequirementEmpty, format!("requirement '{}' asks nothing", name.text))
            .at(name.place, why)
            .help("correct the condition, or take the requirement out"),
    );
}

fn never(watch: &Watch, why: impl Into<String>, found: &mut Vec<Finding>) {
    found.push(
        Finding::new(Code::NeverTrips, format!("'{}' can never trip", watch.name.text))
            .at(watch.name.place, why)
            .help("correct the limit or the condition: this rule protects from nothing"),
    );
}

fn rests_never(watch: &Watch, why: impl Into<String>, found: &mut Vec<Finding>) {
    found.push(
        Finding::new(Code::NeverRests, format!("'{}' never rests", watch.name.text))
            .at(watch.name.place, why)
            .help("correct the limit or the condition: with this rule the station cannot run"),
    );
}

fn of_watch(station: &Station, watch: &Watch, found: &mut Vec<Finding>) {
    match &watch.kind {
        WatchKind::Guard(guard) => {
            let Some(can) = seen(station, &acted_on(station, &guard.when), &watch.name, found) else {
                return;
            };
            if !can.hold {
                never(watch, why_never(station, &guard.when), found);
            } else if !can.fail {
                rests_never(watch, "its condition holds whatever the inputs say", found);
            } else if let Lasting::Total { of, within } = guard.lasting
                && u64::from(of) > 2 * u64::from(within)
            {
                never(watch, "asks for more time in all than the time it is counted over", found);
            }
        }
        WatchKind::Confirm(confirm) => {
            let Some(can) = seen(station, &acted_on(station, &confirm.see), &watch.name, found) else {
                return;
            };
            if !can.fail {
                never(watch, "what it waits for is always seen", found);
            } else if !can.hold {
                rests_never(watch, why_never(station, &confirm.see), found);
            }
            if let Some((pace, drop)) = confirm.slower
                && let Some(InputKind::Pace(p)) = station.inputs.get(pace).map(|input| &input.kind)
            {
                if drop == 0 {
                    never(watch, "what it waits for, a fall of speed by nothing, is always seen", found);
                } else if drop > p.top {
                    rests_never(watch, "the pace never runs so fast that its speed could fall by so much", found);
                }
            }
        }
        WatchKind::Count(count) => {
            let Some(can) = seen(station, &acted_on(station, &count.when), &watch.name, found) else {
                return;
            };
            if !can.hold || !can.fail {
                let why = if can.hold {
                    "its condition always holds, and so never comes to hold"
                } else {
                    "its condition can never hold"
                };
                let message = format!("count '{}' is never confirmed", watch.name.text);
                unheld(&message, watch.name.place, why, found);
            }
            if count.most >= INSIDE {
                never(watch, format!("counts no further than {INSIDE}"), found);
            }
            if count.confirmed > count.most {
                let why = format!("{} are confirmed, and {} are too many", count.confirmed, count.most + 1);
                rests_never(watch, why, found);
            }
        }
        WatchKind::Measure(measure) => measured(station, watch, measure, found),
        WatchKind::Agree(agree) => agreed(station, watch, agree, found),
        WatchKind::Travel(travel) => banded(station, watch, travel.measured, found),
        WatchKind::Spacing(spacing) => banded(station, watch, spacing.measured, found),
        WatchKind::Exercise(exercise) => {
            if matches!(exercise.every, Every::Scans(0) | Every::Rope(_, 0)) {
                rests_never(watch, "asks for a change in every scan", found);
            }
        }
    }
}

/// A time window is judged only while the speed lies in its band.
fn banded(station: &Station, watch: &Watch, measured: Measured, found: &mut Vec<Finding>) {
    if let Measured::Time { pace: at, least, .. } = measured
        && let Some(pace) = pace(station, at)
        && least > pace.top
    {
        let (name, top) = (named(station, at), super::speed(station, pace, pace.top));
        never(watch, format!("is judged only at speeds that pace '{name}', at most {top}, never has"), found);
    }
}

fn measured(station: &Station, watch: &Watch, measure: &Measure, found: &mut Vec<Finding>) {
    if let Some(InputKind::Gauge(gauge)) = station.inputs.get(measure.gauge).map(|input| &input.kind)
        && measure.least == 0
        && measure.most >= gauge.top
    {
        let name = named(station, measure.gauge);
        never(watch, format!("its bounds take in all that gauge '{name}' can say"), found);
    }
}

fn agreed(station: &Station, watch: &Watch, agree: &Agree, found: &mut Vec<Finding>) {
    let [first, second] = agree.between;
    let top = |at: usize| match station.inputs.get(at).map(|input| &input.kind) {
        Some(InputKind::Gauge(gauge)) => Some((u64::from(gauge.top), false)),
        Some(InputKind::Pace(pace)) => Some((u64::from(pace.top), pace.signed)),
        _ => None,
    };
    let (Some((a, a_signed)), Some((b, b_signed))) = (top(first), top(second)) else {
        return;
    };
    let most = if a_signed || b_signed { a + b } else { a.max(b) };
    if u64::from(agree.within) >= most {
        never(watch, "the two can never be so far apart", found);
    }
}

/// Why a condition can never hold: a single comparison that is out of reach, or a contradiction.
fn why_never(station: &Station, condition: &Condition) -> String {
    match condition {
        Condition::Faster(at, mm) | Condition::Back(at, mm) => {
            let name = named(station, *at);
            match pace(station, *at) {
                Some(pace) if *mm > pace.top => {
                    format!("pace '{name}' is never faster than {}", super::speed(station, pace, pace.top))
                }
                _ => format!("pace '{name}' is not signed and never runs back"),
            }
        }
        Condition::SeenOff(at) => {
            let name = station.outputs.get(*at).map_or("?", |output| output.name.text.as_str());
            format!("output '{name}' is not read back")
        }
        Condition::Faulty(at) => format!("nothing is ever a fault of '{}'", named(station, *at)),
        Condition::All(parts) if parts.len() > 1 => {
            let alone = parts.iter().find(|part| can(station, &acted_on(station, part)).is_some_and(|can| !can.hold));
            alone.map_or_else(|| "its condition contradicts itself".to_owned(), |part| why_never(station, part))
        }
        _ => "its condition can never hold".to_owned(),
    }
}

fn unheld(message: &str, place: Place, why: &str, found: &mut Vec<Finding>) {
    found.push(Finding::new(Code::PermissionNever, message).at(place, why).help("correct the condition"));
}

fn permissions(station: &Station, found: &mut Vec<Finding>) {
    // Neither a reset nor a refill has a name: its key stands for it.
    let reset = station.reset.iter().filter_map(|reset| {
        let key = station.inputs.get(reset.key)?;
        Some(("the reset", &reset.when, &key.name, key.name.place))
    });
    let refills = station.refills.iter().filter_map(|refill| {
        let key = station.inputs.get(refill.key)?;
        Some(("the refill", &refill.when, &key.name, refill.place))
    });
    for (what, when, key, place) in reset.chain(refills) {
        if let Some(Can { hold: false, .. }) = seen(station, &acted_on(station, when), key, found) {
            let message = format!("{what} by '{}' can never be given", key.text);
            unheld(&message, place, &why_never(station, when), found);
        }
    }
}
