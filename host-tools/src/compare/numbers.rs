//! Numbers at which counts may end: a count that ends sooner on one side is equal to that of the other below such a number.

use super::Both;
use super::plain::Lead;
use crate::station::{Every, InputKind, Lasting, Settle, Station, WatchKind, When};
use std::collections::BTreeSet;

/// Those of statements that differ, and the next ones above.
pub(super) fn differing(both: &Both) -> Vec<u32> {
    let mut all = BTreeSet::new();
    for (lead, station) in [(Lead::Old, &both.old), (Lead::New, &both.new)] {
        let changed = both.changed(lead).into_iter().filter_map(|id| station.watches.get(id));
        all.extend(changed.flat_map(|watch| ends(&watch.kind)));
    }
    let (old, new) = (declared(&both.old), declared(&both.new));
    for (these, others) in [(&old, &new), (&new, &old)] {
        all.extend(these.iter().filter(|this| !others.contains(this)).flat_map(|(_, numbers)| numbers));
    }
    let next: Vec<u32> = all.iter().map(|number| number.saturating_add(1)).collect();
    all.extend(next);
    all.into_iter().collect()
}

/// Those of everything that is no watch, each by its kind and name.
fn declared(station: &Station) -> Vec<((&'static str, &str), Vec<u32>)> {
    let mut all = Vec::new();
    for input in &station.inputs {
        all.push((("input", input.name.text.as_str()), of_input(&input.kind)));
    }
    for output in &station.outputs {
        all.push((("output", output.name.text.as_str()), output.read_back.iter().map(|(_, scans)| *scans).collect()));
    }
    for slow in &station.slows {
        all.push((("slow", slow.name.text.as_str()), vec![slow.within, slow.down_to]));
    }
    for mode in &station.modes {
        all.push((("mode", mode.name.text.as_str()), mode.at_most.iter().map(|(_, mm)| *mm).collect()));
    }
    for bypass in &station.bypasses {
        all.push((("bypass", bypass.name.text.as_str()), vec![bypass.budget, bypass.rest, bypass.at_most.1]));
    }
    if let Some(reset) = &station.reset {
        all.push((("reset", ""), vec![reset.lasting, reset.shortest, reset.longest]));
    }
    all.push((("restart", ""), vec![station.restart]));
    all
}

/// Those of an input, in scans, mm or steps.
fn of_input(kind: &InputKind) -> Vec<u32> {
    let settles = |settle: Settle| [settle.up, settle.down];
    match kind {
        InputKind::Contact(c) => settles(c.settle).into_iter().chain(c.most_changes).collect(),
        InputKind::Pair(p) => settles(p.settle).into_iter().chain([p.differing]).collect(),
        InputKind::Detector(d) => {
            let rope = [d.covered_at_most, d.rises_every].into_iter().flatten().map(|(_, mm)| mm);
            settles(d.settle).into_iter().chain(rope).collect()
        }
        InputKind::Gauge(g) => g.moves_at_most.into_iter().collect(),
        InputKind::Pace(p) => vec![p.span, p.still, p.top, p.fault_after],
        InputKind::Link(l) => vec![l.silent],
        InputKind::Key(k) => settles(k.settle).to_vec(),
    }
}

/// Numbers at which the counts of a watch may end, in scans, mm or steps.
fn ends(kind: &WatchKind) -> Vec<u32> {
    match kind {
        WatchKind::Guard(g) => match g.lasting {
            Lasting::Unbroken(scans) => vec![scans],
            Lasting::Total { of, within } => vec![of, within],
        },
        WatchKind::Travel(t) => [t.earliest, t.latest, t.run].into_iter().chain(t.backstop).collect(),
        WatchKind::Measure(m) => match m.when {
            When::Rise => Vec::new(),
            When::Scans(scans) => vec![scans],
            When::Rope(_, mm) => vec![mm],
        },
        WatchKind::Spacing(s) => std::iter::once(s.least).chain(s.most).collect(),
        WatchKind::Agree(a) => vec![a.apart],
        WatchKind::Confirm(c) => vec![c.within],
        WatchKind::Exercise(e) => match e.every {
            Every::Carrier(_) => Vec::new(),
            Every::Rope(_, mm) => vec![mm],
            Every::Scans(scans) => vec![scans],
        },
        WatchKind::Count(c) => vec![c.most, c.confirmed],
    }
}
