//! What is due, and a condition that must last, beside the rules that count it too.

use super::{Scene, observed};
use crate::prove::cells::channel;
use crate::prove::lemma::{CellId, Claim, Sum};
use crate::station::{self, Backing, Condition, Form, InputId, InputKind, Lasting, Observed, Pace, WatchKind};
use std::collections::BTreeSet;

/// Scans by which a rule may lag behind a requirement and still be looked at.
const LAG: u32 = 4;

/// A line that a condition speaks of.
struct Line {
    /// It has settled at the level at which the condition does not hold.
    rests: Claim,
    settle: CellId,
    /// The raw sample is at the other level.
    away: Claim,
}

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    if let Some(due) = scene.own("due") {
        for scans in 0..=LAG {
            scene.always(Claim::below(due, scans));
        }
    }
    let Some(held) = scene.own("held") else { return };
    let within = |lag: &CellId, plus: u32| Claim::AtMost(Sum::cell(held), Sum::cell(*lag).plus(plus));
    let unserved = scene.unserved_and_unmasked();
    let lasting = if let Form::Whenever { lasting, .. } = scene.requirement.form { lasting } else { 0 };
    for scans in (0..=LAG).chain(lasting.saturating_sub(LAG)..=lasting.saturating_add(LAG)) {
        scene.always(Claim::below(held, scans));
        scene.when(&unserved, &[Claim::below(held, scans)]);
    }
    let (lines, slowest) = lines(scene);
    let settles: Vec<Claim> = lines.iter().map(|line| within(&line.settle, 0)).collect();
    if !lines.is_empty() {
        let mut at_rest = unserved.clone();
        at_rest.extend(lines.iter().map(|line| line.rests.clone()));
        scene.when(&at_rest, &settles);
        let mut away: Vec<Claim> = lines.iter().map(|line| line.away.clone()).collect();
        away.push(Claim::below(held, 0));
        scene.when(&unserved, &away);
        for line in &lines {
            let mut when = unserved.clone();
            when.push(line.rests.clone());
            scene.when(&when, &[within(&line.settle, 0)]);
            scene.when(&unserved, std::slice::from_ref(&line.rests));
        }
    }
    totals(scene, held);
    for (hold, limit) in counts(scene) {
        scene.always(Claim::below(hold, limit.saturating_add(1)));
        scene.when(&unserved, &[Claim::below(hold, limit)]);
        for lag in 0..=slowest.saturating_add(1).min(LAG * 4) {
            scene.always(within(&hold, lag));
            scene.when(&unserved, &[within(&hold, lag)]);
            // Either a line of the condition is still settling, or the rule counts as the requirement does.
            if !lines.is_empty() {
                let mut then = settles.clone();
                then.push(within(&hold, lag));
                scene.when(&unserved, &then);
                let mut then: Vec<Claim> = lines.iter().map(|line| line.rests.clone()).collect();
                then.push(within(&hold, lag));
                scene.when(&unserved, &then);
            }
        }
    }
}

/// What has lasted without a break is in the count of this span, or began before it and is in both counts.
fn totals(scene: &mut Scene<'_>, held: CellId) {
    let unserved = scene.unserved_and_unmasked();
    for watch in scene.watches.clone() {
        let Some(watch) = scene.model.station.watches.get(watch) else { continue };
        let WatchKind::Guard(station::Guard { lasting: Lasting::Total { of, .. }, .. }) = watch.kind else { continue };
        let name = watch.name.text.clone();
        let cells = (scene.cell(&name, "now"), scene.cell(&name, "before"), scene.cell(&name, "clock"));
        let (Some(now), Some(before), Some(clock)) = cells else { continue };
        let sum = || Sum::of(&[now, before]);
        scene.when(&unserved, &[Claim::AtMost(Sum::cell(held), sum())]);
        for scans in 0..=1 {
            scene.when(&unserved, &[Claim::AtMost(sum(), Sum::number(of.saturating_add(scans)))]);
            let earlier = Claim::AtMost(Sum::cell(clock).plus(scans), Sum::cell(held));
            scene.when(&unserved, &[Claim::AtMost(Sum::cell(held), Sum::cell(now)), earlier]);
        }
    }
}

/// Counts of scans that the rules keep of what a requirement asks about, and where each of them ends.
fn counts(scene: &Scene<'_>) -> Vec<(CellId, u32)> {
    let mut out = Vec::new();
    for watch in scene.watches.iter().filter_map(|watch| scene.model.station.watches.get(*watch)) {
        let limit = match &watch.kind {
            WatchKind::Guard(g) => match g.lasting {
                Lasting::Unbroken(limit) => limit,
                Lasting::Total { .. } => continue,
            },
            WatchKind::Agree(g) => g.apart,
            _ => continue,
        };
        out.extend(scene.cell(&watch.name.text, "hold").map(|hold| (hold, limit)));
    }
    // For how long what backs a pace has said that it runs, and the pace that it does not.
    for input in scene.requirement.inputs() {
        let Some(InputKind::Pace(Pace { backing: Backing::Running(_), fault_after, .. })) = scene.kind(input) else {
            continue;
        };
        out.extend(scene.cell(&scene.name(input), "doubt").map(|doubt| (doubt, *fault_after)));
    }
    for observed in scene.requirement.observed() {
        out.extend(observed::count(scene, observed));
    }
    out
}

/// Lines of what a requirement asks about, and the slowest settling of them.
fn lines(scene: &Scene<'_>) -> (Vec<Line>, u32) {
    let mut levels = BTreeSet::new();
    match &scene.requirement.form {
        Form::Whenever { condition, .. } | Form::Never { condition, .. } => quiet(condition, false, &mut levels),
        Form::Held { claim: station::Claim::Always(condition), .. } => quiet(condition, true, &mut levels),
        _ => {}
    }
    let (mut out, mut slowest) = (Vec::new(), 0);
    for (input, high) in levels {
        for number in scene.model.station.channels_of(input) {
            let name = channel(scene.model.station, number);
            let (read, (up, down)) = scene.reading(number);
            slowest = slowest.max(up.max(down));
            let cells = (scene.cell(&name, "level"), scene.cell(&name, "settle"), scene.cell(&read, "level"));
            let (Some(level), Some(settle), Some(sample)) = cells else { continue };
            let (rests, away) =
                if high { (Claim::Is(level), Claim::Not(sample)) } else { (Claim::Not(level), Claim::Is(sample)) };
            out.push(Line { rests, settle, away });
        }
    }
    (out, slowest)
}

/// Inputs of a condition with the level at which it does not hold: true for high.
fn quiet(condition: &Condition, negated: bool, out: &mut BTreeSet<(InputId, bool)>) {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => parts.iter().for_each(|part| quiet(part, negated, out)),
        Condition::Not(part) => quiet(part, !negated, out),
        Condition::High(input) => {
            out.insert((*input, negated));
        }
        // Rules see both channels at the level at which the pair rests, or they do not see it.
        Condition::Observed(Observed::Differing(input)) => out.extend([(*input, false), (*input, true)]),
        _ => {}
    }
}
