//! Confirms: the effect of a stop must be seen in time.

use super::condition::must;
use super::{any, at, counting, held, trip};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits};
use crate::plan::{ConfirmRow, Tables};

/// Trips of stops whose effect is not seen.
#[inline(always)]
pub(super) fn confirms<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    stood: A::Bit,
) -> Option<()> {
    let (seen, counted) = (any(a, bits.confirm), counting(a, words.confirm));
    let acts = a.or(seen, counted);
    let acts = a.or(acts, stood);
    // Unless an answer stood nothing is seen and nothing counted, which is what is there already.
    if a.possible(acts) { judge(a, tables, bits, words, work) } else { Some(()) }
}

/// Counts since when the stops stand, and sees their effects.
#[inline(never)]
fn judge<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<()> {
    for ((row, [seen]), [count]) in tables.confirms.iter().zip(bits.confirm.iter_mut()).zip(words.confirm.iter_mut()) {
        let row = ConfirmRow::read(row);
        let stands = at(bits.published, row.rank)?;
        let effect = must(a, work.may, row.literal)?;
        let ever = a.or(*seen, effect);
        *seen = a.and(stands, ever);
        let long = held(a, stands, count, row.limit);
        let missing = a.but(long, *seen);
        trip(a, work.trip, row.way, missing);
    }
    Some(())
}
