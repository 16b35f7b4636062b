//! Gauges: values, and the ways in which a value cannot be believed.

use super::{Inputs, Reading, at, edge, fails, trip};
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
    let edge = edge(work)?;
    let (zero, mut unsure) = (a.word(0), a.bit(false));
    let readings = inputs.gauges.get(..tables.gauges.len())?;
    let cells = bits.gauge.iter_mut().zip(words.gauge.iter_mut());
    let outs = levels.level.iter_mut().zip(work.trusted.iter_mut());
    for (((row, reading), ([was_good], [before])), ([level], [trusted])) in
        tables.gauges.iter().zip(readings).zip(cells).zip(outs)
    {
        let row = GaugeRow::read(row);
        let value = a.add(reading.value, zero, row.top);
        let good = a.but(reading.good, reading.broken);
        if row.way_leap != NONE {
            let movement = a.difference(value, *before);
            let far = a.more_than(movement, row.leap);
            let both = a.and(good, *was_good);
            let leap = a.and(both, far);
            trip(a, work.trip, row.way_leap, leap);
        }
        let bad = a.not(good);
        unsure = a.or(unsure, bad);
        (*level, *trusted, *before, *was_good) = (value, good, value, good);
        if row.way_unrested != NONE && a.possible(edge) {
            let rise = at(work.rise, row.rest_line)?;
            let (above, beyond) = (a.at_least(value, row.rest_least), a.more_than(value, row.rest_most));
            let inside = a.but(above, beyond);
            let rests = a.and(inside, good);
            let unrested = a.but(rise, rests);
            trip(a, work.trip, row.way_unrested, unrested);
        }
    }
    if a.possible(unsure) {
        faults(a, tables, readings, work);
    }
    Some(())
}

/// Tells which gauges cannot be believed.
#[inline(never)]
fn faults<A: Algebra>(a: &mut A, tables: &Tables<'_>, readings: &[Reading<A>], work: &mut WorkBits<'_, A::Bit>) {
    for (row, reading) in tables.gauges.iter().zip(readings) {
        let sure = a.but(reading.good, reading.broken);
        let unsure = a.not(sure);
        if a.possible(unsure) {
            let row = GaugeRow::read(row);
            fails(a, (&mut *work.may, &mut *work.trip), row.broken, row.way_broken, reading.broken);
            let doubtful = a.but(unsure, reading.broken);
            fails(a, (&mut *work.may, &mut *work.trip), row.doubtful, row.way_doubtful, doubtful);
        }
    }
}
