//! No stop goes but where a condition has held, and no start is permitted soon after one: the reset and the permit count as the
//! requirement does.

use super::Scene;
use crate::prove::cells::{channel, way};
use crate::prove::lemma::{Claim, Sum};
use crate::station::{Form, Reset};

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    match scene.requirement.form {
        Form::NeverReleasedBut { lasting, .. } => cleared(scene, lasting),
        Form::NeverPermitted { pause } => paused(scene, pause),
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
    let first = usize::from(scene.model.plan.tables().head.first_stop);
    let stops = (first..scene.model.program.by_severity.len()).filter_map(|number| {
        let number = u16::try_from(number).ok()?;
        scene.cell(&way(scene.model.station, scene.model.program, number), "latched")
    });
    let stops: Vec<Claim> = stops.map(Claim::Is).collect();
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

fn paused(scene: &mut Scene<'_>, pause: u32) {
    let (Some(own), Some(rest)) = (scene.own("rest"), scene.cell("restart", "rest")) else { return };
    let as_long = Claim::AtMost(Sum::cell(rest), Sum::cell(own));
    scene.always(as_long.clone());
    scene.when(&[], &[as_long, Claim::from(own, pause)]);
}
