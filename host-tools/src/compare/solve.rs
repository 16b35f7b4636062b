//! Histories that a solver chooses, scan by scan from a state that is known, until the two sides differ.

use super::product::Product;
use super::side::{Difference, copy};
use super::twin::Twin;
use crate::prove::bounded::{fix_word, sample};
use crate::prove::circuit::{Cell, Circuit};
use crate::prove::frames::{Answer, Begin, Frames};
use crate::prove::graph::Wire;
use crate::prove::lemma::Value;
use crate::prove::model::Given;
use crate::refute::History;
use crate::run::lift;
use crate::sample::{Health, Sample};
use crate::station::{Backing, InputId, InputKind, Pace, Station};
use logic_rules::plan::Fault;
use logic_rules::{Algebra, Plain, Sliced};
use std::collections::BTreeSet;

/// Literals, beyond which no further scan is looked at.
const LITERALS: usize = 300_000;
/// Scans that are asked about in any case.
const SOON: usize = 6;
/// Where few inputs are free, speeds change only after each so many scans.
const STEADY: usize = 10;

/// A question to the solver.
pub struct Asked<'q> {
    /// Where it goes on from, as the old rules and the new ones read it.
    pub histories: &'q [History; 2],
    /// What does not matter reads so, on each side.
    pub calm: [&'q Sample; 2],
    /// What is to be the first difference.
    pub wanted: Difference,
    /// Only these inputs of each side do anything; all if it is not said.
    pub free: Option<[&'q BTreeSet<InputId>; 2]>,
    /// Scans that the solver chooses at most, and those before which a difference is hardly to be expected.
    pub scans: usize,
    /// See above; the first few scans are asked about in any case.
    pub from: usize,
    /// Conflicts that it may take.
    pub conflicts: u64,
}

/// What both sides read, scan by scan.
pub type Chosen = Vec<[Sample; 2]>;

/// Both sides as a circuit over many scans.
pub struct Solver<'t, 'm> {
    twin: &'t Twin<'m>,
    product: Product,
    cells: Vec<Cell>,
    /// What every scan keeps: no gauge and no source shows more than it can.
    bearable: Vec<Wire>,
}

impl<'t, 'm> Solver<'t, 'm> {
    /// A solver for two sides.
    ///
    /// # Errors
    /// None that verified plans can cause.
    pub fn new(twin: &'t Twin<'m>) -> Result<Self, Fault> {
        let mut product = Product::new(twin, &BTreeSet::new())?;
        let mut cells = Vec::new();
        for (((name, now), next), first) in twin.names.iter().zip(&product.now).zip(&product.next).zip(&twin.first) {
            let (now, is_bit) = wires(now);
            let (mut next, _) = wires(next);
            next.resize(now.len(), Wire::FALSE);
            let first = match first {
                Value::Bit(bit) => u32::from(*bit),
                Value::Word(word) => *word,
            };
            cells.push(Cell { name: name.clone(), now, next, first, is_bit });
        }
        let mut a = Sliced(std::mem::take(&mut product.graph));
        let mut bearable = Vec::new();
        for (given, side) in [(&product.given.0, &twin.old), (&product.given.1, &twin.new)] {
            for (i, gauge) in given.gauges.iter().enumerate() {
                bearable.push(a.more_than(gauge.value, side.model.gauge_top(i)).opposite());
            }
            for (i, source) in given.sources.iter().enumerate() {
                for moved in [source.forward, source.back] {
                    bearable.push(a.at_least(moved, side.model.source_top(i)).opposite());
                }
            }
        }
        product.graph = a.0;
        Ok(Self { twin, product, cells, bearable })
    }
    /// Goes on until a difference is the first, if the solver finds how: what both sides read then, scan by scan, and the
    /// conflicts it took.
    ///
    /// # Errors
    /// None that verified plans can cause.
    pub fn after(&self, asked: &Asked<'_>) -> Result<(Option<Chosen>, u64), Fault> {
        let start = self.state(asked.histories)?;
        let Product { graph, differences, parted, given, .. } = &self.product;
        let Some((_, bad)) = differences.iter().find(|(difference, _)| *difference == asked.wanted) else {
            return Ok((None, 0));
        };
        let mut frames = Frames::over(graph, &self.cells, &|_| true, Begin::In(&start));
        frames.limit(asked.conflicts);
        let spent = |frames: &Frames<'_>| asked.conflicts.saturating_sub(frames.left());
        if let Some([old, new]) = asked.free {
            // The new side first: what it shares with the old one is left to that.
            let stations = [self.twin.old.model.station, self.twin.new.model.station];
            fix(&mut frames, &given.1, stations[1], new, asked.calm[1]);
            fix(&mut frames, &given.0, stations[0], old, asked.calm[0]);
            for moved in given.0.sources.iter().chain(&given.1.sources) {
                let bits = moved.forward.bits().iter().chain(moved.back.bits());
                bits.for_each(|bit| frames.steady(*bit, STEADY));
            }
        }
        for scan in 0..asked.scans {
            self.bearable.iter().for_each(|&wire| frames.hold(scan, wire));
            if (SOON..asked.from).contains(&scan) {
                frames.hold(scan, parted.opposite());
                continue;
            }
            let lit = frames.lit(scan, *bad);
            match frames.ask(&[lit]) {
                Answer::Found => {
                    let [old, new] = asked.calm;
                    let both = |scan| [sample(&frames, &given.0, scan, old), sample(&frames, &given.1, scan, new)];
                    return Ok((Some((0..=scan).map(both).collect()), spent(&frames)));
                }
                Answer::None if frames.literals() <= LITERALS => frames.hold(scan, parted.opposite()),
                Answer::None | Answer::Unknown => break,
            }
        }
        Ok((None, spent(&frames)))
    }
    /// The cells of both sides after a history.
    fn state(&self, histories: &[History; 2]) -> Result<Vec<u32>, Fault> {
        let mut cells: Vec<Value<Plain>> = self.twin.first.iter().map(copy).collect();
        let [old, new] = histories;
        for (old, new) in old.samples().zip(new.samples()) {
            cells = self.twin.scan(&mut Plain, &cells, &(plain(old), plain(new)))?.0;
        }
        let number = |cell: &Value<Plain>| match cell {
            Value::Bit(bit) => u32::from(*bit),
            Value::Word(word) => *word,
        };
        Ok(cells.iter().map(number).collect())
    }
}

/// Inputs that are not to do anything read as in `calm`.
fn fix(frames: &mut Frames<'_>, given: &Given<Circuit>, station: &Station, free: &BTreeSet<InputId>, calm: &Sample) {
    let inputs: Vec<&InputKind> = free.iter().filter_map(|input| station.inputs.get(*input)).map(|i| &i.kind).collect();
    let channels: BTreeSet<usize> = free.iter().flat_map(|input| station.channels_of(*input)).collect();
    for (i, (wire, level)) in given.channels.iter().zip(&calm.channels).enumerate() {
        if !channels.contains(&i) {
            frames.fix(*wire, *level);
        }
    }
    for (i, (gauge, reading)) in given.gauges.iter().zip(&calm.gauges).enumerate() {
        if !inputs.iter().any(|kind| matches!(kind, InputKind::Gauge(g) if g.terminal == i)) {
            fix_word(frames, &gauge.value, reading.steps);
            frames.fix(gauge.good, reading.health == Health::Good);
            frames.fix(gauge.broken, reading.health == Health::Broken);
        }
    }
    for (i, (moved, mm)) in given.sources.iter().zip(&calm.travel).enumerate() {
        let counts =
            |pace: &Pace| pace.source == i || matches!(pace.backing, Backing::Source(second, _) if second == i);
        if !inputs.iter().any(|kind| matches!(kind, InputKind::Pace(pace) if counts(pace))) {
            fix_word(frames, &moved.forward, u32::try_from(*mm).unwrap_or(0));
            fix_word(frames, &moved.back, u32::try_from(mm.saturating_neg()).unwrap_or(0));
        }
    }
    for (i, (link, frame)) in given.links.iter().zip(&calm.links).enumerate() {
        if !inputs.iter().any(|kind| matches!(kind, InputKind::Link(l) if l.terminal == i)) {
            frames.fix(link.fresh, frame.fresh);
            fix_word(frames, &link.order, u32::from(frame.order));
        }
    }
}

fn wires(value: &Value<Circuit>) -> (Vec<Wire>, bool) {
    match value {
        Value::Bit(bit) => (vec![*bit], true),
        Value::Word(word) => (word.bits().to_vec(), false),
    }
}

fn plain(sample: &Sample) -> Given<Plain> {
    let mut given = Given { channels: vec![], gauges: vec![], sources: vec![], links: vec![], picks: vec![] };
    let Given { channels, gauges, sources, links, .. } = &mut given;
    lift(&mut Plain, sample, channels, gauges, sources, links);
    given
}
