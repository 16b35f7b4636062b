//! Modes: exactly one must be selected.

use super::condition::{may, must};
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
    let (no, yes) = (a.bit(false), a.bit(true));
    let (mut any, mut several) = (no, no);
    for row in tables.modes {
        let row = ModeRow::read(row);
        let [selected, _] = *work.may.get(usize::from(row.key))?;
        let again = a.and(any, selected);
        several = a.or(several, again);
        any = a.or(any, selected);
        if row.fast != NONE && a.possible(selected) {
            let fast = may(work.may, row.fast)?;
            let too_fast = a.and(selected, fast);
            trip(a, work.trip, row.way, too_fast);
        }
    }
    let one = a.but(any, several);
    let none_or_several = a.not(one);
    trip(a, work.trip, tables.head.way_unselected, none_or_several);
    let mut another = no;
    for ((row, [last]), [known]) in tables.modes.iter().zip(bits.mode.iter_mut()).zip(work.known.iter_mut()) {
        let [selected, free] = *work.may.get(usize::from(ModeRow::read(row).key))?;
        let alone = a.and(one, selected);
        *known = a.but(alone, free);
        let new = a.but(alone, *last);
        another = a.or(another, new);
        // A mode selected alone is the last one; no other stays the last beside it.
        a.set_bit(one, last, no);
        a.set_bit(alone, last, yes);
    }
    if a.possible(another) {
        let still = must(a, work.may, tables.head.mode_still)?;
        let changed = a.but(another, still);
        let changed = a.but(changed, first_scan);
        trip(a, work.trip, tables.head.way_changed, changed);
    }
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
