//! Readings of one moment must agree before a scan uses them.
//!
//! Two readings are taken. Where they agree, the second is used. Else a third is taken, and of each signal the latest is used that
//! another agrees with: a signal that changed in between is no fault, a value that only one of three shows is. A bit that
//! turned in one reading therefore never gets to the step.

use crate::fault::Fault;
use crate::sample::Sample;

/// What two honest readings a moment apart may differ by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tolerance {
    /// Nanoampere.
    pub current: u32,
    /// Pulses.
    pub pulses: u32,
}

impl Default for Tolerance {
    /// 80 µA, half a percent of 4 to 20 mA; 2 pulses.
    fn default() -> Self {
        Self { current: 80_000, pulses: 2 }
    }
}

impl Tolerance {
    fn currents(self, a: i32, b: i32) -> bool {
        a.abs_diff(b) <= self.current
    }
    fn counts(self, a: u32, b: u32) -> bool {
        a.wrapping_sub(b).min(b.wrapping_sub(a)) <= self.pulses
    }
    /// Whether two readings agree in everything.
    pub fn agree(self, a: &Sample, b: &Sample) -> bool {
        a.channels == b.channels
            && a.currents.len() == b.currents.len()
            && a.currents.iter().zip(&b.currents).all(|(a, b)| self.currents(*a, *b))
            && a.pulses.len() == b.pulses.len()
            && a.pulses.iter().zip(&b.pulses).all(|(a, b)| self.counts(*a, *b))
            && a.links == b.links
    }
    /// Leaves in `third` what is to be used of three readings.
    ///
    /// # Errors
    /// [`Fault::Missing`] if they are not of the same terminals, [`Fault::Unsteady`] if no two agree.
    pub fn settle(self, first: &Sample, second: &Sample, third: &mut Sample) -> Result<(), Fault> {
        let mut terminal = 0;
        each(&first.channels, &second.channels, &mut third.channels, |a, b| a == b, &mut terminal)?;
        each(&first.currents, &second.currents, &mut third.currents, |a, b| self.currents(a, b), &mut terminal)?;
        each(&first.pulses, &second.pulses, &mut third.pulses, |a, b| self.counts(a, b), &mut terminal)?;
        each(&first.links, &second.links, &mut third.links, |a, b| a == b, &mut terminal)
    }
}

/// Of each signal the latest reading that another one is near to.
fn each<T: Copy>(
    first: &[T],
    second: &[T],
    third: &mut [T],
    near: impl Fn(T, T) -> bool,
    terminal: &mut u16,
) -> Result<(), Fault> {
    if first.len() != third.len() || second.len() != third.len() {
        return Err(Fault::Missing);
    }
    for ((a, b), c) in first.iter().zip(second).zip(third) {
        if !near(*b, *c) && !near(*a, *c) {
            if !near(*a, *b) {
                return Err(Fault::Unsteady(*terminal));
            }
            *c = *b;
        }
        *terminal = terminal.saturating_add(1);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(level: bool, current: i32, pulses: u32) -> Sample {
        let mut sample = Sample::default();
        sample.channels.push(level).unwrap();
        sample.currents.push(current).unwrap();
        sample.pulses.push(pulses).unwrap();
        sample
    }

    #[test]
    fn a_signal_that_changes_meanwhile_is_no_fault() {
        let tolerance = Tolerance::default();
        let (before, mut after) = (sample(false, 12_000_000, u32::MAX), sample(true, 0, 1));
        assert!(!tolerance.agree(&before, &after));
        assert_eq!(tolerance.settle(&before, &after.clone(), &mut after), Ok(()));
        assert_eq!(after, sample(true, 0, 1));
    }

    #[test]
    fn a_value_that_one_reading_alone_shows_is_not_used() {
        let tolerance = Tolerance::default();
        let sound = sample(true, 0x00B7_1B00, 7);
        for bit in 0..32 {
            let turned = sample(bit % 2 == 0, 0x00B7_1B00 ^ 1 << bit, 7 ^ 1 << bit);
            let mut third = turned.clone();
            tolerance.settle(&sound, &sound, &mut third).unwrap();
            assert!(tolerance.agree(&third, &sound), "bit {bit}");
            let mut third = sound.clone();
            tolerance.settle(&turned, &sound, &mut third).unwrap();
            assert!(tolerance.agree(&third, &sound), "bit {bit}");
        }
    }

    #[test]
    fn three_that_all_differ_are_unsteady() {
        let mut third = sample(true, 4_000_000, 0);
        let settled =
            Tolerance::default().settle(&sample(true, 12_000_000, 0), &sample(true, 20_000_000, 0), &mut third);
        assert_eq!(settled, Err(Fault::Unsteady(1)));
        let settled = Tolerance::default().settle(&Sample::default(), &sample(true, 0, 0), &mut third);
        assert_eq!(settled, Err(Fault::Missing));
    }
}
