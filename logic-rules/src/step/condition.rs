//! Conditions: what may be and what may not be. What must be is what may not *not* be. Every row refers to earlier ones only.

use crate::algebra::Algebra;
use crate::cells::{Bits, WorkBits, WorkWords};
use crate::plan::{BandRow, CompareRow, DifferRow, NodeRow, Tables};

/// The *may be* bit of a literal.
#[inline(always)]
pub(super) fn may<B: Copy>(cells: &[[B; 2]], literal: u16) -> Option<B> {
    cells.as_flattened().get(usize::from(literal)).copied()
}
/// The *must be* bit of a literal: its opposite cannot be.
#[inline(always)]
pub(super) fn must<A: Algebra>(a: &mut A, cells: &[[A::Bit; 2]], literal: u16) -> Option<A::Bit> {
    let opposite = may(cells, literal ^ 1)?;
    Some(a.not(opposite))
}
/// The literal of a condition.
#[inline(always)]
pub(super) fn of(atom: u16) -> u16 {
    atom << 1
}
/// Writes a condition that is known.
#[inline(always)]
pub(super) fn know<A: Algebra>(a: &mut A, work: &mut WorkBits<'_, A::Bit>, atom: u16, value: A::Bit) {
    let not = a.not(value);
    if let Some(cell) = work.may.get_mut(usize::from(atom)) {
        *cell = [value, not];
    }
}

/// How many conditions are read off inputs, not worked out of others.
#[inline(always)]
fn leaves(tables: &Tables<'_>, atoms: usize) -> Option<usize> {
    atoms.checked_sub(tables.compares.len())?.checked_sub(tables.bands.len())?.checked_sub(tables.nodes.len())
}

/// Condition 0 is always true, conditions 1 and on are the lines' levels, and whatever else there is does not hold until
/// it is found to: faults are seldom, and only then written.
#[inline(always)]
pub(super) fn begin<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &Bits<'_, A::Bit>,
    work: &mut WorkBits<'_, A::Bit>,
) -> Option<()> {
    let (yes, no) = (a.bit(true), a.bit(false));
    let leaves = leaves(tables, work.may.len())?;
    let (first, rest) = work.may.get_mut(..leaves)?.split_first_mut()?;
    *first = [yes, no];
    let (lines, others) = rest.split_at_mut_checked(bits.level.len())?;
    for (cell, [level]) in lines.iter_mut().zip(bits.level.iter()) {
        *cell = [*level, a.not(*level)];
    }
    others.fill([no, yes]);
    Some(())
}

/// Works out differences, comparisons, bands and conjunctions.
#[inline(always)]
pub(super) fn conditions<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &mut WorkWords<'_, A::Word>,
) -> Option<()> {
    let first = tables.gauges.len().checked_add(tables.paces.len().checked_mul(3)?)?;
    for (i, row) in tables.differs.iter().enumerate() {
        let row = DifferRow::read(row);
        let (x, y) = (usize::from(row.a), usize::from(row.b));
        let (one, other) = (levels.level.get(x..)?, levels.level.get(y..)?);
        let (ahead, behind) = if row.paces == 0 {
            let ([[one], ..], [[other], ..]) = (one, other) else { return None };
            let (above, below) = (a.word(row.above), a.word(row.below));
            (a.add(*one, above, u32::MAX), a.add(*other, below, u32::MAX))
        } else {
            let ([[one], [back], ..], [[other], [other_back], ..]) = (one, other) else { return None };
            (a.add(*one, *other_back, u32::MAX), a.add(*other, *back, u32::MAX))
        };
        let apart = a.difference(ahead, behind);
        let ([sure], [sure_too]) = (work.trusted.get(x)?, work.trusted.get(y)?);
        let trusted = a.and(*sure, *sure_too);
        let at = first.checked_add(i)?;
        *levels.level.get_mut(at)? = [apart];
        *work.trusted.get_mut(at)? = [trusted];
    }
    let leaves = leaves(tables, work.may.len())?;
    let (_, cells) = work.may.split_at_mut_checked(leaves)?;
    let (compares, cells) = cells.split_at_mut_checked(tables.compares.len())?;
    for (row, cell) in tables.compares.iter().zip(compares) {
        let row = CompareRow::read(row);
        let level = usize::from(row.level);
        let ([value], [trusted]) = (levels.level.get(level)?, work.trusted.get(level)?);
        let (reaches, unknown) = (a.at_least(*value, row.limit), a.not(*trusted));
        let below = a.not(reaches);
        *cell = [a.or(reaches, unknown), a.or(below, unknown)];
    }
    for (row, cell) in tables.bands.iter().zip(cells) {
        let row = BandRow::read(row);
        let level = usize::from(row.level);
        let ([value], [trusted]) = (levels.level.get(level)?, work.trusted.get(level)?);
        let (reaches, exceeds) = (a.at_least(*value, row.least), a.more_than(*value, row.most));
        let (inside, unknown) = (a.but(reaches, exceeds), a.not(*trusted));
        let outside = a.not(inside);
        *cell = [a.or(inside, unknown), a.or(outside, unknown)];
    }
    let first = work.may.len().checked_sub(tables.nodes.len())?;
    for (at, row) in (first..).zip(tables.nodes) {
        let row = NodeRow::read(row);
        let (x, y) = (may(work.may, row.a)?, may(work.may, row.b)?);
        let (not_x, not_y) = (may(work.may, row.a ^ 1)?, may(work.may, row.b ^ 1)?);
        *work.may.get_mut(at)? = [a.and(x, y), a.or(not_x, not_y)];
    }
    Some(())
}
