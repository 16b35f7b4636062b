//! Conditions: what is said of a name, checked against what the name is.

use super::context::Cx;
use super::names::{Sort, any_of};
use super::units::{MOST, Side};
use crate::station::{self, Condition, Observed};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::tree::{Condition as Written, ConditionKind, Quantity, Said, Tally, UnderWay, Word};

/// Where a condition stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    /// In a rule.
    Rule,
    /// In a requirement, where bypasses may be spoken of.
    Requirement,
    /// All that a requirement asks of a time: nothing is joined with it.
    Alone,
}

impl Standing {
    /// Of a part of what stands here.
    fn joined(self) -> Self {
        if self == Self::Alone { Self::Requirement } else { self }
    }
}

/// More carriers cannot be asked for: with a hundred under way nobody is counted any longer.
const MOST_UNDER_WAY: u32 = 98;

/// Inputs that have faults; a key has none.
const FAULTY: &[Sort] = &[Sort::Contact, Sort::Pair, Sort::Detector, Sort::Gauge, Sort::Pace, Sort::Link];

fn fits(said: &Said) -> (&'static str, &'static [Sort]) {
    match said {
        Said::Open => ("open", &[Sort::Contact, Sort::Pair]),
        Said::Closed => ("closed", &[Sort::Contact, Sort::Pair]),
        Said::Covered => ("covered", &[Sort::Detector]),
        Said::Clear => ("clear", &[Sort::Detector]),
        Said::Held => ("held", &[Sort::Key]),
        Said::Free => ("free", &[Sort::Key]),
        Said::Above(_) => ("above", &[Sort::Gauge]),
        Said::Below(_) => ("below", &[Sort::Gauge]),
        Said::Between(..) => ("between", &[Sort::Gauge]),
        Said::Outside(..) => ("outside", &[Sort::Gauge]),
        Said::Faster(_) => ("faster than", &[Sort::Pace]),
        Said::AtMost(_) => ("at most", &[Sort::Pace]),
        Said::Still => ("still", &[Sort::Pace]),
        Said::Moving => ("moving", &[Sort::Pace]),
        Said::RollsBack(_) => ("rolls back faster than", &[Sort::Pace]),
        Said::Faulty => ("faulty", FAULTY),
        Said::SeenOff => ("seen off", &[Sort::Output]),
        Said::Active => ("active", &[Sort::Bypass]),
        Said::Stands => ("stands", &[Sort::Slow, Sort::Stop]),
        Said::Released => ("released", &[Sort::Output]),
        Said::Differing => ("differing", &[Sort::Pair]),
        Said::DifferedOver(_) => ("differed for over", &[Sort::Pair]),
        Said::Silent => ("silent", &[Sort::Link]),
        Said::Pressed(_) => ("pressed for", &[Sort::Key]),
        Said::CoveredOver(..) => ("covered for over", &[Sort::Detector]),
        Said::Changes(_) => ("changes over", &[Sort::Contact]),
        Said::MovesOver(_) => ("moves over", &[Sort::Gauge]),
        Said::SourcesDiffer(_) => ("has sources that differ by more than", &[Sort::Pace]),
        Said::DiffersFrom(..) => ("differs from", &[Sort::Pace, Sort::Gauge]),
        Said::RisesCloser(..) => ("rises less than", &[Sort::Detector]),
        Said::RisesFarther(..) => ("rises more than", &[Sort::Detector]),
        Said::RisesUnawaited(_) => ("rises with no carrier", &[Sort::Detector]),
        Said::Awaits(..) => ("awaits over", &[Sort::Detector]),
        Said::Miscounts(_) => ("miscounts carriers from", &[Sort::Detector]),
    }
}

/// What can be said of a kind of name.
fn sayable(sort: Sort) -> &'static str {
    match sort {
        Sort::Contact => "open, closed or faulty",
        Sort::Pair => "open, closed or faulty, or differing or differed for over (in requirements only)",
        Sort::Detector => "covered, clear or faulty",
        Sort::Key => "held, free, or pressed for (in requirements only)",
        Sort::Gauge => "above, below, between, outside or faulty, or moves over (in requirements only)",
        Sort::Pace => {
            "faster than, at most, still, moving, rolls back faster than or faulty, or has sources that differ (in requirements only)"
        }
        Sort::Link => "faulty, or silent (in requirements only)",
        Sort::Output => "seen off, or released (in requirements only)",
        Sort::Slow | Sort::Stop => "stands (in requirements only)",
        Sort::Bypass => "active (in requirements only)",
        _ => "nothing; it is no input, output, bypass or answer",
    }
}

fn not(condition: Condition) -> Condition {
    Condition::Not(Box::new(condition))
}

impl Cx {
    /// Resolves a condition.
    pub(super) fn condition(&mut self, written: &Written, standing: Standing) -> Option<Condition> {
        match &written.kind {
            ConditionKind::All(parts) => self.parts(parts, standing.joined()).map(Condition::All),
            ConditionKind::Any(parts) => self.parts(parts, standing.joined()).map(Condition::Any),
            ConditionKind::Not(part) => self.condition(part, standing.joined()).map(not),
            ConditionKind::Simple(word, said) => self.simple(word, said, standing),
        }
    }
    fn parts(&mut self, parts: &[Written], standing: Standing) -> Option<Vec<Condition>> {
        // Each part is looked at even after one that failed, so that all findings come at once.
        let all: Vec<_> = parts.iter().map(|part| self.condition(part, standing)).collect();
        all.into_iter().collect()
    }
    /// The name, if what is said of it fits.
    fn subject(&mut self, word: &Word, said: &Said) -> Option<usize> {
        let (text, fits) = fits(said);
        let Some(entry) = self.names.known(&word.value) else {
            let finding = self.names.unknown(word, fits);
            self.unknown(finding);
            return None;
        };
        if fits.contains(&entry.sort) {
            return Some(entry.index);
        }
        let finding = Finding::new(
            Code::NameKind,
            format!("'{text}' cannot be said of '{}', which is {}", word.value, entry.sort.text()),
        )
        .at(word.place, format!("'{text}' is said of {}", any_of(fits)))
        .at(entry.place, format!("declared here as {}", entry.sort.text()))
        .help(format!("of {} can be said: {}", entry.sort.text(), sayable(entry.sort)));
        self.findings.push(finding);
        None
    }
    fn simple(&mut self, word: &Word, said: &Said, standing: Standing) -> Option<Condition> {
        let id = self.subject(word, said)?;
        Some(match said {
            Said::Open | Said::Clear | Said::Free => not(Condition::High(id)),
            Said::Closed | Said::Covered | Said::Held => Condition::High(id),
            Said::Above(limit) => {
                let last = self.steps(limit, id, Side::Above)?;
                Condition::AtLeast(id, self.threshold(id, last.checked_add(1)?)?)
            }
            Said::Below(limit) => {
                let first = self.steps(limit, id, Side::Below)?;
                not(Condition::AtLeast(id, self.threshold(id, first)?))
            }
            Said::Between(low, high) => {
                let (least, most) = self.bounds(low, high, id)?;
                between(id, least, most)
            }
            Said::Outside(low, high) => {
                let (least, most) = self.bounds(low, high, id)?;
                not(between(id, least, most))
            }
            Said::Faster(limit) => Condition::Faster(id, self.in_span(limit, id, Side::Allowed)?.checked_add(1)?),
            Said::AtMost(limit) => not(Condition::Faster(id, self.in_span(limit, id, Side::Allowed)?.checked_add(1)?)),
            Said::Still => not(self.moving(id)?),
            Said::Moving => self.moving(id)?,
            Said::RollsBack(limit) => Condition::Back(id, self.in_span(limit, id, Side::Allowed)?.checked_add(1)?),
            Said::Faulty => Condition::Faulty(id),
            Said::SeenOff => {
                if self.unread.contains(&id) {
                    let finding = Finding::new(
                        Code::NameKind,
                        format!("output '{}' has no read-back and can never be seen off", word.value),
                    )
                    .at(word.place, "seen off only by a read-back")
                    .help("give the output 'read back on TERMINAL within T'");
                    self.findings.push(finding);
                    return None;
                }
                Condition::SeenOff(id)
            }
            Said::Active => {
                if standing == Standing::Rule {
                    let finding = Finding::new(Code::NameKind, "'active' can be said in requirements only")
                        .at(word.place, "this rule would depend on its own bypass")
                        .help("name the bypass's key, 'held', or leave this part out");
                    self.findings.push(finding);
                    return None;
                }
                Condition::Bypassed(id)
            }
            Said::Stands
            | Said::Released
            | Said::Differing
            | Said::DifferedOver(_)
            | Said::Silent
            | Said::Pressed(_)
            | Said::CoveredOver(..)
            | Said::Changes(_)
            | Said::MovesOver(_)
            | Said::SourcesDiffer(_)
            | Said::DiffersFrom(..)
            | Said::RisesCloser(..)
            | Said::RisesFarther(..)
            | Said::RisesUnawaited(_)
            | Said::Miscounts(_)
            | Said::Awaits(..) => Condition::Observed(self.observed(word, id, said, standing)?),
        })
    }
    /// What only requirements speak of.
    fn observed(&mut self, word: &Word, id: usize, said: &Said, standing: Standing) -> Option<Observed> {
        if standing == Standing::Rule {
            let finding = Finding::new(Code::NameKind, format!("'{}' can be said in requirements only", fits(said).0))
                .at(word.place, "rules look at inputs as they have settled, and have watches of their own for this")
                .help(if matches!(said, Said::Silent) {
                    "use 'faulty', or 'silent for at most' of the link"
                } else if matches!(said, Said::Pressed(_)) {
                    "use 'held'"
                } else {
                    "use 'agree', 'confirm', 'count', 'covered for at most', 'at most N changes a second', 'moves at most', 'the two agree within', 'differing for' or 'read back'"
                });
            self.findings.push(finding);
            return None;
        }
        let observed = match said {
            Said::Stands => Observed::Stands(self.standing(word)?),
            Said::Released => Observed::Released(id),
            Said::Differing => Observed::Differing(id),
            Said::DifferedOver(time) => Observed::Distrusted(id, self.scans(time, Side::Trip)?),
            Said::Silent => Observed::Silent(id),
            Said::Pressed(time) => Observed::Pressed(id, self.scans(time, Side::Trip)?),
            Said::CoveredOver(length, pace) => {
                let (pace, mm) = self.rope(length, pace, Side::Trip)?;
                Observed::Covered(id, pace, mm)
            }
            Said::Changes(count) => Observed::Changing(id, self.count(count, 0, MOST - 1, "changes")?),
            Said::RisesCloser(length, pace) => {
                let (pace, mm) = self.rope(length, pace, Side::Least)?;
                if mm == 0 {
                    self.zero(length.place, "0 mm");
                    return None;
                }
                Observed::Closer(id, pace, mm)
            }
            Said::RisesFarther(length, pace) => {
                let (pace, mm) = self.rope(length, pace, Side::Trip)?;
                Observed::Farther(id, pace, mm)
            }
            Said::RisesUnawaited(way) => Observed::Stray(self.under_way(id, way)?),
            Said::Awaits(count, way) => {
                let most = self.count(count, 0, MOST_UNDER_WAY, "carriers");
                let way = self.under_way(id, way)?;
                Observed::Crowded(way, most?)
            }
            Said::Miscounts(tally) => Observed::Miscounting(self.tally(id, tally)?),
            Said::MovesOver(by) => {
                self.natural(by, by.unit.dimension())?;
                let steps = self.steps_from_zero(by, id, Side::Trip)?;
                Observed::Leaping(id, self.fit(steps, by)?)
            }
            Said::SourcesDiffer(by) => Observed::Sources(id, self.sources_apart(word, id, by)?),
            Said::DiffersFrom(other, by) => {
                let (both, by) = self.apart(word, other, by)?;
                Observed::Apart(both, by)
            }
            _ => return None,
        };
        if observed.stands_alone() && standing != Standing::Alone {
            let finding = Finding::new(Code::NameKind, format!("'{}' stands alone behind 'whenever'", fits(said).0))
                .at(word.place, "here it is joined with something, negated, or an excuse")
                .help("make a requirement of its own of it; what excuses stands behind 'unless'");
            self.findings.push(finding);
            return None;
        }
        Some(observed)
    }
    /// By how much the two sources of a pace may differ in its span, mm.
    fn sources_apart(&mut self, word: &Word, pace: usize, by: &Quantity) -> Option<u32> {
        if !self.paces.get(&pace)?.has_two {
            let finding = Finding::new(Code::NameKind, format!("pace '{}' has no second source", word.value))
                .at(word.place, "only two sources can differ")
                .help("name a pace that is declared 'on TERMINAL and TERMINAL'");
            self.findings.push(finding);
            return None;
        }
        self.in_span(by, pace, Side::Trip)
    }
    /// Carriers that are counted to a detector.
    fn tally(&mut self, to: usize, tally: &Tally) -> Option<station::Tally> {
        let from = self.one(&tally.from, Sort::Detector);
        let most = self.count(&tally.most, 0, MOST_UNDER_WAY, "carriers");
        let confirmed = self.count(&tally.confirmed, 0, MOST_UNDER_WAY, "carriers");
        let mut pressed = |key: &Word, time: &Quantity| {
            let (key, scans) = (self.one(key, Sort::Key), self.scans(time, Side::Trip));
            key.zip(scans)
        };
        let key = pressed(&tally.key, &tally.pressed);
        let unknown = match &tally.unknown {
            Some((key, time)) => Some(pressed(key, time)?),
            None => None,
        };
        Some(station::Tally { from: from?, to, most: most?, confirmed: confirmed?, key: key?, unknown })
    }
    /// Carriers under way to a detector.
    fn under_way(&mut self, to: usize, way: &UnderWay) -> Option<station::UnderWay> {
        let from = self.one(&way.from, Sort::Detector);
        let (pace, latest) = self.rope(&way.length, &way.pace, Side::Trip)?;
        Some(station::UnderWay { from: from?, to, pace, latest })
    }
    pub(super) fn moving(&mut self, pace: usize) -> Option<Condition> {
        let still = self.paces.get(&pace)?.still;
        Some(Condition::Faster(pace, still.checked_add(1)?))
    }
    /// Steps of a comparison, kept between "always" (0) and "never" (one above the top).
    fn threshold(&self, gauge: usize, steps: i128) -> Option<u32> {
        let top = i128::from(self.gauges.get(&gauge)?.top);
        u32::try_from(steps.clamp(0, top + 1)).ok()
    }
}

fn between(gauge: usize, least: u32, most: u32) -> Condition {
    Condition::All(vec![Condition::AtLeast(gauge, least), not(Condition::AtLeast(gauge, most.saturating_add(1)))])
}
