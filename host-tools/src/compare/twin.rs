//! Both sides as one machine: their cells one after the other, their inputs tied where they belong together.

use super::pairs::Pairs;
use super::side::{Difference, Seen, Side, What, copy, differ};
use crate::prove::cells::{names, way};
use crate::prove::circuit;
use crate::prove::lemma::{Lemma, Value};
use crate::prove::model::{Given, Model};
use logic_rules::plan::Fault;
use logic_rules::step::{Moved, Reading};
use logic_rules::{Algebra, Gates, Plain, Sliced, Slices};
use std::collections::HashMap;

/// What a controller tells of a statement beside what it publishes: that a way of it trips, or that a bypass is active.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// Its name.
    pub name: String,
    /// It is a bypass.
    pub bypass: bool,
    /// Its number in the old rules, if they have it.
    pub old: Option<usize>,
    /// Its number in the new rules, if they have it.
    pub new: Option<usize>,
}

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
    /// What else the sides are told apart by; nothing, unless asked for.
    pub told: Vec<Told>,
}

/// The cells after a scan, and what is seen of each side.
pub type Scanned<A> = (Vec<Value<A>>, Seen<A>, Seen<A>);

/// What a controller tells of its statements: bypass or not, name, and number.
fn told(model: &Model<'_>) -> Vec<(bool, String, usize)> {
    let ways = 0..model.program.by_severity.len();
    let way = |number: usize| way(model.station, model.program, u16::try_from(number).unwrap_or(u16::MAX));
    let bypasses = model.station.bypasses.iter().enumerate();
    let bypasses = bypasses.map(|(number, bypass)| (true, bypass.name.text.clone(), number));
    ways.map(|number| (false, way(number), number)).chain(bypasses).collect()
}

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
        Ok(Self { old, new, pairs, names: all, widths, first, olds, mates, told: Vec::new() })
    }
    /// Their histories part as soon as a statement trips on one side alone, or a bypass is active on one side alone, though
    /// nothing that is published differs by it.
    #[must_use]
    pub fn closely(mut self) -> Self {
        let [old, new] = [&self.old, &self.new].map(|side| told(side.model));
        let place = |of: &[(bool, String, usize)], bypass: bool, name: &str| {
            of.iter().find(|(kind, other, _)| *kind == bypass && other == name).map(|(_, _, number)| *number)
        };
        for (bypass, name, number) in &old {
            let mate = place(&new, *bypass, name);
            self.told.push(Told { name: name.clone(), bypass: *bypass, old: Some(*number), new: mate });
        }
        for (bypass, name, number) in new {
            if place(&old, bypass, &name).is_none() {
                self.told.push(Told { name, bypass, old: None, new: Some(number) });
            }
        }
        self
    }
    /// Every difference that there can be.
    pub fn all(&self) -> Vec<Difference> {
        let statements = (0..self.told.len()).map(What::Statement);
        let each = statements.flat_map(|what| [true, false].map(|milder| Difference { milder, what }));
        super::side::all(self.pairs).into_iter().chain(each).collect()
    }
    /// Each difference in a scan, in the order of [`all`](Self::all). A statement that trips on the old side alone is milder
    /// on the new one; so is a bypass that is active on the new side alone.
    pub fn differ<A: Algebra>(&self, a: &mut A, old: &Seen<A>, new: &Seen<A>) -> Vec<(Difference, A::Bit)> {
        let (mut out, no) = (differ(a, self.pairs, old, new), a.bit(false));
        for (number, told) in self.told.iter().enumerate() {
            let of = |seen: &Seen<A>, at: Option<usize>| {
                let list = if told.bypass { &seen.active } else { &seen.trips };
                at.and_then(|at| list.get(at)).copied().unwrap_or(no)
            };
            let (was, is) = (of(old, told.old), of(new, told.new));
            for milder in [true, false] {
                let bit = if milder == told.bypass { a.but(is, was) } else { a.but(was, is) };
                out.push((Difference { milder, what: What::Statement(number) }, bit));
            }
        }
        out
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
