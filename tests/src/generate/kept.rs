//! Requirements that the rules of a random station may well keep: one for each guard, measurement,
//! confirm and travel in rope.

use host_tools::station::{
    Condition, Form, InputKind, Lasting, Measured, Rank, Requirement, Settle, Station, Watch, WatchKind,
};

use super::Case;
use super::inputs::name;
use super::requirements::{slowest, speaks_of_faults};

/// Scans until the answer is due.
const WITHIN: u32 = 8;

impl Case {
    /// The same station with the first so many of its requirements, and one for each watch that can be asked for. Nothing is
    /// assumed: random assumptions contradict each other, and from that anything follows.
    #[must_use]
    pub fn asked_for(mut self, others: usize) -> Self {
        let station = &self.station;
        let mut all = station.requirements.clone();
        all.truncate(others);
        for (i, watch) in station.watches.iter().enumerate().filter(|(_, watch)| watch.modes.is_empty()) {
            let Some((form, least)) = form(station, watch) else { continue };
            let masks: Vec<Condition> = (0..station.bypasses.len())
                .filter(|&bypass| station.bypasses[bypass].of.contains(&i))
                .map(Condition::Bypassed)
                .collect();
            let unless = if masks.len() > 1 { Some(Condition::Any(masks)) } else { masks.into_iter().next() };
            let within_us = (WITHIN + 2) * station.scan_us + slowest(station, least);
            all.push(Requirement {
                name: name(format!("K{i}")),
                title: format!("what {} is for", watch.name.text),
                hazards: Vec::new(),
                // Every other one sets aside the bounces that the rules let settle.
                bounces: if i % 2 == 1 { settles_alike(station, watch).unwrap_or(0) } else { 0 },
                form,
                unless,
                need_not_arise: None,
                answers: Vec::new(),
                within_us,
            });
        }
        for form in after_stops(station) {
            all.push(Requirement {
                name: name(format!("A{}", all.len())),
                title: "what may follow a stop".to_owned(),
                hazards: Vec::new(),
                form,
                unless: None,
                bounces: 0,
                need_not_arise: None,
                answers: Vec::new(),
                within_us: 0,
            });
        }
        self.station.requirements = all;
        self.station.assumptions.clear();
        self
    }
}

/// What the reset and the start permit wait for, as the rules have it.
fn after_stops(station: &Station) -> Vec<Form> {
    let mut all = Vec::new();
    if let Some(reset) = station.reset.as_ref().filter(|reset| !speaks_of_faults(station, &reset.when)) {
        all.push(Form::NeverReleasedBut { condition: reset.when.clone(), lasting: reset.lasting });
    }
    if station.restart > 0 {
        all.push(Form::NeverPermitted { pause: station.restart });
    }
    all
}

fn settles(station: &Station, input: usize) -> Option<Settle> {
    match &station.inputs[input].kind {
        InputKind::Contact(c) => Some(c.settle),
        InputKind::Pair(p) => Some(p.settle),
        InputKind::Detector(d) => Some(d.settle),
        InputKind::Key(k) => Some(k.settle),
        InputKind::Gauge(_) | InputKind::Pace(_) | InputKind::Link(_) => None,
    }
}

/// Scans by which all inputs of a watch settle, either way.
fn settles_alike(station: &Station, watch: &Watch) -> Option<u32> {
    let mut all = watch.kind.inputs().into_iter().filter_map(|input| settles(station, input));
    let first = all.next().filter(|settle| settle.up == settle.down)?;
    all.all(|settle| settle == first).then_some(first.up)
}

/// Scans that the slowest input of a condition settles.
fn slowest_input(station: &Station, condition: &Condition) -> u32 {
    let all = condition.inputs().into_iter().filter_map(|input| settles(station, input));
    all.map(|settle| settle.up.max(settle.down)).max().unwrap_or(0)
}

fn form(station: &Station, watch: &Watch) -> Option<(Form, Rank)> {
    let within = WITHIN;
    match &watch.kind {
        WatchKind::Guard(guard) => {
            let Lasting::Unbroken(hold) = guard.lasting else { return None };
            let (condition, least, lasting) =
                (guard.when.clone(), guard.answer, hold + slowest_input(station, &guard.when));
            let seen = !speaks_of_faults(station, &condition);
            seen.then_some((Form::Whenever { condition, lasting, least, within }, least))
        }
        WatchKind::Measure(measure) => {
            let InputKind::Detector(detector) = &station.inputs[measure.detector].kind else { return None };
            let form = Form::WhenRises {
                detector: measure.detector,
                when: measure.when,
                lasting: 0,
                gauge: measure.gauge,
                lowest: measure.least,
                highest: measure.most,
                least: measure.answer,
                within,
            };
            (detector.settle.up == 0).then_some((form, measure.answer))
        }
        WatchKind::Travel(travel) => {
            let Measured::Rope(pace) = travel.measured else { return None };
            let InputKind::Pace(scale) = &station.inputs[pace].kind else { return None };
            let least = [travel.early, travel.late, travel.stray].into_iter().min()?;
            let slack = 2 * scale.top_scan;
            let form = Form::After {
                from: travel.from,
                to: travel.to,
                measured: travel.measured,
                earliest: travel.earliest.saturating_sub(slack),
                latest: travel.latest + slack,
                capacity: travel.capacity,
                least,
                within,
            };
            Some((form, least))
        }
        WatchKind::Confirm(confirm) if !speaks_of_faults(station, &confirm.see) => {
            let form = Form::Effect {
                after: confirm.after,
                lasting: confirm.within + slowest_input(station, &confirm.see),
                condition: confirm.see.clone(),
                slower: confirm.slower,
                least: confirm.answer,
                within,
            };
            Some((form, confirm.answer))
        }
        _ => None,
    }
}
