//! State and work of a step: flat arrays of bits and words, handed out to the tables row by row.
//!
//! *State* lives from scan to scan. *Work* is written before it is read in every scan, and is where
//! the results stand.

use crate::algebra::Algebra;
use crate::plan::Plan;
use heapless::Vec;

/// What lives from scan to scan.
#[derive(Clone)]
pub struct State<A: Algebra, const BITS: usize, const WORDS: usize> {
    /// Bits, in the order of [`Bits`].
    pub bits: Vec<A::Bit, BITS>,
    /// Words, in the order of [`Words`].
    pub words: Vec<A::Word, WORDS>,
}

/// What one scan computes.
#[derive(Clone)]
pub struct Work<A: Algebra, const BITS: usize, const WORDS: usize> {
    /// Bits, in the order of [`WorkBits`].
    pub bits: Vec<A::Bit, BITS>,
    /// Words, in the order of [`WorkWords`].
    pub words: Vec<A::Word, WORDS>,
}

fn filled<T: Copy, const N: usize>(value: T, count: usize) -> Option<Vec<T, N>> {
    let mut cells = Vec::new();
    cells.resize(count, value).ok()?;
    Some(cells)
}

impl<A: Algebra, const BITS: usize, const WORDS: usize> State<A, BITS, WORDS> {
    /// The state at power-up: the most severe stop is latched, bypass times are spent, stretches refill.
    /// `None` if the plan needs more cells than there are.
    pub fn power_up(a: &mut A, plan: &Plan<'_>) -> Option<Self> {
        let (no, zero) = (a.bit(false), a.word(0));
        let mut state = Self { bits: filled(no, plan.needs().bits)?, words: filled(zero, plan.needs().words)? };
        crate::step::power_up(a, plan, state.bits.as_mut_slice(), state.words.as_mut_slice())?;
        Some(state)
    }
}

impl<A: Algebra, const BITS: usize, const WORDS: usize> Work<A, BITS, WORDS> {
    /// Room for a plan's work; `None` if it needs more cells than there are.
    pub fn new(a: &mut A, plan: &Plan<'_>) -> Option<Self> {
        let (no, zero) = (a.bit(false), a.word(0));
        Some(Self { bits: filled(no, plan.needs().work_bits)?, words: filled(zero, plan.needs().work_words)? })
    }
}

/// Cuts `n` cells off the front.
#[expect(clippy::mut_mut, reason = "what is left is handed on through the same place")]
fn cut<'s, T>(rest: &mut &'s mut [T], n: usize) -> Option<&'s mut [T]> {
    let (own, left) = core::mem::take(rest).split_at_mut_checked(n)?;
    *rest = left;
    Some(own)
}
/// Cuts `count` rows of `N` cells off the front.
#[expect(clippy::mut_mut, reason = "what is left is handed on through the same place")]
fn rows<'s, T, const N: usize>(rest: &mut &'s mut [T], count: usize) -> Option<&'s mut [[T; N]]> {
    let own = cut(rest, count.checked_mul(N)?)?;
    Some(own.as_chunks_mut::<N>().0)
}

macro_rules! cells {
    ($(#[$doc:meta])* $name:ident, $count:ident { $($(#[$fdoc:meta])* $field:ident: $n:literal x $many:expr;)* }) => {
        $(#[$doc])*
        #[derive(Debug)]
        pub struct $name<'s, T> { $($(#[$fdoc])* pub $field: &'s mut [[T; $n]],)* }
        impl<'s, T> $name<'s, T> {
            /// Hands the cells out; `None` if there are too few.
            #[inline(always)]
            pub fn cut(all: &'s mut [T], plan: &Plan<'_>) -> Option<Self> {
                let mut rest = all;
                $(let $field = rows::<T, $n>(&mut rest, $many(plan))?;)*
                Some(Self { $($field,)* })
            }
        }
        /// Cells needed.
        pub(crate) fn $count(plan: &Plan<'_>) -> Option<usize> {
            let mut sum = 0_usize;
            $(sum = sum.checked_add($many(plan).checked_mul($n)?)?;)*
            Some(sum)
        }
    };
}

macro_rules! many {
    ($($name:ident: $table:ident;)*) => {$( fn $name(plan: &Plan<'_>) -> usize { plan.tables().$table.len() } )*};
}
many! {
    chatters: chatters; pairs: pairs; stucks: stucks; missings: missings; gauges: gauges; paces: paces; links: links;
    modes: modes; sets: mode_sets; bypasses: bypasses; holds: holds; totals: totals; travels: travels;
    measures: measures; spacings: spacings; confirms: confirms; exercises: exercises; counts: counts;
    ranks: ranks; slows: slows; stops: stops; outputs: outputs; refills: refills; differs: differs;
}
fn one(_: &Plan<'_>) -> usize {
    1
}
fn lines(plan: &Plan<'_>) -> usize {
    usize::from(plan.tables().head.lines)
}
fn atoms(plan: &Plan<'_>) -> usize {
    usize::from(plan.tables().head.atoms)
}
fn ways(plan: &Plan<'_>) -> usize {
    usize::from(plan.tables().head.ways)
}
fn memories(plan: &Plan<'_>) -> usize {
    usize::from(plan.tables().head.memories)
}
fn ages(plan: &Plan<'_>) -> usize {
    plan.needs().ages
}
fn timed(plan: &Plan<'_>) -> usize {
    plan.needs().timed
}
/// Gauges, paces three ways, differences.
fn levels(plan: &Plan<'_>) -> usize {
    gauges(plan).saturating_add(paces(plan).saturating_mul(3)).saturating_add(differs(plan))
}
/// Travels, measures, spacings.
fn judged(plan: &Plan<'_>) -> usize {
    travels(plan).saturating_add(measures(plan)).saturating_add(spacings(plan))
}

cells! {
    /// Bits of state.
    Bits, count_bits {
        /// A scan has been taken.
        started: 1 x one;
        /// Level of each line.
        level: 1 x lines;
        /// Sample before; too many changes.
        chatter: 2 x chatters;
        /// Faulty; first, second channel has moved since.
        pair: 3 x pairs;
        /// The sample before was good.
        gauge: 1 x gauges;
        /// A span has ended; the sources differ.
        pace: 2 x paces;
        /// It was the last mode.
        mode: 1 x modes;
        /// Armed; key was held.
        bypass: 2 x bypasses;
        /// Excusing; held to the slow order.
        stretch: 2 x travels;
        /// The place in a queue is taken.
        under_way: 1 x ages;
        /// The window is open.
        measure: 1 x measures;
        /// A passing has been seen.
        spacing: 1 x spacings;
        /// The effect has been seen.
        confirm: 1 x confirms;
        /// Changed; a carrier has passed.
        exercise: 2 x exercises;
        /// The number is known; its confirmation held.
        count: 2 x counts;
        /// A masked event.
        memory: 1 x memories;
        /// Latched.
        latch: 1 x ways;
        /// Among the first of a stoppage.
        first: 1 x ways;
        /// The answer stood in the verdict before.
        published: 1 x ranks;
        /// Off; let go at standstill.
        output: 2 x outputs;
        /// Key was held; a press is going on.
        reset: 2 x one;
        /// Key was held.
        refill: 1 x refills;
    }
}
cells! {
    /// Words of state.
    Words, count_words {
        /// Scans for which the sample has differed from the level.
        settle: 1 x lines;
        /// Changes; scans of the span.
        chatter: 2 x chatters;
        /// Scans of differing.
        pair: 1 x pairs;
        /// Rope since the rise, while covered.
        stuck: 1 x stucks;
        /// Rope since the rise.
        missing: 1 x missings;
        /// Value before.
        gauge: 1 x gauges;
        /// Scans of the span; forward, back of the first source; of the second; speed forward, back; scans of doubt.
        pace: 8 x paces;
        /// Scans of silence; order.
        link: 2 x links;
        /// Scans.
        hold: 1 x holds;
        /// Scans in this span, in the one before; scans of the span.
        total: 3 x totals;
        /// Used; idle.
        bypass: 2 x bypasses;
        /// Excuses left; rope run.
        stretch: 2 x travels;
        /// Age of each place.
        age: 1 x ages;
        /// Time of each place with a backstop.
        time: 1 x timed;
        /// Scans, or rope, since the rise.
        measure: 1 x measures;
        /// Distance since the last passing.
        spacing: 1 x spacings;
        /// Scans since the stop; speed when it came.
        confirm: 2 x confirms;
        /// Rope or scans since the last change.
        exercise: 1 x exercises;
        /// Carriers inside.
        count: 1 x counts;
        /// Scans for which the order has been published.
        slow: 1 x slows;
        /// Scans for which the stop has been published.
        stop: 1 x stops;
        /// Scans of contradiction.
        output: 1 x outputs;
        /// Length of the press; scans for which the condition has held.
        reset: 2 x one;
        /// Scans without a stop.
        rest: 1 x one;
    }
}
cells! {
    /// Bits of work.
    WorkBits, count_work_bits {
        /// Each condition may hold; may not hold. So the cell of a literal has the literal's own number.
        may: 2 x atoms;
        /// Any line has an edge.
        edge: 1 x one;
        /// A line rose.
        rise: 1 x lines;
        /// A line fell.
        fall: 1 x lines;
        /// A level can be believed.
        trusted: 1 x levels;
        /// A mode is known to be selected.
        known: 1 x modes;
        /// A set of modes is off.
        off_set: 1 x sets;
        /// A bypass is active.
        active: 1 x bypasses;
        /// A way would trip, whatever its mode and the bypasses are.
        struck: 1 x ways;
        /// A way trips.
        trip: 1 x ways;
        /// An answer stands.
        stands: 1 x ranks;
        /// A travel, measure or spacing judged something.
        judged: 1 x judged;
    }
}
cells! {
    /// Words of work.
    WorkWords, count_work_words {
        /// Each level.
        level: 1 x levels;
        /// Forward travel, backward travel.
        travel: 2 x paces;
        /// What was judged.
        measured: 1 x judged;
    }
}
