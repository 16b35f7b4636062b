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
    /// Steps are `(2 (nanoamperes × rise + offset) + step) / 2 step`, rounded down.
    rise: i128,
    offset: i128,
    step: i128,
    /// The same three numbers, the step twice, where no current between the bounds takes them out of 64 bits.
    narrow: Option<(i64, i64, i64)>,
    trusted: (i64, i64),
    broken: (i64, i64),
    top: u32,
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
        let mut scale = Self {
            rise: rise.checked_div(common)?,
            offset: offset.checked_div(common)?,
            step: step.checked_div(common)?,
            narrow: None,
            trusted: (nanoamps(row.trusted_from_ua), nanoamps(row.trusted_to_ua)),
            broken: (nanoamps(row.broken_from_ua), nanoamps(row.broken_to_ua)),
            top,
        };
        // Between these bounds the line is straight: what fits at both ends fits everywhere.
        let ends = [scale.broken.0, scale.broken.1];
        for end in ends {
            scale.nearest(end)?;
        }
        let narrow = |wide: i128| i64::try_from(wide).ok();
        if let (Some(rise), Some(offset), Some(step)) = (narrow(scale.rise), narrow(scale.offset), narrow(scale.step))
            && ends.iter().all(|end| twice(*end, rise, offset).and_then(|above| above.checked_add(step)).is_some())
        {
            scale.narrow = step.checked_mul(2).map(|twice| (rise, offset, twice));
        }
        Some(scale)
    }
    /// Steps and health of a current, nanoampere.
    pub fn read(&self, nanoamps: i64) -> Scaled {
        if nanoamps <= self.broken.0 || nanoamps >= self.broken.1 {
            return Scaled::default();
        }
        let trusted = (self.trusted.0..=self.trusted.1).contains(&nanoamps);
        match self.nearest(nanoamps) {
            Some(steps) => Scaled { steps, health: if trusted { Health::Good } else { Health::Doubtful } },
            None => Scaled::default(),
        }
    }
    /// The nearest step that there is.
    fn nearest(&self, nanoamps: i64) -> Option<u32> {
        if let Some((rise, offset, below)) = self.narrow {
            // Nothing here leaves 64 bits, or there would be no narrow numbers.
            let above = nanoamps.wrapping_mul(rise).wrapping_add(offset).wrapping_mul(2).wrapping_add(below >> 1);
            let steps = u64::try_from(above).unwrap_or(0).checked_div(below.unsigned_abs())?;
            return Some(u32::try_from(steps).map_or(self.top, |steps| steps.min(self.top)));
        }
        let above = i128::from(nanoamps).checked_mul(self.rise)?.checked_add(self.offset)?;
        if above <= 0 {
            return Some(0);
        }
        let (above, below) = (above.checked_mul(2)?.checked_add(self.step)?, self.step.checked_mul(2)?);
        let steps = above.checked_div(below)?;
        Some(u32::try_from(steps).map_or(self.top, |steps| steps.min(self.top)))
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
