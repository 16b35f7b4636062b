//! Confirms: the effect of a stop must be seen in time.

use super::condition::must;
use super::{at, held, put};
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
) -> Option<()> {
    for ((row, [seen]), [count]) in tables.confirms.iter().zip(bits.confirm.iter_mut()).zip(words.confirm.iter_mut()) {
        let row = ConfirmRow::read(row);
        let stands = at(bits.published, row.rank)?;
        let effect = must(a, work, row.literal)?;
        let ever = a.or(*seen, effect);
        *seen = a.and(stands, ever);
        let long = held(a, stands, count, row.limit);
        let missing = a.but(long, *seen);
        put(work.trip, row.way, missing);
    }
    Some(())
}
