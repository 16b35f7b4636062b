//! Bypasses: while one is active the ways it names do not trip; an event that would have is
//! remembered. A bypass never lowers a standing stop and clears no latch.

use super::at;
use super::condition::{must, of};
use crate::algebra::{Algebra, Cut};
use crate::cells::{Bits, Words, WorkBits};
use crate::plan::{BypassRow, GateRow, NONE, Tables};

/// Which bypasses are active in this scan, and their times.
#[inline(always)]
pub(super) fn activity<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    first_scan: A::Bit,
) -> Option<()> {
    let (yes, no, one, zero) = (a.bit(true), a.bit(false), a.word(1), a.word(0));
    let cells = bits.bypass.iter_mut().zip(words.bypass.iter_mut()).zip(work.active.iter_mut());
    for ((row, (([armed, was], [used, idle]), [active])), i) in tables.bypasses.iter().zip(cells).zip(0_usize..) {
        let row = BypassRow::read(row);
        let held = must(a, work.may, of(row.key))?;
        let key = a.or(held, *was);
        let acts = a.or(key, *armed);
        *active = no;
        // Only a key that is held, or was, arms, and only what is armed is active.
        if a.possible(acts) {
            let press = a.but(held, *was);
            let press = a.but(press, first_scan);
            *was = held;
            a.set_bit(press, armed, yes);
            let free = a.not(held);
            a.set_bit(free, armed, no);
            let mut mode = no;
            for ([known], m) in work.known.iter().zip(0_u32..) {
                if row.modes.checked_shr(m).unwrap_or(0) & 1 == 1 {
                    mode = a.or(mode, *known);
                }
            }
            let slow = must(a, work.may, row.slow)?;
            let spent = a.at_least(*used, row.budget);
            let fit = a.and(mode, slow);
            let fit = a.and(fit, *armed);
            let fit = a.but(fit, spent);
            *active = a.cut(Cut::Bypass(i), fit);
            let more = a.add(*used, one, row.budget);
            a.set_word(*active, used, more);
            let now_spent = a.at_least(*used, row.budget);
            a.set_bit(now_spent, armed, no);
        }
        *idle = a.add(*idle, one, row.rest);
        a.set_word(*active, idle, zero);
        let rested = a.at_least(*idle, row.rest);
        a.set_word(rested, used, zero);
    }
    Some(())
}

/// Keeps ways from tripping whose watch is off in this mode or bypassed.
#[inline(always)]
pub(super) fn gates<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<()> {
    for row in tables.gates {
        let (way, memory) = (GateRow::read(row).way, GateRow::read(row).memory);
        let mut acts = at(work.trip, way)?;
        if let Some([memory]) = bits.memory.get(usize::from(memory)) {
            acts = a.or(acts, *memory);
        }
        // What neither trips nor is remembered cannot be kept from it.
        if a.possible(acts) {
            gate(a, *row, bits, work)?;
        }
    }
    Some(())
}

/// Keeps one way from tripping.
#[inline(never)]
fn gate<A: Algebra>(
    a: &mut A,
    row: [u8; GateRow::SIZE],
    bits: &mut Bits<'_, A::Bit>,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<()> {
    let row = GateRow::read(&row);
    let mut trip = at(work.trip, row.way)?;
    if row.set != NONE {
        let off = at(work.off_set, row.set)?;
        trip = a.but(trip, off);
    }
    let mut masked = a.bit(false);
    for ([active], i) in work.active.iter().zip(0_u32..) {
        if u32::from(row.bypasses).checked_shr(i).unwrap_or(0) & 1 == 1 {
            masked = a.or(masked, *active);
        }
    }
    if let Some([memory]) = bits.memory.get_mut(usize::from(row.memory)) {
        trip = a.or(trip, *memory);
        *memory = a.and(trip, masked);
    }
    *work.trip.get_mut(usize::from(row.way))? = [a.but(trip, masked)];
    Some(())
}
