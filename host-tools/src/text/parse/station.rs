//! The station, its modes, outputs and answers.

use super::cursor::{Cursor, one_terminal};
use super::slot::Slot;
use crate::text::tree::{Kind, Mode, Output, Revision, Slow, Stop, Then};

pub(super) fn title(c: &mut Cursor<'_>) -> Option<Kind> {
    c.title().map(Kind::Station)
}
pub(super) fn revision(c: &mut Cursor<'_>) -> Option<Kind> {
    let number = c.count("a whole number")?;
    c.take_comma();
    let mut temporary = None;
    if c.take("temporary until") {
        let until = c.title()?;
        c.need("because")?;
        temporary = Some((until, c.title()?));
    }
    Some(Kind::Revision(Revision { number, temporary }))
}
pub(super) fn scan(c: &mut Cursor<'_>) -> Option<Kind> {
    c.quantity("a time (ms)").map(Kind::Scan)
}
pub(super) fn on_fault(c: &mut Cursor<'_>) -> Option<Kind> {
    c.need("fault")?;
    c.name("a stop").map(Kind::OnFault)
}
pub(super) fn mode(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the mode")?;
    let mut key = Slot::new("selected by run-key");
    let mut at_most = Slot::new("rope at most 1.5 m/s");
    while c.more() {
        let start = c.place();
        if c.take("selected by") {
            key.fill(c, start, |c| c.name("a key"));
        } else if c.second_is("at") {
            at_most.fill(c, start, |c| {
                let pace = c.name("a pace")?;
                c.need("at most")?;
                Some((pace, c.quantity("a speed (m/s)")?))
            });
        } else {
            c.expected("'selected by' or 'PACE at most'");
            c.skip();
        }
    }
    Some(Kind::Mode(Mode { name, key: key.needed(c, "mode")?, at_most: at_most.optional() }))
}
pub(super) fn output(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the output")?;
    let mut terminal = Slot::new("on RO-1");
    let mut off_within = Slot::new("off within 40 ms");
    let mut read_back = Slot::new("read back on DI-50 within 100 ms");
    let mut not_together = Slot::new("not together with brake-2");
    while c.more() {
        let start = c.place();
        if c.take("on") {
            terminal.fill(c, start, one_terminal);
        } else if c.take("off within") {
            off_within.fill(c, start, |c| c.quantity("a time (ms)"));
        } else if c.take("read back on") {
            read_back.fill(c, start, |c| {
                let terminal = c.terminal()?;
                c.need("within")?;
                Some((terminal, c.quantity("a time (ms)")?))
            });
        } else if c.take("not together with") {
            not_together.fill(c, start, |c| c.names("an output"));
        } else {
            c.expected("'on', 'off within', 'read back on' or 'not together with'");
            c.skip();
        }
    }
    let (terminal, off_within) = (terminal.needed(c, "output"), off_within.needed(c, "output"));
    Some(Kind::Output(Output {
        name,
        terminal: terminal?,
        off_within: off_within?,
        read_back: read_back.optional(),
        not_together: not_together.optional().unwrap_or_default(),
    }))
}
pub(super) fn slow(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the slow order")?;
    let pace = c.name("a pace")?;
    c.need("down to")?;
    let down_to = c.quantity("a speed (m/s)")?;
    c.need("within")?;
    let within = c.quantity("a time (s)")?;
    Some(Kind::Slow(Slow { name, pace, down_to, within }))
}
pub(super) fn stop(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the stop")?;
    let mut category = Slot::new("category 1");
    let mut for_emergencies = Slot::new("for emergencies");
    let mut releases = Slot::new("releases brake-1");
    let mut then = Slot::new("then traction when rope still, at the latest after 12 s");
    let mut bites = Slot::new("bites within 400 ms");
    let mut slows = Slot::new("slows at 0.5 m/s2 to 0.8 m/s2");
    let mut standstill = Slot::new("standstill held by creep-away");
    while c.more() {
        let start = c.place();
        if c.take("category") {
            category.fill(c, start, |c| c.count("a stop category (0, 1 or 2)"));
        } else if c.take("for emergencies") {
            for_emergencies.fill(c, start, |c| Some(c.since(start)));
        } else if c.take("releases") {
            releases.fill(c, start, |c| c.names("an output"));
        } else if c.take("then") {
            then.fill(c, start, |c| {
                let outputs = c.names("an output")?;
                c.need("when")?;
                let pace = c.name("a pace")?;
                c.need("still")?;
                c.take_comma();
                c.need("at the latest after")?;
                Some(Then { outputs, pace, latest: c.quantity("a time (s)")? })
            });
        } else if c.take("bites within") {
            bites.fill(c, start, |c| c.quantity("a time (ms)"));
        } else if c.take("slows at") {
            slows.fill(c, start, |c| {
                let least = c.quantity("a deceleration (m/s2)")?;
                c.need("to")?;
                Some((least, c.quantity("a deceleration (m/s2)")?))
            });
        } else if c.take("standstill held by") {
            standstill.fill(c, start, |c| c.name("a guard"));
        } else {
            c.expected(
                "'category', 'for emergencies', 'releases', 'then', 'bites within', 'slows at' or 'standstill held by'",
            );
            c.skip();
        }
    }
    let (category, releases) = (category.needed(c, "stop"), releases.needed(c, "stop"));
    let (bites, slows) = (bites.needed(c, "stop"), slows.needed(c, "stop"));
    Some(Kind::Stop(Stop {
        name,
        category: category?,
        for_emergencies: for_emergencies.optional(),
        releases: releases?,
        then: then.optional(),
        bites: bites?,
        slows: slows?,
        standstill: standstill.optional(),
    }))
}
