//! The raw plan: a station with everything taken away that would hide a raw input, and a guard for
//! each condition that a requirement or an assumption speaks of.

use super::judge::{Judge, pace_number};
use crate::lower::{Program, lower};
use crate::station::ways::Source;
use crate::station::{
    Backing, Claim, Condition, Contact, Detector, Form, Guard, Input, InputId, InputKind, Lasting, Measure, Measured,
    Name, Pair, Rank, Settle, Station, Watch, WatchKind, When,
};
use logic_rules::Algebra;
use logic_rules::monitor::Apart;
use logic_rules::plan::Plan;

/// The raw plan of a station, and which of its watches stand for what.
pub struct MonitorPlan {
    pub(super) program: Program,
    pub(super) station: Station,
    pub(super) requirements: Vec<Shape>,
    pub(super) assumptions: Vec<Assumed>,
    pub(super) worst: Rank,
    pub(super) outputs: usize,
    pub(super) bypasses: usize,
    /// Channels that are there a second time, settling as the rules have it: behind those of the bypasses.
    copies: Vec<usize>,
}

/// What watches an assumption.
#[derive(Debug, Clone, Copy)]
pub(super) enum Assumed {
    /// A watch of the raw station that trips while the claim may hold.
    Always(usize),
    /// Passings at a channel, and the number of the pace between them; none in time.
    Apart { channel: usize, pace: Option<usize>, least: u32 },
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
                Form::Held { .. } => {}
                Form::NeverTogether(..) => shape.unless = denied(&mut raw, &requirement.name, unless),
            }
            requirements.push(shape);
        }
        let (mut assumptions, mut copies) = (Vec::new(), Vec::new());
        for assumption in &station.assumptions {
            assumptions.push(match &assumption.claim {
                Claim::RopeApart(detector, pace, mm) => Assumed::Apart {
                    channel: settled(&mut raw, station, *detector, &mut copies),
                    pace: Some(pace_number(station, *pace)),
                    least: *mm,
                },
                Claim::ScansApart(detector, scans) => Assumed::Apart {
                    channel: settled(&mut raw, station, *detector, &mut copies),
                    pace: None,
                    least: *scans,
                },
                Claim::Always(condition) => {
                    guard(&mut raw, &assumption.name, translate.condition(condition));
                    Assumed::Always(raw.watches.len() - 1)
                }
            });
        }
        let (worst, outputs) = (station.worst(), station.outputs.len());
        let bypasses = station.bypasses.len();
        Self { program: lower(&raw), station: raw, requirements, assumptions, worst, outputs, bypasses, copies }
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
    /// All channels of the raw station: those of the controller, whether each bypass was active, and those that settle.
    pub fn channels<B: Copy>(&self, channels: &[B], active: &[B], out: &mut Vec<B>) {
        out.clear();
        out.extend(channels.iter().chain(active));
        out.extend(self.copies.iter().filter_map(|&channel| channels.get(channel)));
    }
    /// What is kept of the distances that are assumed.
    pub fn distances<A: Algebra>(&self, a: &mut A) -> Vec<Apart<A>> {
        let apart = self.assumptions.iter().filter(|assumed| matches!(assumed, Assumed::Apart { .. }));
        apart.map(|_| Apart::new(a)).collect()
    }
    /// Whether each assumption is known not to hold, from what [`trips`](Self::trips) gave, the rises of the raw station's
    /// channels and the travel of its paces.
    pub fn broken<A: Algebra>(
        &self,
        a: &mut A,
        trips: &[A::Bit],
        rises: &[[A::Bit; 1]],
        travel: &[[A::Word; 2]],
        distances: &mut [Apart<A>],
        broken: &mut Vec<A::Bit>,
    ) {
        let (no, still, scan) = (a.bit(false), a.word(0), a.word(1));
        let mut distances = distances.iter_mut();
        broken.clear();
        for assumed in &self.assumptions {
            broken.push(match *assumed {
                Assumed::Always(watch) => {
                    let may_hold = trips.get(watch).copied().unwrap_or(no);
                    a.not(may_hold)
                }
                Assumed::Apart { channel, pace, least } => {
                    let [passes] = rises.get(channel).copied().unwrap_or([no]);
                    let went = |number: usize| travel.get(number).copied().unwrap_or([still; 2]);
                    let [forward, back] = pace.map_or([scan, still], went);
                    distances.next().map_or(no, |apart| apart.scan(a, least, passes, forward, back))
                }
            });
        }
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
/// The channel of a detector as the rules see it: a second one where it settles.
fn settled(raw: &mut Station, station: &Station, detector: InputId, copies: &mut Vec<usize>) -> usize {
    let Some(Input { name, kind: InputKind::Detector(own) }) = station.inputs.get(detector) else { return usize::MAX };
    if own.settle == Settle::default() {
        return own.channel;
    }
    let first = raw.channels.len() - copies.len();
    if let Some(known) = copies.iter().position(|&channel| channel == own.channel) {
        return first + known;
    }
    let name = Name { text: format!("{}.settled", name.text), ..name.clone() };
    let channel = raw.channels.len();
    raw.channels.push(name.text.clone());
    copies.push(own.channel);
    let copy = Detector { channel, covered_at_most: None, rises_every: None, ..own.clone() };
    raw.inputs.push(Input { name, kind: InputKind::Detector(copy) });
    channel
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
