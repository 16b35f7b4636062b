//! Conditions: what is said must fit the kind of thing it is said of.

use super::Resolver;
use super::names::Thing;
use super::units::Side;
use crate::station::{Condition, InputId, InputKind};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::tree::{self, ConditionKind, Kind, Said, Word};

impl Resolver<'_> {
    /// A condition; bypasses may be spoken of only in requirements.
    pub(super) fn condition(&mut self, c: &tree::Condition) -> Option<Condition> {
        match &c.kind {
            ConditionKind::All(parts) => self.parts(parts).map(Condition::All),
            ConditionKind::Any(parts) => self.parts(parts).map(Condition::Any),
            ConditionKind::Not(part) => self.condition(part).map(|part| Condition::Not(Box::new(part))),
            ConditionKind::Simple(name, said) => self.simple(name, said),
        }
    }
    fn parts(&mut self, parts: &[tree::Condition]) -> Option<Vec<Condition>> {
        let all: Vec<Option<Condition>> = parts.iter().map(|part| self.condition(part)).collect();
        all.into_iter().collect()
    }
    fn simple(&mut self, name: &Word, said: &Said) -> Option<Condition> {
        let thing = self.subject(name)?;
        match (thing, said) {
            (Thing::Output(output), Said::SeenOff) => {
                if self.station.outputs.get(output).is_some_and(|o| o.read_back.is_none()) {
                    let finding = Finding::new(Code::NameKind, format!("output '{}' has no read-back", name.value));
                    self.find(
                        finding
                            .at(name.place, "it can never be seen off")
                            .help("give it 'read back on TERMINAL within T'"),
                    );
                    return None;
                }
                Some(Condition::SeenOff(output))
            }
            (Thing::Bypass(bypass), Said::Active) => Some(Condition::Bypassed(bypass)),
            (Thing::Input(input), _) => self.of_input(name, input, said),
            _ => self.misfit(name, "an input takes what is said here; an output is 'seen off', a bypass is 'active'"),
        }
    }
    fn misfit(&mut self, name: &Word, what: &str) -> Option<Condition> {
        self.find(
            Finding::new(Code::NameKind, format!("this cannot be said of '{}'", name.value)).at(name.place, what),
        );
        None
    }
    fn of_input(&mut self, name: &Word, input: InputId, said: &Said) -> Option<Condition> {
        if *said == Said::Faulty {
            return Some(Condition::Faulty(input));
        }
        let kind = self.station.inputs.get(input).map(|i| i.kind.clone())?;
        match kind {
            InputKind::Contact(_) | InputKind::Pair(_) => level(input, said, &Said::Closed, &Said::Open)
                .or_else(|| self.misfit(name, "a contact or pair is open, closed or faulty")),
            InputKind::Detector(_) => level(input, said, &Said::Covered, &Said::Clear)
                .or_else(|| self.misfit(name, "a detector is covered, clear or faulty")),
            InputKind::Key(_) if !self.declared_key(input) => None,
            InputKind::Key(_) => {
                level(input, said, &Said::Held, &Said::Free).or_else(|| self.misfit(name, "a key is held or free"))
            }
            InputKind::Gauge(_) => self.of_gauge(name, input, said),
            InputKind::Pace(_) => self.of_pace(name, input, said),
            InputKind::Link(_) => self.misfit(name, "a link can only be faulty; what it orders acts by itself"),
        }
    }
    fn of_gauge(&mut self, name: &Word, gauge: InputId, said: &Said) -> Option<Condition> {
        let top = match self.station.inputs.get(gauge).map(|i| &i.kind) {
            Some(InputKind::Gauge(g)) => i128::from(g.top),
            _ => return None,
        };
        // Steps beyond the range are held at its ends: such a limit is never, or always, reached.
        let hold = |steps: i128| u32::try_from(steps.clamp(0, top + 1)).unwrap_or(0);
        match said {
            Said::Above(v) => {
                let steps = self.steps(gauge, v, Side::Down)?;
                Some(Condition::AtLeast(gauge, hold(steps + 1)))
            }
            Said::Below(v) => {
                let steps = self.steps(gauge, v, Side::Up)?;
                Some(Condition::Not(Box::new(Condition::AtLeast(gauge, hold(steps)))))
            }
            Said::Between(low, high) => self.between(gauge, low, high, top),
            Said::Outside(low, high) => {
                self.between(gauge, low, high, top).map(|inside| Condition::Not(Box::new(inside)))
            }
            _ => self.misfit(name, "a gauge is above, below, between, outside or faulty"),
        }
    }
    fn between(&mut self, gauge: InputId, low: &tree::Quantity, high: &tree::Quantity, top: i128) -> Option<Condition> {
        let (least, most) = (self.steps(gauge, low, Side::Up), self.steps(gauge, high, Side::Down));
        let (least, most) = (least?, most?);
        if least > most {
            self.find(
                Finding::new(Code::BoundsReversed, "nothing lies between these bounds")
                    .at(high.place, "the upper bound")
                    .at(low.place, "the lower bound"),
            );
            return None;
        }
        let hold = |steps: i128| u32::try_from(steps.clamp(0, top + 1)).unwrap_or(0);
        let above = Condition::Not(Box::new(Condition::AtLeast(gauge, hold(most + 1))));
        Some(Condition::All(vec![Condition::AtLeast(gauge, hold(least)), above]))
    }
    fn of_pace(&mut self, name: &Word, pace: InputId, said: &Said) -> Option<Condition> {
        let still = match self.station.inputs.get(pace).map(|i| &i.kind) {
            Some(InputKind::Pace(p)) => p.still,
            _ => return None,
        };
        let moving = Condition::Faster(pace, still.saturating_add(1));
        match said {
            Said::Moving => Some(moving),
            Said::Still => Some(Condition::Not(Box::new(moving))),
            Said::Faster(v) => self.over_span(v, pace, Side::Down).map(|mm| Condition::Faster(pace, mm + 1)),
            Said::AtMost(v) => {
                self.over_span(v, pace, Side::Down).map(|mm| Condition::Not(Box::new(Condition::Faster(pace, mm + 1))))
            }
            Said::RollsBack(v) => self.over_span(v, pace, Side::Down).map(|mm| Condition::Back(pace, mm + 1)),
            _ => self.misfit(name, "a pace is still, moving, faster than, at most, rolls back faster than, or faulty"),
        }
    }
    /// Refuses to speak of bypasses outside requirements.
    pub(super) fn rule_condition(&mut self, c: &tree::Condition) -> Option<Condition> {
        let condition = self.condition(c)?;
        if speaks_of_bypass(&condition) {
            self.find(
                Finding::new(Code::NameKind, "only a requirement can speak of a bypass")
                    .at(c.place, "in this condition"),
            );
            return None;
        }
        Some(condition)
    }
    /// The lane's rope: the first declared pace.
    pub(super) fn first_pace(&self) -> Option<InputId> {
        let is_input = |k: &Kind| {
            matches!(
                k,
                Kind::Contact(_)
                    | Kind::Pair(_)
                    | Kind::Detector(_)
                    | Kind::Gauge(_)
                    | Kind::Pace(_)
                    | Kind::Link(_)
                    | Kind::Key(_)
            )
        };
        self.statements.iter().filter(|s| is_input(&s.kind)).position(|s| matches!(s.kind, Kind::Pace(_)))
    }
}

/// High or low, by the two words that fit.
fn level(input: InputId, said: &Said, high: &Said, low: &Said) -> Option<Condition> {
    if said == high {
        Some(Condition::High(input))
    } else if said == low {
        Some(Condition::Not(Box::new(Condition::High(input))))
    } else {
        None
    }
}
fn speaks_of_bypass(condition: &Condition) -> bool {
    match condition {
        Condition::Bypassed(_) => true,
        Condition::All(parts) | Condition::Any(parts) => parts.iter().any(speaks_of_bypass),
        Condition::Not(part) => speaks_of_bypass(part),
        _ => false,
    }
}
