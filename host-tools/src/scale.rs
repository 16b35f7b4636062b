//! From the current of a loop to a step of its gauge, in whole numbers.
//!
//! The straight line through the gauge's two points is followed exactly; only the last act rounds,
//! to the nearest step, half a step away from step 0 (steps count from the least value upwards, so
//! that is upwards). Health is judged by the current, before any rounding.

use crate::sample::{Health, Reading};
use crate::station::Gauge;

/// Steps and health of a current given in nanoamperes.
pub fn scale(gauge: &Gauge, nanoamps: i64) -> Reading {
    scale_fraction(gauge, i128::from(nanoamps), 1)
}

/// Steps and health of a value given in millionths of the gauge's unit, by way of its current.
///
/// A gauge whose two points carry the same value has no current for another one: broken.
pub fn scale_value(gauge: &Gauge, micro: i64) -> Reading {
    match current_of(gauge, micro) {
        Some((numerator, denominator)) => scale_fraction(gauge, numerator, denominator),
        None => Reading { steps: 0, health: Health::Broken },
    }
}

/// Current in nanoamperes, as a fraction with a positive denominator, of a value in millionths.
pub fn current_of(gauge: &Gauge, micro: i64) -> Option<(i128, i128)> {
    let [(from_ua, from), (to_ua, to)] = gauge.points;
    let rise = i128::from(to) - i128::from(from);
    let run = i128::from(to_ua) - i128::from(from_ua);
    let above = i128::from(micro) - i128::from(from);
    let numerator = 1_000 * (i128::from(from_ua) * rise + above * run);
    (rise != 0).then_some((numerator * rise.signum(), rise.abs()))
}

/// Whether currents and values over this denominator are told exactly in 128 bits: a loop carries at most 3e7 nA, and what is divided is at
/// most that times the denominator times the greatest value of the gauge.
pub fn exact_over(gauge: &Gauge, denominator: i128) -> bool {
    let [(_, from), (_, to)] = gauge.points;
    let values = [from, to, gauge.lowest.saturating_mul(gauge.step_micro), gauge.step_micro];
    let greatest = values.into_iter().map(i64::unsigned_abs).max().unwrap_or(0).saturating_mul(2).max(1);
    denominator.checked_mul(i128::from(greatest)).is_some_and(|product| product <= 10_i128.pow(28))
}

/// Steps and health of a current of `numerator / denominator` nanoamperes that a loop may carry, -1 mA to 30 mA. The denominator is one that
/// [`exact_over`] has allowed.
pub fn scale_exact(gauge: &Gauge, (numerator, denominator): (i128, i128)) -> Reading {
    scale_fraction(gauge, numerator, denominator)
}

/// The current of `above / below` millionths of the gauge's unit, in nanoamperes as a fraction with a positive denominator; none of a value
/// that is far from any that the gauge has.
pub fn current_of_exact(gauge: &Gauge, (above, below): (i128, i128)) -> Option<(i128, i128)> {
    let [(from_ua, from), (to_ua, to)] = gauge.points;
    let rise = i128::from(to) - i128::from(from);
    let run = 1_000 * (i128::from(to_ua) - i128::from(from_ua));
    let along = above.checked_sub(i128::from(from).checked_mul(below)?)?.checked_mul(run)?;
    let denominator = rise.checked_mul(below)?;
    let numerator = denominator.checked_mul(1_000 * i128::from(from_ua))?.checked_add(along)?;
    (rise != 0).then_some((numerator * rise.signum(), denominator * rise.signum()))
}

/// Steps and health of `above / below` millionths of the gauge's unit, whose current a loop may carry and is that of [`current_of_exact`]. The
/// denominator is one that [`exact_over`] has allowed.
pub fn scale_value_exact(gauge: &Gauge, (above, below): (i128, i128), current: (i128, i128)) -> Reading {
    let health = health(gauge, current.0, current.1);
    let zero = i128::from(gauge.lowest) * i128::from(gauge.step_micro);
    let steps = match i128::from(gauge.step_micro) * below {
        _ if health == Health::Broken => 0,
        0 => 0,
        step => nearest(above - zero * below, step),
    };
    let steps = steps.clamp(0, i128::from(gauge.top));
    Reading { steps: u32::try_from(steps).unwrap_or(gauge.top), health }
}

/// Steps and health of a current of `numerator / denominator` nanoamperes; the denominator is positive.
fn scale_fraction(gauge: &Gauge, numerator: i128, denominator: i128) -> Reading {
    let health = health(gauge, numerator, denominator);
    if health == Health::Broken {
        return Reading { steps: 0, health };
    }
    let [(from_ua, from), (to_ua, to)] = gauge.points;
    let run = 1_000 * (i128::from(to_ua) - i128::from(from_ua)) * denominator;
    let rise = i128::from(to) - i128::from(from);
    let along = numerator - 1_000 * i128::from(from_ua) * denominator;
    // Value less the value of step 0, over one step: all over one denominator, divided once.
    let zero = i128::from(gauge.lowest) * i128::from(gauge.step_micro);
    let mut above = along * rise + (i128::from(from) - zero) * run;
    let mut step = run * i128::from(gauge.step_micro);
    if step < 0 {
        above = -above;
        step = -step;
    }
    let steps = match step {
        0 => 0,
        _ => nearest(above, step),
    };
    let steps = steps.clamp(0, i128::from(gauge.top));
    Reading { steps: u32::try_from(steps).unwrap_or(gauge.top), health }
}

/// The bands of NAMUR NE 43 (edition of 2003) unless the gauge narrows them: 3.60 mA and 21.00 mA
/// are broken themselves (pages disagree on the bound; fault is the safe reading), 3.80 mA and
/// 20.50 mA are good.
fn health(gauge: &Gauge, numerator: i128, denominator: i128) -> Health {
    let bound = |ua: i32| 1_000 * i128::from(ua) * denominator;
    if numerator <= bound(gauge.broken_ua.0) || numerator >= bound(gauge.broken_ua.1) {
        Health::Broken
    } else if numerator < bound(gauge.trusted_ua.0) || numerator > bound(gauge.trusted_ua.1) {
        Health::Doubtful
    } else {
        Health::Good
    }
}

/// Quotient to the nearest whole, half away from zero; `below` is positive.
fn nearest(above: i128, below: i128) -> i128 {
    // Divisions of 64 bits are several times as fast, and nearly every reading fits.
    if let (Ok(a), Ok(b)) = (i64::try_from(2 * above), i64::try_from(2 * below)) {
        let half = b / 2;
        let moved = if a < 0 { a.checked_sub(half) } else { a.checked_add(half) };
        if let Some(moved) = moved {
            return i128::from(moved / b);
        }
    }
    let half = if above < 0 { -below } else { below };
    (2 * above + half) / (2 * below)
}

#[cfg(test)]
mod tests;
