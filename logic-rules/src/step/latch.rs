//! Trips become latches; the first of a stoppage are kept.

use super::any;
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits};
use crate::plan::{BypassRow, Plan, Tables, TravelRow};

/// What a scan's trips come to.
pub(super) struct Asked<B> {
    /// A stop trips in this scan.
    pub(super) stops: B,
    /// Anything trips in this scan.
    pub(super) trips: B,
    /// Anything trips, or a stop is latched.
    pub(super) any: B,
}

/// Latches what trips.
#[inline(always)]
pub(super) fn latches<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<Asked<A::Bit>> {
    let first_stop = usize::from(tables.head.first_stop);
    let before = any(a, bits.latch.get(first_stop..)?);
    let trips = any(a, work.trip);
    let stops = if a.possible(trips) {
        let stops = any(a, work.trip.get(first_stop..)?);
        latch(a, tables, bits, work, before, stops)?;
        stops
    } else {
        trips
    };
    Some(Asked { stops, trips, any: a.or(trips, before) })
}

/// Latches the stops that trip; they are the first of a stoppage if none was latched before.
#[inline(never)]
fn latch<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    work: &WorkBits<'_, A::Bit>,
    before: A::Bit,
    now: A::Bit,
) -> Option<()> {
    let first_stop = usize::from(tables.head.first_stop);
    let trips = work.trip.get(first_stop..)?;
    let latches = bits.latch.get_mut(first_stop..)?;
    let firsts = bits.first.get_mut(first_stop..)?;
    let begins = a.but(now, before);
    for (([trip], [latch]), [first]) in trips.iter().zip(latches.iter_mut()).zip(firsts.iter_mut()) {
        *latch = a.or(*latch, *trip);
        a.set_bit(begins, first, *trip);
    }
    Some(())
}

/// Makes the state at power-up of cells that are all false and zero; `None` if they are too few.
pub fn power_up<A: Algebra>(a: &mut A, plan: &Plan<'_>, bits: &mut [A::Bit], words: &mut [A::Word]) -> Option<()> {
    let tables = plan.tables();
    let yes = a.bit(true);
    let mut bits = Bits::cut(bits, plan)?;
    let mut words = Words::cut(words, plan)?;
    let started = usize::from(tables.head.way_started);
    *bits.latch.get_mut(started)? = [yes];
    *bits.first.get_mut(started)? = [yes];
    // Nothing ran before, which is as good as the most severe stop in the verdict before.
    *bits.published.last_mut()? = [yes];
    for (row, [used, _]) in tables.bypasses.iter().zip(words.bypass.iter_mut()) {
        *used = a.word(BypassRow::read(row).budget);
    }
    for [_, was] in bits.count.iter_mut() {
        *was = yes;
    }
    bits.output.fill([yes, yes]);
    refill_all(a, tables, &mut bits, &mut words);
    Some(())
}

/// Every stretch is empty and refills.
pub(super) fn refill_all<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
) {
    let (yes, no) = (a.bit(true), a.bit(false));
    bits.under_way.fill([no]);
    for ((row, stretch), cells) in tables.travels.iter().zip(bits.stretch.iter_mut()).zip(words.stretch.iter_mut()) {
        *stretch = [yes, yes];
        *cells = [a.word(u32::from(TravelRow::read(row).capacity)), a.word(0)];
    }
}

/// Clears every latch where `when` holds.
#[inline(always)]
pub(super) fn clear<A: Algebra>(a: &mut A, when: A::Bit, bits: &mut Bits<'_, A::Bit>) {
    let no = a.bit(false);
    for cells in [&mut *bits.latch, &mut *bits.first] {
        for [cell] in cells {
            a.set_bit(when, cell, no);
        }
    }
}
