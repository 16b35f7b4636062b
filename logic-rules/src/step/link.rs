//! Links: silence, and the other station's orders.

use super::{Inputs, fails, held, trip};
use crate::algebra::Algebra;
use crate::cells::{Words, WorkBits};
use crate::plan::{LinkRow, Tables, short};

/// Silence and orders of the links.
#[inline(always)]
pub(super) fn links<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    inputs: &Inputs<'_, A>,
) -> Option<()> {
    let zero = a.word(0);
    let worst = u32::try_from(tables.ranks.len()).ok()?;
    let frames = inputs.links.get(..tables.links.len())?;
    for ((row, frame), [silence, order]) in tables.links.iter().zip(frames).zip(words.link.iter_mut()) {
        let none = a.not(frame.fresh);
        let silent = held(a, none, silence, LinkRow::read(row).limit);
        if a.possible(silent) {
            let row = LinkRow::read(row);
            fails(a, (&mut *work.may, &mut *work.trip), row.silent, row.way_silent, silent);
        }
        // A rank the file does not know counts as the most severe.
        let rank = a.add(frame.order, zero, worst);
        a.set_word(frame.fresh, order, rank);
        let ordered = a.at_least(*order, 1);
        if a.possible(ordered) {
            orders(a, tables, LinkRow::read(row).orders, *order, work)?;
        }
    }
    Some(())
}

/// Each rank that is ordered is a way of its own.
#[inline(never)]
fn orders<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    first: u16,
    order: A::Word,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<()> {
    let first = usize::from(first);
    let ways = tables.orders.get(first..first.checked_add(tables.ranks.len())?)?;
    for (way, rank) in ways.iter().zip(1_u32..) {
        let (at_least, more) = (a.at_least(order, rank), a.more_than(order, rank));
        let this = a.but(at_least, more);
        trip(a, work.trip, short(way), this);
    }
    Some(())
}
