//! From the current of a loop to a step of its gauge, in whole numbers: what a controller does with each reading.
//!
//! The straight line through the two points is followed exactly and rounded once, to the nearest step, half a step upwards.
//! Health is judged by the current, before any rounding.

use super::ScaleRow;

/// How far a current can be believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Health {
    /// In the trusted range.
    Good,
    /// Neither measurement nor fault.
    Doubtful,
    /// The loop is broken or short.
    #[default]
    Broken,
}

/// What a current means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Scaled {
    /// Steps above step 0, at most the gauge's top; 0 if broken.
    pub steps: u32,
    /// May they be believed.
    pub health: Health,
}

/// A scale that has been prepared: a reading costs one multiplication and one division.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Scale {
    line: Line,
    /// Ends of the ranges, microampere.
    trusted: (i32, i32),
    broken: (i32, i32),
    top: u32,
}

/// Steps are `(2 (nanoamperes × rise + offset) + step) / 2 step`, rounded down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Line {
    /// Where no current between the bounds takes it out of 64 bits.
    Narrow { rise: i64, offset: i64, twice: i64 },
    /// Where one may.
    Wide { rise: i128, offset: i128, step: i128 },
}

/// Microampere in nanoampere.
fn nanoamps(ua: i32) -> i64 {
    i64::from(ua).saturating_mul(1_000)
}

impl Scale {
    /// Prepares a row; `top` is the greatest step of its gauge. `None` if its numbers are beyond what can be worked out
    /// in 128 bits, as no sensor's are, or the row is not sound.
    pub fn new(row: &ScaleRow, top: u32) -> Option<Self> {
        if !row.is_sound() {
            return None;
        }
        let (from_ua, to_ua) = (i128::from(row.from_ua), i128::from(row.to_ua));
        let run = to_ua.checked_sub(from_ua)?.checked_mul(1_000)?;
        let rise = i128::from(row.to).checked_sub(i128::from(row.from))?;
        let zero = i128::from(row.lowest).checked_mul(i128::from(row.step))?;
        let offset = i128::from(row.from).checked_sub(zero)?.checked_mul(run)?;
        let offset = offset.checked_sub(from_ua.checked_mul(1_000)?.checked_mul(rise)?)?;
        let step = run.checked_mul(i128::from(row.step))?;
        // A step of a scale that falls with the current is negative: the same line with both signs turned.
        let sign = step.signum();
        let (rise, offset, step) = (rise.checked_mul(sign)?, offset.checked_mul(sign)?, step.checked_mul(sign)?);
        // The least numbers that make the same line, so that ordinary ones fit into 64 bits.
        let common = divisor(divisor(rise, offset), step);
        let (rise, offset, step) = (rise.checked_div(common)?, offset.checked_div(common)?, step.checked_div(common)?);
        let mut scale = Self {
            line: Line::Wide { rise, offset, step },
            trusted: (row.trusted_from_ua, row.trusted_to_ua),
            broken: (row.broken_from_ua, row.broken_to_ua),
            top,
        };
        // Between these bounds the line is straight: what fits at both ends fits everywhere.
        let ends = [nanoamps(scale.broken.0), nanoamps(scale.broken.1)];
        for end in ends {
            scale.nearest(end)?;
        }
        let narrow = |wide: i128| i64::try_from(wide).ok();
        if let (Some(rise), Some(offset), Some(step)) = (narrow(rise), narrow(offset), narrow(step))
            && ends.iter().all(|end| twice(*end, rise, offset).and_then(|above| above.checked_add(step)).is_some())
            && let Some(twice) = step.checked_mul(2)
        {
            scale.line = Line::Narrow { rise, offset, twice };
        }
        Some(scale)
    }
    /// Steps and health of a current, nanoampere.
    pub fn read(&self, current: i64) -> Scaled {
        let ((broken, short), (from, to)) = (self.broken, self.trusted);
        if current <= nanoamps(broken) || current >= nanoamps(short) {
            return Scaled::default();
        }
        let trusted = (nanoamps(from)..=nanoamps(to)).contains(&current);
        match self.nearest(current) {
            Some(steps) => Scaled { steps, health: if trusted { Health::Good } else { Health::Doubtful } },
            None => Scaled::default(),
        }
    }
    /// The nearest step that there is.
    fn nearest(&self, nanoamps: i64) -> Option<u32> {
        let steps = match self.line {
            Line::Narrow { rise, offset, twice } => {
                // Nothing here leaves 64 bits, or the line would not be narrow.
                let above = nanoamps.wrapping_mul(rise).wrapping_add(offset).wrapping_mul(2).wrapping_add(twice >> 1);
                u32::try_from(u64::try_from(above).unwrap_or(0).checked_div(twice.unsigned_abs())?)
            }
            Line::Wide { rise, offset, step } => {
                let above = i128::from(nanoamps).checked_mul(rise)?.checked_add(offset)?;
                if above <= 0 {
                    return Some(0);
                }
                let (above, below) = (above.checked_mul(2)?.checked_add(step)?, step.checked_mul(2)?);
                u32::try_from(above.checked_div(below)?)
            }
        };
        Some(steps.map_or(self.top, |steps| steps.min(self.top)))
    }
}

/// Twice what stands above the step, where it fits into 64 bits.
fn twice(nanoamps: i64, rise: i64, offset: i64) -> Option<i64> {
    nanoamps.checked_mul(rise)?.checked_add(offset)?.checked_mul(2)
}

/// Greatest common divisor; 1 for two zeros.
fn divisor(a: i128, b: i128) -> i128 {
    let (mut a, mut b) = (a, b);
    while b != 0 {
        (a, b) = (b, a.checked_rem(b).unwrap_or(0));
    }
    a.saturating_abs().max(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROW: ScaleRow = ScaleRow::EXAMPLE;

    #[test]
    fn the_bands_are_those_of_the_current() {
        let scale = Scale::new(&ROW, 126).unwrap();
        let health = |nanoamps| scale.read(nanoamps).health;
        assert_eq!([health(3_600_000), health(21_000_000), health(0), health(-1)], [Health::Broken; 4]);
        assert_eq!([health(3_600_001), health(3_799_999), health(20_500_001)], [Health::Doubtful; 3]);
        assert_eq!([health(3_800_000), health(20_500_000)], [Health::Good; 2]);
        assert_eq!([4_000_000, 20_000_000].map(|nanoamps| scale.read(nanoamps).steps), [2, 122]);
    }

    #[test]
    fn what_cannot_be_worked_out_is_no_scale() {
        assert_eq!(Scale::new(&ScaleRow { lowest: i64::MIN, step: i64::MAX, ..ROW }, 9), None);
        assert_eq!(Scale::new(&ScaleRow { step: 0, ..ROW }, 9), None);
        assert_eq!(Scale::new(&ScaleRow { to_ua: 4_000, ..ROW }, 9), None);
    }
}
