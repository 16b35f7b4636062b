//! Inputs: their terminals, settling and bounds.

use super::context::{Cx, PaceFacts, Wire};
use super::exact::Exact;
use super::names::Sort;
use super::units::{MOST, Side, text};
use crate::station::{Backing, Contact, Detector, InputId, InputKind, Key, Link, Mm, Name, Pace, Pair, Settle};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::Placed;
use crate::text::tree::{self, Dimension, Kind, Quantity, Settles, Shortest, Word};

/// A declared name.
pub(super) fn name(word: &Word) -> Name {
    Name { text: word.value.clone(), place: word.place }
}

/// The terminals of an input, taken in order of declaration.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Taken {
    first: usize,
    second: Option<usize>,
}

impl Cx {
    /// Takes the terminals of an input.
    pub(super) fn wire(&mut self, kind: &Kind) -> Taken {
        let (wire, first, second) = match kind {
            Kind::Contact(c) => (Wire::Channel, &c.terminal, None),
            Kind::Pair(p) => (Wire::Channel, &p.terminals.0, Some(&p.terminals.1)),
            Kind::Detector(d) => (Wire::Channel, &d.terminal, None),
            Kind::Gauge(g) => (Wire::Gauge, &g.terminal, None),
            Kind::Pace(p) => match &p.backing {
                tree::Backing::Terminal(second) => (Wire::Source, &p.terminal, Some(second)),
                tree::Backing::None | tree::Backing::Contact(_) => (Wire::Source, &p.terminal, None),
            },
            Kind::Link(l) => (Wire::Link, &l.terminal, None),
            Kind::Key(k) => (Wire::Channel, &k.terminal, k.second.as_ref()),
            _ => return Taken::default(),
        };
        let first = self.terminal(first, wire);
        Taken { first, second: second.map(|second| self.terminal(second, wire)) }
    }
    /// An input but for gauges, which see [`Cx::gauge`].
    pub(super) fn input(&mut self, kind: &Kind, id: InputId, taken: Taken) -> Option<(Name, InputKind)> {
        match kind {
            Kind::Contact(c) => self.contact(c, taken).map(|contact| (name(&c.name), InputKind::Contact(contact))),
            Kind::Pair(p) => self.pair(p, taken).map(|pair| (name(&p.name), InputKind::Pair(pair))),
            Kind::Detector(d) => self.detector(d, taken).map(|detector| (name(&d.name), InputKind::Detector(detector))),
            Kind::Gauge(g) => self.gauge(g, id, taken.first).map(|gauge| (name(&g.name), InputKind::Gauge(gauge))),
            Kind::Pace(p) => self.pace(p, id, taken).map(|pace| (name(&p.name), InputKind::Pace(pace))),
            Kind::Link(l) => self.link(l, taken).map(|link| (name(&l.name), InputKind::Link(link))),
            Kind::Key(k) => {
                let settle = self.settles(k.settles.as_ref())?;
                Some((name(&k.name), InputKind::Key(Key { channels: (taken.first, taken.second), settle })))
            }
            _ => None,
        }
    }
    fn settles(&mut self, settles: Option<&Settles>) -> Option<Settle> {
        match settles {
            None => Some(Settle::default()),
            Some(Settles::Both(q)) => self.scans(q, Side::Settle).map(|both| Settle { up: both, down: both }),
            Some(Settles::Each(opening, closing)) => {
                let (down, up) = (self.scans(opening, Side::Settle), self.scans(closing, Side::Settle));
                Some(Settle { up: up?, down: down? })
            }
        }
    }
    /// Shortest excursion; it must lead away from rest.
    fn shortest(&mut self, shortest: Option<&Shortest>, rests_closed: &Placed<bool>) -> Option<Option<u32>> {
        let Some(shortest) = shortest else { return Some(None) };
        if shortest.opens.value != rests_closed.value {
            let (moves, rest) = if shortest.opens.value { ("opens", "open") } else { ("closes", "closed") };
            let finding =
                Finding::new(Code::ClauseMissing, format!("'{moves} for at least' is said of what rests {rest}"))
                    .at(shortest.opens.place, "this leads to rest, not away from it")
                    .at(rests_closed.place, format!("rests {rest}"))
                    .help("tell the shortest time for which it leaves its rest");
            self.findings.push(finding);
            return None;
        }
        self.positive(&shortest.time, Dimension::Time)?;
        self.us(&shortest.time, Side::PlantLeast).map(Some)
    }
    fn contact(&mut self, c: &tree::Contact, taken: Taken) -> Option<Contact> {
        let shortest = self.shortest(c.shortest.as_ref(), &c.rests_closed);
        let settle = self.settles(c.settles.as_ref());
        let most_changes = match &c.changes {
            Some(n) => self.count(n, 0, MOST - 1, "changes").map(Some),
            None => Some(None),
        };
        Some(Contact {
            channel: taken.first,
            rests_closed: c.rests_closed.value,
            line_monitored: c.line_monitored.is_some(),
            shortest_us: shortest?,
            settle: settle?,
            most_changes: most_changes?,
        })
    }
    fn pair(&mut self, p: &tree::Pair, taken: Taken) -> Option<Pair> {
        let shortest = self.shortest(p.shortest.as_ref(), &p.rests_closed);
        let settle = self.settles(p.settles.as_ref());
        let differing = self.scans(&p.differing, Side::Trip);
        Some(Pair {
            channels: [taken.first, taken.second?],
            opposed: p.opposed.value,
            rests_closed: p.rests_closed.value,
            shortest_us: shortest?,
            settle: settle?,
            differing: differing?,
        })
    }
    /// A length of a pace that trips.
    pub(super) fn rope(&mut self, length: &Quantity, pace: &Word, side: Side) -> Option<(InputId, Mm)> {
        let (pace, mm) = (self.one(pace, Sort::Pace), self.mm(length, side));
        Some((pace?, mm?))
    }
    fn maybe_rope(&mut self, clause: Option<&(Quantity, Word)>) -> Option<Option<(InputId, Mm)>> {
        match clause {
            Some((length, pace)) => self.rope(length, pace, Side::Trip).map(Some),
            None => Some(None),
        }
    }
    fn detector(&mut self, d: &tree::Detector, taken: Taken) -> Option<Detector> {
        let at = self.whole_mm(&d.at);
        let pulse = self.positive(&d.pulses, Dimension::Time).and_then(|_| self.us(&d.pulses, Side::PlantLeast));
        let settle = self.settles(d.settles.as_ref());
        let covered = self.maybe_rope(d.covered.as_ref());
        let rises = self.maybe_rope(d.rises.as_ref());
        Some(Detector {
            channel: taken.first,
            at: at?,
            pulse_us: pulse?,
            settle: settle?,
            covered_at_most: covered?,
            rises_every: rises?,
        })
    }
    fn link(&mut self, l: &tree::Link, taken: Taken) -> Option<Link> {
        let (silent, otherwise) = (self.scans(&l.silent, Side::Trip), self.stop(&l.otherwise));
        Some(Link { terminal: taken.first, silent: silent?, otherwise: otherwise? })
    }
    fn pace(&mut self, p: &tree::Pace, id: InputId, taken: Taken) -> Option<Pace> {
        let pulse = self.positive(&p.pulse, Dimension::Length).and_then(|_| self.whole_mm(&p.pulse));
        let speed = self.positive(&p.at_most, Dimension::Speed);
        let span = self
            .positive(&p.over, Dimension::Time)
            .and_then(|_| self.scans(&p.over, Side::Trip))
            .map(|span| span.max(1));
        let fault_after = self.scans(&p.fault_after, Side::Trip);
        let (pulse, speed, span) = (pulse?, speed?, span?);
        let scan_exact = self.travel(&p.at_most, speed, 1)?;
        let scan_travel = self.fit(scan_exact.ceil(), &p.at_most)?;
        let pulses = scan_travel.div_ceil(pulse);
        let top_scan = pulses.checked_add(1).and_then(|n| n.checked_mul(pulse)).filter(|n| *n < MOST);
        let top_scan = self.held(top_scan, &p.at_most)?;
        if top_scan.checked_mul(span).is_none_or(|n| n >= MOST) {
            self.too_large(p.over.place, &format!("{} at {}", text(&p.over), text(&p.at_most)));
            return None;
        }
        let still = match &p.still {
            None => pulse,
            Some(limit) => {
                let speed = self.positive(limit, Dimension::Speed)?;
                let travel = self.travel(limit, speed, span)?;
                self.fit(travel.ceil().saturating_sub(1).max(0), limit)?
            }
        };
        self.paces.insert(id, PaceFacts { span, scan_travel, still, has_two: taken.second.is_some() });
        let top = self.in_span(&p.at_most, id, Side::Trip)?;
        let backing = self.backing(p, id, taken)?;
        Some(Pace {
            source: taken.first,
            backing,
            mm_a_pulse: pulse,
            signed: p.signed.is_some(),
            top,
            top_scan,
            span,
            still,
            fault_after: fault_after?,
        })
    }
    fn backing(&mut self, p: &tree::Pace, id: InputId, taken: Taken) -> Option<Backing> {
        match (&p.backing, &p.agree) {
            (tree::Backing::Terminal(_), Some(within)) => {
                let within = self.in_span(within, id, Side::Trip)?;
                Some(Backing::Source(taken.second?, within))
            }
            (tree::Backing::Terminal(second), None) => {
                self.missing(
                    second.place,
                    "two terminals, but nothing says within what they agree",
                    "add 'the two agree within V'",
                );
                None
            }
            (_, Some(within)) => {
                self.idle(
                    within.place,
                    "'the two agree within' is said of a pace with one terminal",
                    "name the second terminal, or leave the clause out",
                );
                None
            }
            (tree::Backing::Contact(contact), None) => {
                let (_, contact) = self.find(contact, &[Sort::Contact, Sort::Pair])?;
                Some(Backing::Running(contact))
            }
            (tree::Backing::None, None) => Some(Backing::None),
        }
    }
}

/// `num` of a fraction that must fit the millionths of a gauge.
pub(super) fn millionths(value: Exact, unit: i64) -> Option<Exact> {
    value.times(Exact::new(1_000_000, i128::from(unit))?)
}
