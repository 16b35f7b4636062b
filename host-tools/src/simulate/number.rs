//! Numbers of the simulator: only `+ - * /`, square root and rounding, which every machine does alike.

/// The whole number at or below `x`.
#[allow(clippy::cast_possible_truncation, reason = "`as` saturates, which is what is wanted here")]
pub(super) fn floor(x: f64) -> i64 {
    x.floor() as i64
}

/// The nearest whole number.
pub(super) fn nearest(x: f64) -> i64 {
    floor(x + 0.5)
}

/// A whole number as a real one.
#[allow(clippy::cast_precision_loss, reason = "nothing here is near 2^53")]
pub(super) fn real(n: i64) -> f64 {
    n as f64
}

/// Microseconds as seconds.
#[allow(clippy::cast_precision_loss, reason = "nothing here is near 2^53")]
pub(super) fn seconds(us: u64) -> f64 {
    us as f64 / 1e6
}

/// Random numbers by the splitmix64 method (Steele, Lea and Flood, 2014).
#[derive(Debug, Clone)]
pub(super) struct Random(u64);

impl Random {
    /// Starts from a seed.
    pub(super) fn new(seed: u64) -> Self {
        Self(seed)
    }
    /// The next 64 bits.
    pub(super) fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    /// A number in -1 to 1, most often near 0 (the sum of two even ones).
    pub(super) fn wobble(&mut self) -> f64 {
        let bits = self.bits();
        let low = u32::try_from(bits & 0xFFFF_FFFF).unwrap_or(0);
        let high = u32::try_from(bits >> 32).unwrap_or(0);
        (f64::from(low) - f64::from(high)) / 4_294_967_296.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn splitmix64_gives_its_published_numbers() {
        // Source: the reference program of splitmix64 (Vigna), seed 1234567, first values.
        let mut r = Random::new(1_234_567);
        assert_eq!(r.bits(), 6_457_827_717_110_365_317);
        assert_eq!(r.bits(), 3_203_168_211_198_807_973);
    }
}
