//! Conditions: two bits each, *may be* and *must be*; every row refers to earlier ones only.

use super::at;
use crate::algebra::Algebra;
use crate::cells::{WorkBits, WorkWords};
use crate::plan::{CompareRow, DifferRow, NodeRow, Tables};

/// The two bits of a literal; its opposite swaps and inverts them.
#[inline(always)]
pub(super) fn literal<A: Algebra>(a: &mut A, work: &WorkBits<'_, A::Bit>, literal: u16) -> Option<(A::Bit, A::Bit)> {
    let atom = literal >> 1;
    let (may, must) = (at(work.may, atom)?, at(work.must, atom)?);
    if literal & 1 == 0 {
        return Some((may, must));
    }
    let (may, must) = (a.not(must), a.not(may));
    Some((may, must))
}
/// The *may be* bit of a literal.
#[inline(always)]
pub(super) fn may<A: Algebra>(a: &mut A, work: &WorkBits<'_, A::Bit>, of: u16) -> Option<A::Bit> {
    literal(a, work, of).map(|both| both.0)
}
/// The *must be* bit of a literal.
#[inline(always)]
pub(super) fn must<A: Algebra>(a: &mut A, work: &WorkBits<'_, A::Bit>, of: u16) -> Option<A::Bit> {
    literal(a, work, of).map(|both| both.1)
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
    let outs = work.may.get_mut(compares..)?.iter_mut().zip(work.must.get_mut(compares..)?.iter_mut());
    for (row, ([may], [must])) in tables.compares.iter().zip(outs) {
        let row = CompareRow::read(row);
        let level = usize::from(row.level);
        let ([value], [trusted]) = (levels.level.get(level)?, work.trusted.get(level)?);
        let reaches = a.at_least(*value, row.limit);
        let unknown = a.not(*trusted);
        *may = a.or(reaches, unknown);
        *must = a.and(reaches, *trusted);
    }
    let mut at = compares.checked_add(tables.compares.len())?;
    for row in tables.nodes {
        let row = NodeRow::read(row);
        let ((may_a, must_a), (may_b, must_b)) = (literal(a, work, row.a)?, literal(a, work, row.b)?);
        let (may, must) = (a.and(may_a, may_b), a.and(must_a, must_b));
        *work.may.get_mut(at)? = [may];
        *work.must.get_mut(at)? = [must];
        at = at.checked_add(1)?;
    }
    Some(())
}
