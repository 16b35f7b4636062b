//! Modes, outputs, answers, reset, refills and bypasses.

use super::Resolver;
use super::names::named;
use super::units::Side;
use crate::station::{Bypass, Mode, Output, Rank, Refill, Reset, Slow, Stop, Then, WatchKind};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::tree::{self, Kind};

impl Resolver<'_> {
    /// Modes, outputs, slow orders and stops.
    pub(super) fn answers(&mut self) {
        for statement in self.statements.clone() {
            match &statement.kind {
                Kind::Output(o) => self.one_output(o),
                Kind::Mode(m) => {
                    let key = self.key(&m.key);
                    let at_most = m.at_most.as_ref().map(|(pace, v)| {
                        self.pace(pace).and_then(|pace| Some((pace, self.over_span(v, pace, Side::Down)?)))
                    });
                    self.station.modes.push(Mode {
                        name: named(&m.name),
                        key: key.unwrap_or(0),
                        at_most: at_most.flatten(),
                    });
                }
                Kind::Slow(s) => {
                    let within = self.scans(&s.within, Side::Down);
                    if let Some(pace) = self.pace(&s.pace) {
                        let down_to = self.over_span(&s.down_to, pace, Side::Down);
                        self.station.slows.push(Slow {
                            name: named(&s.name),
                            pace,
                            down_to: down_to.unwrap_or(0),
                            within: within.unwrap_or(0),
                        });
                    }
                }
                Kind::Stop(s) => self.one_stop(s),
                _ => {}
            }
        }
        self.station.on_fault = self.station.worst();
        for statement in self.statements.clone() {
            if let Kind::OnFault(word) = &statement.kind {
                self.station.on_fault = self.stop(word).unwrap_or(0);
            }
        }
    }
    fn one_output(&mut self, o: &tree::Output) {
        let off_within_us = self.micros_small(&o.off_within).unwrap_or(0);
        let read_back = o
            .read_back
            .as_ref()
            .and_then(|(terminal, within)| Some((self.channel(terminal), self.scans(within, Side::Down)?)));
        let not_together = self.outputs(&o.not_together);
        let (name, terminal) = (named(&o.name), o.terminal.value.clone());
        self.station.outputs.push(Output { name, terminal, off_within_us, read_back, not_together });
    }
    fn one_stop(&mut self, s: &tree::Stop) {
        let releases = self.outputs(&s.releases);
        let then = s.then.as_ref().and_then(|then| {
            let outputs = self.outputs(&then.outputs);
            let (pace, latest) = (self.pace(&then.pace), self.scans(&then.latest, Side::Down));
            Some(Then { outputs, pace: pace?, latest: latest? })
        });
        let bites_us = self.micros_small(&s.bites).unwrap_or(0);
        let slows = (
            self.deceleration(&s.slows.0, Side::Down).unwrap_or(0),
            self.deceleration(&s.slows.1, Side::Up).unwrap_or(0),
        );
        if slows.0 > slows.1 {
            self.find(
                Finding::new(Code::BoundsReversed, "the least deceleration stands first")
                    .at(s.slows.0.place, "this is the greater"),
            );
        }
        let standstill = s.standstill.as_ref().and_then(|word| self.watch(word));
        self.station.stops.push(Stop {
            name: named(&s.name),
            category: u8::try_from(s.category.value).unwrap_or(u8::MAX),
            for_emergencies: s.for_emergencies.is_some(),
            releases,
            then,
            bites_us,
            slows,
            standstill,
        });
    }

    /// Reset, restart, refills and bypasses.
    pub(super) fn rules(&mut self) {
        for statement in self.statements.clone() {
            match &statement.kind {
                Kind::Reset(reset) => {
                    let (key, when) = (self.key(&reset.key), self.rule_condition(&reset.when));
                    let lasting = reset.lasting.as_ref().map_or(Some(0), |time| self.scans(time, Side::Up));
                    let scan = self.station.scan_us.max(1);
                    if let (Some(key), Some(when), Some(lasting)) = (key, when, lasting) {
                        // A press counts from 0.1 s to 3 s: common practice, no source.
                        let (shortest, longest) = (100_000_u32.div_ceil(scan), (3_000_000 / scan).max(1));
                        self.station.reset = Some(Reset { key, when, lasting, shortest, longest });
                    }
                }
                Kind::Restart(time) => self.station.restart = self.scans(time, Side::Up).unwrap_or(0),
                Kind::Refill(refill) => self.one_refill(refill, statement.place),
                Kind::Bypass(bypass) => self.one_bypass(bypass),
                _ => {}
            }
        }
    }
    fn one_refill(&mut self, refill: &tree::Refill, place: crate::text::place::Place) {
        let mut watches = Vec::new();
        for word in &refill.watches {
            let Some(watch) = self.watch(word) else { continue };
            match self.station.watches.get(watch).map(|w| &w.kind) {
                Some(WatchKind::Travel(_) | WatchKind::Count(_)) => watches.push(watch),
                _ => self.find(
                    Finding::new(Code::NameKind, format!("'{}' cannot refill", word.value))
                        .at(word.place, "a travel or a count is expected"),
                ),
            }
        }
        if let (Some(key), Some(when)) = (self.key(&refill.key), self.rule_condition(&refill.when)) {
            self.station.refills.push(Refill { watches, key, when, place });
        }
    }
    fn one_bypass(&mut self, b: &tree::Bypass) {
        let of: Vec<usize> = b.of.iter().filter_map(|word| self.watch(word)).collect();
        let (modes, key) = (self.modes(&b.modes), self.key(&b.key));
        let at_most =
            self.pace(&b.at_most.0).and_then(|pace| Some((pace, self.over_span(&b.at_most.1, pace, Side::Down)?)));
        let (budget, rest) = (self.scans(&b.budget, Side::Down), self.scans(&b.rest, Side::Up));
        if let (Some(key), Some(at_most), Some(budget), Some(rest)) = (key, at_most, budget, rest) {
            if budget == 0 || rest == 0 {
                let at = if budget == 0 { &b.budget } else { &b.rest };
                self.find(
                    Finding::new(Code::NumberSenseless, "this lasts less than a scan")
                        .at(at.place, "at least one scan"),
                );
            }
            self.station.bypasses.push(Bypass { name: named(&b.name), of, modes, key, at_most, budget, rest });
        }
    }

    /// More than a controller holds is refused here, with the number.
    pub(super) fn limits(&mut self) {
        let start = self.statements.first().map(|s| s.place).unwrap_or_default();
        let station = &self.station;
        let ways = if station.stops.is_empty() { 0 } else { crate::station::ways::ways(station).len() };
        for (what, count, most) in [
            ("digital terminals", station.channels.len(), 1_024),
            ("modes", station.modes.len(), 32),
            ("bypasses", station.bypasses.len(), 16),
            ("outputs", station.outputs.len(), 32),
            ("answers", station.slows.len() + station.stops.len(), usize::from(Rank::MAX) - 200),
            ("ways to trip", ways, 4_096),
        ] {
            if count > most {
                self.findings.push(
                    Finding::new(Code::TooLarge, format!("there are {count} {what}"))
                        .at(start, format!("a controller holds {most}")),
                );
            }
        }
    }
}
