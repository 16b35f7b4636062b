//! Answers: which stops and slow orders stand, the most severe of them, and the restart delay.

use super::condition::may;
use super::{any, at, counting, held, trip};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits};
use crate::plan::{SlowRow, Tables, short};

/// Slow orders that are not reached in time, or not kept.
#[inline(always)]
pub(super) fn not_slowed<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    stood: A::Bit,
) -> Option<()> {
    let counted = counting(a, words.slow);
    let acts = a.or(counted, stood);
    if !a.possible(acts) {
        return Some(());
    }
    for ((row, [count]), rank) in tables.slows.iter().zip(words.slow.iter_mut()).zip(0_u16..) {
        let row = SlowRow::read(row);
        let asked = at(bits.published, rank)?;
        let long = held(a, asked, count, row.limit);
        let fast = may(work.may, row.fast)?;
        let not_slowed = a.and(long, fast);
        trip(a, work.trip, row.way, not_slowed);
    }
    Some(())
}

/// Which answers stand now; gives the rank of the most severe.
#[inline(always)]
pub(super) fn answers<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &Bits<'_, A::Bit>,
    work: &mut WorkBits<'_, A::Bit>,
    asked: A::Bit,
) -> Option<A::Word> {
    work.stands.fill([a.bit(false)]);
    let mut acts = asked;
    for [_, held] in bits.stretch.iter() {
        acts = a.or(acts, *held);
    }
    // Nothing trips, is latched or is held: no answer stands.
    if a.possible(acts) { stand(a, tables, bits, work) } else { Some(a.word(0)) }
}

/// Finds which answers stand, where any may.
#[inline(never)]
fn stand<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &Bits<'_, A::Bit>,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<A::Word> {
    let mut answer = a.word(0);
    let mut trips: &[[A::Bit; 1]] = work.trip;
    let mut latches: &[[A::Bit; 1]] = bits.latch;
    let slows = tables.slows.len();
    for ((i, (ways, [stands])), rank) in tables.ranks.iter().zip(work.stands.iter_mut()).enumerate().zip(1_u32..) {
        let ways = usize::from(short(ways));
        let (these, rest) = trips.split_at_checked(ways)?;
        let (latched, later) = latches.split_at_checked(ways)?;
        (trips, latches) = (rest, later);
        // A slow order never latches; a stop that trips now is latched already.
        let cells = if i < slows { these } else { latched };
        let mut any = any(a, cells);
        if i.checked_add(1) == Some(slows) {
            for [_, held] in bits.stretch.iter() {
                any = a.or(any, *held);
            }
        }
        *stands = any;
        let this = a.word(rank);
        a.set_word(any, &mut answer, this);
    }
    Some(answer)
}

/// The start permit: no stop stands, and none has for the restart delay.
#[inline(always)]
pub(super) fn restart<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    words: &mut Words<'_, A::Word>,
    work: &WorkBits<'_, A::Bit>,
) -> Option<A::Bit> {
    let stop = any(a, work.stands.get(tables.slows.len()..)?);
    let (one, zero) = (a.word(1), a.word(0));
    let [rest] = words.rest.first_mut()?;
    let mut next = a.add(*rest, one, tables.head.restart);
    a.set_word(stop, &mut next, zero);
    *rest = next;
    let rested = a.at_least(next, tables.head.restart);
    Some(a.but(rested, stop))
}

/// What the next scan sees of this verdict.
#[inline(always)]
pub(super) fn publish<B: Copy>(bits: &mut Bits<'_, B>, work: &WorkBits<'_, B>) {
    for (cell, stands) in bits.published.iter_mut().zip(work.stands.iter()) {
        *cell = *stands;
    }
}
