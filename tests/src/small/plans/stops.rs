//! What stands of stops: how they are cleared, never less, never together; and links.

use super::{Draft, STOPS};

/// A stop is cleared by its key alone.
pub(super) fn released(d: &mut Draft) {
    d.stops();
    let (one, other) = (d.terminal(), d.terminal());
    d.say(&format!("contact gate on {one}, rests closed"));
    let (second, settle) = (d.rng.chance(25), d.rng.small(0, 1));
    let second = if second { format!(" and {}", d.terminal()) } else { String::new() };
    let settles = if settle > 0 { ", settles 1 s" } else { "" };
    d.say(&format!("key other-key on {other}{second}{settles}"));
    let answer = d.answer(0);
    d.say(&format!("guard open\n    when gate open\n    stop {answer}"));
    let (mut key, when) = (d.rng.pick(&["reset-key", "other-key"]), d.rng.pick(&["gate closed", "reset-key free"]));
    let when = if d.rng.chance(20) { "other-key held or other-key free" } else { when };
    d.say(&format!("reset by {key} pressed and let go, when {when}"));
    if d.plants("another key") {
        key = if key == "reset-key" { "other-key" } else { "reset-key" };
    }
    let unless = d.maybe(15, "\n    unless gate open");
    d.say(&format!("require R1 \"asked\"\n    never released without {key}{unless}"));
}

/// A stop stands while a condition does.
pub(super) fn never_less(d: &mut Draft) {
    d.stops();
    let (one, other) = (d.terminal(), d.terminal());
    let settles = if d.plants("settles") { "\n    settles 1 s" } else { "" };
    let opens = d.maybe(20, "\n    opens for at least 3.5 s");
    d.say(&format!("contact gate on {one}, rests closed{opens}{settles}\ncontact door on {other}, rests closed"));
    let least = d.least();
    let answer = d.answer(least);
    let (guard, asked) = d.rng.pick(&[("gate open", "gate open"), ("gate open", "gate open and door open")]);
    let asked = if d.plants("another condition") { "gate open or door open" } else { asked };
    let hold = u32::from(d.plants("a hold"));
    d.say(&format!("guard open\n    when {guard}\n{}    stop {answer}", Draft::unbroken(hold)));
    d.reset("gate closed");
    let unless = d.maybe(15, "\n    unless reset-key held");
    d.say(&format!("require R1 \"asked\"\n    never less than {} while {asked}{unless}", STOPS[least]));
}

/// Two outputs are never off together.
pub(super) fn together(d: &mut Draft) {
    let shape = if d.plants("released together") { d.rng.size(2, 3) } else { d.rng.index(2) };
    let (halt, emergency, then) = match shape {
        0 => ("drive", "drive", ""),
        1 => ("drive and spare", "drive", ""),
        2 => ("drive", "drive and brake", ""),
        _ => ("drive", "drive", "    then brake when rope still, at the latest after 2 s\n"),
    };
    d.say("output spare on DO-03, off within 1 s");
    let category = u8::from(!then.is_empty());
    let bites = "    bites within 1 s, slows at 0.1 m/s2 to 1 m/s2";
    d.say(&format!("stop halt category {category}\n    releases {halt}\n{then}{bites}"));
    d.say(&format!("stop emergency category 0, for emergencies\n    releases {emergency}\n{bites}"));
    d.pace(2, false, 1, "");
    let terminal = d.terminal();
    d.say(&format!("contact gate on {terminal}, rests closed"));
    let answer = d.answer(0);
    d.say(&format!(
        "guard open\n    when gate open\n    stop {answer}\nguard fast\n    when rope faster than 1 mm/s\n    stop halt"
    ));
    d.reset("gate closed");
    let unless = d.maybe(15, "\n    unless gate open");
    d.say(&format!("require R1 \"asked\"\n    never drive together with brake{unless}"));
}

/// A link that may fall silent.
pub(super) fn link(d: &mut Draft) {
    d.stops();
    let (silent, least) = (d.rng.small(1, 2), d.least());
    let answer = d.answer(least);
    d.say(&format!("link other on LN-01, silent for at most {silent} s, else {answer}"));
    let terminal = d.terminal();
    d.say(&format!("contact gate on {terminal}, rests closed"));
    let guarded = d.rng.chance(50);
    if guarded {
        d.say("guard alone\n    when gate open and other faulty\n    stop emergency");
    } else {
        d.say("guard open\n    when gate open\n    stop halt");
    }
    d.reset("reset-key free");
    let asked = if d.plants("another condition") { "gate open" } else { "other faulty" };
    d.require(&format!("whenever {asked}"), least, 0, "");
}
