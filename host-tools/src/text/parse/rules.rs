//! Reset, restart, refill, bypass, hazards, requirements, assumptions and the lane.

use super::condition::condition;
use super::cursor::{Cursor, labels};
use super::slot::Slot;
use super::watches::with_band;
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::Placed;
use crate::text::tree::{
    Answer, Assume, Bypass, Claim, Condition, ConditionKind, Dimension, Excuse, Form, Ground, Kind, Refill, Require,
    Reset, Said, When, Window, Word,
};

pub(super) fn reset(c: &mut Cursor<'_>) -> Option<Kind> {
    let mut by = Slot::new("by reset-key pressed and let go");
    let mut when = Slot::new("when rope still for 2 s");
    while c.more() {
        let start = c.place();
        if c.take("by") {
            by.fill(c, start, |c| {
                let key = c.name("a key")?;
                c.need("pressed and let go")?;
                Some(key)
            });
        } else if c.take("when") {
            when.fill(c, start, |c| {
                let when = condition(c)?;
                let lasting = if c.take("for") { Some(c.quantity("a time (s)")?) } else { None };
                Some((when, lasting))
            });
        } else {
            c.expected("'by KEY pressed and let go' or 'when'");
            c.skip();
        }
    }
    let (by, when) = (by.needed(c, "reset"), when.needed(c, "reset"));
    let (when, lasting) = when?;
    Some(Kind::Reset(Reset { key: by?, when, lasting }))
}
pub(super) fn restart(c: &mut Cursor<'_>) -> Option<Kind> {
    c.need("no sooner than")?;
    let time = c.quantity("a time (s)")?;
    c.need("after a stop")?;
    Some(Kind::Restart(time))
}
pub(super) fn refill(c: &mut Cursor<'_>) -> Option<Kind> {
    let watches = c.names("a travel or count")?;
    let mut by = Slot::new("by refill-key");
    let mut when = Slot::new("when rope still");
    while c.more() {
        let start = c.place();
        if c.take("by") {
            by.fill(c, start, |c| c.name("a key"));
        } else if c.take("when") {
            when.fill(c, start, condition);
        } else {
            c.expected("'by' or 'when'");
            c.skip();
        }
    }
    let (by, when) = (by.needed(c, "refill"), when.needed(c, "refill"));
    Some(Kind::Refill(Refill { watches, key: by?, when: when? }))
}
pub(super) fn bypass(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the bypass")?;
    let mut of = Slot::new("of rope-low");
    let mut modes = Slot::new("in maintenance");
    let mut key = Slot::new("while bypass-key held");
    let mut at_most = Slot::new("rope at most 1.0 m/s");
    let mut budget = Slot::new("for at most 5 min");
    let mut rest = Slot::new("then not again for 1 h");
    while c.more() {
        let start = c.place();
        if c.take("of") {
            of.fill(c, start, |c| c.names("a watch"));
        } else if c.take("in") {
            modes.fill(c, start, |c| c.names("a mode"));
        } else if c.take("while") {
            key.fill(c, start, |c| {
                let key = c.name("a key")?;
                c.need("held")?;
                Some(key)
            });
        } else if c.take("for at most") {
            budget.fill(c, start, |c| c.quantity("a time (min)"));
        } else if c.take("then not again for") {
            rest.fill(c, start, |c| c.quantity("a time (h)"));
        } else if c.second_is("at") {
            at_most.fill(c, start, |c| {
                let pace = c.name("a pace")?;
                c.need("at most")?;
                Some((pace, c.quantity("a speed (m/s)")?))
            });
        } else {
            c.expected("'of', 'in', 'while KEY held', 'PACE at most', 'for at most' or 'then not again for'");
            c.skip();
        }
    }
    let (of, modes, key) = (of.needed(c, "bypass"), modes.needed(c, "bypass"), key.needed(c, "bypass"));
    let (at_most, budget, rest) = (at_most.needed(c, "bypass"), budget.needed(c, "bypass"), rest.needed(c, "bypass"));
    Some(Kind::Bypass(Bypass {
        name,
        of: of?,
        modes: modes?,
        key: key?,
        at_most: at_most?,
        budget: budget?,
        rest: rest?,
    }))
}
pub(super) fn hazard(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.label("the hazard")?;
    Some(Kind::Hazard(name, c.title()?))
}

pub(super) fn require(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.label("the requirement")?;
    let title = c.title()?;
    let mut hazards = Slot::new("hazard H3");
    let mut form = Slot::new("whenever grip-gate open for 10 ms, stop at least emergency within 80 ms");
    let mut unless = Slot::new("unless gate-bypass active");
    let mut bounces = Slot::new("bounces of up to 10 ms aside");
    let mut answers = Slot::new("answers overspeed");
    let mut need_not_arise = Slot::new("need not arise because \"the bypass ends before\"");
    while c.more() {
        let start = c.place();
        if c.take("hazard") {
            hazards.fill(c, start, labels);
        } else if c.take("unless") {
            unless.fill(c, start, condition);
        } else if c.take("bounces of up to") {
            bounces.fill(c, start, |c| {
                let time = c.quantity("a time (ms)")?;
                c.need("aside")?;
                Some(time)
            });
        } else if c.take("answers") {
            answers.fill(c, start, |c| c.names("an entry of a list"));
        } else if c.take("need not arise because") {
            need_not_arise.fill(c, start, because);
        } else if c.take("whenever") {
            form.fill(c, start, whenever);
        } else if c.take("after") {
            form.fill(c, start, after);
        } else if c.take("never") {
            form.fill(c, start, never);
        } else {
            c.expected("'hazard', 'whenever', 'after', 'never', 'unless', 'bounces of up to', 'answers' or 'need not arise because'");
            c.skip();
        }
    }
    let form = form.needed(c, "requirement");
    Some(Kind::Require(Require {
        name,
        title,
        hazards: hazards.optional().unwrap_or_default(),
        form: form?,
        unless: unless.optional(),
        bounces: bounces.optional(),
        need_not_arise: need_not_arise.optional(),
        answers: answers.optional().unwrap_or_default(),
    }))
}
pub(super) fn entry(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("an entry of a list")?;
    let excuse = if c.take("not applicable because") {
        Excuse::NotApplicable(c.title()?)
    } else if c.take("answered elsewhere by") {
        Excuse::Elsewhere(c.title()?)
    } else {
        c.expected("'not applicable because \"TEXT\"' or 'answered elsewhere by \"TEXT\"'");
        return None;
    };
    Some(Kind::Entry(name, excuse))
}
fn because(c: &mut Cursor<'_>) -> Option<Placed<String>> {
    c.title()
}
fn at_least(c: &mut Cursor<'_>) -> Option<Answer> {
    c.take_comma();
    if c.take("slow at least") {
        return c.name("a slow order").map(Answer::Slow);
    }
    c.need("stop at least")?;
    c.name("a stop").map(Answer::Stop)
}
/// Behind `in the`: `T | X of PACE after DETECTOR rises`.
fn behind(c: &mut Cursor<'_>) -> Option<When> {
    let span = c.quantity("a time (ms) or a length (m)")?;
    let pace = if c.take("of") { Some(c.name("a pace")?) } else { None };
    c.need("after")?;
    let detector = risen(c)?;
    Some(match pace {
        Some(pace) => When::Rope(span, pace, detector),
        None => When::Time(span, detector),
    })
}
fn risen(c: &mut Cursor<'_>) -> Option<Word> {
    let detector = c.name("a detector")?;
    c.need("rises")?;
    Some(detector)
}
fn whenever(c: &mut Cursor<'_>) -> Option<Form> {
    let condition = condition(c)?;
    let lasting = if c.take("for") { Some(c.quantity("a time (ms)")?) } else { None };
    let when = if c.take("when") {
        Some(When::Rise(risen(c)?))
    } else if lasting.is_none() && c.take("in the") {
        Some(behind(c)?)
    } else {
        None
    };
    if let Some(when) = when {
        c.take_comma();
        c.need("stop at least")?;
        let least = c.name("a stop")?;
        c.need("within")?;
        let within = c.quantity("a time (ms)")?;
        let Condition { kind: ConditionKind::Simple(gauge, Said::Outside(low, high)), .. } = condition else {
            let finding = Finding::new(
                Code::WordUnexpected,
                "only a gauge outside its bounds can be asked for when a detector rises, or behind a rise",
            );
            c.findings.push(finding.at(condition.place, "'GAUGE outside V to V' is expected here"));
            return None;
        };
        return Some(Form::WhenRises(gauge, (low, high), lasting, when, least, within));
    }
    let least = at_least(c)?;
    c.need("within")?;
    Some(Form::Whenever(condition, lasting, least, c.quantity("a time (ms)")?))
}
fn after(c: &mut Cursor<'_>) -> Option<Form> {
    let from = c.name("a detector or a stop")?;
    if c.take("stands") {
        return after_stop(c, from);
    }
    c.need("rises")?;
    c.take_comma();
    c.need("in")?;
    let low = c.quantity("a length (m) or a time (s)")?;
    c.need("to")?;
    let high = c.quantity("a length (m) or a time (s)")?;
    let time = low.unit.dimension() == Dimension::Time;
    let pace = if time {
        None
    } else {
        c.need("of")?;
        Some(c.name("a pace")?)
    };
    c.need("must rise")?;
    let to = c.name("a detector")?;
    let window = match pace {
        Some(pace) => Window::Rope(low, Some(high), pace),
        None => with_band(c, low, Some(high))?,
    };
    c.take_comma();
    c.need("else stop at least")?;
    let least = c.name("a stop")?;
    c.need("within")?;
    let within = c.quantity("a time (ms)")?;
    c.take_comma();
    let capacity = if c.take("up to") {
        let count = c.count("a number of carriers")?;
        if !c.take("carrier") {
            c.need("carriers")?;
        }
        Some(count)
    } else {
        None
    };
    Some(Form::After { from, window, to, least, within, capacity })
}
/// Behind `after STOP stands`.
fn after_stop(c: &mut Cursor<'_>, after: Word) -> Option<Form> {
    c.take_comma();
    c.need("within")?;
    let lasting = c.quantity("a time (s)")?;
    c.need("must be seen")?;
    let see = super::agreement::effect(c)?;
    c.take_comma();
    c.need("else stop at least")?;
    let least = c.name("a stop")?;
    c.need("within")?;
    let within = c.quantity("a time (ms)")?;
    Some(Form::Effect { after, lasting, see, least, within })
}
fn never(c: &mut Cursor<'_>) -> Option<Form> {
    if c.take("less than") {
        let least = c.name("a stop")?;
        c.need("while")?;
        return Some(Form::Never(least, condition(c)?));
    }
    if c.take("released without") {
        return c.name("a key").map(Form::NeverReleased);
    }
    if c.take("released but when") {
        let condition = condition(c)?;
        let lasting = if c.take("for") { Some(c.quantity("a time (s)")?) } else { None };
        return Some(Form::NeverReleasedBut(condition, lasting));
    }
    if c.take("permitted within") {
        let pause = c.quantity("a time (s)")?;
        c.need("after a stop")?;
        return Some(Form::NeverPermitted(pause));
    }
    let first = c.name("an output")?;
    c.need("together with")?;
    Some(Form::NeverTogether(first, c.name("an output")?))
}

pub(super) fn assume(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the assumption")?;
    let title = c.maybe_title();
    let mut claim = Slot::new("arrive rises at least 5.0 s apart");
    let mut ground = Slot::new("held by line-gap");
    while c.more() {
        let start = c.place();
        if c.take("held by") {
            ground.fill(c, start, |c| c.name("a watch").map(Ground::HeldBy));
        } else if c.take("on evidence") {
            ground.fill(c, start, |c| c.title().map(Ground::Evidence));
        } else if c.take("always") {
            claim.fill(c, start, |c| condition(c).map(Claim::Always));
        } else if c.take("never") {
            claim.fill(c, start, |c| condition(c).map(Claim::Never));
        } else if c.second_is("rises") {
            claim.fill(c, start, |c| {
                let detector = c.name("a detector")?;
                c.need("rises at least")?;
                let least = c.quantity("a length (m) or a time (s)")?;
                let claim = if c.take("of") {
                    Claim::RopeApart(detector, least, c.name("a pace")?)
                } else {
                    Claim::TimeApart(detector, least)
                };
                c.need("apart")?;
                Some(claim)
            });
        } else {
            c.expected("'DETECTOR rises at least', 'always', 'never', 'held by' or 'on evidence'");
            c.skip();
        }
    }
    let (claim, ground) = (claim.needed(c, "assumption"), ground.needed(c, "assumption"));
    Some(Kind::Assume(Assume { name, title, claim: claim?, ground: ground? }))
}
