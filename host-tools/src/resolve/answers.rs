//! Modes, outputs, slow orders and stops.

use super::context::{Cx, Wire};
use super::inputs::name;
use super::names::Sort;
use super::units::Side;
use crate::station::{Mode, Output, Slow, Stop, Then};
use crate::text::tree;

impl Cx {
    /// Takes an output's terminals; gives the channel of its read-back.
    pub(super) fn wire_output(&mut self, o: &tree::Output) -> Option<usize> {
        self.terminal(&o.terminal, Wire::Output);
        o.read_back.as_ref().map(|(terminal, _)| self.terminal(terminal, Wire::Channel))
    }
    /// A mode.
    pub(super) fn mode(&mut self, m: &tree::Mode) -> Option<Mode> {
        let key = self.one(&m.key, Sort::Key);
        let at_most = match &m.at_most {
            None => Some(None),
            Some((pace, limit)) => self
                .one(pace, Sort::Pace)
                .and_then(|pace| Some(Some((pace, self.in_span(limit, pace, Side::Allowed)?)))),
        };
        Some(Mode { name: name(&m.name), key: key?, at_most: at_most? })
    }
    /// An output.
    pub(super) fn output(&mut self, o: &tree::Output, channel: Option<usize>) -> Option<Output> {
        let off = self.us(&o.off_within, Side::PlantMost);
        let read_back = match (&o.read_back, channel) {
            (Some((_, within)), Some(channel)) => self.scans(within, Side::Trip).map(|scans| Some((channel, scans))),
            _ => Some(None),
        };
        // Named only here, an output is still not used.
        let not_together = self.many(&o.not_together, &[Sort::Output]);
        Some(Output {
            name: name(&o.name),
            terminal: o.terminal.value.clone(),
            off_within_us: off?,
            read_back: read_back?,
            not_together: not_together?,
        })
    }
    /// A slow order.
    pub(super) fn slow_order(&mut self, s: &tree::Slow) -> Option<Slow> {
        let pace = self.one(&s.pace, Sort::Pace);
        let cap = pace.and_then(|pace| self.in_span(&s.down_to, pace, Side::Allowed));
        let within = self.scans(&s.within, Side::Trip);
        Some(Slow { name: name(&s.name), pace: pace?, down_to: cap?, within: within? })
    }
    /// A stop.
    pub(super) fn stop_order(&mut self, s: &tree::Stop) -> Option<Stop> {
        // Which categories there are is for `check` to say.
        let category = u8::try_from(s.category.value).unwrap_or(u8::MAX);
        let releases = self.many(&s.releases, &[Sort::Output]);
        let then = match &s.then {
            None => Some(None),
            Some(then) => {
                let outputs = self.many(&then.outputs, &[Sort::Output]);
                let pace = self.one(&then.pace, Sort::Pace);
                let latest = self.scans(&then.latest, Side::Trip);
                outputs.zip(pace).zip(latest).map(|((outputs, pace), latest)| Some(Then { outputs, pace, latest }))
            }
        };
        let bites = self.us(&s.bites, Side::PlantMost);
        let least = self.deceleration(&s.slows.0, Side::PlantLeast);
        let most = self.deceleration(&s.slows.1, Side::PlantMost);
        let standstill = match &s.standstill {
            None => Some(None),
            Some(guard) => self.one(guard, Sort::Guard).map(Some),
        };
        let (least, most) = (least?, most?);
        self.ordered(&s.slows.0, &s.slows.1)?;
        if least == 0 {
            self.zero(s.slows.0.place, "less than 1 mm/s2");
            return None;
        }
        Some(Stop {
            name: name(&s.name),
            category,
            for_emergencies: s.for_emergencies.is_some(),
            releases: releases?,
            then: then?,
            bites_us: bites?,
            slows: (least, most),
            standstill: standstill?,
        })
    }
}
