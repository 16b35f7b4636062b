//! What only requirements speak of, beside what the rules keep of the same inputs and of what they published.

use super::Scene;
use crate::prove::cells::channel;
use crate::prove::lemma::{CellId, Claim, Sum};
use crate::station::{InputKind, Observed};

/// A count of scans that the rules keep of it, and where it ends.
pub(super) fn count(scene: &Scene<'_>, observed: Observed) -> Option<(CellId, u32)> {
    let station = scene.model.station;
    match observed {
        Observed::Released(output) => {
            let output = station.outputs.get(output)?;
            let (_, within) = output.read_back?;
            Some((scene.cell(&output.name.text, "contradicted")?, within))
        }
        Observed::Stands(rank) => {
            let slow = usize::from(rank).checked_sub(1).and_then(|i| station.slows.get(i))?;
            Some((scene.cell(&slow.name.text, "stands")?, slow.within))
        }
        Observed::Differing(pair) => {
            let Some(InputKind::Pair(of)) = scene.kind(pair) else { return None };
            Some((scene.cell(&scene.name(pair), "differs")?, of.differing))
        }
        Observed::Silent(link) => {
            let Some(InputKind::Link(of)) = scene.kind(link) else { return None };
            Some((scene.cell(&scene.name(link), "silence")?, of.silent))
        }
        Observed::Sources(pace, _) => {
            let Some(InputKind::Pace(of)) = scene.kind(pace) else { return None };
            Some((scene.cell(&scene.name(pace), "doubt")?, of.fault_after))
        }
        Observed::Covered(..)
        | Observed::Pressed(..)
        | Observed::Changing(..)
        | Observed::Distrusted(..)
        | Observed::Leaping(..)
        | Observed::Apart(..)
        | Observed::Closer(..)
        | Observed::Farther(..)
        | Observed::Stray(_)
        | Observed::Miscounting(_)
        | Observed::Crowded(..) => None,
    }
}

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    for observed in scene.requirement.observed() {
        match observed {
            Observed::Covered(detector, pace, mm) => covered(scene, detector, pace, mm),
            Observed::Changing(contact, most) => changing(scene, contact, most),
            Observed::Pressed(key, scans) => pressed(scene, key, scans),
            Observed::Leaping(gauge, _) => leaping(scene, gauge),
            Observed::Distrusted(pair, scans) => distrusted(scene, pair, scans),
            Observed::Sources(pace, mm) => sources(scene, pace, mm),
            Observed::Miscounting(tally) => super::tally::lemmas(scene, &tally),
            _ => {}
        }
    }
}

/// Two bits are the same.
pub(super) fn alike(scene: &mut Scene<'_>, one: Option<CellId>, other: Option<CellId>) {
    let (Some(one), Some(other)) = (one, other) else { return };
    scene.when(&[Claim::Is(one)], &[Claim::Is(other)]);
    scene.when(&[Claim::Is(other)], &[Claim::Is(one)]);
}

/// Two words are the same.
pub(super) fn equal(scene: &mut Scene<'_>, one: Option<CellId>, other: Option<CellId>) {
    let (Some(one), Some(other)) = (one, other) else { return };
    scene.always(Claim::Same(Sum::cell(one), Sum::cell(other)));
}

/// What a gauge read before.
fn leaping(scene: &mut Scene<'_>, gauge: usize) {
    let name = scene.name(gauge);
    alike(scene, scene.cell(&name, "was-good"), scene.own("was-good"));
    equal(scene, scene.cell(&name, "before"), scene.own("before"));
}

/// A pair's fault, and one of which it is asked when it is set.
fn distrusted(scene: &mut Scene<'_>, pair: usize, scans: u32) {
    let name = scene.name(pair);
    let asked = format!("raw:{name}.{scans}");
    for line in scene.model.station.channels_of(pair) {
        let terminal = scene.model.station.channels.get(line).cloned().unwrap_or_default();
        let (line, own) = (channel(scene.model.station, line), format!("{asked}.{terminal}"));
        alike(scene, scene.cell(&line, "level"), scene.cell(&own, "level"));
        equal(scene, scene.cell(&line, "settle"), scene.cell(&own, "settle"));
    }
    for bit in ["faulty", "moved-1", "moved-2"] {
        alike(scene, scene.cell(&name, bit), scene.cell(&asked, bit));
    }
    equal(scene, scene.cell(&name, "differs"), scene.cell(&asked, "differs"));
}

/// Both sources of a pace in its span, and whether they differed in the last one.
fn sources(scene: &mut Scene<'_>, pace: usize, mm: u32) {
    let name = scene.name(pace);
    let asked = format!("raw:{name}.{mm}");
    for word in ["clock", "forward", "back", "forward-2", "back-2"] {
        equal(scene, scene.cell(&name, word), scene.cell(&asked, word));
    }
    for bit in ["known", "differing"] {
        alike(scene, scene.cell(&name, bit), scene.cell(&asked, bit));
    }
}

/// Rope since a detector rose, as it reads and as it has settled.
fn covered(scene: &mut Scene<'_>, detector: usize, pace: usize, mm: u32) {
    let Some(InputKind::Detector(of)) = scene.kind(detector).cloned() else { return };
    let (name, step) = (scene.name(detector), scene.pace_step(pace));
    let line = channel(scene.model.station, of.channel);
    let raw = format!("raw:{name}.{mm}");
    let cells = (
        scene.cell(&line, "covered"),
        scene.cell(&raw, "covered"),
        scene.cell(&line, "level"),
        scene.cell(&line, "settle"),
        scene.cell(&raw, "level"),
    );
    let (Some(rule), Some(own), Some(level), Some(settle), Some(sample)) = cells else { return };
    let Some((_, limit)) = of.covered_at_most else { return };
    let (up, _) = scene.samples(of.channel);
    if let Some(known) = scene.cell(&format!("raw:{line}"), "level") {
        scene.when(&[Claim::Is(known)], &[Claim::Is(sample)]);
        scene.when(&[Claim::Is(sample)], &[Claim::Is(known)]);
    }
    scene.always(Claim::below(rule, limit.saturating_add(1)));
    scene.always(Claim::below(own, mm.saturating_add(1)));
    scene.when(&[Claim::Not(level)], &[Claim::below(rule, 0)]);
    scene.when(&[Claim::Not(sample)], &[Claim::below(own, 0)]);
    let unserved = scene.unserved();
    let with = |more: &[Claim]| -> Vec<Claim> { unserved.iter().chain(more).cloned().collect() };
    scene.when(&unserved, &[Claim::below(rule, limit)]);
    // What the rope has run while the rise settled.
    let slack = step.saturating_mul(up.saturating_sub(1));
    for scans in 0..=up {
        let pending = [Claim::Not(level), Claim::Is(sample), Claim::Same(Sum::cell(settle), Sum::number(scans))];
        scene.when(&pending, &[Claim::below(own, step.saturating_mul(scans.saturating_sub(1)))]);
    }
    let behind = |slack: u32| Claim::AtMost(Sum::cell(own), Sum::cell(rule).plus(slack));
    for slack in [slack, slack.saturating_add(step)] {
        scene.when(&[Claim::Is(level)], &[behind(slack), Claim::from(rule, limit.saturating_add(1))]);
        scene.when(&with(&[Claim::Is(level)]), &[behind(slack)]);
    }
}

/// Changes of a contact, which rules count as they are read too.
fn changing(scene: &mut Scene<'_>, contact: usize, most: u32) {
    let Some(InputKind::Contact(of)) = scene.kind(contact).cloned() else { return };
    let Some(limit) = of.most_changes else { return };
    let line = channel(scene.model.station, of.channel);
    let raw = format!("raw:{}.{most}", scene.name(contact));
    for bit in ["before", "chatters"] {
        if let (Some(rule), Some(own)) = (scene.cell(&line, bit), scene.cell(&raw, bit)) {
            scene.when(&[Claim::Is(own)], &[Claim::Is(rule)]);
            scene.when(&[Claim::Is(rule)], &[Claim::Is(own)]);
        }
    }
    if let (Some(rule), Some(own)) = (scene.cell(&line, "chatter-clock"), scene.cell(&raw, "chatter-clock")) {
        scene.always(Claim::Same(Sum::cell(own), Sum::cell(rule)));
    }
    if let (Some(rule), Some(own)) = (scene.cell(&line, "changes"), scene.cell(&raw, "changes")) {
        // Each of them counts to beyond its own limit.
        let beyond = limit.saturating_add(1);
        scene.always(Claim::Same(Sum::cell(own), Sum::cell(rule)));
        scene.when(&[], &[Claim::AtMost(Sum::cell(own), Sum::cell(rule)), Claim::from(rule, beyond)]);
        scene.always(Claim::below(rule, beyond));
    }
    // It is found, or in the count of this second still.
    let unserved = scene.unserved();
    if let (Some(rule), Some(own)) = (scene.cell(&line, "chatters"), scene.cell(&raw, "chatters")) {
        scene.when(&unserved, &[Claim::Not(rule)]);
        scene.when(&unserved, &[Claim::Not(own)]);
    }
    if let Some(rule) = scene.cell(&line, "changes") {
        scene.when(&unserved, &[Claim::below(rule, limit)]);
    }
}

/// A key as it is read with the settling that a requirement gives it, beside the same key as it settles; and what a refill by it leaves.
fn pressed(scene: &mut Scene<'_>, key: usize, scans: u32) {
    let station = scene.model.station;
    let Some(InputKind::Key(of)) = scene.kind(key).cloned() else { return };
    let (line, copy) = (channel(station, of.channels.0), format!("raw:{}.{scans}", scene.name(key)));
    if let (Some(rule), Some(own)) = (scene.cell(&line, "level"), scene.cell(&copy, "level")) {
        scene.when(&[Claim::Is(own)], &[Claim::Is(rule)]);
        scene.when(&[Claim::Is(rule)], &[Claim::Is(own)]);
    }
    if let (Some(rule), Some(own)) = (scene.cell(&line, "settle"), scene.cell(&copy, "settle")) {
        scene.always(Claim::Same(Sum::cell(own), Sum::cell(rule)));
    }
    let paces: Vec<_> = scene.inputs.iter().copied().collect();
    super::pace::before_known(scene, &paces);
    let begun = scene.cell("controller", "started");
    if let (Some(rule), Some(own)) = (begun, scene.cell("raw:controller", "started")) {
        scene.when(&[Claim::Is(own)], &[Claim::Is(rule)]);
        scene.when(&[Claim::Is(rule)], &[Claim::Is(own)]);
    }
    let refills: Vec<_> = (1..).zip(&station.refills).filter(|(_, refill)| refill.key == key).collect();
    for (number, refill) in refills {
        // In the first scan nothing comes to be held.
        if let (Some(begun), Some(own)) = (begun, scene.own("was")) {
            scene.when(&[Claim::Not(begun)], &[Claim::Is(own)]);
        }
        if let (Some(rule), Some(own)) = (scene.cell(&format!("refill-{number}"), "key-was"), scene.own("was")) {
            let since = begun.map(Claim::Is);
            let with = |was| -> Vec<Claim> { since.iter().cloned().chain([Claim::Is(was)]).collect() };
            scene.when(&with(own), &[Claim::Is(rule)]);
            scene.when(&with(rule), &[Claim::Is(own)]);
        }
        let Some(due) = scene.own("due") else { continue };
        scene.always(Claim::below(due, 1));
        for watch in refill.watches.iter().filter_map(|watch| station.watches.get(*watch)) {
            let name = &watch.name.text;
            if let (Some(held), Some(run)) = (scene.cell(name, "slowed"), scene.cell(name, "run")) {
                scene.when(&[Claim::from(due, 1)], &[Claim::Is(held)]);
                scene.when(&[Claim::from(due, 1)], &[Claim::below(run, 0)]);
            }
        }
    }
}
