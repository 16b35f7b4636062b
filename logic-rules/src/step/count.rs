//! Counts: carriers in a zone.

use super::condition::must;
use super::{at, edge, trip};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits};
use crate::plan::{CountRow, Tables};

/// The greatest number a count can hold.
pub(super) const TOP: u32 = 65_535;

/// Counts and their confirmations.
#[inline(always)]
pub(super) fn counts<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<()> {
    let edge = edge(work)?;
    for ((row, [known, was]), [inside]) in tables.counts.iter().zip(bits.count.iter_mut()).zip(words.count.iter_mut()) {
        let bytes = row;
        let row = CountRow::read(bytes);
        let holds = must(a, work.may, row.literal)?;
        let turns = a.xor(holds, *was);
        let acts = a.or(edge, turns);
        // It changes when somebody passes, or its confirmation comes.
        if a.possible(acts) {
            pass(a, bytes, work, holds, [&mut *known, &mut *was], inside)?;
        }
        let many = a.more_than(*inside, row.most);
        let over = a.and(*known, many);
        trip(a, work.trip, row.over, over);
    }
    Some(())
}

/// Who leaves, who enters, and what the confirmation says.
#[inline(never)]
fn pass<A: Algebra>(
    a: &mut A,
    row: &[u8; CountRow::SIZE],
    work: &mut WorkBits<'_, A::Bit>,
    holds: A::Bit,
    [known, was]: [&mut A::Bit; 2],
    inside: &mut A::Word,
) -> Option<()> {
    let row = CountRow::read(row);
    let one = a.word(1);
    let (enters, leaves) = (at(work.rise, row.enter)?, at(work.rise, row.leave)?);
    let some = a.at_least(*inside, 1);
    let below = a.but(leaves, some);
    let below = a.and(below, *known);
    trip(a, work.trip, row.below, below);
    let less = a.sub(*inside, one);
    a.set_word(leaves, inside, less);
    let more = a.add(*inside, one, TOP);
    a.set_word(enters, inside, more);
    let comes = a.but(holds, *was);
    *was = holds;
    let (reaches, exceeds) = (a.at_least(*inside, row.confirmed), a.more_than(*inside, row.confirmed));
    let right = a.but(reaches, exceeds);
    let contradicted = a.but(comes, right);
    let wrong = a.and(contradicted, *known);
    trip(a, work.trip, row.wrong, wrong);
    let confirmed = a.word(row.confirmed);
    a.set_word(comes, inside, confirmed);
    *known = a.or(*known, comes);
    Some(())
}
