//! The simplified formulas of IEC 61508-6, Annex B, and where they hold.
//!
//! The formulas are from memory of the standard; the numbers that they give were recomputed apart from this program and are held in
//! the tests, among them those of the standard's own example. Rates are per hour, times in hours.

use std::fmt;

use super::iso13849::HOURS_PER_YEAR;

/// Greatest product of dangerous failure rate and time between proof tests for which the formulas are used. They are the first term of a
/// series in it: at 0.1 they lie above the exact mean by 4 % (1oo1), 8 % (1oo2) and 14 % (2oo3) at the most, never below; a limit of our own.
pub const GREATEST_PRODUCT: f64 = 0.1;

/// How many of the channels must answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Architecture {
    /// One of one.
    OneOfOne,
    /// One of two.
    OneOfTwo,
    /// Two of three.
    TwoOfThree,
}

impl Architecture {
    /// As it is written.
    pub fn word(self) -> &'static str {
        match self {
            Self::OneOfOne => "1oo1",
            Self::OneOfTwo => "1oo2",
            Self::TwoOfThree => "2oo3",
        }
    }
    /// Pairs of channels that both failing lose the function, times the two orders in which they may.
    fn pairs(self) -> f64 {
        match self {
            Self::OneOfOne => 0.0,
            Self::OneOfTwo => 2.0,
            Self::TwoOfThree => 6.0,
        }
    }
}

/// Which edition: they differ in PFH.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edition {
    /// Of 2000: failures of common cause that are detected count as well.
    First,
    /// Of 2010.
    Second,
}

impl Edition {
    /// Its number.
    pub fn number(self) -> u8 {
        match self {
            Self::First => 1,
            Self::Second => 2,
        }
    }
}

/// Channels of one kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Channels {
    /// Dangerous failures of one channel, per hour.
    pub dangerous: f64,
    /// Share of these that diagnosis finds, 0 to 1.
    pub coverage: f64,
    /// Share of the undetected failures that take all channels at once, 0 to 1.
    pub beta: f64,
    /// The same of the detected ones.
    pub beta_detected: f64,
    /// Hours from proof test to proof test.
    pub proof_test: f64,
    /// Mean hours to restoration.
    pub repair: f64,
}

/// Why the formulas are not used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TooOften {
    /// Dangerous failure rate times time between proof tests, or times repair if that is longer.
    pub product: f64,
}

impl fmt::Display for TooOften {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            to,
            "{:.2} dangerous failures are to be expected of a channel between two proof tests: the simplified formulas hold up to {GREATEST_PRODUCT}; \
             test more often, or have it worked out by other means",
            self.product
        )
    }
}

impl Channels {
    fn undetected(&self) -> f64 {
        self.dangerous * (1.0 - self.coverage)
    }
    fn detected(&self) -> f64 {
        self.dangerous * self.coverage
    }
    /// Mean time for which a failed channel (`parts` 2) or group (`parts` 3) is down.
    fn down(&self, parts: f64) -> f64 {
        (1.0 - self.coverage) * (self.proof_test / parts + self.repair) + self.coverage * self.repair
    }
    /// Failures of one channel alone.
    fn alone(&self) -> f64 {
        (1.0 - self.beta_detected) * self.detected() + (1.0 - self.beta) * self.undetected()
    }
    fn hold(&self) -> Result<(), TooOften> {
        let product = self.dangerous * self.proof_test.max(self.repair);
        // What is no number is refused too.
        if product <= GREATEST_PRODUCT { Ok(()) } else { Err(TooOften { product }) }
    }

    /// Mean probability that the channels fail on demand. Both editions agree if restoration takes as long after a proof test as after
    /// a diagnosis.
    ///
    /// # Errors
    /// If the simplified formulas do not hold.
    pub fn pfd_avg(&self, architecture: Architecture) -> Result<f64, TooOften> {
        self.hold()?;
        if architecture == Architecture::OneOfOne {
            return Ok(self.dangerous * self.down(2.0));
        }
        let common = self.beta_detected * self.detected() * self.repair
            + self.beta * self.undetected() * (self.proof_test / 2.0 + self.repair);
        Ok(architecture.pairs() * self.alone().powi(2) * self.down(2.0) * self.down(3.0) + common)
    }

    /// Dangerous failures per hour of the channels together. It takes for granted that what is detected brings the safe state.
    ///
    /// # Errors
    /// If the simplified formulas do not hold.
    pub fn pfh(&self, architecture: Architecture, edition: Edition) -> Result<f64, TooOften> {
        self.hold()?;
        if architecture == Architecture::OneOfOne {
            return Ok(self.undetected());
        }
        let undetected = self.beta * self.undetected();
        let (last, common) = match edition {
            Edition::First => (self.alone(), self.beta_detected * self.detected() + undetected),
            Edition::Second => ((1.0 - self.beta) * self.undetected(), undetected),
        };
        Ok(architecture.pairs() * self.alone() * last * self.down(2.0) + common)
    }
}

/// Years in hours.
pub fn years(years: f64) -> f64 {
    years * HOURS_PER_YEAR
}

#[cfg(test)]
mod tests {
    use super::Architecture::{OneOfOne, OneOfTwo, TwoOfThree};
    use super::*;

    /// Half of the failures dangerous, proof test each year, 8 h of repair, half of beta for what is detected.
    fn channels(failures: f64, coverage: f64, beta: f64) -> Channels {
        let beta_detected = beta / 2.0;
        Channels { dangerous: failures / 2.0, coverage, beta, beta_detected, proof_test: years(1.0), repair: 8.0 }
    }
    /// Equal to two digits, as tables print.
    fn prints(found: f64, printed: f64) {
        assert_eq!(format!("{found:.1e}"), format!("{printed:.1e}"));
    }

    /// Recomputed with other means; 8.8e-3, 4.4e-3 and 2.3e-4 are terms of the standard's example (from memory).
    #[test]
    fn a_table_of_failures_on_demand() {
        let table = [
            (1e-7, 0.0, 2.2e-4, [4.4e-6, 2.2e-5, 4.4e-5], [4.6e-6, 2.2e-5, 4.4e-5]),
            (1e-7, 0.9, 2.2e-5, [4.4e-7, 2.2e-6, 4.4e-6], [4.4e-7, 2.2e-6, 4.4e-6]),
            (1e-6, 0.6, 8.8e-4, [1.9e-5, 8.9e-5, 1.8e-4], [2.1e-5, 9.1e-5, 1.8e-4]),
            (1e-6, 0.99, 2.6e-5, [4.8e-7, 2.4e-6, 4.8e-6], [4.8e-7, 2.4e-6, 4.8e-6]),
            (5e-6, 0.6, 4.4e-3, [1.1e-4, 4.6e-4, 9.0e-4], [1.6e-4, 5.1e-4, 9.4e-4]),
            (5e-6, 0.9, 1.1e-3, [2.4e-5, 1.1e-4, 2.2e-4], [2.7e-5, 1.2e-4, 2.3e-4]),
            (1e-5, 0.6, 8.8e-3, [2.8e-4, 9.7e-4, 1.8e-3], [4.8e-4, 1.1e-3, 2.0e-3]),
        ];
        for (failures, coverage, one, two, three) in table {
            prints(channels(failures, coverage, 0.0).pfd_avg(OneOfOne).unwrap(), one);
            for (beta, (two, three)) in [0.02, 0.1, 0.2].into_iter().zip(two.into_iter().zip(three)) {
                prints(channels(failures, coverage, beta).pfd_avg(OneOfTwo).unwrap(), two);
                prints(channels(failures, coverage, beta).pfd_avg(TwoOfThree).unwrap(), three);
            }
        }
    }

    /// Without diagnosis a failure lasts half of the interval and its repair; with all of it, its repair.
    #[test]
    fn a_failure_lasts_until_it_is_found_and_mended() {
        for (coverage, down) in [(0.0, 4388.0), (1.0, 8.0)] {
            let ratio = channels(1e-6, coverage, 0.0).pfd_avg(OneOfOne).unwrap() / (0.5e-6 * down);
            assert!((ratio - 1.0).abs() < 1e-12, "{coverage} {ratio}");
        }
    }

    /// The standard's example: sensors 2oo3, two last elements 1oo1, together about 1.3e-2, SIL 1.
    #[test]
    fn the_example_of_the_standard() {
        let sensors = channels(5e-6, 0.9, 0.2).pfd_avg(TwoOfThree).unwrap();
        let last =
            channels(5e-6, 0.6, 0.0).pfd_avg(OneOfOne).unwrap() + channels(1e-5, 0.6, 0.0).pfd_avg(OneOfOne).unwrap();
        prints(sensors + last, 1.3e-2);
        assert_eq!(crate::integrity::levels::Sil::of_pfd(sensors + last), Some(crate::integrity::levels::Sil(1)));
    }

    /// Recomputed with other means, edition 2; of edition 1 one value.
    #[test]
    fn failures_per_hour_by_edition() {
        let table = [(0.0, 5.0e-7, 1.2e-8), (0.6, 2.0e-7, 4.3e-9), (0.9, 5.0e-8, 1.0e-9), (0.99, 5.0e-9, 1.0e-10)];
        for (coverage, one, two) in table {
            let channels = channels(1e-6, coverage, 0.02);
            prints(channels.pfh(OneOfOne, Edition::Second).unwrap(), one);
            prints(channels.pfh(OneOfTwo, Edition::Second).unwrap(), two);
        }
        prints(channels(1e-6, 0.6, 0.02).pfh(OneOfTwo, Edition::First).unwrap(), 7.9e-9);
    }

    /// By the formula it would be a probability of more than 1.
    #[test]
    fn where_the_approximation_fails_it_is_refused() {
        let far = Channels { proof_test: years(10.0), ..channels(5e-5, 0.0, 0.1) };
        assert!(far.dangerous * far.down(2.0) > 1.0);
        for architecture in [OneOfOne, OneOfTwo, TwoOfThree] {
            assert!(far.pfd_avg(architecture).is_err());
            assert!(far.pfh(architecture, Edition::Second).is_err());
        }
        assert!(Channels { dangerous: f64::NAN, ..far }.pfd_avg(OneOfOne).is_err());
        assert!(Channels { repair: 1e9, ..channels(1e-7, 0.0, 0.1) }.pfd_avg(OneOfOne).is_err());
    }

    /// Against the exact mean over a proof-test interval of channels that fail exponentially, by Simpson's rule.
    #[test]
    fn up_to_the_limit_they_lie_above_the_exact_mean_and_near_it() {
        let product = GREATEST_PRODUCT;
        let bare = Channels { dangerous: product / years(1.0), repair: 0.0, ..channels(0.0, 0.0, 0.0) };
        let mean = |lost: &dyn Fn(f64) -> f64| {
            let sum: f64 = (0..1000_i32)
                .map(|i| {
                    let at = |half: f64| lost(1.0 - (-product * (f64::from(i) + half) / 1000.0).exp());
                    (at(0.0) + 4.0 * at(0.5) + at(1.0)) / 6.0
                })
                .sum();
            sum / 1000.0
        };
        let exact = [
            (OneOfOne, mean(&|q| q), 1.04),
            (OneOfTwo, mean(&|q| q * q), 1.08),
            (TwoOfThree, mean(&|q| 3.0 * q * q - 2.0 * q * q * q), 1.14),
        ];
        for (architecture, exact, at_most) in exact {
            let ratio = bare.pfd_avg(architecture).unwrap() / exact;
            assert!(ratio > 1.0 && ratio < at_most, "{architecture:?} {ratio}");
        }
    }
}
