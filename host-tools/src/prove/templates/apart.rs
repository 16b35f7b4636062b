//! A distance that is assumed, beside the spacing that answers where it is not kept.

use super::Scene;
use crate::prove::lemma::{Claim, Sum};
use crate::station::{self, Condition, Form, InputKind, Observed, WatchKind};

/// A line that settles is there once more in the bare plan.
pub(super) fn settled(scene: &mut Scene<'_>, line: &str) {
    let settled = format!("raw:{line}.settled");
    for cell in ["level", "settle"] {
        if let (Some(one), Some(other)) = (scene.cell(line, cell), scene.cell(&settled, cell)) {
            scene.always(Claim::Same(Sum::cell(one), Sum::cell(other)));
        }
    }
}

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    // A greatest distance is counted to beyond itself.
    let (detector, counted, of) = match &scene.requirement.form {
        Form::Held {
            claim: station::Claim::RopeApart(detector, _, least) | station::Claim::ScansApart(detector, least),
            ..
        } => (*detector, *least, format!("apart:{}", scene.requirement.name.text)),
        Form::Whenever { condition: Condition::Observed(Observed::Closer(detector, _, mm)), .. } => {
            (*detector, *mm, scene.requirement.name.text.clone())
        }
        Form::Whenever { condition: Condition::Observed(Observed::Farther(detector, _, mm)), .. } => {
            (*detector, mm.saturating_add(1), scene.requirement.name.text.clone())
        }
        _ => return,
    };
    let line = scene.name(detector);
    settled(scene, &line);
    let (Some(known), Some(distance)) = (scene.cell(&of, "known"), scene.cell(&of, "since")) else { return };
    scene.always(Claim::below(distance, counted));
    let far = Claim::from(distance, counted);
    let unserved: Vec<Claim> = scene.unserved().into_iter().chain([Claim::Is(known)]).collect();
    // What an input itself counts since its last rise, and an exercise since its last change.
    let mut counts: Vec<_> = scene.cell(&line, "since").map(|count| (count, 0)).into_iter().collect();
    let stuck = match scene.kind(detector) {
        Some(InputKind::Detector(of)) => of.covered_at_most,
        _ => None,
    };
    let covered = stuck.map_or(0, |(pace, limit)| limit.saturating_add(scene.pace_step(pace)));
    if let (Some(run), Some(level)) = (scene.cell(&line, "covered"), scene.cell(&line, "level")) {
        let mut when = unserved.clone();
        when.push(Claim::Is(level));
        scene.when(&when, &[Claim::AtMost(Sum::cell(distance), Sum::cell(run))]);
        scene.when(&[Claim::Is(known), Claim::Is(level)], &[Claim::AtMost(Sum::cell(distance), Sum::cell(run))]);
        scene.when(&unserved, &[Claim::below(run, stuck.map_or(0, |(_, limit)| limit))]);
    }
    for watch in scene.watches.clone() {
        let Some(watch) = scene.model.station.watches.get(watch) else { continue };
        let (spacing, name) = match &watch.kind {
            WatchKind::Spacing(spacing) => (spacing.clone(), watch.name.text.clone()),
            WatchKind::Exercise(_) => {
                // It begins anew when the detector falls too.
                counts.extend(scene.cell(&watch.name.text, "unchanged").map(|count| (count, covered)));
                continue;
            }
            _ => continue,
        };
        let name = &name;
        let (Some(armed), Some(since)) = (scene.cell(name, "armed"), scene.cell(name, "apart")) else { continue };
        // One that has told of a carrier too far ahead waits for the next one.
        scene.when(&[Claim::Is(known)], &[Claim::Is(armed), far.clone()]);
        scene.when(&[Claim::Is(known)], &[Claim::AtMost(Sum::cell(since), Sum::cell(distance)), far.clone()]);
        if let Some(most) = spacing.most {
            let (same, beyond) = (Claim::Same(Sum::cell(since), Sum::cell(distance)), Claim::from(since, most + 1));
            scene.always(Claim::below(since, most.saturating_add(1)));
            scene.when(&unserved, &[Claim::Is(armed)]);
            scene.when(&unserved, &[Claim::below(since, most)]);
            scene.when(&unserved, std::slice::from_ref(&same));
            scene.when(&unserved, &[same, beyond]);
        }
    }
    for (count, plus) in counts {
        let within = Claim::AtMost(Sum::cell(distance), Sum::cell(count).plus(plus));
        scene.when(&[Claim::Is(known)], std::slice::from_ref(&within));
        scene.when(&unserved, &[within]);
    }
}
