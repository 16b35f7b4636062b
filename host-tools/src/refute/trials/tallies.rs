//! Carriers of a trial that are counted: too many, one that leaves where nobody is, and a number that is not what a key says.

use super::super::acts::Act;
use super::super::boot::{Boots, Shop, key, reset};
use crate::station::{InputId, InputKind, Scans, Tally};

/// Scans after a press each of which is tried for somebody who comes.
const SOON: Scans = 24;

/// A count that is confirmed by its key, and then is wrong.
pub(super) fn counts(
    shop: &Shop<'_>,
    boots: &Boots<'_>,
    tally: &Tally,
    [from, to]: [usize; 2],
    tail: Act,
    trials: &mut Vec<Vec<Act>>,
) {
    let (confirming, settles) = tally.key;
    let own = |input: InputId| match shop.station.inputs.get(input).map(|input| &input.kind) {
        Some(InputKind::Key(k)) => k.settle.up.max(k.settle.down),
        _ => 0,
    };
    let pressed = |scans: Scans| {
        let down = [key(shop.station, confirming, Some(true)), vec![Act::Wait(scans)]].concat();
        [down, key(shop.station, confirming, Some(false)), vec![Act::Wait(settles.max(own(confirming)) + 4)]].concat()
    };
    let long = settles.max(own(confirming)) + 2;
    let cruise = [Act::Speed(boots.cruise), Act::Wait(30)];
    let enters = [Act::Deviate(from, to, None), Act::Carrier(from), Act::Wait(20)];
    let leaves = [Act::Carrier(to), Act::Wait(20)];
    // It is known as soon as the key has been held for as long as is required.
    for press in [long, settles + 1] {
        let confirm = pressed(press);
        for inside in 0..=tally.most {
            let come: Vec<Act> = enters.iter().copied().cycle().take(3 * inside as usize).collect();
            let gone: Vec<Act> =
                leaves.iter().copied().cycle().take(2 * (tally.confirmed + inside + 1) as usize).collect();
            trials.push([confirm.clone(), gone.clone(), vec![tail]].concat());
            trials.push([confirm.clone(), come.clone(), gone, vec![tail]].concat());
            trials.push([confirm.clone(), come.clone(), confirm.clone(), vec![tail]].concat());
            // Who is late is followed no longer, and counted still.
            let late = [come, vec![Act::Roll(60_000)], reset(shop), cruise.to_vec()].concat();
            let more: Vec<Act> = enters.iter().copied().cycle().take(3 * (tally.most + 1) as usize).collect();
            trials.push([confirm.clone(), late, more, vec![tail]].concat());
        }
    }
    // Someone comes while the key settles: soon, or about when it has.
    let about = [settles, own(confirming)].into_iter().flat_map(|scans| scans.saturating_sub(2)..=scans + 2);
    let mut times: Vec<Scans> = (0..=long.min(SOON)).chain(about).collect();
    times.sort_unstable();
    times.dedup();
    for after in times {
        let down = key(shop.station, confirming, Some(true));
        let comes = [vec![Act::Wait(after)], enters[..2].to_vec(), vec![Act::Wait(long)]].concat();
        let up = [key(shop.station, confirming, Some(false)), vec![Act::Wait(long + 4)]].concat();
        let gone: Vec<Act> = leaves.iter().copied().cycle().take(4).collect();
        let once = [down, comes, up].concat();
        trials.push([once.clone(), gone, vec![tail]].concat());
        trials.push([once, pressed(long), vec![tail]].concat());
    }
}
