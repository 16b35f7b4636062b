//! Confirms: the effect of a stop must be seen in time.

use super::condition::must;
use super::{at, held, trip};
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
        let counted = a.at_least(*count, 1);
        let either = a.or(*seen, counted);
        let acts = a.or(stands, either);
        // Unless it stands nothing is seen and nothing counted, which is what is there already.
        if !a.possible(acts) {
            continue;
        }
        let effect = must(a, work.may, row.literal)?;
        let ever = a.or(*seen, effect);
        *seen = a.and(stands, ever);
        let long = held(a, stands, count, row.limit);
        let missing = a.but(long, *seen);
        trip(a, work.trip, row.way, missing);
    }
    Some(())
}
