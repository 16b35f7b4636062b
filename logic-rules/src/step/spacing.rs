//! Spacings: two passings of one detector, neither too close nor too far apart.

use super::condition::must;
use super::{at, backwards, edge, trip};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits, WorkWords};
use crate::plan::{NONE, SpacingRow, Tables};

/// Lets distances grow, and judges spacings where there is something to judge.
#[inline(always)]
pub(super) fn spacings<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &mut WorkWords<'_, A::Word>,
) -> Option<()> {
    let (edge, one) = (edge(work)?, a.word(1));
    let mut place = tables.travels.len().checked_add(tables.measures.len())?;
    for ((row, [armed]), [since]) in tables.spacings.iter().zip(bits.spacing.iter_mut()).zip(words.spacing.iter_mut()) {
        let bytes = row;
        let row = SpacingRow::read(bytes);
        let mut acts = edge;
        if row.band == NONE {
            let [forward, back] = *levels.travel.get(usize::from(row.pace))?;
            let grown = a.add(*since, forward, row.top);
            *since = a.sub(grown, back);
        } else {
            *since = a.add(*since, one, row.top);
            let band = must(a, work.may, row.band)?;
            let outside = a.not(band);
            acts = a.or(acts, outside);
        }
        if row.farther != NONE {
            let far = a.more_than(*since, row.most);
            let waits = a.and(*armed, far);
            acts = a.or(acts, waits);
        }
        if a.possible(acts) {
            let (judged, measured) = judge(a, bytes, work, levels, armed, since)?;
            *work.judged.get_mut(place)? = [judged];
            *levels.measured.get_mut(place)? = [measured];
        }
        place = place.checked_add(1)?;
    }
    Some(())
}

/// Judges a passing, or that nobody has passed for too long. Gives whether a passing was judged, and its distance.
#[inline(never)]
fn judge<A: Algebra>(
    a: &mut A,
    row: &[u8; SpacingRow::SIZE],
    work: &mut WorkBits<'_, A::Bit>,
    levels: &WorkWords<'_, A::Word>,
    armed: &mut A::Bit,
    since: &mut A::Word,
) -> Option<(A::Bit, A::Word)> {
    let row = SpacingRow::read(row);
    let (yes, no, zero) = (a.bit(true), a.bit(false), a.word(0));
    let rise = at(work.rise, row.line)?;
    let (counts, rise) = if row.band == NONE {
        let backward = backwards(a, levels, row.pace)?;
        let gone_back = a.and(rise, backward);
        a.set_bit(gone_back, armed, no);
        (yes, a.but(rise, backward))
    } else {
        let band = must(a, work.may, row.band)?;
        let outside = a.not(band);
        a.set_bit(outside, armed, no);
        (band, a.and(rise, band))
    };
    let judged = a.and(rise, *armed);
    let measured = *since;
    let far_enough = a.at_least(measured, row.least);
    let closer = a.but(judged, far_enough);
    trip(a, work.trip, row.closer, closer);
    if row.farther != NONE {
        let far = a.more_than(measured, row.most);
        let waiting = a.but(*armed, rise);
        let waiting = a.and(waiting, counts);
        let farther = a.and(waiting, far);
        trip(a, work.trip, row.farther, farther);
        a.set_bit(farther, armed, no);
    }
    a.set_word(rise, since, zero);
    a.set_bit(rise, armed, yes);
    Some((judged, measured))
}
