//! Sees, scan by scan, when requirements arise, and what stands around them as they do.

use super::{Asked, Concession};
use crate::monitor::{MonitorPlan, Monitors};
use crate::refute::Watch;
use crate::sample::Sample;
use crate::station::ways::{Source, WayOf, ways};
use crate::station::{Condition, Form, InputId, InputKind, Observed, Requirement, Scans, Station};
use crate::told::Scanned;
use logic_rules::plan::Plan;
use std::collections::BTreeSet;

/// The station with its requirements as questions: each is missed in the scans in which it asks. An answer is asked for that
/// nothing gives, at once, so that no answer hides the question; what lasts is counted here, from its first scan.
pub(super) fn asking(station: &Station) -> Station {
    let mut questions = station.clone();
    let beyond = station.worst().saturating_add(1);
    for requirement in &mut questions.requirements {
        match &mut requirement.form {
            // An event: the first one of a history asks.
            Form::Whenever {
                condition:
                    Condition::Observed(
                        Observed::Closer(..)
                        | Observed::Farther(..)
                        | Observed::Pressed(..)
                        | Observed::Leaping(..)
                        | Observed::Miscounting(_)
                        | Observed::Stray(_)
                        | Observed::Crowded(..),
                    ),
                lasting,
                least,
                within,
            } => (*lasting, *least, *within) = (0, beyond, 0),
            Form::Whenever { condition, .. } | Form::Never { condition, .. } => {
                requirement.form = Form::Never { condition: condition.clone(), least: beyond };
            }
            Form::WhenRises { least, within, .. }
            | Form::After { least, within, .. }
            | Form::Effect { least, within, .. } => {
                (*least, *within) = (beyond, 0);
            }
            // Assumptions are kept here, so it never asks.
            Form::Held { least, .. } => *least = beyond,
            // Always, but where it is excused: the rest is seen in the verdict.
            Form::NeverReleased { .. }
            | Form::NeverReleasedBut { .. }
            | Form::NeverPermitted { .. }
            | Form::NeverTogether(..) => {
                requirement.form = Form::Never { condition: Condition::All(Vec::new()), least: beyond };
            }
        }
    }
    questions
}

/// Scans after a stop in which a carrier may still come to the end of its window.
const AFTER: Scans = 1_000;

/// Millimetres that the rope of a trial runs in a scan at least, while a distance is waited for.
const SLOWEST: Scans = 20;

/// It arises as a stop goes, or once one is gone.
fn is_release(form: &Form) -> bool {
    matches!(form, Form::NeverReleased { .. } | Form::NeverReleasedBut { .. } | Form::NeverPermitted { .. })
}

/// What does not change from scan to scan.
pub(super) struct Facts<'s> {
    pub(super) station: &'s Station,
    ways: Vec<WayOf>,
    /// Inputs of each requirement.
    inputs: Vec<BTreeSet<InputId>>,
    passenger: Option<usize>,
    /// Source of the rope, and the scans of its span.
    rope: Option<(usize, Scans)>,
}

impl<'s> Facts<'s> {
    pub(super) fn new(station: &'s Station) -> Self {
        let rope = station.inputs.iter().find_map(|input| match &input.kind {
            InputKind::Pace(p) => Some((p.source, p.span)),
            _ => None,
        });
        Self {
            station,
            ways: ways(station),
            inputs: station.requirements.iter().map(Requirement::inputs).collect(),
            passenger: station.passenger_mode(),
            rope,
        }
    }
    /// No search can come to less: what was given up is what the requirement itself speaks of.
    pub(super) fn is_enough(&self, requirement: usize, asked: &Asked) -> bool {
        let Some(it) = self.station.requirements.get(requirement) else { return true };
        let released = is_release(&it.form);
        let speaks_of_key = |mode: usize| {
            let key = self.station.modes.get(mode).map(|mode| mode.key);
            self.inputs.get(requirement).zip(key).is_some_and(|(inputs, key)| inputs.contains(&key))
        };
        let bypasses = it.bypasses();
        asked.concessions.iter().all(|concession| match concession {
            Concession::Bypass(bypass) => bypasses.contains(bypass),
            // A bypass works in its own modes only.
            Concession::Mode(mode) => {
                let of_bypass = |&b: &usize| self.station.bypasses.get(b).is_some_and(|b| b.modes.contains(mode));
                bypasses.iter().any(of_bypass) || speaks_of_key(*mode)
            }
            Concession::Standstill | Concession::Stopped => released,
            Concession::NoMode | Concession::Also(_) => false,
        })
    }
    /// The way reads what the requirement asks about: it is its answer, not something else.
    fn answers(&self, requirement: usize, way: u16) -> bool {
        let (Some(inputs), Some(way)) = (self.inputs.get(requirement), self.ways.get(usize::from(way))) else {
            return false;
        };
        let station = self.station;
        match way.source {
            Source::PowerUp | Source::Modes | Source::Output(_) => false,
            Source::Mode(mode) => {
                station.modes.get(mode).and_then(|m| m.at_most).is_some_and(|(pace, _)| inputs.contains(&pace))
            }
            Source::Slow(slow) => station.slows.get(slow).is_some_and(|slow| inputs.contains(&slow.pace)),
            Source::Input(input) => inputs.contains(&input),
            Source::Watch(watch) => {
                station.watches.get(watch).is_some_and(|w| w.kind.inputs().iter().any(|i| inputs.contains(i)))
            }
        }
    }
    /// The one mode whose key is held, of both of its channels.
    fn mode(&self, sample: &Sample) -> Option<usize> {
        let high = |channel: &usize| sample.channels.get(*channel).copied().unwrap_or(false);
        let keys = self.station.modes.iter().map(|mode| self.station.channels_of(mode.key));
        let mut held = keys.enumerate().filter(|(_, channels)| channels.iter().any(high));
        let (mode, channels) = held.next()?;
        (held.next().is_none() && channels.iter().all(high)).then_some(mode)
    }
}

/// Looks at every scan from power-up on.
#[derive(Clone)]
pub(super) struct Eye<'p> {
    facts: &'p Facts<'p>,
    monitors: Monitors<'p>,
    scratch: Scanned,
    /// Scans seen.
    scan: u64,
    /// Since when a stop has stood, counting scans from 1, and the ways to a stop that have tripped since; 0 at power-up.
    stopped: Option<u64>,
    tripped: BTreeSet<u16>,
    /// Scans since the rope last moved, and the last scan in which it had not for a whole span.
    rested: u64,
    stood_still: Option<u64>,
    /// The mode, and since when.
    mode: (Option<usize>, u64),
    active: u64,
    high: Vec<bool>,
    asks: Vec<Asks>,
    /// An assumption was broken: nothing is seen from then on.
    broken: bool,
    /// What the trial is made for, and the scans after a stop for which it goes on.
    wanted: Option<(usize, u64)>,
}

/// What is known of one requirement.
#[derive(Clone, Default)]
struct Asks {
    /// Scans in a row in which its condition held.
    held: u64,
    /// When a carrier last started on its stretch.
    start: u64,
    best: Option<Asked>,
    /// A start was permitted in the scan before.
    permitted: bool,
}

impl<'p> Eye<'p> {
    /// Before power-up; `None` only if the plan does not fit its own needs.
    pub(super) fn open(
        facts: &'p Facts<'p>,
        questions: &'p Station,
        monitors: &'p MonitorPlan,
        raw: &'p Plan<'p>,
    ) -> Option<Self> {
        Some(Self {
            facts,
            monitors: Monitors::start(questions, monitors, raw)?,
            scratch: Scanned::default(),
            scan: 0,
            stopped: Some(0),
            tripped: BTreeSet::new(),
            rested: u64::MAX,
            stood_still: None,
            mode: (None, 0),
            active: 0,
            high: Vec::new(),
            asks: vec![Asks::default(); questions.requirements.len()],
            broken: false,
            wanted: None,
        })
    }
    /// The trial is made for this requirement.
    pub(super) fn waits_for(&mut self, requirement: usize) {
        let patience = match self.facts.station.requirements.get(requirement).map(|r| &r.form) {
            // What the rules count to as well is answered before it is asked in full.
            Some(Form::Whenever { condition: Condition::Observed(Observed::Farther(_, _, mm)), .. }) => mm / SLOWEST,
            Some(Form::Whenever { condition: Condition::Observed(Observed::Changing(..)), lasting, .. }) => {
                lasting.saturating_add(1_000_000 / self.facts.station.scan_us.max(1))
            }
            Some(Form::Whenever { lasting, .. } | Form::Effect { lasting, .. } | Form::WhenRises { lasting, .. }) => {
                *lasting
            }
            Some(form) if is_release(form) => u32::MAX,
            // The rules may answer long before the end of its window.
            Some(Form::After { .. }) => AFTER,
            _ => 0,
        };
        let span = self.facts.rope.map_or(0, |(_, span)| span);
        self.wanted = Some((requirement, u64::from(patience) + 2 * u64::from(span)));
    }
    /// The best that was seen of a requirement.
    pub(super) fn seen(&self, requirement: usize) -> Option<&Asked> {
        self.asks.get(requirement).and_then(|asks| asks.best.as_ref())
    }
    /// Looks at a scan.
    pub(super) fn look(&mut self, sample: &Sample, told: &Scanned) {
        (self.scratch.answer, self.scratch.off, self.scratch.active) = (told.answer, told.off, told.active);
        self.monitors.scan(sample, &mut self.scratch);
        let (now, stood) = (self.scan, self.stopped);
        self.scan += 1;
        self.broken |= !self.scratch.broken.is_empty();
        if self.broken {
            return;
        }
        self.surroundings(now, sample, told);
        for requirement in 0..self.asks.len() {
            self.requirement(requirement, now, sample, told, stood);
        }
        self.active = told.active;
        self.high.clone_from(&sample.channels);
    }
    fn surroundings(&mut self, now: u64, sample: &Sample, told: &Scanned) {
        let first_stop = self.facts.station.first_stop();
        if told.answer < first_stop {
            self.stopped = None;
            self.tripped.clear();
        } else {
            self.stopped = self.stopped.or(Some(now + 1));
            let to_stop = |way: &&u16| self.facts.ways.get(usize::from(**way)).is_some_and(|w| w.answer >= first_stop);
            self.tripped.extend(told.trips.iter().filter(to_stop));
        }
        if let Some((source, span)) = self.facts.rope {
            let moves = sample.travel.get(source).is_some_and(|mm| *mm != 0);
            self.rested = if moves { 0 } else { self.rested.saturating_add(1) };
            if self.rested >= u64::from(span) {
                self.stood_still = Some(now);
            }
        }
        let mode = self.facts.mode(sample);
        if mode != self.mode.0 || now == 0 {
            self.mode = (mode, now);
        }
    }
    fn requirement(&mut self, requirement: usize, now: u64, sample: &Sample, told: &Scanned, stood: Option<u64>) {
        let asked = self.scratch.missed.iter().any(|missed| usize::from(*missed) == requirement);
        let Some(form) = self.facts.station.requirements.get(requirement).map(|r| &r.form) else { return };
        let Some(asks) = self.asks.get_mut(requirement) else { return };
        asks.held = if asked { asks.held + 1 } else { 0 };
        // When it began to ask, if it is complete in this scan.
        let began = match form {
            Form::Whenever { lasting, .. } => (asks.held > u64::from(*lasting)).then(|| now - u64::from(*lasting)),
            Form::Effect { lasting, .. } => asked.then(|| now.saturating_sub(u64::from(*lasting))),
            Form::WhenRises { lasting, .. } => asked.then(|| now.saturating_sub(u64::from(*lasting))),
            Form::Never { .. } | Form::Held { .. } => asked.then_some(now),
            Form::After { from, .. } => {
                let began = asked.then_some(asks.start);
                let rises = |channel: &usize| {
                    let level = |levels: &[bool]| levels.get(*channel).copied().unwrap_or(false);
                    level(&sample.channels) && !level(&self.high)
                };
                if self.facts.station.channels_of(*from).iter().any(rises) {
                    asks.start = now;
                }
                began
            }
            // The permit of the first start after a stop.
            Form::NeverPermitted { .. } => {
                let first = asked && told.permit && !asks.permitted;
                asks.permitted = told.permit;
                first.then_some(now)
            }
            Form::NeverReleased { .. } | Form::NeverReleasedBut { .. } => {
                (asked && stood.is_some() && self.stopped.is_none()).then_some(now)
            }
            Form::NeverTogether(one, other) => {
                let off = |output: &usize| told.off >> output & 1 == 1;
                (asked && off(one) != off(other)).then_some(now)
            }
        };
        let Some(began) = began else { return };
        let mut concessions = self.concessions(requirement, form, began, told);
        if is_release(form) {
            concessions.push(Concession::Stopped);
        }
        let seen = Asked { scan: now, concessions };
        let Some(asks) = self.asks.get_mut(requirement) else { return };
        if asks.best.as_ref().is_none_or(|best| seen.rank() < best.rank()) {
            asks.best = Some(seen);
        }
    }
    /// What is given up as a requirement arises that began to ask in an earlier scan, or in this one.
    fn concessions(&self, requirement: usize, form: &Form, began: u64, told: &Scanned) -> Vec<Concession> {
        let mut all = Vec::new();
        all.extend(self.stood_still.is_some_and(|still| still >= began).then_some(Concession::Standstill));
        if self.facts.passenger.is_some() {
            match self.mode {
                (Some(mode), since) if since <= began => {
                    all.extend((Some(mode) != self.facts.passenger).then_some(Concession::Mode(mode)));
                }
                _ => all.push(Concession::NoMode),
            }
        }
        let active = self.active | told.active;
        let bypasses = 0..self.facts.station.bypasses.len();
        all.extend(bypasses.filter(|bypass| active >> bypass & 1 == 1).map(Concession::Bypass));
        if let Some(since) = self.stopped {
            // One that comes no earlier than the question is the answer, if it reads what is asked about.
            if since <= began {
                all.push(Concession::Stopped);
            } else if !matches!(form, Form::NeverTogether(..)) {
                let other = self.tripped.iter().find(|way| !self.facts.answers(requirement, **way));
                all.extend(other.map(|way| Concession::Also(*way)));
            }
        }
        all
    }
}

impl Watch for Eye<'_> {
    fn scan(&mut self, sample: &Sample, told: &Scanned) -> bool {
        self.look(sample, told);
        let Some((requirement, patience)) = self.wanted else { return true };
        let done = self.seen(requirement).is_some_and(|asked| self.facts.is_enough(requirement, asked));
        let given_up = self.stopped.is_some_and(|since| self.scan > since.saturating_add(patience));
        !done && !given_up && !self.broken
    }
}
