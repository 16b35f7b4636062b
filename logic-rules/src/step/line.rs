//! Digital channels: settling, edges, chatter, and detectors supervised by rope.

use super::{Doubtful, Inputs, at, counting, doubt, pick, run, trip};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits, WorkWords};
use crate::plan::{ChatterRow, MissingRow, StuckRow, Tables, long};

/// Settles every line.
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
    let no = a.bit(false);
    let samples = inputs.channels.get(..bits.level.len())?;
    // Where nothing settles, `differs` is the absence of any edge.
    let mut settling = counting(a, words.settle);
    let columns = samples.iter().zip(tables.line_invert).zip(bits.level.iter());
    for ([differs], ((&sample, [invert]), [level])) in work.rise.iter_mut().zip(columns) {
        let inverted = a.bit(*invert != 0);
        let sample = a.xor(sample, inverted);
        *differs = a.xor(sample, *level);
        settling = a.or(settling, *differs);
    }
    work.fall.fill([no]);
    // A sample that does not differ leaves its level and a count of 0 as they are.
    work.edge.fill([no]);
    if a.possible(settling) {
        edges(a, tables, bits, words, work, first_scan);
    }
    Some(())
}

/// Counts for how long samples have differed, changes levels, and turns the differences into edges.
#[inline(never)]
fn edges<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    first_scan: A::Bit,
) {
    let (one, zero) = (a.word(1), a.word(0));
    // Several short passes over few columns each, since a compiler can then work them many lines at a time.
    let limits = tables.line_up.iter().zip(tables.line_down);
    for (([count], [differs]), (up, down)) in words.settle.iter_mut().zip(work.rise.iter()).zip(limits) {
        let mut next = a.add(*count, one, long(up).max(long(down)));
        let same = a.not(*differs);
        a.set_word(same, &mut next, zero);
        *count = next;
    }
    // A sample that differs from a high level is low, so that the level tells which limit counts.
    let limits = tables.line_up.iter().zip(tables.line_down);
    for (([settled], ([count], [level])), (up, down)) in
        work.rise.iter_mut().zip(words.settle.iter().zip(bits.level.iter())).zip(limits)
    {
        let (long_up, long_down) = (a.at_least(*count, long(up)), a.at_least(*count, long(down)));
        let long_enough = pick(a, *level, long_down, long_up);
        let at_once = a.and(first_scan, *settled);
        *settled = a.or(long_enough, at_once);
    }
    for ([level], [settled]) in bits.level.iter_mut().zip(work.rise.iter()) {
        *level = a.xor(*level, *settled);
    }
    for ([count], [settled]) in words.settle.iter_mut().zip(work.rise.iter()) {
        a.set_word(*settled, count, zero);
    }
    let mut any = a.bit(false);
    for (([fall], [rise]), [level]) in work.fall.iter_mut().zip(work.rise.iter_mut()).zip(bits.level.iter()) {
        let edge = a.but(*rise, first_scan);
        *fall = a.but(edge, *level);
        *rise = a.and(edge, *level);
        any = a.or(any, edge);
    }
    work.edge.fill([any]);
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
    let one = a.word(1);
    for ((row, [before, faulty]), [changes, clock]) in
        tables.chatters.iter().zip(bits.chatter.iter_mut()).zip(words.chatter.iter_mut())
    {
        let bytes = row;
        let row = ChatterRow::read(bytes);
        let sample = *inputs.channels.get(usize::from(row.line))?;
        let differs = a.xor(sample, *before);
        let changed = a.but(differs, first_scan);
        *before = sample;
        *clock = a.add(*clock, one, row.span);
        let ends = a.at_least(*clock, row.span);
        let acts = a.or(changed, ends);
        if a.possible(acts) {
            count_changes(a, bytes, changed, ends, faulty, [&mut *changes, &mut *clock]);
        }
        let faulty = *faulty;
        if a.possible(faulty) {
            let row = ChatterRow::read(bytes);
            doubt(a, work, Doubtful { atom: row.atom, fault: row.fault, way: row.way }, faulty);
        }
    }
    Some(())
}

/// Counts a change; at the end of a span the count begins anew.
#[inline(never)]
fn count_changes<A: Algebra>(
    a: &mut A,
    row: &[u8; ChatterRow::SIZE],
    changed: A::Bit,
    ends: A::Bit,
    faulty: &mut A::Bit,
    [changes, clock]: [&mut A::Word; 2],
) {
    let row = ChatterRow::read(row);
    let (one, zero, yes) = (a.word(1), a.word(0), a.bit(true));
    let more = a.add(*changes, one, row.limit.saturating_add(1));
    a.set_word(changed, changes, more);
    let over = a.more_than(*changes, row.limit);
    // Within a span the fault can only come; at its end it is what this span says.
    let comes = a.and(changed, over);
    a.set_bit(comes, faulty, yes);
    a.set_bit(ends, faulty, over);
    a.set_word(ends, changes, zero);
    a.set_word(ends, clock, zero);
}

/// Detectors that stay covered, or do not rise, for too much rope.
#[inline(always)]
pub(super) fn detectors<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &WorkWords<'_, A::Word>,
) -> Option<()> {
    for (row, [covered]) in tables.stucks.iter().zip(words.stuck.iter_mut()) {
        let level = at(bits.level, StuckRow::read(row).line)?;
        let counted = a.at_least(*covered, 1);
        let acts = a.or(level, counted);
        // While it is clear nothing is counted, and a count of 0 stays.
        if a.possible(acts) {
            stays(a, row, level, covered, work, levels)?;
        }
    }
    let zero = a.word(0);
    for (row, [since]) in tables.missings.iter().zip(words.missing.iter_mut()) {
        let row = MissingRow::read(row);
        let rise = at(work.rise, row.line)?;
        let run = run(a, levels, row.pace)?;
        *since = a.add(*since, run, row.limit.saturating_add(1));
        a.set_word(rise, since, zero);
        let missing = a.more_than(*since, row.limit);
        trip(a, work.trip, row.way, missing);
        a.set_word(missing, since, zero);
    }
    Some(())
}

/// Counts the rope for which a detector is covered.
#[inline(never)]
fn stays<A: Algebra>(
    a: &mut A,
    row: &[u8; StuckRow::SIZE],
    level: A::Bit,
    covered: &mut A::Word,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &WorkWords<'_, A::Word>,
) -> Option<()> {
    let row = StuckRow::read(row);
    let zero = a.word(0);
    let rise = at(work.rise, row.line)?;
    let run = run(a, levels, row.pace)?;
    let clear = a.not(level);
    let restart = a.or(clear, rise);
    *covered = a.add(*covered, run, row.limit.saturating_add(1));
    a.set_word(restart, covered, zero);
    let stuck = a.more_than(*covered, row.limit);
    doubt(a, work, Doubtful { atom: row.atom, fault: row.fault, way: row.way }, stuck);
    Some(())
}
