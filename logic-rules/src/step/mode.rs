//! Modes: exactly one must be selected.

use super::condition::{may, must, of};
use super::trip;
use crate::algebra::Algebra;
use crate::cells::{Bits, WorkBits};
use crate::plan::{ModeRow, NONE, Tables, long};

/// Selection, change and limits of the modes; which sets of modes are off.
#[inline(always)]
pub(super) fn modes<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    work: &mut WorkBits<'_, A::Bit>,
    first_scan: A::Bit,
) -> Option<()> {
    if tables.modes.is_empty() {
        return Some(());
    }
    let (mut any, mut several) = (a.bit(false), a.bit(false));
    for row in tables.modes {
        let row = ModeRow::read(row);
        let selected = may(work.may, of(row.key))?;
        let again = a.and(any, selected);
        several = a.or(several, again);
        any = a.or(any, selected);
        if row.fast != NONE {
            let fast = may(work.may, row.fast)?;
            let too_fast = a.and(selected, fast);
            trip(a, work.trip, row.way, too_fast);
        }
    }
    let one = a.but(any, several);
    let none_or_several = a.not(one);
    trip(a, work.trip, tables.head.way_unselected, none_or_several);
    let mut another = a.bit(false);
    let (mut known_any, no) = (a.bit(false), a.bit(false));
    for ((row, [last]), [known]) in tables.modes.iter().zip(bits.mode.iter_mut()).zip(work.known.iter_mut()) {
        let row = ModeRow::read(row);
        let (selected, held) = (may(work.may, of(row.key))?, must(a, work.may, of(row.key))?);
        let alone = a.and(one, selected);
        *known = a.and(alone, held);
        known_any = a.or(known_any, *known);
        let new = a.but(alone, *last);
        another = a.or(another, new);
        // A mode selected alone is the last one; no other stays the last beside it.
        a.set_bit(one, last, no);
        let yes = a.bit(true);
        a.set_bit(alone, last, yes);
    }
    let moving_or_unknown = {
        let still = must(a, work.may, tables.head.mode_still)?;
        a.not(still)
    };
    let changed = a.and(another, moving_or_unknown);
    let changed = a.but(changed, first_scan);
    trip(a, work.trip, tables.head.way_changed, changed);
    for (set, [off]) in tables.mode_sets.iter().zip(work.off_set.iter_mut()) {
        let set = long(set);
        let mut other = no;
        for ([known], i) in work.known.iter().zip(0_u32..) {
            if set.checked_shr(i).unwrap_or(0) & 1 == 0 {
                other = a.or(other, *known);
            }
        }
        *off = other;
    }
    Some(())
}
