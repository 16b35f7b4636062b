//! The arithmetic of ISO 13849-1: lives of parts, channels, coverage, and what each category asks.
//!
//! Numbers of clauses are those of the edition of 2015. Lives are in years. What comes from memory of the standard (no text of it was at hand) is
//! marked so, and used only where it makes a result stricter.

use super::levels::Pl;

/// Hours in a year, as both standards count.
pub const HOURS_PER_YEAR: f64 = 8760.0;
/// What the rounding of quotients may take from a number that lies on the limit of a class.
const ROUNDED: f64 = 1.0 + 1e-12;
/// Least sum of points against failures of common cause, ISO 13849-1, Annex F.
pub const COMMON_CAUSE_LEAST: u32 = 65;
/// B10d as a multiple of B10, and `MTTFd` of MTTF, where half of the failures are taken to be dangerous: ISO 13849-1, C.4.
pub const DANGEROUS_HALF: f64 = 2.0;

/// Operations a year: one each `seconds`, in so many hours of so many days. ISO 13849-1, C.4.2.
pub fn operations(seconds: f64, hours_a_day: f64, days_a_year: f64) -> f64 {
    days_a_year * hours_a_day * 3600.0 / seconds
}

/// Years until a tenth of the parts have failed dangerously: the part is to be replaced then. ISO 13849-1, C.4.2.
pub fn t10d(b10d: f64, operations_a_year: f64) -> f64 {
    b10d / operations_a_year
}

/// Mean years to a dangerous failure of a part that wears by use. ISO 13849-1, C.4.2.
pub fn mttfd_by_use(b10d: f64, operations_a_year: f64) -> f64 {
    b10d / (0.1 * operations_a_year)
}

/// The life of a channel from those of its parts. ISO 13849-1, D.1.
pub fn channel(parts: &[f64]) -> f64 {
    1.0 / parts.iter().map(|life| 1.0 / life).sum::<f64>()
}

/// The life that stands for two channels of different lives. ISO 13849-1, D.2.
pub fn symmetrised(one: f64, other: f64) -> f64 {
    2.0 * (one + other - 1.0 / (1.0 / one + 1.0 / other)) / 3.0
}

/// Average coverage of parts, each a coverage (0 to 1) and a life, weighed by their failures. ISO 13849-1, E.2.
pub fn average_coverage(parts: &[(f64, f64)]) -> f64 {
    let covered: f64 = parts.iter().map(|(coverage, life)| coverage / life).sum();
    covered / parts.iter().map(|(_, life)| 1.0 / life).sum::<f64>()
}

/// Dangerous failures per hour of one channel without diagnosis: the rows of Table K.1 for the categories B and 1.
pub fn pfhd_of_one(mttfd: f64) -> f64 {
    1.0 / (mttfd * HOURS_PER_YEAR)
}

/// A class of the life of a channel, ISO 13849-1, Table 4.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Life {
    /// 3 to under 10 years.
    Low,
    /// 10 to under 30 years.
    Medium,
    /// From 30 years.
    High,
}

impl Life {
    /// The class; none under 3 years, which the standard leaves out.
    pub fn of(mttfd: f64) -> Option<Self> {
        match mttfd * ROUNDED {
            life if life >= 30.0 => Some(Self::High),
            life if life >= 10.0 => Some(Self::Medium),
            life if life >= 3.0 => Some(Self::Low),
            _ => None,
        }
    }
    /// In a word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Medium => "medium",
            Self::High => "high",
        }
    }
}

/// A class of diagnostic coverage, ISO 13849-1, Table 5.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Diagnosis {
    /// Under 60 %.
    None,
    /// 60 to under 90 %.
    Low,
    /// 90 to under 99 %.
    Medium,
    /// From 99 %.
    High,
}

impl Diagnosis {
    /// The class of a coverage from 0 to 1.
    pub fn of(coverage: f64) -> Self {
        match coverage * ROUNDED {
            share if share >= 0.99 => Self::High,
            share if share >= 0.9 => Self::Medium,
            share if share >= 0.6 => Self::Low,
            _ => Self::None,
        }
    }
    /// In a word.
    pub fn word(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Low => "low",
            Self::Medium => "medium",
            Self::High => "high",
        }
    }
}

/// A category of structure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Category {
    /// One channel.
    B,
    /// One channel of well-tried parts.
    One,
    /// One channel that is tested.
    Two,
    /// Two channels.
    Three,
    /// Two channels, of which faults do not add up unseen.
    Four,
}

impl Category {
    /// As it is written.
    pub fn word(self) -> &'static str {
        match self {
            Self::B => "B",
            Self::One => "1",
            Self::Two => "2",
            Self::Three => "3",
            Self::Four => "4",
        }
    }
    /// Functional channels.
    pub fn channels(self) -> usize {
        if self >= Self::Three { 2 } else { 1 }
    }
    /// Years beyond which the life of a channel counts for no more: ISO 13849-1, 4.5.2 (2500 for category 4 since 2015; widely quoted).
    pub fn cap(self) -> f64 {
        if self == Self::Four { 2500.0 } else { 100.0 }
    }
    /// The best level that it reaches, whatever its parts: ISO 13849-1, 6.2 (from memory; it only makes a result stricter).
    pub fn best(self) -> Pl {
        match self {
            Self::B => Pl::B,
            Self::One => Pl::C,
            Self::Two => Pl::D,
            Self::Three | Self::Four => Pl::E,
        }
    }
    /// What it asks of its channels: least life, least coverage, and whether points against common causes are counted. ISO 13849-1,
    /// 6.2 and Table 10 (from memory; it only makes a result stricter).
    pub fn asks(self) -> (Life, Diagnosis, bool) {
        match self {
            Self::B => (Life::Low, Diagnosis::None, false),
            Self::One => (Life::High, Diagnosis::None, false),
            Self::Two | Self::Three => (Life::Low, Diagnosis::Low, true),
            Self::Four => (Life::High, Diagnosis::High, true),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, wanted: f64, by: f64) {
        assert!((found - wanted).abs() <= by, "{found} is not {wanted}");
    }

    /// Recomputed; that ISO 13849-1, C.4 prints 2.53e6, 23.7 and 237 is from memory.
    #[test]
    fn the_example_of_the_standard() {
        let a_year = operations(5.0, 16.0, 220.0);
        near(a_year, 2_534_400.0, 0.0);
        near(t10d(60e6, a_year), 23.7, 0.05);
        near(mttfd_by_use(60e6, a_year), 237.0, 0.5);
    }

    /// A public page of questions and answers, and recomputed: one cycle a minute, 8 h, 220 days, B10d 1e5.
    #[test]
    fn a_second_example() {
        let a_year = operations(60.0, 8.0, 220.0);
        near(a_year, 105_600.0, 0.0);
        near(mttfd_by_use(1e5, a_year), 9.47, 0.005);
        // Of B10 alone: the same part with half its number.
        near(mttfd_by_use(DANGEROUS_HALF * 5e4, a_year), 9.47, 0.005);
    }

    /// Widely quoted formula, values recomputed.
    #[test]
    fn parts_add_up_and_two_channels_are_made_one() {
        near(channel(&[100.0, 50.0, 25.0]), 14.2857, 5e-5);
        for (one, other, both) in [(3.0, 100.0, 66.72), (30.0, 100.0, 71.28), (10.0, 30.0, 21.67)] {
            near(symmetrised(one, other), both, 0.005);
            near(symmetrised(other, one), both, 0.005);
        }
        for life in [3.0, 17.5, 100.0, 2500.0] {
            near(symmetrised(life, life), life, 1e-9);
        }
    }

    /// Widely quoted formula, value recomputed.
    #[test]
    fn coverage_is_weighed_by_failures() {
        near(average_coverage(&[(0.99, 100.0), (0.6, 50.0), (0.9, 25.0)]), 0.827_143, 5e-7);
    }

    /// ISO 13849-1: limits of the classes belong to the better class.
    #[test]
    fn classes_by_their_limits() {
        use Life::{High, Low, Medium};
        let lives = [2.99, 3.0, 9.99, 10.0, 29.9, 30.0, 100.0].map(Life::of);
        assert_eq!(lives, [None, Some(Low), Some(Low), Some(Medium), Some(Medium), Some(High), Some(High)]);
        let shares = [0.0, 0.599, 0.6, 0.899, 0.9, 0.989, 0.99, 1.0].map(Diagnosis::of);
        let words = shares.map(Diagnosis::word);
        assert_eq!(words, ["none", "none", "low", "low", "medium", "medium", "high", "high"]);
    }

    /// The rows of Table K.1 for the categories B and 1: recomputed, the print from memory.
    #[test]
    fn one_channel_fails_once_in_its_life() {
        for (life, pfhd, level) in
            [(3.0, 3.80e-5, Pl::A), (10.0, 1.14e-5, Pl::A), (30.0, 3.80e-6, Pl::B), (100.0, 1.14e-6, Pl::C)]
        {
            near(pfhd_of_one(life) / pfhd, 1.0, 0.005);
            assert_eq!(Pl::of_pfhd(pfhd_of_one(life)), Some(level));
        }
    }

    /// The sum of all points of Annex F; the points of each item are from memory.
    #[test]
    fn points_against_common_causes_sum_to_a_hundred() {
        assert_eq!([15, 20, 15, 5, 5, 5, 25, 10].iter().sum::<u32>(), 100);
        assert_eq!(COMMON_CAUSE_LEAST, 65);
    }

    #[test]
    fn the_cap_is_that_of_the_category() {
        use Category::{B, Four, One, Three, Two};
        assert_eq!([B, One, Two, Three].map(Category::cap).map(f64::to_bits), [100.0_f64; 4].map(f64::to_bits));
        near(Four.cap(), 2500.0, 0.0);
    }
}
