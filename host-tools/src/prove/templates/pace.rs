//! A pace, beside the same pace of the bare plan.

use super::Scene;
use crate::prove::cells;
use crate::prove::lemma::{Claim, Sum};
use crate::station::{Condition, Form, InputId, InputKind, Pace, Station};

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    for input in scene.inputs.clone() {
        let Some(InputKind::Pace(pace)) = scene.kind(input) else { continue };
        let span = pace.span;
        let name = scene.name(input);
        let raw = format!("raw:{name}");
        for cell in ["clock", "forward", "back", "speed", "speed-back"] {
            if let (Some(one), Some(other)) = (scene.cell(&name, cell), scene.cell(&raw, cell)) {
                scene.always(Claim::Same(Sum::cell(one), Sum::cell(other)));
            }
        }
        if let (Some(one), Some(other)) = (scene.cell(&name, "known"), scene.cell(&raw, "known")) {
            scene.when(&[Claim::Is(one)], &[Claim::Is(other)]);
            scene.when(&[Claim::Is(other)], &[Claim::Is(one)]);
        }
        if let Some(clock) = scene.cell(&name, "clock") {
            scene.always(Claim::below(clock, span.saturating_sub(1)));
        }
    }
    if let Form::Whenever { condition, .. } = &scene.requirement.form
        && is_over(scene.model.station, condition)
    {
        together(scene);
    }
}

/// A condition speaks of a speed over what its pace declares: it is answered in the very scan in which it is read.
fn is_over(station: &Station, condition: &Condition) -> bool {
    let mut is = false;
    condition.each(&mut |simple| {
        if let Condition::Faster(at, mm) | Condition::Back(at, mm) = simple {
            is |= pace(station, *at).is_some_and(|pace| *mm > pace.top);
        }
    });
    is
}

fn pace(station: &Station, input: InputId) -> Option<&Pace> {
    match station.inputs.get(input).map(|input| &input.kind) {
        Some(InputKind::Pace(pace)) => Some(pace),
        _ => None,
    }
}

/// Paces with spans of one length begin and end them together, so that a reset that waits for one of them waits for all.
fn together(scene: &mut Scene<'_>) {
    let station = scene.model.station;
    let all: Vec<InputId> = (0..station.inputs.len()).filter(|input| pace(station, *input).is_some()).collect();
    before_known(scene, &all);
    let spoken: Vec<InputId> = scene.inputs.iter().copied().filter(|input| all.contains(input)).collect();
    for one in spoken {
        let span = pace(station, one).map(|pace| pace.span);
        for other in all.iter().copied().filter(|other| *other != one && pace(station, *other).map(|p| p.span) == span)
        {
            let (one, other) = (scene.name(one), scene.name(other));
            if let (Some(a), Some(b)) = (scene.cell(&one, "clock"), scene.cell(&other, "clock")) {
                scene.always(Claim::Same(Sum::cell(a), Sum::cell(b)));
            }
            if let (Some(a), Some(b)) = (scene.cell(&one, "known"), scene.cell(&other, "known")) {
                scene.when(&[Claim::Is(a)], &[Claim::Is(b)]);
                scene.when(&[Claim::Is(b)], &[Claim::Is(a)]);
            }
        }
    }
}

/// No reset acts before a speed is known: the stop of power-up stands until then.
pub(super) fn before_known(scene: &mut Scene<'_>, paces: &[InputId]) {
    let station = scene.model.station;
    let started = cells::way(station, scene.model.program, scene.model.plan.tables().head.way_started);
    let Some(latched) = scene.cell(&started, "latched") else { return };
    let stood = scene.cell(station.answer(station.worst()), "stood");
    scene.when(&[Claim::Is(latched)], &stood.map(Claim::Is).into_iter().collect::<Vec<_>>());
    for pace in paces {
        let Some(known) = scene.cell(&scene.name(*pace), "known") else { continue };
        scene.when(&[Claim::Not(known)], &[Claim::Is(latched)]);
        if let Some(lasted) = scene.cell("reset", "lasted") {
            scene.when(&[Claim::Not(known)], &[Claim::below(lasted, 0)]);
        }
    }
}
