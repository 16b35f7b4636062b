//! A pace, beside the same pace of the bare plan.

use super::Scene;
use crate::prove::lemma::{Claim, Sum};
use crate::station::InputKind;

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
}
