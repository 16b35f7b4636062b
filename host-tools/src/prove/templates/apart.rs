//! A distance that is assumed, beside the spacing that answers where it is not kept.

use super::Scene;
use crate::prove::lemma::{Claim, Sum};
use crate::station::{self, Form, WatchKind};

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    let Form::Held { claim, .. } = &scene.requirement.form else { return };
    let (station::Claim::RopeApart(detector, _, least) | station::Claim::ScansApart(detector, least)) = *claim else {
        return;
    };
    let line = scene.name(detector);
    let settled = format!("raw:{line}.settled");
    for cell in ["level", "settle"] {
        if let (Some(one), Some(other)) = (scene.cell(&line, cell), scene.cell(&settled, cell)) {
            scene.always(Claim::Same(Sum::cell(one), Sum::cell(other)));
        }
    }
    let of = format!("apart:{}", scene.requirement.name.text);
    let (Some(known), Some(distance)) = (scene.cell(&of, "known"), scene.cell(&of, "since")) else { return };
    scene.always(Claim::below(distance, least));
    let far = Claim::from(distance, least);
    for watch in scene.watches.clone() {
        let Some(watch) = scene.model.station.watches.get(watch) else { continue };
        let WatchKind::Spacing(_) = watch.kind else { continue };
        let name = &watch.name.text;
        let (Some(armed), Some(since)) = (scene.cell(name, "armed"), scene.cell(name, "apart")) else { continue };
        // One that has told of a carrier too far ahead waits for the next one.
        scene.when(&[Claim::Is(known)], &[Claim::Is(armed), far.clone()]);
        scene.when(&[Claim::Is(known)], &[Claim::AtMost(Sum::cell(since), Sum::cell(distance)), far.clone()]);
    }
}
