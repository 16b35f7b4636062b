//! Bypasses: what they take away, how fast and how long.

use super::Draft;

/// A guard that a bypass takes away.
pub(super) fn bypass(d: &mut Draft) {
    d.stops();
    let terminals: Vec<String> = (0..3).map(|_| d.terminal()).collect();
    d.say(&format!("key service-key on {}\nkey bypass-key on {}", terminals[0], terminals[1]));
    d.say(&format!("contact gate on {}, rests closed", terminals[2]));
    d.say("mode service selected by service-key");
    d.pace(2, false, 1, "");
    let (budget, rest) = (d.rng.small(1, 2), d.rng.small(1, 2));
    let (hold, least) = (d.rng.small(0, 1), d.least());
    let answer = d.answer(least);
    d.say(&format!("guard open\n    when gate open\n{}    stop {answer}", Draft::unbroken(hold)));
    d.say("bypass gate-off of open\n    in service\n    while bypass-key held");
    d.say(&format!("    rope at most 1 mm/s, for at most {budget} s, then not again for {rest} s"));
    d.reset("reset-key free");
    match d.rng.below(4) {
        // Masked, and excused or not.
        0 | 1 => {
            let masked = d.plants("masked");
            let unless = if masked { "" } else { "    unless gate-off active" };
            // The permission is judged in the scan after, and what is counted goes on while it is active.
            let asked = hold + d.rng.small(0, 1);
            d.require(&format!("whenever gate open{}", Draft::lasting(asked)), least, 1, unless);
        }
        2 => {
            let lasting = if d.plants("asked too soon") { budget - 1 } else { budget };
            d.require(&format!("whenever gate-off active{}", Draft::lasting(lasting)), least, 0, "");
        }
        _ => {
            let limit = if d.plants("a limit too low") { "gate open" } else { "rope faster than 1 mm/s" };
            d.require(&format!("whenever gate-off active and {limit} for 1 s"), least, 0, "");
        }
    }
}
