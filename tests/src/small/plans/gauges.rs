//! Gauges: limits, two that agree, and a measurement at a rise.

use super::Draft;

const SCALE: &str = "4 mA is 0 N, 20 mA is 4 N\n    in steps of 1 N";

/// A guard on a gauge.
pub(super) fn gauge(d: &mut Draft) {
    d.stops();
    let moves = d.maybe(20, ", moves at most 2 N a scan");
    d.say(&format!("gauge force on AI-01, {SCALE}{moves}"));
    let limit = d.rng.small(1, 2);
    let asked = if d.plants("a limit off by one") { limit } else { limit + d.rng.small(0, 1) };
    let off = asked + u32::from(d.planted.is_none());
    let (guard, asks) = match d.rng.below(3) {
        0 => (format!("force above {limit} N"), format!("force above {} N", off - 1)),
        1 => (format!("force below {} N", 4 - limit), format!("force below {} N", 4 - (off - 1))),
        _ => (format!("force outside {} N to {} N", 2 - limit + 1, 3), format!("force outside {} N to 4 N", 3 - limit)),
    };
    let (hold, least) = (d.rng.small(0, 2), d.least());
    let held = if d.plants("a hold too long") { hold + 2 } else { hold };
    let answer = d.answer(least);
    d.say(&format!("guard pulled\n    when {guard}\n{}    stop {answer}", Draft::unbroken(held)));
    d.reset("reset-key free");
    d.require(&format!("whenever {asks}{}", Draft::lasting(hold)), least, 0, "");
}

/// Two gauges that agree.
pub(super) fn agree(d: &mut Draft) {
    d.stops();
    let scale = "4 mA is 0 N, 20 mA is 3 N\n    in steps of 1 N";
    d.say(&format!("gauge one on AI-01, {scale}\ngauge other on AI-02, {scale}"));
    let apart = d.rng.small(0, 2);
    let within = if d.plants("too wide") { 3 } else { d.rng.small(1, 2) };
    let hold = if d.plants("asked too soon") { 0 } else { apart };
    let least = d.least();
    let answer = d.answer(least);
    let apart = format!("    one and other agree within {within} N\n    apart for at most {apart} s");
    d.say(&format!("agree alike\n{apart}\n    else {answer}"));
    d.reset("reset-key free");
    d.require(&format!("whenever one below 1 N and other above 2 N{}", Draft::lasting(hold)), least, 0, "");
}

/// A measurement when a detector rises.
pub(super) fn measure(d: &mut Draft) {
    d.stops();
    d.say(&format!("gauge force on AI-01, {SCALE}"));
    let settle = u32::from(d.plants("settles"));
    let settles = if settle > 0 { "\n    settles 1 s" } else { "" };
    let terminal = d.terminal();
    d.say(&format!("detector leave on {terminal}, at 2 m, pulses at least {}.5 s{settles}", settle + 2));
    let least = d.least();
    let when = d.rng.pick(&["when leave rises", "throughout the 1 s after leave rises"]);
    let (low, high) = (d.rng.small(1, 2), d.rng.small(2, 3));
    let wider = u32::from(d.plants("a limit off by one"));
    let answer = d.answer(least);
    let stays = format!("force stays between {} N and {} N", low - wider.min(low), high + wider);
    d.say(&format!("measure gripped\n    {when}\n    {stays}\n    else {answer}"));
    d.reset("leave clear");
    let unless = d.maybe(15, "    unless reset-key held");
    d.require(&format!("whenever force outside {low} N to {high} N when leave rises"), least, 0, &unless);
}
