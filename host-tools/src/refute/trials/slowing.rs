//! Stops whose effect is asked of a speed: the rope slows, and by just too little.

use super::super::acts::Act;
use super::super::world::Rate;
use crate::station::{Mm, Scans};

/// Each way to have the stop, and then a rope that slows by less than is asked; `scans` of them are judged.
pub(super) fn slowing(
    ways: &[Vec<Act>],
    cruise: Rate,
    (drop, span): (Mm, Scans),
    scans: Scans,
    trials: &mut Vec<Vec<Act>>,
) {
    let (drop, length) = (i64::from(drop), i64::from(span.max(1)));
    let full = cruise.mm * length / cruise.scans.max(1);
    // What a span shows may be a millimetre off, where a scan's share is none.
    for by in [drop - 2, drop - 1, drop - drop / 8, drop / 2] {
        let slow = Rate { mm: (full - by).max(0), scans: length };
        for way in ways {
            let undo = way.iter().filter_map(|act| act.undone(cruise));
            // The speed of the stop's first scan is that of a whole span before it.
            let slows = [Act::Wait(2 * span), Act::Speed(slow), Act::Wait(scans), Act::Speed(cruise)];
            trials.push(way.iter().copied().chain(slows).chain(undo).collect());
        }
    }
}
