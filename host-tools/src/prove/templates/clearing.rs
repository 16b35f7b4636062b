//! No stop goes but where a condition has held, and no start is permitted soon after one: the reset and the permit count as the
//! requirement does, and a press of the reset key begins only where nothing trips.

use super::Scene;
use crate::prove::cells::{channel, way};
use crate::prove::lemma::{CellId, Claim, Sum};
use crate::station::{Condition, Form, InputId, Reset};
use std::collections::BTreeSet;

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    match &scene.requirement.form {
        Form::NeverReleasedBut { condition, lasting } => {
            let (mut held, lasting) = (BTreeSet::new(), *lasting);
            levels(condition, true, &mut held);
            cleared(scene, lasting);
            pressed(scene, &held, lasting);
        }
        Form::NeverPermitted { pause } => paused(scene, *pause),
        _ => {}
    }
}

fn cleared(scene: &mut Scene<'_>, lasting: u32) {
    let (Some(held), Some(stopped), Some(lasted)) =
        (scene.own("held"), scene.own("stopped"), scene.cell("reset", "lasted"))
    else {
        return;
    };
    let enough = Claim::from(held, lasting.saturating_add(1));
    let as_long = Claim::AtMost(Sum::cell(lasted), Sum::cell(held));
    scene.always(as_long.clone());
    scene.when(&[], &[as_long, enough.clone()]);
    let stops = stops(scene);
    // The reset acts as its key has settled free, and as long that key has been free.
    if let Some(Reset { key, .. }) = scene.model.station.reset {
        for line in scene.model.station.channels_of(key) {
            let line = channel(scene.model.station, line);
            let cells = (scene.cell(&line, "level"), scene.cell(&line, "settle"), scene.cell("reset", "key-was"));
            let (Some(level), Some(settle), Some(was)) = cells else { continue };
            scene.when(&[Claim::Is(was)], &[Claim::Is(level)]);
            let as_free = Claim::AtMost(Sum::cell(settle), Sum::cell(held));
            scene.when(&[Claim::Is(level)], &[as_free, enough.clone()]);
        }
    }
    // A stop that stood is latched still, unless the reset has acted.
    let then: Vec<Claim> = stops.into_iter().chain([Claim::Not(stopped), enough]).collect();
    scene.when(&[], &then);
}

/// Latches of all stops.
fn stops(scene: &Scene<'_>) -> Vec<Claim> {
    let first = usize::from(scene.model.plan.tables().head.first_stop);
    let stops = (first..scene.model.program.by_severity.len()).filter_map(|number| {
        let number = u16::try_from(number).ok()?;
        scene.cell(&way(scene.model.station, scene.model.program, number), "latched")
    });
    stops.map(Claim::Is).collect()
}

/// Inputs of a condition all parts of which must hold, with the level at which each does: true for high.
fn levels(condition: &Condition, holds: bool, out: &mut BTreeSet<(InputId, bool)>) {
    match condition {
        Condition::All(parts) if holds => parts.iter().for_each(|part| levels(part, holds, out)),
        Condition::Any(parts) if !holds => parts.iter().for_each(|part| levels(part, holds, out)),
        Condition::Not(part) => levels(part, !holds, out),
        Condition::High(input) => {
            out.insert((*input, holds));
        }
        _ => {}
    }
}

/// A line at the level at which the condition holds.
struct Held {
    /// It has settled there.
    level: Claim,
    /// So says the raw sample, and so it does not.
    raw: [Claim; 2],
    /// Samples after which it settles there.
    samples: u32,
}

/// A press counts only while no stop trips, so that what trips at the other level has been at this one since it began to settle before the
/// press, and has been so for as long as the press and the settling took.
fn pressed(scene: &mut Scene<'_>, held: &BTreeSet<(InputId, bool)>, lasting: u32) {
    let Some(reset) = &scene.model.station.reset else { return };
    let key = reset.key;
    let lines: Vec<Held> =
        held.iter().filter(|(input, _)| *input != key).flat_map(|at| held_lines(scene, *at)).collect();
    let Some(samples) = lines.iter().map(|line| line.samples).min() else { return };
    let cells =
        (scene.own("held"), scene.own("stopped"), scene.cell("reset", "pressing"), scene.cell("reset", "length"));
    let (Some(own), Some(stopped), Some(pressing), Some(length)) = cells else { return };
    let enough = Claim::from(own, lasting.saturating_add(1));
    for line in &lines {
        scene.when(&[Claim::Is(pressing)], std::slice::from_ref(&line.level));
    }
    let settled: Vec<Claim> = lines.iter().flat_map(|line| [line.level.clone(), line.raw[0].clone()]).collect();
    // Only at power-up is it there without having settled; then the key has not settled either.
    let keys: Vec<CellId> = scene
        .model
        .station
        .channels_of(key)
        .into_iter()
        .filter_map(|line| scene.cell(&channel(scene.model.station, line), "settle"))
        .collect();
    for key in keys {
        let then = [Claim::from(own, samples), Claim::AtMost(Sum::cell(key).plus(1), Sum::cell(own)), enough.clone()];
        scene.when(&settled, &then);
    }
    let mut while_pressed = vec![Claim::Is(pressing)];
    while_pressed.extend(lines.iter().map(|line| line.raw[0].clone()));
    let as_long = Claim::AtMost(Sum::cell(length).plus(samples.saturating_sub(1)), Sum::cell(own));
    scene.when(&while_pressed, &[as_long, enough.clone()]);
    // The reset has acted, and a line may have begun to leave the level.
    let mut then = stops(scene);
    then.extend([Claim::Not(stopped), enough]);
    then.extend(lines.iter().map(|line| line.raw[1].clone()));
    scene.when(&[], &then);
}

fn held_lines(scene: &Scene<'_>, (input, high): (InputId, bool)) -> Vec<Held> {
    let claims =
        |cell: CellId| if high { [Claim::Is(cell), Claim::Not(cell)] } else { [Claim::Not(cell), Claim::Is(cell)] };
    let line = |number: usize| {
        let name = channel(scene.model.station, number);
        let (read, (up, down)) = scene.reading(number);
        let [level, _] = claims(scene.cell(&name, "level")?);
        let raw = claims(scene.cell(&read, "level")?);
        Some(Held { level, raw, samples: if high { up } else { down } })
    };
    scene.model.station.channels_of(input).into_iter().filter_map(line).collect()
}

fn paused(scene: &mut Scene<'_>, pause: u32) {
    let (Some(own), Some(rest)) = (scene.own("rest"), scene.cell("restart", "rest")) else { return };
    let as_long = Claim::AtMost(Sum::cell(rest), Sum::cell(own));
    scene.always(as_long.clone());
    scene.when(&[], &[as_long, Claim::from(own, pause)]);
}
