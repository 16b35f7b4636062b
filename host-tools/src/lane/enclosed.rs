//! A carrier's run in whole numbers, enclosed: the least and the most that it can be.
//!
//! On a stretch the square of the speed's share is linear in the place, so that a piece of length L between
//! the shares s1 and s2 takes 2 L / (s1 + s2) of rope. Shares are kept to a millionth of a millionth and runs to a
//! nanometre, and every root and every quotient is rounded outward. An enclosure is therefore wider than the truth by at
//! most two nanometres a stretch, and by four parts in a million million over the least share of the way: less than a
//! micrometre on a way of 100 m at a twentieth of the rope speed.
//!
//! Lengths are plain whole numbers with their unit in the name, as everywhere in this crate, and no crate of units is
//! used: what resolves a rule file has already refused a wrong dimension, and such a crate would bring in floating point
//! or a type for each base number, where rounding to a known side is all that matters here.

use crate::station::{Lane, Mm, Stretch};

/// Nanometres in a millimetre.
pub(super) const NM: u128 = 1_000_000;
/// The whole rope speed in millionths.
const FULL: u128 = 1_000_000;
/// The whole rope speed in millionths of millionths.
const FINE: u128 = FULL * FULL;

/// What a number is at least and at most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Enclosed {
    /// Not less than this.
    pub least: u128,
    /// Not more than this.
    pub most: u128,
}

impl Enclosed {
    fn plus(self, other: Self) -> Self {
        Self { least: self.least.saturating_add(other.least), most: self.most.saturating_add(other.most) }
    }
}

/// A carrier that is faster, or slower, than the lane says wherever its speed is not the rope's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Speed {
    /// As the lane says.
    Nominal,
    /// Faster by so many millionths.
    Faster(u32),
    /// Slower by so many millionths, less than a million.
    Slower(u32),
}

/// Rope that runs while a carrier goes from one place of the lane to another, in nanometres.
///
/// None where the lane does not cover the way, where it leads backwards, or where the carrier would stand.
/// A way of no length takes no rope.
pub fn run(lane: &Lane, from: Mm, to: Mm, speed: Speed) -> Option<Enclosed> {
    let mut at = from;
    let mut sum = Enclosed::default();
    for stretch in &lane.stretches {
        let (start, end) = (from.max(stretch.from), to.min(stretch.to));
        if end <= start {
            continue;
        }
        if start != at {
            return None;
        }
        at = end;
        let piece = piece(stretch, start, end)?;
        sum = sum.plus(if at_rope_speed(stretch) { piece } else { off(piece, speed)? });
    }
    (at == to && covers(lane, from)).then_some(sum)
}

/// The stretch is at rope speed throughout.
pub(super) fn at_rope_speed(stretch: &Stretch) -> bool {
    u128::from(stretch.share.0) == FULL && u128::from(stretch.share.1) == FULL
}

fn covers(lane: &Lane, place: Mm) -> bool {
    lane.stretches.iter().any(|stretch| stretch.from <= place && place <= stretch.to)
}

/// 2 L / (s1 + s2).
fn piece(stretch: &Stretch, start: Mm, end: Mm) -> Option<Enclosed> {
    let (first, last) = (share(stretch, start)?, share(stretch, end)?);
    let twice = u128::from(end.checked_sub(start)?).checked_mul(2 * NM)?.checked_mul(FINE)?;
    let slowest = first.least.checked_add(last.least)?;
    Some(Enclosed {
        least: twice.checked_div(first.most.checked_add(last.most)?)?,
        most: (slowest > 0).then(|| twice.div_ceil(slowest))?,
    })
}

/// Share of the rope speed at a place of a stretch, in millionths of millionths.
pub(super) fn share(stretch: &Stretch, at: Mm) -> Option<Enclosed> {
    let long = u128::from(stretch.to.checked_sub(stretch.from)?);
    let way = u128::from(at.checked_sub(stretch.from)?);
    let left = long.checked_sub(way)?;
    let square = |share: u32| u128::from(share).checked_mul(u128::from(share));
    // The square of the share times the length, between both ends.
    let mixed = square(stretch.share.0)?.checked_mul(left)?.checked_add(square(stretch.share.1)?.checked_mul(way)?)?;
    let fine = mixed.checked_mul(FINE)?;
    let (under, over) = (fine.checked_div(long)?, (long > 0).then(|| fine.div_ceil(long))?);
    let root = over.isqrt();
    Some(Enclosed { least: under.isqrt(), most: if root * root == over { root } else { root + 1 } })
}

/// A run at another speed.
fn off(run: Enclosed, speed: Speed) -> Option<Enclosed> {
    let pace = match speed {
        Speed::Nominal => return Some(run),
        Speed::Faster(by) => FULL.checked_add(u128::from(by))?,
        Speed::Slower(by) => FULL.checked_sub(u128::from(by)).filter(|pace| *pace > 0)?,
    };
    Some(Enclosed { least: run.least.checked_mul(FULL)? / pace, most: run.most.checked_mul(FULL)?.div_ceil(pace) })
}
