//! Travel windows of a few millimetres or scans.

use super::{Draft, STOPS};

/// Detectors, and what they settle.
fn detectors(d: &mut Draft) {
    let settle = u32::from(d.plants("settles"));
    let settles = if settle > 0 { "\n    settles 1 s" } else { "" };
    for (name, at) in [("enter", 1), ("leave", 2)] {
        let terminal = d.terminal();
        let settles = if name == "leave" { settles } else { "" };
        d.say(&format!("detector {name} on {terminal}, at {at} m, pulses at least {}.5 s{settles}", settle + 2));
    }
}

/// The least of its answers, or, as a fault, a milder one for one of them.
fn answers(d: &mut Draft, least: usize, backwards: bool) -> String {
    let mut all: Vec<&str> = (0..3).map(|_| d.answer(least)).collect();
    all.push(STOPS[d.rng.size(least, 1)]);
    let back = if backwards { format!(", backwards {}", STOPS[d.rng.size(least, 1)]) } else { String::new() };
    format!("    early {}, late {}, stray {}, crowded {}{back}", all[0], all[1], all[2], all[3])
}

/// A window: what is asked, and what is watched, which the rules narrow by `by` at each end.
fn window(d: &mut Draft, by: u32) -> [[u32; 2]; 2] {
    let low = d.rng.small(0, 1);
    let high = low + 2 * by + d.rng.small(0, 1);
    let (mut asked, watched) = ([low.max(1), high], [low, high]);
    if d.plants("early by one") {
        asked[0] = low + by + 1;
        asked[1] = asked[1].max(asked[0]);
    } else if d.plants("late by one") {
        asked[1] = (high - by).saturating_sub(1).max(asked[0]);
    }
    [asked, watched]
}

/// A window in rope.
pub(super) fn rope(d: &mut Draft) {
    d.stops();
    // Each of these makes many more states.
    let [signed, two, backed] = match d.rng.below(8) {
        0 => [true, false, false],
        1 => [false, true, false],
        2 => [false, false, true],
        _ => [false; 3],
    };
    d.pace(1, signed, 1, "");
    detectors(d);
    let [asked, watched] = window(d, 1);
    let (least, carriers) = (d.least(), 1 + u32::from(two));
    let backstop = if backed { ", and at most 4 s while rope runs" } else { "" };
    let window = format!("takes {} mm to {} mm of rope{backstop}", watched[0], watched[1]);
    travel(d, &window, carriers, least, true);
    d.reset("reset-key free");
    let asks = format!("after enter rises, in {} mm to {} mm of rope must rise leave, else", asked[0], asked[1]);
    let within = 3 + d.rng.small(0, 1);
    d.say(&format!("require R1 \"asked\"\n    {asks} stop at least {} within {within} s", STOPS[least]));
}

/// Carriers under way over rope: one from nowhere, or one too many.
pub(super) fn under_way(d: &mut Draft) {
    d.stops();
    let signed = d.rng.chance(10);
    d.pace(1, signed, 1, "");
    detectors(d);
    let low = d.rng.small(0, 1);
    let high = low + 2 + d.rng.small(0, 1);
    let (least, carriers) = (d.least(), d.rng.pick(&[1, 1, 2]));
    travel(d, &format!("takes {low} mm to {high} mm of rope"), carriers, least, true);
    d.reset("reset-key free");
    let latest = if d.plants("known too soon") { high.saturating_sub(2).max(1) } else { high };
    let way = format!("under way from enter for at most {latest} mm of rope");
    let asks = if d.rng.chance(50) {
        format!("whenever leave rises with no carrier {way}")
    } else {
        let most = if d.plants("one carrier fewer") { carriers - 1 } else { carriers };
        let lasting = Draft::lasting(d.rng.small(0, 1));
        format!("whenever leave awaits over {most} {} {way}{lasting}", if most == 1 { "carrier" } else { "carriers" })
    };
    d.require(&asks, least, 1, "");
}

/// The watch itself, unless it is the rule that is missing.
fn travel(d: &mut Draft, window: &str, carriers: u32, least: usize, backwards: bool) {
    let answers = answers(d, least, backwards);
    if !d.plants("no rule") {
        d.say(&format!("travel through\n    from enter to leave\n    {window}"));
        d.say(&format!("    up to {carriers} carriers under way\n{answers}"));
    }
}

/// A window in time.
pub(super) fn time(d: &mut Draft) {
    d.stops();
    let top = d.rng.small(1, 2);
    d.pace(top, false, 1, "");
    detectors(d);
    let [asked, watched] = window(d, 1);
    let (least, carriers) = (d.least(), d.rng.pick(&[1, 1, 2]));
    let wide = u32::from(!d.plants("a narrower band"));
    let band = |low: u32| format!(", with rope at {low} mm/s to {top} mm/s throughout");
    travel(d, &format!("takes {} s to {} s{}", watched[0], watched[1], band(1)), carriers, least, false);
    d.reset("reset-key free");
    let asks = format!("after enter rises, in {} s to {} s must rise leave{}", asked[0], asked[1], band(wide));
    let within = 3 + d.rng.small(0, 1);
    d.say(&format!("require R1 \"asked\"\n    {asks}, else stop at least {} within {within} s", STOPS[least]));
}
