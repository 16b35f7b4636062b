//! Gauges: values, and the ways in which a value cannot be believed.

use super::{Inputs, at, know, put};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits, WorkWords};
use crate::plan::{GaugeRow, NONE, Tables};

/// Levels and faults of the gauges.
#[inline(always)]
pub(super) fn gauges<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &mut WorkWords<'_, A::Word>,
    inputs: &Inputs<'_, A>,
) -> Option<()> {
    let zero = a.word(0);
    let readings = inputs.gauges.get(..tables.gauges.len())?;
    let cells = bits.gauge.iter_mut().zip(words.gauge.iter_mut()).zip(levels.level.iter_mut());
    for (i, ((row, reading), (([was_good], [before]), [level]))) in
        tables.gauges.iter().zip(readings).zip(cells).enumerate()
    {
        let row = GaugeRow::read(row);
        let value = a.add(reading.value, zero, row.top);
        let good = a.but(reading.good, reading.broken);
        *level = value;
        if let Some([trusted]) = work.trusted.get_mut(i) {
            *trusted = good;
        }
        know(work, row.broken, reading.broken);
        put(work.trip, row.way_broken, reading.broken);
        let sure = a.or(good, reading.broken);
        let doubtful = a.not(sure);
        know(work, row.doubtful, doubtful);
        put(work.trip, row.way_doubtful, doubtful);
        if row.way_leap != NONE {
            let movement = a.difference(value, *before);
            let far = a.at_least(movement, row.leap.saturating_add(1));
            let both = a.and(good, *was_good);
            let leap = a.and(both, far);
            put(work.trip, row.way_leap, leap);
        }
        *was_good = good;
        *before = value;
        if row.way_unrested != NONE {
            let rise = at(work.rise, row.rest_line)?;
            let (above, beyond) =
                (a.at_least(value, row.rest_least), a.at_least(value, row.rest_most.saturating_add(1)));
            let inside = a.but(above, beyond);
            let rests = a.and(inside, good);
            let unrested = a.but(rise, rests);
            put(work.trip, row.way_unrested, unrested);
        }
    }
    Some(())
}
