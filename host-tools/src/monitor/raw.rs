//! The raw plan: a station with everything taken away that would hide a raw input, and a guard for
//! each condition that a requirement or an assumption speaks of.

mod steady;
mod translate;

use super::judge::{Judge, pace_number};
use crate::lower::{Program, lower};
use crate::station::ways::{Source, Way};
use crate::station::{
    Agree, Backing, Claim, Condition, Count, Form, Guard, Input, InputId, InputKind, Lasting, Measure, Measured, Name,
    Observed, Pace, Pair, Rank, Refill, Settle, Station, Tally, Watch, WatchKind,
};
use crate::text::place::Place;
use logic_rules::Algebra;
use logic_rules::monitor::Apart;
use logic_rules::plan::Plan;
use logic_rules::step::Bound;
use translate::{Published, Translate, bare_contact, pressed_key, published, settled};

pub use steady::steady_name;
pub use translate::Before;

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
    /// Channels that are there a second time, for what is asked of them beside their level: behind those.
    copies: Vec<usize>,
    /// Paces that are there once more, for their sources, and the watches that trip while these differ.
    unsure: Vec<(InputId, usize)>,
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
    /// Channels at which carriers start and arrive.
    pub(super) ends: Option<[usize; 2]>,
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
        let mut told: Vec<Published> = (0..station.bypasses.len()).map(Published::Active).collect();
        for published in station.requirements.iter().flat_map(|requirement| published(station, requirement)) {
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
        let mut unsure = Vec::new();
        let mut translate = Translate { station, told: &told, first, seen_off, copies: &mut copies, known: Vec::new() };
        let (mut requirements, mut steadied) = (Vec::new(), Vec::new());
        for requirement in &station.requirements {
            let requirement = &steady::steady(&mut raw, requirement, translate.copies, &mut steadied);
            let ends = |raw: &Station, [from, to]: [InputId; 2]| {
                let channel = |detector: InputId| raw.channels_of(detector).first().copied();
                Some([channel(from)?, channel(to)?])
            };
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
                Form::Whenever { condition: Condition::Observed(Observed::Pressed(key, settles)), .. } => {
                    let copy = pressed_key(&mut raw, station, *key, *settles, translate.copies);
                    let held = copy.map_or(Condition::Any(Vec::new()), Condition::High);
                    // Trips where it may not be held.
                    guard(&mut raw, &requirement.name, Condition::Not(Box::new(held)));
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::Whenever { condition: Condition::Observed(Observed::Sources(pace, mm)), .. }
                | Form::Never { condition: Condition::Observed(Observed::Sources(pace, mm)), .. } => {
                    unsure.extend(sources(&mut raw, station, *pace, *mm).map(|copy| (copy, raw.watches.len())));
                    guard(&mut raw, &requirement.name, Condition::Any(Vec::new()));
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::Whenever {
                    condition: Condition::Observed(Observed::Stray(way) | Observed::Crowded(way, _)),
                    ..
                } => {
                    shape.ends = ends(&raw, [way.from, way.to]);
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::Whenever { condition: Condition::Observed(Observed::Miscounting(tally)), .. } => {
                    let count = counts(&mut raw, station, tally, translate.copies, &mut settles);
                    // Without it nothing is asked.
                    let nothing = Guard { when: Condition::Any(Vec::new()), lasting: Lasting::Unbroken(0), answer: 1 };
                    push(&mut raw, &requirement.name, count.map_or(WatchKind::Guard(nothing), WatchKind::Count));
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::Whenever { condition: Condition::Observed(Observed::Leaping(..)), .. } => {
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::Whenever { condition, .. } | Form::Never { condition, .. } => {
                    let condition = translate.condition(&mut raw, condition);
                    guard(&mut raw, &requirement.name, asked(condition));
                }
                Form::WhenRises { detector, lasting: 1.., gauge, lowest, highest, .. } => {
                    let high = |steps: u32| Condition::AtLeast(*gauge, steps);
                    let not = |c: Condition| Condition::Not(Box::new(c));
                    let outside = Condition::Any(vec![not(high(*lowest)), high(highest.saturating_add(1))]);
                    guard(&mut raw, &requirement.name, outside);
                    shape.channel = raw.channels_of(*detector).first().copied();
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::WhenRises { detector, when, gauge, lowest, highest, .. } => {
                    let measure = Measure {
                        detector: *detector,
                        when: *when,
                        gauge: *gauge,
                        least: *lowest,
                        most: *highest,
                        answer: 1,
                    };
                    push(&mut raw, &requirement.name, WatchKind::Measure(measure));
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::After { from, to, measured, .. } => {
                    shape.ends = ends(&raw, [*from, *to]);
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
                Form::NeverReleasedBut { condition, .. } | Form::Effect { condition, .. } => {
                    // Trips where it may not hold: a doubt clears no stop, and is no effect.
                    let condition = translate.condition(&mut raw, condition);
                    guard(&mut raw, &requirement.name, Condition::Not(Box::new(condition)));
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
                Form::Held { .. } => {}
                Form::NeverPermitted { .. } | Form::NeverTogether(..) => {
                    shape.unless = denied(&mut raw, &requirement.name, unless);
                }
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
        let program = lower(&raw);
        Self { program, station: raw, requirements, assumptions, worst, outputs, bypasses, told, copies, unsure }
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
            let watch = match self.program.ways.get(way).map(|w| (w.source, w.way)) {
                Some((Source::Watch(watch), _)) => Some(watch),
                Some((Source::Input(input), Way::Unsure)) => {
                    self.unsure.iter().find(|(copy, _)| *copy == input).map(|(_, watch)| *watch)
                }
                _ => None,
            };
            if let Some(cell) = watch.and_then(|watch| trips.get_mut(watch)) {
                *cell = a.or(*cell, *trip);
            }
        }
    }
    /// The speed of each pace of the raw station, in either direction, and whether it is known.
    pub fn speeds<A: Algebra>(&self, bound: &Bound<'_, '_, A>, speeds: &mut Vec<(A::Word, A::Bit)>) {
        // Levels are those of gauges, then of paces: forward, back, either.
        let gauges = self.station.inputs.iter().filter(|input| matches!(input.kind, InputKind::Gauge(_))).count();
        let cells = bound.levels.level.iter().zip(&*bound.work.trusted).skip(gauges + 2).step_by(3);
        speeds.clear();
        speeds.extend(cells.take(bound.levels.travel.len()).map(|([level], [trusted])| (*level, *trusted)));
    }
    /// The value of each gauge of the raw station, and whether it is good.
    pub fn readings<A: Algebra>(&self, bound: &Bound<'_, '_, A>, readings: &mut Vec<(A::Word, A::Bit)>) {
        let cells = bound.levels.level.iter().zip(&*bound.work.trusted).take(self.station.gauge_terminals.len());
        readings.clear();
        readings.extend(cells.map(|([level], [trusted])| (*level, *trusted)));
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
                Published::Silent(link) => {
                    let fresh = at(before.fresh, link);
                    a.not(fresh)
                }
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

/// A pace that is there once more with both its sources: it is unsure while they differ by more than so much.
fn sources(raw: &mut Station, station: &Station, pace: InputId, mm: u32) -> Option<InputId> {
    let Input { name, kind: InputKind::Pace(of) } = station.inputs.get(pace)? else { return None };
    let Backing::Source(second, _) = of.backing else { return None };
    let name = Name { text: format!("{}.{mm}", name.text), ..name.clone() };
    let kind = InputKind::Pace(Pace { backing: Backing::Source(second, mm), fault_after: 0, ..of.clone() });
    raw.inputs.push(Input { name, kind });
    Some(raw.inputs.len() - 1)
}
/// A count of its own, of the detectors as they settle; the watch that comes next is to be it.
fn counts(
    raw: &mut Station,
    station: &Station,
    tally: &Tally,
    copies: &mut Vec<usize>,
    known: &mut Vec<(usize, usize)>,
) -> Option<Count> {
    let mut detector = |raw: &mut Station, input: InputId| {
        let line = settled(raw, station, input, copies, known);
        raw.inputs.iter().position(|input| matches!(&input.kind, InputKind::Detector(of) if of.channel == line))
    };
    let (enter, leave) = (detector(raw, tally.from)?, detector(raw, tally.to)?);
    let key = pressed_key(raw, station, tally.key.0, tally.key.1, copies)?;
    if let Some((key, scans)) = tally.unknown {
        let key = pressed_key(raw, station, key, scans, copies)?;
        let (watches, when) = (vec![raw.watches.len()], Condition::All(Vec::new()));
        raw.refills.push(Refill { watches, key, when, place: Place::default() });
    }
    let (most, confirmed, when) = (tally.most, tally.confirmed, Condition::High(key));
    Some(Count { enter, leave, most, confirmed, when, over: 1, below: 1, wrong: 1 })
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
