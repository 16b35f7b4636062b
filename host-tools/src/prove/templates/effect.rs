//! The effect of a stop that must be seen: the confirm of that stop waits as the requirement does, and what it is known to have
//! seen the requirement has seen as well.

use super::Scene;
use crate::prove::lemma::{Claim, Sum};
use crate::station::{Form, WatchKind};

/// Scans by which the requirement may wait longer than is offered for the rule.
const LAG: u32 = 2;

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    let Form::Effect { after, .. } = scene.requirement.form else { return };
    let (Some(held), Some(seen)) = (scene.own("held"), scene.own("seen")) else { return };
    scene.when(&[Claim::Is(seen)], &[Claim::below(held, 0)]);
    let unserved = scene.unserved();
    for watch in &scene.model.station.watches {
        let WatchKind::Confirm(confirm) = &watch.kind else { continue };
        let name = watch.name.text.as_str();
        let (Some(waits), Some(known)) = (scene.cell(name, "waits"), scene.cell(name, "seen")) else { continue };
        if confirm.after != after {
            continue;
        }
        if let (Some(stood), Some(covered), Some(own), Some(before)) =
            (scene.own("went-on"), scene.own("covered"), scene.own("before"), scene.cell(name, "before"))
        {
            let counts = Claim::from(waits, 1);
            scene.when(&[Claim::Is(stood), Claim::Not(covered)], std::slice::from_ref(&counts));
            scene.when(&[counts], &[Claim::AtMost(Sum::cell(before), Sum::cell(own))]);
        }
        let as_long = Claim::AtMost(Sum::cell(held), Sum::cell(waits));
        scene.always(as_long.clone());
        scene.when(&[Claim::Is(known)], &[Claim::Is(seen)]);
        let unseen: Vec<Claim> = unserved.iter().cloned().chain([Claim::Not(known)]).collect();
        scene.when(&unseen, &[Claim::below(waits, confirm.within)]);
        for lag in 0..=LAG {
            let most = Claim::below(held, confirm.within.saturating_add(lag));
            scene.when(&unserved, std::slice::from_ref(&most));
            scene.always(most);
        }
    }
}
