//! Measures: a gauge stays within bounds at a detector's edge, or throughout a window after it.

use super::condition::may;
use super::{any, at, edge, run, trip};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits, WorkWords};
use crate::plan::{MeasureRow, NONE, Tables};

/// Trips of values that leave their bounds while they are judged.
#[inline(always)]
pub(super) fn measures<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &mut WorkWords<'_, A::Word>,
) -> Option<()> {
    let open = any(a, bits.measure);
    let acts = a.or(open, edge(work)?);
    // Without a window nothing is counted or judged.
    if a.possible(acts) { judge(a, tables, bits, words, work, levels) } else { Some(()) }
}

/// Judges the windows that are open.
#[inline(never)]
fn judge<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &mut WorkWords<'_, A::Word>,
) -> Option<()> {
    let (one, zero) = (a.word(1), a.word(0));
    let first = tables.travels.len();
    for (i, ((row, [open]), [count])) in
        tables.measures.iter().zip(bits.measure.iter_mut()).zip(words.measure.iter_mut()).enumerate()
    {
        let row = MeasureRow::read(row);
        let rise = at(work.rise, row.line)?;
        let acts = a.or(*open, rise);
        // While no window is open nothing is counted: a rise starts from 0.
        if !a.possible(acts) {
            continue;
        }
        // In scans the window's last scan is the limit itself; in rope it is the last one short of it.
        let (grows, end) = if row.pace == NONE {
            (one, row.limit.saturating_add(1))
        } else {
            let run = run(a, levels, row.pace)?;
            (run, row.limit)
        };
        let grown = a.add(*count, grows, end);
        a.set_word(acts, count, grown);
        let over = a.at_least(*count, end);
        let before = a.but(*open, over);
        let judges = a.or(before, rise);
        let outside = may(work.may, row.outside)?;
        let left = a.and(judges, outside);
        let again = a.and(before, rise);
        let trips = a.or(left, again);
        trip(a, work.trip, row.way, trips);
        *open = judges;
        a.set_word(rise, count, zero);
        let place = first.checked_add(i)?;
        *work.judged.get_mut(place)? = [judges];
        let [value] = *levels.level.get(usize::from(row.level))?;
        *levels.measured.get_mut(place)? = [value];
    }
    Some(())
}
