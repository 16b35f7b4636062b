//! The raw plan: a station with everything taken away that would hide a raw input, and a guard for
//! each condition that a requirement or an assumption speaks of.

use super::judge::{Judge, pace_number};
use crate::lower::{Program, lower};
use crate::station::ways::Source;
use crate::station::{
    Agree, Backing, Claim, Condition, Contact, Detector, Form, Guard, Input, InputId, InputKind, Lasting, Measure,
    Measured, Name, Observed, Pair, Rank, Requirement, Settle, Station, Watch, WatchKind, When,
};
use crate::text::place::Place;
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
    /// What was published, as channels behind those of the controller.
    told: Vec<Published>,
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
    /// A channel that rises as the rules see it.
    pub(super) channel: Option<usize>,
    pub(super) band: Option<usize>,
    pub(super) unless: Option<usize>,
}

/// What the rules published in the scan before, of which a condition speaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Published {
    /// A bypass was active.
    Active(usize),
    /// The most severe answer was this one.
    Stood(Rank),
    /// An output was off.
    Off(usize),
}

/// What was published in the scan before; slices that are too short say that it was not.
pub struct Before<'s, B> {
    /// Each bypass was active.
    pub active: &'s [B],
    /// At place `r`: an answer of rank `r` or above stood.
    pub answer: &'s [B],
    /// Each output was off.
    pub off: &'s [B],
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
        let mut told: Vec<Published> = (0..station.bypasses.len()).map(Published::Active).collect();
        for published in station.requirements.iter().flat_map(published) {
            if !told.contains(&published) {
                told.push(published);
            }
        }
        let first = raw.inputs.len();
        for published in &told {
            let channel = raw.channels.len();
            let (of, name) = published.name(station);
            raw.channels.push(format!("{of} {name}"));
            // A bypass has its own name; what else was published is told apart from what has that name.
            let text = if of == "bypass" { name } else { format!("{name}.{of}") };
            let name = Name { text, place: Place::default() };
            raw.inputs.push(Input { name, kind: InputKind::Contact(bare_contact(channel)) });
        }
        // Read-backs are raw already; each becomes a contact of its own.
        let seen_off: Vec<Option<InputId>> = station
            .outputs
            .iter()
            .map(|output| {
                let (channel, _) = output.read_back?;
                raw.inputs.push(Input { name: output.name.clone(), kind: InputKind::Contact(bare_contact(channel)) });
                Some(raw.inputs.len() - 1)
            })
            .collect();
        let (mut assumptions, mut copies, mut settles) = (Vec::new(), Vec::new(), Vec::new());
        let mut translate = Translate { told: &told, first, seen_off, copies: &mut copies, known: Vec::new() };
        let mut requirements = Vec::new();
        for requirement in &station.requirements {
            let unless = requirement.unless.as_ref().map(|c| translate.condition(&mut raw, c));
            let asked = |c: Condition| match &unless {
                Some(unless) => Condition::All(vec![c, Condition::Not(Box::new(unless.clone()))]),
                None => c,
            };
            let mut shape = Shape { bit: raw.watches.len(), ..Shape::default() };
            match &requirement.form {
                Form::Whenever { condition: Condition::Observed(Observed::Apart(between, within)), .. }
                | Form::Never { condition: Condition::Observed(Observed::Apart(between, within)), .. } => {
                    let agree = Agree { between: *between, within: *within, apart: 0, answer: 1 };
                    push(&mut raw, &requirement.name, WatchKind::Agree(agree));
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::Whenever {
                    condition: Condition::Observed(Observed::Closer(detector, ..) | Observed::Farther(detector, ..)),
                    ..
                } => {
                    shape.channel = Some(settled(&mut raw, station, *detector, translate.copies, &mut settles));
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::Whenever { condition, .. } | Form::Never { condition, .. } => {
                    let condition = translate.condition(&mut raw, condition);
                    guard(&mut raw, &requirement.name, asked(condition));
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
        for assumption in &station.assumptions {
            assumptions.push(match &assumption.claim {
                Claim::RopeApart(detector, pace, mm) => Assumed::Apart {
                    channel: settled(&mut raw, station, *detector, translate.copies, &mut settles),
                    pace: Some(pace_number(station, *pace)),
                    least: *mm,
                },
                Claim::ScansApart(detector, scans) => Assumed::Apart {
                    channel: settled(&mut raw, station, *detector, translate.copies, &mut settles),
                    pace: None,
                    least: *scans,
                },
                Claim::Always(condition) => {
                    let condition = translate.condition(&mut raw, condition);
                    guard(&mut raw, &assumption.name, condition);
                    Assumed::Always(raw.watches.len() - 1)
                }
            });
        }
        let (worst, outputs) = (station.worst(), station.outputs.len());
        let bypasses = station.bypasses.len();
        Self { program: lower(&raw), station: raw, requirements, assumptions, worst, outputs, bypasses, told, copies }
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
    /// All channels of the raw station: those of the controller, what was published before, and those that settle.
    pub fn channels<A: Algebra>(
        &self,
        a: &mut A,
        channels: &[A::Bit],
        before: &Before<'_, A::Bit>,
        out: &mut Vec<A::Bit>,
    ) {
        let no = a.bit(false);
        let at = |all: &[A::Bit], place: usize| all.get(place).copied().unwrap_or(no);
        out.clear();
        out.extend(channels);
        for published in &self.told {
            out.push(match *published {
                Published::Active(bypass) => at(before.active, bypass),
                Published::Off(output) => at(before.off, output),
                Published::Stood(rank) => {
                    let rank = usize::from(rank);
                    a.but(at(before.answer, rank), at(before.answer, rank + 1))
                }
            });
        }
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
/// A channel that is there once more, since what is said of one input on it must not touch the other.
fn copied(raw: &mut Station, name: &Name, channel: usize, copies: &mut Vec<usize>) -> usize {
    raw.channels.push(name.text.clone());
    copies.push(channel);
    raw.channels.len() - 1
}
/// The channel of a detector as the rules see it: a second one where it settles. `known` are those that are there.
fn settled(
    raw: &mut Station,
    station: &Station,
    detector: InputId,
    copies: &mut Vec<usize>,
    known: &mut Vec<(usize, usize)>,
) -> usize {
    let Some(Input { name, kind: InputKind::Detector(own) }) = station.inputs.get(detector) else { return usize::MAX };
    if own.settle == Settle::default() {
        return own.channel;
    }
    if let Some((_, copy)) = known.iter().find(|(channel, _)| *channel == own.channel) {
        return *copy;
    }
    let name = Name { text: format!("{}.settled", name.text), ..name.clone() };
    let channel = copied(raw, &name, own.channel, copies);
    known.push((own.channel, channel));
    let copy = Detector { channel, covered_at_most: None, rises_every: None, ..own.clone() };
    raw.inputs.push(Input { name, kind: InputKind::Detector(copy) });
    channel
}
/// What a requirement asks that was published in the scan before, but for bypasses.
fn published(requirement: &Requirement) -> Vec<Published> {
    let told = |observed: Observed| match observed {
        Observed::Stands(rank) => Some(Published::Stood(rank)),
        Observed::Released(output) => Some(Published::Off(output)),
        _ => None,
    };
    requirement.observed().into_iter().filter_map(told).collect()
}

impl Published {
    /// What it is, and of what.
    fn name(self, station: &Station) -> (&'static str, String) {
        let (of, name) = match self {
            Self::Active(bypass) => ("bypass", station.bypasses.get(bypass).map_or("", |b| b.name.text.as_str())),
            Self::Stood(rank) => ("was-answer", station.answer(rank)),
            Self::Off(output) => ("was-off", station.outputs.get(output).map_or("", |o| o.name.text.as_str())),
        };
        (of, name.to_string())
    }
}

/// A contact that nothing hides.
fn bare_contact(channel: usize) -> Contact {
    Contact {
        channel,
        rests_closed: false,
        line_monitored: true,
        shortest_us: None,
        settle: Settle::default(),
        most_changes: None,
    }
}

/// Conditions of the station as conditions of the raw one.
struct Translate<'t> {
    told: &'t [Published],
    /// The input that stands for the first of those; the others follow.
    first: InputId,
    seen_off: Vec<Option<InputId>>,
    /// Channels that are there once more.
    copies: &'t mut Vec<usize>,
    /// Inputs on them, for what is asked.
    known: Vec<(Observed, InputId)>,
}
impl Translate<'_> {
    fn published(&self, published: Published) -> Condition {
        let place = self.told.iter().position(|told| *told == published);
        place.map_or(Condition::Any(Vec::new()), |place| Condition::High(self.first + place))
    }
    /// The fault of an input that is read as its channel is, and has this fault alone.
    fn observed(&mut self, raw: &mut Station, observed: Observed) -> Condition {
        let none = Condition::Any(Vec::new());
        let of = |raw: &Station, input: InputId| raw.inputs.get(input).cloned();
        let named = |name: Name, limit: u32| Name { text: format!("{}.{limit}", name.text), ..name };
        if let Some((_, input)) = self.known.iter().find(|(known, _)| *known == observed) {
            return Condition::Faulty(*input);
        }
        let copy = match observed {
            Observed::Stands(rank) => return self.published(Published::Stood(rank)),
            Observed::Released(output) => return self.published(Published::Off(output)),
            // It stands alone, and has a watch of its own.
            Observed::Apart(..) | Observed::Closer(..) | Observed::Farther(..) => return none,
            Observed::Differing(pair) => {
                let Some(Input { name, kind: InputKind::Pair(pair) }) = of(raw, pair) else { return none };
                // A line of a pair that is opposed is turned round for whoever reads it.
                let [one, other] = pair.channels.map(|channel| {
                    raw.inputs.push(Input { name: name.clone(), kind: InputKind::Contact(bare_contact(channel)) });
                    Condition::High(raw.inputs.len() - 1)
                });
                let not = |c: &Condition| Condition::Not(Box::new(c.clone()));
                let alone = |x: &Condition, y: &Condition| Condition::All(vec![x.clone(), not(y)]);
                return Condition::Any(vec![alone(&one, &other), alone(&other, &one)]);
            }
            Observed::Covered(detector, pace, mm) => {
                let Some(Input { name, kind: InputKind::Detector(line) }) = of(raw, detector) else { return none };
                let channel = copied(raw, &name, line.channel, self.copies);
                let kind = InputKind::Detector(Detector { channel, covered_at_most: Some((pace, mm)), ..line });
                Input { name: named(name, mm), kind }
            }
            Observed::Changing(contact, most) => {
                let Some(Input { name, kind: InputKind::Contact(line) }) = of(raw, contact) else { return none };
                let channel = copied(raw, &name, line.channel, self.copies);
                let kind = InputKind::Contact(Contact { channel, most_changes: Some(most), ..line });
                Input { name: named(name, most), kind }
            }
        };
        raw.inputs.push(copy);
        self.known.push((observed, raw.inputs.len() - 1));
        Condition::Faulty(raw.inputs.len() - 1)
    }
    fn condition(&mut self, raw: &mut Station, c: &Condition) -> Condition {
        match c {
            Condition::All(parts) => Condition::All(parts.iter().map(|p| self.condition(raw, p)).collect()),
            Condition::Any(parts) => Condition::Any(parts.iter().map(|p| self.condition(raw, p)).collect()),
            Condition::Not(part) => Condition::Not(Box::new(self.condition(raw, part))),
            Condition::Observed(observed) => self.observed(raw, *observed),
            Condition::Bypassed(b) => self.published(Published::Active(*b)),
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
