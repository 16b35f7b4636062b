//! Exercises: inputs that must change.

use super::{at, edge, run, trip};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits, WorkWords};
use crate::plan::{ExerciseRow, NONE, Tables};

/// Trips of inputs that have not changed.
#[inline(always)]
pub(super) fn exercises<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &WorkWords<'_, A::Word>,
) -> Option<()> {
    let edge = edge(work)?;
    for ((row, [changed, passed]), [count]) in
        tables.exercises.iter().zip(bits.exercise.iter_mut()).zip(words.exercise.iter_mut())
    {
        // By carriers, everything is under an edge.
        if ExerciseRow::read(row).kind != 0 || a.possible(edge) {
            exercise(a, row, work, levels, [changed, passed], count)?;
        }
    }
    Some(())
}

/// Judges one exercise.
#[inline(never)]
fn exercise<A: Algebra>(
    a: &mut A,
    row: &[u8; ExerciseRow::SIZE],
    work: &mut WorkBits<'_, A::Bit>,
    levels: &WorkWords<'_, A::Word>,
    [changed, passed]: [&mut A::Bit; 2],
    count: &mut A::Word,
) -> Option<()> {
    let row = ExerciseRow::read(row);
    let (yes, no, one, zero) = (a.bit(true), a.bit(false), a.word(1), a.word(0));
    let mut edge = no;
    for line in [row.a, row.b] {
        if line != NONE {
            let (rise, fall) = (at(work.rise, line)?, at(work.fall, line)?);
            edge = a.or(edge, rise);
            edge = a.or(edge, fall);
        }
    }
    let trips = if row.kind == 0 {
        let carrier = at(work.rise, row.by)?;
        *changed = a.or(*changed, edge);
        let later = a.and(carrier, *passed);
        let trips = a.but(later, *changed);
        a.set_bit(carrier, changed, no);
        a.set_bit(carrier, passed, yes);
        trips
    } else {
        let grows = if row.kind == 1 { run(a, levels, row.by)? } else { one };
        *count = a.add(*count, grows, row.limit.saturating_add(1));
        a.set_word(edge, count, zero);
        let trips = a.more_than(*count, row.limit);
        a.set_word(trips, count, zero);
        trips
    };
    trip(a, work.trip, row.way, trips);
    Some(())
}
