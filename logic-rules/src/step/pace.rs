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
    let (one, zero, yes, no) = (a.word(1), a.word(0), a.bit(true), a.bit(false));
    let first_level = tables.gauges.len();
    let (_, own_levels) = levels.level.split_at_mut_checked(first_level)?;
    let (_, own_trust) = work.trusted.split_at_mut_checked(first_level)?;
    let outs = own_levels.as_chunks_mut().0.iter_mut().zip(own_trust.as_chunks_mut().0);
    let cells =
        bits.pace.iter_mut().zip(words.pace.iter_mut()).zip(levels.travel.iter_mut()).zip(work.backward.iter_mut());
    for (row, (((([known, differing], cells), travel), [backward]), (level, trust))) in
        tables.paces.iter().zip(cells.zip(outs))
    {
        let row = PaceRow::read(row);
        let [clock, forward_a, back_a, forward_b, back_b, speed, speed_back, doubt] = cells;
        let (moved, cut) = limited(a, inputs.sources.get(usize::from(row.source))?, row.top_scan, row.signed != 0);
        let both = a.add(moved.forward, moved.back, row.top_scan);
        *travel = [moved.forward, moved.back, both];
        *backward = a.at_least(moved.back, 1);
        *forward_a = a.add(*forward_a, moved.forward, row.most);
        *back_a = a.add(*back_a, moved.back, row.most);
        *clock = a.add(*clock, one, row.span);
        if row.second != NONE {
            let (other, _) = limited(a, inputs.sources.get(usize::from(row.second))?, row.top_scan, row.signed != 0);
            *forward_b = a.add(*forward_b, other.forward, row.most);
            *back_b = a.add(*back_b, other.back, row.most);
        }
        let ends = a.at_least(*clock, row.span);
        if a.possible(ends) {
            let (net, net_back) = (a.sub(*forward_a, *back_a), a.sub(*back_a, *forward_a));
            a.set_word(ends, speed, net);
            a.set_word(ends, speed_back, net_back);
            a.set_bit(ends, known, yes);
            if row.second != NONE {
                let ahead = a.add(*forward_a, *back_b, row.most.saturating_mul(2));
                let behind = a.add(*forward_b, *back_a, row.most.saturating_mul(2));
                let apart = a.difference(ahead, behind);
                let differ = a.at_least(apart, row.differ.saturating_add(1));
                a.set_bit(ends, differing, differ);
            }
            for cell in [clock, forward_a, back_a, forward_b, back_b] {
                a.set_word(ends, cell, zero);
            }
        }
        let mut unsure = no;
        if row.second != NONE {
            unsure = held(a, *differing, doubt, row.fault_after);
        } else if row.running != NONE {
            let running = may(work.may, of(row.running))?;
            let (ahead, behind) = (a.at_least(*speed, 1), a.at_least(*speed_back, 1));
            let turns = a.or(ahead, behind);
            let stands = a.but(*known, turns);
            let dead = a.and(running, stands);
            unsure = held(a, dead, doubt, row.fault_after);
        }
        let beyond = row.top.saturating_add(1);
        let (fast, fast_back) = (a.at_least(*speed, beyond), a.at_least(*speed_back, beyond));
        let fast = a.or(fast, fast_back);
        let over = a.or(fast, cut);
        let trusted = a.but(*known, unsure);
        *level = [[*speed], [*speed_back]];
        *trust = [[trusted], [trusted]];
        fails(a, (&mut *work.may, &mut *work.trip), row.unsure, row.way_unsure, unsure);
        fails(a, (&mut *work.may, &mut *work.trip), row.over, row.way_over, over);
    }
    Some(())
}

/// A source's travel, cut to what a scan can give, and whether it was cut.
#[inline(always)]
fn limited<A: Algebra>(a: &mut A, sample: &Moved<A>, top: u32, signed: bool) -> (Moved<A>, A::Bit) {
    let zero = a.word(0);
    let forward = a.add(sample.forward, zero, top);
    let beyond = top.saturating_add(1);
    let cut = a.at_least(sample.forward, beyond);
    if !signed {
        return (Moved { forward, back: zero }, cut);
    }
    let back = a.add(sample.back, zero, top);
    let cut_back = a.at_least(sample.back, beyond);
    let cut = a.or(cut, cut_back);
    (Moved { forward, back }, cut)
}
