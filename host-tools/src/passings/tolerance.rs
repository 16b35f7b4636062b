//! In what window a share of all values lies, whatever their distribution: the least and the greatest of enough of them
//! (S. S. Wilks, 1941; ISO 16269-6). It holds for values that do not depend on one another.

/// What is wanted of a window, in parts of a million.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wanted {
    /// At least this share of all values lies in it.
    pub share: u32,
    /// With at least this confidence.
    pub confidence: u32,
}

/// More than this is no number of passings.
const MOST: u64 = 1 << 40;

impl Wanted {
    /// The least number of values whose least and greatest are such a window: the smallest n with
    /// 1 - g^n - n (1 - g) g^(n-1) >= c. None of a share or confidence that is not between 0 and 1.
    pub fn passings(self) -> u64 {
        let [share, wanted] = [self.share, self.confidence].map(|part| f64::from(part) / 1e6);
        if self.share >= 1_000_000 || self.confidence >= 1_000_000 {
            return MOST;
        }
        // Confidence grows with the number.
        let (mut few, mut enough) = (1, MOST);
        while few < enough {
            let middle = u64::midpoint(few, enough);
            if two_sided(middle, share) >= wanted {
                enough = middle;
            } else {
                few = middle + 1;
            }
        }
        enough
    }
}

/// Confidence that at least a share of all values lies between the least and the greatest of `n`.
fn two_sided(n: u64, share: f64) -> f64 {
    // Below 2^53 a number is exact.
    #[expect(clippy::cast_precision_loss, reason = "at most 2^40")]
    let n = n as f64;
    let log = share.ln();
    let all = (n * log).exp();
    let but_one = ((n - 1.0) * log + (n * (1.0 - share)).ln()).exp();
    1.0 - all - but_one
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers of values for the share and confidence named: tables of the order-statistics sample size, two-sided, first
    /// order, as in ISO 16269-6.
    #[test]
    fn as_many_are_needed_as_the_tables_say() {
        let table = [
            (90, 90, 38),
            (90, 95, 46),
            (90, 99, 64),
            (95, 90, 77),
            (95, 95, 93),
            (95, 99, 130),
            (99, 90, 388),
            (99, 95, 473),
            (99, 99, 662),
        ];
        for (share, confidence, needed) in table {
            let wanted = Wanted { share: share * 10_000, confidence: confidence * 10_000 };
            assert_eq!(wanted.passings(), needed, "{share}/{confidence}");
        }
        assert_eq!(Wanted { share: 1_000_000, confidence: 950_000 }.passings(), MOST);
    }
}
