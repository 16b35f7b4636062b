//! A window behind a rise in which a gauge is judged: the rule's is open while that of the requirement is, and counts alike.

use super::Scene;
use crate::prove::lemma::{Claim, Sum};
use crate::station::{Form, WatchKind, When};

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    let Form::WhenRises { detector, when, .. } = scene.requirement.form else { return };
    stays(scene, detector);
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

/// While a rise is asked about, either its line still settles, or the rule has seen it.
fn stays(scene: &mut Scene<'_>, detector: usize) {
    let line = scene.name(detector);
    let Some(channel) = scene.model.station.channels_of(detector).first().copied() else { return };
    let (read, (up, _)) = scene.reading(channel);
    let cells =
        (scene.own("lasted"), scene.cell(&line, "level"), scene.cell(&line, "settle"), scene.cell(&read, "level"));
    let (Some(lasted), Some(level), Some(settle), Some(sample)) = cells else { return };
    let unserved = scene.unserved();
    let with = |more: &[Claim]| -> Vec<Claim> { unserved.iter().chain(more).cloned().collect() };
    scene.when(&unserved, &[Claim::below(lasted, up.saturating_sub(1))]);
    for counted in [with(&[Claim::from(lasted, 1)]), vec![Claim::from(lasted, 1)]] {
        scene.when(&counted, &[Claim::Not(level)]);
        scene.when(&counted, &[Claim::Is(sample)]);
        scene.when(&counted, &[Claim::Same(Sum::cell(settle), Sum::cell(lasted))]);
        scene.when(&counted, &[Claim::AtMost(Sum::cell(lasted), Sum::cell(settle))]);
    }
}
