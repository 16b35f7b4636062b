//! Histories that a solver chooses, scan by scan from a state that is known, until the two sides differ.

use super::product::Product;
use super::side::{Difference, copy};
use super::twin::Twin;
use crate::prove::bounded::sample;
use crate::prove::circuit::{Cell, Circuit};
use crate::prove::frames::{Answer, Begin, Frames};
use crate::prove::graph::Wire;
use crate::prove::lemma::Value;
use crate::prove::model::Given;
use crate::refute::History;
use crate::run::lift;
use crate::sample::Sample;
use logic_rules::plan::Fault;
use logic_rules::{Algebra, Plain, Sliced};
use std::collections::BTreeSet;

/// Scans that the solver chooses at most, and literals.
const SCANS: usize = 60;
const LITERALS: usize = 2_000_000;

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
    /// Goes on from the end of a history, as the old rules and the new ones read it, until a difference is the first, if the solver
    /// finds how within so many conflicts: what both sides read then, scan by scan.
    ///
    /// # Errors
    /// None that verified plans can cause.
    pub fn after(
        &self,
        histories: &[History; 2],
        calm: [&Sample; 2],
        wanted: Difference,
        conflicts: u64,
    ) -> Result<Option<Vec<[Sample; 2]>>, Fault> {
        let start = self.state(histories)?;
        let Product { graph, differences, parted, given, .. } = &self.product;
        let Some((_, bad)) = differences.iter().find(|(difference, _)| *difference == wanted) else { return Ok(None) };
        let mut frames = Frames::over(graph, &self.cells, &|_| true, Begin::In(&start));
        frames.limit(conflicts);
        for scan in 0..SCANS {
            self.bearable.iter().for_each(|&wire| frames.hold(scan, wire));
            let lit = frames.lit(scan, *bad);
            match frames.ask(&[lit]) {
                Answer::Found => {
                    let [old, new] = calm;
                    let both = |scan| [sample(&frames, &given.0, scan, old), sample(&frames, &given.1, scan, new)];
                    return Ok(Some((0..=scan).map(both).collect()));
                }
                Answer::None if frames.literals() <= LITERALS => frames.hold(scan, parted.opposite()),
                Answer::None | Answer::Unknown => return Ok(None),
            }
        }
        Ok(None)
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
