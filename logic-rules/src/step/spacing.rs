//! Spacings: two passings of one detector, neither too close nor too far apart.

use super::condition::must;
use super::{at, trip};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits, WorkWords};
use crate::plan::{NONE, SpacingRow, Tables};

/// Trips of passings at the wrong distance.
#[inline(always)]
pub(super) fn spacings<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &mut WorkWords<'_, A::Word>,
) -> Option<()> {
    let (yes, no, one, zero) = (a.bit(true), a.bit(false), a.word(1), a.word(0));
    let first = tables.travels.len().checked_add(tables.measures.len())?;
    for (i, ((row, [armed]), [since])) in
        tables.spacings.iter().zip(bits.spacing.iter_mut()).zip(words.spacing.iter_mut()).enumerate()
    {
        let row = SpacingRow::read(row);
        let rise = at(work.rise, row.line)?;
        let (counts, rise) = if row.band == NONE {
            let [forward, back, _] = *levels.travel.get(usize::from(row.pace))?;
            let grown = a.add(*since, forward, row.top);
            *since = a.sub(grown, back);
            let backward = at(work.backward, row.pace)?;
            let gone_back = a.and(rise, backward);
            a.set_bit(gone_back, armed, no);
            (yes, a.but(rise, backward))
        } else {
            *since = a.add(*since, one, row.top);
            let band = must(a, work.may, row.band)?;
            let outside = a.not(band);
            a.set_bit(outside, armed, no);
            (band, a.and(rise, band))
        };
        let judged = a.and(rise, *armed);
        let place = first.checked_add(i)?;
        *work.judged.get_mut(place)? = [judged];
        *levels.measured.get_mut(place)? = [*since];
        let far_enough = a.at_least(*since, row.least);
        let closer = a.but(judged, far_enough);
        trip(a, work.trip, row.closer, closer);
        if row.farther != NONE {
            let far = a.more_than(*since, row.most);
            let waiting = a.but(*armed, rise);
            let waiting = a.and(waiting, counts);
            let farther = a.and(waiting, far);
            trip(a, work.trip, row.farther, farther);
            a.set_bit(farther, armed, no);
        }
        a.set_word(rise, since, zero);
        a.set_bit(rise, armed, yes);
    }
    Some(())
}
