//! Both sides as one circuit. Cells that are taken to be equal are the same variables, so that what is the same on both
//! sides is the same gate and asks nothing of a solver.

use super::side::{Difference, any, copy};
use super::twin::Twin;
use crate::prove::circuit::Circuit;
use crate::prove::graph::{Graph, Wire};
use crate::prove::lemma::{Lemma, Value};
use crate::prove::model::Given;
use logic_rules::plan::Fault;
use logic_rules::{Sliced, Slices};
use std::collections::BTreeSet;

/// One scan of both sides.
pub struct Product {
    /// The gates.
    pub graph: Graph,
    /// Cells before the scan.
    pub now: Vec<Value<Circuit>>,
    /// Cells after it.
    pub next: Vec<Value<Circuit>>,
    /// Inputs of both.
    pub given: (Given<Circuit>, Given<Circuit>),
    /// Each difference.
    pub differences: Vec<(Difference, Wire)>,
    /// Any of them.
    pub parted: Wire,
}

impl Product {
    /// One scan from any state in which the cells of the old rules that are named are equal to those of the new ones.
    ///
    /// # Errors
    /// None that verified plans can cause.
    pub fn new(twin: &Twin<'_>, equal: &BTreeSet<usize>) -> Result<Self, Fault> {
        let mut a = Sliced(Graph::default());
        let mut now: Vec<Value<Circuit>> = Vec::new();
        let mut shared = vec![None; twin.names.len()];
        for id in 0..twin.names.len() {
            let mate = twin.mates.get(id).copied().flatten().filter(|_| equal.contains(&id));
            let width = mate.map_or(twin.width(id), |mate| twin.width(id).min(twin.width(mate)));
            let value = match shared.get(id).copied().flatten() {
                Some(other) => now.get(other).map(copy),
                None => None,
            };
            let value = value.unwrap_or_else(|| {
                let bits: Vec<Wire> = (0..width).map(|_| a.0.variable()).collect();
                match bits.first() {
                    Some(bit) if twin.is_bit(id) => Value::Bit(*bit),
                    _ => Value::Word(Slices::from_bits(&bits, Wire::FALSE)),
                }
            });
            if let Some(cell) = mate.and_then(|mate| shared.get_mut(mate)) {
                *cell = Some(id);
            }
            now.push(value);
        }
        let given = twin.given(&mut a, &mut Graph::variable);
        let (next, old, new) = twin.scan(&mut a, &now, &given)?;
        let differences = twin.differ(&mut a, &old, &new);
        let parted = any(&mut a, &differences);
        Ok(Self { graph: a.0, now, next, given, differences, parted })
    }
    /// The wires of a lemma, before the scan and after it.
    pub fn lemma(&mut self, lemma: &Lemma) -> [Wire; 2] {
        let mut a = Sliced(std::mem::take(&mut self.graph));
        let wires = [&self.now, &self.next].map(|cells| lemma.holds(&mut a, &|id| cells.get(id).map(copy)));
        self.graph = a.0;
        wires
    }
}
