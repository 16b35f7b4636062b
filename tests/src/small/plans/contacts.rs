//! Guards on contacts and pairs: settling, holds, conditions, modes.

use super::Draft;

/// A guard on a contact that settles and holds.
pub(super) fn contact(d: &mut Draft) {
    d.stops();
    let (mut settle, mut hold) = (d.rng.small(0, 1), d.rng.small(0, 1));
    let mut asked = settle + hold + d.rng.small(0, 1);
    let slack = if d.rng.chance(50) { settle + hold } else { 0 };
    let mut opens = String::new();
    if d.rng.chance(55) {
        // What is declared of the signal makes up for a requirement that asks sooner than the guard answers.
        opens = format!("\n    opens for at least {}.5 s", settle + 2 + hold);
        if slack > 0 {
            asked = 0;
        }
    }
    if d.plants("a hold too long") {
        hold = asked + slack + 1 - settle.min(1);
    } else if d.plants("settles too long") {
        settle += 2;
        opens.clear();
    } else if d.plants("asked too soon") {
        asked = 0;
        opens.clear();
        settle += 1;
    }
    let closing =
        if d.rng.chance(30) { format!(" opening and {} s closing", d.rng.small(0, 2)) } else { String::new() };
    let settles = if settle > 0 { format!("\n    settles {settle} s{closing}") } else { String::new() };
    let chatter = d.maybe(10, ", at most 0 changes a second");
    let chatter = if opens.is_empty() && settles.is_empty() { String::new() } else { chatter };
    let terminal = d.terminal();
    d.say(&format!("contact gate on {terminal}, rests closed{opens}{settles}{chatter}"));
    let (least, unbroken) = (d.least(), Draft::unbroken(hold));
    let answer = d.answer(least);
    d.say(&format!("guard open-gate\n    when gate open\n{unbroken}    stop {answer}"));
    d.reset(if settle > 0 { "reset-key free" } else { "gate closed" });
    let asks = format!("whenever gate open{}", Draft::lasting(asked));
    let unless = d.maybe(15, "    unless reset-key held");
    d.require(&asks, least, slack, &unless);
}

/// A guard on two contacts, and a requirement of the same or others.
pub(super) fn logic(d: &mut Draft) {
    d.stops();
    let (one, other) = (d.terminal(), d.terminal());
    d.say(&format!("contact gate on {one}, rests closed\ncontact door on {other}, rests closed"));
    let conditions = [
        "gate open or door open",
        "gate open",
        "gate open and door open",
        "gate open and door closed",
        "not (gate closed and door closed)",
        "(gate open or door open) and (gate closed or door closed)",
    ];
    let guarded = d.rng.index(conditions.len());
    // Each of these holds only where the first does.
    let stronger: &[usize] = match guarded {
        0 | 4 => &[0, 1, 2, 3, 4, 5],
        1 => &[1, 2, 3],
        2 => &[2],
        3 => &[3],
        _ => &[3, 5],
    };
    let asked = if d.plants("another condition") { d.rng.index(6) } else { d.rng.pick(stronger) };
    let (hold, least) = (d.rng.small(0, 2), d.least());
    let held = if d.plants("a hold too long") { hold + 2 } else { hold };
    let answer = d.answer(least);
    let unbroken = Draft::unbroken(held);
    d.say(&format!("guard open\n    when {}\n{unbroken}    stop {answer}", conditions[guarded]));
    d.reset("gate closed");
    let asks = format!("whenever {}{}", conditions[asked], Draft::lasting(hold));
    d.require(&asks, least, 0, "");
    if d.rng.chance(20) {
        d.say("assume not-both\n    never gate open and door open\n    on evidence \"drawing 13\"");
    }
}

/// A guard that adds up.
pub(super) fn total(d: &mut Draft) {
    d.stops();
    let terminal = d.terminal();
    d.say(&format!("contact gate on {terminal}, rests closed"));
    let (of, within) = (d.rng.small(1, 2), d.rng.small(2, 3));
    let hold = if d.plants("asked too soon") { 0 } else { of.max(1) };
    let least = d.least();
    let answer = d.answer(least);
    d.say(&format!("guard open\n    when gate open\n    for {of} s in all within {within} s\n    stop {answer}"));
    d.reset("reset-key free");
    d.require(&format!("whenever gate open{}", Draft::lasting(hold)), least, 0, "");
}

/// A pair with a guard.
pub(super) fn pair(d: &mut Draft) {
    d.stops();
    let (one, other) = (d.terminal(), d.terminal());
    let alike = d.rng.pick(&["alike", "opposed"]);
    let mut settle = d.rng.small(0, 1);
    let asked = settle + d.rng.small(0, 1);
    if d.plants("settles too long") {
        settle = asked + 1;
    }
    let (opens, differing) = (format!("opens for at least {}.5 s", settle + 2), d.rng.small(1, 2));
    let opens = d.maybe(50, &format!("{opens}\n    "));
    let settles = if settle > 0 { format!("settles {settle} s\n    ") } else { String::new() };
    d.say(&format!("pair button on {one} and {other}, {alike}, rests closed"));
    d.say(&format!("    {opens}{settles}differing for {differing} s is a fault"));
    let condition = if d.plants("both channels") { "button open and not button closed" } else { "button open" };
    let unbroken = if d.plants("a hold too long") { 1 + asked } else { 0 };
    let least = d.least();
    let answer = d.answer(least);
    d.say(&format!("guard pressed\n    when {condition}\n{}    stop {answer}", Draft::unbroken(unbroken)));
    d.reset("button closed");
    d.require(&format!("whenever button open{}", Draft::lasting(asked)), least, 0, "");
}

/// A guard that is off in one mode.
pub(super) fn in_mode(d: &mut Draft) {
    d.stops();
    let terminals: Vec<String> = (0..3).map(|_| d.terminal()).collect();
    d.say(&format!("key run-key on {}\nkey service-key on {}", terminals[0], terminals[1]));
    d.say(&format!("contact gate on {}, rests closed", terminals[2]));
    d.say("mode run selected by run-key\nmode service selected by service-key");
    let least = d.least();
    let answer = d.answer(least);
    let (modes, unless) = match d.rng.below(4) {
        0 => ("", ""),
        1 => ("    in run and service\n", ""),
        2 => ("    in run\n", "    unless service-key held"),
        _ => ("    in run\n", "    unless service-key held and run-key free"),
    };
    let unless = if d.plants("off in one mode") { "" } else { unless };
    d.say(&format!("guard open\n{modes}    when gate open\n    stop {answer}"));
    d.reset("gate closed");
    d.require("whenever gate open", least, 0, unless);
}
