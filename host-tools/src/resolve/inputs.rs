//! Terminals, inputs and their limits.

use super::Resolver;
use super::names::named;
use super::units::{Side, divide, exact, written};
use crate::station::{Backing, Contact, Detector, Gauge, Input, InputId, InputKind, Key, Link, Pace, Pair, Settle};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::Place;
use crate::text::tree::{self, Kind, Quantity, Settles, Word};

/// What kind of terminal a word names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Wire {
    Channel,
    Gauge,
    Source,
    Link,
}

impl Resolver<'_> {
    /// Numbers every terminal in order of declaration.
    pub(super) fn terminals(&mut self) {
        let mut used: Vec<(String, Place)> = Vec::new();
        for statement in self.statements.clone() {
            for (word, wire) in wires(&statement.kind) {
                if let Some((_, first)) = used.iter().find(|(name, _)| *name == word.value) {
                    let finding = Finding::new(Code::TerminalTwice, format!("terminal {} is used twice", word.value));
                    self.findings.push(finding.at(word.place, "a second time here").at(*first, "used here already"));
                    continue;
                }
                used.push((word.value.clone(), word.place));
                match wire {
                    Some(Wire::Channel) => self.station.channels.push(word.value.clone()),
                    Some(Wire::Gauge) => self.station.gauge_terminals.push(word.value.clone()),
                    Some(Wire::Source) => self.station.sources.push(word.value.clone()),
                    Some(Wire::Link) => self.station.link_terminals.push(word.value.clone()),
                    None => {}
                }
            }
        }
    }
    /// Number of a channel.
    pub(super) fn channel(&self, word: &Word) -> usize {
        number(&self.station.channels, word)
    }

    /// Paces come first, since other inputs are measured by them. Every other input gets its place.
    pub(super) fn paces(&mut self) {
        let blank = InputKind::Key(Key { channels: (0, None), settle: Settle::default() });
        for statement in self.statements.clone() {
            let name = match &statement.kind {
                Kind::Contact(i) => &i.name,
                Kind::Pair(i) => &i.name,
                Kind::Detector(i) => &i.name,
                Kind::Gauge(i) => &i.name,
                Kind::Pace(i) => &i.name,
                Kind::Link(i) => &i.name,
                Kind::Key(i) => &i.name,
                _ => continue,
            };
            let kind = match &statement.kind {
                Kind::Pace(pace) => self.one_pace(pace).map(InputKind::Pace),
                _ => None,
            };
            self.station.inputs.push(Input { name: named(name), kind: kind.unwrap_or_else(|| blank.clone()) });
        }
    }
    /// Every other input.
    pub(super) fn inputs(&mut self) {
        let mut at = 0;
        for statement in self.statements.clone() {
            let kind = match &statement.kind {
                Kind::Contact(c) => self.one_contact(c),
                Kind::Pair(p) => self.one_pair(p),
                Kind::Detector(d) => self.one_detector(d),
                Kind::Gauge(g) => self.one_gauge(g),
                Kind::Link(l) => self.one_link(l),
                Kind::Key(k) => {
                    let channels = (self.channel(&k.terminal), k.second.as_ref().map(|s| self.channel(s)));
                    self.settle(k.settles.as_ref()).map(|settle| InputKind::Key(Key { channels, settle }))
                }
                Kind::Pace(_) => None,
                _ => continue,
            };
            if let (Some(kind), Some(cell)) = (kind, self.station.inputs.get_mut(at)) {
                cell.kind = kind;
            }
            at += 1;
        }
    }

    fn settle(&mut self, settles: Option<&Settles>) -> Option<Settle> {
        Some(match settles {
            None => Settle::default(),
            Some(Settles::Both(both)) => {
                let scans = self.scans(both, Side::Up)?;
                Settle { up: scans, down: scans }
            }
            Some(Settles::Each(opening, closing)) => {
                Settle { up: self.scans(closing, Side::Up)?, down: self.scans(opening, Side::Up)? }
            }
        })
    }
    /// The shortest excursion; it must lead away from rest.
    #[expect(clippy::option_option, reason = "outer: it could be read; inner: it is there")]
    fn shortest(&mut self, shortest: Option<&tree::Shortest>, rests_closed: bool) -> Option<Option<u32>> {
        let Some(shortest) = shortest else { return Some(None) };
        if shortest.opens.value != rests_closed {
            let finding = Finding::new(Code::NumberSenseless, "this excursion leads to rest, not away from it");
            let help = if rests_closed { "write 'opens for at least'" } else { "write 'closes for at least'" };
            self.find(finding.at(shortest.opens.place, "the wrong way round").help(help));
            return None;
        }
        self.micros_small(&shortest.time).map(Some)
    }
    fn one_contact(&mut self, c: &tree::Contact) -> Option<InputKind> {
        let settle = self.settle(c.settles.as_ref());
        let shortest_us = self.shortest(c.shortest.as_ref(), c.rests_closed.value);
        Some(InputKind::Contact(Contact {
            channel: self.channel(&c.terminal),
            rests_closed: c.rests_closed.value,
            line_monitored: c.line_monitored.is_some(),
            shortest_us: shortest_us?,
            settle: settle?,
            most_changes: c.changes.as_ref().map(|n| n.value),
        }))
    }
    fn one_pair(&mut self, p: &tree::Pair) -> Option<InputKind> {
        let settle = self.settle(p.settles.as_ref());
        let shortest_us = self.shortest(p.shortest.as_ref(), p.rests_closed.value);
        let differing = self.scans(&p.differing, Side::Down);
        Some(InputKind::Pair(Pair {
            channels: [self.channel(&p.terminals.0), self.channel(&p.terminals.1)],
            opposed: p.opposed.value,
            rests_closed: p.rests_closed.value,
            shortest_us: shortest_us?,
            settle: settle?,
            differing: differing?,
        }))
    }
    #[expect(clippy::option_option, reason = "outer: it could be read; inner: it is there")]
    fn rope(&mut self, of: Option<&(Quantity, Word)>) -> Option<Option<(InputId, u32)>> {
        let Some((length, pace)) = of else { return Some(None) };
        let (pace, mm) = (self.pace(pace), self.mm(length, Side::Down));
        Some(Some((pace?, mm?)))
    }
    fn one_detector(&mut self, d: &tree::Detector) -> Option<InputKind> {
        let (at, pulse_us, settle) =
            (self.mm(&d.at, Side::Down), self.micros_small(&d.pulses), self.settle(d.settles.as_ref()));
        let (covered_at_most, rises_every) = (self.rope(d.covered.as_ref()), self.rope(d.rises.as_ref()));
        Some(InputKind::Detector(Detector {
            channel: self.channel(&d.terminal),
            at: at?,
            pulse_us: pulse_us?,
            settle: settle?,
            covered_at_most: covered_at_most?,
            rises_every: rises_every?,
        }))
    }
    fn one_link(&mut self, l: &tree::Link) -> Option<InputKind> {
        let (silent, otherwise) = (self.scans(&l.silent, Side::Down), self.stop(&l.otherwise));
        Some(InputKind::Link(Link {
            terminal: number(&self.station.link_terminals, &l.terminal),
            silent: silent?,
            otherwise: otherwise?,
        }))
    }

    fn one_pace(&mut self, p: &tree::Pace) -> Option<Pace> {
        let source = number(&self.station.sources, &p.terminal);
        let pulse = self.mm(&p.pulse, Side::Down);
        let span = self.scans(&p.over, Side::Down).map(|s| s.max(1));
        let fault_after = self.scans(&p.fault_after, Side::Down);
        let (span, pulse) = (span?, pulse?);
        if pulse == 0 || exact(&p.pulse) % 1_000_000_000 != 0 {
            self.find(
                Finding::new(Code::NumberSenseless, "a pulse stands for a whole number of millimetres")
                    .at(p.pulse.place, "at least 1 mm, and whole"),
            );
            return None;
        }
        let top = self.travel_in(&p.at_most, span, Side::Down)?;
        let (scan, _) = self.travel_exact(&p.at_most, 1, Side::Up)?;
        let top_scan = scan.div_ceil(pulse).saturating_add(1).saturating_mul(pulse);
        let still = match &p.still {
            None => pulse,
            Some(below) => self.travel_exact(below, span, Side::Up).map(|(mm, _)| mm.saturating_sub(1))?,
        };
        let backing = match &p.backing {
            tree::Backing::None => Backing::None,
            tree::Backing::Contact(word) => Backing::Running(self.contact(word)?),
            tree::Backing::Terminal(word) => {
                let Some(within) = &p.agree else {
                    let finding = Finding::new(Code::ClauseMissing, "this pace lacks 'the two agree within 0.2 m/s'");
                    self.find(finding.at(p.name.place, "two sources, but nothing says how far they may differ"));
                    return None;
                };
                Backing::Source(number(&self.station.sources, word), self.travel_in(within, span, Side::Down)?)
            }
        };
        Some(Pace {
            source,
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

    fn one_gauge(&mut self, g: &tree::Gauge) -> Option<InputKind> {
        let [(c0, v0), (c1, v1)] = &g.points;
        let unit = v0.unit;
        let one = i128::from(unit.base()) * 1_000_000;
        let default = Quantity { mantissa: 1, decimals: 0, unit, place: v0.place };
        let step = g.steps.as_ref().unwrap_or(&default);
        for value in [v1, step] {
            if value.unit.dimension() != unit.dimension() {
                let finding =
                    Finding::new(Code::UnitWrong, format!("{} is {}", written(value), value.unit.dimension().text()));
                self.find(
                    finding.at(value.place, format!("{} is expected, as at the first point", unit.dimension().text())),
                );
                return None;
            }
        }
        let (current0, current1) = (self.current(c0), self.current(c1));
        let (current0, current1) = (current0?, current1?);
        let micro = |q: &Quantity| exact(q) * 1_000_000 / one;
        let (value0, value1, step_micro) = (micro(v0), micro(v1), micro(step));
        if current0 == current1 || value0 == value1 || step_micro <= 0 {
            let finding =
                Finding::new(Code::NumberSenseless, "a scale needs two different points, and a step above nothing");
            self.find(finding.at(g.name.place, "of this gauge"));
            return None;
        }
        let trusted_ua = match &g.trusted {
            None => (3_800, 20_500),
            Some((low, high)) => (self.current(low)?, self.current(high)?),
        };
        if trusted_ua.0 >= trusted_ua.1 || trusted_ua.0 <= 3_600 || trusted_ua.1 >= 21_000 {
            let finding = Finding::new(
                Code::NumberSenseless,
                "a current is trusted within the bands of NAMUR NE 43, above 3.6 mA and below 21 mA",
            );
            self.find(finding.at(g.name.place, "of this gauge"));
            return None;
        }
        // v = v0 + (c - c0) (v1 - v0) / (c1 - c0), in steps, as a fraction with a positive divisor.
        let line = |c: i32, side| {
            let run = i128::from(current1 - current0);
            let number = (value0 * run + i128::from(c - current0) * (value1 - value0)) * run.signum();
            divide(number, run.abs() * step_micro, side).0
        };
        let rising = (value1 > value0) == (current1 > current0);
        let (from, to) = if rising { trusted_ua } else { (trusted_ua.1, trusted_ua.0) };
        let (lowest, highest) = (line(from, Side::Down), line(to, Side::Up));
        let top = self.small(highest - lowest, v1)?;
        let (lowest, narrow) = (i64::try_from(lowest).ok()?, |v: i128| i64::try_from(v).ok());
        let mut gauge = Gauge {
            terminal: number(&self.station.gauge_terminals, &g.terminal),
            unit: unit.text().to_owned(),
            step_micro: narrow(step_micro)?,
            points: [(current0, narrow(value0)?), (current1, narrow(value1)?)],
            trusted_ua,
            broken_ua: (3_600, 21_000),
            lowest,
            top,
            moves_at_most: None,
            rests: None,
        };
        if let Some(moves) = &g.moves {
            let value = self.in_unit(moves, unit.dimension())?;
            let (steps, _) = divide(value, i128::from(gauge.step_micro) * one / 1_000_000, Side::Down);
            gauge.moves_at_most = Some(self.small(steps, moves)?);
        }
        if let Some((within, of, detector)) = &g.rests {
            let detector = self.detector(detector);
            let (within, of) = (self.in_unit(within, unit.dimension())?, self.in_unit(of, unit.dimension())?);
            let least = steps_of(&gauge, one, of - within, Side::Up);
            let most = steps_of(&gauge, one, of + within, Side::Down);
            gauge.rests = Some((detector?, clamp(least, &gauge), clamp(most, &gauge)));
        }
        Some(InputKind::Gauge(gauge))
    }
    /// A value of the dimension of a gauge, exact.
    fn in_unit(&mut self, q: &Quantity, dimension: tree::Dimension) -> Option<i128> {
        if q.unit.dimension() != dimension {
            let finding = Finding::new(Code::UnitWrong, format!("{} is {}", written(q), q.unit.dimension().text()));
            self.find(finding.at(q.place, format!("{} is expected", dimension.text())));
            return None;
        }
        Some(exact(q))
    }
    /// Steps of a gauge above its lowest for a value, rounded to a side; may lie out of its range.
    pub(super) fn steps(&mut self, gauge: InputId, q: &Quantity, side: Side) -> Option<i128> {
        let Some(InputKind::Gauge(g)) = self.station.inputs.get(gauge).map(|i| i.kind.clone()) else { return None };
        let unit = tree::Unit::ALL.into_iter().find(|u| u.text() == g.unit)?;
        let value = self.in_unit(q, unit.dimension())?;
        let one = i128::from(unit.base()) * 1_000_000;
        let (_, rounded) = divide(value * 1_000_000, i128::from(g.step_micro) * one, side);
        let steps = steps_of(&g, one, value, side);
        if steps < 0 || steps > i128::from(g.top) {
            let finding = Finding::new(Code::LimitOutOfReach, format!("{} is out of the gauge's reach", written(q)));
            self.find(
                finding
                    .at(q.place, "no trusted current shows this value")
                    .help("check the limit and the two points of the gauge's scale"),
            );
        } else if rounded {
            let finding =
                Finding::new(Code::LimitRounded, format!("{} is no whole number of the gauge's steps", written(q)));
            self.find(finding.at(q.place, "rounded to the strict side"));
        }
        Some(steps)
    }
    /// As [`Self::steps`], held within the gauge's range.
    pub(super) fn steps_within(&mut self, gauge: InputId, q: &Quantity, side: Side) -> Option<u32> {
        let steps = self.steps(gauge, q, side)?;
        match self.station.inputs.get(gauge).map(|i| &i.kind) {
            Some(InputKind::Gauge(g)) => Some(clamp(steps, g)),
            _ => None,
        }
    }
}

fn steps_of(g: &Gauge, one: i128, value: i128, side: Side) -> i128 {
    divide(value * 1_000_000, i128::from(g.step_micro) * one, side).0 - i128::from(g.lowest)
}
fn clamp(steps: i128, g: &Gauge) -> u32 {
    u32::try_from(steps.clamp(0, i128::from(g.top))).unwrap_or(0)
}
fn number(all: &[String], word: &Word) -> usize {
    all.iter().position(|name| *name == word.value).unwrap_or(0)
}

/// Terminals that a statement reads or drives; outputs are driven, so that they are in no sample.
fn wires(kind: &Kind) -> Vec<(&Word, Option<Wire>)> {
    let channel = Some(Wire::Channel);
    match kind {
        Kind::Output(o) => {
            [Some((&o.terminal, None)), o.read_back.as_ref().map(|(t, _)| (t, channel))].into_iter().flatten().collect()
        }
        Kind::Contact(c) => vec![(&c.terminal, channel)],
        Kind::Pair(p) => vec![(&p.terminals.0, channel), (&p.terminals.1, channel)],
        Kind::Detector(d) => vec![(&d.terminal, channel)],
        Kind::Key(k) => {
            [Some((&k.terminal, channel)), k.second.as_ref().map(|s| (s, channel))].into_iter().flatten().collect()
        }
        Kind::Gauge(g) => vec![(&g.terminal, Some(Wire::Gauge))],
        Kind::Link(l) => vec![(&l.terminal, Some(Wire::Link))],
        Kind::Pace(p) => {
            let second = match &p.backing {
                tree::Backing::Terminal(t) => Some((t, Some(Wire::Source))),
                tree::Backing::None | tree::Backing::Contact(_) => None,
            };
            [Some((&p.terminal, Some(Wire::Source))), second].into_iter().flatten().collect()
        }
        _ => Vec::new(),
    }
}
