//! The raw plan: a station with everything taken away that would hide a raw input, and a guard for
//! each condition that a requirement or an assumption speaks of.

use super::judge::Judge;
use crate::lower::{Program, lower};
use crate::station::ways::Source;
use crate::station::{
    Backing, Claim, Condition, Contact, Form, Guard, Input, InputId, InputKind, Lasting, Measure, Measured, Name, Pace,
    Pair, Rank, Settle, Spacing, Station, Watch, WatchKind, When,
};
use logic_rules::Algebra;
use logic_rules::plan::Plan;

/// The raw plan of a station, and which of its watches stand for what.
pub struct MonitorPlan {
    pub(super) program: Program,
    pub(super) station: Station,
    pub(super) requirements: Vec<Shape>,
    pub(super) assumptions: Vec<Assumed>,
    pub(super) worst: Rank,
    pub(super) outputs: usize,
}

/// The watch of the raw station that stands for an assumption.
#[derive(Debug, Clone, Copy)]
pub(super) struct Assumed {
    watch: usize,
    /// It trips while the claim may hold; otherwise it trips where the claim is broken.
    trips_while_kept: bool,
}
impl Assumed {
    /// The assumption is known not to hold.
    pub(super) fn broken<A: Algebra>(self, a: &mut A, trips: &[A::Bit]) -> A::Bit {
        let trips = trips.get(self.watch).copied().unwrap_or_else(|| a.bit(false));
        if self.trips_while_kept { a.not(trips) } else { trips }
    }
}

/// Which guards of the raw station a requirement has.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Shape {
    pub(super) bit: usize,
    pub(super) band: Option<usize>,
    pub(super) unless: Option<usize>,
}

/// Takes away whatever would hide a raw input.
fn bare(station: &Station) -> Station {
    let mut raw = station.clone();
    for input in &mut raw.inputs {
        match &mut input.kind {
            InputKind::Contact(c) => {
                c.settle = Settle::default();
                c.most_changes = None;
            }
            InputKind::Pair(p) => {
                p.settle = Settle::default();
                p.differing = Pair::NEVER_FAULTY;
            }
            InputKind::Detector(d) => {
                d.settle = Settle::default();
                d.covered_at_most = None;
                d.rises_every = None;
            }
            InputKind::Gauge(g) => {
                g.moves_at_most = None;
                g.rests = None;
            }
            InputKind::Pace(p) => p.backing = Backing::None,
            InputKind::Key(k) => k.settle = Settle::default(),
            InputKind::Link(_) => {}
        }
    }
    raw.watches.clear();
    raw.modes.clear();
    raw.slows.clear();
    raw.reset = None;
    raw.refills.clear();
    raw.bypasses.clear();
    raw.outputs.clear();
    raw.stops.truncate(1);
    raw.on_fault = 1;
    for stop in &mut raw.stops {
        stop.releases.clear();
        stop.then = None;
    }
    for input in &mut raw.inputs {
        if let InputKind::Link(link) = &mut input.kind {
            link.otherwise = 1;
        }
    }
    raw
}

impl MonitorPlan {
    /// Lowers the conditions of a station's requirements and assumptions.
    pub fn new(station: &Station) -> Self {
        let mut raw = bare(station);
        let bypass_inputs: Vec<InputId> = station
            .bypasses
            .iter()
            .map(|bypass| {
                let channel = raw.channels.len();
                raw.channels.push(format!("bypass {}", bypass.name.text));
                let contact = Contact {
                    channel,
                    rests_closed: false,
                    line_monitored: true,
                    shortest_us: None,
                    settle: Settle::default(),
                    most_changes: None,
                };
                raw.inputs.push(Input { name: bypass.name.clone(), kind: InputKind::Contact(contact) });
                raw.inputs.len() - 1
            })
            .collect();
        // Read-backs are raw already; each becomes a contact of its own.
        let seen_off: Vec<Option<InputId>> = station
            .outputs
            .iter()
            .map(|output| {
                let (channel, _) = output.read_back?;
                let contact = Contact {
                    channel,
                    rests_closed: false,
                    line_monitored: true,
                    shortest_us: None,
                    settle: Settle::default(),
                    most_changes: None,
                };
                raw.inputs.push(Input { name: output.name.clone(), kind: InputKind::Contact(contact) });
                Some(raw.inputs.len() - 1)
            })
            .collect();
        let translate = Translate { bypasses: bypass_inputs, seen_off };
        let mut requirements = Vec::new();
        for requirement in &station.requirements {
            let unless = requirement.unless.as_ref().map(|c| translate.condition(c));
            let asked = |c: Condition| match &unless {
                Some(unless) => Condition::All(vec![c, Condition::Not(Box::new(unless.clone()))]),
                None => c,
            };
            let mut shape = Shape { bit: raw.watches.len(), ..Shape::default() };
            match &requirement.form {
                Form::Whenever { condition, .. } | Form::Never { condition, .. } => {
                    guard(&mut raw, &requirement.name, asked(translate.condition(condition)));
                }
                Form::WhenRises { detector, gauge, lowest, highest, .. } => {
                    let measure = Measure {
                        detector: *detector,
                        when: When::Rise,
                        gauge: *gauge,
                        least: *lowest,
                        most: *highest,
                        answer: 1,
                    };
                    push(&mut raw, &requirement.name, WatchKind::Measure(measure));
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::After { measured, .. } => {
                    if let Measured::Time { pace, least, most } = measured {
                        let inside = Condition::All(vec![
                            Condition::Faster(*pace, *least),
                            Condition::Not(Box::new(Condition::Faster(*pace, most.saturating_add(1)))),
                            Condition::Not(Box::new(Condition::Back(*pace, 1))),
                        ]);
                        // Trips where the speed may be outside.
                        guard(&mut raw, &requirement.name, Condition::Not(Box::new(inside)));
                        shape.band = Some(raw.watches.len() - 1);
                    }
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::NeverReleased { key } => {
                    guard(&mut raw, &requirement.name, Condition::High(*key));
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::NeverTogether(..) => shape.unless = denied(&mut raw, &requirement.name, unless),
            }
            requirements.push(shape);
        }
        let mut assumptions = Vec::new();
        for assumption in &station.assumptions {
            let trips_while_kept = matches!(assumption.claim, Claim::Always(_));
            assumptions.push(Assumed { watch: raw.watches.len(), trips_while_kept });
            match &assumption.claim {
                Claim::RopeApart(detector, pace, mm) => {
                    spacing(&mut raw, &assumption.name, *detector, Measured::Rope(*pace), *mm);
                }
                Claim::ScansApart(detector, scans) => {
                    let band = Measured::Time { pace: resting(&mut raw, &assumption.name), least: 0, most: 0 };
                    spacing(&mut raw, &assumption.name, *detector, band, *scans);
                }
                Claim::Always(condition) => guard(&mut raw, &assumption.name, translate.condition(condition)),
            }
        }
        let (worst, outputs) = (station.worst(), station.outputs.len());
        Self { program: lower(&raw), station: raw, requirements, assumptions, worst, outputs }
    }
    /// A judge for each requirement; `stopped` is whether the most severe stop stood before, as at power-up.
    pub fn judges<A: Algebra>(&self, a: &mut A, station: &Station, stopped: bool) -> Vec<Judge<A>> {
        let all = station.requirements.iter().zip(&self.requirements);
        all.map(|(requirement, shape)| Judge::new(a, station, &requirement.form, *shape, stopped)).collect()
    }
    /// Which watches of the raw station trip, from the ways of its plan.
    pub fn trips<A: Algebra>(&self, a: &mut A, ways: &[[A::Bit; 1]], trips: &mut Vec<A::Bit>) {
        let no = a.bit(false);
        trips.clear();
        trips.resize(self.station.watches.len(), no);
        for ([trip], &way) in ways.iter().zip(&self.program.by_severity) {
            if let Some(Source::Watch(watch)) = self.program.ways.get(way).map(|w| w.source)
                && let Some(cell) = trips.get_mut(watch)
            {
                *cell = a.or(*cell, *trip);
            }
        }
    }
    /// The station it was lowered from.
    pub fn station(&self) -> &Station {
        &self.station
    }
    /// Its program.
    pub fn program(&self) -> &Program {
        &self.program
    }
    /// Whether each assumption is known not to hold, from what [`trips`](Self::trips) gave.
    pub fn broken<A: Algebra>(&self, a: &mut A, trips: &[A::Bit]) -> Vec<A::Bit> {
        self.assumptions.iter().map(|assumption| assumption.broken(a, trips)).collect()
    }
    /// Its verified plan.
    ///
    /// # Errors
    /// As [`Program::plan`].
    pub fn plan(&self) -> Result<Plan<'_>, logic_rules::Fault> {
        self.program.plan()
    }
}

fn push(raw: &mut Station, name: &Name, kind: WatchKind) {
    raw.watches.push(Watch { name: name.clone(), title: String::new(), hazards: Vec::new(), modes: Vec::new(), kind });
}
fn guard(raw: &mut Station, name: &Name, when: Condition) {
    push(raw, name, WatchKind::Guard(Guard { when, lasting: Lasting::Unbroken(0), answer: 1 }));
}
/// A guard that trips while an `unless` is not known to hold.
fn denied(raw: &mut Station, name: &Name, unless: Option<Condition>) -> Option<usize> {
    unless.map(|unless| {
        guard(raw, name, Condition::Not(Box::new(unless)));
        raw.watches.len() - 1
    })
}
/// A pace that never moves, as is known from the first scan on: a time that is assumed counts at any speed, and a spacing
/// in time has a band. Its source stands behind those of the station.
fn resting(raw: &mut Station, name: &Name) -> InputId {
    let source = raw.sources.len();
    raw.sources.push(format!("rest {}", name.text));
    let pace = Pace {
        source,
        backing: Backing::None,
        mm_a_pulse: 1,
        signed: false,
        top: 1,
        top_scan: 1,
        span: 1,
        still: 0,
        fault_after: 0,
    };
    raw.inputs.push(Input { name: name.clone(), kind: InputKind::Pace(pace) });
    raw.inputs.len() - 1
}
fn spacing(raw: &mut Station, name: &Name, detector: InputId, measured: Measured, least: u32) {
    push(raw, name, WatchKind::Spacing(Spacing { detector, measured, least, most: None, closer: 1, farther: 1 }));
}

/// Conditions of the station as conditions of the raw one.
struct Translate {
    bypasses: Vec<InputId>,
    seen_off: Vec<Option<InputId>>,
}
impl Translate {
    fn condition(&self, c: &Condition) -> Condition {
        match c {
            Condition::All(parts) => Condition::All(parts.iter().map(|p| self.condition(p)).collect()),
            Condition::Any(parts) => Condition::Any(parts.iter().map(|p| self.condition(p)).collect()),
            Condition::Not(part) => Condition::Not(Box::new(self.condition(part))),
            Condition::Bypassed(b) => self.bypasses.get(*b).map_or(Condition::Any(Vec::new()), |i| Condition::High(*i)),
            Condition::SeenOff(o) => {
                self.seen_off.get(*o).copied().flatten().map_or(Condition::Any(Vec::new()), Condition::High)
            }
            Condition::High(_)
            | Condition::AtLeast(..)
            | Condition::Faster(..)
            | Condition::Back(..)
            | Condition::Faulty(_) => c.clone(),
        }
    }
}
