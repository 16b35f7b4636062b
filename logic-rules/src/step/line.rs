//! Digital channels: settling, edges, chatter, and detectors supervised by rope.

use super::{Doubtful, Inputs, at, doubt, pick, put};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits, WorkWords};
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
    let samples = inputs.channels.get(..bits.level.len())?;
    // Several short passes over few columns each, since a compiler can then work them many lines at a time.
    let limits = tables.line_up.iter().zip(tables.line_down);
    let columns = samples.iter().zip(tables.line_invert).zip(bits.level.iter());
    for (([count], ((&sample, [invert]), [level])), (up, down)) in words.settle.iter_mut().zip(columns).zip(limits) {
        let inverted = a.bit(*invert != 0);
        let sample = a.xor(sample, inverted);
        let differs = a.xor(sample, *level);
        let mut next = a.add(*count, one, long(up).max(long(down)));
        let same = a.not(differs);
        a.set_word(same, &mut next, zero);
        *count = next;
    }
    // A sample that differs from a high level is low, so that the level tells which limit counts.
    let limits = tables.line_up.iter().zip(tables.line_down);
    for (([settled], ([count], [level])), (up, down)) in
        work.rise.iter_mut().zip(words.settle.iter().zip(bits.level.iter())).zip(limits)
    {
        let (long_up, long_down, differs) =
            (a.at_least(*count, long(up)), a.at_least(*count, long(down)), a.at_least(*count, 1));
        let long_enough = pick(a, *level, long_down, long_up);
        let at_once = a.and(first_scan, differs);
        *settled = a.or(long_enough, at_once);
    }
    for ([level], [settled]) in bits.level.iter_mut().zip(work.rise.iter()) {
        *level = a.xor(*level, *settled);
    }
    for ([count], [settled]) in words.settle.iter_mut().zip(work.rise.iter()) {
        a.set_word(*settled, count, zero);
    }
    for (([fall], [rise]), [level]) in work.fall.iter_mut().zip(work.rise.iter_mut()).zip(bits.level.iter()) {
        let edge = a.but(*rise, first_scan);
        *fall = a.but(edge, *level);
        *rise = a.and(edge, *level);
    }
    let (yes_may, may) = work.may.split_first_mut()?;
    let (yes_must, must) = work.must.split_first_mut()?;
    (*yes_may, *yes_must) = ([yes], [yes]);
    for (may, level) in may.iter_mut().zip(bits.level.iter()) {
        *may = *level;
    }
    for (must, level) in must.iter_mut().zip(bits.level.iter()) {
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
    for ((row, [before, faulty]), [changes, clock]) in
        tables.chatters.iter().zip(bits.chatter.iter_mut()).zip(words.chatter.iter_mut())
    {
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
        let place = Doubtful { atom: row.atom, fault: row.fault, way: row.way };
        doubt(a, work, place, (level, level), now);
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
            let place = Doubtful { atom: row.atom, fault: row.fault, way: row.way_stuck };
            doubt(a, work, place, (level, level), stuck);
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
