//! The way from a nominal value to an end of a window, step by step.

use super::{Cause, End, Why};

/// What one cause takes of a margin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// What takes it.
    pub cause: Cause,
    /// How much, in nanometres of rope or nanoseconds; less than nothing where it gives some back.
    pub amount: i64,
}

/// Which end is being reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Least,
    Most,
}

impl Side {
    /// What is enclosed, on this side.
    pub(super) fn of(self, enclosed: crate::lane::Enclosed) -> u128 {
        match self {
            Side::Least => enclosed.least,
            Side::Most => enclosed.most,
        }
    }
    /// A quotient, rounded to this side. None over nothing.
    pub(super) fn over(self, value: u128, by: u128) -> Option<u128> {
        (by > 0).then(|| match self {
            Side::Least => value / by,
            Side::Most => value.div_ceil(by),
        })
    }
}

/// Values on the way outward.
#[derive(Debug)]
pub(super) struct Ladder {
    side: Side,
    from: u128,
    at: i128,
    parts: Vec<Part>,
}

impl Ladder {
    pub(super) fn new(side: Side, nominal: u128) -> Result<Self, Why> {
        Ok(Self { side, from: nominal, at: signed(nominal)?, parts: Vec::new() })
    }
    /// One cause has moved the value to here.
    pub(super) fn to(&mut self, cause: Cause, value: i128) -> Result<(), Why> {
        let amount = match self.side {
            Side::Least => self.at - value,
            Side::Most => value - self.at,
        };
        self.parts.push(Part { cause, amount: i64::try_from(amount).map_err(|_| Why::TooLarge)? });
        self.at = value;
        Ok(())
    }
    /// As [`Ladder::to`], for a value that cannot be negative.
    pub(super) fn reach(&mut self, cause: Cause, value: u128) -> Result<(), Why> {
        self.to(cause, signed(value)?)
    }
    /// One cause moves the value outward by so much.
    pub(super) fn out(&mut self, cause: Cause, by: u128) -> Result<(), Why> {
        let by = signed(by)?;
        let value = match self.side {
            Side::Least => self.at - by,
            Side::Most => self.at + by,
        };
        self.to(cause, value)
    }
    /// Where the value stands.
    pub(super) fn at(&self) -> i128 {
        self.at
    }
    /// The value in whole units, rounded outward and not below nothing; the limit lies `narrowed` of them farther out, if
    /// that is not below nothing.
    pub(super) fn end(mut self, unit: u128, narrowed: u32) -> Result<End, Why> {
        let unit = signed(unit)?;
        let whole = match self.side {
            Side::Least => self.at.div_euclid(unit).max(0),
            Side::Most => (self.at + unit - 1).div_euclid(unit).max(0),
        };
        self.to(Cause::Rounding, whole * unit)?;
        let counted = u32::try_from(whole).map_err(|_| Why::TooLarge)?;
        let limit = match self.side {
            Side::Least => counted.checked_sub(narrowed),
            Side::Most => Some(counted.checked_add(narrowed).ok_or(Why::TooLarge)?),
        };
        let from = u64::try_from(self.from).map_err(|_| Why::TooLarge)?;
        Ok(End { counted, limit, from, parts: self.parts.into_iter().filter(|part| part.amount != 0).collect() })
    }
}

fn signed(value: u128) -> Result<i128, Why> {
    i128::try_from(value).ok().filter(|value| *value < 1 << 100).ok_or(Why::TooLarge)
}
