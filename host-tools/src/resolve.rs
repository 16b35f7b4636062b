//! From the syntax tree to the resolved station: names, kinds, units, rounding and numbers.
//!
//! Everything that can be judged is judged in one go: a part that fails is left out, what depends on
//! it alone is passed over in silence, and the rest is looked at all the same.

#![allow(
    clippy::option_option,
    reason = "a clause that may be left out, and one that could not be read, are two things"
)]

use crate::station::{Hazard, Station};
use crate::text::codes::Code;
use crate::text::finding::{Finding, Level};
use crate::text::place::Place;
use crate::text::tree::{self, Dimension, File, Kind, Quantity, Statement};

mod answers;
mod conditions;
mod context;
mod exact;
mod gauges;
mod groups;
mod inputs;
mod lane;
mod names;
mod rules;
mod units;
mod watches;

#[cfg(test)]
mod tests;

use context::Cx;
use groups::Groups;
use names::Sort;
use rules::Plant;
use units::{Side, text};

/// Resolves the files of one reading. There is no station if any finding is an error.
pub fn resolve(files: &[File]) -> (Option<Station>, Vec<Finding>) {
    let mut cx = Cx::new(10_000);
    let groups = Groups::of(files, &mut cx);
    cx.slows = groups.slows.len();
    if let Some(scan) = groups.scan.and_then(|q| cx.scan_length(q)) {
        cx.scan = scan;
    }
    let station = cx.station(&groups);
    if let Some(station) = &station {
        let ways = crate::station::ways::ways(station).len();
        if ways > 4_096 {
            cx.crowded("ways to trip", ways, 4_096, groups.first);
        }
    }
    let failed = cx.findings.iter().any(|finding| finding.level == Level::Error);
    (station.filter(|_| !failed), cx.findings)
}

/// All parts, or nothing if one of them failed; every part has been looked at by then.
fn whole<T>(parts: Vec<Option<T>>) -> Option<Vec<T>> {
    parts.into_iter().collect()
}

impl Cx {
    /// Microseconds of a scan.
    fn scan_length(&mut self, q: &Quantity) -> Option<i128> {
        let time = self.positive(q, Dimension::Time)?;
        let us = time.floor();
        if !time.is_whole() || !(1_000..=1_000_000).contains(&us) {
            let finding = Finding::new(Code::NumberSenseless, format!("a scan of {} cannot be kept", text(q)))
                .at(q.place, "whole microseconds, from 1 ms to 1 s")
                .help("10 ms to 50 ms are usual");
            self.findings.push(finding);
            return None;
        }
        Some(us)
    }
    fn station(&mut self, groups: &Groups<'_>) -> Option<Station> {
        let worst = u8::try_from(groups.slows.len() + groups.stops.len()).unwrap_or(u8::MAX);
        self.on_fault = match groups.on_fault {
            Some(word) => self.stop(word).unwrap_or(worst),
            None => worst,
        };
        // Terminals are numbered in order of declaration; paces and gauges come first, since other limits are told in them.
        let (mut wires, mut backs) = (Vec::new(), Vec::new());
        for kind in &groups.wired {
            match kind {
                Kind::Output(output) => {
                    let back = self.wire_output(output);
                    if back.is_none() {
                        self.unread.insert(backs.len());
                    }
                    backs.push(back);
                }
                _ => wires.push(self.wire(kind)),
            }
        }
        let mut inputs: Vec<_> = groups.inputs.iter().map(|_| None).collect();
        let early = |kind: &Kind| matches!(kind, Kind::Pace(_) | Kind::Gauge(_));
        for first in [true, false] {
            for (id, (kind, (cell, taken))) in groups.inputs.iter().zip(inputs.iter_mut().zip(&wires)).enumerate() {
                if early(kind) == first {
                    *cell = self.input(kind, id, *taken);
                }
            }
        }
        self.capacities(groups);
        let modes: Vec<_> = groups.modes.iter().map(|m| self.mode(m)).collect();
        let outputs: Vec<_> = groups.outputs.iter().zip(backs).map(|(o, back)| self.output(o, back)).collect();
        let slows: Vec<_> = groups.slows.iter().map(|s| self.slow_order(s)).collect();
        let stops: Vec<_> = groups.stops.iter().map(|s| self.stop_order(s)).collect();
        let watches: Vec<_> = groups.watches.iter().map(|w| self.watch(w)).collect();
        let reset = groups.reset.map(|r| self.reset(r));
        let restart = self.optional(groups.restart, |cx, q| cx.scans(q, Side::Permission));
        let refills: Vec<_> = groups.refills.iter().map(|(r, place)| self.refill(r, *place)).collect();
        let bypasses: Vec<_> = groups.bypasses.iter().map(|b| self.bypass(b)).collect();
        let plant = Plant { outputs: &outputs, stops: &stops };
        let requirements: Vec<_> = groups.requirements.iter().map(|r| self.requirement(r, plant)).collect();
        let assumptions: Vec<_> = groups.assumptions.iter().map(|a| self.assumption(a)).collect();
        let lane = groups.lane.map(|l| self.lane(l));
        if let Some(lane) = groups.lane {
            self.paced(lane, groups);
        }
        if let Some(Some(lane)) = &lane {
            self.on_the_lane(lane, groups.lane, &inputs);
        }
        let inputs = whole(inputs)?.into_iter().map(|(name, kind)| crate::station::Input { name, kind }).collect();
        let hazards = groups
            .hazards
            .iter()
            .map(|(word, title)| Hazard { name: inputs::name(word), title: title.value.clone() })
            .collect();
        let entries = groups.entries.iter().map(|(word, excuse)| rules::entry(word, excuse)).collect();
        let temporary = self.temporary(groups.revision?.temporary.as_ref());
        Some(Station {
            title: groups.title?.value.clone(),
            revision: groups.revision?.number.value,
            temporary,
            scan_us: u32::try_from(self.scan).ok()?,
            on_fault: self.on_fault,
            modes: whole(modes)?,
            outputs: whole(outputs)?,
            slows: whole(slows)?,
            stops: whole(stops)?,
            inputs,
            channels: self.channels.clone(),
            gauge_terminals: self.gauge_terminals.clone(),
            sources: self.sources.clone(),
            link_terminals: self.link_terminals.clone(),
            watches: whole(watches)?,
            reset: reset.map_or(Some(None), |r| r.map(Some))?,
            restart: restart?.unwrap_or(0),
            refills: whole(refills)?,
            bypasses: whole(bypasses)?,
            hazards,
            requirements: whole(requirements)?,
            entries,
            assumptions: whole(assumptions)?,
            lane: lane.map_or(Some(None), |l| l.map(Some))?,
        })
    }
    /// Refuses more than the controller holds.
    fn capacities(&mut self, groups: &Groups<'_>) {
        let counts = [
            ("channels", self.channels.len(), 1_024, None),
            ("modes", groups.modes.len(), 32, groups.modes.last().map(|m| m.name.place)),
            ("bypasses", groups.bypasses.len(), 16, groups.bypasses.last().map(|b| b.name.place)),
            ("outputs", groups.outputs.len(), 32, groups.outputs.last().map(|o| o.name.place)),
            ("answers", groups.slows.len() + groups.stops.len(), 60, groups.stops.last().map(|s| s.name.place)),
        ];
        for (what, count, most, place) in counts {
            if count > most {
                self.crowded(what, count, most, place.or(groups.first));
            }
        }
    }
    fn crowded(&mut self, what: &str, count: usize, most: usize, place: Option<Place>) {
        let finding = Finding::new(Code::TooLarge, format!("{count} {what} are more than the controller holds"))
            .at(place.unwrap_or_default(), format!("at most {most} {what}"))
            .help("divide the station between two controllers, or combine what belongs together");
        self.findings.push(finding);
    }
}

/// Where something that is missing is told: the first statement of the reading.
fn beginning(files: &[File]) -> Option<Place> {
    files.iter().flat_map(|file| &file.statements).map(|statement: &Statement| statement.place).next()
}

/// What a statement declares.
fn declared(kind: &Kind) -> Option<(&tree::Word, Sort)> {
    Some(match kind {
        Kind::Mode(m) => (&m.name, Sort::Mode),
        Kind::Output(o) => (&o.name, Sort::Output),
        Kind::Slow(s) => (&s.name, Sort::Slow),
        Kind::Stop(s) => (&s.name, Sort::Stop),
        Kind::Contact(c) => (&c.name, Sort::Contact),
        Kind::Pair(p) => (&p.name, Sort::Pair),
        Kind::Detector(d) => (&d.name, Sort::Detector),
        Kind::Gauge(g) => (&g.name, Sort::Gauge),
        Kind::Pace(p) => (&p.name, Sort::Pace),
        Kind::Link(l) => (&l.name, Sort::Link),
        Kind::Key(k) => (&k.name, Sort::Key),
        Kind::Watch(w) => (&w.name, watch_sort(&w.kind)),
        Kind::Bypass(b) => (&b.name, Sort::Bypass),
        Kind::Hazard(h, _) => (h, Sort::Hazard),
        Kind::Require(r) => (&r.name, Sort::Requirement),
        Kind::Assume(a) => (&a.name, Sort::Assumption),
        Kind::Lane(l) => (&l.name, Sort::Lane),
        _ => return None,
    })
}

fn watch_sort(kind: &tree::WatchKind) -> Sort {
    match kind {
        tree::WatchKind::Guard { .. } => Sort::Guard,
        tree::WatchKind::Travel { .. } => Sort::Travel,
        tree::WatchKind::Measure { .. } => Sort::Measure,
        tree::WatchKind::Spacing { .. } => Sort::Spacing,
        tree::WatchKind::Agree { .. } => Sort::Agree,
        tree::WatchKind::Confirm { .. } => Sort::Confirm,
        tree::WatchKind::Exercise { .. } => Sort::Exercise,
        tree::WatchKind::Count { .. } => Sort::Count,
    }
}
