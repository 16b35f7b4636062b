//! A history that misses a requirement, scan by scan from a state that is known: the solver chooses all inputs.

use super::circuit::{Circuit, System};
use super::claim::Subject;
use super::frames::{Answer, Begin, Frames};
use super::graph::Wire;
use super::model::{Given, Model};
use crate::sample::{Frame, Health, Reading, Sample};
use crate::station::{InputId, InputKind, Station};
use logic_rules::{Algebra, Sliced, Slices};
use std::collections::BTreeSet;

/// How much a search may take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bound {
    /// Scans.
    pub scans: usize,
    /// Conflicts of the solver, over all questions.
    pub conflicts: u64,
    /// Literals.
    pub literals: usize,
}

/// What every scan of a history must keep.
pub struct Kept {
    /// Signals, assumptions, and that no gauge shows more than it can.
    always: Vec<Wire>,
    /// No source delivers more in a scan than it can.
    bearable: Vec<Wire>,
}

impl Kept {
    /// All that the checker grants, assumptions if they are granted, and what can be recorded.
    pub fn new(model: &Model<'_>, system: &mut System, assumptions: bool) -> Self {
        let told = &system.told;
        let mut always: Vec<Wire> = told.kept.clone();
        if assumptions {
            always.extend(told.broken.iter().map(|broken| broken.opposite()));
        }
        let mut a = Sliced(std::mem::take(&mut system.graph));
        for (i, gauge) in system.given.gauges.iter().enumerate() {
            always.push(a.more_than(gauge.value, model.gauge_top(i)).opposite());
        }
        let mut bearable = Vec::new();
        for (i, source) in system.given.sources.iter().enumerate() {
            let top = model.source_top(i);
            for moved in [source.forward, source.back] {
                always.push(a.more_than(moved, top).opposite());
                bearable.push(a.at_least(moved, top).opposite());
            }
        }
        system.graph = a.0;
        Self { always, bearable }
    }
}

/// What a solver is asked for.
pub struct Question<'q> {
    /// The circuit.
    pub system: &'q System,
    /// What every scan keeps.
    pub kept: &'q Kept,
    /// The requirement that is to be missed.
    pub requirement: usize,
    /// Where it starts.
    pub begin: Begin<'q>,
    /// What does not matter reads so.
    pub calm: &'q Sample,
    /// Only these inputs do anything, and all sources run as the first does; all on their own if it is not said.
    pub free: Option<(&'q Station, &'q BTreeSet<InputId>)>,
    /// Sources may deliver more than they can.
    pub racing: bool,
    /// Sources change only after each so many scans.
    pub steady: usize,
}

/// Samples of a history that misses the requirement, if the solver finds one within the bound, and the conflicts it took.
pub fn search(question: &Question<'_>, bound: Bound) -> (Option<Vec<Sample>>, u64) {
    let mut frames = Frames::new(question.system, &|_| true, question.begin);
    frames.limit(bound.conflicts);
    let found = deepen(question, bound, &mut frames);
    (found, bound.conflicts.saturating_sub(frames.left()))
}

/// More and more scans.
fn deepen(question: &Question<'_>, bound: Bound, frames: &mut Frames<'_>) -> Option<Vec<Sample>> {
    let Question { system, kept, calm, .. } = *question;
    let bad = system.told.bad(Subject::Requirement(question.requirement))?;
    if let Some((station, free)) = question.free {
        fix(frames, system, station, free, calm);
    }
    for moved in &system.given.sources {
        let bits = moved.forward.bits().iter().chain(moved.back.bits());
        bits.for_each(|bit| frames.steady(*bit, question.steady));
    }
    for scan in 0..bound.scans {
        let borne = if question.racing { &[] } else { kept.bearable.as_slice() };
        kept.always.iter().chain(borne).for_each(|&wire| frames.hold(scan, wire));
        let bad = frames.lit(scan, bad);
        match frames.ask(&[bad]) {
            Answer::Found => return Some((0..=scan).map(|scan| sample(frames, &system.given, scan, calm)).collect()),
            Answer::None if frames.literals() <= bound.literals => frames.never(bad),
            Answer::None | Answer::Unknown => return None,
        }
    }
    None
}

/// Inputs that are not to do anything read as in `calm`.
fn fix(frames: &mut Frames<'_>, system: &System, station: &Station, free: &BTreeSet<InputId>, calm: &Sample) {
    let given = &system.given;
    let channels: BTreeSet<usize> = free.iter().flat_map(|input| station.channels_of(*input)).collect();
    for (i, (wire, level)) in given.channels.iter().zip(&calm.channels).enumerate() {
        if !channels.contains(&i) {
            frames.fix(*wire, *level);
        }
    }
    let kind =
        |of: &dyn Fn(&InputKind) -> bool| free.iter().filter_map(|i| station.inputs.get(*i)).any(|i| of(&i.kind));
    for (i, (gauge, reading)) in given.gauges.iter().zip(&calm.gauges).enumerate() {
        if !kind(&|kind| matches!(kind, InputKind::Gauge(g) if g.terminal == i)) {
            fix_word(frames, &gauge.value, reading.steps);
            frames.fix(gauge.good, reading.health == Health::Good);
            frames.fix(gauge.broken, reading.health == Health::Broken);
        }
    }
    let first = given.sources.first().filter(|_| kind(&|kind| matches!(kind, InputKind::Pace(_))));
    if let Some(first) = first {
        for moved in &given.sources {
            tie_word(frames, &moved.forward, &first.forward);
            tie_word(frames, &moved.back, &first.back);
        }
    } else {
        for (moved, mm) in given.sources.iter().zip(&calm.travel) {
            fix_word(frames, &moved.forward, u32::try_from(*mm).unwrap_or(0));
            fix_word(frames, &moved.back, u32::try_from(mm.saturating_neg()).unwrap_or(0));
        }
    }
    for (i, (link, frame)) in given.links.iter().zip(&calm.links).enumerate() {
        if !kind(&|kind| matches!(kind, InputKind::Link(l) if l.terminal == i)) {
            frames.fix(link.fresh, frame.fresh);
            fix_word(frames, &link.order, u32::from(frame.order));
        }
    }
}

/// A word reads so in every scan.
pub(crate) fn fix_word(frames: &mut Frames<'_>, word: &Slices<Wire>, value: u32) {
    for (i, wire) in (0_u32..).zip(word.bits()) {
        frames.fix(*wire, value.checked_shr(i).unwrap_or(0) & 1 == 1);
    }
}

fn tie_word(frames: &mut Frames<'_>, word: &Slices<Wire>, other: &Slices<Wire>) {
    for (i, wire) in word.bits().iter().enumerate() {
        match other.bits().get(i) {
            Some(other) => frames.tie(*wire, *other),
            None => frames.fix(*wire, false),
        }
    }
}

/// What the solver chose for a scan; what no question needed reads as in `calm`.
pub fn sample(frames: &Frames<'_>, given: &Given<Circuit>, scan: usize, calm: &Sample) -> Sample {
    let bit = |wire: Wire, calm: bool| frames.value(scan, wire).unwrap_or(calm);
    let word = |word: &Slices<Wire>, calm: u32| {
        (0_u32..).zip(word.bits()).fold(0, |sum, (i, &wire)| {
            let rest = calm.checked_shr(i).unwrap_or(0) & 1 == 1;
            sum | u32::from(bit(wire, rest)).checked_shl(i).unwrap_or(0)
        })
    };
    let mut sample = calm.clone();
    for (cell, wire) in sample.channels.iter_mut().zip(&given.channels) {
        *cell = bit(*wire, *cell);
    }
    for (cell, gauge) in sample.gauges.iter_mut().zip(&given.gauges) {
        let good = bit(gauge.good, cell.health == Health::Good);
        let broken = bit(gauge.broken, cell.health == Health::Broken);
        let health = if good {
            Health::Good
        } else if broken {
            Health::Broken
        } else {
            Health::Doubtful
        };
        *cell = Reading { steps: word(&gauge.value, cell.steps), health };
    }
    for (cell, moved) in sample.travel.iter_mut().zip(&given.sources) {
        let forward = i32::try_from(word(&moved.forward, u32::try_from(*cell).unwrap_or(0))).unwrap_or(i32::MAX);
        let back = i32::try_from(word(&moved.back, 0)).unwrap_or(i32::MAX);
        *cell = forward.saturating_sub(back);
    }
    for (cell, frame) in sample.links.iter_mut().zip(&given.links) {
        let order = u8::try_from(word(&frame.order, u32::from(cell.order))).unwrap_or(u8::MAX);
        *cell = Frame { fresh: bit(frame.fresh, cell.fresh), order };
    }
    sample
}
