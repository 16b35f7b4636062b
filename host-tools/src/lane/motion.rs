//! A stop as motion: the rope runs on at its speed until the brake bites, and then slows evenly.
//!
//! Whole numbers throughout: mm, mm/s, mm/s² and microseconds, each result rounded to the side that is worse.

/// A stop, from what asks for it to standstill.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stopping {
    /// Rope that has run when the brake bites, mm, rounded up.
    pub before: u64,
    /// Rope that has run at standstill, mm, rounded up: v t + v² / 2a.
    pub runs: u64,
    /// Time to standstill, microseconds, rounded up: t + v / a.
    pub lasts_us: u64,
}

/// The stop of a rope at `speed` mm/s, slowed at `slows` mm/s² once `reacts_us` microseconds have passed. None where
/// it does not slow.
pub fn stopping(speed: u32, reacts_us: u64, slows: u32) -> Option<Stopping> {
    if slows == 0 {
        return None;
    }
    let (v, t, a) = (u128::from(speed), u128::from(reacts_us), u128::from(slows));
    // v t + v² / 2a over one denominator, so that nothing is rounded twice.
    let runs = (2 * a * v * t + v * v * 1_000_000).div_ceil(2 * a * 1_000_000);
    Some(Stopping {
        before: u64::try_from((v * t).div_ceil(1_000_000)).ok()?,
        runs: u64::try_from(runs).ok()?,
        lasts_us: reacts_us.checked_add(u64::try_from((v * 1_000_000).div_ceil(a)).ok()?)?,
    })
}

/// Speed of the rope, mm/s and rounded up, when it has run `after` mm since the stop was asked for; 0 where it stands by then.
pub fn speed_after(speed: u32, reacts_us: u64, slows: u32, after: u64) -> u32 {
    let (v, a) = (u128::from(speed), u128::from(slows));
    // v² - 2a (s - v t), over a million so that the microseconds stay whole.
    let braked = (u128::from(after) * 1_000_000).saturating_sub(v * u128::from(reacts_us));
    let square = (v * v * 1_000_000).saturating_sub(2 * a * braked).div_ceil(1_000_000);
    let root = square.isqrt();
    u32::try_from(root + u128::from(root * root < square)).unwrap_or(speed).min(speed)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn metres(speed: u32, reacts_us: u64, slows: u32) -> f64 {
        let runs = u32::try_from(stopping(speed, reacts_us, slows).unwrap().runs).unwrap();
        f64::from(runs) / 1_000.0
    }

    #[test]
    fn textbook_values() {
        // An open college-physics text book, "motion equations for constant acceleration", the car on dry and on wet concrete:
        // 30.0 m/s, 7.00 and 5.00 m/s²; 64.3 and 90.0 m, and 15.0 m more with 0.500 s of reaction.
        for (reacts, slows, book) in
            [(0, 7_000, 64.3), (0, 5_000, 90.0), (500_000, 7_000, 79.3), (500_000, 5_000, 105.0)]
        {
            assert!((metres(30_000, reacts, slows) - book).abs() < 0.05, "{slows}");
        }
        // A second one: 95 km/h and 0.40 s; 126.6 and 68.6 m (recomputed 126.618 and 68.587).
        assert!((metres(26_389, 400_000, 3_000) - 126.618).abs() < 0.005);
        assert!((metres(26_389, 400_000, 6_000) - 68.587).abs() < 0.005);
        // Arithmetic: 5 m/s at 1.25 and 0.5 m/s², 6 m/s at 0.5 m/s².
        assert_eq!(
            [stopping(5_000, 0, 1_250), stopping(5_000, 0, 500), stopping(6_000, 0, 500)].map(|s| s.unwrap().runs),
            [10_000, 25_000, 36_000]
        );
        // Arithmetic: 24.6 m/s at 7.8 m/s² (a lecture's example prints 3.15 s; 38.8 m).
        let stop = stopping(24_600, 0, 7_800).unwrap();
        assert_eq!((stop.runs, stop.lasts_us), (38_793, 3_153_847));
        assert_eq!(stopping(5_000, 0, 0), None);
    }

    #[test]
    fn agrees_with_small_steps() {
        // Not the formula: the rope runs on in steps of 10 us.
        for (speed, reacts_us, slows) in [(5_500, 730_000, 600), (1_500, 90_000, 400), (6_000, 0, 1_500)] {
            let (mut v, mut s, mut us) = (f64::from(speed), 0.0, 0_u64);
            let mut told = Vec::new();
            while v > 0.0 {
                if us >= reacts_us {
                    v = (v - f64::from(slows) * 1e-5).max(0.0);
                }
                s += v * 1e-5;
                us += 10;
                if us % 100_000 == 0 {
                    told.push((s, v));
                }
            }
            let stop = stopping(speed, reacts_us, slows).unwrap();
            let runs = f64::from(u32::try_from(stop.runs).unwrap());
            assert!((runs - s).abs() < 1.5, "{runs} or {s}");
            assert!(stop.lasts_us.abs_diff(us) < 100);
            for (s, v) in told {
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "short and positive")]
                let at = f64::from(speed_after(speed, reacts_us, slows, s as u64));
                // Two millimetres of rope off, and one millimetre a second.
                let off = (at * at - v * v).abs();
                assert!(off <= 4.0 * f64::from(slows) + 2.0 * at, "{at} or {v} after {s}");
            }
            assert_eq!(speed_after(speed, reacts_us, slows, stop.runs), 0);
            assert_eq!(speed_after(speed, reacts_us, slows, stop.before.saturating_sub(1)), speed);
        }
    }
}
