//! Inputs.

use super::cursor::{Cursor, one_terminal};
use super::slot::Slot;
use crate::text::place::Placed;
use crate::text::tree::{Backing, Contact, Detector, Gauge, Key, Kind, Link, Pace, Pair, Settles, Shortest};

fn settles(c: &mut Cursor<'_>) -> Option<Settles> {
    let first = c.quantity("a time (ms)")?;
    if !c.take("opening") {
        return Some(Settles::Both(first));
    }
    c.need("and")?;
    let second = c.quantity("a time (ms)")?;
    c.need("closing")?;
    Some(Settles::Each(first, second))
}
fn closed_or_open(c: &mut Cursor<'_>) -> Option<Placed<bool>> {
    let place = c.place();
    if c.take("closed") {
        return Some(Placed::new(true, place));
    }
    if c.take("open") {
        return Some(Placed::new(false, place));
    }
    c.expected("'closed' or 'open'");
    None
}
fn shortest(c: &mut Cursor<'_>, opens: Placed<bool>) -> Option<Shortest> {
    c.need("for at least")?;
    Some(Shortest { opens, time: c.quantity("a time (ms)")? })
}

pub(super) fn contact(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the contact")?;
    let mut terminal = Slot::new("on DI-09");
    let mut rests = Slot::new("rests closed");
    let mut monitored = Slot::new("line monitored");
    let mut excursion = Slot::new("opens for at least 50 ms");
    let mut settling = Slot::new("settles 10 ms");
    let mut changes = Slot::new("at most 6 changes a second");
    while c.more() {
        let start = c.place();
        if c.take("on") {
            terminal.fill(c, start, one_terminal);
        } else if c.take("rests") {
            rests.fill(c, start, closed_or_open);
        } else if c.take("line monitored") {
            monitored.fill(c, start, |c| Some(c.since(start)));
        } else if c.next_is("opens") || c.next_is("closes") {
            let opens = c.take("opens") || !c.take("closes");
            excursion.fill(c, start, |c| shortest(c, Placed::new(opens, start)));
        } else if c.take("settles") {
            settling.fill(c, start, settles);
        } else if c.take("at most") {
            changes.fill(c, start, |c| {
                let count = c.count("a number of changes")?;
                c.need("changes a second")?;
                Some(count)
            });
        } else {
            c.expected("'on', 'rests', 'line monitored', 'opens for at least', 'closes for at least', 'settles' or 'at most N changes a second'");
            c.skip();
        }
    }
    let (terminal, rests_closed) = (terminal.needed(c, "contact"), rests.needed(c, "contact"));
    Some(Kind::Contact(Contact {
        name,
        terminal: terminal?,
        rests_closed: rests_closed?,
        line_monitored: monitored.optional(),
        shortest: excursion.optional(),
        settles: settling.optional(),
        changes: changes.optional(),
    }))
}

pub(super) fn pair(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the pair")?;
    let mut terminals = Slot::new("on DI-12 and DI-13");
    let mut opposed = Slot::new("opposed");
    let mut rests = Slot::new("rests closed");
    let mut excursion = Slot::new("opens for at least 50 ms");
    let mut settling = Slot::new("settles 10 ms");
    let mut differing = Slot::new("differing for 50 ms is a fault");
    while c.more() {
        let start = c.place();
        if c.take("on") {
            terminals.fill(c, start, |c| {
                let first = c.terminal()?;
                c.need("and")?;
                Some((first, c.terminal()?))
            });
        } else if c.next_is("opposed") || c.next_is("alike") {
            let is = c.take("opposed") || !c.take("alike");
            opposed.fill(c, start, |_| Some(Placed::new(is, start)));
        } else if c.take("rests") {
            rests.fill(c, start, closed_or_open);
        } else if c.next_is("opens") || c.next_is("closes") {
            let opens = c.take("opens") || !c.take("closes");
            excursion.fill(c, start, |c| shortest(c, Placed::new(opens, start)));
        } else if c.take("settles") {
            settling.fill(c, start, settles);
        } else if c.take("differing for") {
            differing.fill(c, start, |c| {
                let time = c.quantity("a time (ms)")?;
                c.need("is a fault")?;
                Some(time)
            });
        } else {
            c.expected("'on', 'alike', 'opposed', 'rests', 'opens for at least', 'closes for at least', 'settles' or 'differing for'");
            c.skip();
        }
    }
    let (terminals, opposed) = (terminals.needed(c, "pair"), opposed.needed(c, "pair"));
    let (rests_closed, differing) = (rests.needed(c, "pair"), differing.needed(c, "pair"));
    Some(Kind::Pair(Pair {
        name,
        terminals: terminals?,
        opposed: opposed?,
        rests_closed: rests_closed?,
        shortest: excursion.optional(),
        settles: settling.optional(),
        differing: differing?,
    }))
}

pub(super) fn detector(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the detector")?;
    let mut terminal = Slot::new("on DI-01");
    let mut at = Slot::new("at 3.60 m");
    let mut pulses = Slot::new("pulses at least 60 ms");
    let mut settling = Slot::new("settles 10 ms");
    let mut covered = Slot::new("covered for at most 1.20 m of rope");
    let mut rises = Slot::new("rises at least every 130 m of rope");
    while c.more() {
        let start = c.place();
        if c.take("on") {
            terminal.fill(c, start, one_terminal);
        } else if c.take("at") {
            at.fill(c, start, |c| c.quantity("a length (m)"));
        } else if c.take("pulses at least") {
            pulses.fill(c, start, |c| c.quantity("a time (ms)"));
        } else if c.take("settles") {
            settling.fill(c, start, settles);
        } else if c.take("covered for at most") {
            covered.fill(c, start, length_of);
        } else if c.take("rises at least every") {
            rises.fill(c, start, length_of);
        } else {
            c.expected("'on', 'at', 'pulses at least', 'settles', 'covered for at most' or 'rises at least every'");
            c.skip();
        }
    }
    let (terminal, at, pulses) =
        (terminal.needed(c, "detector"), at.needed(c, "detector"), pulses.needed(c, "detector"));
    Some(Kind::Detector(Detector {
        name,
        terminal: terminal?,
        at: at?,
        pulses: pulses?,
        settles: settling.optional(),
        covered: covered.optional(),
        rises: rises.optional(),
    }))
}
fn length_of(c: &mut Cursor<'_>) -> Option<(crate::text::tree::Quantity, crate::text::tree::Word)> {
    let length = c.quantity("a length (m)")?;
    c.need("of")?;
    Some((length, c.name("a pace")?))
}

pub(super) fn gauge(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the gauge")?;
    let mut terminal = Slot::new("on AI-01");
    let mut points = Slot::new("4 mA is 0 N, 20 mA is 12000 N");
    let mut steps = Slot::new("in steps of 10 N");
    let mut trusted = Slot::new("trusted from 3.8 mA to 20.5 mA");
    let mut moves = Slot::new("moves at most 800 N a scan");
    let mut rests = Slot::new("rests within 150 N of 0 N when force-entry rises");
    while c.more() {
        let start = c.place();
        if c.take("on") {
            terminal.fill(c, start, one_terminal);
        } else if c.number_next() {
            points.fill(c, start, |c| {
                let first = point(c)?;
                c.take_comma();
                Some([first, point(c)?])
            });
        } else if c.take("in steps of") {
            steps.fill(c, start, |c| c.quantity("a value with its unit"));
        } else if c.take("trusted from") {
            trusted.fill(c, start, |c| {
                let low = c.quantity("a current (mA)")?;
                c.need("to")?;
                Some((low, c.quantity("a current (mA)")?))
            });
        } else if c.take("moves at most") {
            moves.fill(c, start, |c| {
                let most = c.quantity("a value with its unit")?;
                c.need("a scan")?;
                Some(most)
            });
        } else if c.take("rests within") {
            rests.fill(c, start, |c| {
                let within = c.quantity("a value with its unit")?;
                c.need("of")?;
                let value = c.quantity("a value with its unit")?;
                c.need("when")?;
                let detector = c.name("a detector")?;
                c.need("rises")?;
                Some((within, value, detector))
            });
        } else {
            c.expected("'on', two points such as '4 mA is 0 N, 20 mA is 12000 N', 'in steps of', 'trusted from', 'moves at most' or 'rests within'");
            c.skip();
        }
    }
    let (terminal, points) = (terminal.needed(c, "gauge"), points.needed(c, "gauge"));
    Some(Kind::Gauge(Gauge {
        name,
        terminal: terminal?,
        points: points?,
        steps: steps.optional(),
        trusted: trusted.optional(),
        moves: moves.optional(),
        rests: rests.optional(),
    }))
}
fn point(c: &mut Cursor<'_>) -> Option<(crate::text::tree::Quantity, crate::text::tree::Quantity)> {
    let current = c.quantity("a current (mA)")?;
    c.need("is")?;
    Some((current, c.quantity("a value with its unit")?))
}

pub(super) fn pace(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the pace")?;
    let mut source = Slot::new("on CI-01 and CI-02");
    let mut backed = Slot::new("backed by drive-runs");
    let mut pulse = Slot::new("5 mm a pulse");
    let mut signed = Slot::new("signed");
    let mut at_most = Slot::new("at most 5.5 m/s");
    let mut over = Slot::new("speed over 100 ms");
    let mut agree = Slot::new("the two agree within 0.2 m/s");
    let mut still = Slot::new("still below 0.05 m/s");
    let mut fault = Slot::new("fault after 200 ms");
    while c.more() {
        let start = c.place();
        if c.take("on") {
            source.fill(c, start, |c| {
                let first = c.terminal()?;
                Some((first, if c.take("and") { Some(c.terminal()?) } else { None }))
            });
        } else if c.take("backed by") {
            backed.fill(c, start, |c| c.name("a contact"));
        } else if c.number_next() {
            pulse.fill(c, start, |c| {
                let length = c.quantity("a length (mm)")?;
                c.need("a pulse")?;
                Some(length)
            });
        } else if c.take("signed") {
            signed.fill(c, start, |c| Some(c.since(start)));
        } else if c.take("at most") {
            at_most.fill(c, start, |c| c.quantity("a speed (m/s)"));
        } else if c.take("speed over") {
            over.fill(c, start, |c| c.quantity("a time (ms)"));
        } else if c.take("the two agree within") {
            agree.fill(c, start, |c| c.quantity("a speed (m/s)"));
        } else if c.take("still below") {
            still.fill(c, start, |c| c.quantity("a speed (m/s)"));
        } else if c.take("fault after") {
            fault.fill(c, start, |c| c.quantity("a time (ms)"));
        } else {
            c.expected("'on', 'backed by', '5 mm a pulse', 'signed', 'at most', 'speed over', 'the two agree within', 'still below' or 'fault after'");
            c.skip();
        }
    }
    let (source, pulse) = (source.needed(c, "pace"), pulse.needed(c, "pace"));
    let (at_most, over, fault) = (at_most.needed(c, "pace"), over.needed(c, "pace"), fault.needed(c, "pace"));
    let (terminal, second) = source?;
    let backing = match (second, backed.optional()) {
        (Some(_), Some(contact)) => {
            c.findings.push(
                crate::text::finding::Finding::new(
                    crate::text::codes::Code::ClauseTwice,
                    "two second opinions for one pace",
                )
                .at(contact.place, "it has a second terminal already")
                .help("keep the second terminal, or the contact"),
            );
            return None;
        }
        (Some(second), None) => Backing::Terminal(second),
        (None, Some(contact)) => Backing::Contact(contact),
        (None, None) => Backing::None,
    };
    Some(Kind::Pace(Pace {
        name,
        terminal,
        backing,
        pulse: pulse?,
        signed: signed.optional(),
        at_most: at_most?,
        over: over?,
        agree: agree.optional(),
        still: still.optional(),
        fault_after: fault?,
    }))
}

pub(super) fn link(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the link")?;
    let mut terminal = Slot::new("on L-01");
    let mut silent = Slot::new("silent for at most 100 ms");
    let mut otherwise = Slot::new("else service");
    while c.more() {
        let start = c.place();
        if c.take("on") {
            terminal.fill(c, start, one_terminal);
        } else if c.take("silent for at most") {
            silent.fill(c, start, |c| c.quantity("a time (ms)"));
        } else if c.take("else") {
            otherwise.fill(c, start, |c| c.name("a stop"));
        } else {
            c.expected("'on', 'silent for at most' or 'else'");
            c.skip();
        }
    }
    let (terminal, silent, otherwise) =
        (terminal.needed(c, "link"), silent.needed(c, "link"), otherwise.needed(c, "link"));
    Some(Kind::Link(Link { name, terminal: terminal?, silent: silent?, otherwise: otherwise? }))
}

pub(super) fn key(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the key")?;
    let mut terminals = Slot::new("on DI-30");
    let mut settling = Slot::new("settles 10 ms");
    while c.more() {
        let start = c.place();
        if c.take("on") {
            terminals.fill(c, start, |c| {
                let first = c.terminal()?;
                Some((first, if c.take("and") { Some(c.terminal()?) } else { None }))
            });
        } else if c.take("settles") {
            settling.fill(c, start, settles);
        } else {
            c.expected("'on' or 'settles'");
            c.skip();
        }
    }
    let (terminal, second) = terminals.needed(c, "key")?;
    Some(Kind::Key(Key { name, terminal, second, settles: settling.optional() }))
}
