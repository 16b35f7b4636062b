//! What a reset or a refill asks for before it acts, driven so that it just holds, or just does not.

use super::conditions::Turn;
use super::{Plan, Rate, Script};
use crate::station::{Condition, Mm, Pace, Scans};

/// How a condition is made to hold.
pub(super) enum Permission<'s> {
    /// It holds in a calm lift.
    Always,
    /// A pace runs at most so many mm in its span: the most that is allowed, and the least that is not.
    Slow { pace: &'s Pace, name: String, inside: Mm, outside: Mm },
    /// An input leaves its rest.
    Turned(Turn),
}

impl<'s> Plan<'s> {
    /// How this condition is driven; nothing if it cannot be.
    pub(super) fn permission(&self, when: &'s Condition) -> Option<Permission<'s>> {
        if self.calm.holds(when, None) {
            return Some(Permission::Always);
        }
        match when {
            Condition::Not(part) => match &**part {
                Condition::Faster(id, mm) => Some(Permission::Slow {
                    pace: self.calm.pace(*id)?,
                    name: self.named(*id).to_owned(),
                    inside: self.pulses(mm.saturating_sub(1)).1,
                    outside: self.pulses(*mm).0,
                }),
                Condition::High(input) => self.turns(*input).into_iter().next().map(Permission::Turned),
                _ => None,
            },
            Condition::High(input) => self.turns(*input).into_iter().next().map(Permission::Turned),
            // Of several parts a calm lift must lack one alone.
            Condition::All(parts) => {
                let mut lacking = parts.iter().filter(|part| !self.calm.holds(part, None));
                let part = lacking.next()?;
                lacking.next().is_none().then(|| self.permission(part)).flatten()
            }
            _ => None,
        }
    }
    /// A lift that stands, in which the permission has been known to hold for more than so many scans.
    pub(super) fn standing(&self, permission: &Permission<'_>, lasting: Scans) -> Script {
        let mut script = self.begin(None, 0);
        let settles = match permission {
            Permission::Turned(turn) => {
                turn.acts.iter().for_each(|act| script.set(*act));
                turn.there
            }
            _ => 0,
        };
        script.go(settles + lasting + 2, 0);
        script
    }
    /// Scans go by, at least so many after the permission comes to be known to hold, or not to; gives the scan in which it does.
    pub(super) fn under(
        &self,
        script: &mut Script,
        permission: &Permission<'_>,
        holds: bool,
        scans: Scans,
        rate: impl Into<Rate>,
    ) -> Scans {
        let rate = rate.into();
        match permission {
            Permission::Slow { pace, inside, outside, .. } => {
                let mm = if holds { *inside } else { *outside };
                script.align(pace.span, rate);
                if mm == 0 {
                    self.drive(script, false);
                }
                let known = script.now() + pace.span - 1;
                script.spans(scans / pace.span + 2, pace.span, i64::from(mm), self.calm.pulse);
                known
            }
            Permission::Turned(turn) => {
                if holds {
                    turn.acts.iter().for_each(|act| script.set(*act));
                }
                let known = script.now() + turn.there;
                script.go(turn.there + scans, rate);
                known
            }
            Permission::Always => {
                script.go(scans, rate);
                script.now() - scans
            }
        }
    }
}

impl Permission<'_> {
    /// It can be driven not to hold.
    pub(super) fn can_lack(&self) -> bool {
        !matches!(self, Self::Always)
    }
    /// In words.
    pub(super) fn told(&self, holds: bool) -> String {
        match self {
            Self::Always => "the lift is calm".to_owned(),
            Self::Slow { name, inside, outside, .. } => {
                format!("{name} runs {} mm in a span", if holds { inside } else { outside })
            }
            Self::Turned(turn) if holds => turn.what.clone(),
            Self::Turned(turn) => format!("not yet: {}", turn.what),
        }
    }
}
