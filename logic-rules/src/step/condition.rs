//! Conditions: what may be and what may not be. What must be is what may not *not* be. Every row refers to earlier ones only.

use crate::algebra::Algebra;
use crate::cells::{Bits, WorkBits, WorkWords};
use crate::plan::{CompareRow, DifferRow, NodeRow, Tables};

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

/// Condition 0 is always true, conditions 1 and on are the lines' levels, and whatever else there is does not hold until
/// it is found to: faults are seldom, and only then written.
#[inline(always)]
pub(super) fn begin<A: Algebra>(a: &mut A, bits: &Bits<'_, A::Bit>, work: &mut WorkBits<'_, A::Bit>) -> Option<()> {
    let (yes, no) = (a.bit(true), a.bit(false));
    let (first, rest) = work.may.split_first_mut()?;
    *first = [yes, no];
    let (lines, others) = rest.split_at_mut_checked(bits.level.len())?;
    for (cell, [level]) in lines.iter_mut().zip(bits.level.iter()) {
        *cell = [*level, a.not(*level)];
    }
    others.fill([no, yes]);
    Some(())
}

/// Works out differences, comparisons and conjunctions.
#[inline(always)]
pub(super) fn conditions<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &mut WorkWords<'_, A::Word>,
) -> Option<()> {
    let (gauges, paces) = (tables.gauges.len(), tables.paces.len());
    let first = gauges.checked_add(paces.checked_mul(2)?)?;
    for (i, row) in tables.differs.iter().enumerate() {
        let row = DifferRow::read(row);
        let (x, y) = (usize::from(row.a), usize::from(row.b));
        let (apart, trusted) = if row.paces == 0 {
            let ([one], [other]) = (levels.level.get(x)?, levels.level.get(y)?);
            let ([sure], [sure_too]) = (work.trusted.get(x)?, work.trusted.get(y)?);
            let (above, below) = (a.word(row.above), a.word(row.below));
            let (one, other) = (a.add(*one, above, u32::MAX), a.add(*other, below, u32::MAX));
            (a.difference(one, other), a.and(*sure, *sure_too))
        } else {
            let (x, y) = (gauges.checked_add(x.checked_mul(2)?)?, gauges.checked_add(y.checked_mul(2)?)?);
            let ([one], [one_back]) = (levels.level.get(x)?, levels.level.get(x.checked_add(1)?)?);
            let ([other], [other_back]) = (levels.level.get(y)?, levels.level.get(y.checked_add(1)?)?);
            let ([sure], [sure_too]) = (work.trusted.get(x)?, work.trusted.get(y)?);
            let (ahead, behind) = (a.add(*one, *other_back, u32::MAX), a.add(*other, *one_back, u32::MAX));
            (a.difference(ahead, behind), a.and(*sure, *sure_too))
        };
        let at = first.checked_add(i)?;
        *levels.level.get_mut(at)? = [apart];
        *work.trusted.get_mut(at)? = [trusted];
    }
    let compares = work.may.len().checked_sub(tables.nodes.len())?.checked_sub(tables.compares.len())?;
    for (row, cell) in tables.compares.iter().zip(work.may.get_mut(compares..)?) {
        let row = CompareRow::read(row);
        let level = usize::from(row.level);
        let ([value], [trusted]) = (levels.level.get(level)?, work.trusted.get(level)?);
        let (reaches, unknown) = (a.at_least(*value, row.limit), a.not(*trusted));
        let below = a.not(reaches);
        *cell = [a.or(reaches, unknown), a.or(below, unknown)];
    }
    let mut at = compares.checked_add(tables.compares.len())?;
    for row in tables.nodes {
        let row = NodeRow::read(row);
        let (x, y) = (may(work.may, row.a)?, may(work.may, row.b)?);
        let (not_x, not_y) = (may(work.may, row.a ^ 1)?, may(work.may, row.b ^ 1)?);
        *work.may.get_mut(at)? = [a.and(x, y), a.or(not_x, not_y)];
        at = at.checked_add(1)?;
    }
    Some(())
}
