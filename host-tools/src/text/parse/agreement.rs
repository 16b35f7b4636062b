//! Watches over what must agree, follow, change or add up.

use super::condition::condition;
use super::cursor::Cursor;
use super::slot::Slot;
use super::watches::{Common, stop_name, stop_or_slow, unexpected};
use crate::text::tree::{Effect, Every, Kind, WatchKind};

pub(super) fn agree(c: &mut Cursor<'_>) -> Option<Kind> {
    let mut common = Common::read(c, "the agreement")?;
    let mut between = Slot::new("rope and conveyor-2 agree within 0.2 m/s");
    let mut apart = Slot::new("apart for at most 300 ms");
    let mut otherwise = Slot::new("else service");
    while c.more() {
        let start = c.place();
        if common.clause(c, start) {
        } else if c.take("apart for at most") {
            apart.fill(c, start, |c| c.quantity("a time (ms)"));
        } else if c.take("else") {
            otherwise.fill(c, start, stop_or_slow);
        } else if c.second_is("and") {
            between.fill(c, start, |c| {
                let first = c.name("a pace or gauge")?;
                c.need("and")?;
                let second = c.name("a pace or gauge")?;
                c.need("agree within")?;
                Some(((first, second), c.quantity("a speed (m/s) or a value with its unit")?))
            });
        } else {
            unexpected(c, "'X and Y agree within', 'apart for at most', 'else'");
        }
    }
    let (between, apart, otherwise) =
        (between.needed(c, "agreement"), apart.needed(c, "agreement"), otherwise.needed(c, "agreement"));
    let (between, within) = between?;
    Some(common.done(WatchKind::Agree { between, within, apart: apart?, otherwise: otherwise? }))
}

pub(super) fn confirm(c: &mut Cursor<'_>) -> Option<Kind> {
    let mut common = Common::read(c, "the confirmation")?;
    let mut after = Slot::new("after service");
    let mut see = Slot::new("see brake-1-set closed");
    let mut within = Slot::new("within 400 ms");
    let mut otherwise = Slot::new("else emergency");
    while c.more() {
        let start = c.place();
        if common.clause(c, start) {
        } else if c.take("after") {
            after.fill(c, start, stop_name);
        } else if c.take("see") {
            see.fill(c, start, effect);
        } else if c.take("within") {
            within.fill(c, start, |c| c.quantity("a time (ms)"));
        } else if c.take("else") {
            otherwise.fill(c, start, stop_name);
        } else {
            unexpected(c, "'after', 'see', 'within', 'else'");
        }
    }
    let (after, see) = (after.needed(c, "confirmation"), see.needed(c, "confirmation"));
    let (within, otherwise) = (within.needed(c, "confirmation"), otherwise.needed(c, "confirmation"));
    Some(common.done(WatchKind::Confirm { after: after?, see: see?, within: within?, otherwise: otherwise? }))
}

/// What a confirm waits for, or a requirement behind a stop.
pub(super) fn effect(c: &mut Cursor<'_>) -> Option<Effect> {
    if c.second_is("slower") {
        let pace = c.name("a pace")?;
        c.need("slower by")?;
        return Some(Effect::Slower(pace, c.quantity("a speed (m/s)")?));
    }
    condition(c).map(Effect::Holds)
}

pub(super) fn exercise(c: &mut Cursor<'_>) -> Option<Kind> {
    let mut common = Common::read(c, "the exercise")?;
    let mut changes = Slot::new("wheel-flap changes with every carrier at leave");
    let mut otherwise = Slot::new("else service");
    while c.more() {
        let start = c.place();
        if common.clause(c, start) {
        } else if c.take("else") {
            otherwise.fill(c, start, stop_name);
        } else if c.second_is("changes") {
            changes.fill(c, start, |c| {
                let input = c.name("an input")?;
                c.need("changes")?;
                if c.take("with every carrier at") {
                    return Some((input, Every::Carrier(c.name("a detector")?)));
                }
                c.need("every")?;
                let span = c.quantity("a length (m) or a time (min)")?;
                let every = if c.take("of") { Every::Rope(span, c.name("a pace")?) } else { Every::Time(span) };
                Some((input, every))
            });
        } else {
            unexpected(c, "'INPUT changes', 'else'");
        }
    }
    let (changes, otherwise) = (changes.needed(c, "exercise"), otherwise.needed(c, "exercise"));
    let (input, every) = changes?;
    Some(common.done(WatchKind::Exercise { input, every, otherwise: otherwise? }))
}

pub(super) fn count(c: &mut Cursor<'_>) -> Option<Kind> {
    let mut common = Common::read(c, "the count")?;
    let mut enter = Slot::new("in by arrive");
    let mut leave = Slot::new("out by leave");
    let mut most = Slot::new("at most 4 carriers");
    let mut confirmed = Slot::new("is 0 when empty-key held");
    let mut answers = ["over service", "below service", "wrong service"].map(Slot::new);
    while c.more() {
        let start = c.place();
        if common.clause(c, start) {
            continue;
        }
        let [over, below, wrong] = &mut answers;
        if c.take("in by") {
            enter.fill(c, start, |c| c.name("a detector"));
        } else if c.take("out by") {
            leave.fill(c, start, |c| c.name("a detector"));
        } else if c.take("at most") {
            most.fill(c, start, |c| {
                let count = c.count("a number of carriers")?;
                if !c.take("carrier") {
                    c.need("carriers")?;
                }
                Some(count)
            });
        } else if c.take("is") {
            confirmed.fill(c, start, |c| {
                let count = c.count("a number of carriers")?;
                c.need("when")?;
                Some((count, condition(c)?))
            });
        } else if c.take("over") {
            over.fill(c, start, stop_name);
        } else if c.take("below") {
            below.fill(c, start, stop_name);
        } else if c.take("wrong") {
            wrong.fill(c, start, stop_name);
        } else {
            unexpected(c, "'in by', 'out by', 'at most', 'is N when', 'over', 'below', 'wrong'");
        }
    }
    let (enter, leave, most) = (enter.needed(c, "count"), leave.needed(c, "count"), most.needed(c, "count"));
    let confirmed = confirmed.needed(c, "count");
    let [over, below, wrong] = answers.map(|slot| slot.needed(c, "count"));
    Some(common.done(WatchKind::Count {
        enter: enter?,
        leave: leave?,
        most: most?,
        confirmed: confirmed?,
        over: over?,
        below: below?,
        wrong: wrong?,
    }))
}
