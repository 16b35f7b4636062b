//! A link is as silent, and as good as ordered, to the rules as to what a requirement asks.

use super::Scene;
use crate::prove::lemma::{Claim, Sum};
use crate::station::InputKind;

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    for input in scene.inputs.clone() {
        if !matches!(scene.kind(input), Some(InputKind::Link(_))) {
            continue;
        }
        let name = scene.name(input);
        for what in ["silence", "order"] {
            if let (Some(ours), Some(asked)) = (scene.cell(&name, what), scene.cell(&format!("raw:{name}"), what)) {
                scene.always(Claim::Same(Sum::cell(ours), Sum::cell(asked)));
            }
        }
    }
}
