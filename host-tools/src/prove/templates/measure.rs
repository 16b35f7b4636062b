//! A window behind a rise in which a gauge is judged: the rule's is open while that of the requirement is, and counts alike.

use super::Scene;
use crate::prove::lemma::{Claim, Sum};
use crate::station::{Form, WatchKind, When};

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    let Form::WhenRises { detector, when, .. } = scene.requirement.form else { return };
    let asked = format!("raw:{}", scene.requirement.name.text);
    let (Some(own), Some(since)) = (scene.cell(&asked, "open"), scene.cell(&asked, "window")) else { return };
    for watch in scene.watches.clone() {
        let Some(watch) = scene.model.station.watches.get(watch) else { continue };
        let WatchKind::Measure(rule) = &watch.kind else { continue };
        let fits = matches!((when, rule.when), (When::Scans(_), When::Scans(_)) | (When::Rope(..), When::Rope(..)));
        if rule.detector != detector || !fits {
            continue;
        }
        let name = watch.name.text.clone();
        let (Some(open), Some(window)) = (scene.cell(&name, "open"), scene.cell(&name, "window")) else { continue };
        scene.when(&[Claim::Is(own)], &[Claim::Is(open)]);
        scene.when(&[Claim::Is(own)], &[Claim::Same(Sum::cell(window), Sum::cell(since))]);
    }
}
