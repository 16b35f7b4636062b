//! A line that settles, beside the raw sample and what is declared of the signal.

use super::Scene;
use crate::prove::lemma::{Claim, Sum};

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    let started = scene.cell("controller", "started");
    if let (Some(one), Some(raw)) = (started, scene.cell("raw:controller", "started")) {
        scene.when(&[Claim::Is(one)], &[Claim::Is(raw)]);
        scene.when(&[Claim::Is(raw)], &[Claim::Is(one)]);
    }
    for (channel, line) in scene.lines() {
        let (up, down) = scene.samples(channel);
        let inverted = scene.inverted(channel);
        let (Some(level), Some(settle)) = (scene.cell(&line, "level"), scene.cell(&line, "settle")) else { continue };
        // The count starts when the sample begins to differ, and the level follows when it is full.
        scene.when(&[Claim::Not(level)], &[Claim::below(settle, up.saturating_sub(1))]);
        scene.when(&[Claim::Is(level)], &[Claim::below(settle, down.saturating_sub(1))]);
        if let Some(started) = started {
            scene.when(&[Claim::Not(started)], &[Claim::below(settle, 0)]);
            scene.when(&[Claim::Not(started)], &[Claim::Not(level)]);
        }
        let raw = format!("raw:{line}");
        let (Some(sample), Some(bare)) = (scene.cell(&raw, "level"), scene.cell(&raw, "settle")) else { continue };
        scene.always(Claim::below(bare, 0));
        for (same, differs) in [
            ([Claim::Is(level), Claim::Is(sample)], [Claim::Is(level), Claim::Not(sample)]),
            ([Claim::Not(level), Claim::Not(sample)], [Claim::Not(level), Claim::Is(sample)]),
        ] {
            scene.when(&same, &[Claim::below(settle, 0)]);
            scene.when(&differs, &[Claim::from(settle, 1)]);
        }
        let signal = format!("signal:{line}");
        let (Some(declared), Some(stood)) = (scene.cell(&signal, "level"), scene.cell(&signal, "stood")) else {
            continue;
        };
        let (same, other) = if inverted {
            (Claim::Not(declared), Claim::Is(declared))
        } else {
            (Claim::Is(declared), Claim::Not(declared))
        };
        scene.when(&[Claim::Is(sample)], &[same]);
        scene.when(&[Claim::Not(sample)], &[other]);
        for differs in [[Claim::Is(level), Claim::Not(sample)], [Claim::Not(level), Claim::Is(sample)]] {
            scene.when(&differs, &[Claim::Same(Sum::cell(settle), Sum::cell(stood))]);
            scene.when(&differs, &[Claim::AtMost(Sum::cell(stood), Sum::cell(settle))]);
        }
    }
}
