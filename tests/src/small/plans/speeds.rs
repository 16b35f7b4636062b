//! Speeds: too fast, rolling back, slow orders.

use super::Draft;

impl Draft {
    /// A pace of a millimetre a pulse and this greatest speed, in mm/s.
    pub(super) fn pace(&mut self, top: u32, signed: bool, span: u32, more: &str) {
        let signed = if signed { "signed, " } else { "" };
        let fault = self.rng.small(0, 1);
        self.say(&format!("pace rope on CN-01{more}, 1 mm a pulse"));
        let agree = if more.contains("and") { ", the two agree within 1 mm/s" } else { "" };
        self.say(&format!(
            "    {signed}at most {top} mm/s, speed over {span} s{agree}, still below 0.5 mm/s, fault after {fault} s"
        ));
    }
}

/// A guard on a speed.
pub(super) fn speed(d: &mut Draft) {
    d.stops();
    let (span, signed) = (d.rng.small(1, 2), d.rng.chance(40));
    let second = if d.rng.chance(25) && !signed && span == 1 { " and CN-02" } else { "" };
    let limit = d.rng.small(1, 2);
    d.pace(limit + 1, signed, span, second);
    let wrong = u32::from(d.plants("a limit off by one"));
    let back = signed && d.rng.chance(50);
    let (guard, asks) = if back {
        (
            format!("rope rolls back faster than {limit} mm/s"),
            format!("rope rolls back faster than {} mm/s", limit - wrong.min(limit - 1)),
        )
    } else {
        (format!("rope faster than {limit} mm/s"), format!("rope faster than {} mm/s", limit - wrong.min(limit - 1)))
    };
    let (hold, least) = (d.rng.small(0, 2), d.least());
    let held = if d.plants("a hold too long") { hold + 2 } else { hold };
    let answer = d.answer(least);
    let only = if d.plants("only while it moves forward") && signed {
        " and not rope rolls back faster than 1 mm/s"
    } else {
        ""
    };
    d.say(&format!("guard fast\n    when {guard}{only}\n{}    stop {answer}", Draft::unbroken(held)));
    d.reset("rope still");
    d.require(&format!("whenever {asks}{}", Draft::lasting(hold)), least, 0, "");
}

/// A slow order.
pub(super) fn slow(d: &mut Draft) {
    d.say("slow creep rope down to 1 mm/s within 2 s");
    d.stops();
    let span = d.rng.small(1, 2);
    d.pace(2, false, span, "");
    let terminal = d.terminal();
    d.say(&format!("contact gate on {terminal}, rests closed"));
    let hold = d.rng.small(0, 2);
    let held = if d.plants("a hold too long") { hold + 2 } else { hold };
    let condition = if d.plants("only while it moves") { "gate open and rope moving" } else { "gate open" };
    let answer = d.rng.pick(&["slow creep", "slow creep", "stop halt"]);
    d.say(&format!("guard gusts\n    when {condition}\n{}    {answer}", Draft::unbroken(held)));
    d.reset("rope still");
    let within = d.rng.small(2, 3);
    let asks = format!("whenever gate open{}", Draft::lasting(hold));
    if d.plants("a stop is asked for") {
        d.say(&format!("require R1 \"asked\"\n    {asks}, stop at least halt within {} s", within + 1));
    } else {
        d.say(&format!("require R1 \"asked\"\n    {asks}, slow at least creep within {within} s"));
    }
}
