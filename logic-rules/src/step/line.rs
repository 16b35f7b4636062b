//! Digital channels: settling, edges, chatter, and detectors supervised by rope.

use super::{Inputs, at, know, pick, put};
use crate::algebra::Algebra;
use crate::cells::{Bits, WorkBits, WorkWords, Words};
use crate::plan::{ChatterRow, DetectorRow, Tables, long};

/// Settles every line; conditions 1 and on are the lines' levels, condition 0 is always true.
#[inline(always)]
pub(super) fn settle<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    inputs: &Inputs<'_, A>,
    first_scan: A::Bit,
) -> Option<()> {
    let (one, zero, yes) = (a.word(1), a.word(0), a.bit(true));
    let lines = bits.level.len();
    let samples = inputs.channels.get(..lines)?;
    let (may, must) = (work.may.split_first_mut()?, work.must.split_first_mut()?);
    *may.0 = [yes];
    *must.0 = [yes];
    let limits = tables.line_up.iter().zip(tables.line_down).zip(tables.line_invert);
    let cells = bits.level.iter_mut().zip(words.settle.iter_mut());
    let edges = work.rise.iter_mut().zip(work.fall.iter_mut());
    let atoms = may.1.iter_mut().zip(must.1.iter_mut());
    for (((((up, down), [invert]), &sample), ([level], [count])), (([rise], [fall]), ([may], [must]))) in
        limits.zip(samples).zip(cells).zip(edges.zip(atoms))
    {
        let inverted = a.bit(*invert != 0);
        let sample = a.xor(sample, inverted);
        let (up, down) = (long(up).saturating_add(1), long(down).saturating_add(1));
        let differs = a.xor(sample, *level);
        let mut next = a.add(*count, one, up.max(down));
        let same = a.not(differs);
        a.set_word(same, &mut next, zero);
        let (long_up, long_down) = (a.at_least(next, up), a.at_least(next, down));
        let long_enough = pick(a, sample, long_up, long_down);
        let settled = a.and(differs, long_enough);
        let edge = a.but(settled, first_scan);
        *rise = a.and(edge, sample);
        *fall = a.but(edge, sample);
        let taken = a.or(settled, first_scan);
        a.set_bit(taken, level, sample);
        a.set_word(taken, &mut next, zero);
        *count = next;
        *may = *level;
        *must = *level;
    }
    Some(())
}

/// Counts raw changes of contacts; a contact with too many is unknown.
#[inline(always)]
pub(super) fn chatter<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    inputs: &Inputs<'_, A>,
    first_scan: A::Bit,
) -> Option<()> {
    let (one, zero) = (a.word(1), a.word(0));
    for ((row, [before, faulty]), [changes, clock]) in tables.chatters.iter().zip(bits.chatter.iter_mut()).zip(words.chatter.iter_mut()) {
        let row = ChatterRow::read(row);
        let sample = *inputs.channels.get(usize::from(row.line))?;
        let level = at(bits.level, row.line)?;
        let differs = a.xor(sample, *before);
        let changed = a.but(differs, first_scan);
        *before = sample;
        let more = a.add(*changes, one, row.limit.saturating_add(1));
        a.set_word(changed, changes, more);
        let over = a.at_least(*changes, row.limit.saturating_add(1));
        *clock = a.add(*clock, one, row.span);
        let ends = a.at_least(*clock, row.span);
        // At the end of a span the fault is what this span says; within it, it can only come.
        let came = a.or(*faulty, over);
        *faulty = pick(a, ends, over, came);
        a.set_word(ends, changes, zero);
        a.set_word(ends, clock, zero);
        let now = *faulty;
        know(work, row.fault, now);
        put(work.trip, row.way, now);
        let may = a.or(level, now);
        let must = a.but(level, now);
        put(work.may, row.atom, may);
        put(work.must, row.atom, must);
    }
    Some(())
}

/// Detectors that stay covered, or do not rise, for too much rope.
#[inline(always)]
pub(super) fn detectors<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &WorkWords<'_, A::Word>,
) -> Option<()> {
    let zero = a.word(0);
    for (row, [covered, since]) in tables.detectors.iter().zip(words.detector.iter_mut()) {
        let row = DetectorRow::read(row);
        let (level, rise) = (at(work.must, row.line.saturating_add(1))?, at(work.rise, row.line)?);
        let clear = a.not(level);
        let restart = a.or(clear, rise);
        if row.pace_stuck != crate::plan::NONE {
            let [_, _, run] = *levels.travel.get(usize::from(row.pace_stuck))?;
            let beyond = row.stuck.saturating_add(1);
            *covered = a.add(*covered, run, beyond);
            a.set_word(restart, covered, zero);
            let stuck = a.at_least(*covered, beyond);
            know(work, row.fault, stuck);
            put(work.trip, row.way_stuck, stuck);
            let may = a.or(level, stuck);
            let must = a.but(level, stuck);
            put(work.may, row.atom, may);
            put(work.must, row.atom, must);
        }
        if row.pace_missing != crate::plan::NONE {
            let [_, _, run] = *levels.travel.get(usize::from(row.pace_missing))?;
            let beyond = row.missing.saturating_add(1);
            *since = a.add(*since, run, beyond);
            a.set_word(rise, since, zero);
            let missing = a.at_least(*since, beyond);
            put(work.trip, row.way_missing, missing);
            a.set_word(missing, since, zero);
        }
    }
    Some(())
}
