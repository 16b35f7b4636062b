//! A count of carriers, beside the same count of a requirement: while the requirement knows who is inside, the rules do.

use super::Scene;
use super::apart::settled;
use super::observed::{alike, equal};
use crate::prove::cells::channel;
use crate::prove::lemma::{Claim, Sum};
use crate::station::{InputId, Tally, WatchKind};

pub(super) fn lemmas(scene: &mut Scene<'_>, tally: &Tally) {
    for detector in [tally.from, tally.to] {
        let line = scene.name(detector);
        settled(scene, &line);
    }
    for (key, scans) in [Some(tally.key), tally.unknown].into_iter().flatten() {
        pressed(scene, key, scans);
    }
    let own = format!("raw:{}", scene.requirement.name.text);
    let (Some(known), Some(inside)) = (scene.cell(&own, "known"), scene.cell(&own, "inside")) else { return };
    for watch in scene.watches.clone() {
        let Some(watch) = scene.model.station.watches.get(watch) else { continue };
        let WatchKind::Count(count) = &watch.kind else { continue };
        if (count.enter, count.leave) != (tally.from, tally.to) {
            continue;
        }
        let (name, most) = (watch.name.text.clone(), tally.most);
        alike(scene, scene.cell(&name, "confirmed"), scene.cell(&own, "confirmed"));
        let (Some(rules), Some(counted)) = (scene.cell(&name, "known"), scene.cell(&name, "inside")) else { continue };
        scene.when(&[Claim::Is(known)], &[Claim::Is(rules)]);
        scene.when(&[Claim::Is(known)], &[Claim::Same(Sum::cell(inside), Sum::cell(counted))]);
        scene.always(Claim::Same(Sum::cell(inside), Sum::cell(counted)));
        let mut when = scene.unserved();
        when.push(Claim::Is(known));
        scene.when(&when, &[Claim::below(inside, most)]);
    }
}

/// A key as it settles, beside the same key as it settles for the requirement; and a press of it, by which a count is forgotten.
fn pressed(scene: &mut Scene<'_>, key: InputId, scans: u32) {
    let (station, copy) = (scene.model.station, format!("raw:{}.{scans}", scene.name(key)));
    let [number] = station.channels_of(key)[..] else { return };
    let line = channel(station, number);
    alike(scene, scene.cell(&line, "level"), scene.cell(&copy, "level"));
    equal(scene, scene.cell(&line, "settle"), scene.cell(&copy, "settle"));
    for (rule, _) in (1..).zip(&station.refills).filter(|(_, refill)| refill.key == key) {
        for own in 1..=scene.model.monitors.station().refills.len() {
            let cells =
                (scene.cell(&format!("refill-{rule}"), "key-was"), scene.cell(&format!("raw:refill-{own}"), "key-was"));
            alike(scene, cells.0, cells.1);
        }
    }
}
