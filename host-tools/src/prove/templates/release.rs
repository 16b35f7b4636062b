//! No stop goes without a key: the reset acts only after a press, and a press is seen raw as well.

use super::Scene;
use crate::prove::lemma::{Claim, Sum};
use crate::station::{Form, InputKind};

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    let Form::NeverReleased { key } = scene.requirement.form else { return };
    let (Some(since), Some(stopped)) = (scene.own("since"), scene.own("stopped")) else { return };
    let first = usize::from(scene.model.plan.tables().head.first_stop);
    let stops = (first..scene.model.program.by_severity.len()).filter_map(|way| {
        let way = u16::try_from(way).ok()?;
        scene.cell(&super::super::cells::way(scene.model.station, scene.model.program, way), "latched")
    });
    let latched: Vec<Claim> = stops.map(Claim::Is).collect();
    let settle = match scene.kind(key) {
        Some(InputKind::Key(key)) => key.settle.up.max(key.settle.down),
        _ => 0,
    };
    for lag in 0..=settle.saturating_add(2) {
        let mut then = latched.clone();
        then.extend([Claim::Not(stopped), Claim::below(since, lag)]);
        scene.when(&[], &then);
    }
    for channel in scene.model.station.channels_of(key) {
        let line = super::super::cells::channel(scene.model.station, channel);
        let cells = (scene.cell(&line, "level"), scene.cell(&line, "settle"), scene.cell("reset", "key-was"));
        let (Some(level), Some(settle), Some(was)) = cells else { continue };
        scene.when(&[Claim::Is(level)], &[Claim::AtMost(Sum::cell(since), Sum::cell(settle))]);
        scene.when(&[Claim::Is(was)], &[Claim::Is(level)]);
        scene.when(&[Claim::Is(was)], &[Claim::AtMost(Sum::cell(since), Sum::cell(settle))]);
    }
}
