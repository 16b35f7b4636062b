//! One scan. The order is that of the manual's "scan by scan" page: inputs settle; conditions;
//! watches; gates; latches; answers; outputs; reset last.

use crate::algebra::{Algebra, Cut};
use crate::cells::{Bits, State, Words, Work, WorkBits, WorkWords};
use crate::plan::Plan;

mod answer;
mod bypass;
mod condition;
mod confirm;
mod count;
mod exercise;
mod gauge;
mod hold;
mod latch;
mod line;
mod link;
mod measure;
mod mode;
mod output;
mod pace;
mod pair;
mod reset;
mod spacing;
mod travel;

pub use latch::power_up;

/// What is read of a gauge.
#[derive(Clone, Copy)]
pub struct Reading<A: Algebra> {
    /// Steps above the lowest.
    pub value: A::Word,
    /// The current is in the trusted range.
    pub good: A::Bit,
    /// The loop is broken or shorted; never together with `good`.
    pub broken: A::Bit,
}

/// What is read of a source of travel: one of the two is 0.
#[derive(Clone, Copy)]
pub struct Moved<A: Algebra> {
    /// Forward, mm.
    pub forward: A::Word,
    /// Backward, mm.
    pub back: A::Word,
}

/// What is read of a link.
#[derive(Clone, Copy)]
pub struct Frame<A: Algebra> {
    /// A good frame came.
    pub fresh: A::Bit,
    /// The rank it orders.
    pub order: A::Word,
}

/// Everything read in one scan, in the order of the plan.
#[derive(Clone, Copy)]
pub struct Inputs<'i, A: Algebra> {
    /// Level of each channel.
    pub channels: &'i [A::Bit],
    /// Each gauge.
    pub gauges: &'i [Reading<A>],
    /// Each source.
    pub sources: &'i [Moved<A>],
    /// Each link.
    pub links: &'i [Frame<A>],
}

/// What a scan publishes; details stand in the work.
#[derive(Clone, Copy)]
pub struct Verdict<A: Algebra> {
    /// Rank of the most severe answer; 0 for none.
    pub answer: A::Word,
    /// A start is permitted.
    pub permit: A::Bit,
    /// The reset acted (after this verdict).
    pub reset: A::Bit,
    /// Something trips in this scan.
    pub trips: A::Bit,
}

/// A plan bound to its cells. Binding costs more than a step of a small plan, so that a loop binds once.
pub struct Bound<'s, 'p, A: Algebra> {
    plan: &'p Plan<'p>,
    pub(crate) bits: Bits<'s, A::Bit>,
    pub(crate) words: Words<'s, A::Word>,
    /// Results of the last scan: bits.
    pub work: WorkBits<'s, A::Bit>,
    /// Results of the last scan: words.
    pub levels: WorkWords<'s, A::Word>,
}

impl<'s, 'p, A: Algebra> Bound<'s, 'p, A> {
    /// Binds; `None` if the cells are not those of the plan.
    pub fn new<const B: usize, const W: usize, const WB: usize, const WW: usize>(
        plan: &'p Plan<'p>,
        state: &'s mut State<A, B, W>,
        work: &'s mut Work<A, WB, WW>,
    ) -> Option<Self> {
        Self::over(plan, &mut state.bits, &mut state.words, &mut work.bits, &mut work.words)
    }
    /// Binds to cells that lie anywhere, in the numbers that [`Plan::needs`] gives.
    #[inline(always)]
    pub fn over(
        plan: &'p Plan<'p>,
        bits: &'s mut [A::Bit],
        words: &'s mut [A::Word],
        work_bits: &'s mut [A::Bit],
        work_words: &'s mut [A::Word],
    ) -> Option<Self> {
        Some(Self {
            plan,
            bits: Bits::cut(bits, plan)?,
            words: Words::cut(words, plan)?,
            work: WorkBits::cut(work_bits, plan)?,
            levels: WorkWords::cut(work_words, plan)?,
        })
    }
    /// Bits of state, to be looked at.
    pub fn bits(&self) -> &Bits<'s, A::Bit> {
        &self.bits
    }
    /// Words of state, to be looked at.
    pub fn words(&self) -> &Words<'s, A::Word> {
        &self.words
    }
    /// One scan. `None` only if the inputs are fewer than the plan's; the caller must then stop.
    pub fn scan(&mut self, a: &mut A, inputs: &Inputs<'_, A>) -> Option<Verdict<A>> {
        let plan = self.plan;
        let tables = plan.tables();
        let (bits, words, work, levels) = (&mut self.bits, &mut self.words, &mut self.work, &mut self.levels);
        work.trip.fill([a.bit(false)]);
        work.judged.fill([a.bit(false)]);
        let first_scan = {
            let [started] = bits.started.first()?;
            a.not(*started)
        };
        line::settle(a, tables, bits, words, work, inputs, first_scan)?;
        condition::begin(a, tables, bits, work)?;
        line::chatter(a, tables, bits, words, work, inputs, first_scan)?;
        pair::pairs(a, tables, bits, words, work)?;
        pace::paces(a, tables, words, bits, work, levels, inputs)?;
        line::detectors(a, tables, bits, words, work, levels)?;
        gauge::gauges(a, tables, bits, words, work, levels, inputs)?;
        link::links(a, tables, words, work, inputs)?;
        output::read_back(a, tables, bits, words, work, inputs)?;
        condition::conditions(a, tables, work, levels)?;
        mode::modes(a, tables, bits, work, first_scan)?;
        bypass::activity(a, tables, bits, words, work, first_scan)?;
        hold::holds(a, tables, words, work)?;
        travel::travels(a, tables, bits, words, work, levels)?;
        measure::measures(a, tables, bits, words, work, levels)?;
        spacing::spacings(a, tables, bits, words, work, levels)?;
        exercise::exercises(a, tables, bits, words, work, levels)?;
        count::counts(a, tables, bits, words, work)?;
        let stood = any(a, bits.published);
        confirm::confirms(a, tables, bits, words, work, levels, stood)?;
        answer::not_slowed(a, tables, bits, words, work, stood)?;
        for (struck, trip) in work.struck.iter_mut().zip(work.trip.iter()) {
            *struck = *trip;
        }
        bypass::gates(a, tables, bits, work)?;
        for (way, [trip]) in work.trip.iter_mut().enumerate() {
            *trip = a.cut(Cut::Way(way), *trip);
        }
        let asked = latch::latches(a, tables, bits, work)?;
        let answer = answer::answers(a, tables, bits, work, asked.any)?;
        output::outputs(a, tables, bits, words, work, stood)?;
        let permit = answer::restart(a, tables, words, work)?;
        answer::publish(bits, work);
        let reset = reset::reset(a, tables, bits, words, work, asked.stops, first_scan)?;
        reset::refills(a, tables, bits, words, work, first_scan)?;
        let [started] = bits.started.first_mut()?;
        *started = a.bit(true);
        Some(Verdict { answer, permit, reset, trips: asked.trips })
    }
    /// Clears latches, first-out, remembered events and what was published: how judging of a recording begins that was
    /// made of a running lift. No controller does this.
    pub fn adopt(&mut self, a: &mut A) {
        let no = a.bit(false);
        for cells in [&mut self.bits.latch, &mut self.bits.first, &mut self.bits.memory, &mut self.bits.published] {
            cells.fill([no]);
        }
        self.bits.output.fill([no, no]);
        latch::refill_all(a, self.plan.tables(), &mut self.bits, &mut self.words);
    }
}

/// One scan of a plan over its state; see [`Bound::scan`].
pub fn step<A: Algebra, const B: usize, const W: usize, const WB: usize, const WW: usize>(
    a: &mut A,
    plan: &Plan<'_>,
    state: &mut State<A, B, W>,
    work: &mut Work<A, WB, WW>,
    inputs: &Inputs<'_, A>,
) -> Option<Verdict<A>> {
    Bound::new(plan, state, work)?.scan(a, inputs)
}

/// A cell by number.
#[inline(always)]
fn at<T: Copy>(cells: &[[T; 1]], index: u16) -> Option<T> {
    cells.get(usize::from(index)).map(|[cell]| *cell)
}
/// The rope that has run in this scan, forward and back.
#[inline(always)]
fn run<A: Algebra>(a: &mut A, levels: &WorkWords<'_, A::Word>, pace: u16) -> Option<A::Word> {
    let [forward, back] = *levels.travel.get(usize::from(pace))?;
    Some(a.add(forward, back, u32::MAX))
}
/// Whether a pace runs backwards in this scan.
#[inline(always)]
fn backwards<A: Algebra>(a: &mut A, levels: &WorkWords<'_, A::Word>, pace: u16) -> Option<A::Bit> {
    let [_, back] = *levels.travel.get(usize::from(pace))?;
    Some(a.at_least(back, 1))
}
/// Whether any line has an edge.
#[inline(always)]
fn edge<B: Copy>(work: &WorkBits<'_, B>) -> Option<B> {
    work.edge.first().map(|[edge]| *edge)
}
/// Whether any of these holds.
#[inline(always)]
fn any<A: Algebra>(a: &mut A, cells: &[[A::Bit; 1]]) -> A::Bit {
    let mut any = a.bit(false);
    for [cell] in cells {
        any = a.or(any, *cell);
    }
    any
}
/// Whether any of these counts is under way.
#[inline(always)]
fn counting<A: Algebra, const N: usize>(a: &mut A, counts: &[[A::Word; N]]) -> A::Bit {
    let mut any = a.bit(false);
    for count in counts.iter().filter_map(|cells| cells.first()) {
        let counts = a.at_least(*count, 1);
        any = a.or(any, counts);
    }
    any
}
/// A way trips where `when` holds; others keep what they have.
#[inline(always)]
fn trip<A: Algebra>(a: &mut A, trips: &mut [[A::Bit; 1]], way: u16, when: A::Bit) {
    if a.possible(when) {
        strike(a, trips, way, when);
    }
}
/// Notes a trip. Trips are seldom: what leads to them should not be slowed by them.
#[inline(never)]
fn strike<A: Algebra>(a: &mut A, trips: &mut [[A::Bit; 1]], way: u16, when: A::Bit) {
    if let Some([cell]) = trips.get_mut(usize::from(way)) {
        *cell = a.or(*cell, when);
    }
}
/// Where an input's condition, its fault and its way stand.
#[derive(Clone, Copy)]
struct Doubtful {
    atom: u16,
    fault: u16,
    way: u16,
}
/// While an input is faulty its condition is unknown, its fault is one that holds, and its way trips.
#[inline(always)]
fn doubt<A: Algebra>(a: &mut A, work: &mut WorkBits<'_, A::Bit>, place: Doubtful, faulty: A::Bit) {
    if a.possible(faulty) {
        unsettle(a, work, place, faulty);
    }
}
/// Makes a condition unknown, and tells its fault.
#[inline(never)]
fn unsettle<A: Algebra>(a: &mut A, work: &mut WorkBits<'_, A::Bit>, place: Doubtful, faulty: A::Bit) {
    if let Some([holds, not]) = work.may.get_mut(usize::from(place.atom)) {
        *holds = a.or(*holds, faulty);
        *not = a.or(*not, faulty);
    }
    fails(a, (&mut *work.may, &mut *work.trip), place.fault, place.way, faulty);
}
/// A fault's condition is known to hold where `faulty` does, and its way trips.
#[inline(never)]
fn fails<A: Algebra>(a: &mut A, (may, trips): Failing<'_, A>, fault: u16, way: u16, faulty: A::Bit) {
    if a.possible(faulty) {
        if let Some([holds, not]) = may.get_mut(usize::from(fault)) {
            *holds = a.or(*holds, faulty);
            *not = a.but(*not, faulty);
        }
        strike(a, trips, way, faulty);
    }
}
/// The conditions and the trips, where a fault is told.
type Failing<'w, A> = (&'w mut [[<A as Algebra>::Bit; 2]], &'w mut [[<A as Algebra>::Bit; 1]]);
/// Counts a hold: true once `bit` has been true for more than `limit` scans.
#[inline(always)]
fn held<A: Algebra>(a: &mut A, bit: A::Bit, count: &mut A::Word, limit: u32) -> A::Bit {
    let (one, zero) = (a.word(1), a.word(0));
    let beyond = limit.saturating_add(1);
    let mut next = a.add(*count, one, beyond);
    let not = a.not(bit);
    a.set_word(not, &mut next, zero);
    *count = next;
    a.at_least(next, beyond)
}
/// `t` where `when` holds, else `e`.
#[inline(always)]
fn pick<A: Algebra>(a: &mut A, when: A::Bit, t: A::Bit, e: A::Bit) -> A::Bit {
    let mut out = e;
    a.set_bit(when, &mut out, t);
    out
}
