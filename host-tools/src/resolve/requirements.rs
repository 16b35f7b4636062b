//! Hazards, requirements and assumptions.

use super::Resolver;
use super::names::named;
use super::units::{Side, divide, written};
use crate::station::{Assumption, Claim, Condition, Form, Ground, Hazard, Rank, Requirement, Scans};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::tree::{self, Kind, Quantity};

/// Carriers a requirement follows at once where it does not say.
const CAPACITY: u32 = 8;

impl Resolver<'_> {
    /// Hazards, requirements and assumptions, in order.
    pub(super) fn requirements(&mut self) {
        for statement in self.statements.clone() {
            match &statement.kind {
                Kind::Hazard(name, title) => {
                    self.station.hazards.push(Hazard { name: named(name), title: title.value.clone() });
                }
                Kind::Require(require) => {
                    let hazards = self.hazards(&require.hazards);
                    let unless = require.unless.as_ref().map(|c| self.condition(c));
                    if let Some((form, within_us)) = self.form(&require.form) {
                        let unless = unless.flatten();
                        self.station.requirements.push(Requirement {
                            name: named(&require.name),
                            title: require.title.value.clone(),
                            hazards,
                            form,
                            unless,
                            within_us,
                        });
                    }
                }
                Kind::Assume(assume) => self.assume(assume),
                _ => {}
            }
        }
    }

    fn form(&mut self, form: &tree::Form) -> Option<(Form, u32)> {
        match form {
            tree::Form::Whenever(condition, lasting, least, within) => {
                let (condition, rank) = (self.condition(condition), self.answer(least));
                let lasting = lasting.as_ref().map_or(Some(0), |time| self.scans(time, Side::Down));
                let (condition, least, lasting) = (condition?, rank?, lasting?);
                let (within, us) = self.deadline(within, least)?;
                Some((Form::Whenever { condition, lasting, least, within }, us))
            }
            tree::Form::WhenRises(gauge, low, high, detector, least, within) => {
                let (gauge, detector, least) = (self.gauge(gauge), self.detector(detector), self.stop(least));
                let (gauge, detector, least) = (gauge?, detector?, least?);
                let (lowest, highest) =
                    (self.steps_within(gauge, low, Side::Up)?, self.steps_within(gauge, high, Side::Down)?);
                self.ordered(lowest <= highest, low, high);
                let (within, us) = self.deadline(within, least)?;
                Some((Form::WhenRises { detector, gauge, lowest, highest, least, within }, us))
            }
            tree::Form::After { from, window, to, least, within, capacity } => {
                let (from, to, least) = (self.detector(from), self.detector(to), self.stop(least));
                let bounds = self.bounds(window, false)?;
                let (from, to, least) = (from?, to?, least?);
                let (within, us) = self.deadline(within, least)?;
                let capacity = capacity.as_ref().map_or(CAPACITY, |c| c.value.clamp(1, 64));
                Some((
                    Form::After {
                        from,
                        to,
                        measured: bounds.measured,
                        earliest: bounds.least,
                        latest: bounds.most?,
                        capacity,
                        least,
                        within,
                    },
                    us,
                ))
            }
            tree::Form::Never(least, condition) => {
                let (condition, least) = (self.condition(condition), self.stop(least));
                Some((Form::Never { condition: condition?, least: least? }, 0))
            }
            tree::Form::NeverReleased(key) => Some((Form::NeverReleased { key: self.key(key)? }, 0)),
            tree::Form::NeverTogether(a, b) => {
                let (a, b) = (self.output(a), self.output(b));
                Some((Form::NeverTogether(a?, b?), 0))
            }
        }
    }

    /// What is left of a requirement's time for the rules: less the slowest output that a stop of
    /// this severity or a greater one releases at once, the sampling of the change, and the deciding scan.
    fn deadline(&mut self, within: &Quantity, least: Rank) -> Option<(Scans, u32)> {
        let us = self.micros_small(within)?;
        let station = &self.station;
        let stops = station
            .stops
            .iter()
            .enumerate()
            .filter(|(i, _)| least >= station.first_stop() && station.slows.len() + 1 + i >= usize::from(least));
        let outputs = stops.flat_map(|(_, stop)| &stop.releases).filter_map(|&o| station.outputs.get(o));
        let off_us = outputs.map(|o| o.off_within_us).max().unwrap_or(0);
        let scan = station.scan_us;
        let left = i128::from(us) - i128::from(off_us) - 2 * i128::from(scan);
        if left < 0 {
            let sum = format!("sampling {0} ms, deciding scan {0} ms, output {1} ms", scan / 1_000, off_us / 1_000);
            self.find(
                Finding::new(Code::DeadlineNegative, format!("no rule can answer within {}", written(within)))
                    .at(within.place, format!("gone already: {sum}")),
            );
            return None;
        }
        let (scans, _) = divide(left, i128::from(scan), Side::Down);
        Some((self.small(scans, within)?, us))
    }

    fn assume(&mut self, assume: &tree::Assume) {
        let claim = match &assume.claim {
            tree::Claim::RopeApart(detector, length, pace) => {
                let (detector, pace, mm) = (self.detector(detector), self.pace(pace), self.mm(length, Side::Down));
                detector.zip(pace).zip(mm).map(|((detector, pace), mm)| Claim::RopeApart(detector, pace, mm))
            }
            tree::Claim::TimeApart(detector, time) => {
                if !Self::is_time(time) {
                    let finding = Finding::new(Code::UnitWrong, format!("{} needs 'of' a pace", written(time)));
                    self.find(finding.at(time.place, "a time, or a length 'of rope', is expected"));
                    return;
                }
                let (detector, scans) = (self.detector(detector), self.scans(time, Side::Down));
                detector.zip(scans).map(|(detector, scans)| Claim::ScansApart(detector, scans))
            }
            tree::Claim::Always(condition) => self.condition(condition).map(Claim::Always),
            tree::Claim::Never(condition) => {
                self.condition(condition).map(|c| Claim::Always(Condition::Not(Box::new(c))))
            }
        };
        let ground = match &assume.ground {
            tree::Ground::HeldBy(word) => self.watch(word).map(Ground::HeldBy),
            tree::Ground::Evidence(text) => Some(Ground::Evidence(text.value.clone())),
        };
        if let (Some(claim), Some(ground)) = (claim, ground) {
            let title = assume.title.as_ref().map_or_else(String::new, |t| t.value.clone());
            self.station.assumptions.push(Assumption { name: named(&assume.name), title, claim, ground });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::units::exact;
    use super::*;
    use crate::text::place::Place;
    use crate::text::tree::Unit;

    #[test]
    fn a_quantity_is_written_as_it_was_read() {
        let q = Quantity { mantissa: -25, decimals: 2, unit: Unit::M, place: Place::default() };
        assert_eq!(written(&q), "-0.25 m");
        assert_eq!(exact(&q), -250_000_000_000);
    }
}
