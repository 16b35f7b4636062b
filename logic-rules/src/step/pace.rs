//! Paces: travel of this scan, speed of the last whole span, and doubts about both.

use super::condition::{may, of};
use super::{Inputs, Moved, fails, held};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits, WorkWords};
use crate::plan::{NONE, PaceRow, Tables};

/// Sums travel, publishes speeds, finds disagreement.
#[inline(always)]
pub(super) fn paces<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    words: &mut Words<'_, A::Word>,
    bits: &mut Bits<'_, A::Bit>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &mut WorkWords<'_, A::Word>,
    inputs: &Inputs<'_, A>,
) -> Option<()> {
    let (one, no) = (a.word(1), a.bit(false));
    let first_level = tables.gauges.len();
    let (_, own_levels) = levels.level.split_at_mut_checked(first_level)?;
    let (_, own_trust) = work.trusted.split_at_mut_checked(first_level)?;
    let outs = own_levels.as_chunks_mut().0.iter_mut().zip(own_trust.as_chunks_mut().0);
    let cells = bits.pace.iter_mut().zip(words.pace.iter_mut()).zip(levels.travel.iter_mut());
    for (row, ((([known, differing], cells), travel), (level, trust))) in tables.paces.iter().zip(cells.zip(outs)) {
        let bytes = row;
        let row = PaceRow::read(bytes);
        let [clock, forward_a, back_a, forward_b, back_b, speed, speed_back, doubt] = cells;
        let (moved, cut) = limited(a, inputs.sources.get(usize::from(row.source))?, row.top_scan, row.signed != 0);
        *travel = [moved.forward, moved.back];
        let backward = a.at_least(moved.back, 1);
        *forward_a = a.add(*forward_a, moved.forward, row.most);
        if a.possible(backward) {
            let more = a.add(*back_a, moved.back, row.most);
            a.set_word(backward, back_a, more);
        }
        if row.second != NONE {
            second(a, bytes, inputs, [&mut *forward_b, &mut *back_b])?;
        }
        *clock = a.add(*clock, one, row.span);
        let ends = a.at_least(*clock, row.span);
        if a.possible(ends) {
            let sums = [&mut *clock, &mut *forward_a, &mut *back_a, &mut *forward_b, &mut *back_b];
            end_span(a, bytes, ends, sums, [&mut *speed, &mut *speed_back], [&mut *known, &mut *differing]);
        }
        // One of the two is 0.
        let either = a.add(*speed, *speed_back, row.most);
        let mut unsure = no;
        if row.second != NONE || row.running != NONE {
            unsure = doubted(a, bytes, work.may, *known, *differing, either, doubt)?;
        }
        let fast = a.more_than(either, row.top);
        let over = a.or(fast, cut);
        let trusted = a.but(*known, unsure);
        *level = [[*speed], [*speed_back], [either]];
        *trust = [[trusted]; 3];
        let fault = a.or(unsure, over);
        if a.possible(fault) {
            let row = PaceRow::read(bytes);
            fails(a, (&mut *work.may, &mut *work.trip), row.unsure, row.way_unsure, unsure);
            fails(a, (&mut *work.may, &mut *work.trip), row.over, row.way_over, over);
        }
    }
    Some(())
}

/// In the last scan of a span the new speed is published, and the sums begin anew.
#[inline(never)]
fn end_span<A: Algebra>(
    a: &mut A,
    row: &[u8; PaceRow::SIZE],
    ends: A::Bit,
    sums: [&mut A::Word; 5],
    [speed, speed_back]: [&mut A::Word; 2],
    [known, differing]: [&mut A::Bit; 2],
) {
    let row = PaceRow::read(row);
    let (zero, yes) = (a.word(0), a.bit(true));
    let [_, forward_a, back_a, forward_b, back_b] = sums.each_ref().map(|sum| **sum);
    let (net, net_back) = (a.sub(forward_a, back_a), a.sub(back_a, forward_a));
    a.set_word(ends, speed, net);
    a.set_word(ends, speed_back, net_back);
    a.set_bit(ends, known, yes);
    if row.second != NONE {
        let ahead = a.add(forward_a, back_b, row.most.saturating_mul(2));
        let behind = a.add(forward_b, back_a, row.most.saturating_mul(2));
        let apart = a.difference(ahead, behind);
        let differ = a.more_than(apart, row.differ);
        a.set_bit(ends, differing, differ);
    }
    for sum in sums {
        a.set_word(ends, sum, zero);
    }
}

/// Sums the second source's travel.
#[inline(never)]
fn second<A: Algebra>(
    a: &mut A,
    row: &[u8; PaceRow::SIZE],
    inputs: &Inputs<'_, A>,
    [forward, back]: [&mut A::Word; 2],
) -> Option<()> {
    let row = PaceRow::read(row);
    let (other, _) = limited(a, inputs.sources.get(usize::from(row.second))?, row.top_scan, row.signed != 0);
    *forward = a.add(*forward, other.forward, row.most);
    *back = a.add(*back, other.back, row.most);
    Some(())
}

/// Whether the second source has differed, or a running drive has stood, for too long.
#[inline(never)]
fn doubted<A: Algebra>(
    a: &mut A,
    row: &[u8; PaceRow::SIZE],
    conditions: &[[A::Bit; 2]],
    known: A::Bit,
    differing: A::Bit,
    speed: A::Word,
    doubt: &mut A::Word,
) -> Option<A::Bit> {
    let row = PaceRow::read(row);
    if row.second != NONE {
        return Some(held(a, differing, doubt, row.fault_after));
    }
    let running = may(conditions, of(row.running))?;
    let turns = a.at_least(speed, 1);
    let stands = a.but(known, turns);
    let dead = a.and(running, stands);
    Some(held(a, dead, doubt, row.fault_after))
}

/// A source's travel, cut to what a scan can give, and whether it was cut.
#[inline(always)]
fn limited<A: Algebra>(a: &mut A, sample: &Moved<A>, top: u32, signed: bool) -> (Moved<A>, A::Bit) {
    let zero = a.word(0);
    let forward = a.add(sample.forward, zero, top);
    let cut = a.more_than(sample.forward, top);
    if !signed {
        return (Moved { forward, back: zero }, cut);
    }
    let back = a.add(sample.back, zero, top);
    let cut_back = a.more_than(sample.back, top);
    let cut = a.or(cut, cut_back);
    (Moved { forward, back }, cut)
}
