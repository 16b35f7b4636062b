//! What one side does in a scan, over any reading, and in what two sides can differ.

use super::pairs::Pairs;
use crate::prove::lemma::Value;
use crate::prove::model::{Given, Model};
use logic_rules::Algebra;
use logic_rules::plan::{Fault, TravelRow};
use logic_rules::step::{Bound, Inputs};

/// What a scan comes to. Places are those of the common scale of answers.
pub struct Seen<A: Algebra> {
    /// The verdict is at least this answer.
    pub answer: Vec<A::Bit>,
    /// What trips in this scan, or asks for a slow order, comes to at least this answer.
    pub call: Vec<A::Bit>,
    /// Just this answer stands, whatever else does.
    pub stands: Vec<A::Bit>,
    /// Just this answer is called for, whatever else is.
    pub calls: Vec<A::Bit>,
    /// Each output is off.
    pub off: Vec<A::Bit>,
    /// A start is permitted.
    pub permit: A::Bit,
    /// The reset acts.
    pub reset: A::Bit,
    /// Each way of a statement trips, by its number in the tables.
    pub trips: Vec<A::Bit>,
    /// Each bypass is active.
    pub active: Vec<A::Bit>,
    /// Each travel takes a carrier at its end for the one that it follows, neither early nor late, by its number in the tables.
    pub arrives: Vec<A::Bit>,
}

/// In what two sides can differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum What {
    /// One has an answer of this place on the common scale, the other a milder one.
    Answer(usize),
    /// One has an answer of this place, the other has not; the most severe one is the same on both sides.
    Beneath(usize),
    /// An output, by its number in the old rules.
    Output(usize),
    /// The start permit.
    Permit,
    /// The reset.
    Reset,
    /// What a controller tells of a statement, by its number among [`Twin::told`](super::twin::Twin::told); where the sides are
    /// told apart by that too.
    Statement(usize),
}

/// A difference, and which way it goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Difference {
    /// The new rules are the milder ones.
    pub milder: bool,
    /// In what.
    pub what: What,
}

/// One side.
pub struct Side<'m> {
    /// Its rules.
    pub model: &'m Model<'m>,
    /// For each place of the common scale the least rank of this side that is at least so severe.
    least: Vec<usize>,
    /// This side has an answer of this place.
    own: Vec<bool>,
}

impl<'m> Side<'m> {
    /// A side: the old one, or the new one.
    pub fn new(model: &'m Model<'m>, pairs: &Pairs, old: bool) -> Self {
        let own: Vec<bool> =
            pairs.answers.iter().map(|answer| if old { answer.old } else { answer.new }.is_some()).collect();
        let least = (0..own.len()).map(|place| own.iter().take(place).filter(|own| **own).count() + 1).collect();
        Self { model, least, own }
    }
    /// One scan: the cells after it, and what is seen.
    ///
    /// # Errors
    /// None that a verified plan with its own cells and inputs can cause.
    pub fn scan<A: Algebra>(
        &self,
        a: &mut A,
        cells: &[Value<A>],
        given: &Given<A>,
    ) -> Result<(Vec<Value<A>>, Seen<A>), Fault> {
        let (plan, no_room) = (self.model.plan, Fault::TooMany("cells"));
        let (needs, no, zero) = (plan.needs(), a.bit(false), a.word(0));
        let mut bits: Vec<A::Bit> =
            cells.iter().filter_map(|cell| if let Value::Bit(bit) = cell { Some(*bit) } else { None }).collect();
        let mut words: Vec<A::Word> =
            cells.iter().filter_map(|cell| if let Value::Word(word) = cell { Some(*word) } else { None }).collect();
        let (mut work_bits, mut work_words) = (vec![no; needs.work_bits], vec![zero; needs.work_words]);
        let mut rules = Bound::over(plan, &mut bits, &mut words, &mut work_bits, &mut work_words).ok_or(no_room)?;
        let inputs =
            Inputs { channels: &given.channels, gauges: &given.gauges, sources: &given.sources, links: &given.links };
        let verdict = rules.scan(a, &inputs).ok_or(no_room)?;
        let stands: Vec<A::Bit> = rules.work.stands.iter().map(|[bit]| *bit).collect();
        let first_stop = usize::from(self.model.station.first_stop());
        let program = self.model.program;
        let mut called = stands.clone();
        for (rank, cell) in (1..).zip(&mut called) {
            if rank < first_stop {
                continue;
            }
            *cell = no;
            for ([trip], way) in rules.work.trip.iter().zip(&program.by_severity) {
                if program.ways.get(*way).is_some_and(|way| usize::from(way.answer) == rank) {
                    *cell = a.or(*cell, *trip);
                }
            }
        }
        let off = rules.bits().output.iter().map(|[off, _]| *off).collect();
        let (answer, call) = (self.on_scale(a, &stands), self.on_scale(a, &called));
        let (stands, calls) = (self.exactly(&stands, no), self.exactly(&called, no));
        let trips = rules.work.trip.iter().map(|[trip]| *trip).collect();
        let active = rules.work.active.iter().map(|[active]| *active).collect();
        let trip = |way: u16| rules.work.trip.get(usize::from(way)).map_or(no, |[trip]| *trip);
        let mut arrives = Vec::new();
        for (row, [judged]) in plan.tables().travels.iter().map(TravelRow::read).zip(rules.work.judged.iter()) {
            let amiss = a.or(trip(row.early), trip(row.late));
            arrives.push(a.but(*judged, amiss));
        }
        let (permit, reset) = (verdict.permit, verdict.reset);
        let seen = Seen { answer, call, stands, calls, off, permit, reset, trips, active, arrives };
        let cells = bits.into_iter().map(Value::Bit).chain(words.into_iter().map(Value::Word)).collect();
        Ok((cells, seen))
    }
    /// Each rank of this side at its place on the common scale; never where this side has none.
    fn exactly<B: Copy>(&self, ranks: &[B], no: B) -> Vec<B> {
        let of = |(least, own): (&usize, &bool)| if *own { ranks.get(least - 1).copied().unwrap_or(no) } else { no };
        self.least.iter().zip(&self.own).map(of).collect()
    }
    /// From "each rank of this side" to "at least so severe", at each place of the common scale.
    fn on_scale<A: Algebra>(&self, a: &mut A, ranks: &[A::Bit]) -> Vec<A::Bit> {
        let mut at_least = vec![a.bit(false)];
        for rank in ranks.iter().rev() {
            let so_far = at_least.last().copied().unwrap_or(*rank);
            at_least.push(a.or(so_far, *rank));
        }
        at_least.reverse();
        let no = a.bit(false);
        self.least.iter().map(|least| at_least.get(least - 1).copied().unwrap_or(no)).collect()
    }
}

/// Every difference that there can be.
pub fn all(pairs: &Pairs) -> Vec<Difference> {
    let answers = (0..pairs.answers.len()).rev().map(What::Answer);
    // Nothing is more severe than the last one.
    let beneath = (0..pairs.answers.len().saturating_sub(1)).rev().map(What::Beneath);
    let outputs = pairs.outputs.iter().flatten().copied().map(What::Output);
    let whats: Vec<What> = answers.chain(beneath).chain(outputs).chain([What::Permit, What::Reset]).collect();
    let both = |milder| whats.iter().map(move |what| Difference { milder, what: *what });
    both(true).chain(both(false)).collect()
}

/// Each difference in a scan, in the order of [`all`].
pub fn differ<A: Algebra>(a: &mut A, pairs: &Pairs, old: &Seen<A>, new: &Seen<A>) -> Vec<(Difference, A::Bit)> {
    let mut out = Vec::new();
    for difference in all(pairs) {
        let (more, less) = if difference.milder { (old, new) } else { (new, old) };
        let no = a.bit(false);
        let bit = match difference.what {
            What::Answer(place) => {
                let mut either = no;
                for (more, less) in [(&more.call, &less.call), (&more.answer, &less.answer)] {
                    let at = |list: &Vec<A::Bit>, place: usize| list.get(place).copied().unwrap_or(no);
                    let exactly = a.but(at(more, place), at(more, place + 1));
                    let lost = a.but(exactly, at(less, place));
                    either = a.or(either, lost);
                }
                either
            }
            What::Beneath(place) => {
                let mut either = no;
                let sides = [
                    (&more.calls, &less.calls, &more.call, &less.call),
                    (&more.stands, &less.stands, &more.answer, &less.answer),
                ];
                for (these, others, more, less) in sides {
                    let at = |list: &Vec<A::Bit>| list.get(place).copied().unwrap_or(no);
                    let mut lost = a.but(at(these), at(others));
                    for (x, y) in more.iter().zip(less) {
                        let differ = a.xor(*x, *y);
                        lost = a.but(lost, differ);
                    }
                    either = a.or(either, lost);
                }
                either
            }
            What::Output(number) => {
                let own = pairs.outputs.iter().position(|old| *old == Some(number));
                let (x, y) = (old.off.get(number).copied(), own.and_then(|own| new.off.get(own)).copied());
                let (x, y) = (x.unwrap_or(no), y.unwrap_or(no));
                if difference.milder { a.but(x, y) } else { a.but(y, x) }
            }
            What::Permit => a.but(less.permit, more.permit),
            What::Reset => a.but(less.reset, more.reset),
            What::Statement(_) => no,
        };
        out.push((difference, bit));
    }
    out
}

/// Any of these.
pub fn any<A: Algebra>(a: &mut A, all: &[(Difference, A::Bit)]) -> A::Bit {
    let mut any = a.bit(false);
    for (_, bit) in all {
        any = a.or(any, *bit);
    }
    any
}

/// The same value once more.
pub fn copy<A: Algebra>(value: &Value<A>) -> Value<A> {
    match value {
        Value::Bit(bit) => Value::Bit(*bit),
        Value::Word(word) => Value::Word(*word),
    }
}
