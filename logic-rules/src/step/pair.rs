//! Pairs and two-channel keys: either channel can open the condition, only both can hold it closed.

use super::{Doubtful, at, doubt, held};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits};
use crate::plan::{NONE, PairRow, Tables};

/// Conditions and faults of two-channel inputs.
#[inline(always)]
pub(super) fn pairs<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<()> {
    for ((row, cells), [count]) in tables.pairs.iter().zip(bits.pair.iter_mut()).zip(words.pair.iter_mut()) {
        let bytes = row;
        let row = PairRow::read(bytes);
        let (one, other) = (at(bits.level, row.a)?, at(bits.level, row.b)?);
        // It may be closed if either channel says so, and open if either says so.
        let (closed, both) = (a.or(one, other), a.and(one, other));
        *work.may.get_mut(usize::from(row.atom))? = [closed, a.not(both)];
        let differs = a.xor(one, other);
        let counted = a.at_least(*count, 1);
        let mut acts = a.or(differs, counted);
        for cell in cells.iter() {
            acts = a.or(acts, *cell);
        }
        // Channels that agree leave a pair that is sound as it is. A key has no fault.
        if row.fault != NONE && a.possible(acts) {
            judge(a, bytes, differs, cells, count, work)?;
        }
    }
    Some(())
}

/// Judges a pair whose channels differ, or did.
#[inline(never)]
fn judge<A: Algebra>(
    a: &mut A,
    row: &[u8; PairRow::SIZE],
    differs: A::Bit,
    [faulty, moved_a, moved_b]: &mut [A::Bit; 3],
    count: &mut A::Word,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<()> {
    let row = PairRow::read(row);
    let no = a.bit(false);
    let long = held(a, differs, count, row.limit);
    // Movements count only in scans after the one in which the fault was set.
    let edge_a = edge(a, work, row.a)?;
    let edge_b = edge(a, work, row.b)?;
    let seen_a = a.or(*moved_a, edge_a);
    let seen_b = a.or(*moved_b, edge_b);
    *moved_a = a.and(*faulty, seen_a);
    *moved_b = a.and(*faulty, seen_b);
    let moved = a.and(*moved_a, *moved_b);
    let well = a.but(moved, differs);
    let stays = a.but(*faulty, well);
    *faulty = a.or(stays, long);
    let sound = a.not(*faulty);
    a.set_bit(sound, moved_a, no);
    a.set_bit(sound, moved_b, no);
    doubt(a, work, Doubtful { atom: row.atom, fault: row.fault, way: row.way }, *faulty);
    Some(())
}

#[inline(always)]
fn edge<A: Algebra>(a: &mut A, work: &WorkBits<'_, A::Bit>, line: u16) -> Option<A::Bit> {
    let (rise, fall) = (at(work.rise, line)?, at(work.fall, line)?);
    Some(a.or(rise, fall))
}
