//! A bypass is only active while the pace is known to be slow.

use super::Scene;
use crate::prove::lemma::{Claim, Sum};

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    for bypass in scene.bypasses.clone() {
        let Some(bypass) = scene.model.station.bypasses.get(bypass) else { continue };
        let name = bypass.name.text.clone();
        let (pace, most) = (scene.name(bypass.at_most.0), bypass.at_most.1);
        let Some(active) = scene.cell(&format!("raw:{name}"), "active") else { continue };
        for prefix in ["", "raw:"] {
            for speed in ["speed", "speed-back"] {
                if let Some(speed) = scene.cell(&format!("{prefix}{pace}"), speed) {
                    scene.when(&[Claim::Is(active)], &[Claim::below(speed, most)]);
                }
            }
            if let Some(known) = scene.cell(&format!("{prefix}{pace}"), "known") {
                scene.when(&[Claim::Is(active)], &[Claim::Is(known)]);
            }
        }
        if let Some(held) = scene.own("held") {
            scene.when(&[Claim::from(held, 1)], &[Claim::Not(active)]);
            // What is asked while it is active has held for less than has been used.
            if let Some(used) = scene.cell(&name, "used") {
                let less = Claim::AtMost(Sum::cell(held).plus(1), Sum::cell(used));
                scene.when(&[Claim::Is(active)], &[less]);
                scene.always(Claim::below(held, bypass.budget));
            }
        }
        if let (Some(used), Some(armed)) = (scene.cell(&name, "used"), scene.cell(&name, "armed")) {
            scene.always(Claim::below(used, bypass.budget));
            scene.when(&[Claim::from(used, bypass.budget)], &[Claim::Not(armed)]);
        }
    }
}
