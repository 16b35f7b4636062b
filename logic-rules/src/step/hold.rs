//! Guards and agrees: a condition that may have lasted too long, in one go or in all.

use super::condition::may;
use super::{counting, held, trip};
use crate::algebra::Algebra;
use crate::cells::{Words, WorkBits};
use crate::plan::{HoldRow, Tables, TotalRow};

/// Trips of unbroken holds and of totals.
#[inline(always)]
pub(super) fn holds<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<()> {
    let mut acts = counting(a, words.hold);
    for row in tables.holds {
        let bit = may(work.may, HoldRow::read(row).literal)?;
        acts = a.or(acts, bit);
    }
    // Holds of what is not so, and was not, stay at 0.
    if a.possible(acts) {
        unbroken(a, tables, words, work)?;
    }
    let (one, zero) = (a.word(1), a.word(0));
    for (row, [now, before, clock]) in tables.totals.iter().zip(words.total.iter_mut()) {
        let row = TotalRow::read(row);
        let bit = may(work.may, row.literal)?;
        let more = a.add(*now, one, row.of);
        a.set_word(bit, now, more);
        // Two spans cover every window of a span's length, so that none of them is missed.
        let sum = a.add(*now, *before, row.of);
        let trips = a.at_least(sum, row.of);
        trip(a, work.trip, row.way, trips);
        *clock = a.add(*clock, one, row.span);
        let ends = a.at_least(*clock, row.span);
        a.set_word(ends, before, *now);
        a.set_word(ends, now, zero);
        a.set_word(ends, clock, zero);
    }
    Some(())
}

/// Counts the holds.
#[inline(never)]
fn unbroken<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<()> {
    for (row, [count]) in tables.holds.iter().zip(words.hold.iter_mut()) {
        let row = HoldRow::read(row);
        let bit = may(work.may, row.literal)?;
        let trips = held(a, bit, count, row.limit);
        trip(a, work.trip, row.way, trips);
    }
    Some(())
}
