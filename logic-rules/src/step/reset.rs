//! The reset, and refills by key. Both act last, on what stood before this scan.

use super::condition::{must, of};
use super::held;
use super::latch::clear;
use crate::algebra::{Algebra, Cut};
use crate::cells::{Bits, Words, WorkBits};
use crate::plan::{NONE, RefillRow, Tables, TargetRow, TravelRow};

/// Clears all latches when the key is let go after a press of the right length, no stop trips, and
/// the condition is known to hold. Gives whether it acted.
#[inline(always)]
pub(super) fn reset<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &WorkBits<'_, A::Bit>,
    stopped: A::Bit,
    first_scan: A::Bit,
) -> Option<A::Bit> {
    let head = &tables.head;
    if head.reset_key == NONE {
        return Some(a.bit(false));
    }
    let [_, lasted] = words.reset.first_mut()?;
    let [was, pressing] = *bits.reset.first()?;
    let key = must(a, work.may, of(head.reset_key))?;
    let holds = must(a, work.may, head.reset_when)?;
    let ready = held(a, holds, lasted, head.reset_lasting);
    let acts = a.or(key, was);
    let acts = a.or(acts, pressing);
    // Without a key there is no press, and none that was begun.
    if a.possible(acts) { press(a, tables, bits, words, [key, ready, stopped, first_scan]) } else { Some(a.bit(false)) }
}

/// Follows the key, and clears the latches when it is let go as it should be.
#[inline(never)]
fn press<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    [key, ready, stopped, first_scan]: [A::Bit; 4],
) -> Option<A::Bit> {
    let head = &tables.head;
    let (one, zero, no) = (a.word(1), a.word(0), a.bit(false));
    let [length, _] = words.reset.first_mut()?;
    let [was, pressing] = bits.reset.first_mut()?;
    let pressed = a.but(key, *was);
    let pressed = a.but(pressed, first_scan);
    let released = a.but(*was, key);
    *was = key;
    *pressing = a.or(*pressing, pressed);
    a.set_bit(stopped, pressing, no);
    a.set_word(pressed, length, zero);
    let (long_enough, too_long) = (a.at_least(*length, head.reset_shortest), a.more_than(*length, head.reset_longest));
    let right = a.but(long_enough, too_long);
    let acts = a.and(released, *pressing);
    let acts = a.and(acts, right);
    let acts = a.and(acts, ready);
    let acts = a.cut(Cut::Reset, acts);
    let longer = a.add(*length, one, head.reset_longest.saturating_add(1));
    a.set_word(key, length, longer);
    a.set_bit(released, pressing, no);
    if a.possible(acts) {
        clear(a, acts, bits);
    }
    Some(acts)
}

/// Empties queues and makes counts unknown when a refill key is pressed.
#[inline(always)]
pub(super) fn refills<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &WorkBits<'_, A::Bit>,
    first_scan: A::Bit,
) -> Option<()> {
    for (i, row) in tables.refills.iter().enumerate() {
        let key = must(a, work.may, of(RefillRow::read(row).key))?;
        let [was] = bits.refill.get_mut(i)?;
        let press = a.but(key, *was);
        let press = a.but(press, first_scan);
        *was = key;
        if a.possible(press) {
            let holds = must(a, work.may, RefillRow::read(row).literal)?;
            let acts = a.and(press, holds);
            refill(a, tables, RefillRow::read(row), acts, bits, words)?;
        }
    }
    Some(())
}

/// Refills what a key names.
#[inline(never)]
fn refill<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    row: RefillRow,
    acts: A::Bit,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
) -> Option<()> {
    let (yes, no, zero) = (a.bit(true), a.bit(false), a.word(0));
    let first = usize::from(row.first);
    for target in tables.targets.get(first..first.checked_add(usize::from(row.count))?)? {
        let target = TargetRow::read(target);
        let index = usize::from(target.row);
        if target.count != 0 {
            let [known, _] = bits.count.get_mut(index)?;
            a.set_bit(acts, known, no);
            continue;
        }
        let travel = TravelRow::read(tables.travels.get(index)?);
        let (place, capacity) = (usize::from(travel.place), usize::from(travel.capacity));
        for [taken] in bits.under_way.get_mut(place..place.checked_add(capacity)?)? {
            a.set_bit(acts, taken, no);
        }
        let [excusing, held] = bits.stretch.get_mut(index)?;
        a.set_bit(acts, excusing, yes);
        a.set_bit(acts, held, yes);
        let [excuses, run] = words.stretch.get_mut(index)?;
        let full = a.word(u32::from(travel.capacity));
        a.set_word(acts, excuses, full);
        a.set_word(acts, run, zero);
    }
    Some(())
}
