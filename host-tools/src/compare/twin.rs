//! Both sides as one machine: their cells one after the other, their inputs tied where they belong together.

use super::pairs::Pairs;
use super::side::{Seen, Side, copy};
use crate::prove::cells::names;
use crate::prove::circuit;
use crate::prove::lemma::{Lemma, Value};
use crate::prove::model::{Given, Model};
use logic_rules::plan::Fault;
use logic_rules::step::{Moved, Reading};
use logic_rules::{Algebra, Gates, Plain, Sliced, Slices};
use std::collections::HashMap;

/// Both sides.
pub struct Twin<'m> {
    /// The old rules.
    pub old: Side<'m>,
    /// The new rules.
    pub new: Side<'m>,
    /// What belongs together.
    pub pairs: &'m Pairs,
    /// Names of all cells: those of the old rules, `old:`, then those of the new ones, `new:`.
    pub names: Vec<String>,
    /// Bits of each cell, enough for every state that can be reached.
    pub widths: Vec<usize>,
    /// Each cell at power-up.
    pub first: Vec<Value<Plain>>,
    /// Number of cells of the old rules.
    pub olds: usize,
    /// Of each cell of the old rules the cell of the new ones that has its name.
    pub mates: Vec<Option<usize>>,
}

/// The cells after a scan, and what is seen of each side.
pub type Scanned<A> = (Vec<Value<A>>, Seen<A>, Seen<A>);

impl<'m> Twin<'m> {
    /// Puts both sides together.
    ///
    /// # Errors
    /// None that a station which was checked can cause.
    pub fn new(old: &'m Model<'m>, new: &'m Model<'m>, pairs: &'m Pairs) -> Result<Self, Fault> {
        let (mut all, mut widths, mut first, mut olds) = (Vec::new(), Vec::new(), Vec::new(), 0);
        for (model, prefix) in [(old, "old:"), (new, "new:")] {
            let needs = model.plan.needs();
            let own = needs.bits + needs.words;
            all.extend(names(model).into_iter().take(own).map(|name| format!("{prefix}{name}")));
            widths.extend(circuit::widths(model)?.into_iter().take(own));
            let memory = model.power_up(&mut Plain)?;
            first.extend(memory.bits.into_iter().map(Value::Bit));
            first.extend(memory.words.into_iter().map(Value::Word));
            if prefix == "old:" {
                olds = own;
            }
        }
        let by_name: HashMap<&str, usize> =
            all.iter().enumerate().skip(olds).map(|(id, name)| (name.trim_start_matches("new:"), id)).collect();
        let is_bit = |id: usize| matches!(first.get(id), Some(Value::Bit(_)));
        let mate = |(id, name): (usize, &String)| {
            by_name.get(name.trim_start_matches("old:")).copied().filter(|mate| is_bit(*mate) == is_bit(id))
        };
        let mates = all.iter().enumerate().take(olds).map(mate).collect();
        let (old, new) = (Side::new(old, pairs, true), Side::new(new, pairs, false));
        Ok(Self { old, new, pairs, names: all, widths, first, olds, mates })
    }
    /// One scan of both.
    ///
    /// # Errors
    /// As [`Side::scan`].
    pub fn scan<A: Algebra>(
        &self,
        a: &mut A,
        cells: &[Value<A>],
        given: &(Given<A>, Given<A>),
    ) -> Result<Scanned<A>, Fault> {
        let (olds, news) = cells.split_at_checked(self.olds).unwrap_or((cells, &[]));
        let (mut next, old) = self.old.scan(a, olds, &given.0)?;
        let (after, new) = self.new.scan(a, news, &given.1)?;
        next.extend(after);
        Ok((next, old, new))
    }
    /// Inputs of both, tied where they belong together.
    pub fn given<G: Gates>(
        &self,
        a: &mut Sliced<G>,
        fresh: &mut dyn FnMut(&mut G) -> G::Bit,
    ) -> (Given<Sliced<G>>, Given<Sliced<G>>) {
        let mut old = circuit::given(self.old.model, a, fresh);
        let mut new = circuit::given(self.new.model, a, fresh);
        for (cell, mate) in new.channels.iter_mut().zip(&self.pairs.channels) {
            if let Some(other) = mate.and_then(|i| old.channels.get(i)) {
                *cell = *other;
            }
        }
        for (cell, mate) in new.gauges.iter_mut().zip(&self.pairs.gauges) {
            if let Some(other) = mate.and_then(|i| old.gauges.get(i)) {
                *cell = Reading { ..*other };
            }
        }
        // Where one side can count more than the other, both get what the wider one can count.
        for (cell, mate) in new.sources.iter_mut().zip(&self.pairs.sources) {
            if let Some(other) = mate.and_then(|i| old.sources.get_mut(i)) {
                let wide = |word: &Slices<G::Bit>| word.bits().len();
                if wide(&cell.forward) > wide(&other.forward) {
                    *other = Moved { ..*cell };
                } else {
                    *cell = Moved { ..*other };
                }
            }
        }
        for (cell, mate) in new.links.iter_mut().zip(&self.pairs.links) {
            if let Some(other) = mate.and_then(|i| old.links.get_mut(i)) {
                if cell.order.bits().len() > other.order.bits().len() {
                    other.order = cell.order;
                }
                (cell.fresh, cell.order) = (other.fresh, other.order);
            }
        }
        (old, new)
    }
    /// A lemma holds at power-up.
    pub fn begins(&self, lemma: &Lemma) -> bool {
        lemma.holds(&mut Plain, &|id| self.first.get(id).map(copy))
    }
    /// A cell is a bit.
    pub fn is_bit(&self, id: usize) -> bool {
        matches!(self.first.get(id), Some(Value::Bit(_)))
    }
    /// Bits of a cell.
    pub fn width(&self, id: usize) -> usize {
        self.widths.get(id).copied().unwrap_or(0)
    }
}
