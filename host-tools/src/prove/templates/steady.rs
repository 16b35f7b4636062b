//! Lines of a requirement that sets bounces aside, beside the same lines as the rules let them settle.

use super::Scene;
use crate::monitor::steady_name;
use crate::prove::cells::channel;
use crate::prove::lemma::{Claim, Sum};
use crate::station::{InputKind, Settle};

/// The line as the requirement reads it, if it sets bounces aside; and whether the rules let it settle by as much.
pub(super) fn copy(scene: &Scene<'_>, number: usize) -> Option<(String, bool)> {
    let (station, scans) = (scene.model.station, scene.requirement.bounces);
    if scans == 0 {
        return None;
    }
    let mut inputs = station.inputs.iter().enumerate();
    let (_, input) = inputs.find(|(at, _)| station.channels_of(*at).contains(&number))?;
    let settle = match &input.kind {
        InputKind::Contact(c) => c.settle,
        InputKind::Pair(p) => p.settle,
        InputKind::Detector(d) => d.settle,
        InputKind::Key(k) => k.settle,
        InputKind::Gauge(_) | InputKind::Pace(_) | InputKind::Link(_) => return None,
    };
    let name = steady_name(&input.name.text, scans);
    // Of an input with two channels the name of a line has its terminal behind it.
    let line = channel(station, number);
    let terminal = line.strip_prefix(&input.name.text).unwrap_or_default();
    Some((format!("raw:{name}{terminal}"), settle == Settle { up: scans, down: scans }))
}

/// Where both settle by as much, they are the same in every scan.
pub(super) fn lemmas(scene: &mut Scene<'_>) {
    let begun = (scene.cell("controller", "started"), scene.cell("raw:controller", "started"));
    for (number, line) in scene.lines() {
        let Some((copy, true)) = copy(scene, number) else { continue };
        if let (Some(rule), Some(own)) = (scene.cell(&line, "level"), scene.cell(&copy, "level")) {
            scene.when(&[Claim::Is(own)], &[Claim::Is(rule)]);
            scene.when(&[Claim::Is(rule)], &[Claim::Is(own)]);
        }
        if let (Some(rule), Some(own)) = (scene.cell(&line, "settle"), scene.cell(&copy, "settle")) {
            scene.always(Claim::Same(Sum::cell(own), Sum::cell(rule)));
        }
        if let (Some(rule), Some(own)) = begun {
            scene.when(&[Claim::Is(own)], &[Claim::Is(rule)]);
            scene.when(&[Claim::Is(rule)], &[Claim::Is(own)]);
        }
    }
}
