//! Both sides as one machine: their cells one after the other, their inputs tied where they belong together.

use super::pairs::Pairs;
use super::side::{Difference, Seen, Side, What, copy, differ};
use crate::prove::cells::{names, way};
use crate::prove::circuit;
use crate::prove::lemma::{CellId, Claim, Lemma, Sum, Value};
use crate::prove::model::{Given, Model};
use logic_rules::plan::Fault;
use logic_rules::step::{Moved, Reading};
use logic_rules::{Algebra, Gates, Plain, Sliced, Slices};
use std::collections::HashMap;

/// What a controller tells of its statements beside what it publishes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tells {
    /// A way of a statement trips.
    Trips,
    /// A bypass is active.
    Active,
    /// A travel takes a carrier at its end for the one that it follows, neither early nor late.
    Arrives,
}

/// One thing that a controller tells of a statement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// Its name.
    pub name: String,
    /// What it tells.
    pub tells: Tells,
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

/// What a controller tells of its statements: what, the name, and the number.
fn told(model: &Model<'_>) -> Vec<(Tells, String, usize)> {
    let (station, program) = (model.station, model.program);
    let ways = 0..program.by_severity.len();
    let way = |number: usize| way(station, program, u16::try_from(number).unwrap_or(u16::MAX));
    let bypasses = station.bypasses.iter().enumerate();
    let travels = program.travel_watches.iter().filter_map(|id| station.watches.get(*id)).enumerate();
    let trips = ways.map(|number| (Tells::Trips, way(number), number));
    let active = bypasses.map(|(number, bypass)| (Tells::Active, bypass.name.text.clone(), number));
    let arrives = travels.map(|(number, travel)| (Tells::Arrives, format!("{}.arrives", travel.name.text), number));
    trips.chain(active).chain(arrives).collect()
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
    /// Their histories part as soon as a statement trips on one side alone, a bypass is active on one side alone, or a travel
    /// takes a carrier for the one that it follows on one side alone, though nothing that is published differs by it.
    #[must_use]
    pub fn closely(mut self) -> Self {
        let [old, new] = [&self.old, &self.new].map(|side| told(side.model));
        let place = |of: &[(Tells, String, usize)], tells: Tells, name: &str| {
            of.iter().find(|(kind, other, _)| *kind == tells && other == name).map(|(_, _, number)| *number)
        };
        for (tells, name, number) in &old {
            let mate = place(&new, *tells, name);
            self.told.push(Told { name: name.clone(), tells: *tells, old: Some(*number), new: mate });
        }
        for (tells, name, number) in new {
            if place(&old, tells, &name).is_none() {
                self.told.push(Told { name, tells, old: None, new: Some(number) });
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
    /// on the new one; so is a bypass that is active, or a carrier that is taken as having arrived, on the new side alone.
    pub fn differ<A: Algebra>(&self, a: &mut A, old: &Seen<A>, new: &Seen<A>) -> Vec<(Difference, A::Bit)> {
        let (mut out, no) = (differ(a, self.pairs, old, new), a.bit(false));
        for (number, told) in self.told.iter().enumerate() {
            let of = |seen: &Seen<A>, at: Option<usize>| {
                let list = match told.tells {
                    Tells::Trips => &seen.trips,
                    Tells::Active => &seen.active,
                    Tells::Arrives => &seen.arrives,
                };
                at.and_then(|at| list.get(at)).copied().unwrap_or(no)
            };
            let (was, is) = (of(old, told.old), of(new, told.new));
            for milder in [true, false] {
                let bit = if milder == (told.tells != Tells::Trips) { a.but(is, was) } else { a.but(was, is) };
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
    /// What is known of carriers that follow each other on a stretch, on each side for itself: places are taken from the
    /// front, and who is in front is the older one.
    pub fn orders(&self) -> Vec<Lemma> {
        let by_name: HashMap<&str, CellId> =
            self.names.iter().enumerate().map(|(id, name)| (name.as_str(), id)).collect();
        let mut all = Vec::new();
        for (side, prefix) in [(&self.old, "old:"), (&self.new, "new:")] {
            for travel in &side.model.station.watches {
                let cell = |place: u32, what: &str| {
                    by_name.get(format!("{prefix}{}.{place}.{what}", travel.name.text).as_str()).copied()
                };
                for behind in 1.. {
                    let (Some(front), Some(next)) = (cell(behind - 1, "taken"), cell(behind, "taken")) else { break };
                    all.push(Lemma::when(&[Claim::Is(next)], &[Claim::Is(front)]));
                    for count in ["age", "time"] {
                        if let (Some(older), Some(younger)) = (cell(behind - 1, count), cell(behind, count)) {
                            let ordered = Claim::AtMost(Sum::cell(younger), Sum::cell(older));
                            all.push(Lemma::when(&[Claim::Is(next)], &[ordered]));
                        }
                    }
                }
            }
        }
        all
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

#[cfg(test)]
mod tests {
    use super::super::{Both, Revision};
    use super::*;
    use crate::load::load;
    use crate::text::parse::Source;

    fn revision(latest: &str) -> Revision {
        let rules = include_str!("../../demo/drive-terminal.rules").replace("takes 3.296 m to 3.986 m", latest);
        let required = include_str!("../../demo/drive-terminal.requirements.rules");
        let source = |text: &str| Source { path: "a.rules".into(), bytes: text.as_bytes().to_vec() };
        Revision::of(&load(vec![source(&rules), source(required)])).unwrap()
    }

    #[test]
    fn a_trip_on_the_old_side_alone_is_milder_and_so_is_an_arrival_or_a_bypass_on_the_new_one() {
        let both = Both::new(&revision("takes 3.296 m to 3.986 m"), &revision("takes 3.296 m to 3.906 m"));
        let told = both.with_close_twin(|twin| {
            let calm = || Seen::<Plain> {
                answer: Vec::new(),
                call: Vec::new(),
                stands: Vec::new(),
                calls: Vec::new(),
                off: Vec::new(),
                permit: false,
                reset: false,
                trips: vec![false; twin.told.len()],
                active: vec![false; twin.told.len()],
                arrives: vec![false; twin.told.len()],
            };
            let differences = |old: &Seen<Plain>, new: &Seen<Plain>| -> Vec<(String, bool)> {
                let all = twin.differ(&mut Plain, old, new).into_iter().filter(|(_, is)| *is);
                let what = |difference: Difference| match difference.what {
                    What::Statement(at) => twin.told[at].name.clone(),
                    other => format!("{other:?}"),
                };
                all.map(|(difference, _)| (what(difference), difference.milder)).collect()
            };
            let mut all = Vec::new();
            for (tells, name) in [
                (Tells::Trips, "into-bay.late"),
                (Tells::Active, "rope-low-bypass"),
                (Tells::Arrives, "into-bay.arrives"),
            ] {
                let at = twin.told.iter().find(|told| told.tells == tells && told.name == name).unwrap().old.unwrap();
                let mut one = calm();
                let list = match tells {
                    Tells::Trips => &mut one.trips,
                    Tells::Active => &mut one.active,
                    Tells::Arrives => &mut one.arrives,
                };
                list[at] = true;
                assert_eq!(differences(&one, &one), []);
                all.push((differences(&one, &calm()), differences(&calm(), &one)));
            }
            all
        });
        let one = |name: &str, milder: bool| vec![(name.to_string(), milder)];
        let expected = [("into-bay.late", true), ("rope-low-bypass", false), ("into-bay.arrives", false)];
        let expected = expected.map(|(name, milder)| (one(name, milder), one(name, !milder)));
        assert_eq!(told.unwrap(), expected);
    }
}
