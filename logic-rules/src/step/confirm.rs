//! Confirms: the effect of a stop must be seen in time.

use super::condition::must;
use super::{any, at, counting, held, trip};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits, WorkWords};
use crate::plan::{ConfirmRow, NONE, Tables};

/// Trips of stops whose effect is not seen.
#[inline(always)]
pub(super) fn confirms<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &WorkWords<'_, A::Word>,
    stood: A::Bit,
) -> Option<()> {
    let (seen, counted) = (any(a, bits.confirm), counting(a, words.confirm));
    let acts = a.or(seen, counted);
    let acts = a.or(acts, stood);
    // Unless an answer stood nothing is seen and nothing counted, which is what is there already.
    if a.possible(acts) { judge(a, tables, bits, words, work, levels) } else { Some(()) }
}

/// Counts since when the stops stand, and sees their effects.
#[inline(never)]
fn judge<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &WorkWords<'_, A::Word>,
) -> Option<()> {
    for ((row, [seen]), [count, before]) in
        tables.confirms.iter().zip(bits.confirm.iter_mut()).zip(words.confirm.iter_mut())
    {
        let row = ConfirmRow::read(row);
        let stands = at(bits.published, row.rank)?;
        let mut effect = must(a, work.may, row.literal)?;
        if row.level != NONE {
            let slower = slower(a, row, stands, *count, before, work, levels)?;
            effect = a.or(effect, slower);
        }
        let ever = a.or(*seen, effect);
        *seen = a.and(stands, ever);
        let long = held(a, stands, count, row.limit);
        let missing = a.but(long, *seen);
        trip(a, work.trip, row.way, missing);
    }
    Some(())
}

/// Keeps the speed of the scan in which the stop came, and sees whether it has fallen since. An unknown one is kept as
/// none at all: nothing is slower than that.
fn slower<A: Algebra>(
    a: &mut A,
    row: ConfirmRow,
    stands: A::Bit,
    count: A::Word,
    before: &mut A::Word,
    work: &WorkBits<'_, A::Bit>,
    levels: &WorkWords<'_, A::Word>,
) -> Option<A::Bit> {
    let (at_level, zero) = (usize::from(row.level), a.word(0));
    let (speed, trusted) = (levels.level.get(at_level)?.first()?, at(work.trusted, row.level)?);
    let counted = a.at_least(count, 1);
    let comes = a.but(stands, counted);
    let mut kept = zero;
    a.set_word(trusted, &mut kept, *speed);
    a.set_word(comes, before, kept);
    let fallen = a.sub(*before, *speed);
    let enough = a.at_least(fallen, row.drop);
    Some(a.and(trusted, enough))
}
