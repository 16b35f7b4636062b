//! What changes beside the stops: slow orders, the mode, bypasses, requirements and assumptions.

use std::io;

use super::{Scene, bit};
use crate::replay::Sink;
use crate::replay::event::What;
use crate::replay::overdue::Waited;
use crate::sample::Sample;
use crate::station::InputKind;
use crate::told::Scanned;

impl Scene<'_> {
    pub(super) fn slow_orders(&mut self, scanned: &Scanned, sink: &mut dyn Sink) -> io::Result<()> {
        let mask = (1_u64 << u32::from(self.station.first_stop()).min(63)) - 1;
        let now = scanned.stands & mask & !1;
        if now == self.slows {
            return Ok(());
        }
        let before = std::mem::replace(&mut self.slows, now);
        for rank in 1..self.station.first_stop() {
            let answer = || self.station.answer(rank).to_owned();
            match (bit(before, usize::from(rank)), bit(now, usize::from(rank))) {
                (false, true) => {
                    let causes = scanned
                        .trips
                        .iter()
                        .filter_map(|w| self.ways.get(usize::from(*w)).map(|way| (usize::from(*w), *way)))
                        .filter(|(_, way)| way.answer == rank)
                        .map(|(index, way)| self.cause(index, way, scanned))
                        .collect();
                    self.tell(What::Slow { answer: answer(), causes }, sink)?;
                }
                (true, false) => self.tell(What::SlowEnds { answer: answer() }, sink)?,
                _ => {}
            }
        }
        Ok(())
    }

    /// The mode whose key alone is held; between two of them nothing is told.
    pub(super) fn mode(&mut self, sample: &Sample, sink: &mut dyn Sink) -> io::Result<()> {
        let high = |channel: usize| sample.channels.get(channel).copied().unwrap_or(false);
        let mut selected = None;
        for (i, mode) in self.station.modes.iter().enumerate() {
            let held = match self.station.inputs.get(mode.key).map(|k| &k.kind) {
                Some(InputKind::Key(k)) => high(k.channels.0) && k.channels.1.is_none_or(high),
                _ => false,
            };
            if held && selected.replace(i).is_some() {
                return Ok(());
            }
        }
        if selected.is_some() && selected != self.mode {
            self.mode = selected;
            let name = selected.and_then(|i| self.station.modes.get(i));
            let mode = name.map_or_else(String::new, |m| m.name.text.clone());
            self.tell(What::Mode { mode }, sink)?;
        }
        Ok(())
    }

    pub(super) fn bypasses(&mut self, scanned: &Scanned, sink: &mut dyn Sink) -> io::Result<()> {
        if scanned.active == self.active {
            return Ok(());
        }
        let before = std::mem::replace(&mut self.active, scanned.active);
        for (i, bypass) in self.station.bypasses.iter().enumerate() {
            let name = || bypass.name.text.clone();
            match (bit(before, i), bit(scanned.active, i)) {
                (false, true) => {
                    if let Some(since) = self.active_since.get_mut(i) {
                        *since = self.at_us;
                    }
                    if let Some(register) = self.sums.bypasses.get_mut(i) {
                        register.uses += 1;
                    }
                    self.tell(What::Bypass { bypass: name() }, sink)?;
                }
                (true, false) => {
                    let lasted_us = self.end_bypass(i);
                    self.tell(What::BypassEnds { bypass: name(), lasted_us }, sink)?;
                }
                _ => {}
            }
        }
        Ok(())
    }

    /// Nobody sees how bypasses that are active go on.
    pub(super) fn bypasses_end(&mut self, sink: &mut dyn Sink) -> io::Result<()> {
        for (i, bypass) in self.station.bypasses.iter().enumerate() {
            if bit(self.active, i) {
                let lasted_us = self.end_bypass(i);
                self.tell(What::BypassEnds { bypass: bypass.name.text.clone(), lasted_us }, sink)?;
            }
        }
        self.active = 0;
        Ok(())
    }

    pub(super) fn end_bypass(&mut self, index: usize) -> u64 {
        let since = self.active_since.get(index).copied().unwrap_or(self.at_us);
        let lasted_us = self.at_us.saturating_sub(since);
        if let Some(register) = self.sums.bypasses.get_mut(index) {
            register.lasted += i64::try_from(lasted_us).unwrap_or(i64::MAX);
        }
        lasted_us
    }

    pub(super) fn requirements(&mut self, scanned: &Scanned, sink: &mut dyn Sink) -> io::Result<()> {
        let counts = !self.is_counterfactual();
        for waited in self.overdue.scan(self.number, scanned.answer, &scanned.missed) {
            self.waited(waited, "condition", sink)?;
        }
        for &(index, delay) in &scanned.met {
            let delay_us = u64::from(delay) * u64::from(self.station.scan_us);
            if let Some(sums) = self.sums.requirements.get_mut(usize::from(index))
                && counts
            {
                sums.met += 1;
                sums.longest_us = sums.longest_us.max(Some(delay_us));
            }
            let requirement = self.requirement(index).0;
            self.tell(What::Met { requirement, delay_us }, sink)?;
        }
        for &index in &scanned.missed {
            if !self.overdue.misses(index, self.number, !counts) {
                continue;
            }
            if let Some(sums) = self.sums.requirements.get_mut(usize::from(index))
                && counts
            {
                sums.missed += 1;
            }
            let (requirement, title) = self.requirement(index);
            self.tell(What::Missed { requirement, title }, sink)?;
        }
        for &index in &scanned.broken {
            if let Some(sums) = self.sums.assumptions.get_mut(usize::from(index))
                && counts
            {
                sums.broken += 1;
            }
            let of = self.station.assumptions.get(usize::from(index));
            let (assumption, title) = of.map_or_else(Default::default, |a| (a.name.text.clone(), a.title.clone()));
            self.tell(What::Broken { assumption, title }, sink)?;
        }
        Ok(())
    }

    /// Nobody waits any longer for answers that are overdue.
    pub(in crate::replay) fn unanswered(&mut self, by: &'static str, sink: &mut dyn Sink) -> io::Result<()> {
        for waited in self.overdue.end(self.number) {
            self.waited(waited, by, sink)?;
        }
        Ok(())
    }

    fn waited(&mut self, waited: Waited, by: &'static str, sink: &mut dyn Sink) -> io::Result<()> {
        let late_us = waited.scans * u64::from(self.station.scan_us);
        if let Some(sums) = self.sums.requirements.get_mut(usize::from(waited.requirement))
            && !waited.counterfactual
        {
            if waited.answered {
                sums.latest_us = sums.latest_us.max(Some(late_us));
            } else {
                sums.unanswered += 1;
            }
        }
        // It was missed in this very scan, and that has been told.
        if late_us == 0 {
            return Ok(());
        }
        let requirement = self.requirement(waited.requirement).0;
        let what = if waited.answered {
            What::Answered { requirement, late_us }
        } else {
            What::Unanswered { requirement, late_us, by }
        };
        self.tell(what, sink)
    }

    pub(super) fn requirement(&self, index: u16) -> (String, String) {
        let of = self.station.requirements.get(usize::from(index));
        of.map_or_else(Default::default, |r| (r.name.text.clone(), r.title.clone()))
    }
}
